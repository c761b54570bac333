package shaft

import (
	"testing"

	"phasewright/shaft/roles"
)

// Recordings, faults and numbers here are invented, unless a test says where one comes from.

// A dwell that at speed fills more than half of the time between sparks is still told from metal: the rest between
// pulses shrinks faster than the period, but the pulse keeps its width.
func TestDwellOfMoreThanHalf(t *testing.T) {
	d, deg, _ := legs(2000, point{3900, 5}, point{3900, 3}, point{2000, 5})
	s := &synth{intervals: evenIntervals(12), lead: 44, widths: repeat(18, 12), enter: true, camAt: 90, camWidth: 40,
		advance: func(float64) float64 { return 8 }, allowance: 100, pickup: 40, delay: 60, dwell: 1.8e-3, timeNoise: 2e-6, motion: d, from: 0.5, to: deg - 0.5, seed: 1}
	r := analyse(t, s.run(), fourNames, Options{Cylinders: 12, Commanded: locked(8)})
	for i, want := range []Role{Crank, Cam, Spark, Mark} {
		if got := r.Channels[i].Role; got != want {
			t.Errorf("channel %s is taken for %s (%s), want %s", r.Channels[i].Name, got, r.Channels[i].Reason, want)
		}
	}
	if ps := roles.Profiles(info(fourNames...).Channels, s.run()); ps[chSpark].Duty <= 0.5 || !ps[chSpark].GrowthKnown || ps[chSpark].Growth > 0.45 {
		t.Errorf("sparks: duty %.2f, growth %.2f", ps[chSpark].Duty, ps[chSpark].Growth)
	}
}
