package bench

import "testing"

// A sound engine that is stopped and started twenty times is never heard to backfire, though a single spark may come
// late as it catches.
func TestSoundEngineIsNotHeardToBackfire(t *testing.T) {
	s := session(t, Default())
	w := technician{t, s}
	w.do(s.Key(On))
	w.do(s.Fuel(On))
	ran := 0
	step := func(n int) {
		for range n {
			for _, note := range s.Step(50_000).Notes {
				if note.Text == "backfires" || note.Text == "spits back through the intake" {
					t.Errorf("at %.2f s a sound engine %s", note.TimeS, note.Text)
				}
			}
		}
	}
	for range 20 {
		w.do(s.Starter(On))
		step(40)
		w.do(s.Starter(Off))
		step(20)
		if s.Step(0).Runs {
			ran++
		}
		w.do(s.Key(Off))
		step(60)
		w.do(s.Key(On))
	}
	if ran != 20 {
		t.Errorf("it ran %d times of 20", ran)
	}
}
