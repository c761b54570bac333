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

// SparkPulse says which edge of a spark channel's pulse is the spark.
type SparkPulse struct {
	Rising bool // the spark is the rising edge
	Driver bool // the pulse is a dwell and ends in the spark; else it begins with it, as a clamp's
	Ramp   bool // it climbs as a current does: the dwell is longer than it shows
	Train  roles.Train
	By     string
	Unsure bool // nothing told which end it is
}

// What a dwell is and what signal delays are, for telling the ends of a pulse apart (assumed ranges).
const (
	leastDwell = 0.3  // ms; a clamp's pulse is shorter as a rule
	mostClamp  = 3.0  // ms
	mostDwell  = 12.0 // ms
	leastDelay = -400.0
	mostDelay  = 800.0 // µs left over, beyond which an edge is hardly the spark
)

// candidate is how an edge of a spark channel comes after the active edges of the crank pickup, and after its other
// ones.
type candidate struct {
	wait
	other wait
}

// reading is one way to read a channel's pulses.
type reading struct {
	rising, driver bool
	points         float64
	by             string
}

// chooseSparkEdges tells for each spark channel which edge is the spark.
//
// Four readings are weighed: the pulse is the high or the low state, and it ends in the spark (a dwell) or begins with
// it (a clamp). At long dwell the shorter state is the time off, so that the length alone tells nothing: the card's
// dwell, its lead and locked advance, and the delay that follows are weighed too. Taking the wrong end makes a delay of
// the whole dwell.
func (l *Layout) chooseSparkEdges() {
	crank := l.Profiles[l.Assigned.Crank]
	for _, i := range l.Assigned.Sparks {
		p := l.Profiles[i]
		if p.Ramp {
			l.Doubt("%s climbs as a coil's current does: its dwell counts from where the current has passed a "+
				"good part of its way, so the driver's is longer", p.Name)
		}
		all := l.readings(crank, p)
		slices.SortStableFunc(all, func(a, b reading) int { return cmp.Compare(b.points, a.points) })
		s := SparkPulse{Rising: all[0].rising, Driver: all[0].driver, Ramp: p.Ramp, Train: p.Train, By: all[0].by}
		for _, other := range all[1:] {
			if other.rising != s.Rising && l.Facts.SparkAt == terms.Found {
				s.Unsure = all[0].points-other.points < 0.75
				break
			}
		}
		if s.Unsure {
			l.Doubt("%s: which end of its pulse is the spark is not sure; state it, or record while speed "+
				"changes", p.Name)
		}
		l.Spark[i] = s
		if t := p.Train; t.Gap > 0 {
			l.Find(terms.FoundMultiSpark, p.Name,
				"fine where the controller is set to it; the first spark of each train is timed",
				"%s gives several sparks a firing in %.0f %% of them: %s on average, %s ms apart", p.Name, 100*t.Share,
				quantity.Number(t.Pulses, 1), quantity.Number(float64(t.Spacing)*1e3, 2))
		}
	}
}

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
				r.points += 1.5 * math.Copysign(1, d) // the state that lasts equally long at all speeds
			}
			r.by = "a driver's pulse: it ends in the spark"
			if !driver {
				r.by = "a short pulse, as of a clamp: it begins with the spark"
			}
			r.points += l.length(width, driver) + tightness(byEdge[r.rising], byEdge[!r.rising]) +
				l.bornOut(byEdge[r.rising], byEdge[!r.rising])
			switch l.Facts.SparkAt {
			case terms.PulseOn:
				r.by, r.points = "as stated", r.points-100*float64(Index(driver))
			case terms.PulseOff:
				r.by, r.points = "as stated", r.points-100*float64(Index(!driver))
			}
			all = append(all, r)
		}
	}
	return all
}

// length says how well a pulse of so many ms goes with a dwell, or with a clamp's pulse.
func (l *Layout) length(ms float64, driver bool) float64 {
	points := 0.0
	switch {
	case driver && ms < leastDwell:
		points -= 1.5 + math.Log(leastDwell/ms)
	case driver && ms > mostDwell, !driver && ms > mostClamp:
		points -= 3
	case !driver && ms > leastDwell: // a spark burns for so long, but a clamp seldom shows it
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

// tightness says how much less an edge scatters about the controller's line than the other one.
func tightness(w, other candidate) float64 {
	const floor = 0.01 // degrees: few edges and coarse samples tell no finer
	a, b := math.Min(w.scatter, w.other.scatter), math.Min(other.scatter, other.other.scatter)
	if math.IsNaN(a) || math.IsNaN(b) {
		return 0
	}
	return 0.7 * math.Max(-2, math.Min(2, math.Log((b+floor)/(a+floor))))
}

// bornOut says whether the delay that an edge would have is one that signals have, and whether its wait is the card's
// lead less the locked advance.
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
	// degrees; that the controller acts on the other edge of the crank pickup is less likely by so much
	const otherEdge = 6
	off := func(c candidate) float64 {
		return math.Min(math.Abs(c.atRest-want), otherEdge+math.Abs(c.other.atRest-want))
	}
	return points + math.Max(-2, math.Min(2, (off(other)-off(w))/3))
}

// waitSet is the wait that the card's lead makes, with the commanded advance added.
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
