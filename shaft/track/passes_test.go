package track

import (
	"math"
	"testing"

	"phasewright/quantity"
	"phasewright/shaft/wheel"
	"phasewright/waveform"
)

// After millions of vanes, whose learnt steps are no round numbers, each still stands a whole number of cycles from its
// place on the wheel: adding step to step would go wrong by up to half of what float64 tells apart each time, in the
// same direction.
func TestPlacesDoNotDrift(t *testing.T) {
	pos := []quantity.Crank{0, 90.123456789, 179.7, 270.7, 360, 450.2, 539.9, 630.05}
	even := make([]quantity.Crank, 8)
	for k := range even {
		even[k] = 90
	}
	w := wheel.New(pos, even)
	l := newPasses(w)
	for i := range 8_000_000 {
		l.add(waveform.Second(float64(i)*0.005), i%8, 0, 0)
	}
	p := l.At(l.Head - 1)
	if cycles := float64((p.A - w.Pos[p.Vane]) / 720); p.A < 7e8 || math.Abs(cycles-math.Round(cycles)) > 1e-9 {
		t.Errorf("%.9f cycles", cycles)
	}
}
