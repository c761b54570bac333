package coil_test

import (
	"math"
	"testing"

	"phasewright/coil"
	"phasewright/quantity"
)

// The whole decision chart: 200 speeds at 3 supplies, each charge solved hot and cold, rotor swept at each speed.
// Wanted: 20 ms at most.
func BenchmarkChart(b *testing.B) {
	floored := must(coil.NewFloored(5.2e-3, 0.6e-3, 8))
	table := must(coil.NewCurve([]coil.CurvePoint{{Current: 0, Inductance: 5.2e-3}, {Current: 3, Inductance: 4.8e-3}, {Current: 6, Inductance: 3.4e-3}, {Current: 10, Inductance: 2e-3}}))
	for name, iron := range map[string]coil.Iron{"formula": primary().Iron, "table": table, "floored": floored} {
		b.Run(name, func(b *testing.B) {
			p := plan(b)
			p.Primary.Iron = iron
			for b.Loop() {
				if c := p.Chart([]quantity.Voltage{9.8, 12, 13.8}, 200); len(c.Lines) != 3 {
					b.Fatal("lines")
				}
			}
		})
	}
}

// One current of a charge, and its worst error over the charge against Runge–Kutta of the fourth order in 100,000 steps
// (of 40 ns).
func BenchmarkCurrentAt(b *testing.B) {
	table := must(coil.NewCurve([]coil.CurvePoint{{Current: 0, Inductance: 5.2e-3}, {Current: 3, Inductance: 4.8e-3}, {Current: 6, Inductance: 3.4e-3}, {Current: 10, Inductance: 2e-3}}))
	for name, iron := range map[string]coil.Iron{"linear": must(coil.Linear(5.2e-3)), "formula": must(coil.NewSaturating(5.2e-3, 8)), "table": table,
		"floored": must(coil.NewFloored(5.2e-3, 0.6e-3, 8))} {
		b.Run(name, func(b *testing.B) {
			c := coil.Circuit{Drive: 13.4, Resistance: 0.6, Iron: iron}
			worst, k := fineStep(c), 0
			for b.Loop() {
				k = k%4000 + 1
				if c.CurrentAt(quantity.Time(k)) <= 0 {
					b.Fatal("no current")
				}
			}
			b.ReportMetric(worst*1e12, "error/1e-12")
		})
	}
}

// fineStep is the worst relative difference over 4 ms between CurrentAt and a fine-step Runge–Kutta run of L(i)·di/dt =
// V − R·i.
func fineStep(c coil.Circuit) float64 {
	const h, steps = 40e-9, 100_000
	v, r := float64(c.Drive), float64(c.Resistance)
	slope := func(i float64) float64 { return (v - r*i) / float64(c.Iron.Inductance(quantity.Current(i))) }
	i, worst := 0.0, 0.0
	for k := 1; k <= steps; k++ {
		a := slope(i)
		d := slope(i + h/2*a)
		e := slope(i + h/2*d)
		f := slope(i + h*e)
		i += h / 6 * (a + 2*d + 2*e + f)
		if k%1000 == 0 {
			worst = max(worst, math.Abs(float64(c.CurrentAt(quantity.Seconds(h*float64(k))))/i-1))
		}
	}
	return worst
}

// The same comparison as a test, so that the figure cannot rot: one part in 10⁹.
func TestCurrentAgainstFineSteps(t *testing.T) {
	for _, iron := range []coil.Iron{must(coil.Linear(5.2e-3)), must(coil.NewSaturating(5.2e-3, 8)), must(coil.NewFloored(5.2e-3, 0.6e-3, 8))} {
		if worst := fineStep(coil.Circuit{Drive: 13.4, Resistance: 0.6, Iron: iron}); worst > 1e-9 {
			t.Errorf("%v: worst relative difference %g", iron, worst)
		}
	}
}

func BenchmarkFit(b *testing.B) {
	c := coil.Circuit{Drive: 12.8, Resistance: 0.6, Iron: must(coil.NewSaturating(5.2e-3, 8))}
	var points []coil.ChargePoint
	for us := quantity.Time(300); us <= 3300; us += 300 {
		points = append(points, coil.ChargePoint{Time: us, Current: c.CurrentAt(us) * quantity.Current(1+0.01*math.Sin(float64(us)))})
	}
	for b.Loop() {
		if _, err := coil.Fit(points, 12.8, 0.6); err != nil {
			b.Fatal(err)
		}
	}
}
