package bench

import (
	"encoding/json"
	"math/rand/v2"
	"reflect"
	"testing"

	"phasewright/quantity"
)

// anyhow works a control at random, right or wrong.
func anyhow(s *Session, rng *rand.Rand) {
	c := s.c
	flip := func() Switch { return []Switch{Off, On, On}[rng.IntN(3)] }
	switch rng.IntN(22) {
	case 0:
		s.Key(flip())
	case 1:
		s.Starter(flip())
	case 2:
		s.Fuel(flip())
	case 3:
		s.SparkPower(flip())
	case 4:
		s.Clamp([]Switch{On, Off, Unfelt}[rng.IntN(3)])
	case 5:
		s.Housing(quantity.Shaft(6*rng.Float64() - 3))
	case 6:
		s.Lever(c.Engine.Idle + quantity.Speed(rng.Float64())*(c.Engine.Redline-c.Engine.Idle))
	case 7:
		s.Light(flip(), 1+rng.IntN(c.Engine.Cylinders), quantity.Crank(20*rng.Float64()-10))
	case 8:
		s.TurnByHand(quantity.Crank(120*rng.Float64() - 30))
	case 9:
		s.StepGear(rng.IntN(3) - 1)
	case 10:
		s.HalfTurn()
	case 11:
		s.SwapWires(1+rng.IntN(8), 1+rng.IntN(8))
	case 12:
		_, _, e := s.Settings()
		e.Allowance += quantity.Time(100*rng.Float64() - 50)
		s.Change(e)
	case 13:
		s.Store()
	case 14:
		s.Second(flip(), 1+rng.IntN(c.Engine.Cylinders))
	case 15:
		s.Plug(1+rng.IntN(2), flip())
	case 16:
		s.PistonStop(flip())
	case 17:
		s.Thumb(flip())
	case 18:
		s.WriteDown("idle", 20*rng.Float64())
	case 19:
		s.Key(On)
		s.Starter(On)
		s.Fuel(On)
	}
}

// A session played back from its journal, written down as JSON on the way, is the same to the last bit: whatever was
// worked, and however time was cut into steps. It goes on alike.
func TestReplayedSessionIsTheSame(t *testing.T) {
	table := FaultTable()
	acts := 0
	for seed := uint64(0); seed < 25; seed++ {
		rng := rand.New(rand.NewPCG(seed, 9))
		c := RandomConfig(seed)
		var s *Session
		var err error
		if list := Exercises(); seed%3 == 0 {
			s, err = list[rng.IntN(len(list))].Start(c, seed)
			if err != nil {
				continue // an exercise that this engine would not show
			}
		} else {
			var f Faults
			for k := rng.IntN(4); k > 0; k-- {
				if r := table[rng.IntN(len(table))]; r.Fits(c) {
					r.Set(&f, r.Typical)
				}
			}
			if f.Check(c) != nil {
				continue
			}
			if s, err = NewSession(c, f, seed); err != nil {
				t.Fatal(err)
			}
		}
		for range 200 {
			anyhow(s, rng)
			s.Step(quantity.Milliseconds(150 * rng.Float64()))
		}
		if x, ok := FindExercise(s.exercise); ok {
			x.Judge(s, []string{"damper"})
		}
		s.Step(quantity.Milliseconds(33.3))
		text, err := json.Marshal(s.Journal())
		if err != nil {
			t.Fatal(err)
		}
		var j Journal
		if err := json.Unmarshal(text, &j); err != nil {
			t.Fatal(err)
		}
		again, err := j.Replay()
		if err != nil {
			t.Fatal(err)
		}
		acts += len(j.Acts)
		for i := range 40 {
			a, b := s.Step(quantity.Milliseconds(50)), again.Step(quantity.Milliseconds(50))
			if i == 0 {
				a.Notes, b.Notes, a.Events, b.Events = nil, nil, nil, nil // the replayed one starts on a whole tick
			}
			if !reflect.DeepEqual(a, b) {
				t.Fatalf("seed %d, step %d:\n%+v\n%+v", seed, i, a, b)
			}
		}
		one, first := s.Judged()
		two, second := again.Judged()
		if first != second || !reflect.DeepEqual(one, two) || !reflect.DeepEqual(s.Truth(), again.Truth()) {
			t.Errorf("seed %d: judged %+v, then %+v", seed, one, two)
		}
	}
	if acts < 2000 {
		t.Errorf("%d acts played back", acts)
	}
}

// How time is cut into steps makes no difference.
func TestStepsMakeNoDifference(t *testing.T) {
	run := func(ms float64) State {
		s := session(t, variant(6), "worn=1deg", "dwell=-1200us")
		s.Clamp(On)
		s.Key(On)
		s.Starter(On)
		for s.ticks < 3000 {
			s.Step(quantity.Milliseconds(min(ms, float64(3000-s.ticks))))
		}
		s.Fuel(On)
		for s.ticks < 9000 {
			s.Step(quantity.Milliseconds(min(ms, float64(9000-s.ticks))))
		}
		st := s.Step(0)
		st.Events, st.Notes = nil, nil
		return st
	}
	a := run(50)
	for _, ms := range []float64{1, 7, 16, 250} {
		if b := run(ms); !reflect.DeepEqual(a, b) {
			t.Errorf("in steps of %g ms:\n%+v\nand of 50:\n%+v", ms, b, a)
		}
	}
}

// A journal of another model, or with its acts out of order, is refused in words.
func TestDamagedJournalIsRefused(t *testing.T) {
	s := session(t, Default())
	s.Key(On)
	pass(s, 1)
	s.Key(Off)
	for name, spoil := range map[string]func(*Journal){
		"model":    func(j *Journal) { j.Model++ },
		"order":    func(j *Journal) { j.Acts[0].AtMS = 5000 },
		"engine":   func(j *Journal) { j.Config.Engine.Cylinders = 3 },
		"exercise": func(j *Journal) { j.Exercise = "none such" },
	} {
		j := s.Journal()
		spoil(&j)
		if _, err := j.Replay(); err == nil {
			t.Errorf("%s: played back", name)
		}
	}
	j := s.Journal()
	j.Acts = append(j.Acts, Act{AtMS: j.EndMS, What: "no such"}, Act{AtMS: j.EndMS, What: ActSettings})
	if _, err := j.Replay(); err != nil {
		t.Errorf("an act that is refused: %v", err)
	}
}

func BenchmarkReplay(b *testing.B) {
	s, err := NewSession(Default(), Faults{}, 1)
	if err != nil {
		b.Fatal(err)
	}
	s.Clamp(On)
	s.Key(On)
	s.Fuel(On)
	s.Starter(On)
	for range 60 {
		s.Step(quantity.Milliseconds(50))
	}
	s.Starter(Off)
	for range 1200 {
		s.Step(quantity.Milliseconds(50))
	}
	j := s.Journal()
	for b.Loop() {
		if _, err := j.Replay(); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(j.EndMS)/1e3*float64(b.N)/b.Elapsed().Seconds(), "×life")
}
