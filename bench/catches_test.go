package bench

import (
	"testing"

	"phasewright/quantity"
)

// A sound engine that is stopped and started twenty times is never heard to backfire, though a single spark may come
// late as it catches.
func TestSoundEngineIsNotHeardToBackfire(t *testing.T) {
	s := session(t, Default())
	w := technician{t, s}
	w.do(s.Key(On))
	w.do(s.Fuel(On))
	step := func(n int, us quantity.Time) {
		for range n {
			for _, note := range s.Step(us).Notes {
				if note.Text == "backfires" || note.Text == "spits back through the intake" {
					t.Errorf("at %.2f s a sound engine %s", note.TimeS, note.Text)
				}
			}
		}
	}
	w.do(s.Starter(On))
	step(40, 50_000)
	w.do(s.Starter(Off))
	step(400, 50_000)
	ran := 0
	for i := range 20 { // each start from another place of the crank
		w.do(s.Key(Off))
		step(60, 50_000)
		w.do(s.Key(On))
		step(i, 22_000)
		w.do(s.Starter(On))
		step(40, 50_000)
		w.do(s.Starter(Off))
		step(10, 50_000)
		if s.Step(0).Runs {
			ran++
		}
	}
	if ran != 20 {
		t.Errorf("it ran %d times of 20", ran)
	}
}
