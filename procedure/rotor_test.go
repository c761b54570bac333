package procedure

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"phasewright/quantity"
	"phasewright/sheet"
)

// Where the tip must stand, by hand: at the active edge it is where the card has it, and while the crank goes from the
// lead to the advance that the light shows, the shaft turns half as far.
func TestRotorStandsWhereTheSumSays(t *testing.T) {
	seen := 0
	for name, p := range kinds(t) {
		c := cardOf(t, name)
		s, err := sheet.Make(c)
		if err != nil {
			t.Fatal(err)
		}
		r, ok := s.RotorOnStarter(c)
		st, there := p.Step(StepRotor)
		if steered := c.Distributor.Use != "signal only"; there != steered {
			t.Errorf("%s: a rotor carries the spark: %v, and the step is there: %v", name, steered, there)
		}
		if !ok || c.Distributor.Cap == "even" {
			continue
		}
		seen++
		want := float64(c.Distributor.RotorOffset) + (float64(c.Signals.Crank.Lead)-s.Expect[0].Shown)/2
		if math.Abs(float64(r.Tip)-want) > 1e-9 {
			t.Errorf("%s: the tip must stand at %v, want %v", name, r.Tip, want)
		}
		if !strings.Contains(fmt.Sprint(st.Show), sheet.TipPlace(quantity.Shaft(want))) {
			t.Errorf("%s shows %v, want %s", name, st.Show, sheet.TipPlace(quantity.Shaft(want)))
		}
	}
	if seen < 3 {
		t.Fatalf("%d rotors were reckoned", seen)
	}
}

// The rotor is looked at only once base timing was shown, with fuel off and all dead before and after, and it leaves the
// engine dead with its whole cap on.
func TestRotorIsSeenWithoutFuel(t *testing.T) {
	w := newWork(orderOf(t, "gorse-hill"))
	w.refused(t, w.do(StepRotor), "base timing")
	w.upTo(t, StepPrime)
	full := w.s
	full.Plant = full.Plant.With(FuelLine, Full)
	w.refused(t, w.p.Decide(full, Request{Act: Do, Step: StepRotor, Who: "A",
		Proof: passing(w.p, full, StepRotor), Seen: full.Version}), "let the fuel line down")
	if o := w.do(StepRotor); len(o.Refused) > 0 {
		t.Fatal(o.Refused)
	}
	for part, v := range map[Part]Value{Cap: On, Feed: Dead, Starter: Disabled, Battery: Removed, Turned: No, Base: No} {
		plant(t, w, part, v)
	}
	if took, ok := w.home(); !ok {
		t.Errorf("no way home after %v", took)
	}
	for _, id := range []StepID{StepIdle, StepRange} {
		st, _ := w.p.Step(id)
		if !slices.ContainsFunc(st.Branches, func(b Branch) bool { return b.Go == StepRotor }) {
			t.Errorf("«%s» does not lead to the rotor", id)
		}
	}
}

// A lamp is wired while nothing but the controller can get power, its level follows the edge, and it is off again before
// anything turns; a variable-reluctance pickup gets none.
func TestLampInTheSteps(t *testing.T) {
	p := orderOf(t, "sandpiper") // falling edge, open collector: lit while low, so that dark turns to lit
	on, _ := p.Step(StepPower)
	phase, _ := p.Step(StepPhase)
	shut, _ := p.Step(StepClose)
	for in, words := range map[string]string{on.Text: "Wire the lamp as drawn", fmt.Sprint(on.Show): "1.5 kΩ",
		fmt.Sprint(on.Notes): "Take the signal wire off the controller", fmt.Sprint(phase.Show): "off → on",
		shut.Text: "Take the test lamp off"} {
		if !strings.Contains(strings.NewReplacer("\u00a0", " ", "\u2009", " ").Replace(in), words) {
			t.Errorf("%q is not in %s", words, in)
		}
	}
	reluctor, _ := orderOf(t, "mill-pump").Step(StepPower)
	if !strings.Contains(fmt.Sprint(reluctor.Show), "no lamp") {
		t.Errorf("a variable-reluctance pickup: %v", reluctor.Show)
	}
}
