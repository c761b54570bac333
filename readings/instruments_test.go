package readings_test

import (
	"math"
	"testing"

	"phasewright/readings"
)

// budgetOf fits five readings of a boat that are delay left over late, and gives the budget's shares by name.
func budgetOf(t *testing.T, set readings.Settings, speeds []float64) (map[string]readings.Line, *readings.Result) {
	t.Helper()
	e := truth{constant: 0.2, tau: 180}
	var rows []readings.Row
	for i, n := range speeds {
		rows = append(rows, e.row(8, n, 100, []float64{0.1, -0.1, 0, 0.1, -0.1}[i%5]))
	}
	res := fit(t, rows, set)
	out := map[string]readings.Line{}
	for _, l := range res.Budget {
		out[l.Name] = l
	}
	return out, res
}

// What instruments bring into the budget, by hand (JCGM 100:2008, 4.3.3, 4.3.7 and eq. 10). A certificate gives U = 0.4°
// with k = 2: u = 0.2°. A maker's limit of ± 0.6° gives u = 0.6/√3 = 0.34641°. A light late by at most 30 µs gives
// u = 30/√3 = 17.3205 µs, which at n rpm is 6·n·17.3205·10⁻⁶ degrees. Together with the rest the root of the sum of
// squares.
func TestInstrumentsEnterTheBudget(t *testing.T) {
	speeds := []float64{800, 1400, 2000, 2600, 3200}
	bare, was := budgetOf(t, boat(), speeds)
	if _, there := bare["timing light"]; there {
		t.Fatal("a light that nobody picked stands in the budget")
	}
	sum := func(lines map[string]readings.Line) float64 {
		var squares float64
		for _, l := range lines {
			squares += float64(l.U) * float64(l.U)
		}
		return math.Sqrt(squares)
	}
	n := was.Worst.RPM
	for name, c := range map[string]struct {
		common readings.Common
		u      float64
	}{
		"certificate": {readings.TimingLight(0.4).Certified(), 0.2},
		"maker":       {readings.TimingLight(0.6), 0.34641016},
		"late flash":  {readings.LateLight(30), 6 * n * 17.320508 * 1e-6},
	} {
		c.common.Source = "invented"
		got, res := budgetOf(t, boat().With(c.common), speeds)
		near(t, name+": u of the light", float64(got["timing light"].U), c.u, 1e-6)
		near(t, name+": combined", sum(got), math.Hypot(sum(bare), c.u), 1e-6)
		if res.Worst.U <= was.Worst.U {
			t.Errorf("%s: U %v did not grow from %v", name, res.Worst.U, was.Worst.U)
		}
		if got["timing light"].Source != "invented" || got["timing light"].Assumed {
			t.Errorf("%s: %+v", name, got["timing light"])
		}
	}
	// 80 µs left over: a tachometer good to 1 % leaves 0.8/√3 µs of it open, one good to 0.1 % (certificate, k = 2)
	// 0.04 µs: 6·n·0.04·10⁻⁶ degrees.
	set := boat()
	set.Common = readings.UsualCommon()
	before, _ := budgetOf(t, set, speeds)
	after, res := budgetOf(t, set.With(readings.Tachometer(0.001).Certified()), speeds)
	left := math.Abs(res.Delay.Value)
	near(t, "tachometer as assumed, 1 %", float64(before["tachometer"].U), 6*n*left*0.01/math.Sqrt(3)*1e-6, 1e-6)
	near(t, "tachometer of 0.1 %", float64(after["tachometer"].U), 6*n*left*0.0005*1e-6, 1e-6)
	if after["tachometer"].Assumed || !before["tachometer"].Assumed || after["tachometer"].U >= before["tachometer"].U {
		t.Errorf("before %+v, after %+v", before["tachometer"], after["tachometer"])
	}
	// All at one speed, a late flash cannot be told from a constant.
	one, res := budgetOf(t, boat().With(readings.LateLight(30)), []float64{2000, 2000, 2000, 2000, 2000})
	if u := float64(one["timing light"].U); math.Abs(u-6*2000*17.320508e-6) > 1e-6 {
		t.Errorf("at one speed u = %v of %+v", u, res.Worst)
	}
}

// Of two lights in one job the wider counts: nobody wrote down which reading was whose.
func TestWiderOfTwoInstruments(t *testing.T) {
	narrow, wide := readings.TimingLight(0.2), readings.TimingLight(0.6)
	narrow.Source, wide.Source = "a", "b"
	for _, set := range []readings.Settings{boat().With(narrow).With(wide), boat().With(wide).With(narrow)} {
		last := set.Common[len(set.Common)-1]
		if last.Source != "b" || len(set.Common) != len(boat().Common)+1 {
			t.Errorf("%+v", set.Common)
		}
	}
}

// The simulation of the proof (JCGM 101) agrees with the budget where a light is late.
func TestLateLightIsSimulated(t *testing.T) {
	set := boat().With(readings.LateLight(40))
	e := truth{constant: 0.1, tau: 110}
	var rows []readings.Row
	for i := range 30 {
		rows = append(rows, e.row(8, 800+100*float64(i%25), 100, []float64{0.05, -0.05, 0, 0.04, -0.04}[i%5]))
	}
	p, err := readings.Prove(nil, rows, set, set, readings.Simulation{Seed: 3})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "standard deviation of the simulation", float64(p.Check.SD), float64(p.Combined), 0.02*float64(p.Combined))
}
