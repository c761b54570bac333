package estimate_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"phasewright/estimate"
)

func table(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows[1:]
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	if text == "inf" || text == "" {
		return math.Inf(1)
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// NIST Technical Note 1297, Table B.1 (the same numbers as JCGM 100 Table G.2), all 168 entries.
// The columns headed 68.27, 95.45 and 99.73 mean exactly one, two and three sigma.
func TestTFactorsAgreeWithNISTTable(t *testing.T) {
	sigma := map[string]float64{"0.6827": 1, "0.9545": 2, "0.9973": 3}
	var checked int
	for _, row := range table(t, "t_factors_tn1297.csv") {
		dof, published := number(t, row[0]), number(t, row[2])
		p := number(t, row[1])
		if s, ok := sigma[row[1]]; ok {
			p = math.Erf(s / math.Sqrt2)
		}
		got := estimate.TFactor(p, dof)
		decimals := 2
		if dot := strings.IndexByte(row[2], '.'); dot >= 0 {
			decimals = len(row[2]) - dot - 1
		}
		if row[0] == "35" && row[1] == "0.90" {
			// The one misprint: the table says 1.70, the t distribution 1.6896.
			if published != 1.70 || math.Abs(got-1.6896) > 5e-5 {
				t.Errorf("35 degrees of freedom, 90 %%: %v; true value 1.6896, misprinted as 1.70", got)
			}
			continue
		}
		if got := math.Round(got*math.Pow(10, float64(decimals))) / math.Pow(10, float64(decimals)); math.Abs(got-published) > 1e-9 {
			t.Errorf("t factor for %s degrees of freedom at %s: %v, published %s", row[0], row[1], got, row[2])
		}
		// Third column: the same by 30-digit arithmetic.
		if exact := number(t, row[3]); math.Abs(got-exact) > 0 && math.Abs(estimate.TFactor(p, dof)-exact) > 2e-9*exact {
			t.Errorf("t factor for %s degrees of freedom at %s: %.12g, computed apart %.12g", row[0], row[1], estimate.TFactor(p, dof), exact)
		}
		checked++
	}
	if checked != 167 {
		t.Errorf("%d entries checked, the table has 168 with one misprint", checked)
	}
}

// Published three-decimal values: NIST/SEMATECH e-Handbook of Statistical Methods 1.3.6.7 and
// ordinary tables; the value column is 60-digit arithmetic rounded.
func TestQuantilesAgreeWithTables(t *testing.T) {
	for _, row := range table(t, "quantiles_15.csv") {
		dof, p, want := number(t, row[1]), number(t, row[2]), number(t, row[3])
		var got, tail float64
		switch row[0] {
		case "normal":
			got = estimate.NormalQuantile(p)
			tail = estimate.StudentTail(got, math.Inf(1)) / 2
		case "chi2":
			got = estimate.ChiSquareQuantile(p, dof)
			tail = estimate.ChiSquareTail(got, dof)
		case "t":
			got = estimate.StudentQuantile(p, dof)
			tail = estimate.StudentTail(got, dof) / 2
		default:
			t.Fatalf("unknown distribution %q", row[0])
		}
		if math.Abs(got-want) > 1e-9*math.Max(1, math.Abs(want)) {
			t.Errorf("%s quantile, %s degrees of freedom, p = %s: %.12g, want %.12g", row[0], row[1], row[2], got, want)
		}
		if row[4] != "" && math.Abs(got-number(t, row[4])) > 0.00051 {
			t.Errorf("%s quantile, %s degrees of freedom, p = %s: %.4f, published %s", row[0], row[1], row[2], got, row[4])
		}
		if math.Abs(tail-(1-p)) > 1e-9 {
			t.Errorf("%s tail beyond the quantile, %s degrees of freedom: %.12g, want %.12g", row[0], row[1], tail, 1-p)
		}
	}
}

// F critical values at 5 % and 1 %: NIST/SEMATECH e-Handbook 1.3.6.7.3, from memory; and without memory the identity
// F(1, ν) = t²(ν) and the closed form F(2, ν) = (ν/2)·((1−p)^(−2/ν) − 1), since the tail of F(2, ν) is
// (1 + 2f/ν)^(−ν/2).
func TestFQuantiles(t *testing.T) {
	for _, c := range []struct{ p, d1, d2, want float64 }{
		{0.95, 1, 10, 4.965}, {0.95, 2, 10, 4.103}, {0.95, 5, 10, 3.326}, {0.99, 1, 10, 10.044}, {0.99, 3, 20, 4.938},
	} {
		got := estimate.FQuantile(c.p, c.d1, c.d2)
		if math.Abs(got-c.want) > 0.0006 {
			t.Errorf("F(%g; %g, %g) = %.4f, table %.3f", c.p, c.d1, c.d2, got, c.want)
		}
		if tail := estimate.FTail(got, c.d1, c.d2); math.Abs(tail-(1-c.p)) > 1e-9 {
			t.Errorf("F tail = %.12g, want %g", tail, 1-c.p)
		}
	}
	for _, p := range []float64{0.5, 0.95, 0.99} {
		for _, nu := range []float64{1, 4, 10, 47.5} {
			want := nu / 2 * (math.Pow(1-p, -2/nu) - 1)
			if got := estimate.FQuantile(p, 2, nu); math.Abs(got-want) > 1e-8*want {
				t.Errorf("F(%g; 2, %g) = %.10g, closed form %.10g", p, nu, got, want)
			}
		}
	}
	for _, nu := range []float64{1, 2, 3.5, 8, 30} {
		k := estimate.StudentQuantile(0.975, nu)
		if f := estimate.FQuantile(0.95, 1, nu); math.Abs(f-k*k) > 1e-7*f {
			t.Errorf("F(1, %g) = %.10g, t² = %.10g", nu, f, k*k)
		}
	}
}

// The quick closed form and the expansion agree with the general inverse of the incomplete beta.
func TestStudentQuantileAgreesWithGeneralInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nu := rapid.OneOf(rapid.Map(rapid.IntRange(1, 400), func(i int) float64 { return float64(i) }), rapid.Float64Range(1, 400)).Draw(t, "nu")
		p := rapid.Float64Range(0.0005, 0.9995).Draw(t, "p")
		if math.Abs(p-0.5) < 1e-3 {
			return
		}
		got := estimate.StudentQuantile(p, nu)
		want := distuv.StudentsT{Sigma: 1, Nu: nu}.Quantile(p)
		if math.Abs(got-want) > 1e-8*math.Abs(want) {
			t.Fatalf("t(%v; %v) = %.12g, general inverse %.12g", p, nu, got, want)
		}
	})
}

// JCGM 100 G.4.1: not whole degrees of freedom are cut to the next lower whole number.
func TestTFactorCutsDegreesOfFreedom(t *testing.T) {
	if a, b := estimate.TFactor(0.99, 16.76), estimate.TFactor(0.99, 16); a != b {
		t.Errorf("t at 16.76 degrees of freedom %v, at 16 %v", a, b)
	}
	if a, b := estimate.TFactor(0.95, 4-1e-12), estimate.TFactor(0.95, 4); a != b {
		t.Errorf("four degrees of freedom a hair low gave %v, not %v", a, b)
	}
	for _, nu := range []float64{0, 0.99, math.NaN(), -3} {
		if k := estimate.TFactor(0.95, nu); !math.IsInf(k, 1) {
			t.Errorf("t factor for %v degrees of freedom is %v; nothing can be said", nu, k)
		}
	}
	if k := estimate.TFactor(0.95, math.Inf(1)); math.Abs(k-1.959963984540054) > 1e-12 {
		t.Errorf("t factor for endless degrees of freedom is %v", k)
	}
}

func TestQuantilesOutsideTheirDomain(t *testing.T) {
	for _, v := range []float64{
		estimate.NormalQuantile(-0.1), estimate.NormalQuantile(math.NaN()), estimate.StudentQuantile(0.5, 0), estimate.StudentQuantile(2, 5),
		estimate.ChiSquareQuantile(0.5, -1), estimate.FQuantile(0.5, 0, 1), estimate.StudentTail(1, 0), estimate.ChiSquareTail(1, 0), estimate.FTail(1, 1, 0),
	} {
		if !math.IsNaN(v) {
			t.Errorf("outside the domain gave %v, want NaN", v)
		}
	}
}

func BenchmarkTFactor(b *testing.B) {
	for b.Loop() {
		estimate.TFactor(0.95, 18)
	}
}
