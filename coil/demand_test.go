package coil_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"phasewright/coil"
	"phasewright/engine"
	"phasewright/quantity"
)

func cylinder() coil.Cylinder {
	return coil.Cylinder{Crank: engine.SliderCrank{Stroke: 90, Rod: 152}, Ratio: 8.6, Inlet: 1e5, Charge: 20, Polytropic: coil.UsualExponent}
}

// Air-standard compression at ratio 8 from 100 kPa and 290 K with n = 1.4: 8^1.4 = 18.379 and 8^0.4 = 2.2974, so 1837.9
// kPa and 666.2 K at top dead centre: p·r^n and T·r^(n−1) of the polytropic law, the powers by hand. That
// thermodynamics textbooks print this cold-air Otto example is from memory.
func TestCompressionWorkedExample(t *testing.T) {
	c := cylinder()
	c.Ratio, c.Charge, c.Polytropic = 8, 290-273.15, coil.Exactly(1.4)
	at := c.At(0)
	near(t, "squeeze at TDC", c.Squeeze(0), 8, 1e-12)
	near(t, "pressure", float64(at.Pressure.Low), 1837.9e3, 50)
	near(t, "temperature", float64(at.Temperature.Low)+273.15, 666.2, 0.05)
	// density is 8 times that of the inlet, whatever the exponent: 8 bar · 293.15/290
	near(t, "reduced pressure", float64(at.Reduced), 8e5*293.15/290, 1e-6)
	near(t, "reduced pressure from p and T", float64(coil.Reduced(at.Pressure.Low, at.Temperature.Low)), float64(at.Reduced), 1e-3)
}

// testdata/slider_crank_5deg.csv (40-digit arithmetic): squeeze = (2 + k)/(x/r + k) with k = 2/(ratio − 1), in
// crank radii.
func TestSqueezeAgainstSliderCrankTable(t *testing.T) {
	n := 0
	for _, r := range rows(t, "slider_crank_5deg.csv", 30) {
		rod, angle, x := number(t, r["rod_over_crank"]), number(t, r["angle_deg"]), number(t, r["x_over_r"])
		c := cylinder()
		c.Crank = engine.SliderCrank{Stroke: 90, Rod: quantity.Length(45 * rod)}
		k := 2 / (8.6 - 1)
		near(t, "squeeze at "+r["angle_deg"], c.Squeeze(quantity.Crank(angle)), (2+k)/(x+k), 1e-9)
		n++
	}
	if n < 30 {
		t.Fatal("table is short")
	}
}

// With a pin offset the piston stands otherwise 10° before than 10° after top dead centre; an advance counts before.
func TestSqueezeCountsBefore(t *testing.T) {
	c := cylinder()
	c.Crank.Offset = 20
	before, after := float64(c.Crank.Travel(-30)), float64(c.Crank.Travel(30))
	if math.Abs(before-after) < 0.05 {
		t.Fatal("the offset makes no difference")
	}
	s := float64(c.Crank.Travel(180))
	near(t, "squeeze", c.Squeeze(30), (s/7.6+s)/(s/7.6+before), 1e-12)
}

// An inlet valve that closes late traps less.
func TestLateClosingTrapsLess(t *testing.T) {
	c := cylinder()
	early := c.Squeeze(10)
	c.ClosesAt = 50
	if late := c.Squeeze(10); !(late < early) {
		t.Errorf("squeeze %g closing at bottom, %g closing 50° later", early, late)
	}
}

// ½·C·V² = k·W: 100 mJ, half of it kept, 50 pF: √(2·0.5·0.1/50e−12) = 44.72 kV.
func TestAvailableByHand(t *testing.T) {
	p := primary()
	p.Kept, p.Secondary = coil.Exactly(0.5), coil.Exactly(quantity.Capacitance(50e-12))
	near(t, "available", float64(p.Available(0.1).Low), 44721.36, 0.01)
	near(t, "band closes", float64(p.Available(0.1).High), 44721.36, 0.01)
	p.Ceiling = 36e3
	near(t, "ceiling", float64(p.Available(0.1).High), 36e3, 0)
	if p.Available(0).High != 0 {
		t.Error("no energy, no voltage")
	}
}

// Gaps in series add; a companion's plug adds less than the firing one; a later spark meets a denser charge and
// needs more.
func TestDemand(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := cylinder()
		c.Ratio = rapid.Float64Range(6, 14).Draw(t, "ratio")
		c.Charge = quantity.Temperature(rapid.Float64Range(-20, 80).Draw(t, "charge"))
		a := quantity.Crank(rapid.Float64Range(0, 50).Draw(t, "advance"))
		gap := quantity.Length(rapid.Float64Range(0.3, 1.5).Draw(t, "gap"))
		p := c.At(a).Reduced
		plug := coil.Path{Plug: gap}.Demand(p)
		both := coil.Path{Plug: gap, Rotor: 0.9}.Demand(p)
		rotor := coil.InCap(0.9)
		if math.Abs(float64(both.Volts.High-plug.Volts.High-rotor.Volts.High)) > 1e-6 || math.Abs(float64(both.Volts.Low-plug.Volts.Low-rotor.Volts.Low)) > 1e-6 {
			t.Fatal("gaps in series do not add")
		}
		wasted := coil.Path{Plug: gap, Wasted: true}.Demand(p)
		if extra := wasted.Volts.High - plug.Volts.High; !(extra > 0 && extra < plug.Volts.High) {
			t.Fatalf("companion's plug adds %v to %v", extra, plug.Volts.High)
		}
		if later := (coil.Path{Plug: gap}).Demand(c.At(a - 1).Reduced); a > 1 && later.Volts.High < plug.Volts.High {
			t.Fatal("a later spark needs less")
		}
		colder := c
		colder.Charge -= 20
		if (coil.Path{Plug: gap}).Demand(colder.At(a).Reduced).Volts.High <= plug.Volts.High {
			t.Fatal("a colder charge needs less")
		}
	})
}

// The widest plug gap really is the edge: a hair wider no longer has the margin.
func TestLargestPlugGap(t *testing.T) {
	path, p, have := coil.Path{Plug: 0.8, Rotor: 0.9}, cylinder().At(2).Reduced, coil.Band[quantity.Voltage]{Low: 28e3, High: 36e3}
	d, ok := coil.LargestPlugGap(path, p, have, 1.2)
	if !ok || d < 0.3 || d > 3 {
		t.Fatalf("%v %v", d, ok)
	}
	path.Plug = d
	near(t, "margin at the edge", have.Over(path.Demand(p).Volts).Low, 1.2, 1e-6)
	if _, ok := coil.LargestPlugGap(path, p, coil.Band[quantity.Voltage]{Low: 100, High: 100}, 1.2); ok {
		t.Error("100 V jumps no plug")
	}
}
