package coil_test

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"phasewright/coil"
	"phasewright/quantity"
)

// A general-purpose circuit simulator runs each coil at three supplies; over the whole charge our current agrees within
// 0.1 % of the current.
func TestAgainstCircuitSimulator(t *testing.T) {
	if testing.Short() {
		t.Skip("NOT CHECKED with -short: coil charge against a circuit simulator")
	}
	if _, err := exec.LookPath("ngspice"); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("ngspice is not installed: coil charge was not checked against a circuit simulator")
		}
		t.Skip("NOT CHECKED: ngspice is not installed, so coil charge was not compared with a circuit simulator")
	}
	const r = 0.55
	// In the saturating netlists a 1 F capacitor integrates V − R·i, so v(flux) is the flux linkage; that is the flux
	// form, where ours is the current form.
	flux := "C1 flux 0 1 IC=0\nB1 0 flux I = v(in)-%g*v(cur)\nB2 cur 0 V = %s\n"
	cases := []struct {
		name, net, probe string
		iron             coil.Iron
	}{
		{"linear", "R1 in a 0.55\nL1 a 0 5.2m IC=0\n", "i(L1)", must(coil.Linear(5.2e-3))},
		{"saturating", fmt.Sprintf(flux, r, "8*tan(v(flux)/(5.2m*8))"), "v(cur)", must(coil.NewSaturating(5.2e-3, 8))},
		{"flux table", fmt.Sprintf(flux, r, "pwl(v(flux), 0,0, 0.012,2, 0.024,4, 0.033,6, 0.039,8, 0.0425,10, 0.045,12, 0.0485,16, 0.2235,216)"), "v(cur)",
			must(coil.NewFluxTable([]coil.FluxPoint{{Current: 2, Flux: 0.012}, {Current: 4, Flux: 0.024}, {Current: 6, Flux: 0.033}, {Current: 8, Flux: 0.039},
				{Current: 10, Flux: 0.0425}, {Current: 12, Flux: 0.045}, {Current: 16, Flux: 0.0485}, {Current: 216, Flux: 0.2235}}))},
		// current form: v(cur) on 1 F, L(i) = Ls + (L0−Ls)/cosh²(i/Is)
		{"floored", "C1 cur 0 1 IC=0\nB1 0 cur I = (v(in)-0.55*v(cur))/(0.6m+5.4m/cosh(v(cur)/7)^2)\n", "v(cur)", must(coil.NewFloored(6e-3, 0.6e-3, 7))},
	}
	for _, k := range cases {
		for _, supply := range []float64{13.8, 11, 8} {
			t.Run(fmt.Sprintf("%s %g V", k.name, supply), func(t *testing.T) {
				dir := t.TempDir()
				net := fmt.Sprintf("coil charge\nV1 in 0 %g\n%s.options reltol=1e-6 abstol=1e-10\n.tran 1u 5m 0 2u uic\n.control\nset wr_singlescale\nrun\nwrdata out.txt %s\nquit\n.endc\n.end\n",
					supply, k.net, k.probe)
				if err := os.WriteFile(filepath.Join(dir, "coil.cir"), []byte(net), 0o600); err != nil {
					t.Fatal(err)
				}
				cmd := exec.Command("ngspice", "-b", "coil.cir")
				cmd.Dir = dir
				log, runErr := cmd.CombinedOutput()
				f, err := os.Open(filepath.Join(dir, "out.txt"))
				if err != nil {
					t.Fatalf("no output (%v):\n%s", runErr, log)
				}
				defer f.Close()
				c := coil.Circuit{Drive: quantity.Voltage(supply), Resistance: r, Iron: k.iron}
				n, worst, last := 0, 0.0, 0.0
				for s := bufio.NewScanner(f); s.Scan(); {
					cells := strings.Fields(s.Text())
					if len(cells) != 2 {
						t.Fatalf("line %q", s.Text())
					}
					at, err1 := strconv.ParseFloat(cells[0], 64)
					i, err2 := strconv.ParseFloat(cells[1], 64)
					if err1 != nil || err2 != nil {
						t.Fatalf("line %q", s.Text())
					}
					if at < 5e-6 {
						continue // a few milliamperes, printed digits decide
					}
					n, last = n+1, at
					worst = max(worst, math.Abs(float64(c.CurrentAt(quantity.Seconds(at)))/i-1))
				}
				if n < 500 || last < 4.99e-3 {
					t.Fatalf("only %d points up to %g s\n%s", n, last, log)
				}
				if worst > 1e-3 {
					t.Errorf("worst difference %.4f %% of current", 100*worst)
				}
				t.Logf("%d points, worst difference %.5f %%", n, 100*worst)
			})
		}
	}
}
