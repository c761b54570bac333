package coil

import (
	"math"
	"sort"

	"phasewright/distributor"
	"phasewright/quantity"
)

// Mark is a speed that the chart names.
type Mark struct {
	Name  string
	Speed quantity.Speed
}

// Line is the chart at one supply.
type Line struct {
	Supply quantity.Voltage
	Reach  Reach // zero for a spark box
	Points []Point
}

// Chart is the one that decides: speed across; dwell window, current reached, spark margin and rotor overlap stacked;
// what limits named at each speed.
type Chart struct {
	Marks []Mark // cranking, idle, redline; each is among the speeds of every line
	Lines []Line
}

// At is the point of a line at a speed, which is one of the marks or another speed of the chart.
func (l Line) At(n quantity.Speed) (Point, bool) {
	k := sort.Search(len(l.Points), func(k int) bool { return l.Points[k].Speed >= n })
	if k == len(l.Points) || l.Points[k].Speed != n {
		return Point{}, false
	}
	return l.Points[k], true
}

// speeds are n evenly spaced speeds from cranking to a tenth past redline, and the marks.
func (p Plan) speeds(n int) []quantity.Speed {
	from, to := p.CrankingSpeed, 1.1*p.Redline
	out := []quantity.Speed{p.Idle, p.Redline}
	for k := range n {
		out = append(out, from+(to-from)*quantity.Speed(k)/quantity.Speed(max(n-1, 1)))
	}
	sort.Slice(out, func(a, b int) bool { return out[a] < out[b] })
	kept := out[:1]
	for _, v := range out[1:] {
		if v != kept[len(kept)-1] {
			kept = append(kept, v)
		}
	}
	return kept
}

// Chart computes the chart at n speeds and the given supplies. The plan has been checked.
func (p Plan) Chart(supplies []quantity.Voltage, n int) Chart {
	c := Chart{Marks: []Mark{{"cranking", p.CrankingSpeed}, {"idle", p.Idle}, {"redline", p.Redline}}}
	speeds := p.speeds(n)
	ways := make([]way, len(speeds)) // what does not depend on the supply
	for k, s := range speeds {
		ways[k] = p.wayAt(s)
	}
	for _, v := range supplies {
		l := Line{Supply: v, Points: make([]Point, len(speeds))}
		d := p.driveAt(v)
		if p.Primary != nil {
			l.Reach = p.Primary.ReachAt(d.hot, p.Share, p.DwellAt(v))
		}
		for k, s := range speeds {
			l.Points[k] = p.point(d, s, ways[k])
		}
		c.Lines = append(c.Lines, l)
	}
	return c
}

// PointAt is the chart's point at one speed and supply.
func (p Plan) PointAt(n quantity.Speed, supply quantity.Voltage) Point {
	return p.point(p.driveAt(supply), n, p.wayAt(n))
}

// CrankingRow is the spark on a weak battery: cranking speed, advance and supply, winding hot as at a hot restart.
func (p Plan) CrankingRow() Point { return p.PointAt(p.CrankingSpeed, p.CrankingSupply) }

// drive is the coil at one supply; both circuits are unused for a spark box.
type drive struct {
	hot, cold Circuit
	needed    quantity.Time
	asked     quantity.Time // dwell asked for
}

func (p Plan) driveAt(supply quantity.Voltage) drive {
	switch {
	case p.Primary == nil && p.Box == nil:
		return drive{}
	case p.Primary == nil:
		return drive{needed: p.Box.Width, asked: p.Box.Width}
	}
	d := drive{hot: p.Primary.Hot(supply), cold: p.Primary.At(supply, 20), asked: p.DwellAt(supply)}
	d.needed = d.hot.TimeTo(p.Primary.Target)
	return d
}

// way is what the spark meets at one speed.
type way struct {
	sweep     distributor.Sweep
	demand    Breakdown
	round     Breakdown
	crossfire Band[float64]
	cover     quantity.Shaft
}

func (p Plan) wayAt(n quantity.Speed) way {
	s := p.sparksAt(n)
	var w way
	path := Path{Plug: p.Plug, Wasted: p.Share.Wasted}
	near := path
	if p.Rotor != nil {
		w.sweep, w.cover = p.Rotor.Sweep(s, n), p.Rotor.Cover()
		path.Rotor, near.Rotor = w.sweep.Gap, min(w.sweep.Earliest.Gap, w.sweep.Latest.Gap)
	}
	// The charge is densest where the spark is nearest to top dead centre, and thinnest where it is furthest from it.
	dense, thin := clamp(0, float64(s.Latest), float64(s.Earliest)), s.Earliest
	if quantity.Abs(s.Latest) > quantity.Abs(thin) {
		thin = s.Latest
	}
	densest, thinnest := p.Cylinder.At(quantity.Crank(dense)).Reduced, p.Cylinder.At(thin).Reduced
	high, low := path.Demand(densest), near.Demand(thinnest)
	w.demand = Breakdown{Band[quantity.Voltage]{low.Volts.Low, high.Volts.High}, low.Outside | high.Outside}
	if p.Rotor != nil && !math.IsInf(float64(w.sweep.Neighbour), 1) {
		w.round = InCap(w.sweep.Neighbour).then(idlePlug(p.Plug))
		w.crossfire = crossing(w.sweep.Neighbour, path, densest, near, thinnest)
	}
	return w
}

func (p Plan) point(d drive, n quantity.Speed, w way) Point {
	pt := Point{Speed: n, Needed: d.needed, Demand: w.demand, Rotor: w.sweep, Round: w.round, Crossfire: w.crossfire}
	var r rating
	switch {
	case p.Primary != nil:
		p.chargeAt(&pt, &r, d)
	case p.Box != nil:
		pt.Fits, pt.Applied = p.Share.Fits(n, p.Box.Rest), p.Box.Width
		if p.Box.Width > 0 {
			r.add(TriggerPulse, p.Box.inHand(pt.Fits))
		}
		pt.Available = p.BoxVolts
	}
	if pt.Available.High > 0 {
		pt.Margin = pt.Available.Over(pt.Demand.Volts)
		r.add(WeakSpark, pt.Margin.Low)
	}
	if p.Rotor != nil {
		r.add(RotorClear, 1+float64(w.sweep.InHand/w.cover))
		if w.crossfire.High > 0 {
			r.add(Crossfire, w.crossfire.Low)
		}
	}
	pt.Limit, pt.Least, pt.Hand = r.first, r.least, r.ratio
	return pt
}

// chargeAt fills in the primary's side of a point.
func (p Plan) chargeAt(pt *Point, r *rating, d drive) {
	c := p.Primary
	load := c.LoadAt(d.hot, p.Share, pt.Speed, d.asked)
	pt.Fits, pt.Applied = p.Share.Fits(pt.Speed, c.OffTime), load.Applied
	pt.Current, pt.Stored, pt.Mean, pt.Copper, pt.Heat, pt.Beyond = load.Current, load.Stored, load.Mean, load.Copper,
		load.Heat(), load.Beyond
	pt.Available = c.Available(pt.Stored)

	// Short of the target: the first reason that holds. On it: the window's own room, as dwell that fits over dwell
	// needed.
	short := float64(pt.Current / c.Target)
	const reached = 1 - 1e-9
	switch {
	case math.IsInf(float64(d.needed), 1):
		r.add(NeverTarget, min(float64(d.hot.Final()/c.Target), reached))
	case pt.Fits < d.needed:
		r.add(NoTime, min(short, reached))
	case short < reached:
		r.add(DwellShort, short)
	default:
		r.add(NoTime, float64(pt.Fits/d.needed))
	}
	if c.DriverLimit > 0 { // a cold winding draws most
		r.add(DriverOver, float64(c.DriverLimit/d.cold.CurrentAt(load.Applied)))
	}
	if c.HeatLimit > 0 && load.Copper > 0 {
		r.add(Cooks, float64(c.HeatLimit/load.Copper))
	}
}
