package verdict

import (
	"strings"
	"testing"

	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/sheet"
	"phasewright/suspects"
)

// looked is one reading: the speed, and what the light showed and the controller commanded.
type looked struct{ rpm, shown, locked float64 }

// constant is five readings of one error by an eye that is good to half a degree, the first speed read again.
func constantError(by float64) []looked {
	const locked = 12
	var out []looked
	for i, n := range []float64{850, 1700, 2600, 3500, 4400, 850} {
		eye := []float64{0.2, -0.3, 0.1, -0.1, 0.3, 0}[i]
		shown := locked + by + eye
		if shown > 180 { // the damper has one zero mark
			shown -= 360
		}
		if shown < -180 {
			shown += 360
		}
		out = append(out, looked{n, shown, locked})
	}
	return out
}

// What arithmetic alone knows for another fault than housing or allowance make never has anything turned, by the light
// alone: each row of the table of patterns (the design of the judge), on an engine of four cylinders with vanes of 12° of
// the shaft (24° of crank), fifteen teeth (48°), firings 180° apart, locked at 12°. All readings invented.
func TestNoPatternIsEverTurnedFor(t *testing.T) {
	for _, c := range []struct {
		name string
		rows []looked
		says string // a word of what is to be looked at
	}{
		{"other edge, early", constantError(24.2), "lamp"},
		{"other edge, late", constantError(-23.9), "lamp"},
		{"a tooth ahead", constantError(48), "rotor"},
		{"a tooth behind", constantError(-48.3), "rotor"},
		{"two teeth", constantError(96), "rotor"},
		{"a tower", constantError(180), "wire"},
		{"light counts two sparks", constantError(12), "two sparks"},
		{"twice the change commanded", []looked{{850, 24.2, 12}, {1700, 23.8, 12}, {2600, 12.1, 6}, {3500, 36.2, 18}, {4400, 23.9, 12}, {850, 12.0, 6}}, "two sparks"},
		{"more than phasing leaves", constantError(7.1), "piston stop"},
		{"error follows the command", []looked{{850, 10.2, 6}, {1700, 9.9, 9}, {2600, 10.1, 12}, {3500, 10, 15}, {4400, 9.8, 18}, {850, 10.1, 12}}, "command"},
		{"clamp walks", []looked{{850, 12, 12}, {1700, 11.1, 12}, {2600, 10.1, 12}, {3500, 9, 12}, {4400, 8.1, 12}, {850, 6.9, 12}}, "clamp"},
		{"scatter", []looked{{850, 15.5, 12}, {1700, 9, 12}, {2600, 16.5, 12}, {3500, 8, 12}, {4400, 15.5, 12}, {850, 8.5, 12}, {2600, 9.5, 12}, {4400, 8.5, 12}}, "capture"},
		{"one speed twice, different", []looked{{850, 12.2, 12}, {2600, 14.6, 12}, {4400, 14.9, 12}, {850, 17.4, 12}}, ""},
	} {
		card := card(t)
		set := readings.FromCard(card)
		var rows []readings.Row
		for _, r := range c.rows { // he was asked about the unlikely ones and says that they were shown
			rows = append(rows, readings.Row{Speed: quantity.Speed(r.rpm), Shown: quantity.Crank(r.shown),
				Locked: quantity.Crank(r.locked), Confirmed: true})
		}
		fit, err := readings.Fit(rows, set)
		if err != nil {
			t.Fatal(err)
		}
		proof, err := readings.Prove(nil, rows, set, set, readings.Simulation{Draws: 20_000, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		base := Evidence{Card: card}
		if base.Sheet, err = sheet.Make(card); err != nil {
			t.Fatal(err)
		}
		j := OfReadings(Light{Rows: rows, Fit: fit, Proof: proof}, base)
		shown := j.OntoReadings(fit)
		if j.Cure != nil || j.Verdict == readings.Pass || j.Word == Pass || shown.Housing.TurnDeg != 0 || shown.Allowance.Changes() {
			t.Errorf("%s: %s, cure %v, housing %v: %s – %s", c.name, j.Verdict, j.Cure, shown.Housing, j.First, j.Next)
		}
		words := j.First + " " + j.Next
		if strings.Contains(words, "turn the housing") || strings.Contains(words, "delay allowance from") {
			t.Errorf("%s: a turn stands in the words: %s", c.name, words)
		}
		if !strings.Contains(words, c.says) {
			t.Errorf("%s: nothing of %q: %s", c.name, c.says, words)
		}
	}
}

// The same engine and eye, off by what phasing leaves, with the zero mark proven by the piston stop: that is turned for,
// so that the rows above can fail.
func TestWhatPhasingLeavesIsTurnedFor(t *testing.T) {
	card := card(t)
	set := readings.FromCard(card)
	var rows []readings.Row
	for _, r := range constantError(2.6) {
		rows = append(rows, readings.Row{Speed: quantity.Speed(r.rpm), Shown: quantity.Crank(r.shown), Locked: quantity.Crank(r.locked)})
	}
	fit, err := readings.Fit(rows, set)
	if err != nil {
		t.Fatal(err)
	}
	proof, err := readings.Prove(nil, rows, set, set, readings.Simulation{Draws: 20_000, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	contact := &suspects.Number{Value: 60, U: 0.1}
	seen := &Seen{Evidence: &suspects.Evidence{PistonStop: suspects.PistonStop{Before: contact, After: contact}}}
	j := OfReadings(Light{Rows: rows, Fit: fit, Proof: proof}, Evidence{Card: card, Seen: seen})
	if j.Cure == nil || j.Cure.Housing.Direction != readings.WithRotor || j.Cure.Housing.TurnDeg < 1 || j.Cure.Housing.TurnDeg > 1.6 {
		t.Errorf("cure %+v: %s – %s", j.Cure, j.First, j.Next)
	}
}
