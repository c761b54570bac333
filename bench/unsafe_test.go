package bench

import (
	"strings"
	"testing"
)

// Each unsafe act is kept with its hazard and told at once; the safe way to the same end is not.
func TestUnsafeActsAreTold(t *testing.T) {
	for _, tc := range []struct {
		name, hazard string
		wrong, right func(technician)
	}{
		{"turned by hand with the coil live", "starts under the hand",
			func(w technician) { w.do(w.Key(On)); w.do(w.TurnByHand(5)) },
			func(w technician) { w.do(w.SparkPower(Off)); w.do(w.Key(On)); w.do(w.TurnByHand(5)) }},
		{"with starter or injectors live", "starts under the hand",
			func(w technician) { w.do(w.Key(On)); w.do(w.Fuel(On)); _ = w.TurnByHand(5) },
			func(w technician) { w.do(w.Fuel(On)); w.do(w.TurnByHand(5)) }},
		{"clamp not tried", "walk",
			func(w technician) { w.do(w.Key(On)); w.do(w.Starter(On)) },
			func(w technician) { w.tighten(); w.do(w.Key(On)); w.do(w.Starter(On)) }},
		{"clamp not tried", "walk",
			func(w technician) { w.do(w.Clamp(Off)); w.do(w.Key(On)); w.do(w.Starter(On)) },
			func(w technician) { w.do(w.Clamp(Off)); w.do(w.SparkPower(Off)); w.do(w.Key(On)); w.do(w.Starter(On)) }},
		{"fuel was on before", "kickback",
			func(w technician) { w.tighten(); w.do(w.Key(On)); w.do(w.Fuel(On)); w.do(w.Starter(On)) },
			func(w technician) { w.start() }},
		{"fuel was on before", "kickback",
			func(w technician) { w.tighten(); w.do(w.Key(On)); w.do(w.Starter(On)); w.do(w.Fuel(On)) },
			func(w technician) { w.base(); w.do(w.Starter(On)); w.do(w.Fuel(On)) }},
		{"on a turning engine", "chips",
			func(w technician) { w.start(); _ = w.Starter(On) },
			func(w technician) { w.start(); w.rest(); w.do(w.Key(On)); w.do(w.Starter(On)) }},
		{"plug wires with the ignition on", "shock",
			func(w technician) { w.do(w.Key(On)); _ = w.SwapWires(1, 2) },
			func(w technician) { w.do(w.SwapWires(1, 2)) }},
		{"on the unit with the coil live", "shock",
			func(w technician) { w.do(w.Key(On)); w.do(w.Clamp(Off)); _ = w.HalfTurn() },
			func(w technician) { w.do(w.Clamp(Off)); w.do(w.HalfTurn()) }},
		{"more than 15 s", "overheats",
			func(w technician) { w.tighten(); w.do(w.Key(On)); w.do(w.Starter(On)); pass(w.Session, 17) },
			func(w technician) { w.tighten(); w.do(w.Key(On)); w.do(w.Starter(On)); pass(w.Session, 12) }},
	} {
		w := technician{t, session(t, variant(8))}
		tc.right(w)
		if acts := unsafeActs(w.Session); len(acts) != 0 {
			t.Errorf("%s: the safe way counts as %q", tc.name, acts)
		}
		w = technician{t, session(t, variant(8))}
		tc.wrong(w)
		st := w.Step(0)
		if len(st.Unsafe) != 1 || !strings.Contains(st.Unsafe[0].Act, tc.name) || !strings.Contains(st.Unsafe[0].Hazard, tc.hazard) {
			t.Errorf("%s: %+v", tc.name, st.Unsafe)
		}
	}
}

// A hundred pulls at the crank in a row are one unsafe act; the same a quarter of a minute later is another.
func TestUnsafeActsAreCountedByOccasion(t *testing.T) {
	w := technician{t, session(t, variant(8))}
	w.do(w.Key(On))
	for range 100 {
		w.do(w.TurnByHand(1))
	}
	pass(w.Session, 15)
	w.do(w.TurnByHand(1))
	if n := len(w.Step(0).Unsafe); n != 2 {
		t.Errorf("%d unsafe acts", n)
	}
}

// The starter on a running engine is refused, and heard.
func TestStarterGratesOnARunningEngine(t *testing.T) {
	w := technician{t, session(t, variant(8))}
	w.start()
	if w.Starter(On) == nil || w.starter == On {
		t.Error("engaged")
	}
	if st, notes := pass(w.Session, 0.1); !strings.Contains(notes, "grates") || !st.Runs {
		t.Errorf("heard %q, runs %v", notes, st.Runs)
	}
}
