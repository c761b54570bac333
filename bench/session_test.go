package bench

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"phasewright/engine"
	"phasewright/quantity"
)

func session(t *testing.T, c Config, faults ...string) *Session {
	t.Helper()
	f, err := ParseFaults(c, faults...)
	if err != nil {
		t.Fatal(err)
	}
	s, err := NewSession(c, f, 11)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// pass lets seconds go by in steps of 50 ms and gives the last state and all notes.
func pass(s *Session, seconds float64) (State, string) {
	var st State
	var notes []string
	for i := 0; i < int(seconds*20); i++ {
		st = s.Step(quantity.Milliseconds(50))
		for _, n := range st.Notes {
			notes = append(notes, n.Text)
		}
	}
	return st, strings.Join(notes, "; ")
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// From standstill to a running engine and back: what a start should look like.
func TestSessionStartsRunsAndStops(t *testing.T) {
	for _, n := range []int{4, 6, 8} {
		s := session(t, variant(n))
		if err := s.Starter(On); err == nil {
			t.Error("the starter turned with the key off")
		}
		must(t, s.Key(On))
		must(t, s.Starter(On))
		st, _ := pass(s, 3)
		if math.Abs(st.SpeedRPM-190) > 90 || st.Runs {
			t.Fatalf("%d cylinders on the starter: %.0f rpm", n, st.SpeedRPM)
		}
		if st.Sync != "held" {
			t.Errorf("%d cylinders: sync %s after 3 s", n, st.Sync)
		}
		if st.SupplyV > 12 || st.SupplyV < 6 {
			t.Errorf("supply %.1f V while cranking", st.SupplyV)
		}
		must(t, s.Light(On, 1, 0))
		must(t, s.Fuel(On))
		pass(s, 2)
		must(t, s.Starter(Off))
		st, notes := pass(s, 6)
		if !st.Runs || math.Abs(st.SpeedRPM-720) > 120 {
			t.Fatalf("%d cylinders: %.0f rpm at idle, notes %q", n, st.SpeedRPM, notes)
		}
		must(t, s.Lever(3000))
		st, _ = pass(s, 10)
		if math.Abs(st.SpeedRPM-3000) > 300 {
			t.Fatalf("%d cylinders: %.0f rpm, lever at 3000", n, st.SpeedRPM)
		}
		if st.ShownDeg == nil || math.Abs(*st.ShownDeg-locked) > 0.6 {
			t.Errorf("%d cylinders: light shows %v, want 7°", n, st.ShownDeg)
		}
		must(t, s.SparkPower(Off))
		st, _ = pass(s, 10)
		if st.SpeedRPM != 0 {
			t.Fatalf("%d cylinders: still at %.0f rpm with the spark off", n, st.SpeedRPM)
		}
	}
}

// Mean cranking speed of the live engine is that of the settled prediction: two ways through the same balance.
func TestSessionCranksAtCrankingSpeed(t *testing.T) {
	s := session(t, variant(8))
	must(t, s.Key(On))
	must(t, s.Starter(On))
	a, _ := pass(s, 3)
	b, _ := pass(s, 3)
	if got := (b.TurnedDeg - a.TurnedDeg) / (b.TimeS - a.TimeS) / 6; math.Abs(got-185) > 7 { // the starter warms a little
		t.Errorf("cranks at %.2f rpm, want 185", got)
	}
}

func TestSessionSettingsNeedStoringAndPower(t *testing.T) {
	s := session(t, Default())
	if s.Change(Settings{}) == nil {
		t.Error("settings changed with the key off")
	}
	must(t, s.Key(On))
	_, _, e := s.Settings()
	e.Allowance = 140
	must(t, s.Change(e))
	if a, _, _ := s.Settings(); a.Allowance != 85 {
		t.Errorf("in force before storing: %v", a.Allowance)
	}
	must(t, s.Key(Off))
	must(t, s.Key(On)) // lost: it was not stored
	if a, _, e := s.Settings(); a.Allowance != 85 || e.Allowance != 85 {
		t.Errorf("an unstored change outlived the power: %v", a.Allowance)
	}
	must(t, s.Change(e))
	must(t, s.Store())
	if a, _, _ := s.Settings(); a.Allowance != 85 {
		t.Errorf("in force before the power-cycle: %v", a.Allowance)
	}
	must(t, s.Key(Off))
	must(t, s.Key(On))
	if a, _, _ := s.Settings(); a.Allowance != 140 {
		t.Errorf("not in force after the power-cycle: %v", a.Allowance)
	}
}

func TestSessionHousing(t *testing.T) {
	s := session(t, Default(), "housing=+3deg")
	if s.Housing(1) == nil {
		t.Error("the housing turned under a tight clamp")
	}
	must(t, s.Clamp(Off))
	if s.Housing(50) == nil {
		t.Error("the housing went beyond its travel")
	}
	must(t, s.Housing(-3))
	must(t, s.Clamp(On))
	must(t, s.Key(On))
	must(t, s.Light(On, 1, 0))
	must(t, s.Starter(On))
	must(t, s.Fuel(On))
	pass(s, 3)
	must(t, s.Starter(Off))
	must(t, s.Lever(2000))
	st, _ := pass(s, 8)
	if st.ShownDeg == nil || math.Abs(*st.ShownDeg-locked) > 0.6 {
		t.Errorf("shows %v after the housing was turned back, want 7°", st.ShownDeg)
	}
	if got := strings.Join(s.Reveal(), " "); got != "housing=3deg" {
		t.Errorf("reveals %q", got)
	}
}

func TestSessionFaultsBehave(t *testing.T) {
	for _, tc := range []struct{ fault, note string }{
		{"stroke=exhaust", "spits back"},
		{"housing=+17deg", "kicked back"},
		{"pickup=off", ""},
	} {
		s := session(t, variant(4), tc.fault)
		must(t, s.Key(On))
		must(t, s.Starter(On))
		must(t, s.Fuel(On))
		_, notes := pass(s, 4)
		must(t, s.Starter(Off))
		st, _ := pass(s, 4)
		if st.SpeedRPM > 0 && tc.fault != "housing=+17deg" {
			t.Errorf("%s: runs at %.0f rpm", tc.fault, st.SpeedRPM)
		}
		if !strings.Contains(notes, tc.note) {
			t.Errorf("%s: notes %q, want %q", tc.fault, notes, tc.note)
		}
	}
}

// Lamps of the live bench are those of the closed form, all the way round the cycle by hand.
func TestSessionLampsByHand(t *testing.T) {
	c := Default()
	s := session(t, c, "housing=+2deg")
	m, _ := NewModel(c)
	must(t, s.Key(On))
	if s.Fuel(On); s.TurnByHand(5) == nil {
		t.Error("turned by hand with live injectors")
	}
	must(t, s.Fuel(Off))
	for i := 0; i < 150; i++ {
		must(t, s.TurnByHand(5))
		st := s.Step(0)
		crank, cam := m.Lamps(Faults{Housing: 2}, quantity.Crank(-st.CrankDeg))
		if st.CrankLamp != crank || st.CamLamp != cam {
			t.Fatalf("at %g°: %s and %s, want %s and %s", st.CrankDeg, st.CrankLamp, st.CamLamp, crank, cam)
		}
	}
}

func BenchmarkSession(b *testing.B) {
	s, err := NewSession(Default(), Faults{}, 1)
	if err != nil {
		b.Fatal(err)
	}
	s.Key(On)
	s.Fuel(On)
	s.Starter(On)
	for range 60 {
		s.Step(quantity.Milliseconds(50))
	}
	s.Starter(Off)
	s.Lever(3000)
	for b.Loop() {
		s.Step(quantity.Milliseconds(50))
	}
	b.ReportMetric(0.05*float64(b.N)/b.Elapsed().Seconds(), "×life")
}

// Whatever is pressed in whatever order, the bench goes on: finite numbers, time forward, no event in the past.
func TestSessionSurvivesAnyHands(t *testing.T) {
	table := FaultTable()
	for seed := uint64(0); seed < 60; seed++ {
		rng := rand.New(rand.NewPCG(seed, 4))
		c := RandomConfig(seed)
		var f Faults
		for k := rng.IntN(4); k > 0; k-- {
			if r := table[rng.IntN(len(table))]; r.Fits(c) {
				r.Set(&f, r.Typical)
			}
		}
		if f.Check(c) != nil {
			continue
		}
		s, err := NewSession(c, f, seed)
		if err != nil {
			t.Fatal(err)
		}
		flip := func() Switch { return []Switch{Off, On, On}[rng.IntN(3)] }
		last, event := 0.0, 0.0
		for i := 0; i < 400; i++ {
			switch rng.IntN(16) {
			case 0:
				s.Key(flip())
			case 1:
				s.Starter(flip())
			case 2:
				s.Fuel(flip())
			case 3:
				s.SparkPower(flip())
			case 4:
				s.Clamp(flip())
			case 5:
				s.Housing(quantity.Shaft(6*rng.Float64() - 3))
			case 6:
				s.Lever(c.Engine.Idle + quantity.Speed(rng.Float64())*(c.Engine.Redline-c.Engine.Idle))
			case 7:
				s.Light(flip(), 1+rng.IntN(c.Engine.Cylinders), quantity.Crank(20*rng.Float64()-10))
			case 8:
				s.TurnByHand(quantity.Crank(90 * rng.Float64()))
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
			}
			st := s.Step(quantity.Milliseconds(120 * rng.Float64()))
			for _, v := range []float64{st.CrankDeg, st.SpeedRPM, st.SupplyV, st.RotorDeg, st.EngineC} {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("seed %d: not finite: %+v", seed, st)
				}
			}
			if st.TimeS < last || st.SpeedRPM < 0 || st.SpeedRPM > 2*float64(c.Engine.Redline) {
				t.Fatalf("seed %d: %.3f s after %.3f s at %.0f rpm", seed, st.TimeS, last, st.SpeedRPM)
			}
			last = st.TimeS
			for _, e := range st.Events {
				if e.TimeS < event || e.TimeS > st.TimeS+1e-9 {
					t.Fatalf("seed %d: event at %.6f s after one at %.6f s, in a step to %.6f s", seed, e.TimeS, event, st.TimeS)
				}
				event = e.TimeS
			}
		}
		tr := s.Truth()
		if math.IsNaN(tr.WorstDeg) || math.IsNaN(tr.DelayUS) {
			t.Fatalf("seed %d: truth %+v", seed, tr)
		}
	}
}

// A page can carry a state on by itself: two sessions with the same hands are the same.
func TestSessionRepeats(t *testing.T) {
	run := func() State {
		s := session(t, variant(6), "worn=1deg", "noise=3%")
		s.Key(On)
		s.Fuel(On)
		s.Starter(On)
		pass(s, 3)
		s.Starter(Off)
		st, _ := pass(s, 3)
		return st
	}
	a, b := run(), run()
	if a.TurnedDeg != b.TurnedDeg || a.SpeedRPM != b.SpeedRPM || len(a.Events) != len(b.Events) {
		t.Errorf("%g and %g", a.TurnedDeg, b.TurnedDeg)
	}
}

// Burning multiplies the absolute pressure, which follows pVᵏ = constant while the valves are shut. Travel and lever
// are those of package engine, which shares nothing with the tables.
func TestBurningMultipliesAbsolutePressure(t *testing.T) {
	e := Default().Engine
	f, s := newFire(e), engine.SliderCrank{Stroke: e.Stroke, Rod: e.Rod}
	clear := float64(e.Stroke) / (e.CompressionRatio - 1) // of the stroke, mm
	for _, c := range []struct {
		a, b int
		k    float64
	}{{-90, -20, e.CompressionIndex}, {20, 90, e.ExpansionIndex}} {
		p := func(a int) float64 { return f.push[a+180] / s.Sensitivity(quantity.Crank(a)) }
		v := func(a int) float64 { return clear + float64(s.Travel(quantity.Crank(a))) }
		if k := math.Log(p(c.a)/p(c.b)) / math.Log(v(c.b)/v(c.a)); math.Abs(k-c.k) > 1e-4 {
			t.Errorf("between %d° and %d° the index is %.5f, set was %g", c.a, c.b, k, c.k)
		}
	}
}
