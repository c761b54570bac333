package procedure

import (
	"slices"
	"strings"
	"testing"
)

// The light is read up to 4,000 rpm first, or up to half the redline where that is less (common practice); by hand.
func TestCalmSpeedsComeFirst(t *testing.T) {
	for redline, want := range map[float64]float64{12000: 4000, 8000: 4000, 6600: 3300, 4200: 2100, 3050: 1500} {
		if got := calmTop(redline); got != want {
			t.Errorf("a redline of %v rpm is read up to %v rpm first, want %v", redline, got, want)
		}
	}
	for name, p := range kinds(t) {
		calm := calmTop(float64(cardOf(t, name).Engine.Redline))
		rungs := p.steps[p.at[StepRange]].Demand.Rungs
		if !slices.IsSortedFunc(rungs, func(a, b Rung) int { return int(a.RPM - b.RPM) }) {
			t.Errorf("%s: %v do not rise", name, rungs)
		}
		if !slices.ContainsFunc(rungs, func(r Rung) bool { return r.band().Has(calm) }) {
			t.Errorf("%s: %v has no reading near %v rpm before those above it", name, rungs, calm)
		}
	}
}

// Who reads only the first lines of the step has read what the readings cost: no load, heat, how long.
func TestWarningsStandBeforeTheReadings(t *testing.T) {
	for name, p := range kinds(t) {
		st, _ := p.Step(StepRange)
		read := slices.Index(st.Do, "Read, and write it down.")
		for _, warning := range []string{"no load", "red means stop", "no speed longer than", "Let it idle"} {
			at := slices.IndexFunc(st.Do, func(s string) bool { return strings.Contains(s, warning) })
			if at < 0 || at > read {
				t.Errorf("%s: %q stands at %d, the reading at %d", name, warning, at, read)
			}
		}
	}
}

// With a carburettor fuel off is more than injectors: the bowl is drained or run dry, the line closed, and both are said
// and ticked at every step that turns the new unit on the starter without fuel.
func TestFuelOffIsTheBowlToo(t *testing.T) {
	p := orderOf(t, "gorse-hill")
	down, _ := p.Step(StepFuelDown)
	for _, word := range []string{"clamp the hose before the pump", "fuse of an electric fuel pump", "Drain the bowl"} {
		if !strings.Contains(down.Text, word) {
			t.Errorf("fuel down does not say %q: %s", word, down.Text)
		}
	}
	for _, id := range []StepID{StepTurnOver, StepBase} {
		st, _ := p.Step(id)
		ticked := slices.ContainsFunc(st.Demand.Also, func(a Also) bool {
			return a.ID == LookFuel && strings.Contains(a.Ask, "bowl drained or run dry")
		})
		if !strings.Contains(st.Text, "bowl empty: drained or run dry") || !ticked || strings.Contains(st.Text, "injector") {
			t.Errorf("«%s»: %s %v", id, st.Text, st.Demand.Also)
		}
		if injected, _ := orderOf(t, "heron-ferry").Step(id); !strings.Contains(injected.Text, "every injector unplugged") {
			t.Errorf("«%s» of an injected engine: %s", id, injected.Text)
		}
	}
}

// The compression side is told by thumb, whistle or gauge, and what was put into the hole is taken out again.
func TestCompressionByThumbWhistleOrGauge(t *testing.T) {
	for name, p := range kinds(t) {
		st, _ := p.Step(StepLead)
		for _, word := range []string{"thumb, whistle or gauge on plug hole", "Feel, hear or read", "Take whistle or gauge out"} {
			if !strings.Contains(st.Text, word) {
				t.Errorf("%s does not say %q: %s", name, word, st.Text)
			}
		}
	}
}
