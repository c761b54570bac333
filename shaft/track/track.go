package track

import (
	"math"
	"slices"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/wheel"
	"phasewright/waveform"
)

// What says what an edge means to the track: which signal it is of, and which end of the pulse.
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

// Event is an edge of any channel, the active edges of the crank pickup apart: those become passes.
type Event struct {
	T       waveform.Second
	Dwell   float64 // of a spark, ms; NaN where its pulse did not begin
	What    What
	Channel int32
}

// Interval is the stretch from pass A to pass B, the next one, with the events in it.
type Interval struct {
	I        int64 // of pass A
	A, B     *Pass
	Curve    motion.Curve // through the passes around it
	Others   int          // other edges of the crank pickup in it
	Other    motion.Point // the last of them, by the curve
	Speed    quantity.Speed
	Numbered bool // it is known which vane A is, as far as this recording can ever tell
	Early    bool // fewer than two passes of this run came before A
	Whole    bool // no vane is missing before B and no extra pulse came in it
	Trusted  bool // nothing was wrong in it or in the holdOff intervals before
	Events   []Event
}

// Step is the angle from A to B.
func (x *Interval) Step() quantity.Crank { return x.B.A - x.A.A }

// Took is the time from A to B.
func (x *Interval) Took() waveform.Second { return x.B.T - x.A.T }

// Observer is told what the shaft did, as soon as it is certain.
type Observer interface {
	Interval(x *Interval) // in order of time; x and its events are only valid during the call
	Stray(e Event)        // an event while no run was going: before the first pass, or in a gap
	Renumbered()          // the vanes got other numbers: a count from vane to vane begins anew
	RunEnds()             // the run of passes ended in a gap: a count from vane to vane ends
}

const (
	// mostWaiting is how many events are held until the crank edges around them are certain. A sound recording holds a
	// few; only noise fills it.
	mostWaiting = 4096
	worked      = 64 // so many that were worked through are let go of together
	holdOff     = 3  // so many intervals after a missing or extra pulse are not timed from
)

// Track follows the shaft: Edge takes the recording's edges, the Observer is given the intervals.
type Track struct {
	Passes
	Log  *Log
	Sync Sync
	// Dropped counts events beyond mostWaiting between two crank edges. Stops counts how often the shaft stood still
	// between turning.
	Dropped int64
	Stops   int64

	l          *wheel.Layout
	to         Observer
	hypotheses hypotheses
	lastOther  waveform.Second
	pulse      []waveform.Second // by channel: when the spark pulse that is still on began; NaN: none is on
	train      []waveform.Second // by channel: start of the last spark pulse, to tell the later ones of a train
	waiting    []Event           // from head on
	head       int
	lent       Interval // the one given to the observer, used again: a new one each time is most of what is allocated
	extra      int8
	gap        gap
	anchor     anchor
	markTold   bool // there is no cam, and the mark has numbered the vanes of this run
	markWithin quantity.Crank
	wrong      int // intervals that are still not trusted; counts down from holdOff
}

// New makes a Track for the learnt layout l, whose Wheel must not be nil. Its log lists at most mostListed anomalies
// and counts all.
func New(l *wheel.Layout, to Observer, mostListed int) *Track {
	t := &Track{l: l, to: to, Passes: newPasses(l.Wheel), Log: NewLog(mostListed), hypotheses: newHypotheses(l.Wheel),
		lastOther:  waveform.Second(math.Inf(-1)),
		markWithin: MarkWithin(l.N)}
	for range l.Profiles {
		t.pulse = append(t.pulse, waveform.Second(math.NaN()))
		t.train = append(t.train, waveform.Second(math.Inf(-1)))
	}
	t.anchor = newAnchor(t)
	return t
}

// MarkWithin is how far from its learnt place a pulse of the mark channel may stand and still be the mark: 12 % of the
// firing interval on a wheel of n vanes, at least 20 and at most 80 crank degrees (assumed).
func MarkWithin(n int) quantity.Crank {
	return max(20, min(80, 0.12*motion.Cycle/quantity.Crank(n)))
}

// Clone is a copy that shares nothing with t and reports to another observer.
func (t *Track) Clone(to Observer) *Track {
	c := *t
	c.to, c.Passes, c.Log = to, t.Passes.clone(), t.Log.Clone()
	c.Sync.Losses = slices.Clone(t.Sync.Losses)
	c.hypotheses.live = slices.Clone(t.hypotheses.live)
	c.pulse, c.train, c.waiting = slices.Clone(t.pulse), slices.Clone(t.train), slices.Clone(t.waiting)
	c.anchor.stray = slices.Clone(t.anchor.stray)
	c.anchor.series.SetLog(c.Log)
	return &c
}

// Edge takes an edge of any channel, in order of time; w says what it means.
func (t *Track) Edge(at waveform.Second, w What, channel int) {
	dwell := 0.0
	switch w {
	case CrankActive:
		t.hypotheses.push(t, crankEdge{at, t.lastOther})
		return
	case CrankOther:
		t.lastOther = at
	case PulseBegins:
		t.pulse[channel] = at
		return
	case Sparks:
		dwell = float64(at-t.pulse[channel]) * 1e3
		t.pulse[channel] = waveform.Second(math.NaN())
		if t.laterOfTrain(at, channel, dwell) {
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
	t.waiting = append(t.waiting, Event{T: at, Dwell: dwell, What: w, Channel: int32(channel)})
	// events of a channel that rings are certain a little later than others: put this one in its place
	for i := len(t.waiting) - 1; i > t.head && t.waiting[i].T < t.waiting[i-1].T; i-- {
		t.waiting[i], t.waiting[i-1] = t.waiting[i-1], t.waiting[i]
	}
}

// laterOfTrain says that a spark at the given time is a later one of a train, of which only the first is timed: its
// pulse began less than the train's gap after the pulse before it. A driver's pulse begins one dwell before the spark,
// a clamp's with the spark.
func (t *Track) laterOfTrain(at waveform.Second, channel int, dwellMS float64) bool {
	s := &t.l.Spark[channel]
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

// take records what has become certain of a crank edge: an extra pulse, or a pass. The interval two passes back then
// has a pass on either side of it and is worked through.
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

// numbered says whether the vanes of this run have their numbers: from the cam, else from the mark. With neither there
// is nothing to wait for.
func (t *Track) numbered() bool {
	switch {
	case t.l.Cam.On:
		return t.Sync.On
	case t.l.Mark.On:
		return t.markTold
	}
	return true
}

// interval works through the interval from pass i to i+1, now that the passes on either side of it are known.
func (t *Track) interval(i int64) {
	a, b := t.At(i), t.At(i+1)
	if t.gap.on {
		t.strays(a.T)
		t.judgeGap(b.Speed)
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
		t.anchor.number(t, i, events)
	} else if t.l.Mark.On && !t.markTold {
		t.numberByMark(i, events)
	}
	if a.Missing != 0 || a.Extra != 0 || b.Missing != 0 || b.Extra != 0 {
		t.wrong = holdOff
	}
	x := &t.lent
	x.I, x.A, x.B, x.Speed, x.Events = i, a, b, b.Speed, events
	t.curve(i, &x.Curve)
	if t.Sync.On {
		t.anchor.watch(t, x)
	}
	x.Others = 0
	for q := range events {
		if e := &events[q]; e.What == CrankOther {
			x.Others, x.Other = x.Others+1, motion.Point{T: e.T, A: x.Curve.At(e.T)}
		}
	}
	x.Numbered, x.Early, x.Whole = t.numbered(), i-t.First < 2, b.Missing == 0 && b.Extra == 0
	if x.Whole && !x.Early && t.shortPulse(x) {
		t.wrong = holdOff
	}
	x.Trusted = t.wrong == 0
	t.to.Interval(x)
	t.wrong = max(0, t.wrong-1)
	t.head = to
}

// shortPulse logs a pulse of the crank pickup that is far shorter than its vane, or a gap far shorter than that between
// two vanes: below 0.55 of the learnt width in degrees, below 0.4 at less than 400 rpm (assumed).
func (t *Track) shortPulse(x *Interval) bool {
	want := t.w.OtherAfter(x.A.Vane)
	if x.Others != 1 || !(want > 0) || want >= x.Step() {
		return false
	}
	least := quantity.Crank(0.55)
	if x.Speed < 400 {
		least = 0.4 // compression bends the motion: widths in degrees are less exact
	}
	switch at := x.Other.A - x.A.A; {
	case at < least*want:
		t.Log.Add(ShortPulse, x.A.T, t.l.Assigned.Crank)
	case x.Step()-at < least*(x.Step()-want):
		t.Log.Add(ShortPulse, x.Other.T, t.l.Assigned.Crank)
	default:
		return false
	}
	return true
}

// numberByMark gives the vanes their numbers where there is no cam: a mark in the interval from pass i shows which vane
// came before it. Two vanes one turn apart look alike to a mark.
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

// fitting compares an event that came the angle within after vane k with the place where it belongs on the period (720°
// for the cam, 360° for the mark). best is by how many vanes the count must move so that the event comes nearest to its
// place, off how many degrees it then still stands from it.
func (t *Track) fitting(k int, within, place, period quantity.Crank) (best int, off quantity.Crank) {
	off = quantity.Crank(math.Inf(1))
	for d := range t.w.N {
		if o := quantity.Abs(motion.Near(t.w.Pos[(k+d)%t.w.N]+within-place, period)); o < off-1e-9 {
			best, off = d, o
		}
	}
	return best, off
}

// renumber adds d to the number of every vane of the present run.
func (t *Track) renumber(d int) {
	if d == 0 {
		return
	}
	t.hypotheses.renumber(d)
	t.anchor.began += t.Passes.renumber(d)
	t.anchor.series.Reset()
	t.to.Renumbered()
}

// missing logs the vanes that did not come between passes a and b: one by one up to two, as one dropout and a loss of
// sync from three on.
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

// strays gives the observer the waiting events before the given time, which lie in no interval.
func (t *Track) strays(at waveform.Second) {
	for ; t.head < len(t.waiting) && t.waiting[t.head].T < at; t.head++ {
		e := t.waiting[t.head]
		if t.gap.on && e.T > t.gap.from && e.What != CrankOther {
			t.gap.seen++
		}
		t.to.Stray(e)
	}
}

// endRun ends the run of passes: the next pass begins a new one, whose vanes have no numbers yet.
func (t *Track) endRun() {
	t.Sync.On = false
	t.anchor.endRun(t)
	t.markTold = false
	t.to.RunEnds()
	t.First = t.Head
}

// End works through what is still waiting; end is when the recording ends.
func (t *Track) End(end waveform.Second) {
	t.hypotheses.flush(t)
	if t.Head-t.First >= 2 {
		t.cut(end)
	} else if !t.gap.on {
		t.endRun()
	}
	t.strays(waveform.Second(math.Inf(1)))
	if g := &t.gap; g.on && g.before > 0 {
		if end-g.from < (mostMissing+2)*g.step(t.w.N) {
			g.on = false // the recording ended before a pulse was overdue
		} else {
			t.judgeGap(quantity.Speed(math.NaN()))
		}
	}
}
