package shaft

import (
	"math"
	"testing"
)

// Recordings, faults and numbers here are invented, unless a test says where one comes from.

// TestPlacesDoNotDrift: after millions of vanes, whose learnt steps are no round numbers, each still stands a whole number of cycles from its place on the wheel.
// Adding step to step went wrong by up to half of what float64 tells apart each time, in the same direction.
func TestPlacesDoNotDrift(t *testing.T) {
	d, deg, _ := legs(3000, point{3000, 3})
	s := eight(d, 0.5, deg-0.5)
	s.off = []float64{0, 0.123456789, -0.3, 0.7, 0, 0.2, -0.1, 0.05}
	a, err := New(Options{Cylinders: 8, Roles: map[string]Role{fourNames[chCrank]: Crank}}) // nothing but that tells it from a spark a vane, without scatter at one speed
	if err != nil {
		t.Fatal(err)
	}
	if err := a.Begin(info(fourNames...)); err != nil {
		t.Fatal(err)
	}
	if err := a.Edges(s.run()); err != nil {
		t.Fatal(err)
	}
	a.learn()
	tr := a.tr
	if tr == nil {
		t.Fatal("not followed")
	}
	last := *tr.knot(tr.head - 1)
	for i := range 8_000_000 {
		tr.take(act{t: last.t + float64(i+1)*0.005, k: (last.k + int32(i) + 1) % 8})
		tr.qHead = len(tr.queue)
	}
	k := tr.knot(tr.head - 1)
	if cycles := (k.a - tr.w.pos[k.k]) / cycle; k.a < 7e8 || math.Abs(cycles-math.Round(cycles)) > 1e-9 {
		t.Errorf("%.9f cycles", cycles)
	}
}
