package suspects

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime/debug"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"

	"phasewright/bench"
)

func close(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %.6g, wanted %.6g ± %.2g", what, got, want, tol)
	}
}

func TestFaultsStandAsInTheBench(t *testing.T) {
	table := bench.FaultTable()
	if len(table) != benchFaults {
		t.Fatalf("bench has %d faults, we know %d", len(table), benchFaults)
	}
	faults, _ := faultsOf(nil)
	for k, f := range faults {
		if k < benchFaults && table[k].Name != f.name {
			t.Errorf("fault %d is %s in the bench, %s here", k, table[k].Name, f.name)
		}
		if f.name == "" || f.title == "" || f.Do == "" || f.Check == "" {
			t.Errorf("fault %d has no name, title, cure or check: %+v", k, f)
		}
		if DefaultPriors().Weight[k] <= 0 {
			t.Errorf("%s has no prior", f.name)
		}
	}
}

// Bayes through the whole ranking, against the worked example of D. M. Eddy (1982; numbers as restated by Gigerenzer
// and Hoffrage, Psychological Review 102, 1995): prevalence 1 %, 80 % of those who have it test positive, 9.6 % of the
// others: positive means 7.8 %.
func TestBayesAgainstAWorkedExample(t *testing.T) {
	p := Priors{Nothing: 0.99 * (1 - 1e-12), None: 1e-12}
	p.Weight[lock] = 1
	e, err := NewFor(bench.Default(), p)
	if err != nil {
		t.Fatal(err)
	}
	unslip := func(c float64) float64 { return (c - slip/2) / (1 - slip) } // the ranking keeps a slip back: what is left must be the example's chance
	q := verdict("test", "", "", "", []string{"negative", "positive"}, func(p *point) float64 {
		if p.f.Unlocked {
			return unslip(0.8)
		}
		return unslip(0.096)
	})
	w := e.weigh([]item{{probe: q, outcome: 1}}, nil, nil)
	close(t, "chance after a positive test", w.sets[of(lock)], 0.0776, 0.0001) // 0.008/(0.008+0.09504)
	total := w.none
	for _, x := range w.sets {
		total += x
	}
	close(t, "sum of all", total, 1, 1e-12)
}

// Information sums against T. M. Cover and J. A. Thomas, Elements of Information Theory, 2nd ed. 2006: example 2.2.1
// and 2.4.1 (H(X) = 7/4, H(Y) = 2, I(X;Y) = 3/8 bit), and §7.1.4, the binary symmetric channel: 1 − H(0.11) = 0.5 bit.
func TestInformationAgainstTheTextbook(t *testing.T) {
	joint := [][]float64{ // rows y, columns x
		{1. / 8, 1. / 16, 1. / 32, 1. / 32},
		{1. / 16, 1. / 8, 1. / 32, 1. / 32},
		{1. / 16, 1. / 16, 1. / 16, 1. / 16},
		{1. / 4, 0, 0, 0},
	}
	close(t, "I(X;Y)", mutual(joint), 3./8, 1e-12)
	close(t, "H(X)", entropy([]float64{1. / 2, 1. / 4, 1. / 8, 1. / 8}), 7./4, 1e-12)
	close(t, "H(Y)", entropy([]float64{1. / 4, 1. / 4, 1. / 4, 1. / 4}), 2, 1e-12)
	close(t, "binary symmetric channel", mutual([][]float64{{0.445, 0.055}, {0.055, 0.445}}), 0.5, 1e-3)
}

// A number that is ±1 at even odds in unit noise carries 0.486 bit (the binary-input Gaussian channel at 0 dB; by
// direct integration below).
func TestInformationOfANumber(t *testing.T) {
	e, err := NewFor(bench.Default(), DefaultPriors())
	if err != nil {
		t.Fatal(err)
	}
	w := &weighed{e: e, comps: []*component{{in: of(lock), weight: 0.5, post: &posterior{}},
		{in: of(edge), weight: 0.5, post: &posterior{}}}, sound: &component{},
		order: []set{of(lock), of(edge)}, sets: map[set]float64{of(lock): 0.5, of(edge): 0.5}}
	w.fold()
	q := flat("t", "", "", "", 0, 1, 10, nil, [nuisances]float64{})
	q.mean = func(p *point) (float64, float64, bool) {
		if p.in.has(lock) {
			return 1, 0, true
		}
		return -1, 0, true
	}
	sum := 0.0
	const step = 0.001
	for y := -9.0; y < 9; y += step {
		a, b := math.Exp(-(y-1)*(y-1)/2)/math.Sqrt(2*math.Pi), math.Exp(-(y+1)*(y+1)/2)/math.Sqrt(2*math.Pi)
		for _, p := range []float64{a, b} {
			if p > 0 {
				sum += 0.5 * p * math.Log2(2*p/(a+b)) * step
			}
		}
	}
	close(t, "direct integration", sum, 0.486, 0.001) // from memory
	bits, _ := w.forecast().worth(&q)
	close(t, "eight points a component", bits, sum, 0.03)
}

// The marginal likelihood in closed form against the dense normal density N(0, V + X·P·Xᵀ), worked by another library's
// Cholesky factor.
func TestMarginalAgainstTheDenseNormal(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for round := range 20 {
		n, p := 1+rng.IntN(8), 1+rng.IntN(most)
		prior := make([]float64, p)
		for j := range prior {
			prior[j] = 0.05 + 4*rng.Float64()
		}
		lines := make([]line, n)
		s := mat.NewSymDense(n, nil)
		r := mat.NewVecDense(n, nil)
		for i := range lines {
			lines[i] = line{r: rng.NormFloat64(), v: 0.1 + rng.Float64()}
			for j := range p {
				lines[i].x[j] = rng.NormFloat64()
			}
			r.SetVec(i, lines[i].r)
		}
		for i := range lines {
			for k := range lines[:i+1] {
				v := 0.0
				for j := range p {
					v += lines[i].x[j] * prior[j] * lines[k].x[j]
				}
				if i == k {
					v += lines[i].v
				}
				s.SetSym(i, k, v)
			}
		}
		var c mat.Cholesky
		if !c.Factorize(s) {
			t.Fatal("not positive")
		}
		var x mat.VecDense
		if err := c.SolveVecTo(&x, r); err != nil {
			t.Fatal(err)
		}
		want := -0.5 * (mat.Dot(r, &x) + c.LogDet() + float64(n)*math.Log(2*math.Pi))
		close(t, "log marginal", marginal(lines, prior).log, want, 1e-9*math.Abs(want)+1e-9)
		if n < 2 {
			continue
		}
		// leaving one out: the ratio of the two joint densities
		cov, theta, all := solve(lines, prior, &lineSet{})
		_, _, less := solve(lines, prior, &lineSet{1})
		close(t, "left out", leaveOut(&lines[0], &cov, &theta, p), all-less, 1e-7)
		_ = round
	}
}

// One reading far off is taken for a misread and does not drag the rest along.
func TestMisreadIsLeftOut(t *testing.T) {
	lines := make([]line, 6)
	for i := range lines {
		lines[i] = line{r: 2, v: 0.1, odd: 0.01, flat: -math.Log(120)}
		lines[i].x[0] = 1
	}
	lines[3].r = 12
	p := marginal(lines, []float64{25})
	if (p.out != lineSet{1 << 3}) {
		t.Errorf("left out %b, wanted the fourth alone", p.out)
	}
	close(t, "size from the others", p.theta[0], 2, 0.02)
}

// The prior that vanishes at nought, against numerical integration.
func TestSmallFaultsAreNone(t *testing.T) {
	e, err := NewFor(bench.Default(), DefaultPriors())
	if err != nil {
		t.Fatal(err)
	}
	s := &solver{e: e, lines: []line{{r: 1.3, v: 0.2}}}
	s.lines[0].x[nuisances] = 2
	c := &component{frees: 1, free: [mostFree]int{housing}, sds: [mostFree]float64{3}}
	prior := []float64{1e-12, 1e-12, 1e-12, 1e-12, 9}
	got := s.notSmall(c, prior, marginal(s.lines, prior).log)
	top, norm := 0.0, 0.0
	tt := s.e.small(housing)
	for x := -30.0; x < 30; x += 0.001 {
		d := math.Exp(-x*x/18) * (1 - math.Exp(-x*x/(2*tt*tt)))
		norm += d
		top += d * math.Exp(logNormal(1.3-2*x, 0.2))
	}
	close(t, "likelihood", got, math.Log(top/norm), 1e-6)
}

// What breaks while hypotheses are weighed, on whatever goroutine, comes out of the ranking, where it can be caught.
func TestWhatBreaksInTheRankingComesHome(t *testing.T) {
	e, err := NewFor(bench.Default(), DefaultPriors())
	if err != nil {
		t.Fatal(err)
	}
	broken := func(in string) {
		if strings.Contains(string(debug.Stack()), in) {
			panic("a broken invariant")
		}
	}
	for in, p := range map[string]probe{
		"numbersOf": {id: "test", span: 90, odd: 0.01,
			mean:  func(*point) (float64, float64, bool) { broken("numbersOf"); return 0, 1, true },
			slope: func(*point, int) float64 { return 0 }},
		"wordsOf": verdict("test", "", "", "", []string{"no", "yes"},
			func(*point) float64 { broken("wordsOf"); return 0.5 }),
	} {
		func() {
			defer func() {
				if p := recover(); !strings.HasPrefix(fmt.Sprint(p), "a broken invariant") {
					t.Errorf("%s: recovered %v", in, p)
				}
			}()
			e.weigh([]item{{probe: p, v: 1}}, nil, nil)
			t.Errorf("%s: nothing broke", in)
		}()
	}
}
