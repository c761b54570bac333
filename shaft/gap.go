package shaft

import "math"

// gap is an interval too long to bridge.
type gap struct {
	on     bool
	t0, t1 float64
	before float64 // rpm; NaN: not known
	slope  float64 // change of ln speed over the last interval
	synced bool
	seen   int // edges of other channels in it
}

// gapAt ends the run of the track: the next crank edge came too late to be bridged.
func (tr *tracker) gapAt(t1 float64) {
	n := tr.head - tr.first
	g := gap{on: true, t1: t1, before: math.NaN()}
	if n > 0 {
		g.t0 = tr.knot(tr.head - 1).t
	}
	if n >= 2 {
		a, b := tr.knot(tr.head-2), tr.knot(tr.head-1)
		g.before = rpm(a, b)
		if n >= 3 {
			g.slope = math.Log(g.before / rpm(tr.knot(tr.head-3), a))
		}
		tr.interval(2)
	}
	if tr.gap.on { // nothing but lone edges since the gap before: one gap
		g.t0, g.before, g.slope, g.synced, g.seen = tr.gap.t0, tr.gap.before, tr.gap.slope, tr.gap.synced, tr.gap.seen
	}
	g.synced = g.synced || tr.sync.on
	tr.gap = g
	tr.endRun()
	tr.first = tr.head
}

// strays drops what happened before t while no track ran.
func (tr *tracker) strays(t float64) {
	from := tr.qHead
	for tr.qHead < len(tr.queue) && tr.queue[tr.qHead].t < t {
		e := &tr.queue[tr.qHead]
		if tr.gap.on && e.t > tr.gap.t0 && e.what != crankOther {
			tr.gap.seen++
		}
		tr.qHead++
	}
	if tr.qHead > from {
		tr.tell(note{what: noteStrays}, tr.queue[from:tr.qHead])
	}
}

// judgeGap tells a dropout from an engine that stopped, once the speed after it is known (NaN: the recording ended).
//
// An engine cannot stop between two vanes from speed n unless it slows faster than 3·n²/step rpm/s; 4000 is taken as the most there is.
// Other channels that go on tell a dropout too.
func (tr *tracker) judgeGap(after float64) {
	g := tr.gap
	tr.gap = gap{}
	if math.IsNaN(g.before) {
		return
	}
	step := cycle / float64(tr.w.n)
	falling := g.slope < -0.25
	drop := g.seen >= 4 || g.before > math.Sqrt(step*4000/3) && !falling
	if !drop && after > 0.8*g.before && after < 1.25*g.before && g.t1-g.t0 < 1.2 && !falling {
		drop = true
	}
	if !drop {
		if !math.IsNaN(after) {
			tr.stops++
		}
		return
	}
	at := g.t0 + step/(g.before*degPerRPM)
	tr.log.add(Dropout, at, tr.p.a.crank)
	if g.synced {
		tr.sync.lose(at, "the crank signal dropped out", true)
	}
}

// finish works through what is left; end is the end of the recording.
func (tr *tracker) finish(end float64) {
	tr.f.flush(tr)
	if tr.head-tr.first >= 2 {
		tr.gapAt(end)
	} else if !tr.gap.on {
		tr.endRun()
	}
	tr.strays(math.Inf(1))
	if g := &tr.gap; g.on && !math.IsNaN(g.before) {
		step := cycle / float64(tr.w.n)
		if end-g.t0 < (mostBridged+2)*step/(g.before*degPerRPM) {
			g.on = false
		} else {
			tr.judgeGap(math.NaN())
		}
	}
	tr.hand()
	if s := tr.aside; s != nil {
		tr.aside = nil
		s.close()
	}
	tr.log.join(tr.ledger.log)
}
