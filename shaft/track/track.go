package track

import (
	"math"
	"slices"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/wheel"
	"phasewright/waveform"
)

// What an edge means.
type What uint8

// The meanings.
const (
	Nothing What = iota
	CrankActive
	CrankOther
	CamFalls
	CamRises
	PulseBegins // the other edge of a spark's pulse
	Sparks
	MarkAtTop
)

// Event is an edge of any channel but the active ones of the crank.
type Event struct {
	T       waveform.Second
	Dwell   float64 // of a spark, ms; NaN where its pulse did not begin
	What    What
	Channel int
}

// Interval is the time from one pass to the next, with what happened in it.
type Interval struct {
	I        int64 // of pass A
	A, B     *Pass
	Curve    motion.Curve // through the passes around it
	Speed    quantity.Speed
	Numbered bool // the vanes are told apart, as far as they ever can be
	Early    bool // fewer than two passes of this run came before it: the curve is not held from both sides
	Whole    bool // no vane is missing in it and no extra pulse came
	Trusted  bool // nothing was wrong in it or shortly before
	Events   []Event
}

// Step is the angle from A to B.
func (x *Interval) Step() quantity.Crank { return x.B.A - x.A.A }

// Took is the time from A to B.
func (x *Interval) Took() waveform.Second { return x.B.T - x.A.T }

// Observer is told what the shaft did.
type Observer interface {
	Interval(x *Interval) // in order; all is only lent
	Stray(e Event)        // it happened while no track ran
	Renumbered()          // the count of vanes was moved: what counts from vane to vane begins anew
	RunEnds()             // what counts from vane to vane ends here
}

const (
	// events waiting for the crank edges around them: a healthy recording holds a few, only noise fills it
	mostWaiting = 4096
	worked      = 64 // so many that were worked through are let go of together
	holdOff     = 3  // intervals after something wrong that must not be timed from
)

// Track follows the shaft.
type Track struct {
	Passes
	Log  *Log
	Sync Sync
	// Dropped events were too many to stand between two crank edges, Stops are the times that the shaft stood still
	// between turning.
	Dropped int64
	Stops   int64

	l          *wheel.Layout
	to         Observer
	guesser    guesser
	lastOther  waveform.Second
	pulse      []waveform.Second // by channel: when the present spark pulse began; NaN: none
	train      []waveform.Second // by channel: the last pulse of a spark train
	waiting    []Event           // from head on
	head       int
	lent       Interval // the one that the observer is told of: made anew it would be most of what is allocated
	extra      int8
	gap        gap
	anchor     anchor
	markTold   bool // without a cam: the vanes of this run were numbered by the mark
	markWithin quantity.Crank
	wrong      int // intervals since something was wrong, counting down from holdOff
}

// New begins; the log lists at most so many anomalies. Layout.Wheel must be learnt.
func New(l *wheel.Layout, to Observer, mostListed int) *Track {
	t := &Track{l: l, to: to, Passes: newPasses(l.Wheel), Log: NewLog(mostListed), guesser: newGuesser(l.Wheel),
		lastOther:  waveform.Second(math.Inf(-1)),
		markWithin: MarkWithin(l.N)}
	for range l.Profiles {
		t.pulse = append(t.pulse, waveform.Second(math.NaN()))
		t.train = append(t.train, waveform.Second(math.Inf(-1)))
	}
	t.anchor = newAnchor(t)
	t.tie()
	return t
}

// tie hands the guesser what it tells.
func (t *Track) tie() {
	t.guesser.take, t.guesser.cut = t.take, t.cut
	t.anchor.series.SetLog(t.Log)
}

// MarkWithin is how far from its place a mark is still that mark, on a wheel of n vanes.
func MarkWithin(n int) quantity.Crank {
	return max(20, min(80, 0.12*motion.Cycle/quantity.Crank(n)))
}

// Clone is a copy that goes its own way and tells another observer.
func (t *Track) Clone(to Observer) *Track {
	c := *t
	c.to, c.Passes, c.Log = to, t.Passes.clone(), t.Log.Clone()
	c.Sync.Losses = slices.Clone(t.Sync.Losses)
	c.guesser.live = slices.Clone(t.guesser.live)
	c.pulse, c.train, c.waiting = slices.Clone(t.pulse), slices.Clone(t.train), slices.Clone(t.waiting)
	c.anchor.stray = slices.Clone(t.anchor.stray)
	c.tie()
	return &c
}

// Edge takes an edge that means something.
func (t *Track) Edge(at waveform.Second, w What, channel int) {
	e := Event{T: at, What: w, Channel: channel}
	switch w {
	case CrankActive:
		t.guesser.push(crankEdge{at, t.lastOther})
		return
	case CrankOther:
		t.lastOther = at
	case PulseBegins:
		t.pulse[channel] = at
		return
	case Sparks:
		e.Dwell = float64(at-t.pulse[channel]) * 1e3
		t.pulse[channel] = waveform.Second(math.NaN())
		if t.laterOfTrain(at, channel, e.Dwell) {
			return
		}
	}
	if len(t.waiting)-t.head >= mostWaiting {
		t.head += mostWaiting / 4
		t.Dropped += mostWaiting / 4
	}
	if t.head >= worked {
		t.waiting = t.waiting[:copy(t.waiting, t.waiting[t.head:])]
		t.head = 0
	}
	t.waiting = append(t.waiting, e)
	// a channel that rings is a little late
	for i := len(t.waiting) - 1; i > t.head && t.waiting[i].T < t.waiting[i-1].T; i-- {
		t.waiting[i], t.waiting[i-1] = t.waiting[i-1], t.waiting[i]
	}
}

// laterOfTrain says that a spark is not the first of its train. A train's pulses begin within its gap of one another.
func (t *Track) laterOfTrain(at waveform.Second, channel int, dwellMS float64) bool {
	s := t.l.Spark[channel]
	if s.Train.Gap == 0 {
		return false
	}
	began := at
	if s.Driver && dwellMS > 0 {
		began -= waveform.Second(dwellMS / 1e3)
	}
	later := began-t.train[channel] < s.Train.Gap
	t.train[channel] = began
	return later
}

// take accepts one decision about a crank edge.
func (t *Track) take(d decision) {
	if d.missing == extraPulse {
		t.Log.Add(ExtraPulse, d.t, t.l.Assigned.Crank)
		t.extra = min(t.extra+1, 100)
		return
	}
	t.Passes.add(d.t, int(d.vane), d.missing, t.extra)
	t.extra = 0
	if t.Head-t.First >= 3 {
		t.interval(t.Head - 3)
	}
}

// numbered says whether the vanes of this run are told apart, as far as they ever can be: by the cam, else by the
// mark, else not at all.
func (t *Track) numbered() bool {
	switch {
	case t.l.Cam.On:
		return t.Sync.On
	case t.l.Mark.On:
		return t.markTold
	}
	return true
}

// interval works through the interval that begins at pass i, now that crank edges stand around it.
func (t *Track) interval(i int64) {
	a, b := t.At(i), t.At(i+1)
	if t.gap.on {
		t.strays(a.T)
		t.judgeGap(speed(a, b))
	}
	if b.Missing > 0 {
		t.missing(a, b)
	}
	t.strays(a.T)
	to := t.head
	for to < len(t.waiting) && t.waiting[to].T < b.T {
		to++
	}
	events := t.waiting[t.head:to]
	if t.l.Cam.On {
		t.anchor.passed(t, i, events)
	} else if t.l.Mark.On && !t.markTold {
		t.numberByMark(i, events)
	}
	if a.Missing != 0 || a.Extra != 0 || b.Missing != 0 || b.Extra != 0 {
		t.wrong = holdOff
	}
	x := &t.lent
	x.I, x.A, x.B, x.Events = i, a, b, events
	x.Curve, x.Speed = t.curve(i), speed(a, b)
	x.Numbered, x.Early, x.Whole = t.numbered(), i-t.First < 2, b.Missing == 0 && b.Extra == 0
	if x.Whole && !x.Early && t.shortPulse(x) {
		t.wrong = holdOff
	}
	x.Trusted = t.wrong == 0
	t.to.Interval(x)
	t.wrong = max(0, t.wrong-1)
	t.head = to
}

// shortPulse notes a pulse of the crank pickup that is far shorter than its vane, or than the gap between two.
func (t *Track) shortPulse(x *Interval) bool {
	var other *Event
	for i := range x.Events {
		if x.Events[i].What == CrankOther {
			if other != nil {
				return false
			}
			other = &x.Events[i]
		}
	}
	want := t.w.OtherAfter(x.A.Vane)
	if other == nil || !(want > 0) || want >= x.Step() {
		return false
	}
	least := quantity.Crank(0.55)
	if x.Speed < 400 {
		least = 0.4 // compression bends the motion
	}
	switch at := x.Curve.At(other.T) - x.A.A; {
	case at < least*want:
		t.Log.Add(ShortPulse, x.A.T, t.l.Assigned.Crank)
	case x.Step()-at < least*(x.Step()-want):
		t.Log.Add(ShortPulse, other.T, t.l.Assigned.Crank)
	default:
		return false
	}
	return true
}

// numberByMark numbers the vanes by a mark in the interval that begins at pass i, where there is no cam.
func (t *Track) numberByMark(i int64, events []Event) {
	a, b := t.At(i), t.At(i+1)
	for _, e := range events {
		if e.What != MarkAtTop {
			continue
		}
		within := (b.A - a.A) * quantity.Crank((e.T-a.T)/(b.T-a.T))
		if best, off := t.fitting(a.Vane, within, t.l.Mark.At, motion.Turn); off < t.markWithin {
			t.renumber(best)
			t.markTold = true
			return
		}
	}
}

// fitting is by how many vanes the count would have to move so that an event so many degrees after vane k stands at
// the place, and how
// far off it would still be.
func (t *Track) fitting(k int, within, place, period quantity.Crank) (best int, off quantity.Crank) {
	off = quantity.Crank(math.Inf(1))
	for d := range t.w.N {
		if o := quantity.Abs(motion.Near(t.w.Pos[(k+d)%t.w.N]+within-place, period)); o < off-1e-9 {
			best, off = d, o
		}
	}
	return best, off
}

// renumber moves the count of vanes of the present run by d.
func (t *Track) renumber(d int) {
	if d == 0 {
		return
	}
	t.guesser.renumber(d)
	t.anchor.began += t.Passes.renumber(d)
	t.anchor.series.Reset()
	t.to.Renumbered()
}

// missing notes the vanes that did not come between a and b.
func (t *Track) missing(a, b *Pass) {
	k, angle := a.Vane, quantity.Crank(0)
	for m := range int(b.Missing) {
		k = t.w.Next(k)
		angle += t.w.Step[k]
		at := a.T + (b.T-a.T)*waveform.Second(angle/(b.A-a.A))
		if b.Missing < 3 {
			t.Log.Add(MissingPulse, at, t.l.Assigned.Crank)
		} else if m == 0 {
			t.Log.Add(Dropout, at, t.l.Assigned.Crank)
			t.loseSync(at, crankDropped)
		}
	}
}

const crankDropped = "the crank signal dropped out"

// strays drops what happened before at while no track ran.
func (t *Track) strays(at waveform.Second) {
	for ; t.head < len(t.waiting) && t.waiting[t.head].T < at; t.head++ {
		e := t.waiting[t.head]
		if t.gap.on && e.T > t.gap.from && e.What != CrankOther {
			t.gap.seen++
		}
		t.to.Stray(e)
	}
}

// endRun closes what counts from vane to vane.
func (t *Track) endRun() {
	t.Sync.On = false
	t.anchor.endRun(t)
	t.markTold = false
	t.to.RunEnds()
	t.First = t.Head
}

// End works through what is left; end is the end of the recording.
func (t *Track) End(end waveform.Second) {
	t.guesser.flush()
	if t.Head-t.First >= 2 {
		t.cut(end)
	} else if !t.gap.on {
		t.endRun()
	}
	t.strays(waveform.Second(math.Inf(1)))
	if g := &t.gap; g.on && g.before > 0 {
		if end-g.from < (mostMissing+2)*g.step(t.w.N) {
			g.on = false // it ended before a pulse could be missed
		} else {
			t.judgeGap(quantity.Speed(math.NaN()))
		}
	}
}
