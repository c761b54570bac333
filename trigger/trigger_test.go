package trigger_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"phasewright/engine"
	"phasewright/quantity"
	"phasewright/trigger"
)

func six(t *testing.T) *engine.Firings {
	t.Helper()
	f, err := engine.NewFirings([]int{1, 5, 3, 6, 2, 4}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func widths(n int, w quantity.Shaft) []quantity.Shaft {
	out := make([]quantity.Shaft, n)
	for i := range out {
		out[i] = w
	}
	return out
}

// A wheel laid out by hand: a six, lead 60°, vanes of 15 shaft degrees (30 of the crank). Active edge for the cylinder
// firing at 120 is at 60.
func TestWheelByHand(t *testing.T) {
	w := trigger.Wheel{Firings: six(t), Widths: widths(6, 15), Lead: 60, Active: trigger.Leaving}
	for i, want := range []struct{ enter, leave engine.Position }{{630, 660}, {30, 60}, {150, 180}, {270, 300}, {390, 420}, {510, 540}} {
		if enter, leave := w.Edges(i); enter != want.enter || leave != want.leave {
			t.Errorf("vane of firing %d: enters at %v, leaves at %v; want %v, %v", i, enter, leave, want.enter, want.leave)
		}
	}
	w.Active = trigger.Entering
	if enter, leave := w.Edges(0); enter != 660 || leave != 690 {
		t.Errorf("entering edge active: %v to %v, want 660 to 690", enter, leave)
	}
	if gap := w.Window(0); gap != 90 {
		t.Errorf("gap %v, want 90°", gap)
	}
}

// High in the vane and rising active: the vane's entry makes the edge. Four cases by hand.
func TestActiveSide(t *testing.T) {
	for _, c := range []struct {
		high, rising bool
		want         trigger.Side
	}{{true, true, trigger.Entering}, {true, false, trigger.Leaving}, {false, true, trigger.Leaving}, {false, false, trigger.Entering}} {
		if got := trigger.ActiveSide(c.high, c.rising); got != c.want {
			t.Errorf("high in vane %v, rising active %v: %v", c.high, c.rising, got)
		}
	}
}

// Fault table: the wrong edge is a constant error of twice the vane width (common practice); late where the trailing
// edge is taken for the leading one.
func TestWrongEdge(t *testing.T) {
	if got := trigger.WrongEdge(15, trigger.Entering); got != -30 {
		t.Errorf("trailing edge taken for leading: %v, want −30° (late)", got)
	}
	if got := trigger.WrongEdge(15, trigger.Leaving); got != 30 {
		t.Errorf("leading edge taken for trailing: %v, want +30° (early)", got)
	}
}

// Worked by hand: a_max 34, n 4200, τ 100, controller 60, guard 3: 34 + 6·4200·160e−6 + 3 = 41.032; upper 120 + 2 −
// 3 = 119.
func TestLeadWindow(t *testing.T) {
	w := trigger.LeadWindow(34, 2, 120, 3, 4200, 100, 60)
	if math.Abs(float64(w.Least)-41.032) > 1e-9 || w.Most != 119 {
		t.Errorf("window %v to %v, want 41.032 to 119", w.Least, w.Most)
	}
	if !w.Holds(60) || w.Holds(41) || w.Holds(119) {
		t.Error("limits judged wrongly")
	}
	// Common practice on V8s: 50° with a largest advance near 40° must be found good.
	if v8 := trigger.LeadWindow(40, 5, 90, 3, 6500, 100, 50); !v8.Holds(50) {
		t.Errorf("50° on an eight refused: %v to %v", v8.Least, v8.Most)
	}
}

// Sign of the delay rule (common practice): timing falls back as speed rises → more allowance.
func TestDelaySign(t *testing.T) {
	l := trigger.Law{Lead: 60, Spacing: 120, Allowance: 100}
	// 180 µs of true delay with 100 allowed: at 3000 rpm 6·3000·80e−6 = 1.44° late.
	if got := l.Error(0, 180, 3000); math.Abs(float64(got)+1.44) > 1e-12 {
		t.Errorf("error %v, want −1.44°", got)
	}
	slope := float64(l.Error(0, 180, 4000)-l.Error(0, 180, 1000)) / 3000
	if got := trigger.AllowanceStep(slope); math.Abs(float64(got)-80) > 1e-9 {
		t.Errorf("allowance changes by %v, want +80 µs", got)
	}
}

func TestHousingSign(t *testing.T) {
	if turn, with := trigger.HousingTurn(1.8); turn != 0.9 || !with {
		t.Errorf("1.8° early: %v, with the rotor %v; want 0.9° with it", turn, with)
	}
	if turn, with := trigger.HousingTurn(-1.8); turn != 0.9 || with {
		t.Errorf("1.8° late: %v, with the rotor %v; want 0.9° against it", turn, with)
	}
}

// The closed form against motion written out: θ = ω₀t + ½·6α·t² with the last interval ending at t = 0.
func TestAccelerationClosedForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Float64Range(300, 7000).Draw(t, "speed at the edge")
		alpha := rapid.Float64Range(-1500, 1500).Draw(t, "rpm/s")
		lead := rapid.Float64Range(30, 70).Draw(t, "lead")
		a := rapid.Float64Range(0, 28).Draw(t, "advance")
		spacing := 90.0
		// time T at which the edge before, spacing degrees back, went by: 6nT − 3αT² = spacing
		disc := 36*n*n - 12*alpha*spacing
		if disc <= 0 {
			t.Skip()
		}
		T := spacing * 2 / (6*n + math.Sqrt(disc))
		law := trigger.Law{Lead: quantity.Crank(lead), Spacing: quantity.Crank(spacing)}
		wait := law.Wait(quantity.Crank(a), quantity.Seconds(T)).Seconds()
		travelled := 6*n*wait + 3*alpha*wait*wait
		late := travelled - (lead - a)
		mean := quantity.Speed(spacing / T / 6)
		if got := float64(law.UnderAcceleration(quantity.Crank(a), mean, alpha)); math.Abs(got-late) > 1e-8*math.Max(1, math.Abs(late)) {
			t.Fatalf("closed form %v, motion %v", got, late)
		}
	})
}

func TestWheelRefused(t *testing.T) {
	for name, w := range map[string]trigger.Wheel{
		"too wide": {Firings: six(t), Widths: widths(6, 60), Lead: 60}, "none": {Firings: six(t), Widths: widths(6, 0), Lead: 60}, "count": {Firings: six(t), Widths: widths(5, 10), Lead: 60},
	} {
		if w.Validate() == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

// By hand: cam edge at 120° BTDC of cylinder 1 on a six with lead 60: crank edges at 600 and 660; 600 is hit exactly,
// 630 is 30 away from both.
func TestCamMargin(t *testing.T) {
	w := trigger.Wheel{Firings: six(t), Widths: widths(6, 15), Lead: 60}
	for _, c := range []struct {
		at   quantity.Crank
		want quantity.Crank
	}{{180, 0}, {120, 60}, {90, 30}, {61, 1}} {
		if got := w.CamMargin(engine.BeforeTDC(c.at)); math.Abs(float64(got-c.want)) > 1e-9 {
			t.Errorf("cam edge at %v BTDC: margin %v, want %v", c.at, got, c.want)
		}
	}
}
