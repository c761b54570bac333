package readings

import (
	"encoding/json"
	"testing"

	"phasewright/quantity"
)

func boat() Settings {
	return Settings{AllowanceNow: 100, AllowanceStep: 20, Idle: 750, Redline: 4200, Cranking: 180, Tolerance: 1, RotorTurns: "counterclockwise, seen from above the cap"}
}

func TestSmoke(t *testing.T) {
	var rows []Row
	for i, n := range []float64{750, 1200, 1800, 2400, 3000, 3600} {
		r := Row{Locked: 8}
		r.Speed = quantity.Speed(n)
		e := 1.9 - 6e-6*n*77 + []float64{.1, -.1, .05, -.05, .1, -.1}[i]
		r.Shown = 8 + quantity.Crank(e)
		rows = append(rows, r)
	}
	set := boat()
	set.Common = UsualCommon()
	res, err := Fit(rows, set)
	if err != nil {
		t.Fatal(err)
	}
	b, _ := json.MarshalIndent(res, "", " ")
	t.Log(string(b))
}
func BenchmarkFit20(b *testing.B) {
	var rows []Row
	for i := range 20 {
		n := 800 + 150*float64(i)
		rows = append(rows, Row{Speed: quantity.Speed(n), Locked: 8, Shown: 8 + quantity.Crank(1.9-6e-6*n*77+0.1*float64(i*7%5-2))})
	}
	set := boat()
	set.Common = UsualCommon()
	for b.Loop() {
		if _, err := Fit(rows, set); err != nil {
			b.Fatal(err)
		}
	}
}
