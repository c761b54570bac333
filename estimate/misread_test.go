package estimate_test

import (
	"fmt"
	"testing"

	"phasewright/estimate"
)

// One misread of 4° among six readings with u = 0.4° is named in at least 95 sets of 100; a good
// reading is accused in at most 2 clean sets of 100. Other lengths, and a scatter that is not
// what was stated, are reported beside it and held to what such sets can bear.
func TestMisreadsAreNamedAndGoodReadingsAreNot(t *testing.T) {
	sets, slack := 4000, 0.0
	if testing.Short() { // the least shares of 400 sets scatter by 0.7 %, the others by no more than 1.6 %
		sets, slack = 400, 3
	}
	r := rnd(21)
	stated := estimate.MisreadRule{Alpha: 0.005}
	usual := estimate.MisreadRule{PriorDOF: 4} // nobody stated u: the usual one is believed half as much
	for _, c := range []struct {
		n              int
		scatter        float64 // true sd; u is always given as 0.4
		rule           estimate.MisreadRule
		named, accused float64 // least and most, %
	}{
		{6, 0.4, stated, 95, 2},
		{6, 0.4, usual, 95, 2},
		{6, 0.2, stated, 95, 2},
		{6, 0.6, stated, 0, 2},  // half as much scatter again as stated: how many are named is reported only
		{6, 0.8, stated, 0, 8},  // twice as much: what the doc comment owns up to
		{6, 2.4, stated, 0, 12}, // six times as much: the others' own scatter must hold the rule back
		{5, 0.4, stated, 95, 2},
		{4, 0.4, stated, 80, 2},
		{12, 0.4, stated, 95, 2},
		{20, 0.4, stated, 95, 2},
		{100, 0.4, stated, 95, 2}, // the long way round: many admitted at once
	} {
		x, y, u := make([]float64, c.n), make([]float64, c.n), make([]float64, c.n)
		for i := range x {
			x[i], u[i] = 800+2800*float64(i)/float64(c.n-1), 0.4
		}
		var named, alone, accused int
		for set := range sets {
			for i := range y {
				y[i] = 1.9 - 0.0005*x[i] + c.scatter*r.NormFloat64()
			}
			if len(estimate.Misreads(x, y, u, c.rule)) > 0 {
				accused++
			}
			bad := set % c.n
			y[bad] += 4 * float64(1-2*(set/c.n%2))
			got := estimate.Misreads(x, y, u, c.rule)
			for _, g := range got {
				if g == bad {
					named++
					if len(got) == 1 {
						alone++
					}
				}
			}
		}
		percent := func(k int) float64 { return 100 * float64(k) / float64(sets) }
		name := fmt.Sprintf("%d readings, scatter %g stated 0.4, %+v", c.n, c.scatter, c.rule)
		t.Logf("%s: misread named %.1f %% (alone %.1f %%), good reading accused %.2f %%", name, percent(named), percent(alone), percent(accused))
		if percent(named) < c.named-slack {
			t.Errorf("%s: misread named in %.1f %% of sets, want at least %g", name, percent(named), c.named)
		}
		if percent(accused) > c.accused+slack {
			t.Errorf("%s: a good reading accused in %.2f %% of clean sets, want at most %g", name, percent(accused), c.accused)
		}
	}
}

// Two misreads on one side, at neighbouring speeds, hide each other from any test that takes
// one reading out at a time.
func TestTwoMisreadsDoNotHideEachOther(t *testing.T) {
	r := rnd(5)
	var both int
	const sets = 500
	for range sets {
		x, y, u := make([]float64, 10), make([]float64, 10), make([]float64, 10)
		for i := range x {
			x[i], u[i] = 800+300*float64(i), 0.4
			y[i] = 0.4 * r.NormFloat64()
		}
		y[8] += 5
		y[9] += 5
		if got := estimate.Misreads(x, y, u, estimate.MisreadRule{}); len(got) == 2 && got[0] == 8 && got[1] == 9 {
			both++
		}
	}
	t.Logf("both named in %.1f %% of sets", 100*float64(both)/sets)
	if both < sets*90/100 {
		t.Errorf("both named in %d of %d sets", both, sets)
	}
}

func TestMisreadsKeepsQuiet(t *testing.T) {
	u := func(n int) []float64 {
		s := make([]float64, n)
		for i := range s {
			s[i] = 0.4
		}
		return s
	}
	for _, c := range []struct {
		name string
		x, y []float64
	}{
		{"three readings cannot say which is wrong", []float64{800, 1600, 2400}, []float64{0, 9, 0}},
		{"the one at another speed holds the slope alone", []float64{800, 800, 800, 800, 800, 3000}, []float64{0, 0.1, -0.1, 0, 0.1, 6}},
		{"a bend is no misread", []float64{800, 1200, 1600, 2000, 2400, 2800, 3200}, []float64{0, 0.4, 1.6, 3.6, 6.4, 10, 14.4}},
		{"no readings", nil, nil},
		{"half against half", []float64{1, 2, 3, 4, 5, 6}, []float64{0, 9, 0, 9, 0, 9}},
	} {
		if got := estimate.Misreads(c.x, c.y, u(len(c.x)), estimate.MisreadRule{}); len(got) != 0 {
			t.Errorf("%s: %v named", c.name, got)
		}
	}
	if got := estimate.Misreads([]float64{800, 800, 800, 800, 800}, []float64{0, 0.2, 5, -0.2, 0}, u(5), estimate.MisreadRule{}); len(got) != 1 || got[0] != 2 {
		t.Errorf("a misread at one speed: %v named, want the third", got)
	}
}

// A million readings with a few gross ones, and a million with no body at all, must not take
// forever: the work grows with the number of readings, not with its square.
func BenchmarkMisreadsMillion(b *testing.B) {
	const n = 1_000_000
	r := rnd(3)
	x, y, u := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range x {
		x[i], y[i], u[i] = 800+3000*r.Float64(), 0.4*r.NormFloat64(), 0.4
	}
	wild := make([]float64, n)
	for i := range wild {
		wild[i] = r.NormFloat64() / r.NormFloat64() // Cauchy
	}
	for i := range 100 {
		y[i*9973] += 9
	}
	b.Run("gross", func(b *testing.B) {
		for b.Loop() {
			if got := estimate.Misreads(x, y, u, estimate.MisreadRule{}); len(got) < 100 {
				b.Fatalf("%d of 100 named", len(got))
			}
		}
	})
	b.Run("wild", func(b *testing.B) {
		for b.Loop() {
			estimate.Misreads(x, wild, u, estimate.MisreadRule{})
		}
	})
}

func BenchmarkMisreadsClean20(b *testing.B) { benchMisreads(b, 0) }
func BenchmarkMisreadsFound20(b *testing.B) { benchMisreads(b, 4) }

func benchMisreads(b *testing.B, bad float64) {
	r := rnd(1)
	x, y, u := make([]float64, 20), make([]float64, 20), make([]float64, 20)
	for i := range x {
		x[i], y[i], u[i] = 800+150*float64(i), 0.3*r.NormFloat64(), 0.4
	}
	y[7] += bad
	for b.Loop() {
		estimate.Misreads(x, y, u, estimate.MisreadRule{})
	}
}
