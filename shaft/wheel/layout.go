package wheel

import (
	"math"
	"slices"

	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/roles"
	"phasewright/shaft/sums"
	"phasewright/shaft/terms"
	"phasewright/waveform"
)

// Layout is what was learnt from the first stretch of a recording: which edges count, the wheel, and where cam, mark
// and sparks stand on it.
type Layout struct {
	Facts    *terms.Facts
	Assigned roles.Assignment
	Profiles []*roles.Profile
	terms.Findings

	ActiveRising  bool
	ActiveBecause string
	ActiveAssumed bool // neither card nor recording showed the active edge
	Acts          Acts // whether the controller acts on the active edge, as its sparks show
	*Wheel             // nil: the shaft cannot be followed

	Cam      CamPlace
	Mark     MarkPlace
	Spark    []SparkPulse // by channel; only those of spark channels say anything
	Occupied []float64    // for each vane: share of cycles with a spark between it and the next
	PerSlot  float64      // mean number of sparks in an interval that has any
	First    int          // vane of cylinder 1's active edge
	FirstBy  string       // what shows it, or that it is assumed
	Usual    float64      // median of S·t/T, the wait in the controller's own terms (see wait), degrees; NaN: no sparks
	Scatter  float64      // robust standard deviation of its change from one cycle to the next
}

// CamPlace is where the edges of the cam pickup stand on the cycle.
type CamPlace struct {
	On         bool
	RefRising  bool              // the reference edge is the rising one: it keeps farther from active crank edges
	At         [2]quantity.Crank // falling, rising; NaN: not known
	NarrowHigh bool
}

// MarkPlace is where the mark's pulse stands on the turn of the crank.
type MarkPlace struct {
	On        bool
	TopRising bool           // its rising edge stands at TDC
	At        quantity.Crank // place of that edge at speed nought (see atRest)
	Drift     float64        // how it moves with speed, degrees per rpm
	Width     quantity.Crank
}

// Name is the name of channel i.
func (l *Layout) Name(i int) string { return l.Profiles[i].Name }

// Index is 1 for the rising edge, 0 for the falling one: the order of CamPlace.At.
func Index(rising bool) int {
	if rising {
		return 1
	}
	return 0
}

// Learn makes the layout from the roles a and the profiles ps of the channels; tick is what a time stamp counts in.
// a.Crank must be a channel and a.Vanes from 1 to terms.MostVanes.
func Learn(facts *terms.Facts, a roles.Assignment, ps []*roles.Profile, tick waveform.Second) *Layout {
	l := &Layout{Facts: facts, Assigned: a, Profiles: ps, Spark: make([]SparkPulse, len(ps)), Usual: math.NaN(),
		Scatter: math.NaN()}
	l.chooseSparkEdges()
	l.chooseActiveEdge(tick)
	crank := ps[a.Crank]
	active := crank.Edges(l.ActiveRising)
	c := newCycles(active, l.references(active), a.Vanes)
	l.learnWheel(c)
	shift := l.Pos[0] // places so far count from the learnt place of vane 0; from here on from its nominal place
	for i := range l.Cam.At {
		l.Cam.At[i] = motion.Wrap(l.Cam.At[i]+shift, motion.Cycle)
	}
	l.placeOthers(c, crank.Edges(!l.ActiveRising), shift)
	l.placeMark(c, shift)
	l.placeSparks(c)
	l.findFirst()
	if l.Rough > 0.1*motion.Cycle/quantity.Crank(l.N) {
		l.Doubt("the edges of %s wander by %s from cycle to cycle. It is noise, or not a crank signal", crank.Name,
			quantity.Degrees(l.Rough, 1))
	}
	l.checkPolarity()
	return l
}

// references are the edges at which cycles are cut: those of the cam, else of every second mark, else of every n-th
// vane.
func (l *Layout) references(active []waveform.Second) []waveform.Second {
	a, ps := l.Assigned, l.Profiles
	var all []waveform.Second
	every := a.Vanes
	switch {
	case a.Cam >= 0:
		l.Cam = CamPlace{On: true, NarrowHigh: ps[a.Cam].NarrowHigh, RefRising: farther(ps[a.Cam], active)}
		return ps[a.Cam].Edges(l.Cam.RefRising)
	case a.Mark >= 0:
		all, every = ps[a.Mark].Edges(ps[a.Mark].NarrowHigh), 2
	default:
		all = active
	}
	var refs []waveform.Second
	for i := 0; i < len(all); i += every {
		refs = append(refs, all[i])
	}
	return refs
}

// farther says whether the cam's rising edge keeps farther from active crank edges than its falling one. Compared is
// the least distance, apart from the nearest 5 %, as a share of the crank interval. The farther one is the safe one to
// cut cycles at.
func farther(cam *roles.Profile, active []waveform.Second) (rising bool) {
	margin := func(t []waveform.Second) float64 {
		var m []float64
		for _, x := range t {
			if j, _ := slices.BinarySearch(active, x); j > 0 && j < len(active) {
				f := float64((x - active[j-1]) / (active[j] - active[j-1]))
				m = append(m, math.Min(f, 1-f))
			}
		}
		if len(m) == 0 {
			return -1
		}
		slices.Sort(m)
		return m[len(m)/20]
	}
	return margin(cam.Rise) > margin(cam.Fall)
}

// learnWheel makes the wheel: places as measured, or even ones where no undisturbed cycle was found.
func (l *Layout) learnWheel(c *cycles) {
	n := c.n
	pos, rough := c.vanes()
	learnt := pos != nil
	if !learnt {
		if l.Facts.Intervals == nil && l.Facts.Cylinders == 0 {
			l.Doubt("no undisturbed cycle in the first stretch of %s: even vanes assumed", l.Name(l.Assigned.Crank))
		}
		pos = make([]quantity.Crank, n)
		for k := range pos {
			pos[k] = motion.Cycle * quantity.Crank(k) / quantity.Crank(n)
		}
	}
	l.placeCam(c)
	intervals := l.intervals(pos, learnt)
	if !learnt {
		for k := 1; k < n; k++ {
			pos[k] = pos[k-1] + intervals[k-1]
		}
	}
	l.Wheel = New(pos, intervals)
	l.Learnt, l.Rough = learnt, rough
}

// intervals are the nominal intervals from each vane to the next. The card's are turned round the wheel until they fit
// the measured places best (least sum of squares); without a card see bookIntervals.
func (l *Layout) intervals(pos []quantity.Crank, learnt bool) []quantity.Crank {
	n := len(pos)
	card := l.Facts.Intervals
	switch {
	case len(card) != n && !learnt:
		return evenly(n)
	case len(card) != n:
		out, even := bookIntervals(pos)
		if !even {
			l.Doubt("no card gives the firing intervals: the nearest whole degrees are taken as nominal")
		}
		return out
	}
	best, misfit := 0, math.Inf(1)
	byCam := l.byCam(pos)
	for turned := range n { // cylinder 1's edge is vane `turned`
		sum, at := 0.0, quantity.Crank(0)
		for i := range n {
			d := float64(motion.Near(pos[(turned+i)%n]-pos[turned]-at, motion.Cycle))
			sum += d * d
			at += card[i]
		}
		if byCam >= 0 && byCam != turned {
			sum += 1e-3 // where two ways fit equally well, the cam decides
		}
		if sum < misfit {
			best, misfit = turned, sum
		}
	}
	if rms := math.Sqrt(misfit / float64(n)); learnt && rms > 5 {
		l.Doubt("the vanes stand %s (rms) from the card's firing intervals", quantity.Degrees(rms, 1))
	}
	out := make([]quantity.Crank, n)
	for i, v := range card {
		out[(best+i)%n] = v
	}
	return out
}

// byCam is the vane of cylinder 1 as the card has it: the one that stands nearest to Cam.After degrees behind the
// card's cam edge; −1: not known.
func (l *Layout) byCam(pos []quantity.Crank) int {
	if !l.Cam.On || !l.Facts.Cam.Stated {
		return -1
	}
	at := l.Cam.At[Index(l.Facts.Cam.Active == jobcard.Rising)]
	best, least := -1, quantity.Crank(math.Inf(1))
	for k, v := range pos {
		if d := quantity.Abs(motion.Near(v-at-l.Facts.Cam.After, motion.Cycle)); d < least {
			best, least = k, d
		}
	}
	return best
}

// placeCam finds where both cam edges stand on the cycle, counted from vane 0.
func (l *Layout) placeCam(c *cycles) {
	l.Cam.At = [2]quantity.Crank{terms.NotStated, terms.NotStated}
	if !l.Cam.On {
		return
	}
	for i := range l.Cam.At {
		l.Cam.At[i] = middle(c.places(l.Profiles[l.Assigned.Cam].Edges(i == 1), c.slow), motion.Cycle)
	}
	if r := Index(l.Cam.RefRising); math.IsNaN(float64(l.Cam.At[r])) {
		l.Cam.At[r] = motion.Cycle - 0.25*motion.Cycle/quantity.Crank(c.n)
	}
}

// placeOthers finds where the crank pickup's other edges stand, and whether they keep their places at all speeds.
func (l *Layout) placeOthers(c *cycles, t []waveform.Second, shift quantity.Crank) {
	at := make([][]float64, c.n)
	for _, p := range c.places(t, c.slow) {
		at[p.vane] = append(at[p.vane], float64(p.at))
	}
	other := make([]quantity.Crank, c.n)
	for k := range other {
		other[k] = quantity.Crank(sums.Median(at[k]))
	}
	// A vane's width in degrees is the same at all speeds. The other edge of a reluctance pickup's pulse moves with
	// speed.
	p := c.places(t, c.wide)
	lo, hi := math.Inf(1), 0.0
	for _, q := range p {
		lo, hi = math.Min(lo, float64(q.n)/1000), math.Max(hi, float64(q.n)/1000)
	}
	crank := l.Profiles[l.Assigned.Crank]
	fit, ok := overSpeed(p, 30, func(q place) quantity.Crank { return q.at - other[q.vane] }, 1.3)
	l.Firm = !crank.Reluctance && (l.Facts.Metal || !(ok && math.Abs(fit[1])*(hi-lo) > 1.5))
	if !l.Firm {
		if crank.Reluctance && crank.Relative {
			l.Doubt("%s is a reluctance pickup. A sound card's input moves its zero crossings. They come "+
				"early by some tenths of a degree near idle, less as speed rises. Record it with a scope for "+
				"the last tenths", crank.Name)
		}
		l.Doubt("the pulses of %s change their width in degrees with speed, as of a reluctance pickup. No vane "+
			"width is given", crank.Name)
	}
	for k := range other {
		l.Other[k] = other[k] + shift
	}
}

// placeMark finds where the mark stands on the turn of the crank.
func (l *Layout) placeMark(c *cycles, shift quantity.Crank) {
	if l.Assigned.Mark < 0 {
		return
	}
	p := l.Profiles[l.Assigned.Mark]
	start, end := c.places(p.Edges(p.NarrowHigh), c.wide), c.places(p.Edges(!p.NarrowHigh), c.wide)
	if len(start) == 0 || len(end) == 0 {
		l.Doubt("no mark of %s in an undisturbed cycle of the first stretch. Absolute timing is left out", p.Name)
		return
	}
	a, drift := atRest(start, motion.Turn)
	b, _ := atRest(end, motion.Turn)
	l.Mark = MarkPlace{On: true, TopRising: p.NarrowHigh, At: motion.Wrap(a+shift, motion.Turn), Drift: drift,
		Width: motion.Wrap(b-a, motion.Turn)}
	if l.Mark.Width > 1 {
		l.Doubt("the start of the pulse on %s is taken as TDC. The pulse is %s wide", p.Name,
			quantity.Degrees(l.Mark.Width, 1))
	}
}

// placeSparks finds which vanes are followed by a spark (Occupied), how many sparks come there (PerSlot), and the usual
// wait in the controller's own terms (Usual, Scatter).
func (l *Layout) placeSparks(c *cycles) {
	sparks, active := l.SparkTimes(), c.active
	l.Occupied = make([]float64, c.n)
	if len(sparks) == 0 {
		return
	}
	slots, fired := make([]float64, c.n), make([]float64, c.n)
	occupied, count := 0.0, 0.0
	var wait []float64
	i, _ := slices.BinarySearch(sparks, active[0])
	last := sparks[len(sparks)-1]
	for s := range c.first {
		for k := 0; c.whole[s] && k < c.n; k++ {
			j := c.first[s] + k
			if j+1 >= len(active) || active[j] < sparks[0] || active[j+1] > last {
				continue
			}
			for i < len(sparks) && sparks[i] < active[j] {
				i++
			}
			slots[k]++
			here := 0
			for m := i; m < len(sparks) && sparks[m] < active[j+1]; m++ {
				here++
			}
			if here == 0 {
				continue
			}
			fired[k]++
			occupied++
			count += float64(here)
			if j > 0 {
				wait = append(wait, float64(l.NomStep[k])*float64((sparks[i]-active[j])/(active[j]-active[j-1])))
			}
		}
	}
	for k := range slots {
		if slots[k] > 0 {
			l.Occupied[k] = fired[k] / slots[k]
		}
	}
	if occupied > 0 {
		l.PerSlot = count / occupied
	}
	l.Usual = sums.Median(wait)
	var change []float64
	for i := c.n; i < len(wait); i++ {
		change = append(change, wait[i]-wait[i-c.n])
	}
	_, l.Scatter = sums.Spread(change)
}
