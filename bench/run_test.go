package bench

import (
	"math"
	"testing"

	"phasewright/quantity"
)

func TestSameSeedSameEvents(t *testing.T) {
	run := func(seed uint64) (sum float64) {
		c := Default()
		f, _ := ParseFaults(c, "worn=1deg", "noise=5%", "crossfire", "clamp", "lash")
		r, err := NewRig(c, f, Sweep(800, 4000, quantity.Seconds(3)), seed)
		if err != nil {
			t.Fatal(err)
		}
		r.Run(func(e *Event) bool { sum = sum*0.999 + float64(e.Time) + float64(e.Advance); return true })
		return sum
	}
	if run(1) != run(1) {
		t.Error("same seed, different events")
	}
	if run(1) == run(2) {
		t.Error("another seed, same events")
	}
}

// BenchmarkEvents runs an hour of an eight at 6,000 rpm.
func BenchmarkEvents(b *testing.B) {
	c := Default()
	c.Engine.Redline = 7000
	hours, n := 0, 0
	for b.Loop() {
		r, err := NewRig(c, Faults{}, Hold(6000, quantity.Seconds(3600)), 1)
		if err != nil {
			b.Fatal(err)
		}
		r.Run(func(e *Event) bool {
			if e.Kind == Spark {
				n++
			}
			return true
		})
		hours++
	}
	per := b.Elapsed().Seconds() / float64(hours)
	b.ReportMetric(3600/per, "×life")
	b.ReportMetric(per*1e9/float64(n/hours), "ns/firing")
}

// A rotor out of phase takes the spark to the next tower at one end of the advance range and not at the other.
func TestRotorOutOfPhaseFailsAtOneEnd(t *testing.T) {
	c := quiet(8)
	c.Controller.Unlocked = true
	elsewhere := func(rpm float64, fault string) int {
		n := 0
		for _, e := range sparks(t, c, Hold(quantity.Speed(rpm), quantity.Seconds(2)), 0, fault) {
			if math.Abs(float64(e.Advance-e.Commanded)) > 1 {
				n++
			}
		}
		return n
	}
	// The map goes from 12° to 34°, so the tip sweeps 11° of the shaft; tip and terminal meet within 16 mm / 2 / 27
	// mm = 17°. A tip ahead meets trouble where the spark is late, one behind where it is early.
	if low, high := elsewhere(500, "rotor=+17deg"), elsewhere(4000, "rotor=+17deg"); low == 0 || high != 0 {
		t.Errorf("tip ahead: %d sparks elsewhere at 12° advance, %d at 34°", low, high)
	}
	if low, high := elsewhere(500, "rotor=-17deg"), elsewhere(4000, "rotor=-17deg"); low != 0 || high == 0 {
		t.Errorf("tip behind: %d sparks elsewhere at 12° advance, %d at 34°", low, high)
	}
}

// Weak sparks where dwell or supply fall short; with the constants of the invented eight, 60 % of the target current
// takes t = −L/R·ln(1 − 0.6·I·R/V): 1.25 ms at 13.8 V.
func TestWeakSparks(t *testing.T) {
	weak := func(rpm float64, fault string) (n int) {
		for _, e := range sparks(t, quiet(8), Hold(quantity.Speed(rpm), quantity.Seconds(1)), 0, fault)[5:] {
			if e.Weak {
				n++
			}
		}
		return n
	}
	if n := weak(1500, "dwell=-850us"); n != 0 { // 1.35 ms
		t.Errorf("%d weak sparks at 1.35 ms", n)
	}
	if n := weak(1500, "dwell=-1000us"); n == 0 { // 1.2 ms
		t.Error("no weak spark at 1.2 ms")
	}
	if n := weak(1500, "supply=-6V"); n == 0 {
		t.Error("no weak spark at 7.8 V")
	}
}
