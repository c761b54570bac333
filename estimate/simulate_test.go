package estimate_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"phasewright/estimate"
)

func rnd(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 1)) }

// JCGM 101:2008 9.2, sums of four quantities: standard uncertainty 2.0 and 95 % interval ±3.92 for
// four standard normals, ±3.88 for four rectangulars (±√3); 10.1 (10.15) and ±17.0 with one of
// them ten times as wide, where the budget says ±19.9.
func TestSumsOfFourQuantities(t *testing.T) {
	sum := func(x []float64) float64 { return x[0] + x[1] + x[2] + x[3] }
	for _, c := range []struct {
		name           string
		shape          estimate.Shape
		last, u, limit float64
	}{
		{"four normals", estimate.Normal, 1, 2.0, 3.92},
		{"four rectangulars", estimate.Rectangular, 1, 2.0, 3.88},
		{"one wide rectangular", estimate.Rectangular, 10, 10.15, 17.0},
	} {
		in := make([]estimate.Input, 4)
		for i := range in {
			in[i] = estimate.Input{Shape: c.shape, U: 1}
		}
		in[3].U = c.last
		s, err := estimate.Simulate(in, sum, 1_000_000, 7)
		if err != nil {
			t.Fatal(err)
		}
		near(t, c.name+": mean", s.Mean(), 0, 5*c.u/1000)
		near(t, c.name+": u", s.SD(), c.u, 0.01*c.u)
		lo, hi := s.Symmetric(0.95)
		near(t, c.name+": lower end", lo, -c.limit, 0.006*c.limit)
		near(t, c.name+": upper end", hi, c.limit, 0.006*c.limit)
		a, b := s.Shortest(0.95)
		if b-a > hi-lo+1e-12 {
			t.Errorf("%s: the shortest interval %v is longer than the symmetric %v", c.name, b-a, hi-lo)
		}
	}
}

// JCGM 101:2008 9.3, mass calibration: first order gives u = 0.0539 mg, simulation 0.0754 mg
// (published, from memory; 10⁷ draws apart from this program give 0.07546 and 1.0845 to 1.3836).
func TestMassCalibrationShowsWhatFirstOrderMisses(t *testing.T) {
	in := []estimate.Input{
		{Name: "mRc", Shape: estimate.Normal, Value: 100000, U: 0.050},
		{Name: "dmRc", Shape: estimate.Normal, Value: 1.234, U: 0.020},
		{Name: "air", Shape: estimate.Rectangular, Value: 1.20, U: 0.10 / math.Sqrt(3)},
		{Name: "weight", Shape: estimate.Rectangular, Value: 8000, U: 1000 / math.Sqrt(3)},
		{Name: "reference", Shape: estimate.Rectangular, Value: 8000, U: 50 / math.Sqrt(3)},
	}
	s, err := estimate.Simulate(in, func(x []float64) float64 {
		return (x[0]+x[1])*(1+(x[2]-1.2)*(1/x[3]-1/x[4])) - 100000
	}, 1_000_000, 3)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mean", s.Mean(), 1.234, 0.0005)
	near(t, "u", s.SD(), 0.0754, 0.0004)
	lo, hi := s.Symmetric(0.95)
	near(t, "lower end", lo, 1.0845, 0.002)
	near(t, "upper end", hi, 1.3836, 0.002)
	first := estimate.Budget{{U: 0.05, Sensitivity: 1, DOF: math.Inf(1)}, {U: 0.02, Sensitivity: 1, DOF: math.Inf(1)}}.Combine(0.95)
	near(t, "first order u", first.U, 0.0539, 0.00005)
	if ok, _, _ := estimate.AgreesWith(1.234, first.Expanded, first.U, lo, hi, 2); ok {
		t.Error("the simulation is said to agree with a budget that it does not agree with")
	}
}

// Moments and quantiles of every shape.
func TestShapesHaveTheirSpread(t *testing.T) {
	for _, c := range []struct {
		in     estimate.Input
		sd     float64
		limit  float64 // half-width that no draw leaves
		p, end float64 // symmetric interval
	}{
		{estimate.Input{Shape: estimate.Normal, Value: 3, U: 2}, 2, math.Inf(1), 0.95, 2 * 1.959964},
		{estimate.Input{Shape: estimate.Rectangular, Value: 3, U: 2}, 2, 2 * math.Sqrt(3), 0.95, 0.95 * 2 * math.Sqrt(3)},
		{estimate.Input{Shape: estimate.Triangular, Value: 3, U: 2}, 2, 2 * math.Sqrt(6), 0.95, 2 * math.Sqrt(6) * (1 - math.Sqrt(0.05))},
		{estimate.Input{Shape: estimate.Arcsine, Value: 3, U: 2}, 2, 2 * math.Sqrt2, 0.95, 2 * math.Sqrt2 * math.Sin(0.95*math.Pi/2)},
		{estimate.Input{Shape: estimate.Student, Value: 3, U: 2, DOF: 8}, 2 * math.Sqrt(8.0/6), math.Inf(1), 0.95, 2 * 2.306004}, // TN 1297: t₈ = 2.31
		{estimate.Input{Shape: estimate.Student, Value: 3, U: 2, DOF: 1}, 0, math.Inf(1), 0.95, 2 * 12.706205},                   // t₁ has no standard deviation
	} {
		s, err := estimate.Simulate([]estimate.Input{c.in}, func(x []float64) float64 { return x[0] }, 400_000, 5)
		if err != nil {
			t.Fatal(err)
		}
		if c.sd > 0 {
			near(t, string(c.in.Shape)+": sd", s.SD(), c.sd, 0.01*c.sd)
			near(t, string(c.in.Shape)+": mean", s.Mean(), c.in.Value, 5*c.sd/math.Sqrt(400_000))
		}
		lo, hi := s.Symmetric(c.p)
		near(t, string(c.in.Shape)+": lower end", lo, c.in.Value-c.end, 0.02*c.end)
		near(t, string(c.in.Shape)+": upper end", hi, c.in.Value+c.end, 0.02*c.end)
		all, top := s.Symmetric(1)
		if all < c.in.Value-c.limit || top > c.in.Value+c.limit {
			t.Errorf("%s: draws from %v to %v leave the limits ±%v", c.in.Shape, all, top, c.limit)
		}
	}
}

func TestSimulationIsRepeatable(t *testing.T) {
	b := estimate.Budget{{U: 0.3, Sensitivity: 1, DOF: 4, Shape: estimate.Student}, {U: 0.2, Sensitivity: 1, Shape: estimate.Rectangular}}
	ends := func(seed uint64) [2]float64 {
		s, err := b.Simulate(1, 20000, seed)
		if err != nil {
			t.Fatal(err)
		}
		lo, hi := s.Symmetric(0.95)
		return [2]float64{lo, hi}
	}
	if ends(1) != ends(1) {
		t.Error("the same seed gave another sample")
	}
	if ends(1) == ends(2) {
		t.Error("another seed gave the same sample")
	}
}

func TestSimulationRefuses(t *testing.T) {
	one := func(x []float64) float64 { return x[0] }
	good := []estimate.Input{{U: 1}}
	for _, n := range []int{0, estimate.MinDraws - 1, estimate.MaxDraws + 1} {
		if _, err := estimate.Simulate(good, one, n, 1); !errors.Is(err, estimate.ErrDraws) {
			t.Errorf("%d draws: %v", n, err)
		}
	}
	for _, in := range []estimate.Input{{U: math.Inf(1)}, {U: -1}, {U: math.NaN()}, {Value: math.NaN()}, {Shape: estimate.Student, U: 1}} {
		if _, err := estimate.Simulate([]estimate.Input{in}, one, 1000, 1); err == nil {
			t.Errorf("input %+v was drawn", in)
		}
	}
	if _, err := estimate.Simulate(good, func([]float64) float64 { return math.NaN() }, 1000, 1); err == nil {
		t.Error("a model without a number went through")
	}
}

// The intervals by selection agree with those by sorting everything.
func TestIntervalsBySelection(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.SliceOfN(rapid.Float64Range(-5, 5), 40, 400).Draw(t, "draws")
		if rapid.Bool().Draw(t, "ties") {
			for i := range v {
				v[i] = math.Round(v[i])
			}
		}
		p := rapid.Float64Range(0.5, 0.99).Draw(t, "p")
		sorted := slices.Sorted(slices.Values(v))
		m := len(v)
		q := min(max(int(math.Floor(p*float64(m)+0.5)), 1), m-1)
		lo, hi := estimate.NewSample(slices.Clone(v)).Symmetric(p)
		r := (m - q) / 2
		if lo != sorted[r] || hi != sorted[r+q] {
			t.Fatalf("symmetric interval %v to %v, by sorting %v to %v", lo, hi, sorted[r], sorted[r+q])
		}
		a, b := estimate.NewSample(slices.Clone(v)).Shortest(p)
		best := math.Inf(1)
		for r := range m - q {
			best = min(best, sorted[r+q]-sorted[r])
		}
		if math.Abs((b-a)-best) > 1e-12 {
			t.Fatalf("shortest interval %v, by sorting %v", b-a, best)
		}
	})
}

// JCGM 101 clause 8 with two digits: u = 0.054 gives δ = 0.0005.
func TestAgreementBound(t *testing.T) {
	ok, d, delta := estimate.AgreesWith(1, 0.1, 0.054, 0.9004, 1.1001, 2)
	near(t, "δ", delta, 0.0005, 1e-15)
	near(t, "difference", d, 0.0004, 1e-12)
	if !ok {
		t.Error("ends within δ are said not to agree")
	}
	if ok, _, _ := estimate.AgreesWith(1, 0.1, 0.054, 0.9, 1.1006, 2); ok {
		t.Error("an end beyond δ is said to agree")
	}
}

// A budget of the size that a proof has: scatter, three marks, resolution, tachometer.
func BenchmarkSimulateMillion(b *testing.B) {
	budget := estimate.Budget{
		{U: 0.1, Sensitivity: 1, DOF: 5, Shape: estimate.Student},
		{U: 0.2, Sensitivity: 1, Shape: estimate.Rectangular},
		{U: 0.2, Sensitivity: 1, Shape: estimate.Rectangular},
		{U: 0.15, Sensitivity: 1, Shape: estimate.Triangular},
		{U: 0.1, Sensitivity: 1, Shape: estimate.Normal},
		{U: 0.05, Sensitivity: 1, Shape: estimate.Rectangular},
	}
	for b.Loop() {
		s, err := budget.Simulate(0, 1_000_000, 1)
		if err != nil {
			b.Fatal(err)
		}
		s.Symmetric(0.95)
	}
}
