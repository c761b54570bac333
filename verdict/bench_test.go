package verdict

import (
	"testing"

	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/sheet"
	"phasewright/suspects"
)

// crowded is a job with forty readings and two recordings whose timing is outside: the case that takes longest, since
// the suspects are weighed too.
func crowded(tb testing.TB) Evidence {
	c := proven(tb)
	set := readings.FromCard(c)
	e := Evidence{Card: c}
	var rows []readings.Row
	for i := range 40 {
		n := 800 + 100*float64(i)
		rows = append(rows, readings.Row{Speed: quantity.Speed(n), Locked: 12,
			Shown: quantity.Crank(12 + 2.5 + 0.1*float64(i%5-2))})
	}
	fit, err := readings.Fit(rows, set)
	if err != nil {
		tb.Fatal(err)
	}
	proof, err := readings.Prove(nil, rows, set, set, readings.Simulation{Seed: 1})
	if err != nil {
		tb.Fatal(err)
	}
	if e.Sheet, err = sheet.Make(c); err != nil {
		tb.Fatal(err)
	}
	if e.Engine, err = suspects.New(c, suspects.DefaultPriors()); err != nil {
		tb.Fatal(err)
	}
	e.Light = &Light{Rows: rows, Fit: fit, Proof: proof}
	for range 2 {
		r := sound()
		r.Timing.Offset = readings.Interval{Value: 2.5, U: 0.1, Lo: 2.3, Hi: 2.7}
		for i := range r.Timing.ErrorAt {
			r.Timing.ErrorAt[i].Value = 2.5
		}
		r.Timing.Housing = readings.Housing{TurnDeg: 1.2, Direction: readings.WithRotor}
		e.Captures = append(e.Captures, Capture{Name: "run", Result: r})
	}
	return e
}

func BenchmarkJudge(b *testing.B) {
	e := crowded(b)
	var j Judgement
	for b.Loop() {
		j = Judge(e)
	}
	if j.Cure == nil {
		b.Fatalf("no cure: %s – %s", j.First, j.Next)
	}
}

func BenchmarkPrepare(b *testing.B) {
	c := card(b)
	for b.Loop() {
		if _, err := suspects.New(c, suspects.DefaultPriors()); err != nil {
			b.Fatal(err)
		}
	}
}
