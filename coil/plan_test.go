package coil_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"phasewright/coil"
	"phasewright/distributor"
	"phasewright/quantity"
)

// plan is an invented six-cylinder workboat engine.
func plan(t testing.TB) coil.Plan {
	f := firings(t, 6)
	p := primary()
	return coil.Plan{
		Primary: &p, Share: coil.OneCoil(f), Dwell: 3200, Cylinder: cylinder(), Plug: 0.8,
		Rotor:  &distributor.Rotor{Radius: 27, Tip: 9, Terminal: 7, AirGap: 0.9, Towers: distributor.TowersOf(f), AtEdge: -21, Play: 1},
		Sparks: distributor.Sparks{Lead: 60, Latest: 2, Earliest: 34}, Cranking: coil.Exactly[quantity.Crank](12), CrankingSpeed: 180, CrankingSupply: 9.8, Running: 13.8,
		Idle: 750, Redline: 4200,
	}
}

// The chart has the marks, rises in speed, and each point is what its parts say it is.
func TestChartHangsTogether(t *testing.T) {
	p := plan(t)
	if err := p.Check(); err != nil {
		t.Fatal(err)
	}
	c := p.Chart([]quantity.Voltage{9.8, 12, 13.8}, 200)
	if len(c.Lines) != 3 || len(c.Marks) != 3 {
		t.Fatal("lines or marks are missing")
	}
	for _, l := range c.Lines {
		for _, m := range c.Marks {
			if _, ok := l.At(m.Speed); !ok {
				t.Errorf("%s at %v is not among the speeds", m.Name, m.Speed)
			}
		}
		hot := p.Primary.Hot(l.Supply)
		for k, pt := range l.Points {
			if k > 0 && pt.Speed <= l.Points[k-1].Speed {
				t.Fatal("speeds do not rise")
			}
			interval := 20 / float64(pt.Speed) * 1e6 // 120/(6·n) s
			near(t, "fits", float64(pt.Fits), max(interval-1000, 0), 1e-6)
			near(t, "applied", float64(pt.Applied), min(3200, max(interval-1000, 0)), 1e-6)
			near(t, "current", float64(pt.Current), float64(hot.CurrentAt(pt.Applied)), 1e-9)
			near(t, "margin", pt.Margin.Low, float64(pt.Available.Low/pt.Demand.Volts.High), 1e-12)
			// formula against itself: inside what the bands alone would say
			if loose := pt.Round.Volts.Over(pt.Demand.Volts); pt.Crossfire.Low < loose.Low || pt.Crossfire.High > loose.High || pt.Crossfire.Low > pt.Crossfire.High {
				t.Fatalf("crossfire %v, bands say %v", pt.Crossfire, loose)
			}
			if pt.Margin.Low > pt.Margin.High {
				t.Fatal("margin band is upside down")
			}
			if (pt.Hand < 1) != (pt.Limit != coil.Nothing) {
				t.Fatalf("%v at %v: limit %v with %g in hand", pt.Speed, l.Supply, pt.Limit, pt.Hand)
			}
		}
		if row, ok := l.At(4200); !ok || l.Reach.Full > 4200 && row.Limit == coil.NoTime {
			t.Error("time runs out below the speed up to which it is said to fit")
		}
	}
	// the mark speeds agree with the single points
	row, _ := c.Lines[0].At(180)
	if got := p.CrankingRow(); got.Current != row.Current || got.Margin != row.Margin {
		t.Error("cranking row and chart differ")
	}
	// cranking is at its own advance, so its charge is thinner than at the latest running spark
	idle, _ := c.Lines[2].At(750)
	if !(row.Demand.Volts.High < idle.Demand.Volts.High) {
		t.Error("12° at cranking must ask less than 2° running")
	}
}

// Each limit is named where it is the cause, with numbers chosen so that it is.
func TestLimitsAreNamed(t *testing.T) {
	for _, c := range []struct {
		name   string
		speed  quantity.Speed
		supply quantity.Voltage
		change func(*coil.Plan)
		want   coil.Limit
	}{
		{"all well", 2000, 13.8, func(p *coil.Plan) { p.Dwell = 3300 }, coil.Nothing},
		{"weak supply", 2000, 5, func(*coil.Plan) {}, coil.NeverTarget},
		{"too fast", 5600, 13.8, func(*coil.Plan) {}, coil.NoTime},
		{"dwell short", 2000, 13.8, func(p *coil.Plan) { p.Dwell = 2000 }, coil.DwellShort},
		{"driver", 2000, 15.5, func(p *coil.Plan) { p.Primary.DriverLimit = 8 }, coil.DriverOver},
		{"driver, cold only", 2000, 13.8, func(p *coil.Plan) { // hot the coil stays below the limit, cold it passes it
			p.Dwell = 3300
			hot, cold := p.Primary.Hot(13.8).CurrentAt(3300), p.Primary.At(13.8, 20).CurrentAt(3300)
			p.Primary.DriverLimit = (hot + cold) / 2
		}, coil.DriverOver},
		{"hot", 2000, 13.8, func(p *coil.Plan) { p.Dwell, p.Primary.HeatLimit = 3300, 2 }, coil.Cooks},
		{"wide plug", 2000, 13.8, func(p *coil.Plan) { p.Dwell, p.Plug = 3300, 3 }, coil.WeakSpark},
		{"rotor 20° out", 2000, 13.8, func(p *coil.Plan) {
			p.Dwell, p.Rotor.AtEdge = 3300, -1
			p.Primary.Kept = coil.Exactly(1.0)
			p.Primary.Secondary = coil.Exactly(quantity.Capacitance(5e-12))
		}, coil.RotorClear},
		{"narrow cap", 2000, 13.8, func(p *coil.Plan) {
			p.Dwell = 3300
			p.Rotor.Towers, p.Rotor.Radius, p.Rotor.Tip, p.Rotor.Terminal, p.Rotor.AtEdge = distributor.EvenTowers(12), 20, 4, 3, -21
			p.Sparks.Earliest, p.Sparks.Latest = 20, 16
		}, coil.Crossfire},
		{"box pulse", 6500, 13.8, func(p *coil.Plan) { b := coil.Box{Width: 2900, Rest: 200}; p.Primary, p.Box = nil, &b }, coil.TriggerPulse},
	} {
		p := plan(t)
		c.change(&p)
		if err := p.Check(); err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		pt := p.PointAt(c.speed, c.supply)
		if pt.Limit != c.want {
			t.Errorf("%s: limit is %q, want %q (hand %.3g, least %v; current %v, margin %.2f, overlap %v, crossfire %.2f)",
				c.name, pt.Limit, c.want, pt.Hand, pt.Least, pt.Current, pt.Margin, pt.Rotor.Overlap, pt.Crossfire)
		}
	}
}

// Crossfire by the three formulas written out again: each set against itself, the wrong way edged (0.7) and in warm air
// at worst, the right way so at best.
func TestCrossfireByHand(t *testing.T) {
	p := plan(t)
	p.Rotor.Play = 0
	pt := p.PointAt(2000, 13.8)
	paschen := func(mm float64) float64 {
		pd := mm * 10.1325
		return 2737.5 * pd / (math.Log(112.5*pd) - math.Log(math.Log(101)))
	} // kPa·cm
	barCm := func(mm float64) float64 { x := mm / 10 * 1.01325; return 1e3 * (6.72*math.Sqrt(x) + 24.36*x) }
	density := func(mm float64) float64 { x := mm / 10; return 1e3 * (24.22*x + 6.08*math.Sqrt(x)) }
	low, high := math.Inf(1), 0.0
	for _, f := range []func(mm float64) float64{paschen, barCm, density} {
		// gaps as mm at one atmosphere and 20 °C; squeeze 2° and 34° before top dead centre, inlet 1 bar
		dense, thin := 0.8*p.Cylinder.Squeeze(2)/1.01325, 0.8*p.Cylinder.Squeeze(34)/1.01325
		round := float64(pt.Rotor.Neighbour)
		low = min(low, 0.7*(f(round*293.15/353.15)+f(0.8*293.15/873.15))/(f(dense)+f(0.9)))
		high = max(high, (f(round)+f(0.8))/(0.7*(f(thin)+f(0.9))))
	}
	near(t, "at worst", pt.Crossfire.Low, low, 1e-6)
	near(t, "at best", pt.Crossfire.High, high, 1e-6)
}

// Demand runs from the easiest spark to the hardest: thin charge and the smaller rotor gap to dense charge and the
// larger one. A range that holds top dead centre is densest there, not at its later end.
func TestDemandEnds(t *testing.T) {
	p := plan(t)
	p.Rotor.AtEdge, p.Rotor.Play = -4, 0 // 9° past the terminal at 34°, facing it; 25° past at 2°, clear of it
	w := p.Rotor.Sweep(p.Sparks, 2000)
	if w.Earliest.Clear() || !w.Latest.Clear() {
		t.Fatal("the example does not leave the terminal at one end")
	}
	pt := p.PointAt(2000, 13.8)
	low := (coil.Path{Plug: 0.8, Rotor: 0.9}).Demand(p.Cylinder.At(34).Reduced)
	high := (coil.Path{Plug: 0.8, Rotor: w.Latest.Gap}).Demand(p.Cylinder.At(2).Reduced)
	near(t, "easiest", float64(pt.Demand.Volts.Low), float64(low.Volts.Low), 1e-9)
	near(t, "hardest", float64(pt.Demand.Volts.High), float64(high.Volts.High), 1e-9)

	p = plan(t)
	p.Rotor, p.Sparks.Latest, p.Sparks.Earliest = nil, -8, 30
	top := (coil.Path{Plug: 0.8}).Demand(p.Cylinder.At(0).Reduced)
	near(t, "densest at top dead centre", float64(p.PointAt(2000, 13.8).Demand.Volts.High), float64(top.Volts.High), 1e-9)
}

// With nothing known of the coil there are demand and rotor, and no charge and no margin.
func TestNothingKnownOfTheCoil(t *testing.T) {
	p := plan(t)
	known := p.PointAt(2000, 13.8)
	p.Primary = nil
	if err := p.Check(); err != nil {
		t.Fatal(err)
	}
	pt := p.PointAt(2000, 13.8)
	if pt.Demand != known.Demand || pt.Rotor != known.Rotor || pt.Current != 0 || pt.Available.High != 0 || pt.Margin.High != 0 {
		t.Errorf("%+v", pt)
	}
}

// Marks of doubt: what no data reach is marked, and only that.
func TestDoubtIsMarked(t *testing.T) {
	p := plan(t)
	pt := p.PointAt(2000, 13.8)
	if pt.Beyond || pt.Demand.Outside != 0 {
		t.Errorf("beyond %v, demand outside %v", pt.Beyond, pt.Demand.Outside)
	}
	if pt.Rotor.Neighbour < 10 || pt.Round.Outside&coil.TooLong == 0 {
		t.Errorf("a way round of %v is longer than any published gap here and carries no mark", pt.Rotor.Neighbour)
	}
	p.Cylinder.Inlet, p.Plug = 2.5e5, 1.2
	if p.PointAt(2000, 13.8).Demand.Outside&coil.TooLong == 0 {
		t.Error("1.2 mm under a blower is past the published gaps")
	}
}

// Every bad value names its field, and says what is accepted.
func TestBadPlans(t *testing.T) {
	for _, c := range []struct {
		field  string
		change func(*coil.Plan)
	}{
		{"coil.resistance", func(p *coil.Plan) { p.Primary.Resistance = -0.5 }},
		{"coil.resistance", func(p *coil.Plan) { p.Primary.Resistance = quantity.Resistance(math.NaN()) }},
		{"coil.inductance", func(p *coil.Plan) { p.Primary.Iron = nil }},
		{"coil.wiring", func(p *coil.Plan) { p.Primary.Wiring = -1 }},
		{"coil.driver_drop", func(p *coil.Plan) { p.Primary.DriverDrop = -1 }},
		{"coil.temperature", func(p *coil.Plan) { p.Primary.Temperature = 900 }},
		{"coil.target", func(p *coil.Plan) { p.Primary.Target = 0 }},
		{"coil.target", func(p *coil.Plan) { p.Primary.Target, p.Primary.DriverLimit = 25, 40 }}, // (13.8 − 0.4)/0.6 = 22.3 A
		{"coil.target", func(p *coil.Plan) { p.Primary.DriverLimit = 5 }},
		{"coil.off_time", func(p *coil.Plan) { p.Primary.OffTime = -1 }},
		{"coil.efficiency", func(p *coil.Plan) { p.Primary.Kept = coil.Exactly(1.2) }},
		{"coil.secondary_capacitance", func(p *coil.Plan) { p.Primary.Secondary = coil.Exactly(quantity.Capacitance(0)) }},
		{"coil.heat_limit", func(p *coil.Plan) { p.Primary.HeatLimit = -1 }},
		{"coil.heat_limit", func(p *coil.Plan) { p.Primary.HeatLimit = quantity.Power(math.NaN()) }},
		{"coil.driver_limit", func(p *coil.Plan) { p.Primary.DriverLimit = quantity.Current(math.NaN()) }},
		{"coil.ceiling", func(p *coil.Plan) { p.Primary.Ceiling = -1 }},
		{"ignition.supply", func(p *coil.Plan) { p.Primary.Supply = 0.3 }},
		{"ignition.dwell", func(p *coil.Plan) { p.Dwell = -1 }},
		{"ignition.dwell", func(p *coil.Plan) { b := coil.Box{Width: -1}; p.Primary, p.Box = nil, &b }},
		{"ignition.output", func(p *coil.Plan) { b := coil.Box{Width: 2000}; p.Box = &b }},
		{"ignition.plug_gap", func(p *coil.Plan) { p.Plug = 0 }},
		{"ignition.plug_gap", func(p *coil.Plan) { p.Plug = 12 }},
		{"engine.compression_ratio", func(p *coil.Plan) { p.Cylinder.Ratio = 1 }},
		{"engine.inlet_pressure", func(p *coil.Plan) { p.Cylinder.Inlet = 1 }},
		{"engine.rod", func(p *coil.Plan) { p.Cylinder.Crank.Rod = 20 }},
		{"engine.polytropic", func(p *coil.Plan) { p.Cylinder.Polytropic = coil.Exactly(2.0) }},
		{"engine.redline", func(p *coil.Plan) { p.Redline = 500 }},
		{"engine.cranking_speed", func(p *coil.Plan) { p.CrankingSpeed = 0 }},
		{"controller.advance", func(p *coil.Plan) { p.Sparks.Latest = 50 }},
	} {
		p := plan(t)
		c.change(&p)
		err := p.Check()
		var f *quantity.Invalid
		if !errors.As(err, &f) || f.Field != c.field {
			t.Errorf("%s: %v", c.field, err)
			continue
		}
		if parts := strings.Split(err.Error(), " – "); len(parts) != 3 || parts[2] == "" {
			t.Errorf("%s: %q is not where – what – remedy", c.field, err)
		}
	}
	p := plan(t)
	p.Rotor.Tip = 40
	var r *quantity.Invalid
	if err := p.Check(); !errors.As(err, &r) || r.Field != "distributor.rotor_tip" {
		t.Errorf("tip wider than the spacing: %v", err)
	}
}

// No plan that passes its check gives a number that is not a number.
func TestChartIsFinite(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := plan(t)
		p.Primary.Resistance = quantity.Resistance(rapid.Float64Range(0.1, 5).Draw(rt, "R"))
		p.Primary.Target = quantity.Current(rapid.Float64Range(1, 20).Draw(rt, "target"))
		p.Primary.DriverLimit = 0
		p.Dwell = quantity.Time(rapid.Float64Range(0, 9000).Draw(rt, "dwell"))
		p.Rotor.AtEdge = quantity.Shaft(rapid.Float64Range(-180, 180).Draw(rt, "edge"))
		p.Sparks.NetDelay = quantity.Time(rapid.Float64Range(-500, 500).Draw(rt, "delay"))
		p.Sparks.Latest = quantity.Crank(rapid.Float64Range(-20, 30).Draw(rt, "latest"))
		if p.Check() != nil {
			return
		}
		for _, l := range p.Chart([]quantity.Voltage{0.2, 6, 16}, 20).Lines {
			for _, pt := range l.Points {
				for _, v := range []float64{float64(pt.Current), float64(pt.Stored), float64(pt.Mean), float64(pt.Copper), float64(pt.Heat.High), float64(pt.Available.High),
					float64(pt.Demand.Volts.High), pt.Margin.Low, pt.Margin.High, float64(pt.Rotor.Gap), pt.Crossfire.Low, pt.Hand} {
					if math.IsNaN(v) || math.IsInf(v, 0) {
						rt.Fatalf("%v at %v: %+v", pt.Speed, l.Supply, pt)
					}
				}
			}
		}
	})
}
