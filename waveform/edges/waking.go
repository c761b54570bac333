package edges

import (
	"math"

	"phasewright/waveform/block"
)

const (
	learnSamples = 65536 // from which a channel is learnt that was still in the survey
	learnHeld    = 256   // changes from which a channel is learnt whose values hold
	maxTries     = 8     // then a channel without a signal is left alone
	feedSamples  = 256   // that go to a detector together
)

// gather keeps samples of a channel that woke, from sample i of the block on, and learns from them when there are
// enough.
func (f *Follower) gather(t *track, v []float64, c *block.Clock, i int) error {
	for ; i < len(v); i++ {
		t.waking, t.wakingT = append(t.waking, v[i]), append(t.wakingT, float64(c.At(i)))
		if len(t.waking) < learnSamples && !(t.hint.Held && len(t.waking) >= learnHeld) {
			continue
		}
		if err := f.learn(t); err != nil {
			return err
		}
		rest := v[i+1:]
		if len(rest) == 0 {
			return nil
		}
		times := make([]float64, len(rest))
		for k := range rest {
			times[k] = float64(c.At(i + 1 + k))
		}
		least, largest := block.Extremes(rest)
		return f.feed(t, rest, &block.Clock{Times: times}, least, largest)
	}
	return nil
}

// learn judges a channel by what it did since it woke, with its rest before that, and then takes the samples that
// waited.
func (f *Follower) learn(t *track) error {
	v, times := t.waking, t.wakingT
	t.waking, t.wakingT = nil, nil
	segs := [][]float64{v}
	if t.any {
		rest := make([]float64, len(v)/4+16)
		for i := range rest {
			rest[i] = t.prev
		}
		segs = [][]float64{rest, append([]float64{t.prev}, v...)}
	}
	found := judge(segs, t.hint)
	if found.Method == block.MethodNone {
		t.stillQuiet(found)
		n := len(v) - 1
		t.prev, t.prevT, t.any = v[n], block.Second(times[n]), true
		return nil
	}
	f.set(t, found)
	name := f.Channels[t.index].Name
	f.warn(t.index, "channel %q was still when the levels were surveyed; they were learnt when it woke", name)
	if r, ok := f.sink.(Reviser); ok {
		if err := r.Revise(t.index, f.Channels[t.index]); err != nil {
			return err
		}
	}
	c := &block.Clock{Before: float64(t.prevT), Held: t.hint.Held}
	if t.hint.Held { // other channels did not wait: what came so far cannot be given out
		f.warn(t.index, "channel %q: its first %d changes gave no edges", name, len(v))
		v, times = v[len(v)-1:], times[len(times)-1:]
	} else if t.any {
		c.Times = []float64{float64(t.prevT)}
		feed(t.det, []float64{t.prev}, c, t.prev, t.prev)
	}
	for len(v) > 0 {
		n := min(len(v), feedSamples)
		least, largest := block.Extremes(v[:n])
		c.Times = times[:n]
		feed(t.det, v[:n], c, least, largest)
		c.Before = times[n-1]
		t.prev, t.prevT, t.any = v[n-1], block.Second(times[n-1]), true
		v, times = v[n:], times[n:]
	}
	t.hold(t.prevT)
	return nil
}

// stillQuiet widens the range within which a channel without a signal is not looked at again.
func (t *track) stillQuiet(found Finding) {
	t.tries++
	found.quietLow, found.quietHigh = min(found.quietLow, t.find.quietLow), max(found.quietHigh, t.find.quietHigh)
	if t.tries >= maxTries {
		found.quietLow, found.quietHigh = math.Inf(-1), math.Inf(1)
	}
	t.find = found
}
