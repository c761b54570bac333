package estimate_test

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"phasewright/estimate"
)

// A general-purpose numeric tool solves the same weighted problems by its own QR (GNU Octave).
func TestWeightedFitAgreesWithOctave(t *testing.T) {
	if testing.Short() {
		t.Skip("NOT CHECKED with -short: the weighted fit against Octave")
	}
	path, err := exec.LookPath("octave-cli")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("octave-cli is missing: the weighted fit was not checked against it")
		}
		t.Skip("octave-cli is missing: the weighted fit was NOT checked against it")
	}
	r := rnd(9)
	var script strings.Builder
	var want [][]float64
	script.WriteString("format long e;\n")
	for range 5 {
		n := 4 + r.IntN(12)
		x, y, u := make([]float64, n), make([]float64, n), make([]float64, n)
		for i := range x {
			x[i], y[i], u[i] = 700+3000*r.Float64(), 3*r.NormFloat64(), 0.1+r.Float64()
		}
		f, err := estimate.Line(x, y, u)
		if err != nil {
			t.Fatal(err)
		}
		value, at := f.At([]float64{1, 2000}, 1)
		want = append(want, []float64{f.Coef[0], f.Coef[1], f.SS, f.Unit[0][0], f.Unit[0][1], f.Unit[1][1], value, at})
		fmt.Fprintf(&script, "x=%s; y=%s; u=%s; X=[ones(numel(x),1) x]; W=diag(1./u); [q,r]=qr(W*X,0); b=r\\(q'*(W*y)); C=inv(r)*inv(r)'; e=W*(y-X*b); a=[1 2000]; printf('%%.17g %%.17g %%.17g %%.17g %%.17g %%.17g %%.17g %%.17g\\n', b(1), b(2), e'*e, C(1,1), C(1,2), C(2,2), a*b, sqrt(a*C*a'));\n",
			vector(x), vector(y), vector(u))
	}
	cmd := exec.Command(path, "--norc", "--quiet", "--eval", script.String())
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("octave-cli: %v", err)
	}
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	if len(lines) != len(want) {
		t.Fatalf("octave-cli gave %d lines, want %d:\n%s", len(lines), len(want), out)
	}
	for k, line := range lines {
		for j, text := range strings.Fields(line) {
			v, err := strconv.ParseFloat(text, 64)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(v-want[k][j]) > 1e-9*math.Abs(v) {
				t.Errorf("problem %d, figure %d: %.15g, Octave says %.15g", k+1, j+1, want[k][j], v)
			}
		}
	}
}

func vector(v []float64) string {
	parts := make([]string, len(v))
	for i, x := range v {
		parts[i] = strconv.FormatFloat(x, 'g', 17, 64)
	}
	return "[" + strings.Join(parts, ";") + "]"
}
