package track

import (
	"math"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/waveform"
)

// gap is an interval too long to bridge.
type gap struct {
	on       bool
	from, to waveform.Second
	before   quantity.Speed // 0: not known
	slope    float64        // change of ln speed over the last interval
	synced   bool
	seen     int // edges of other channels in it
}

// step is how long a firing interval lasted before the gap, n vanes a cycle.
func (g *gap) step(n int) waveform.Second {
	return waveform.Second(motion.Cycle / float64(n) / float64(motion.Angle(g.before, 1)))
}

// cut ends the run of the track: the next crank edge, at so late a time, cannot be bridged to.
func (t *Track) cut(at waveform.Second) {
	n := t.Head - t.First
	g := gap{on: true, to: at}
	if n > 0 {
		g.from = t.At(t.Head - 1).T
	}
	if n >= 2 {
		a, b := t.At(t.Head-2), t.At(t.Head-1)
		g.before = speed(a, b)
		if n >= 3 {
			g.slope = math.Log(float64(g.before / speed(t.At(t.Head-3), a)))
		}
		t.interval(t.Head - 2)
	}
	if o := t.gap; o.on { // nothing but lone edges since the gap before: one gap
		g.from, g.before, g.slope, g.synced, g.seen = o.from, o.before, o.slope, o.synced, o.seen
	}
	g.synced = g.synced || t.Sync.On
	t.gap = g
	t.endRun()
}

// Bounds of a gap in the crank signal.
const (
	mostBraking = 4000 // rpm/s; the most that an engine slows (assumed)
	mostBlink   = 1.2  // seconds; a stop and a new start at the same speed take longer (assumed)
)

// judgeGap tells a dropout from an engine that stopped, once the speed after it is known (NaN: the recording ended).
//
// An engine cannot stop between two vanes from speed n unless it slows faster than 3·n²/step rpm/s. Other channels that
// go on tell a dropout too.
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
