package bench

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"phasewright/quantity"
)

// By hand for the invented eight, stroke 87 mm, rod 161 mm, stop 0.14·87 = 12.18 mm down: r = 43.5, λ = r/l = 0.2702.
// x(θ) = r(1−cos θ) + l(1−√(1−λ²·sin²θ)): at 38° 43.5·0.2120 + 161·(1−√(1−0.0730·0.3790)) = 9.22 + 2.24 = 11.46; at 40°
// 43.5·0.2340 + 161·(1−√(1−0.0730·0.4132)) = 10.18 + 2.45 = 12.63; so contact near 39.2°, and 40° in whole degrees.
// A mark that reads 4° early stands 44° before the pointer going forward and 36° past it going back: (44 − 36)/2 = 4.
func TestPistonStopHalves(t *testing.T) {
	for _, tc := range []struct {
		fault                 string
		forward, back, middle float64
	}{{"", 40, -40, 0}, {"damper=4deg", 44, -36, 4}, {"damper=-6deg", 34, -46, -6}, {"housing=5deg", 40, -40, 0}} {
		var faults []string
		if tc.fault != "" {
			faults = []string{tc.fault}
		}
		for seed := uint64(1); seed < 9; seed++ {
			f, err := ParseFaults(Default(), faults...)
			if err != nil {
				t.Fatal(err)
			}
			s, err := NewSession(Default(), f, seed)
			if err != nil {
				t.Fatal(err)
			}
			forward, back := technician{t, s}.stop()
			if forward != tc.forward || back != tc.back || (forward+back)/2 != tc.middle {
				t.Errorf("%s, seed %d: %g° and %g°, want %g° and %g°", tc.fault, seed, forward, back, tc.forward, tc.back)
			}
		}
	}
}

// The stop is fitted only where nothing can turn or spark, and the crank turns back only against it.
func TestPistonStopAsksForASafeEngine(t *testing.T) {
	s := session(t, Default())
	w := technician{t, s}
	refused := func(what string, err error) {
		t.Helper()
		var no *Refused
		if !errors.As(err, &no) {
			t.Errorf("%s: %v", what, err)
		}
	}
	refused("stop with the plug in", s.PistonStop(On))
	refused("thumb with the plug in", s.Thumb(On))
	refused("crank back without a stop", s.TurnByHand(-5))
	w.do(s.Key(On))
	refused("plug with the coil live", s.Plug(1, Off))
	w.do(s.Key(Off))
	w.do(s.Plug(1, Off))
	refused("another plug too", s.Plug(2, Off))
	w.do(s.Key(On))
	refused("starter with a plug out", s.Starter(On))
	refused("stop with the key on", s.PistonStop(On))
	w.do(s.Key(Off))
	for math.Abs(wrap(s.live.where(s.time), 360)) >= 30 {
		w.do(s.TurnByHand(10))
	}
	refused("stop with the piston in its way", s.PistonStop(On))
	w.do(s.TurnByHand(90))
	w.do(s.PistonStop(On))
	refused("plug over the stop", s.Plug(1, On))
	w.do(s.Key(On))
	refused("starter against the stop", s.Starter(On))
	w.do(s.Key(Off))
	w.do(s.TurnByHand(-5))
	w.do(s.PistonStop(Off))
	w.do(s.Plug(1, On))
	if acts := unsafeActs(s); len(acts) != 4 {
		t.Errorf("unsafe acts: %q", acts)
	}
}

func unsafeActs(s *Session) []string {
	var out []string
	for _, u := range s.Step(0).Unsafe {
		out = append(out, u.Act)
	}
	return out
}

// A thumb on hole k feels compression on the half turn before that cylinder's own firing TDC, from where the inlet
// closes, and once in two turns.
func TestThumbFeelsTheStroke(t *testing.T) {
	c := Default()
	for _, cyl := range []int{1, 5, 4} {
		s := session(t, c)
		w := technician{t, s}
		w.do(s.Plug(cyl, Off))
		w.do(s.Thumb(On))
		if st := s.Step(0); st.Thumb != "still" {
			t.Errorf("before the crank is turned the thumb feels %q", st.Thumb)
		}
		var tdc float64
		for k, v := range c.Engine.FiringOrder {
			if v == cyl {
				tdc = 90 * float64(k)
			}
		}
		pushed := 0
		for range 720 {
			w.do(s.TurnByHand(1))
			st := s.Step(0)
			before := wrap(tdc-st.CrankDeg, 720)
			want := before >= 0 && before < 180-float64(c.Engine.InletCloses)
			if (st.Thumb == "pushes") != want {
				t.Fatalf("cylinder %d, %g° before its TDC: thumb %q", cyl, before, st.Thumb)
			}
			if want {
				pushed++
			}
		}
		if want := 180 - int(c.Engine.InletCloses); pushed != want {
			t.Errorf("cylinder %d pushes over %d° in two turns, want %d°", cyl, pushed, want)
		}
	}
}

// Two marks are read as two, never as the place between: half of the flashes at 10° and half at 100° are not 55°.
func TestTwoMarksAreNeverOne(t *testing.T) {
	for _, tc := range []struct{ flashes, want []float64 }{
		{[]float64{10, 100, 10, 100, 10, 100}, []float64{100, 10}},
		{[]float64{10, 10.2, 100, 10, 9.8, 100}, []float64{10, 100}},
		{[]float64{10, 10.2, 9.8, 10, 10, 10, 10, 10, 100}, []float64{10}}, // one flash astray is overlooked
		{[]float64{179, -179, 179.5, -179.5}, []float64{180}},
		{[]float64{7, 8, 9, 10}, []float64{8.5}}, // one broad mark
		{nil, nil},
	} {
		got := marksOf(slices.Clone(tc.flashes))
		if len(got) != len(tc.want) {
			t.Errorf("%v: %v, want %v", tc.flashes, got, tc.want)
			continue
		}
		for i := range got {
			if math.Abs(wrap(got[i]-tc.want[i], 360)) > 0.3 {
				t.Errorf("%v: %v, want %v", tc.flashes, got, tc.want)
			}
		}
	}
	// A rotor so far out that half of the sparks take the neighbour's tower, on an eight 90° on.
	c := quiet(8)
	f := Faults{Rotor: 15.9} // at 7° the tip stands 20° − 7° short of the middle of its range: 2·15.9 + 13 = 44.8 of 90°
	rows, err := TakeReadings(c, f, []quantity.Speed{900, 1500, 2500, 3500}, 1, 5)
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) <= 4 {
		t.Errorf("no speed shows two marks: %+v", rows)
	}
	for _, r := range rows {
		if a, b := wrap(float64(r.Shown)-locked, 360), wrap(float64(r.Shown)-locked-90, 360); !r.Dark && math.Abs(a) > 2 &&
			math.Abs(b) > 2 && math.Abs(wrap(b+180, 360)) > 2 {
			t.Errorf("at %v the light is read at %v", r.Speed, r.Shown)
		}
	}
	var text strings.Builder
	if err := WriteReadings(&text, rows); err != nil || !strings.Contains(text.String(), "one of two marks") {
		t.Errorf("%v: %s", err, text.String())
	}
}

// Nothing is read above the starter's speed on an engine that does not run.
func TestNoReadingsWhereItDoesNotRun(t *testing.T) {
	c := quiet(8)
	speeds := []quantity.Speed{185, 800, 3000}
	for _, tc := range []struct {
		fault string
		rows  int
	}{{"stroke", 1}, {"pickup", 1}, {"leads", 1}, {"supply=-5V", 1}, {"delay", 3}, {"damper", 3}} {
		f, err := ParseFaults(c, tc.fault)
		if err != nil {
			t.Fatal(err)
		}
		rows, err := TakeReadings(c, f, speeds, 1, 1)
		if err != nil || len(rows) != tc.rows {
			t.Errorf("%s: %d rows, want %d: %v %v", tc.fault, len(rows), tc.rows, rows, err)
		}
	}
}

// A tooth out: 13 teeth are 27.7° of the shaft each, the slot goes 20° each way. Set by its lamp the housing stands at the
// end of its slot, and the 7.7° that are left cannot be had from it, only from the gear.
func TestToothIsNotCuredByTheHousing(t *testing.T) {
	c := Default()
	c.Distributor.GearTeeth = 13
	for _, tooth := range []float64{1, -1} {
		s, err := NewSession(c, Faults{Tooth: int(tooth)}, 1)
		if err != nil {
			t.Fatal(err)
		}
		w := technician{t, s}
		if st := s.Step(0); st.SlotDeg != -20*tooth || st.SlotEnd == "" || st.HousingDeg != 0 {
			t.Errorf("found at %g° of its slot, end %q, turned %g°", st.SlotDeg, st.SlotEnd, st.HousingDeg)
		}
		if got := s.Truth().OffsetDeg; math.Abs(got-tooth*2*7.692) > 0.01 { // 2·(360/13 − 20)
			t.Errorf("off by %.3f°", got)
		}
		w.do(s.Clamp(Off))
		var no *Refused
		if err := s.Housing(quantity.Shaft(-7.7 * tooth)); !errors.As(err, &no) {
			t.Errorf("the housing went past its end: %v", err)
		}
		w.do(s.StepGear(int(-tooth)))
		w.do(s.Housing(quantity.Shaft(20 * tooth)))
		w.do(s.Clamp(On))
		if tr := s.Truth(); math.Abs(tr.OffsetDeg) > 0.01 || s.Step(0).SlotDeg != 0 {
			t.Errorf("after the gear was stepped and the housing brought back: %+v", tr)
		}
	}
	// Stepping the gear leaves the housing where it is: the spark goes 2·27.69° off.
	s := session(t, c)
	w := technician{t, s}
	w.do(s.Clamp(Off))
	w.do(s.StepGear(1))
	if got := s.Truth().OffsetDeg; math.Abs(got-55.385) > 0.01 {
		t.Errorf("one tooth on: off by %.3f°, want 720/13", got)
	}
}

// Half a turn out is not so many degrees late: timing is right and the stroke is wrong. A sound engine has its worst
// error at a speed that it runs at.
func TestTruthOfHalfATurn(t *testing.T) {
	for _, n := range []int{4, 6, 8} {
		tr := session(t, variant(n), "stroke=exhaust").Truth()
		if !tr.Exhaust || tr.Dark || math.Abs(tr.OffsetDeg) > 0.5 || tr.WorstDeg > 0.5 || tr.right() {
			t.Errorf("%d cylinders: %+v", n, tr)
		}
		tr = session(t, variant(n)).Truth()
		if tr.Exhaust || tr.Dark || tr.WorstRPM < 720 || !tr.right() {
			t.Errorf("%d cylinders, sound: %+v", n, tr)
		}
		tr = session(t, variant(n), "pickup=off").Truth()
		if !tr.Dark || tr.WorstDeg != 0 || tr.right() {
			t.Errorf("%d cylinders, no pickup: %+v", n, tr)
		}
	}
}

// Settings are the controller's own: they do not move the rotor.
func TestSettingsLeaveTheRotorAlone(t *testing.T) {
	s := session(t, Default())
	before := s.Step(0).RotorDeg
	technician{t, s}.sets(func(e *Settings) { e.Locked = 30; e.Cranking = 25 })
	if after := s.Step(0).RotorDeg; after != before {
		t.Errorf("the rotor went from %g° to %g°", before, after)
	}
}
