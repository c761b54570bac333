package cranking

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// table reads a CSV of numbers from testdata, without comments and header.
func table(t *testing.T, name string) [][]float64 {
	t.Helper()
	text, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(strings.NewReader(string(text)))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out [][]float64
	for _, row := range rows[1:] {
		var v []float64
		for _, f := range row {
			x, err := strconv.ParseFloat(f, 64)
			if err != nil {
				t.Fatal(err)
			}
			v = append(v, x)
		}
		out = append(out, v)
	}
	return out
}

// Source: testdata/SOURCES.md, slider–crank tables.
func TestPistonTravelAgainstTables(t *testing.T) {
	for _, row := range table(t, "slider_crank.csv") {
		e := variant(8).Engine
		e.Stroke, e.Rod = 200, quantity.Length(100*row[0])
		if got := newSlider(e).travel(radians(row[1])) / 0.1; math.Abs(got-row[2]) > 1e-9 {
			t.Errorf("rod/crank %g at %g°: travel %.9f of the crank radius, table says %.9f", row[0], row[1], got, row[2])
		}
	}
	for _, row := range table(t, "slider_crank_5deg.csv") {
		e := variant(8).Engine
		e.Stroke, e.Rod = 200, quantity.Length(100*row[0])
		s := newSlider(e)
		if got := s.slope(radians(row[1])) / s.r; math.Abs(got-row[4]) > 1e-9 {
			t.Errorf("rod/crank %g at %g°: slope %.12f, table says %.12f", row[0], row[1], got, row[4])
		}
	}
	for _, row := range table(t, "slider_crank_r2_l6.csv") {
		e := variant(8).Engine
		e.Stroke, e.Rod = 4, 6
		if got := 1e3 * newSlider(e).travel(radians(row[0])); math.Abs(got-row[2]) > 1e-9 {
			t.Errorf("r 2, l 6 at %g°: %.12f, table says %.12f", row[0], got, row[2])
		}
	}
}

// The torque balance and the piston stop take the same offset: two ways to the same mechanism, whose values with an
// offset are checked by coordinates in room engine.
func TestPinOffsetIsTheEngines(t *testing.T) {
	for _, offset := range []quantity.Length{-1.5, 0, 1.5} {
		e := variant(8).Engine
		e.PinOffset = offset
		s, other := newSlider(e), engine.SliderCrank{Stroke: e.Stroke, Rod: e.Rod, Offset: offset}
		for a := -180.0; a <= 180; a += 15 {
			if got, want := 1e3*s.travel(radians(a)), float64(other.Travel(quantity.Crank(a))); math.Abs(got-want) > 1e-9 {
				t.Errorf("offset %v at %g°: %.9f mm, the engine's %.9f", offset, a, got, want)
			}
		}
	}
}

// With an offset pin θ = 0 is still the top: travel is least and its slope nought there (identity).
func TestPinOffsetKeepsTheTopAtZero(t *testing.T) {
	e := variant(8).Engine
	e.PinOffset = 1.5
	s := newSlider(e)
	if x := s.travel(0); math.Abs(x) > 1e-15 {
		t.Errorf("travel at TDC %g m", x)
	}
	if x := s.slope(0); math.Abs(x) > 1e-15 {
		t.Errorf("slope at TDC %g m/rad", x)
	}
	for _, a := range []float64{-1, -0.3, 0.2, 1.5} {
		const h = 1e-6
		if d := (s.travel(a+h) - s.travel(a-h)) / (2 * h); math.Abs(d-s.slope(a)) > 1e-9 {
			t.Errorf("slope at %g rad: %g, by differences %g", a, s.slope(a), d)
		}
	}
}

// pVᵏ = constant by definition of the polytropic process, and the gas does work on the crank p·dV = T·dθ.
func TestGasFollowsThePolytropicLaw(t *testing.T) {
	e := variant(8).Engine
	s := newSlider(e)
	for _, c := range []struct{ a, b, k float64 }{{-100, -20, e.CompressionIndex}, {10, 110, e.ExpansionIndex}} {
		pa, pb := e.pressure(s, c.a), e.pressure(s, c.b)
		va, vb := s.volume(radians(c.a)), s.volume(radians(c.b))
		if got := math.Log(pa/pb) / math.Log(vb/va); math.Abs(got-c.k) > 1e-9 {
			t.Errorf("between %g° and %g° the index is %g, set was %g", c.a, c.b, got, c.k)
		}
	}
	if r := s.volume(math.Pi) / s.volume(0); math.Abs(r-e.CompressionRatio) > 1e-12 {
		t.Errorf("compression ratio by volumes %g", r)
	}
	const h = 1e-5
	for _, a := range []quantity.Crank{-60, -20, 15, 80} {
		p := e.pressure(s, float64(a)) - float64(e.Ambient)
		rate := p * (s.volume(radians(float64(a))+h) - s.volume(radians(float64(a))-h)) / (2 * h)
		if got := float64(e.GasTorque(engine.At(a), e.Ambient)); math.Abs(got-rate) > 1e-5*math.Abs(rate) {
			t.Errorf("gas torque at %v: %g N·m, p·dV/dθ is %g", a, got, rate)
		}
	}
	if !(e.GasTorque(engine.At(-30), e.Ambient) < 0) || !(e.GasTorque(engine.At(30), e.Ambient) > 0) {
		t.Error("compression must brake and expansion drive")
	}
}

// The tables that the torque balance steps through are the functions at their points.
func TestTorqueTablesAreTheFunctions(t *testing.T) {
	for _, n := range []int{1, 4, 8} {
		e := variant(n).Engine
		e.PinOffset = 1
		one := newShape(e).torques(e)
		for i, got := range one {
			a := quantity.Crank(float64(i) / fine)
			if want := float64(e.GasTorque(engine.At(a), e.Ambient)); math.Abs(got-want) > 1e-6 {
				t.Fatalf("at %v: table %g N·m, function %g", a, got, want)
			}
		}
		tr, s := NewTrain(e, 0), newSlider(e)
		for i := 0; i < 2*tr.Period; i += 7 {
			want := float64(e.Inertia) / 2
			for _, at := range e.Firings() {
				d := s.slope(radians(float64(i)/2 - at))
				want += float64(e.ReciprocatingMass) * d * d / 2
			}
			if math.Abs(tr.half[i]-want) > 1e-12 {
				t.Fatalf("%d cylinders at %g°: ½I %g, want %g", n, float64(i)/2, tr.half[i], want)
			}
		}
	}
}

// On the starter the cylinders fill from nearly the air outside, whatever the card says of full load: a little less,
// never more (assumed).
func TestInletOfACardIsNearlyTheOutside(t *testing.T) {
	for _, full := range []quantity.Pressure{0.99e5, 1.9e5} {
		card := &jobcard.Card{}
		card.Engine.InletPressure = full
		e := FromCard(card, 10).Engine
		if outside := min(full, e.Ambient); !(e.InletPressure < outside) || e.InletPressure < 0.9*outside {
			t.Errorf("a card with %v at full load cranks on %v, outside are %v", full, e.InletPressure, e.Ambient)
		}
	}
}
