package bench

import (
	"math"
	"strings"
	"testing"

	"phasewright/quantity"
)

// cranked turns an engine on the starter for so long and gives the mean speed, rpm, and the supply in the last three
// seconds.
func cranked(s *Session, seconds float64) (rpm, volts float64) {
	pass(s, seconds-3)
	a := s.Step(0)
	sum, n := 0.0, 0.0
	for range 60 {
		sum, n = sum+s.Step(quantity.Milliseconds(50)).SupplyV, n+1
	}
	b := s.Step(0)
	return (b.TurnedDeg - a.TurnedDeg) / (b.TimeS - a.TimeS) / 6, sum / n
}

// Battery and starter as straight lines: T = v·stall·(1 − n/(v·free)). At the torque that the engine took before,
// n = mean − (1 − v)·free with free = 1.6·mean (textbook machine). On 10.6 of 12.6 V, v = 0.841, that is 0.746 of 185 rpm
// = 138 rpm; on 11.6 V, v = 0.921, 0.873 of it = 161 rpm. A warm winding takes a little of it. The sag is that of the same
// torque, 12.6 − 10.2 = 2.4 V.
func TestStarterOnALowBattery(t *testing.T) {
	for _, tc := range []struct{ fault, rpm, volts float64 }{{0, 185, 10.2}, {-1, 161, 9.2}, {-2, 138, 8.2}} {
		s, err := NewSession(variant(8), Faults{Supply: quantity.Voltage(tc.fault)}, 2)
		if err != nil {
			t.Fatal(err)
		}
		s.Key(On)
		s.Starter(On)
		rpm, volts := cranked(s, 5)
		if math.Abs(rpm-tc.rpm) > 9 || math.Abs(volts-tc.volts) > 0.3 {
			t.Errorf("%+g V: %.0f rpm at %.2f V, want %g rpm at %g V", tc.fault, rpm, volts, tc.rpm, tc.volts)
		}
	}
}

// Five volts down the battery gives 7.6 V, of which the starter's sag leaves 5.2 V: under the 6 V at which a controller is
// taken to drop out. Nothing sparks, nothing starts, and the starter hardly turns it.
func TestFiveVoltsDownNothingStarts(t *testing.T) {
	for _, n := range []int{4, 6, 8} {
		s := session(t, variant(n), "supply=-5V")
		s.Key(On)
		s.Light(On, 1, 0)
		s.Fuel(On)
		s.Starter(On)
		sparks := 0
		var notes string
		for range 100 {
			st := s.Step(quantity.Milliseconds(50))
			for _, e := range st.Events {
				if e.Kind == "spark" {
					sparks++
				}
			}
			for _, n := range st.Notes {
				notes += n.Text
			}
		}
		st := s.Step(0)
		if st.SpeedRPM > 120 || sparks > 3 || !strings.Contains(notes, "drops out") || st.CrankLamp != NoSignal {
			t.Errorf("%d cylinders: %.0f rpm, %d sparks, lamp %s, %q", n, st.SpeedRPM, sparks, st.CrankLamp, notes)
		}
		s.Starter(Off)
		if st, _ = pass(s, 4); st.SpeedRPM > 0 {
			t.Errorf("%d cylinders: runs", n)
		}
	}
}

// A sound engine's controller holds through the first compression, however it is built.
func TestSoundEngineNeverDropsOut(t *testing.T) {
	for seed := uint64(0); seed < 25; seed++ {
		s, err := NewSession(RandomConfig(seed), Faults{}, seed)
		if err != nil {
			t.Fatal(err)
		}
		s.Clamp(On)
		s.Key(On)
		s.Starter(On)
		_, notes := pass(s, 4)
		s.Fuel(On)
		_, more := pass(s, 2)
		s.Starter(Off)
		st, last := pass(s, 5)
		if notes += more + last; strings.Contains(notes, "drops out") || strings.Contains(notes, "misfires") || !st.Runs {
			t.Errorf("engine %d: %.0f rpm, %q", seed, st.SpeedRPM, notes)
		}
	}
}

// A minute and a half on the starter: told once, hot, slower, the battery lower; a rest brings most of it back.
func TestCrankingHasItsPrice(t *testing.T) {
	s := session(t, variant(8))
	s.Clamp(On)
	s.Key(On)
	s.SparkPower(Off)
	s.Starter(On)
	first, _ := cranked(s, 5)
	if _, notes := pass(s, 8); strings.Contains(notes, "unsafe") {
		t.Errorf("told after 13 s: %q", notes)
	}
	_, notes := pass(s, 77)
	if strings.Count(notes, "more than 15 s") != 1 {
		t.Errorf("told %q", notes)
	}
	last, volts := cranked(s, 5)
	st := s.Step(0)
	if last > 0.9*first || volts > 9.9 || st.StarterC < 150 || len(st.Unsafe) != 1 {
		t.Errorf("from %.0f to %.0f rpm, %.2f V, %.0f °C, %v", first, last, volts, st.StarterC, st.Unsafe)
	}
	s.Starter(Off)
	if st, _ = pass(s, 300); st.StarterC > 80 || st.SupplyV < 12.2 {
		t.Errorf("after five minutes: %.0f °C, %.2f V", st.StarterC, st.SupplyV)
	}
}

// The share of charges that a weak spark lights, by hand for the eight: i(t) = V/R·(1 − e^(−Rt/L)), R 0.6 Ω, L 5 mH, driver
// 1.2 V. At 13.8 V and 2.2 ms 12.6/0.6·(1−e^(−0.264)) = 4.87 A, the target. 1.0 ms gives 21·(1−e^(−0.12)) = 2.37 A, 0.488 of
// it. An idling cylinder needs 0.6: lit (0.488 − 0.3)/0.3 = 0.63 of the time. A full one needs 0.6·1.4 = 0.84: 0.16.
func TestWeakSparksLightSome(t *testing.T) {
	s := session(t, variant(8))
	s.live.energy = 1e3 // turns, so that the alternator holds 13.8 V
	rate := 6e-6 * 3000
	for _, tc := range []struct{ dwell, load, want float64 }{{2200, 0, 1}, {2200, 1, 1}, {1000, 0, 0.63}, {1000, 1, 0.16}, {400, 0, 0}} {
		if got := s.lightsUp(tc.dwell, tc.load, rate); math.Abs(got-tc.want) > 0.02 {
			t.Errorf("%g µs at load %g: %.3f lit, want %g", tc.dwell, tc.load, got, tc.want)
		}
	}
}
