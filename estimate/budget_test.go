package estimate_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"phasewright/estimate"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.10g, want %.10g ± %g", what, got, want, tolerance)
	}
}

// JCGM 100:2008 H.1, end-gauge calibration: terms 25, 9.7, 2.9 and 16.6 nm with 18, 25.6, 50
// and 2 degrees of freedom. Published: u = 32 nm, ν_eff = 16.7 (16 used), t₉₉ = 2.92, U₉₉ = 93 nm.
func TestBudgetOfEndGauge(t *testing.T) {
	b := estimate.Budget{
		{Name: "standard", Kind: estimate.TypeB, U: 25, Sensitivity: 1, DOF: 18},
		{Name: "difference", Kind: estimate.TypeA, U: 9.7, Sensitivity: 1, DOF: 25.6},
		{Name: "expansion", Kind: estimate.TypeB, U: 2.9, Sensitivity: -1, DOF: 50},
		// Half the sensitivity on twice the figure: the product counts.
		{Name: "temperature", Kind: estimate.TypeB, U: 33.2, Sensitivity: 0.5, DOF: 2},
	}
	c := b.Combine(0.99)
	near(t, "combined u (published 32)", c.U, 32, 0.5)
	near(t, "combined u, all digits", c.U, math.Sqrt(25*25+9.7*9.7+2.9*2.9+16.6*16.6), 1e-12)
	if got := math.Floor(c.DOF*10) / 10; got != 16.7 {
		t.Errorf("effective degrees of freedom %.3f, published 16.7", c.DOF)
	}
	near(t, "t factor (published 2.92, read at 16)", c.K, 2.92, 0.005)
	near(t, "expanded uncertainty (published 93)", c.Expanded, 93, 0.5)
}

// JCGM 100:2008 H.1.6, the comparator's part: 5.8, 3.9 and 6.7 nm with 24, 5 and 8 degrees of
// freedom. Published: 9.7 nm, 25.6 (from rounded terms; 25.4 from these).
func TestBudgetOfComparator(t *testing.T) {
	c := estimate.Budget{{U: 5.8, Sensitivity: 1, DOF: 24}, {U: 3.9, Sensitivity: 1, DOF: 5}, {U: 6.7, Sensitivity: 1, DOF: 8}}.Combine(0.95)
	near(t, "combined u", c.U, 9.7, 0.05)
	near(t, "effective degrees of freedom", c.DOF, 25.6, 0.2)
}

func TestBudgetEdges(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		name string
		b    estimate.Budget
		u, U float64
	}{
		{"empty budget knows nothing", nil, inf, inf},
		{"missing uncertainty is infinite", estimate.Budget{{U: 1, Sensitivity: 1, DOF: 5}, {U: inf, Sensitivity: 1, DOF: inf}}, inf, inf},
		{"unless the result does not depend on it", estimate.Budget{{U: 1, Sensitivity: 1, DOF: inf}, {U: inf, Sensitivity: 0, DOF: 1}}, 1, 1.959963984540054},
		{"exact inputs", estimate.Budget{{U: 0, Sensitivity: 1, DOF: 3}}, 0, 0},
		{"no degrees of freedom, no interval", estimate.Budget{{U: 1, Sensitivity: 1, DOF: 0}}, 1, inf},
	} {
		got := c.b.Combine(0.95)
		if got.U != c.u || !(got.Expanded == c.U || math.Abs(got.Expanded-c.U) < 1e-12) {
			t.Errorf("%s: u = %v, U = %v; want %v, %v", c.name, got.U, got.Expanded, c.u, c.U)
		}
	}
	if err := (estimate.Budget{{Name: "x", U: -1}}).Check(); err == nil {
		t.Error("a negative uncertainty went through")
	}
	if err := (estimate.Budget{{Name: "x", U: 1, Sensitivity: math.NaN()}}).Check(); err == nil {
		t.Error("a sensitivity that is no number went through")
	}
	// JCGM 100 G.4.2: a figure good to 25 % has 8 degrees of freedom.
	near(t, "degrees of freedom of a figure good to 25 %", estimate.RelativeDOF(0.25), 8, 1e-12)
}

// Limits to standard uncertainties: JCGM 100 4.3.7 (a/√3), 4.3.9 (a/√6); JCGM 101 6.4.6 (a/√2).
func TestLimitsToStandardUncertainty(t *testing.T) {
	near(t, "rectangular", estimate.Rectangular.FromLimit(1), 0.5773502692, 1e-9)
	near(t, "triangular", estimate.Triangular.FromLimit(1), 0.4082482905, 1e-9)
	near(t, "arcsine", estimate.Arcsine.FromLimit(1), 0.7071067812, 1e-9)
	near(t, "normal, two sigma", estimate.Normal.FromLimit(1), 0.5, 1e-12)
	if u := estimate.Rectangular.FromLimit(math.NaN()); !math.IsInf(u, 1) {
		t.Errorf("an unknown limit gave %v, want infinity", u)
	}
}

func TestBudgetProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "lines")
		var b estimate.Budget
		var sum, least float64
		least = math.Inf(1)
		for range n {
			l := estimate.BudgetLine{U: rapid.Float64Range(0.001, 1000).Draw(t, "u"), Sensitivity: rapid.Float64Range(0.1, 10).Draw(t, "c"), DOF: float64(rapid.IntRange(1, 60).Draw(t, "dof"))}
			b = append(b, l)
			sum += l.DOF
			least = min(least, l.DOF)
		}
		c := b.Combine(0.95)
		// JCGM 100 G.4.1, note: ν_eff lies between the smallest and the sum.
		if c.DOF < least*(1-1e-9) || c.DOF > sum*(1+1e-9) {
			t.Fatalf("effective degrees of freedom %v outside %v…%v", c.DOF, least, sum)
		}
		scale := rapid.Float64Range(1e-100, 1e100).Draw(t, "scale")
		scaled := make(estimate.Budget, n)
		for i := range b {
			scaled[i] = b[i]
			scaled[i].U *= scale
		}
		s := scaled.Combine(0.95)
		if math.Abs(s.U/scale-c.U) > 1e-9*c.U || math.Abs(s.DOF-c.DOF) > 1e-6*c.DOF {
			t.Fatalf("a change of unit changed the budget: %v, %v", c, s)
		}
	})
}
