package coil_test

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"phasewright/coil"
	"phasewright/quantity"
)

// The points are the circuit simulator's for an invented coil (testdata/rl_currents.csv), so the fit must find the
// inductance and saturation current that the simulator was given.
func TestFitFindsTheCoil(t *testing.T) {
	for _, want := range []struct {
		shape  string
		supply string
	}{{"saturating", "13.8"}, {"saturating", "11"}, {"linear", "13.8"}} {
		var points []coil.ChargePoint
		for _, r := range rows(t, "rl_currents.csv", 30) {
			if r["shape"] == want.shape && r["supply_v"] == want.supply {
				points = append(points, coil.ChargePoint{Time: quantity.Time(number(t, r["us"])), Current: quantity.Current(number(t, r["amp"]))})
			}
		}
		drive := quantity.Voltage(number(t, want.supply))
		f, err := coil.Fit(points, drive, 0.55)
		if err != nil {
			t.Fatal(err)
		}
		near(t, want.shape+" L at rest", float64(f.Iron.Inductance(0)), 5.2e-3, 5e-6)
		if f.RMS > 1e-4 || f.Worst > 2e-4 {
			t.Errorf("%s: rms %v, worst %v", want.shape, f.RMS, f.Worst)
		}
		if want.shape == "saturating" {
			s, ok := f.Iron.(*coil.Saturating)
			if !ok {
				t.Fatalf("%s: fitted as %v", want.shape, f.Iron)
			}
			near(t, "Is", float64(s.Is), 8, 0.01)
		}
		if f.Iron.Known() != points[4].Current {
			t.Errorf("known up to %v, measured up to %v", f.Iron.Known(), points[4].Current)
		}
	}
}

// A coil whose iron gives in down to an air inductance is told from one that does not stop: points of
// testdata/rl_saturating.json.
func TestFitTellsAFloor(t *testing.T) {
	var ref struct {
		T []float64 `json:"t_s"`
		I []float64 `json:"i_A"`
	}
	read(t, "rl_saturating.json", &ref)
	var points []coil.ChargePoint
	for k := range ref.T {
		points = append(points, coil.ChargePoint{Time: quantity.Seconds(ref.T[k]), Current: quantity.Current(ref.I[k])})
	}
	f, err := coil.Fit(points, 14, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	s, ok := f.Iron.(*coil.Floored)
	if !ok {
		t.Fatalf("fitted as %v, rms %v", f.Iron, f.RMS)
	}
	near(t, "L0", float64(s.L0), 4e-3, 4e-5)
	near(t, "Ls", float64(s.Ls), 0.5e-3, 5e-6)
	near(t, "Is", float64(s.Is), 6, 0.06)
}

// Points of any coil of the first shape give a curve that charges like it over the measured stretch, at another
// supply too.
func TestFitRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l0, r := rapid.Float64Range(1e-3, 20e-3).Draw(t, "L0"), rapid.Float64Range(0.2, 3).Draw(t, "R")
		is := rapid.Float64Range(0.5, 3).Draw(t, "Is in final currents") * 13 / r
		c := coil.Circuit{Drive: 13, Resistance: quantity.Resistance(r), Iron: must(coil.NewSaturating(quantity.Inductance(l0), quantity.Current(is)))}
		last := c.TimeTo(c.Final() * quantity.Current(rapid.Float64Range(0.3, 0.9).Draw(t, "reach")))
		var points []coil.ChargePoint
		n := rapid.IntRange(3, 9).Draw(t, "points")
		for k := 1; k <= n; k++ {
			at := last * quantity.Time(k) / quantity.Time(n)
			points = append(points, coil.ChargePoint{Time: at, Current: c.CurrentAt(at)})
		}
		f, err := coil.Fit(points, 13, c.Resistance)
		if err != nil {
			t.Fatal(err)
		}
		for _, drive := range []quantity.Voltage{13, 9} {
			a, b := coil.Circuit{Drive: drive, Resistance: c.Resistance, Iron: c.Iron}, coil.Circuit{Drive: drive, Resistance: c.Resistance, Iron: f.Iron}
			if got, want := b.CurrentAt(last/2), a.CurrentAt(last/2); math.Abs(float64(got/want)-1) > 2e-3 {
				t.Fatalf("%v: fitted coil charges to %v, the coil to %v (rms %v)", f.Iron, got, want, f.RMS)
			}
		}
	})
}

// A point misread by 5 % shows in the residual and does not throw the curve far.
func TestFitShowsScatter(t *testing.T) {
	c := coil.Circuit{Drive: 13, Resistance: 0.6, Iron: must(coil.NewSaturating(6e-3, 9))}
	var points []coil.ChargePoint
	for us := quantity.Time(500); us <= 3500; us += 500 {
		points = append(points, coil.ChargePoint{Time: us, Current: c.CurrentAt(us)})
	}
	points[3].Current *= 1.05
	f, err := coil.Fit(points, 13, 0.6)
	if err != nil {
		t.Fatal(err)
	}
	if f.At != points[3].Time || f.Worst < points[3].Current*0.02 || f.RMS < 0.01 {
		t.Errorf("worst %v at %v, rms %v", f.Worst, f.At, f.RMS)
	}
	near(t, "L0", float64(f.Iron.Inductance(0)), 6e-3, 0.6e-3)
}

func TestBadPointsAndCurves(t *testing.T) {
	charge := func(p ...coil.ChargePoint) error { _, err := coil.Fit(p, 13.8, 0.55); return err }
	curve := func(p ...coil.CurvePoint) error { _, err := coil.NewCurve(p); return err }
	flux := func(p ...coil.FluxPoint) error { _, err := coil.NewFluxTable(p); return err }
	second := func(_ any, err error) error { return err }
	for _, c := range []struct {
		name  string
		err   error
		field string
	}{
		{"two points", charge(coil.ChargePoint{1000, 2}, coil.ChargePoint{2000, 4}), "coil.charge"},
		{"falls", charge(coil.ChargePoint{1000, 2}, coil.ChargePoint{2000, 1.9}, coil.ChargePoint{3000, 6}), "coil.charge[2]"},
		{"past V/R", charge(coil.ChargePoint{1000, 2}, coil.ChargePoint{2000, 4}, coil.ChargePoint{3000, 26}), "coil.charge[3]"},
		{"no number", charge(coil.ChargePoint{1000, 2}, coil.ChargePoint{2000, quantity.Current(math.NaN())}, coil.ChargePoint{3000, 6}), "coil.charge[2]"},
		{"one point", curve(coil.CurvePoint{0, 5e-3}), "coil.curve"},
		{"current back", curve(coil.CurvePoint{2, 5e-3}, coil.CurvePoint{2, 4e-3}), "coil.curve[2]"},
		{"inductance rises", curve(coil.CurvePoint{0, 5e-3}, coil.CurvePoint{2, 6e-3}), "coil.curve[2]"},
		{"inductance zero", curve(coil.CurvePoint{0, 5e-3}, coil.CurvePoint{2, 0}), "coil.curve[2]"},
		{"inductance infinite", curve(coil.CurvePoint{0, quantity.Inductance(math.Inf(1))}, coil.CurvePoint{2, 1}), "coil.curve[1]"},
		{"flux falls", flux(coil.FluxPoint{2, 0.01}, coil.FluxPoint{4, 0.009}), "coil.flux[2]"},
		{"flux steeper", flux(coil.FluxPoint{2, 0.01}, coil.FluxPoint{4, 0.03}), "coil.flux[2]"},
		{"no flux", flux(), "coil.flux"},
		{"negative inductance", second(coil.Linear(-1e-3)), "coil.inductance"},
		{"no inductance", second(coil.NewSaturating(quantity.Inductance(math.NaN()), 8)), "coil.inductance"},
		{"zero saturation", second(coil.NewSaturating(5e-3, 0)), "coil.saturates_at"},
		{"floor above", second(coil.NewFloored(5e-3, 6e-3, 8)), "coil.inductance"},
	} {
		var f *quantity.Invalid
		if !errors.As(c.err, &f) || f.Field != c.field || f.Found == "" || f.Remedy == "" {
			t.Errorf("%s: %v", c.name, c.err)
		}
	}
}
