package wheel

import (
	"cmp"
	"math"
	"slices"

	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/shaft/roles"
	"phasewright/shaft/terms"
	"phasewright/waveform"
)

// SparkPulse says which end of a spark channel's pulse is the spark.
//
//	            ┌────────────┐
//	driver   ───┘   dwell    └─────────     current flows, and the spark jumps where it is cut off
//	                         ↑ spark
//	                         ┌─┐
//	clamp    ────────────────┘ └───────     a short pulse that begins with the spark
type SparkPulse struct {
	Rising bool // the spark is the rising edge
	Driver bool // the pulse is a dwell, which ends with the spark; else it is a clamp's
	Ramp   bool // the level climbs as a coil's current does: the dwell is longer than the pulse
	Train  roles.Train
	By     string
}

// Ranges of dwell, of a clamp's pulse and of signal delays, by which the two ends of a pulse are told apart (assumed).
const (
	leastDwell = 0.3  // ms; a clamp's pulse is usually shorter
	mostClamp  = 3.0  // ms
	mostDwell  = 12.0 // ms
	leastDelay = -400.0
	mostDelay  = 800.0 // µs after the allowance; with more delay an edge is hardly the spark
)

// candidate is how one kind of edge of a spark channel follows the active edges of the crank pickup, and (other) how it
// follows the pickup's other edges.
type candidate struct {
	wait
	other wait
}

// reading is one way to read a channel's pulses, with points in the manner of log odds: the most points win.
type reading struct {
	rising, driver bool
	points         float64
	by             string
}

// chooseSparkEdges decides for each spark channel which end of its pulse is the spark.
//
// Four readings are weighed: the pulse is the high or the low state, and it ends with the spark (a dwell) or begins
// with it (a clamp). The length alone does not show which: with a long dwell the shorter state is the time without
// current. So the card's dwell, its lead and locked advance, and the signal delay that would follow are weighed too.
// The wrong end is off by the whole dwell.
func (l *Layout) chooseSparkEdges() {
	crank := l.Profiles[l.Assigned.Crank]
	for _, i := range l.Assigned.Sparks {
		p := l.Profiles[i]
		if p.Ramp {
			l.Doubt("%s climbs as a coil's current does. Its dwell counts from where the current has passed a "+
				"good part of its way. The driver's is longer", p.Name)
		}
		all := l.readings(crank, p)
		slices.SortStableFunc(all, func(a, b reading) int { return cmp.Compare(b.points, a.points) })
		s := SparkPulse{Rising: all[0].rising, Driver: all[0].driver, Ramp: p.Ramp, Train: p.Train, By: all[0].by}
		rival := slices.IndexFunc(all, func(r reading) bool { return r.rising != s.Rising })
		if all[0].points-all[rival].points < 0.75 {
			l.Doubt("it is not sure which end of a pulse on %s is the spark. Record again while speed changes", p.Name)
		}
		l.Spark[i] = s
		if t := p.Train; t.Gap > 0 {
			l.Find(terms.FoundMultiSpark, p.Name,
				"fine where the controller is set to it. The first spark of each train is timed",
				"%s gives several sparks a firing in %.0f %% of them: %s on average, %s ms apart", p.Name, 100*t.Share,
				quantity.Number(t.Pulses, 1), quantity.Number(float64(t.Spacing)*1e3, 2))
		}
	}
}

// readings are the four ways to read the pulses of p, each with its points.
func (l *Layout) readings(crank, p *roles.Profile) []reading {
	byEdge := map[bool]candidate{}
	for _, rising := range []bool{false, true} {
		c := candidate{wait: l.waitOf(crank.Rise, p.Edges(rising)), other: l.waitOf(crank.Fall, p.Edges(rising))}
		stated := l.Facts.ActiveEdge
		if stated == jobcard.Falling || stated == "" && c.other.scatter < c.scatter {
			c.wait, c.other = c.other, c.wait
		}
		byEdge[rising] = c
	}
	var all []reading
	for _, high := range []bool{true, false} {
		width, steady, unsteady := p.High*1e3, p.HighSpread, p.LowSpread
		if !high {
			width, steady, unsteady = p.Low*1e3, p.LowSpread, p.HighSpread
		}
		for _, driver := range []bool{true, false} {
			r := reading{rising: high != driver, driver: driver}
			if high == p.NarrowHigh {
				r.points++
			}
			if d := math.Log((unsteady + 1e-4) / (steady + 1e-4)); p.GrowthKnown && math.Abs(d) > math.Ln2 {
				r.points += 1.5 * math.Copysign(1, d) // the pulse is the state that lasts equally long at all speeds
			}
			r.by = "a driver's pulse: it ends in the spark"
			if !driver {
				r.by = "a short pulse, as of a clamp: it begins with the spark"
			}
			r.points += l.length(width, driver) + tightness(byEdge[r.rising], byEdge[!r.rising]) +
				l.bornOut(byEdge[r.rising], byEdge[!r.rising])
			all = append(all, r)
		}
	}
	return all
}

// length gives points for how well a pulse of so many ms fits a dwell (driver), or a clamp's pulse.
func (l *Layout) length(ms float64, driver bool) float64 {
	points := 0.0
	switch {
	case driver && ms < leastDwell:
		points -= 1.5 + math.Log(leastDwell/ms)
	case driver && ms > mostDwell, !driver && ms > mostClamp:
		points -= 3
	case !driver && ms > leastDwell: // a spark may burn that long, but a clamp seldom shows all of it
		points--
	}
	if set := l.Facts.Dwell; driver && set > 0 && ms > 0 {
		switch off := math.Abs(math.Log(ms / set)); {
		case off < 0.15:
			points += 2.5
		case off < 0.5:
			points++
		case off > 1:
			points -= 2.5
		}
	}
	return points
}

// tightness gives points for how much less the edge w scatters about the controller's line than the other end of the
// pulse: 0.7·ln of the ratio, at most 2 either way before the factor. The spark is what the controller times.
func tightness(w, other candidate) float64 {
	const floor = 0.01 // degrees; few edges and coarse samples show nothing finer
	a, b := math.Min(w.scatter, w.other.scatter), math.Min(other.scatter, other.other.scatter)
	if math.IsNaN(a) || math.IsNaN(b) {
		return 0
	}
	return 0.7 * math.Max(-2, math.Min(2, math.Log((b+floor)/(a+floor))))
}

// bornOut gives points where the delay that would follow from the edge w is one that signals have, and where its wait
// is the card's lead less the locked advance, each compared with the other end of the pulse.
func (l *Layout) bornOut(w, other candidate) float64 {
	points := 0.0
	strange := func(c candidate) float64 { return math.Max(0, math.Max(leastDelay-c.delay, c.delay-mostDelay)) }
	if sure := math.Min(1, 0.5/math.Max(w.scatter, other.scatter)); w.uDelay < 200 && other.uDelay < 200 {
		points += sure * math.Max(-4, math.Min(4, (strange(other)-strange(w))/200))
	}
	want, ok := l.waitSet()
	if !ok || math.IsNaN(w.atRest) || math.IsNaN(other.atRest) {
		return points
	}
	// degrees; counted against the possibility that the controller acts on the other edge of the crank pickup
	const otherEdge = 6
	off := func(c candidate) float64 {
		return math.Min(math.Abs(c.atRest-want), otherEdge+math.Abs(c.other.atRest-want))
	}
	return points + math.Max(-2, math.Min(2, (off(other)-off(w))/3))
}

// waitSet is what wait plus commanded advance come to by the card: the lead.
func (l *Layout) waitSet() (degrees float64, stated bool) {
	f := l.Facts
	return float64(f.Lead), f.OnCard && len(f.Commanded) > 0 && f.Lead > 0
}

// SparkTimes are the sparks of all channels in the first stretch, in order.
func (l *Layout) SparkTimes() []waveform.Second {
	var all []waveform.Second
	for _, i := range l.Assigned.Sparks {
		all = append(all, l.Profiles[i].Edges(l.Spark[i].Rising)...)
	}
	slices.Sort(all)
	return all
}
