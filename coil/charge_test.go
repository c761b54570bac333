package coil_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"phasewright/coil"
	"phasewright/quantity"
)

// anyIron draws a curve of any shape.
func anyIron(t *rapid.T) coil.Iron {
	l0 := rapid.Float64Range(0.5e-3, 50e-3).Draw(t, "L0")
	is := rapid.Float64Range(1, 40).Draw(t, "Is")
	switch rapid.IntRange(0, 4).Draw(t, "shape") {
	case 0:
		return must(coil.Linear(quantity.Inductance(l0)))
	case 1:
		return must(coil.NewSaturating(quantity.Inductance(l0), quantity.Current(is)))
	case 2:
		return must(coil.NewFloored(quantity.Inductance(l0), quantity.Inductance(l0*rapid.Float64Range(0.02, 1).Draw(t, "floor")), quantity.Current(is)))
	case 3:
		points, i, l := []coil.CurvePoint{}, 0.0, l0
		for range rapid.IntRange(2, 12).Draw(t, "points") {
			points = append(points, coil.CurvePoint{Current: quantity.Current(i), Inductance: quantity.Inductance(l)})
			i += rapid.Float64Range(0.05, 3).Draw(t, "step")
			l *= rapid.Float64Range(0.3, 1.02).Draw(t, "fall")
		}
		return must(coil.NewCurve(points))
	default:
		points, i, l, flux := []coil.FluxPoint{}, 0.0, l0, 0.0
		for range rapid.IntRange(1, 12).Draw(t, "points") {
			step := rapid.Float64Range(0.05, 3).Draw(t, "step")
			i += step
			flux += l * step
			points = append(points, coil.FluxPoint{Current: quantity.Current(i), Flux: flux})
			l *= rapid.Float64Range(0.3, 1.02).Draw(t, "fall")
		}
		return must(coil.NewFluxTable(points))
	}
}

func anyCircuit(t *rapid.T) coil.Circuit {
	return coil.Circuit{
		Drive:      quantity.Voltage(rapid.Float64Range(1, 48).Draw(t, "V")),
		Resistance: quantity.Resistance(rapid.Float64Range(0.05, 5).Draw(t, "R")),
		Iron:       anyIron(t),
	}
}

// More time or more supply never gives less current, and the current never passes V/R.
func TestCurrentRises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyCircuit(t)
		at := quantity.Time(rapid.Float64Range(1, 50e3).Draw(t, "t"))
		i := c.CurrentAt(at)
		if later := c.CurrentAt(at * 1.01); later < i {
			t.Fatalf("%v at %v, %v a little later", i, at, later)
		}
		if !(i > 0) || i > c.Final() {
			t.Fatalf("%v is not in 0…%v", i, c.Final())
		}
		more := c
		more.Drive *= 1.01
		if more.CurrentAt(at) < i {
			t.Fatal("more supply, less current")
		}
		hot := c
		hot.Resistance *= 1.2
		if hot.CurrentAt(at) > i {
			t.Fatal("more resistance, more current")
		}
	})
}

// TimeTo and CurrentAt undo each other.
func TestTimeAndCurrentRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyCircuit(t)
		i := c.Final() * quantity.Current(rapid.Float64Range(1e-4, 0.995).Draw(t, "share"))
		back := c.CurrentAt(c.TimeTo(i))
		if math.Abs(float64(back/i)-1) > 1e-9 {
			t.Fatalf("%v came back as %v", i, back)
		}
	})
}

// The energy account closes: what the supply gave is in the iron or was turned to heat, and ∫i dt and ∫R·i² dt by
// Simpson's rule agree with the ones from flux and energy.
func TestEnergyAccount(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyCircuit(t)
		// up to 40 A, past any coil: hundreds of amperes through iron that gave in at one make a corner that Simpson's
		// rule cannot follow
		at := c.TimeTo(min(40, c.Final()*quantity.Current(rapid.Float64Range(0.01, 0.98).Draw(t, "share"))))
		s := c.After(at)
		if !(s.Stored > 0) || s.Stored > s.Drawn || s.Heat < 0 {
			t.Fatalf("stored %v, drawn %v, heat %v", s.Stored, s.Drawn, s.Heat)
		}
		const n = 4000
		var charge, heat float64
		for k := 0; k <= n; k++ {
			i := float64(c.CurrentAt(at * quantity.Time(k) / n))
			w := []float64{2, 4}[k%2]
			if k == 0 || k == n {
				w = 1
			}
			charge += w * i
			heat += w * i * i * float64(c.Resistance)
		}
		charge *= at.Seconds() / (3 * n)
		heat *= at.Seconds() / (3 * n)
		if math.Abs(charge/s.Passed-1) > 1e-5 {
			t.Fatalf("∫i dt: %g by Simpson, %g by flux", charge, s.Passed)
		}
		if math.Abs(heat-float64(s.Heat)) > 1e-5*float64(s.Drawn) {
			t.Fatalf("∫R·i² dt: %g by Simpson, %g by energy", heat, float64(s.Heat))
		}
	})
}

// Flux, inductance and energy belong together: dλ = L di and dW = i dλ, by Simpson's rule on short steps.
func TestFluxAndEnergyForms(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		iron := anyIron(t)
		i := rapid.Float64Range(0.1, 30).Draw(t, "i")
		const n = 4000
		var flux, energy float64
		for k := range n {
			a, m, b := i*float64(k)/n, i*(float64(k)+0.5)/n, i*float64(k+1)/n
			l := func(x float64) float64 { return float64(iron.Inductance(quantity.Current(x))) }
			flux += (l(a) + 4*l(m) + l(b)) / 6 * (b - a)
			energy += (a*l(a) + 4*m*l(m) + b*l(b)) / 6 * (b - a)
		}
		if f := iron.Flux(quantity.Current(i)); math.Abs(flux/f-1) > 3e-3 { // steps of a flux table fall between the nodes
			t.Fatalf("∫L di = %g, λ = %g", flux, f)
		}
		if w := float64(iron.Stored(quantity.Current(i))); math.Abs(energy/w-1) > 3e-3 {
			t.Fatalf("∫i·L di = %g, W = %g", energy, w)
		}
	})
}

// The current form L(i)·di/dt = V − R·i and the flux form dλ/dt = V − R·i(λ) give the same charge: here the flux form,
// by Runge–Kutta with i(λ) found by bisection, against CurrentAt.
func TestFluxFormAgreesWithCurrentForm(t *testing.T) {
	for _, iron := range []coil.Iron{must(coil.NewSaturating(5.2e-3, 8)), must(coil.NewFloored(6e-3, 0.6e-3, 7)),
		must(coil.NewCurve([]coil.CurvePoint{{Current: 0, Inductance: 6e-3}, {Current: 4, Inductance: 5.5e-3}, {Current: 8, Inductance: 2e-3}, {Current: 12, Inductance: 1e-3}}))} {
		c := coil.Circuit{Drive: 13.5, Resistance: 0.7, Iron: iron}
		current := func(flux float64) float64 {
			lo, hi := 0.0, 200.0
			for range 60 {
				if mid := (lo + hi) / 2; iron.Flux(quantity.Current(mid)) < flux {
					lo = mid
				} else {
					hi = mid
				}
			}
			return lo
		}
		slope := func(flux float64) float64 { return 13.5 - 0.7*current(flux) }
		const h = 2e-6
		flux := 0.0
		for k := 1; k <= 2000; k++ {
			a := slope(flux)
			b := slope(flux + h/2*a)
			d := slope(flux + h/2*b)
			e := slope(flux + h*d)
			flux += h / 6 * (a + 2*b + 2*d + e)
			if k%250 == 0 {
				near(t, iron.String(), float64(c.CurrentAt(quantity.Seconds(h*float64(k)))), current(flux), 1e-6)
			}
		}
	}
}

// A broken line laid through L0/(1+(i/Is)²) closely charges like it.
func TestCurveFollowsFormula(t *testing.T) {
	whole := must(coil.NewSaturating(5.2e-3, 8))
	var points []coil.CurvePoint
	for i := 0.0; i <= 16; i += 0.1 {
		points = append(points, coil.CurvePoint{Current: quantity.Current(i), Inductance: whole.Inductance(quantity.Current(i))})
	}
	table := must(coil.NewCurve(points))
	for _, us := range []quantity.Time{500, 2000, 3000} {
		a := coil.Circuit{Drive: 13.8, Resistance: 0.55, Iron: whole}.CurrentAt(us)
		b := coil.Circuit{Drive: 13.8, Resistance: 0.55, Iron: table}.CurrentAt(us)
		near(t, "table and formula", float64(b), float64(a), 2e-4*float64(a))
	}
}

// No drive, no charge; no time, no current; out of reach is infinite, not a number.
func TestChargeEdges(t *testing.T) {
	c := linear(13.8, 0.55, 5.2e-3)
	if got := c.TimeTo(c.Final()); !math.IsInf(float64(got), 1) {
		t.Errorf("time to the final current %v", got)
	}
	if _, ok := c.To(c.Final() * 2); ok {
		t.Error("twice the final current was reached")
	}
	dead := linear(-0.5, 0.55, 5.2e-3)
	if s := dead.After(3000); s.Current != 0 || s.Stored != 0 || s.Drawn != 0 || s.Heat != 0 {
		t.Errorf("without drive: %+v", s)
	}
	if c.CurrentAt(0) != 0 || c.CurrentAt(-5) != 0 {
		t.Error("current before the start")
	}
	if got := float64(c.CurrentAt(1e9)); math.Abs(got/float64(c.Final())-1) > 1e-12 {
		t.Errorf("after 1000 s %g of %v", got, c.Final())
	}
}

// Past the last point of a table the result carries the mark.
func TestBeyondMark(t *testing.T) {
	iron := must(coil.NewCurve([]coil.CurvePoint{{Current: 0, Inductance: 5e-3}, {Current: 6, Inductance: 4e-3}}))
	c := coil.Circuit{Drive: 14, Resistance: 0.5, Iron: iron}
	if s, ok := c.To(5.9); !ok || s.Beyond {
		t.Error("5.9 A lies inside the table")
	}
	if s, ok := c.To(6.1); !ok || !s.Beyond {
		t.Error("6.1 A lies past the table and carries no mark")
	}
}
