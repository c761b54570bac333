package capture

import (
	"math"

	"phasewright/signal"
)

// knot is an active crank edge that has been accepted as a vane.
type knot struct {
	t, start float64
	a        float64 // crank degrees on the learnt wheel, counting on through all cycles; jumps where the track begins anew
	k        int32
	miss     int8 // vanes missing before it
	extra    int8 // extra pulses before it
}

// what an event in the queue is.
type what uint8

const (
	crankOther what = iota
	camFall
	camRise
	sparkOn  // the other edge of a spark pulse
	sparkNow // the spark
	markTop
)

type event struct {
	t    float64
	what what
	ch   int32
}

// mostQueued bounds the events waiting for the crank edges around them. A healthy recording holds a few; only noise fills it.
const mostQueued = 4096

// tracker follows the shaft through the whole recording.
type tracker struct {
	p *plan
	w *wheel
	s *setup
	f follower

	ring  []knot
	mask  int64
	head  int64 // knots so far
	first int64 // first knot of this run of the track
	extra int8
	queue []event
	qHead int
	lost  int64 // events dropped from a full queue

	lastOther float64 // the crank pickup's last other edge
	gap       gap
	stops     int64
	anchored  bool // without a cam: the vanes of this run were numbered by the mark

	sample  float64 // seconds between samples; 0: edges are timed as they came
	log     *log
	sync    syncState
	cam     camTrack
	mark    beacon
	spark   sparkTrack
	speed   speedTrack
	shape   shapeTrack
	timing  timingTrack
	camEdge [2]camStats
	marks   int64
	markLag gathered
	at      stretchOf
	stray   int64 // sparks outside any interval
	upset   int   // intervals since something was wrong that still must not be timed from
}

func newTracker(p *plan, l *log) *tracker {
	size := int64(64)
	for size < int64(5*p.w.n+16) {
		size *= 2
	}
	t := &tracker{p: p, w: p.w, s: p.s, f: newFollower(p.w), ring: make([]knot, size), mask: size - 1, log: l,
		queue: make([]event, 0, 2*mostQueued), lastOther: math.Inf(-1)}
	t.speed.init()
	t.shape.init(t.w.n)
	t.timing.init(t.w.n)
	t.spark.init(t)
	t.cam.init(t)
	t.mark = beacon{period: turn, at: p.mark.at, tol: math.Max(20, math.Min(80, 0.12*cycle/float64(t.w.n)))}
	return t
}

func (tr *tracker) knot(i int64) *knot { return &tr.ring[i&tr.mask] }

// crank takes an edge of the crank pickup.
func (tr *tracker) crank(e signal.Edge) {
	t := float64(e.At)
	if (e.Kind == signal.Rise) == tr.p.activeRising {
		tr.f.push(crankEdge{t, tr.lastOther}, tr)
		return
	}
	tr.lastOther = t
	tr.put(event{t, crankOther, e.Channel})
}

// put queues an event until the crank edges around it are known.
func (tr *tracker) put(e event) {
	if len(tr.queue)-tr.qHead >= mostQueued {
		tr.qHead += mostQueued / 4
		tr.lost += mostQueued / 4
	}
	if tr.qHead >= mostQueued {
		tr.queue = tr.queue[:copy(tr.queue, tr.queue[tr.qHead:])]
		tr.qHead = 0
	}
	tr.queue = append(tr.queue, e)
}

// take accepts one decision of the follower.
func (tr *tracker) take(a act) {
	if a.miss < 0 {
		tr.log.add(ExtraPulse, a.t, tr.p.a.crank)
		if tr.extra < 100 {
			tr.extra++
		}
		return
	}
	k := knot{t: a.t, start: a.start, k: a.k, miss: a.miss, extra: tr.extra}
	tr.extra = 0
	if tr.head == tr.first { // the track begins: the next cycle after all that was
		base := 0.0
		if tr.head > 0 {
			base = (math.Floor(tr.knot(tr.head-1).a/cycle) + 2) * cycle
		}
		k.a = base + tr.w.pos[a.k]
	} else {
		last := tr.knot(tr.head - 1)
		k.a = last.a
		for i := int(last.k); i != int(a.k) || k.a == last.a; {
			i = int(tr.w.next(int32(i)))
			k.a += tr.w.step[i]
		}
		if tr.w.n == 1 {
			k.a += float64(a.miss) * cycle
		}
	}
	*tr.knot(tr.head) = k
	tr.head++
	if tr.head-tr.first >= 3 {
		tr.interval(tr.head - 3)
	}
}

func rpm(a, b *knot) float64 { return (b.a - a.a) / (b.t - a.t) / degPerRPM }

// endRun closes what counts from vane to vane.
func (tr *tracker) endRun() {
	tr.sync.on = false
	tr.cam.endRun(tr)
	tr.mark.end(tr, tr.p.a.mark)
	tr.spark.endRun(tr)
	tr.shape.restart()
	tr.anchored = false
}

// numbered says whether the vanes of this run are told apart, as far as they ever can be: by the cam, else by the mark, else not at all.
func (tr *tracker) numbered() bool {
	switch {
	case tr.p.cam.on:
		return tr.sync.on
	case tr.p.mark.on:
		return tr.anchored
	}
	return true
}

// hangMark renumbers the vanes by a mark in the interval that begins at knot i, where there is no cam.
func (tr *tracker) hangMark(i int64) {
	a, b := tr.knot(i), tr.knot(i+1)
	for q := tr.qHead; q < len(tr.queue) && tr.queue[q].t < b.t; q++ {
		e := tr.queue[q]
		if e.what != markTop || e.t < a.t {
			continue
		}
		within := (b.a - a.a) * (e.t - a.t) / (b.t - a.t)
		best, least := 0, math.Inf(1)
		for d := range tr.w.n {
			if off := math.Abs(near(tr.w.pos[(int(a.k)+d)%tr.w.n]+within-tr.p.mark.at, turn)); off < least-1e-9 {
				best, least = d, off
			}
		}
		if least < tr.mark.tol {
			if best != 0 {
				tr.renumber(best)
			}
			tr.anchored = true
			return
		}
	}
}

// interval works through the interval that begins at knot i: everything that happened in it now has crank edges around it.
func (tr *tracker) interval(i int64) {
	a, b := tr.knot(i), tr.knot(i+1)
	if tr.gap.on {
		tr.strays(a.t)
		tr.judgeGap(rpm(a, b))
	}
	tr.missing(a, b)
	if tr.p.cam.on {
		if b.miss < 3 {
			tr.cam.look(tr, i)
		} else {
			tr.cam.stray = tr.cam.stray[:0]
		}
	} else if tr.p.mark.on && !tr.anchored {
		tr.hangMark(i)
	}
	var t, d [4]float64
	t[0], d[0], t[1], d[1] = a.t, a.a, b.t, b.a
	m := 2
	if i > tr.first {
		p := tr.knot(i - 1)
		t[m], d[m] = p.t, p.a
		m++
	}
	if i+2 < tr.head {
		n := tr.knot(i + 2)
		t[m], d[m] = n.t, n.a
		m++
	}
	c := newCurve(&t, &d, m)
	n := rpm(a, b)
	tr.speed.add(a.t, b.t-a.t, b.a-a.a, n)
	clear := a.miss == 0 && a.extra == 0 && b.miss == 0 && b.extra == 0
	if !clear {
		tr.upset = 3
		tr.shape.restart()
	}
	x := &tr.at // one for all: making it anew costs 15 ns
	x.i, x.a, x.b, x.c, x.n, x.early, x.whole = i, a, b, c, n, i-tr.first < 2, b.miss == 0 && b.extra == 0
	x.others, x.fired, x.markT = 0, 0, 0
	for tr.qHead < len(tr.queue) && tr.queue[tr.qHead].t < b.t {
		e := tr.queue[tr.qHead]
		tr.qHead++
		if e.t < a.t {
			tr.astray(e)
			continue
		}
		tr.happen(x, e)
	}
	tr.closeInterval(x)
	if tr.upset > 0 {
		tr.upset--
	}
	if i&3 == 0 && n >= tr.s.fitFrom {
		tr.shape.looseness(tr, i)
	}
	if a.k == 0 {
		tr.shape.cycle(tr, i)
		tr.timing.cycle()
	}
}

// stretchOf is the interval being worked on.
type stretchOf struct {
	i            int64
	a, b         *knot
	c            curve
	n            float64 // mean rpm
	early, whole bool
	others       int
	other        float64 // degrees after a of the pickup's other edge
	otherT       float64
	sparks       [4]firing
	fired        int
	markT, markA float64 // a mark at low speed, and where it truly stands; 0: none
}

type firing struct {
	t, dwell float64
	ch       int32
}

func (tr *tracker) happen(x *stretchOf, e event) {
	switch e.what {
	case crankOther:
		x.others++
		x.other, x.otherT = x.c.at(e.t)-x.a.a, e.t
	case camFall, camRise:
		tr.cam.edge(tr, x, e)
	case sparkOn:
		tr.spark.begun(e)
	case sparkNow:
		f := tr.spark.fire(e)
		if x.fired < len(x.sparks) {
			x.sparks[x.fired] = f
		}
		x.fired++
	case markTop:
		tr.markEdge(x, e)
	}
}

// closeInterval judges what the interval held.
func (tr *tracker) closeInterval(x *stretchOf) {
	short := false
	if x.whole && x.others == 1 && !x.early {
		short = tr.pulses(x)
	}
	if short {
		tr.upset = 3
		tr.shape.restart()
	}
	if x.markT != 0 {
		tr.timing.shown(tr, x)
	}
	tr.spark.closeInterval(tr, x)
}

// missing notes the vanes that did not come between a and b.
func (tr *tracker) missing(a, b *knot) {
	if b.miss == 0 {
		return
	}
	k, angle := a.k, 0.0
	total := b.a - a.a
	for m := range int(b.miss) {
		k = tr.w.next(k)
		angle += tr.w.step[k]
		at := a.t + (b.t-a.t)*angle/total
		if b.miss >= 3 {
			if m == 0 {
				tr.log.add(Dropout, at, tr.p.a.crank)
				tr.sync.lose(at, "the crank signal dropped out", tr.p.cam.on)
			}
			continue
		}
		tr.log.add(MissingPulse, at, tr.p.a.crank)
	}
}

// pulses checks the pulse widths of an interval and learns from them; it reports a pulse far too short.
func (tr *tracker) pulses(x *stretchOf) (short bool) {
	step := x.b.a - x.a.a
	want := tr.w.other[x.a.k] - tr.w.pos[x.a.k]
	if math.IsNaN(want) || want <= 0 || want >= step {
		tr.shape.width(x.a.k, x.n, x.other)
		return false
	}
	least := 0.55
	if x.n < 400 {
		least = 0.4
	}
	switch {
	case x.other < least*want:
		tr.log.add(ShortPulse, x.a.t, tr.p.a.crank)
		return true
	case step-x.other < least*(step-want):
		tr.log.add(ShortPulse, x.otherT, tr.p.a.crank)
		return true
	}
	tr.shape.width(x.a.k, x.n, x.other)
	return false
}

// markEdge takes a mark.
func (tr *tracker) markEdge(x *stretchOf, e event) {
	if !tr.p.mark.on {
		return
	}
	at := x.c.at(e.t)
	if !tr.numbered() {
		return
	}
	d, fits := tr.mark.meet(tr, at, e.t, int(e.ch))
	if !fits {
		return
	}
	tr.marks++
	if x.whole && !x.early && tr.upset == 0 && (x.n < tr.s.fitFrom || x.c.jerk(x.b.t-x.a.t) < mostJerk) {
		tr.timing.mark(tr, x, e.t, d)
	}
}
