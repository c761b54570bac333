package shaft

import "math"

// what an event in the queue is.
type what uint8

const (
	nothing what = iota
	crankActive
	crankOther
	camFall
	camRise
	sparkOn  // the other edge of a spark pulse
	sparkNow // the spark
	markTop
)

// event is an edge of any channel but the active ones of the crank.
type event struct {
	t     float64
	dwell float64 // of a spark, ms; NaN where its pulse did not begin
	what  what
	ch    int32
}

// note is one thing that the tracker has found out, followed by so many events.
type note struct {
	t, a        float64 // of a knot
	k           int32   // of a knot; how many knots back an interval begins; by how much the vanes of this run are renumbered
	miss, extra int8
	what        noteWhat
	numbered    bool // of an interval: the vanes are told apart, as far as they ever can be
	events      int32
}

type noteWhat uint8

const (
	noteKnot     noteWhat = iota // the next knot
	notePassed                   // the next knot, and the interval that begins two knots before it is worked through
	noteInterval                 // an interval by itself
	noteStrays                   // events while no track ran
	noteTurn                     // the vanes are renumbered
	noteEnd                      // the run of the track is over
)

// notes is a batch on its way from the tracker to the ledger.
type notes struct {
	list   []note
	events []event
}

const mostNotes = 2048 // 64 KiB of notes and about twice that of events: they stay in the second-level cache on their way

// ledger gathers what the followed shaft showed. It only listens: nothing that it finds changes what the tracker decides, so the two may run side by side.
type ledger struct {
	trail
	p *plan
	s *setup

	log    *log
	cams   [2]camStats // falling, rising
	camTol float64
	// from the crank pickup's other edges to the place of each cam edge
	fromOther [2][]float64
	mark      beacon
	marks     int64
	spark     sparkTrack
	speed     speedTrack
	shape     shapeTrack
	timing    timingTrack
	shown     shownTrack
	at        stretchOf
	stray     int64 // sparks outside any interval
	upset     int   // intervals since something was wrong that still must not be timed from
}

func newLedger(p *plan, most int, camTol float64) *ledger {
	y := &ledger{p: p, s: p.s, trail: newTrail(p.w), log: newLog(most), camTol: camTol, fromOther: p.distances()}
	y.speed.init()
	y.shape.init(y.w.n)
	y.timing.init(y.w.n)
	y.spark.init(y)
	y.shown.vane = make([]shownVane, y.w.n)
	for i := range y.cams {
		y.cams[i].init()
	}
	y.mark = beacon{period: turn, at: p.mark.at, tol: math.Max(20, math.Min(80, 0.12*cycle/float64(p.w.n))), ch: p.a.mark, log: y.log}
	return y
}

// take works through a batch.
func (y *ledger) take(b *notes) {
	from := 0
	for i := range b.list {
		n := &b.list[i]
		to := from + int(n.events)
		events := b.events[from:to]
		from = to
		switch n.what {
		case noteKnot, notePassed:
			k := y.knot(y.head) // differ does the rest of it
			k.t, k.a, k.k, k.miss, k.extra = n.t, n.a, n.k, n.miss, n.extra
			y.differ(y.head)
			if y.head++; n.what == notePassed {
				y.interval(y.head-3, n.numbered, events)
			}
		case noteInterval:
			y.interval(y.head-int64(n.k), n.numbered, events)
		case noteStrays:
			y.astray(events)
		case noteTurn:
			y.turn(int(n.k))
		case noteEnd:
			y.mark.end(&y.trail)
			y.spark.endRun(y)
			y.shape.restart()
			y.first = y.head
		}
	}
}

func (y *ledger) turn(d int) {
	y.renumber(d)
	for i := max(y.first, y.head-int64(len(y.ring))); i < y.head; i++ {
		y.differ(i)
	}
	y.mark.reset()
	y.spark.restart()
	y.shape.restart()
}

func (y *ledger) astray(events []event) {
	for _, e := range events {
		if e.what == sparkNow {
			y.spark.fire(e.dwell)
			y.stray++
		}
	}
}

// stretchOf is the interval being worked on.
type stretchOf struct {
	i            int64
	a, b         *knot
	c            curve
	n            float64 // mean rpm
	numbered     bool
	early, whole bool
	others       int
	other        float64 // degrees after a of the pickup's other edge
	otherT       float64
	sparks       [4]event
	fired        int
	markT, markA float64 // a mark at low speed, and where it truly stands; 0: none
}

// interval works through the interval that begins at knot i: everything that happened in it now has crank edges around it.
func (y *ledger) interval(i int64, numbered bool, events []event) {
	a, b := y.knot(i), y.knot(i+1)
	x := &y.at // one for all: making it anew costs 15 ns
	y.between(&x.c, i)
	n := b.v * (1.0 / degPerRPM)
	if a.miss|a.extra|b.miss|b.extra != 0 {
		y.upset = 3
		y.shape.restart()
	}
	y.speed.add(a.t, b.t-a.t, b.a-a.a, n, y.upset > 0, y.standsOut(i))
	x.i, x.a, x.b, x.n, x.early, x.whole, x.numbered = i, a, b, n, i-y.first < 2, b.miss|b.extra == 0, numbered
	x.others, x.fired, x.markT = 0, 0, 0
	for q := range events {
		y.happen(x, &events[q])
	}
	y.closeInterval(x)
	if y.upset > 0 {
		y.upset--
	}
	if a.k == 0 {
		y.shown.cycle()
		y.shape.cycle(y, i, numbered)
		y.timing.cycle()
	}
}

// standsOut says that the interval at knot i is more than twice as quick as those beside it, or as slow: that is a pulse in a wrong place, no shaft.
func (y *ledger) standsOut(i int64) bool {
	if i <= y.first || i+2 >= y.head {
		return false
	}
	v, p, n := y.knot(i+1).v, y.knot(i).v, y.knot(i+2).v
	return v > 2*p && v > 2*n || 2*v < p && 2*v < n
}

func (y *ledger) happen(x *stretchOf, e *event) {
	switch e.what {
	case crankOther:
		x.others++
		x.other, x.otherT = x.c.at(e.t)-x.a.a, e.t
	case camFall, camRise:
		y.camEdge(x, e)
	case sparkNow:
		y.spark.fire(e.dwell)
		if x.fired < len(x.sparks) {
			x.sparks[x.fired] = *e
		}
		x.fired++
	case markTop:
		y.markEdge(x, e.t)
	}
}

// closeInterval judges what the interval held.
func (y *ledger) closeInterval(x *stretchOf) {
	if x.whole && x.others == 1 && !x.early && y.pulses(x) {
		y.upset = 3
		y.shape.restart()
	}
	if x.markT != 0 {
		y.timing.shown(y, x)
	}
	fourth, whole := 0.0, false
	if x.n >= y.s.fitFrom && y.shown.looks() {
		if fourth, whole = y.fourth(x.i); whole {
			y.looseness(x.i, fourth)
		}
	}
	y.spark.closeInterval(y, x, fourth, whole)
}

// pulses checks the pulse widths of an interval and learns from them; it reports a pulse far too short.
func (y *ledger) pulses(x *stretchOf) (short bool) {
	step := x.b.a - x.a.a
	want := y.w.other[x.a.k] - y.w.pos[x.a.k]
	if math.IsNaN(want) || want <= 0 || want >= step {
		y.shape.width(x.a.k, x.n, x.other)
		return false
	}
	least := 0.55
	if x.n < 400 {
		least = 0.4
	}
	switch {
	case x.other < least*want:
		y.log.add(ShortPulse, x.a.t, y.p.a.crank)
		return true
	case step-x.other < least*(step-want):
		y.log.add(ShortPulse, x.otherT, y.p.a.crank)
		return true
	}
	y.shape.width(x.a.k, x.n, x.other)
	return false
}

// markEdge takes a mark.
func (y *ledger) markEdge(x *stretchOf, t float64) {
	if !y.p.mark.on {
		return
	}
	if !x.numbered { // it was there, wherever that is: none is missing up to the next
		y.mark.reset()
		return
	}
	d, fits := y.mark.meet(&y.trail, x.c.at(t), t)
	if !fits {
		return
	}
	y.marks++
	if x.whole && !x.early && y.upset == 0 && (x.n < y.s.fitFrom || x.c.jerk(x.b.t-x.a.t) < mostJerk) {
		y.timing.mark(y, x, t, d)
	}
}
