package coil_test

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"

	"phasewright/coil"
	"phasewright/quantity"
)

func read(t testing.TB, name string, into any) {
	t.Helper()
	b, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, into); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
}

func rows(t testing.TB, name string, atLeast int) []map[string]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil || len(all) <= atLeast {
		t.Fatalf("%s: %v, %d rows", name, err, len(all))
	}
	var out []map[string]string
	for _, line := range all[1:] {
		m := map[string]string{}
		for k, cell := range line {
			m[all[0][k]] = cell
		}
		out = append(out, m)
	}
	return out
}

func number(t testing.TB, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func near(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.9g, want %.9g ± %g", what, got, want, tol)
	}
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func linear(v, r, l float64) coil.Circuit {
	return coil.Circuit{Drive: quantity.Voltage(v), Resistance: quantity.Resistance(r), Iron: must(coil.Linear(quantity.Inductance(l)))}
}

// OpenStax University Physics 2 §14.4 and §14.3 (numbers only): published values within their last digit, computed
// ones tightly.
func TestOpenStaxRL(t *testing.T) {
	var ref struct {
		Cases []struct {
			ID        string
			Published map[string]float64
			Check     map[string]float64
		}
	}
	read(t, "rl_openstax.json", &ref)
	p, k := ref.Cases[0].Published, ref.Cases[0].Check
	c := linear(2, 4, 4) // E 2 V, R 4 Ω, L 4 H; τ = 1 s
	i := float64(c.CurrentAt(quantity.Seconds(2)))
	near(t, "i(2τ) published", i, p["i_2tau_A"], 0.005)
	near(t, "i(2τ)", i, k["i_2tau_A"], 1e-12)
	near(t, "final current", float64(c.Final()), p["i_inf_A"], 1e-15)
	near(t, "voltage left on L at 2τ", 2-4*i, k["vL_2tau_V"], 1e-12)
	near(t, "voltage left on L at 2τ, published", 2-4*i, p["vL_2tau_V"], 0.005)
	// half of the final current after τ·ln 2, the same time as half on the way down: published 0.69 s
	near(t, "half current", c.TimeTo(0.25).Seconds(), ref.Cases[1].Check["t_half_current_s"], 1e-12)
	near(t, "half current, published", c.TimeTo(0.25).Seconds(), ref.Cases[1].Published["t_half_current_s"], 0.005)
	// 90 % after 5.0 s with 20 Ω: L 43 H; with 100 Ω 1.0 s
	l := ref.Cases[2].Check["L_H"]
	near(t, "90 % at 20 Ω", linear(20, 20, l).TimeTo(0.9).Seconds(), 5, 1e-9)
	near(t, "90 % at 100 Ω", linear(100, 100, l).TimeTo(0.9).Seconds(), ref.Cases[2].Published["t90_100ohm_s"], 1e-9)
	// E 12 V, L 20 mH, R 5 Ω
	near(t, "i(2τ) at 12 V", float64(linear(12, 5, 0.02).CurrentAt(8000)), ref.Cases[5].Check["i_2tau_A"], 1e-12)
	// energy, §14.3: 10 H at 20 A holds 2000 J
	near(t, "energy of 10 H at 20 A", float64(must(coil.Linear(10)).Stored(20)), ref.Cases[6].Check["energy_J"], 1e-9)
}

// testdata/rl_currents.csv: circuit simulator, SciPy and closed form, six decimals.
func TestReferenceCurrents(t *testing.T) {
	irons := map[string]coil.Iron{"linear": must(coil.Linear(5.2e-3)), "saturating": must(coil.NewSaturating(5.2e-3, 8))}
	for _, r := range rows(t, "rl_currents.csv", 30) {
		c := coil.Circuit{Drive: quantity.Voltage(number(t, r["supply_v"])), Resistance: 0.55, Iron: irons[r["shape"]]}
		at := quantity.Time(number(t, r["us"]))
		near(t, r["shape"]+" at "+r["supply_v"]+" V, "+r["us"]+" µs", float64(c.CurrentAt(at)), number(t, r["amp"]), 0.51e-6)
		near(t, "time back", float64(c.TimeTo(c.CurrentAt(at))), float64(at), 1e-6)
	}
}

// testdata/rl_values.json: three invented coils by the circuit simulator, seven digits, and the flux table solved
// exactly piece by piece.
func TestReferenceCoils(t *testing.T) {
	type file struct {
		I     map[string][]float64 `json:"i_A"`
		Flux  map[string]float64   `json:"flux_3ms_Wb"`
		Ex14  []float64            `json:"exact_piecewise_i_A_14"`
		Ex11  []float64            `json:"exact_piecewise_i_A_11"`
		Close map[string][]float64 `json:"closed_form_i_A"`
	}
	var raw map[string]json.RawMessage
	read(t, "rl_values.json", &raw)
	get := func(name string) (f file) {
		if err := json.Unmarshal(raw[name], &f); err != nil {
			t.Fatal(err)
		}
		if len(f.I) != 3 {
			t.Fatalf("%s: %d supplies", name, len(f.I))
		}
		return f
	}
	ms := []float64{0.5, 1, 1.5, 2, 3}
	table := must(coil.NewFluxTable([]coil.FluxPoint{{Current: 0, Flux: 0}, {Current: 2, Flux: 0.012}, {Current: 4, Flux: 0.024}, {Current: 6, Flux: 0.033},
		{Current: 8, Flux: 0.039}, {Current: 10, Flux: 0.0425}, {Current: 12, Flux: 0.045}, {Current: 16, Flux: 0.0485}}))
	floored := must(coil.NewFloored(6e-3, 0.6e-3, 7))
	for name, iron := range map[string]coil.Iron{
		"rl_linear_700mohm_6mh.cir": must(coil.Linear(6e-3)), "rl_saturating_flux.cir": floored, "rl_saturating_table.cir": table,
	} {
		f := get(name)
		for supply, want := range f.I {
			c := coil.Circuit{Drive: quantity.Voltage(number(t, supply)), Resistance: 0.7, Iron: iron}
			for k, m := range ms {
				near(t, name+" at "+supply, float64(c.CurrentAt(quantity.Milliseconds(m))), want[k], 1.1e-6)
			}
			if f.Flux != nil {
				near(t, name+" flux at "+supply, c.After(3000).Flux, f.Flux[supply], 0.6e-8)
			}
		}
	}
	exact := get("rl_saturating_table.cir")
	for supply, want := range map[quantity.Voltage][]float64{14: exact.Ex14, 11: exact.Ex11} {
		c := coil.Circuit{Drive: supply, Resistance: 0.7, Iron: table}
		for k, m := range ms {
			near(t, "flux table, exact", float64(c.CurrentAt(quantity.Milliseconds(m))), want[k], 0.6e-7)
		}
	}

	// Energy of the saturated coil: ∫ i dλ, and how far off the two textbook short cuts are (rl_circuit.json).
	var ref struct {
		Energy struct {
			Example map[string]float64 `json:"saturating_example"`
		}
	}
	read(t, "rl_circuit.json", &ref)
	e, i := ref.Energy.Example, quantity.Current(ref.Energy.Example["i_A"])
	near(t, "∫i dλ", float64(floored.Stored(i)), e["W_integral_J"], 1e-6)
	near(t, "L(i)", float64(floored.Inductance(i)), e["L_diff_H"], 1e-8)
	near(t, "λ(i)", floored.Flux(i), e["lambda_Wb"], 1e-8)
	if w := float64(floored.Stored(i)); math.Abs(e["half_L0_i2_J"]/w-1.53) > 0.01 || math.Abs(e["half_Ldiff_i2_J"]/w-0.66) > 0.01 {
		t.Errorf("½L₀i² should be 53 %% too much and ½L(i)i² 34 %% too little beside %g J", w)
	}
}

// testdata/rl_saturating.json: SciPy, Octave, quadrature and the circuit simulator agree to the digits given.
func TestFlooredReference(t *testing.T) {
	var ref struct {
		T     []float64 `json:"t_s"`
		I     []float64 `json:"i_A"`
		Times []struct {
			I float64 `json:"i_A"`
			T float64 `json:"t_s"`
		} `json:"time_to_current"`
		Energy []struct {
			I float64 `json:"i_A"`
			J float64
		}
	}
	read(t, "rl_saturating.json", &ref)
	iron := must(coil.NewFloored(4e-3, 0.5e-3, 6))
	c := coil.Circuit{Drive: 14, Resistance: 0.5, Iron: iron}
	if len(ref.T) < 7 || len(ref.Times) < 3 || len(ref.Energy) < 3 {
		t.Fatal("reference is short")
	}
	for k, s := range ref.T {
		near(t, "current", float64(c.CurrentAt(quantity.Seconds(s))), ref.I[k], 1e-8)
	}
	for _, p := range ref.Times {
		near(t, "time to current", c.TimeTo(quantity.Current(p.I)).Seconds(), p.T, 1e-13)
	}
	for _, p := range ref.Energy {
		near(t, "energy", float64(iron.Stored(quantity.Current(p.I))), p.J, 1e-12)
	}
}

// Copper: R at 100 °C is 1 + 0.00393·80 = 1.3144 times R at 20 °C (IEC 60028 coefficient, by hand).
func TestHotWinding(t *testing.T) {
	near(t, "0.55 Ω at 100 °C", float64(coil.HotResistance(0.55, 100)), 0.72292, 1e-9)
	near(t, "at 20 °C", float64(coil.HotResistance(0.55, 20)), 0.55, 0)
}
