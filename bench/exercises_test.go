package bench

import (
	"math"
	"strings"
	"testing"

	"phasewright/jobcard"
	"phasewright/quantity"
)

// set stores settings and power-cycles.
func set(t *testing.T, s *Session, change func(*Settings)) {
	t.Helper()
	must(t, s.Key(On))
	_, _, e := s.Settings()
	change(&e)
	must(t, s.Change(e))
	must(t, s.Store())
	must(t, s.Key(Off))
	must(t, s.Key(On))
}

func turn(t *testing.T, s *Session, by quantity.Shaft) {
	t.Helper()
	must(t, s.Clamp(Off))
	must(t, s.Housing(by))
	must(t, s.Clamp(On))
}

// cure does what a technician who knew the hidden faults would do.
func cure(t *testing.T, s *Session) {
	t.Helper()
	h := s.hidden
	if h.HalfTurn {
		must(t, s.Clamp(Off))
		must(t, s.HalfTurn())
		must(t, s.Clamp(On))
	}
	if h.Swapped[0] != 0 {
		must(t, s.SwapWires(h.Swapped[0], h.Swapped[1]))
	}
	if h.Housing != 0 {
		turn(t, s, -h.Housing)
	}
	if h.Delay != 0 || h.Edge {
		set(t, s, func(e *Settings) {
			e.Allowance = s.active.Allowance + h.Delay
			e.Edge = s.c.Crank.ActiveEdge
		})
	}
}

func TestExercisesCanBeFailedAndPassed(t *testing.T) {
	list := Exercises()
	if len(list) < 7 {
		t.Fatalf("%d exercises", len(list))
	}
	for _, x := range list {
		for seed := uint64(1); seed <= 5; seed++ {
			c := variant(8)
			s, err := x.Start(c, seed)
			if err != nil {
				t.Fatal(err)
			}
			if o := x.Judge(s, nil); o.Passed {
				t.Errorf("%s: passes untouched: %s", x.Name, o.Debrief)
			}
			if x.Name == "base" {
				must(t, s.Key(On))
				must(t, s.Light(On, 1, 0))
				must(t, s.Starter(On))
				st, _ := pass(s, 4)
				must(t, s.Starter(Off))
				must(t, s.Key(Off))
				if st.ShownDeg == nil || math.Abs(*st.ShownDeg-15) < 0.5 {
					t.Errorf("light on the starter shows %v: no bias to fall for", st.ShownDeg)
				}
				pass(s, 5)
			}
			cure(t, s)
			o := x.Judge(s, s.Reveal())
			if !o.Passed {
				t.Errorf("%s, seed %d: fails when cured: %s", x.Name, seed, o.Debrief)
			}
			if !strings.Contains(o.Debrief, "°") {
				t.Errorf("%s: debrief without degrees: %s", x.Name, o.Debrief)
			}
			if must(t, s.Clamp(Off)); x.Judge(s, s.Reveal()).Passed {
				t.Errorf("%s: passes with the clamp loose", x.Name)
			}
		}
	}
}

// The trap of the base-timing exercise: turning the housing until the cranking reading is exact.
func TestTurningForTheCrankingBiasFails(t *testing.T) {
	x, ok := FindExercise("base")
	if !ok {
		t.Fatal("no such exercise")
	}
	s, err := x.Start(variant(4), 1)
	if err != nil {
		t.Fatal(err)
	}
	must(t, s.Key(On))
	must(t, s.Light(On, 1, 0))
	must(t, s.Starter(On))
	st, _ := pass(s, 4)
	must(t, s.Starter(Off))
	bias := *st.ShownDeg - starting
	turn(t, s, quantity.Shaft(-bias/2))
	o := x.Judge(s, nil)
	if o.Passed || math.Abs(o.Truth.OffsetDeg+bias) > 0.2 {
		t.Errorf("bias %.2f°, left %.2f°: %s", bias, o.Truth.OffsetDeg, o.Debrief)
	}
}

// Naming the wrong fault fails; a slipped damper cured by the housing leaves the engine wrong.
func TestSlippedDamperIsNotCuredByTheHousing(t *testing.T) {
	x, _ := FindExercise("slipped")
	s, err := x.Start(variant(8), 2)
	if err != nil {
		t.Fatal(err)
	}
	if x.Judge(s, []string{"housing"}).Passed {
		t.Error("passes with the wrong fault named")
	}
	turn(t, s, quantity.Shaft(-s.hidden.Damper/2))
	if o := x.Judge(s, []string{"damper"}); o.Passed {
		t.Errorf("passes with the housing turned for a slipped ring: %s", o.Debrief)
	}
}

func TestExercisesRefuseAnEngineThatCannot(t *testing.T) {
	c := variant(8)
	c.Distributor.Steers, c.Ignition.Coils = false, jobcard.CoilPerCylinder
	x, _ := FindExercise("wires")
	if _, err := x.Start(c, 1); err == nil {
		t.Error("wires to swap on an engine without a cap")
	}
}
