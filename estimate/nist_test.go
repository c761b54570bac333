package estimate_test

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"phasewright/estimate"
)

// Data and certified values: NIST/ITL Statistical Reference Datasets, linear least squares
// (public domain), copied to testdata/nist_strd.json.
type strd struct {
	X, Y      []float64
	Intercept bool
	Degree    int
	Certified struct {
		B          []float64 `json:"b"`
		SE         []float64 `json:"se_b"`
		ResidualSD float64   `json:"residual_sd"`
		DOF        int       `json:"df_residual"`
	}
	Cov [][]float64 `json:"cov_mpmath"` // not certified: recomputed with 60-digit arithmetic
}

func loadStRD(t testing.TB) map[string]strd {
	t.Helper()
	raw, err := os.ReadFile("testdata/nist_strd.json")
	if err != nil {
		t.Fatal(err)
	}
	var file struct{ Sets map[string]strd }
	if err := json.Unmarshal(raw, &file); err != nil {
		t.Fatal(err)
	}
	return file.Sets
}

// digits is the log relative error: how many figures agree.
func digits(got, want float64) float64 {
	if got == want {
		return 15
	}
	if want == 0 {
		return -math.Log10(math.Abs(got))
	}
	return min(15, -math.Log10(math.Abs((got-want)/want)))
}

func TestFitAgreesWithNISTReferenceData(t *testing.T) {
	sets := loadStRD(t)
	for name, need := range map[string]float64{"Norris": 9, "NoInt1": 9, "NoInt2": 9, "Pontius": 9} {
		s := sets[name]
		var f *estimate.Fitted
		var err error
		if s.Intercept {
			f, err = estimate.Polynomial(s.X, s.Y, nil, s.Degree)
		} else {
			f, err = estimate.Proportional(s.X, s.Y, nil)
		}
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		worst := digits(f.SD(), s.Certified.ResidualSD)
		se := f.SE(f.SD())
		for j := range s.Certified.B {
			worst = min(worst, digits(f.Coef[j], s.Certified.B[j]), digits(se[j], s.Certified.SE[j]))
		}
		for a := range s.Cov {
			for b := range s.Cov[a] {
				worst = min(worst, digits(f.SD()*f.SD()*f.Unit[a][b], s.Cov[a][b]))
			}
		}
		if f.DOF != s.Certified.DOF {
			t.Errorf("%s: %d degrees of freedom, certified %d", name, f.DOF, s.Certified.DOF)
		}
		t.Logf("%s: %.1f digits agree at worst", name, worst)
		if worst < need {
			t.Errorf("%s: only %.1f digits agree with the certified values, want %g", name, worst, need)
		}
	}
}

func TestFitOfExactPolynomial(t *testing.T) {
	// NIST StRD Wampler1: y = 1 + x + … + x⁵ exactly, standard errors certified zero.
	s := loadStRD(t)["Wampler1"]
	f, err := estimate.Polynomial(s.X, s.Y, nil, s.Degree)
	if err != nil {
		t.Fatal(err)
	}
	for j, b := range f.Coef {
		if d := digits(b, s.Certified.B[j]); d < 8 {
			t.Errorf("coefficient %d = %.15g, certified 1: only %.1f digits", j, b, d)
		}
	}
}
