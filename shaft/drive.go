package shaft

import (
	"math"

	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/sums"
	"phasewright/shaft/terms"
	"phasewright/shaft/wheel"
)

// Bounds of what a sound wheel shows, crank degrees (assumed).
const (
	soundSpacing = 0.75 // a vane nearer to its place than this, or than half of the tolerance, does not matter
	surely       = 4.0  // times the standard uncertainty
	mostlyWobble = 0.7  // a sine that explains more than this share of the vanes' distances is a wobble
)

// reportDrive finds a bent vane, or a shaft that wobbles once a turn: a turn of the housing cures neither, since it
// moves all cylinders alike.
func (s *observer) reportDrive(r *Result, out *terms.Findings) {
	c := r.Crank
	if c == nil || len(c.SpacingErrorDeg) != s.l.N || s.l.N < 2 {
		return
	}
	bound := soundSpacing
	if tol := float64(s.l.Facts.Tolerance); tol > 0 {
		bound = math.Max(0.3, 0.5*tol)
	}
	worst, far, u := -1, 0.0, 0.0
	for i, late := range c.SpacingErrorDeg {
		if math.Abs(late) > far {
			worst, far, u = i, math.Abs(late), float64(c.SpacingU[i])
		}
	}
	if worst < 0 || far < bound || !(far > surely*u) {
		return
	}
	name := s.l.Name(s.l.Assigned.Crank)
	if size, share := swing(c.SpacingErrorDeg, c.IntervalsDeg); share > mostlyWobble && size > bound {
		out.Find(FoundWobble, name,
			"look for a worn bushing, a bent shaft, or a wheel off its middle. No turn of the housing "+
				"cures it",
			"the vanes swing once a turn of the shaft, by up to %s of crank either way", quantity.Degrees(size, 1))
		return
	}
	who := quantity.Number(float64(worst+1), 0)
	what := "vane "
	if s.cylindersKnown() {
		who, what = quantity.Number(float64(s.l.Cylinder(worst)), 0), "the vane of cylinder "
	}
	way := "late"
	if c.SpacingErrorDeg[worst] < 0 {
		way = "early"
	}
	out.Find(FoundVaneBent, name,
		"straighten or replace the wheel. The spark of that cylinder is wrong by as much. No turn of the "+
			"housing cures it",
		"%s%s stands %s of crank %s", what, who, quantity.Degrees(far, 1), way)
}

// swing fits a sine with one period a turn of the distributor shaft, which is one cycle of the engine, to the vanes'
// distances from their places. size is its amplitude, crank degrees. share is how much of the variance it explains, 1 −
// (rss/(n−3))/(total/(n−1)): the adjusted R² of a fit with three coefficients.
func swing(late, intervals []float64) (size, share float64) {
	n := len(late)
	if n < 5 {
		return 0, 0
	}
	var all sums.Moments
	mean := 0.0
	for _, v := range late {
		mean += v / float64(n)
	}
	at, total := 0.0, 0.0
	for i, v := range late {
		sin, cos := math.Sincos(2 * math.Pi * at / motion.Cycle)
		all.Add(sin, cos, v-mean)
		total += (v - mean) * (v - mean)
		at += intervals[i]
	}
	c, rss, ok := all.Solve(sums.Basis{true, true, true})
	if !ok || total == 0 {
		return 0, 0
	}
	return math.Hypot(c[1], c[2]), 1 - rss/float64(n-3)/(total/float64(n-1))
}

// On the starter a vane's share of the time is not its share of the turn: compression slows the crank within each
// firing interval. crankingRipple is how much of a vane's width that can take or add; assumed, 0.2 to 0.4.
const (
	crankingBelow  = 500 // rpm, mean of the recording
	crankingRipple = 0.4
)

// compare lists what was measured beside what the card states, and finds a vane width that differs.
func (s *observer) compare(r *Result, out *terms.Findings) {
	f, l := s.l.Facts, s.l
	if !f.OnCard {
		return
	}
	add := func(what, unit string, measured, stated, within float64) bool {
		if math.IsNaN(measured) || math.IsNaN(stated) || !(stated != 0) {
			return true
		}
		agrees := math.Abs(measured-stated) <= within
		r.Stated = append(r.Stated, Compared{what, unit, Number(measured), Number(stated), agrees})
		return agrees
	}
	if lead := float64(l.Lead()); !math.IsNaN(lead) {
		off := float64(motion.Near(quantity.Crank(lead)-f.Lead, motion.Turn))
		if r.Timing != nil {
			lead = r.Timing.Lead.Value
			off = float64(motion.Near(quantity.Crank(lead)-f.Lead, motion.Turn))
		}
		add("trigger lead", "°", float64(f.Lead)+off, float64(f.Lead), 1)
		if math.Abs(off) > 0.4*motion.Cycle/float64(l.N) {
			out.Doubt("by the mark the active edge stands %s before TDC. The job card says %s. Cylinder 1 was "+
				"told by %s", quantity.Degrees(lead, 1), quantity.Degrees(f.Lead, 1), l.FirstBy)
		}
	}
	if len(f.Vanes) > 0 && r.Crank != nil {
		mean := 0.0
		for _, v := range f.Vanes {
			mean += float64(v) / 2 / float64(len(f.Vanes))
		}
		within := math.Max(1.5, 0.1*mean)
		if r.Speed != nil && r.Speed.Mean < crankingBelow {
			within = math.Max(within, crankingRipple*mean)
		}
		if measured := float64(r.Crank.VaneWidthDeg); !add("vane width", "° of shaft", measured, mean, within) &&
			!out.Has(FoundPolarity) {
			out.Find(FoundVaneWidth, l.Name(l.Assigned.Crank),
				"check the card's vane width and its level in the vane. Check the pickup's place",
				"the vanes are %s of shaft wide, the job card says %s", quantity.Degrees(measured, 1),
				quantity.Degrees(mean, 1))
		}
	}
	if f.Cam.Stated && r.Cam != nil {
		add("cam window", "° of crank", r.Cam.WindowDeg,
			math.Min(float64(f.Cam.Width), motion.Cycle-float64(f.Cam.Width)), math.Max(3, 0.1*float64(f.Cam.Width)))
		if len(r.Cam.Edges) == 2 {
			edge := r.Cam.Edges[wheel.Index(f.Cam.Active == jobcard.Rising)]
			ahead := motion.Wrap(-quantity.Crank(edge.AtDeg), motion.Cycle) // way on to cylinder 1's active edge
			add("cam edge before cylinder 1's", "° of crank", float64(ahead), float64(f.Cam.After),
				0.3*motion.Cycle/float64(l.N))
		}
	}
	s.compareLevel(add)
	s.compareDwell(r, out, add)
}

// compareLevel compares the share of the time that the crank pickup is high with what the card's vanes and level in the
// vane give.
func (s *observer) compareLevel(add func(what, unit string, measured, stated, within float64) bool) {
	f := s.l.Facts
	total := quantity.Crank(0)
	for i := range s.l.N {
		if len(f.Vanes) > 0 {
			total += f.Vanes[i%len(f.Vanes)]
		}
	}
	if total == 0 || f.InVane == "" || !f.Metal {
		return
	}
	share := float64(total / motion.Cycle)
	if f.InVane == jobcard.Low {
		share = 1 - share
	}
	add("crank high", "% of the time", 100*s.l.Profiles[s.l.Assigned.Crank].Duty, 100*share, 5)
}

// dwellApart is the relative difference between the dwell measured and the dwell set that matters (assumed). dwellFits
// is the largest dwell, as a share of the time between two sparks of a channel, that a controller can still hold
// (assumed).
const (
	dwellApart = 0.15
	dwellFits  = 0.7
)

// compareDwell compares the dwell measured with the one that the card has, at speeds where it fits between sparks.
func (s *observer) compareDwell(r *Result, out *terms.Findings, add func(what, unit string, measured, stated,
	within float64) bool) {
	l, set := s.l, s.l.Facts.Dwell
	pulse := l.Spark[0]
	if len(l.Assigned.Sparks) > 0 {
		pulse = l.Spark[l.Assigned.Sparks[0]]
	}
	if !pulse.Driver || !(set > 0) || r.Spark == nil {
		return
	}
	if s.fired.held.n < 20 {
		return
	}
	driven, _ := s.fired.held.usual()
	if add("dwell", "ms", driven, set, math.Max(0.1, dwellApart*set)) || pulse.Ramp && driven < set {
		return
	}
	out.Find(FoundDwell, l.Name(l.Assigned.Sparks[0]),
		"read the dwell back from the controller, or correct it on the job card",
		"the coil is driven for %s ms, the job card says %s ms", quantity.Number(driven, 2), quantity.Number(set, 2))
}
