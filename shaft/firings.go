package shaft

import (
	"math"
	"slices"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/sums"
	"phasewright/shaft/timing"
	"phasewright/shaft/track"
	"phasewright/shaft/wheel"
	"phasewright/waveform"
)

const (
	speedClass   = 50.0 // rpm; width of a class of speed
	speedClasses = 400  // to 20,000 rpm
	gridClass    = 250.0
	gridClasses  = 64
	longestDwell = 1000.0 // ms
)

// firings adds up the sparks, and finds those that are missing, extra or far from the rest.
type firings struct {
	total   int64
	dwell   dwells // all
	held    dwells // those at the speeds of the timing line where the dwell that is set fits between two sparks
	placed  int64  // firings in whole, undisturbed intervals
	adrift  int64  // of those, the ones too far from the rest to count for the timing line
	vane    []vaneFirings
	class   []speedFirings
	grid    [][]sums.Mean // degrees from the active edge to the spark, by vane and class of speed
	ended   waveform.Second
	endedAt quantity.Speed // speed at which the sparks ended while the crank turned on; 0: they did not

	run     int // intervals with sparks in this run of passes
	gone    int // expected firings in a row that did not come
	goneAt  []waveform.Second
	goneN   quantity.Speed
	usual   float64 // running mean of the wait over all cylinders, degrees
	usualOf int     // firings in that mean, at most four cycles of them
	odd     int     // strange firings in a row
	limit   float64 // a firing is strange if it is more than this from usual, degrees
	between float64 // ms between two sparks of one channel, times rpm
	last    lastFiring
}

// lastFiring is the last firing, kept to be compared with the mark that follows it on the starter.
type lastFiring struct {
	own
	t     waveform.Second
	i     int64
	other motion.Point // the crank pickup's other edge in that interval, at its learnt place
	known bool         // other is known
}

// own is a firing in the controller's own terms (see package timing).
type own struct {
	wait  quantity.Crank // S·t/T
	speed quantity.Speed // mean of the last interval
	after quantity.Crank // angle that the shaft turned since the active edge
	ok    bool
}

// vaneFirings are the firings after one vane.
type vaneFirings struct {
	slow, running firingSums
	scatter       sums.Mean // distance from the running mean of all, in the controller's own terms
}

func (v *vaneFirings) all() firingSums { return v.slow.and(v.running) }

// firingSums are sums over firings: of the speed (rpm), of the degrees from the nominal active edge to the spark as at
// steady speed, and of the commanded advance (degrees).
type firingSums struct {
	count               int64
	rpm, steady, wanted float64
}

func (f *firingSums) add(n quantity.Speed, steady, wanted float64) {
	*f = f.and(firingSums{1, float64(n), steady, wanted})
}

func (f firingSums) and(g firingSums) firingSums {
	return firingSums{f.count + g.count, f.rpm + g.rpm, f.steady + g.steady, f.wanted + g.wanted}
}

// speed is the mean speed in rpm. advance is the mean of minus the degrees from the nominal edge: the advance less the
// lead. err is that less the commanded advance.
func (f firingSums) speed() float64   { return f.rpm / float64(f.count) }
func (f firingSums) advance() float64 { return -f.steady / float64(f.count) }
func (f firingSums) err() float64     { return -(f.steady + f.wanted) / float64(f.count) }

// speedFirings are the firings in one class of speed.
type speedFirings struct {
	after             sums.Mean // degrees that the shaft turned from the active edge to the spark
	rpm, wait, wanted float64   // sums
	lo, hi            float64   // rpm
	dwells            int64
	dwell             float64 // sum, ms
}

func (c *speedFirings) mean(sum float64) float64 { return sum / float64(c.after.N) }

func (c *speedFirings) join(q *speedFirings) {
	switch {
	case q.after.N == 0:
	case c.after.N == 0:
		c.lo, c.hi = q.lo, q.hi
	default:
		c.lo, c.hi = min(c.lo, q.lo), max(c.hi, q.hi)
	}
	c.after.Join(q.after)
	c.rpm, c.wait, c.wanted = c.rpm+q.rpm, c.wait+q.wait, c.wanted+q.wanted
	c.dwells, c.dwell = c.dwells+q.dwells, c.dwell+q.dwell
}

func newFirings(l *wheel.Layout) firings {
	f := firings{vane: make([]vaneFirings, l.N), class: make([]speedFirings, speedClasses),
		grid: make([][]sums.Mean, l.N), limit: 6, usual: l.Usual}
	for i := range f.grid {
		f.grid[i] = make([]sums.Mean, gridClasses)
	}
	if !math.IsNaN(l.Scatter) {
		f.limit += 8 * l.Scatter
	}
	f.last.i = -10
	perVane := 0.0 // sparks of one channel for each vane that passes
	for _, o := range l.Occupied {
		perVane += o / float64(l.N) / float64(max(1, len(l.Assigned.Sparks)))
	}
	f.between = 120e3 / float64(l.N) / math.Max(perVane, 0.01)
	return f
}

func (f *firings) clone() firings {
	c := *f
	c.vane, c.class, c.goneAt = slices.Clone(f.vane), slices.Clone(f.class), slices.Clone(f.goneAt)
	c.grid = make([][]sums.Mean, len(f.grid))
	for i := range c.grid {
		c.grid[i] = slices.Clone(f.grid[i])
	}
	return c
}

// count counts a spark with its dwell in ms.
func (f *firings) count(dwell float64) {
	f.total++
	f.dwell.add(dwell)
}

// dwells are counted in classes of 3 %, so that a few wrong ones, from noise or ringing, do not change the usual one.
type dwells struct {
	class  [256]struct{ n, sum, squares float64 }
	lo, hi float64 // ms
	n      float64
	// class of the last dwell and its bounds: most are like the one before, which saves a logarithm each
	at           int
	above, below float64
}

const (
	dwellClass = 0.03
	dwellFirst = 0.02 // ms
)

func (d *dwells) add(ms float64) {
	if !(ms > 0) || ms >= longestDwell {
		return
	}
	if d.n == 0 {
		d.lo, d.hi = ms, ms
	}
	d.lo, d.hi = min(d.lo, ms), max(d.hi, ms)
	d.n++
	if !(ms >= d.above && ms < d.below) {
		d.at = max(0, min(len(d.class)-1, int(math.Log(ms/dwellFirst)/dwellClass)))
		d.above, d.below = dwellFirst*math.Exp(dwellClass*float64(d.at)),
			dwellFirst*math.Exp(dwellClass*float64(d.at+1))
	}
	c := &d.class[d.at]
	c.n++
	c.sum += ms
	c.squares += ms * ms
}

// usual is the mean and the standard deviation of the dwells within a factor of two of the median.
func (d *dwells) usual() (mean, sd float64) {
	const twice = 23 // classes
	at, seen := 0, 0.0
	for seen+d.class[at].n < d.n/2 {
		seen += d.class[at].n
		at++
	}
	var n, sum, squares float64
	for i := max(0, at-twice); i <= min(len(d.class)-1, at+twice); i++ {
		n, sum, squares = n+d.class[i].n, sum+d.class[i].sum, squares+d.class[i].squares
	}
	mean = sum / n
	return mean, math.Sqrt(math.Max(0, squares/n-mean*mean))
}

// restart begins the counts from vane to vane anew.
func (f *firings) restart() {
	f.run, f.gone, f.goneAt, f.last.i = 0, 0, f.goneAt[:0], -10
}

// endRun ends a run of passes. Where the last two cycles or more were without sparks at over 300 rpm, the ignition was
// off.
func (f *firings) endRun() {
	if f.gone >= 2*len(f.vane) && f.goneN > 300 && f.endedAt == 0 {
		f.ended, f.endedAt = f.goneAt[0], f.goneN
	}
	f.restart()
}

// ownTerms gives a firing at t in the interval x in the controller's own terms: wait S·t/T and speed of the last
// interval. ok is false where an interval that matters is disturbed.
func (s *observer) ownTerms(x *track.Interval, t waveform.Second) own {
	o := own{after: x.Curve.At(t) - x.A.A}
	if x.Early || !x.Whole || !x.Trusted {
		return o
	}
	last := x.A.T - s.track.At(x.I-1).T
	o.wait = s.l.NomStep[x.A.Vane] * quantity.Crank((t-x.A.T)/last)
	o.speed = x.A.Speed
	o.ok = true
	return o
}

// interval takes the sparks of the interval x.
func (f *firings) interval(s *observer, x *track.Interval, sparks []track.Event) {
	l := s.l
	if len(l.Assigned.Sparks) == 0 {
		return
	}
	k := x.A.Vane
	var curve motion.Curve
	clear := s.clear(x)
	if clear {
		curve = s.without(x.I)
		s.vanes.loose.Add(float64(x.A.A - curve.At(x.A.T)))
	}
	if x.Numbered && x.Whole {
		f.watch(s, x, sparks)
	}
	if len(sparks) == 0 {
		return
	}
	f.run++
	e := sparks[0]
	o := s.ownTerms(x, e.T)
	if !o.ok {
		return
	}
	f.placed++
	if x.Numbered && l.Occupied[k] < 0.05 && l.PerSlot > 0 {
		f.adrift++ // no firing belongs here; watch logs it as an extra pulse
		return
	}
	late := l.Late(k)
	steady := float64(o.wait*l.Step[k]/l.NomStep[k] + late) // as if the crank had kept the last interval's speed
	if f.strange(steady) {
		f.adrift++
		return
	}
	f.last.own, f.last.t, f.last.i = o, e.T, x.I // the literal would be made first and then copied
	f.last.other, f.last.known = s.otherPlace(x)
	wanted := float64(l.Facts.Command(o.speed))
	f.bySpeed(l, o, wanted, e.Dwell)
	if x.Numbered {
		v := &f.vane[k]
		if o.speed >= l.Facts.FitFrom {
			v.running.add(o.speed, steady, wanted)
		} else {
			v.slow.add(o.speed, steady, wanted)
		}
		f.grid[k][min(int(o.speed/gridClass), gridClasses-1)].Add(float64(o.after))
		if f.usualOf > 2*l.N {
			v.scatter.Add(f.usual - steady)
		}
		if clear {
			s.spread.fire(&curve, x.A, e.T, late, float64(o.wait/l.NomStep[k]), l.N)
		}
	}
	f.updateUsual(steady)
	if x.Curve.Jerk(x.Took()) < mostJerk || o.speed < l.Facts.FitFrom { // else it is not known how far the shaft turned
		s.timing.Fire(&timing.Firing{Vane: k, Numbered: x.Numbered, Wait: o.wait, Speed: o.speed, Shaft: o.after + late,
			Steady: quantity.Crank(steady), Commanded: quantity.Crank(wanted)})
	}
}

// bySpeed adds a firing to its class of speed.
func (f *firings) bySpeed(l *wheel.Layout, o own, wanted, dwell float64) {
	c := &f.class[min(int(o.speed/speedClass), speedClasses-1)]
	n := float64(o.speed)
	if c.after.N == 0 {
		c.lo, c.hi = n, n
	}
	c.lo, c.hi = min(c.lo, n), max(c.hi, n)
	c.after.Add(float64(o.after))
	c.rpm, c.wait, c.wanted = c.rpm+n, c.wait+float64(o.wait), c.wanted+wanted
	if dwell > 0 && dwell < longestDwell {
		c.dwells, c.dwell = c.dwells+1, c.dwell+dwell
	}
	if o.speed >= l.Facts.FitFrom && l.Facts.Dwell < dwellFits*f.between/float64(o.speed) {
		f.held.add(dwell)
	}
}

// updateUsual adds a firing to the running mean of the wait.
func (f *firings) updateUsual(steady float64) {
	if f.usualOf == 0 {
		f.usual = steady
	}
	f.usualOf = min(f.usualOf+1, 4*len(f.vane))
	f.usual += (steady - f.usual) / float64(f.usualOf)
}

// strange says whether a firing is so far from the usual wait that it shows a disturbed controller rather than its
// timing. Where two whole cycles in a row are strange, the timing has been changed, and they become the usual.
func (f *firings) strange(steady float64) bool {
	if f.usualOf > 0 && math.Abs(steady-f.usual) > f.limit {
		if f.odd++; f.odd <= 2*len(f.vane) {
			return true
		}
		f.usualOf = 0
	}
	f.odd = 0
	return false
}

// watch logs firings that did not come, and sparks that belong to no firing.
func (f *firings) watch(s *observer, x *track.Interval, sparks []track.Event) {
	l := s.l
	k, channel := x.A.Vane, l.Assigned.Sparks[0]
	if len(sparks) == 0 {
		if l.Occupied[k] >= 0.7 && f.run >= 2 {
			if f.gone == 0 {
				f.goneN = x.Speed
			}
			f.gone++
			if len(f.goneAt) < 3 {
				f.goneAt = append(f.goneAt, x.A.T+x.Took()*waveform.Second(math.Min(1, l.Usual/float64(x.Step()))))
			}
		}
		return
	}
	if f.gone >= 3 {
		s.track.Log.Add(track.Dropout, f.goneAt[0], channel)
	} else {
		for _, t := range f.goneAt {
			s.track.Log.Add(track.MissingPulse, t, channel)
		}
	}
	f.gone, f.goneAt = 0, f.goneAt[:0]
	if l.PerSlot < 1.5 {
		due := 1
		if l.Occupied[k] < 0.05 {
			due = 0
		}
		for _, e := range sparks[min(due, len(sparks)):] {
			s.track.Log.Add(track.ExtraPulse, e.T, int(e.Channel))
		}
	}
}

// otherPlace is when the pickup's other edge came in the interval x, and its learnt place; false where that is not
// known.
func (s *observer) otherPlace(x *track.Interval) (motion.Point, bool) {
	after := s.l.OtherAfter(x.A.Vane)
	if x.Others != 1 || math.IsNaN(float64(after)) || !s.l.Learnt || !s.l.Firm {
		return motion.Point{}, false
	}
	return motion.Point{T: x.Other.T, A: x.A.A + after}, true
}

// lightAtCranking compares, while cranking, the advance that a timing light on that wire would show with the one that
// the controller meant. The firing is the last one before a mark. As compression bends the motion between active edges,
// the firing is placed on a curve through the mark itself and the vane's other edge too, which stand where they were
// learnt.
func (s *observer) lightAtCranking(x *track.Interval, p *places, sparks []track.Event) {
	f := s.fired.last
	if len(sparks) > 0 && sparks[0].T < p.mark.T {
		f = lastFiring{own: s.ownTerms(x, sparks[0].T), t: sparks[0].T, i: x.I}
		f.other, f.known = s.otherPlace(x)
	}
	if !f.ok || !f.known || f.i < x.I-1 || f.i <= s.track.First || f.t >= p.mark.T {
		return
	}
	a := s.track.At(f.i)
	lead := p.mark.A - (a.A - s.l.Late(a.Vane))
	if meant := lead - f.wait; meant < -15 || meant > min(70, x.Step()) { // the mark is not this firing's own
		return
	}
	end := motion.Point{T: x.B.T, A: x.B.A}
	if f.i != x.I {
		end = motion.Point{T: x.A.T, A: x.A.A}
	}
	points := []motion.Point{{T: a.T, A: a.A}, p.mark, end, f.other}
	for i := range points {
		for j := range i {
			if points[i].T == points[j].T {
				return
			}
		}
	}
	c := motion.Through(points...)
	s.timing.Light(x.Speed, p.mark.A-c.At(f.t)-(lead-f.wait))
}
