package estimate_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"phasewright/estimate"
)

// JCGM 100:2008 H.3, calibration of a thermometer: correction b against t − 20 °C.
// Published: y₁ = −0.1712(29) °C, y₂ = 0.00218(67), r = −0.930, s = 0.0035 °C; correction at
// 30 °C −0.1494 °C with u = 0.0041 °C (0.0073 without the covariance term, which is wrong).
func TestThermometerCalibration(t *testing.T) {
	temperature := []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	correction := []float64{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160}
	for _, from := range []float64{20, 0} { // another zero moves the intercept only
		x := make([]float64, len(temperature))
		for i, v := range temperature {
			x[i] = v - from
		}
		f, err := estimate.Line(x, correction, nil)
		if err != nil {
			t.Fatal(err)
		}
		se := f.SE(f.SD())
		near(t, "slope", f.Coef[1], 0.00218, 0.000005)
		near(t, "u(slope)", se[1], 0.00067, 0.000005)
		near(t, "residual sd", f.SD(), 0.0035, 0.00005)
		value, u := f.At([]float64{1, 30 - from}, f.SD())
		near(t, "correction at 30 °C", value, -0.1494, 0.00005)
		near(t, "u of the correction at 30 °C", u, 0.0041, 0.00005)
		near(t, "sum of squared residuals", f.SS, 0.000110096583109297, 1e-14)
		if from == 20 {
			near(t, "intercept", f.Coef[0], -0.1712, 0.00005)
			near(t, "u(intercept)", se[0], 0.0029, 0.00005)
			near(t, "correlation", f.Correlation(0, 1), -0.930, 0.0005)
		}
		if f.DOF != 9 {
			t.Errorf("%d degrees of freedom, published 9", f.DOF)
		}
	}
}

// By hand: points (0,1), (1,3), (2,2) with u 1, 1, ½. Weights 1, 1, 4: W = 6, x̄ = 9/6 = 1.5, ȳ = 12/6 = 2, Sxx =
// 2.25 + 0.25 + 4·0.25 = 3.5, Sxy = 1.5 − 0.5 + 0 = 1; slope 2/7, intercept 2 − 3/7 = 11/7; var(slope) = 2/7,
// var(intercept) = 1/6 + 2.25·2/7.
func TestWeightedLineByHand(t *testing.T) {
	f, err := estimate.Line([]float64{0, 1, 2}, []float64{1, 3, 2}, []float64{1, 1, 0.5})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "slope", f.Coef[1], 2.0/7, 1e-14)
	near(t, "intercept", f.Coef[0], 11.0/7, 1e-14)
	near(t, "var(slope)", f.Unit[1][1], 2.0/7, 1e-14)
	near(t, "var(intercept)", f.Unit[0][0], 1.0/6+2.25*2/7, 1e-14)
	near(t, "covariance", f.Unit[0][1], -1.5*2/7, 1e-14)
	// Leverage w·(1/W + (x−x̄)²/Sxx): 1/6 + 2.25/3.5, 1/6 + 0.25/3.5, 4·(1/6 + 0.25/3.5).
	near(t, "leverage of the first", f.Leverage[0], 1.0/6+2.25/3.5, 1e-14)
	near(t, "leverage of the third", f.Leverage[2], 4*(1.0/6+0.25/3.5), 1e-14)
	// Residuals −4/7, 8/7, −1/7: SS = 16/49 + 64/49 + 4/49 = 12/7.
	near(t, "SS", f.SS, 12.0/7, 1e-13)
}

func TestFitRefuses(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, c := range []struct {
		name    string
		x, y, u []float64
		want    error
	}{
		{"one point", []float64{1}, []float64{1}, nil, estimate.ErrTooFew},
		{"none", nil, nil, nil, estimate.ErrTooFew},
		{"one speed", []float64{800, 800, 800}, []float64{1, 2, 3}, nil, estimate.ErrCollinear},
		{"speeds apart by rounding only", []float64{800, 800 + 1e-12, 800}, []float64{1, 2, 3}, nil, estimate.ErrCollinear},
		{"zero uncertainty", []float64{1, 2, 3}, []float64{1, 2, 3}, []float64{1, 0, 1}, estimate.ErrNotUsable},
		{"negative uncertainty", []float64{1, 2, 3}, []float64{1, 2, 3}, []float64{1, -1, 1}, estimate.ErrNotUsable},
		{"NaN uncertainty", []float64{1, 2, 3}, []float64{1, 2, 3}, []float64{1, nan, 1}, estimate.ErrNotUsable},
		{"NaN value", []float64{1, 2, 3}, []float64{1, nan, 3}, nil, estimate.ErrNotUsable},
		{"infinite abscissa", []float64{1, inf, 3}, []float64{1, 2, 3}, nil, estimate.ErrNotUsable},
		{"unequal lengths", []float64{1, 2}, []float64{1, 2, 3}, nil, estimate.ErrNotUsable},
		{"only one of known uncertainty", []float64{1, 2, 3}, []float64{1, 2, 3}, []float64{1, inf, inf}, estimate.ErrTooFew},
	} {
		if _, err := estimate.Line(c.x, c.y, c.u); !errors.Is(err, c.want) {
			t.Errorf("%s: error %v, want %v", c.name, err, c.want)
		} else if strings.Contains(err.Error(), "%!") {
			t.Errorf("%s: badly made message %q", c.name, err)
		}
	}
	if _, err := estimate.Polynomial([]float64{1}, []float64{1}, nil, estimate.MaxDegree+1); !errors.Is(err, estimate.ErrNotUsable) {
		t.Errorf("too high a degree: %v", err)
	}
}

// A point of unknown uncertainty is as good as absent: infinite, never zero.
func TestUnknownUncertaintyHasNoSay(t *testing.T) {
	with, err := estimate.Line([]float64{1, 2, 3, 4}, []float64{1, 2.5, 2.9, 99}, []float64{1, 1, 2, math.Inf(1)})
	if err != nil {
		t.Fatal(err)
	}
	without, err := estimate.Line([]float64{1, 2, 3}, []float64{1, 2.5, 2.9}, []float64{1, 1, 2})
	if err != nil {
		t.Fatal(err)
	}
	for j := range with.Coef {
		near(t, "coefficient", with.Coef[j], without.Coef[j], 1e-12)
	}
	if with.DOF != without.DOF {
		t.Errorf("%d degrees of freedom with it, %d without", with.DOF, without.DOF)
	}
}

func TestLineProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 20).Draw(t, "points")
		a, b := rapid.Float64Range(-20, 20).Draw(t, "offset"), rapid.Float64Range(-0.01, 0.01).Draw(t, "slope")
		x, y, u := make([]float64, n), make([]float64, n), make([]float64, n)
		for i := range n {
			x[i] = 700 + 150*float64(i) + rapid.Float64Range(-50, 50).Draw(t, "jitter")
			y[i] = a + b*x[i]
			u[i] = rapid.Float64Range(0.1, 2).Draw(t, "u")
		}
		f, err := estimate.Line(x, y, u)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(f.Coef[0]-a) > 1e-9*(1+math.Abs(a)) || math.Abs(f.Coef[1]-b) > 1e-12 {
			t.Fatalf("an exact line %v + %v·x came back as %v", a, b, f.Coef)
		}
		// The leverages sum to the number of unknowns (trace of the projection).
		var sum float64
		for _, h := range f.Leverage {
			sum += h
		}
		if math.Abs(sum-2) > 1e-9 {
			t.Fatalf("leverages sum to %v, want 2", sum)
		}
		// Noise: weighted residuals stand at right angles to the columns; a shift common to all
		// goes to the offset alone; Response is linear.
		for i := range n {
			y[i] += rapid.Float64Range(-1, 1).Draw(t, "noise")
		}
		f, err = estimate.Line(x, y, u)
		if err != nil {
			t.Fatal(err)
		}
		var one, along, size float64
		shift, lift := make([]float64, n), make([]float64, n)
		for i := range n {
			w := 1 / (u[i] * u[i])
			one += w * f.Residual[i]
			along += w * f.Residual[i] * x[i]
			size += w * x[i]
			shift[i], lift[i] = 1, y[i]+3*x[i]
		}
		if math.Abs(one) > 1e-9*size || math.Abs(along) > 1e-7*size {
			t.Fatalf("residuals are not at right angles to the line: %v, %v", one, along)
		}
		if d := f.Response(shift); math.Abs(d[0]-1) > 1e-9 || math.Abs(d[1]) > 1e-12 {
			t.Fatalf("a common shift went to %v, want offset 1 and slope 0", d)
		}
		if d := f.Response(lift); math.Abs(d[1]-f.Coef[1]-3) > 1e-9 {
			t.Fatalf("a slope of 3 added gave %v after %v", d, f.Coef)
		}
	})
}

// By hand: x = 1, 1, 2, 2, 3, 3, y = 1, 3, 5, 5, 4, 6. ȳ = 4, slope 6/4 = 1.5 (Sxy = −1·(1+3) + 1·(4+6) = 6),
// fit 2.5, 4, 5.5. Group means 2, 5, 5: SS_lack = 2·(0.25 + 1 + 0.25) = 3 on 1; SS_pure = 2 + 0 + 2 = 4 on 3.
// F = 3/(4/3) = 2.25.
func TestPureErrorByHand(t *testing.T) {
	x, y := []float64{1, 1, 2, 2, 3, 3}, []float64{1, 3, 5, 5, 4, 6}
	f, err := estimate.Line(x, y, nil)
	if err != nil {
		t.Fatal(err)
	}
	got := estimate.PureError(f, []int{0, 0, 1, 1, 2, 2}, nil, 0)
	near(t, "F", got.Statistic, 2.25, 1e-12)
	near(t, "lack beyond scatter", got.Lack, 3-4.0/3, 1e-12)
	if got.DOF1 != 1 || got.DOF2 != 3 {
		t.Errorf("%v and %v degrees of freedom, want 1 and 3", got.DOF1, got.DOF2)
	}
	// With 1 and 3 degrees of freedom F is t²: P(|t₃| > 1.5) = 0.2306 (closed form).
	near(t, "P", got.P, 1-2/math.Pi*(math.Atan(1.5/math.Sqrt(3))+1.5*math.Sqrt(3)/(3+2.25)), 1e-12)
	// The same with every u doubled: a change of scale of the weights changes nothing.
	u := []float64{2, 2, 2, 2, 2, 2}
	fu, _ := estimate.Line(x, y, u)
	near(t, "F, weighted", estimate.PureError(fu, []int{0, 0, 1, 1, 2, 2}, u, 0).Statistic, 2.25, 1e-12)
	// A floor of 4 on the pure-error mean square: F = 3/4.
	near(t, "F with a floor", estimate.PureError(f, []int{0, 0, 1, 1, 2, 2}, nil, 4).Statistic, 0.75, 1e-12)
	// Against a stated u of 2: chi-square = 7/4 on 4.
	c := estimate.AgainstStated(fu)
	near(t, "chi-square", c.Statistic, 7.0/4, 1e-12)
	near(t, "P of chi-square", c.P, math.Exp(-7.0/8)*(1+7.0/8), 1e-12) // closed form for 4
	if estimate.PureError(f, []int{0, 1, 2, 3, 4, 5}, nil, 0).Made() {
		t.Error("a pure-error test without repeats")
	}
}

// By hand: y = x² at 0, 1, 2, 3 with ±1 on top (+1, −1, −1, +1 is the square's own direction,
// +1, −3, +3, −1 stands at right angles to it): the straight line leaves 4·(1+k)² + 20·d² for a bend k.
func TestCurvatureByHand(t *testing.T) {
	x, square := []float64{0, 1, 2, 3}, []float64{0, 1, 4, 9}
	ones := []float64{1, 1, 1, 1}
	d := 0.1
	y := []float64{1 + d, -1 - 3*d, -1 + 3*d, 1 - d}
	columns := [][]float64{ones, x}
	f, err := estimate.LeastSquares(columns, y, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "SS of the line", f.SS, 4+20*d*d, 1e-12)
	got := estimate.Curvature(f, columns, square, y, nil, 0)
	near(t, "F", got.Statistic, 4/(20*d*d), 1e-9)
	if got.DOF2 != 1 {
		t.Errorf("%v degrees of freedom left, want 1", got.DOF2)
	}
	line := []float64{1, 2, 3, 4}
	f, _ = estimate.LeastSquares(columns, line, nil)
	if estimate.Curvature(f, columns, square, line, nil, 0).Made() {
		t.Error("a straight line to the last digit was tested for a bend")
	}
}

// Under a true line the P values are even: one in twenty below 5 %.
func TestLackOfFitAccusesAsOftenAsItSays(t *testing.T) {
	r := rnd(11)
	const sets = 4000
	x := []float64{800, 800, 1600, 1600, 2400, 2400, 3200, 3200}
	square := make([]float64, len(x))
	ones := make([]float64, len(x))
	u := make([]float64, len(x))
	for i := range x {
		square[i], ones[i], u[i] = x[i]*x[i], 1, 0.3
	}
	columns := [][]float64{ones, x}
	var pure, stated, bend int
	for range sets {
		y := make([]float64, len(x))
		for i := range y {
			y[i] = 2 - 0.0005*x[i] + 0.3*r.NormFloat64()
		}
		f, err := estimate.LeastSquares(columns, y, u)
		if err != nil {
			t.Fatal(err)
		}
		count := func(c *int, test estimate.Test) {
			if test.P < 0.05 {
				*c++
			}
		}
		count(&pure, estimate.PureError(f, []int{0, 0, 1, 1, 2, 2, 3, 3}, u, 0))
		count(&stated, estimate.AgainstStated(f))
		count(&bend, estimate.Curvature(f, columns, square, y, u, 0))
	}
	for name, c := range map[string]int{"pure error": pure, "against stated": stated, "curvature": bend} {
		rate := 100 * float64(c) / sets
		t.Logf("%s: %.1f %% of clean sets below P = 5 %%", name, rate)
		if math.Abs(rate-5) > 1.2 { // 3.5 sigma of a count of 4 000
			t.Errorf("%s: %.1f %% of clean sets below P = 5 %%, want 5", name, rate)
		}
	}
}

func BenchmarkLine20(b *testing.B) {
	x, y, u := make([]float64, 20), make([]float64, 20), make([]float64, 20)
	for i := range x {
		x[i], y[i], u[i] = 800+150*float64(i), float64(i%3), 0.3
	}
	for b.Loop() {
		if _, err := estimate.Line(x, y, u); err != nil {
			b.Fatal(err)
		}
	}
}
