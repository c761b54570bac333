package shaft

import "math"

// mostQueued bounds the events waiting for the crank edges around them. A healthy recording holds a few; only noise fills it.
const mostQueued = 4096

// tracker follows the shaft through the whole recording: it decides which edges are vanes, which vane each is and where the cycle begins. What follows from
// that is gathered in the ledger, which is told in notes.
type tracker struct {
	*ledger
	trail
	p *plan
	s *setup
	f follower

	extra int8
	queue []event
	qHead int
	lost  int64 // events dropped from a full queue

	lastOther float64   // the crank pickup's last other edge
	pulse     []float64 // by channel: when the present spark pulse began; NaN: none
	gap       gap
	stops     int64
	anchored  bool // without a cam: the vanes of this run were numbered by the mark

	sample float64 // seconds between samples; 0: edges are timed as they came
	log    *log
	sync   syncState
	cam    camTrack

	noted *notes // not handed on yet
	aside *aside // nil: the ledger listens in place
}

func newTracker(p *plan, l *log) *tracker {
	t := &tracker{p: p, s: p.s, f: newFollower(p.w), trail: newTrail(p.w), log: l, queue: make([]event, 0, 2*mostQueued), lastOther: math.Inf(-1), noted: newNotes()}
	for range p.ps {
		t.pulse = append(t.pulse, math.NaN())
	}
	t.cam.init(t)
	t.ledger = newLedger(p, l.most, t.cam.tol)
	return t
}

func newNotes() *notes {
	return &notes{list: make([]note, 0, mostNotes), events: make([]event, 0, 4*mostNotes)}
}

// tell puts a note down with its events, which are copied.
func (tr *tracker) tell(n note, events []event) {
	n.events = int32(len(events))
	tr.noted.list = append(tr.noted.list, n)
	tr.noted.events = append(tr.noted.events, events...)
	if len(tr.noted.list) >= mostNotes {
		tr.hand()
	}
}

// hand gives the notes to the ledger.
func (tr *tracker) hand() {
	if tr.aside != nil {
		tr.noted = tr.aside.swap(tr.noted)
	} else {
		tr.ledger.take(tr.noted)
	}
	tr.noted.list, tr.noted.events = tr.noted.list[:0], tr.noted.events[:0]
}

// edge takes an edge that counts.
func (tr *tracker) edge(t float64, w what, ch int32) {
	e := event{t: t, what: w, ch: ch}
	switch w {
	case crankActive:
		tr.f.push(crankEdge{t, tr.lastOther}, tr)
		return
	case crankOther:
		tr.lastOther = t
	case sparkOn:
		tr.pulse[ch] = t
		return
	case sparkNow:
		e.dwell = (t - tr.pulse[ch]) * 1e3
		tr.pulse[ch] = math.NaN()
	}
	if len(tr.queue) >= mostQueued {
		tr.makeRoom()
	}
	tr.queue = append(tr.queue, e)
}

// makeRoom closes up the queue of events that wait for the crank edges around them.
func (tr *tracker) makeRoom() {
	if len(tr.queue)-tr.qHead >= mostQueued {
		tr.qHead += mostQueued / 4
		tr.lost += mostQueued / 4
	}
	tr.queue = tr.queue[:copy(tr.queue, tr.queue[tr.qHead:])]
	tr.qHead = 0
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
	k := tr.knot(tr.head)
	k.t, k.k, k.miss, k.extra = a.t, a.k, a.miss, tr.extra
	tr.extra = 0
	if tr.head == tr.first { // the track begins: the next cycle after all that was
		tr.base = 0
		if tr.head > 0 {
			tr.base = (math.Floor(tr.knot(tr.head-1).a/cycle) + 2) * cycle
		}
		k.a = tr.base + tr.w.pos[a.k]
	} else {
		k.a = tr.after(tr.knot(tr.head-1).k, a.k, a.miss)
	}
	tr.head++
	if len(tr.noted.list) == cap(tr.noted.list) {
		tr.hand()
	}
	at := len(tr.noted.list)
	tr.noted.list = tr.noted.list[:at+1]
	n := &tr.noted.list[at]
	n.t, n.a, n.k, n.miss, n.extra, n.what, n.numbered, n.events = k.t, k.a, k.k, k.miss, k.extra, noteKnot, false, 0
	if tr.head-tr.first >= 3 {
		tr.interval(3)
	}
}

// endRun closes what counts from vane to vane.
func (tr *tracker) endRun() {
	tr.sync.on = false
	tr.cam.endRun(tr)
	tr.anchored = false
	tr.tell(note{what: noteEnd}, nil)
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
func (tr *tracker) hangMark(i int64, events []event) {
	a, b := tr.knot(i), tr.knot(i+1)
	for _, e := range events {
		if e.what != markTop {
			continue
		}
		within := (b.a - a.a) * (e.t - a.t) / (b.t - a.t)
		best, least := 0, math.Inf(1)
		for d := range tr.w.n {
			if off := math.Abs(near(tr.w.pos[(int(a.k)+d)%tr.w.n]+within-tr.p.mark.at, turn)); off < least-1e-9 {
				best, least = d, off
			}
		}
		if least < tr.ledger.mark.tol {
			if best != 0 {
				tr.renumber(best)
			}
			tr.anchored = true
			return
		}
	}
}

// interval decides what the interval that begins so many knots back tells of the cycle, now that crank edges stand around it, and notes it with its events.
func (tr *tracker) interval(back int32) {
	i := tr.head - int64(back)
	a, b := tr.knot(i), tr.knot(i+1)
	if tr.gap.on {
		tr.strays(a.t)
		tr.judgeGap(rpm(a, b))
	}
	if b.miss != 0 {
		tr.missing(a, b)
	}
	if tr.qHead < len(tr.queue) && tr.queue[tr.qHead].t < a.t {
		tr.strays(a.t)
	}
	to, seen := tr.qHead, uint(0)
	for to < len(tr.queue) && tr.queue[to].t < b.t {
		seen |= 1 << tr.queue[to].what
		to++
	}
	events := tr.queue[tr.qHead:to]
	tr.qHead = to
	if tr.p.cam.on {
		tr.cam.passed(tr, i, events, seen>>tr.cam.ref&1 != 0)
	} else if tr.p.mark.on && !tr.anchored && seen>>markTop&1 != 0 {
		tr.hangMark(i, events)
	}
	if l := tr.noted.list; back == 3 && len(l) > 0 && l[len(l)-1].what == noteKnot { // the usual case: knot and interval in one note
		n := &l[len(l)-1]
		n.what, n.numbered, n.events = notePassed, tr.numbered(), int32(len(events))
		tr.noted.events = append(tr.noted.events, events...)
		return
	}
	tr.tell(note{what: noteInterval, k: back, numbered: tr.numbered()}, events)
}

// missing notes the vanes that did not come between a and b.
func (tr *tracker) missing(a, b *knot) {
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
