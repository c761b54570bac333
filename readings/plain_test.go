package readings_test

import (
	"testing"

	"phasewright/quantity"
	"phasewright/readings"
	words "phasewright/words/plain"
)

// Advice, warnings, findings, patterns, doubts and proofs of readings of many kinds are plain: what is to be done in at
// most 15 words a sentence, short on average, no word in a meaning that another has. Readings invented.
func TestTextsArePlain(t *testing.T) {
	stated, wide, steps, turns := boat(), boat(), boat(), boat()
	stated.ReadingU = 0.3
	wide.Common[0].Limit = 1.5
	steps.Steps = readings.Steps{Vanes: []float64{30}, Tooth: 48, Spacing: 120}
	turns.Places, turns.AllowanceStep, turns.HousingTravel = []quantity.Crank{0, 480, 240, 600, 120, 360}, 0, 0.5
	six := []float64{800, 1400, 2000, 2600, 3200, 3700}
	noise := []float64{0.1, -0.15, 0.05, -0.1, 0.15, -0.05}
	row := func(n, locked, shown float64) readings.Row {
		return readings.Row{Speed: quantity.Speed(n), Locked: quantity.Crank(locked), Shown: quantity.Crank(shown)}
	}
	line := func(speeds []float64, offset, slope, scatter, walk float64) (out []readings.Row) {
		for i, n := range speeds {
			out = append(out, row(n, 8, 8+offset+slope*n/1000+scatter*noise[i%6]+walk*float64(i)))
		}
		return out
	}
	sets := map[string][]readings.Row{
		"none": nil, "one": line(six[:1], 3, 0, 1, 0), "two": line(six[:2], 3, 0, 1, 0), "three": line(six[:3], 3, 0, 1, 0),
		"one speed": line([]float64{800, 800, 800}, 3, 0, 1, 0), "near": line([]float64{850, 850, 900}, 0.5, 0, 5, 0),
		"sound": line(six, 0, 0, 1, 0), "housing": line(six, 3, 0, 1, 0), "late": line(six, -3, 0, 1, 0),
		"delay": line(six, 0, -1.5, 1, 0), "early with speed": line(six, 0, 1.5, 1, 0), "both": line(six, 3, -1.5, 1, 0),
		"scatters": line(append(six, 800), 0, 0, 40, 0), "walks": line(append(six, 800), 0, 0, 1, -0.5),
		"a tooth": line(six, 48, 0, 1, 0), "an edge": line(six, 30, 0, 1, 0), "a tower": line(six, 120, 0, 1, 0),
		"two sparks": line(six, 8, 0, 1, 0), "starter": append(line(six, 0.2, 0, 1, 0), row(150, 8, 3), row(150, 8, 3.5)),
		"misread": append(line(six, 0.2, 0, 1, 0), row(2200, 8, 18), row(1400, 8, 8.3), row(3200, 8, 8)),
		"bends":   {row(800, 8, 8), row(1400, 8, 12), row(2000, 8, 15), row(2600, 8, 15), row(3200, 8, 12), row(3700, 8, 8), row(800, 8, 8.1), row(2000, 8, 15.1), row(3700, 8, 8.1)},
		"map":     {row(800, 6, 12), row(1400, 20, 40), row(2000, 6, 12.1), row(2600, 20, 39.8), row(3200, 6, 12.2), row(3700, 20, 40)},
	}
	var wires []readings.Row
	for i, r := range line(six, 0, 0, 1, 0) {
		wires = append(wires, r)
		r.Wire, r.Shown = 4, r.Shown+3+quantity.Crank(noise[(i+2)%6])
		wires = append(wires, r)
	}
	sets["wires"] = wires
	sentences, total := 0, 0
	check := func(name, text string, most int) {
		for _, one := range words.Sentences(text) {
			sentences, total = sentences+1, total+words.Words(one)
		}
		for _, long := range words.Long(text, most) {
			t.Errorf("%s: %s", name, long)
		}
		for _, fault := range words.Faults(text) {
			t.Errorf("%s: %s", name, fault)
		}
	}
	for name, rows := range sets {
		for kind, set := range map[string]readings.Settings{"boat": boat(), "stated": stated, "wide": wide, "steps": steps, "turns": turns} {
			name := name + ", " + kind
			res, err := readings.Fit(rows, set)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			for _, text := range res.Advice {
				check(name, text, words.LongestDo)
			}
			for _, text := range append([]string{res.Finding()}, res.Warnings...) {
				check(name, text, words.Longest)
			}
			if p := res.Pattern(); p != nil {
				check(name, p.Because, words.Longest)
				check(name, p.Look, words.LongestDo)
			}
			for _, d := range res.Asked {
				check(name, d.Because, words.Longest)
				check(name, d.Remedy, words.LongestDo)
			}
			if len(rows) == 0 {
				continue
			}
			p, err := readings.Prove(nil, rows, set, set, readings.Simulation{Draws: 1000, Seed: 1})
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			for _, text := range append(p.Words, p.Warnings...) {
				check(name, text, words.Longest)
			}
		}
	}
	if mean := float64(total) / float64(sentences); mean > words.Average || sentences < 500 {
		t.Errorf("%d sentences of %.1f words on average, more than %d", sentences, mean, words.Average)
	} else {
		t.Logf("%d sentences of %.1f words on average", sentences, mean)
	}
}
