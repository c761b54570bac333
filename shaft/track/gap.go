package track

import (
	"math"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/waveform"
)

// gap is a stretch without crank edges that is too long to say how many vanes passed in it.
type gap struct {
	on       bool
	from, to waveform.Second
	before   quantity.Speed // speed before it; 0: not known
	slope    float64        // change of ln(speed) over the last interval before it
	synced   bool
	seen     int // events of the other signals in it
}

// step is how long the shaft took from one vane to the next before the gap, on a wheel of n even vanes.
func (g *gap) step(n int) waveform.Second {
	return waveform.Second(motion.Cycle / float64(n) / float64(motion.Angle(g.before, 1)))
}

// cut ends the run of passes: the next crank edge, at the given time, comes too late to say how many vanes lie between.
func (t *Track) cut(at waveform.Second) {
	n := t.Head - t.First
	g := gap{on: true, to: at}
	if n > 0 {
		g.from = t.At(t.Head - 1).T
	}
	if n >= 2 {
		a, b := t.At(t.Head-2), t.At(t.Head-1)
		g.before = b.Speed
		if n >= 3 {
			g.slope = math.Log(float64(g.before / a.Speed))
		}
		t.interval(t.Head - 2)
	}
	if o := t.gap; o.on { // nothing but lone edges since the gap before: both are one gap
		g.from, g.before, g.slope, g.synced, g.seen = o.from, o.before, o.slope, o.synced, o.seen
	}
	g.synced = g.synced || t.Sync.On
	t.gap = g
	t.endRun()
}

// Bounds of a gap in the crank signal.
const (
	mostBraking = 4000 // rpm/s; an engine slows no faster (assumed)
	mostBlink   = 1.2  // seconds; to stop and to start again to the same speed takes longer (assumed)
)

// judgeGap decides whether a gap was a dropout of the signal or an engine that stopped, once the speed after it is
// known (NaN: the recording ended).
//
// An engine that stops from the speed n before it reaches the next vane, a step of s degrees away, slows by at least
// 3·n²/s rpm/s (v²/2 = deceleration · way, with 6 °/s for 1 rpm). More than mostBraking is no engine but a dropout,
// unless the speed was falling steeply already (by over 22 % in the last interval, a change of ln(speed) of −0.25). So
// are four events of other signals in the gap, and a gap shorter than mostBlink with nearly the same speed before and
// after.
func (t *Track) judgeGap(after quantity.Speed) {
	g := t.gap
	t.gap = gap{}
	if g.before == 0 {
		return
	}
	step := motion.Cycle / float64(t.w.N)
	falling := g.slope < -0.25
	drop := g.seen >= 4 || float64(g.before) > math.Sqrt(step*mostBraking/3) && !falling
	if !drop && after > 0.8*g.before && after < 1.25*g.before && g.to-g.from < mostBlink && !falling {
		drop = true
	}
	if !drop {
		if !math.IsNaN(float64(after)) {
			t.Stops++
		}
		return
	}
	at := g.from + g.step(t.w.N)
	t.Log.Add(Dropout, at, t.l.Assigned.Crank)
	if g.synced {
		t.loseSync(at, crankDropped)
	}
}
