package readings_test

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"phasewright/estimate"
	"phasewright/quantity"
	"phasewright/readings"
)

// boat is an invented engine: six cylinders, idle 750, redline 4200, allowance 100 µs in steps of 20.
func boat() readings.Settings {
	return readings.Settings{
		AllowanceNow: 100, AllowanceStep: 20, Idle: 750, Redline: 4200, Cranking: 180, Tolerance: 1,
		Common:     []readings.Common{{Name: "mark placement", Effect: readings.Constant, Limit: 0}},
		RotorTurns: "counterclockwise, seen from above the cap",
	}
}

// engine is the truth that readings are made from, written from the trade's words and not from
// the fit: the spark comes tau − c µs late, in which the crank passes 360°·n/60 s⁻¹ times that.
type truth struct {
	constant float64 // degrees early
	tau      float64 // µs
	housing  float64 // shaft degrees turned with the rotor: twice as many crank degrees late
}

func (e truth) shows(locked, n, allowance float64) float64 {
	late := (e.tau - allowance) * 1e-6 * n / 60 * 360
	return locked + e.constant - 2*e.housing - late
}

func (e truth) row(locked, n, allowance, noise float64) readings.Row {
	return readings.Row{
		Speed: quantity.Speed(n), Locked: quantity.Crank(locked), Shown: quantity.Crank(e.shows(locked, n, allowance) + noise),
		Allowance: quantity.Time(allowance), AllowanceStated: true, Housing: quantity.Shaft(e.housing),
	}
}

func fit(t testing.TB, rows []readings.Row, set readings.Settings) *readings.Result {
	t.Helper()
	res, err := readings.Fit(rows, set)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

func near(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.10g, want %.10g ± %g", what, got, want, tolerance)
	}
}

func plain(speeds, shown []float64, locked float64) []readings.Row {
	rows := make([]readings.Row, len(speeds))
	for i := range rows {
		rows[i] = readings.Row{Speed: quantity.Speed(speeds[i]), Shown: quantity.Crank(shown[i]), Locked: quantity.Crank(locked)}
	}
	return rows
}

// Common practice: timing that falls back as speed rises wants more allowance, in steps of 20 µs;
// timing that runs ahead wants less. Numbers by hand: locked 10°, allowance 100 µs. 3000 rpm is
// 18 000 °/s, so 60 µs more delay than allowed is 1.08° late there, 0.36° at 1000, 0.72° at 2000.
func TestTimingThatFallsBackWantsMoreAllowance(t *testing.T) {
	speeds := []float64{1000, 2000, 3000, 4000}
	res := fit(t, plain(speeds, []float64{9.64, 9.28, 8.92, 8.56}, 10), boat())
	near(t, "delay left over", res.Delay.Value, 60, 1e-9)
	near(t, "offset", res.Offset.Value, 0, 1e-9)
	if res.Allowance.Now != 100 || res.Allowance.Set != 160 {
		t.Errorf("allowance %+v, want 100 to 160", res.Allowance)
	}
	res = fit(t, plain(speeds, []float64{10.36, 10.72, 11.08, 11.44}, 10), boat())
	near(t, "delay left over, running ahead", res.Delay.Value, -60, 1e-9)
	if res.Allowance.Set != 40 {
		t.Errorf("running ahead: allowance set to %v, want 40", res.Allowance.Set)
	}
	// trade: slope s of e against n, Δc = −s/6·10⁶. Here s = −0.36°/1000 rpm.
	near(t, "Δc from the slope", -(-0.36/1000)/6*1e6, 60, 1e-9)
}

// Common practice: turning the housing with the rotor retards, one shaft degree is two crank
// degrees. By hand: 1.8° early at all speeds is 0.9° of housing with the rotor.
func TestConstantErrorTurnsTheHousingByHalf(t *testing.T) {
	speeds := []float64{800, 1600, 2400, 3200}
	early := fit(t, plain(speeds, []float64{11.8, 11.8, 11.8, 11.8}, 10), boat())
	near(t, "offset", early.Offset.Value, 1.8, 1e-12)
	near(t, "turn", early.Housing.TurnDeg, 0.9, 1e-12)
	if early.Housing.Direction != "with the rotor" || early.Verdict != readings.Correct || early.Allowance.Set != 100 {
		t.Errorf("1.8° early: %+v, %s, %+v", early.Housing, early.Verdict, early.Allowance)
	}
	late := fit(t, plain(speeds, []float64{8.2, 8.2, 8.2, 8.2}, 10), boat())
	near(t, "turn", late.Housing.TurnDeg, 0.9, 1e-12)
	if late.Housing.Direction != "against the rotor" {
		t.Errorf("1.8° late: %+v", late.Housing)
	}
}

// The corrections, made on the engine, cure it: the sign of each is right in the end.
func TestCorrectionsCure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := truth{constant: rapid.Float64Range(-6, 6).Draw(t, "constant"), tau: rapid.Float64Range(0, 400).Draw(t, "tau")}
		set := boat()
		set.AllowanceNow = quantity.Time(20 * rapid.IntRange(0, 15).Draw(t, "steps"))
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "noise"), 1))
		read := func() []readings.Row {
			var rows []readings.Row
			for _, n := range []float64{800, 1300, 1900, 2500, 3100, 3700} {
				rows = append(rows, e.row(8, n, float64(set.AllowanceNow), 0.02*r.NormFloat64()))
			}
			return rows
		}
		res, err := readings.Fit(read(), set)
		if err != nil {
			t.Fatal(err)
		}
		if res.Verdict == readings.Pass {
			return
		}
		if res.Verdict != readings.Correct {
			if worst := math.Abs(res.Worst.Value); worst < 0.9 || worst > 1.1 {
				t.Fatalf("%s with the worst at %+v", res.Verdict, res.Worst)
			}
			return // within a hair of the tolerance
		}
		set.AllowanceNow = quantity.Time(res.Allowance.Set)
		switch res.Housing.Direction {
		case readings.WithRotor:
			e.housing += res.Housing.TurnDeg
		case readings.AgainstRotor:
			e.housing -= res.Housing.TurnDeg
		}
		again, err := readings.Fit(read(), set)
		if err != nil {
			t.Fatal(err)
		}
		if again.Verdict != readings.Pass {
			t.Fatalf("after %+v and %+v: %s, worst %+v", res.Allowance, res.Housing, again.Verdict, again.Worst)
		}
		// Half a step of 20 µs at 4200 rpm is 0.252°; half the tolerance may stay in the housing.
		if math.Abs(again.Worst.Value) > 0.252+0.5+0.1 {
			t.Fatalf("after the corrections the error is still %v", again.Worst.Value)
		}
	})
}

// Rows under different allowances and housing positions fit together, exactly.
func TestRowsUnderDifferentSettingsFitTogether(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := truth{constant: rapid.Float64Range(-5, 5).Draw(t, "constant"), tau: rapid.Float64Range(0, 500).Draw(t, "tau")}
		set := boat()
		set.AllowanceNow = quantity.Time(rapid.Float64Range(0, 400).Draw(t, "now"))
		var rows []readings.Row
		for i, n := range []float64{800, 1400, 2000, 2600, 3200, 3800} {
			if i == 3 {
				e.housing = rapid.Float64Range(-3, 3).Draw(t, "turn")
			}
			rows = append(rows, e.row(float64(8+i), n, rapid.Float64Range(0, 400).Draw(t, "allowance"), 0))
		}
		res, err := readings.Fit(rows, set)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(res.Offset.Value-(e.constant-2*e.housing)) > 1e-8 {
			t.Fatalf("offset at the present housing %v, want %v", res.Offset.Value, e.constant-2*e.housing)
		}
		if math.Abs(res.Delay.Value-(e.tau-float64(set.AllowanceNow))) > 1e-6 {
			t.Fatalf("delay left over %v, want %v", res.Delay.Value, e.tau-float64(set.AllowanceNow))
		}
		for _, at := range res.ErrorAt {
			want := e.shows(0, at.RPM, float64(set.AllowanceNow))
			if math.Abs(at.Value-want) > 1e-8 {
				t.Fatalf("error at %v rpm %v, want %v", at.RPM, at.Value, want)
			}
		}
	})
}

// A turn written down after the last reading counts already: 0.5 shaft degrees with the rotor
// is one crank degree later.
func TestHousingTurnedAfterTheLastReading(t *testing.T) {
	var rows []readings.Row
	for _, n := range []float64{800, 1600, 2400, 3200} {
		rows = append(rows, truth{constant: 1.8, tau: 160}.row(8, n, 100, 0))
	}
	set := boat()
	set.HousingNow, set.HousingNowStated = 0.5, true
	res := fit(t, rows, set)
	near(t, "offset", res.Offset.Value, 0.8, 1e-9)
	near(t, "error at idle", res.ErrorAt[0].Value, 0.8-6e-6*750*60, 1e-9)
	near(t, "delay", res.Delay.Value, 60, 1e-6)
}

// Marks so uncertain that no number of readings would settle it: centring the error is what can
// be done, and where even that would not do, proving the marks comes first.
func TestMarksThatKeepItOpen(t *testing.T) {
	var rows []readings.Row
	for i, n := range []float64{800, 1300, 1900, 2500, 3100, 3700} {
		rows = append(rows, truth{constant: 1.5, tau: 100}.row(8, n, 100, []float64{0.1, -0.1, -0.1, 0.1, 0.1, -0.1}[i]))
	}
	set := boat()
	set.Common = []readings.Common{{Name: "zero mark", Effect: readings.Constant, Limit: 0.7}}
	res := fit(t, rows, set)
	if res.Verdict != readings.Correct || res.Housing.Direction != readings.WithRotor || !strings.Contains(strings.Join(res.Warnings, " "), "not certain to be beyond") {
		t.Errorf("marks of ±0.7°: %s, %+v, %q", res.Verdict, res.Housing, res.Warnings)
	}
	p, err := readings.Prove(nil, rows, set, set, readings.Simulation{Draws: 1000})
	if err != nil || p.Statement != readings.CannotTellYet {
		t.Errorf("the proof says %q (%v); nothing is certain", p.Statement, err)
	}
	set.Common[0].Limit = 1.5
	res = fit(t, rows, set)
	if res.Verdict != readings.ReadMore || !strings.Contains(strings.Join(res.Advice, " "), "More readings alone will not settle it") {
		t.Errorf("marks of ±1.5°: %s, %q", res.Verdict, res.Advice)
	}
}

func TestFitIdentities(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "noise"), 1))
		e := truth{constant: rapid.Float64Range(-4, 4).Draw(t, "constant"), tau: rapid.Float64Range(0, 300).Draw(t, "tau")}
		var rows, up, mirror []readings.Row
		shift := rapid.Float64Range(-3, 3).Draw(t, "shift")
		for _, n := range []float64{900, 1500, 2100, 2700, 3300} {
			row := e.row(10, n, 100, 0.2*r.NormFloat64())
			row.AllowanceStated = false
			rows = append(rows, row)
			row.Shown += quantity.Crank(shift)
			up = append(up, row)
			row.Shown = 2*row.Locked - (row.Shown - quantity.Crank(shift))
			mirror = append(mirror, row)
		}
		set := boat()
		get := func(rows []readings.Row, set readings.Settings) *readings.Result {
			res, err := readings.Fit(rows, set)
			if err != nil {
				t.Fatal(err)
			}
			return res
		}
		a, b, c := get(rows, set), get(up, set), get(mirror, set)
		if math.Abs(b.Offset.Value-a.Offset.Value-shift) > 1e-9 || math.Abs(b.Delay.Value-a.Delay.Value) > 1e-6 {
			t.Fatalf("a shift of %v moved offset by %v and delay by %v", shift, b.Offset.Value-a.Offset.Value, b.Delay.Value-a.Delay.Value)
		}
		if math.Abs(c.Offset.Value+a.Offset.Value) > 1e-9 || math.Abs(c.Delay.Value+a.Delay.Value) > 1e-6 || math.Abs(c.Offset.U-a.Offset.U) > 1e-9 {
			t.Fatalf("the mirror image gave %+v and %+v after %+v and %+v", c.Offset, c.Delay, a.Offset, a.Delay)
		}
		// The same readings, another order.
		slices.Reverse(rows)
		d := get(rows, set)
		if math.Abs(d.Offset.Value-a.Offset.Value) > 1e-9 || math.Abs(d.Delay.U-a.Delay.U) > 1e-9 {
			t.Fatalf("the order of the rows matters: %+v, %+v", a.Offset, d.Offset)
		}
	})
}

// What each number of readings can say.
func TestFewReadingsSayWhatTheyCan(t *testing.T) {
	stated := boat()
	stated.ReadingU = 0.3
	for _, c := range []struct {
		name            string
		speeds, shown   []float64
		set             readings.Settings
		offset, delay   bool // has a value
		interval        bool
		next            float64
		scale, advising string
	}{
		{"none", nil, nil, boat(), false, false, false, 750, "none", "No readings yet"},
		{"one", []float64{800}, []float64{11}, boat(), false, false, false, 3700, "none", "uncertainty not known"},
		{"one with u", []float64{800}, []float64{11}, stated, false, false, true, 3700, "stated", "± 0.59°"},
		{"one speed", []float64{800, 800, 800}, []float64{11, 11.2, 11.1}, boat(), false, false, true, 3700, "scatter", "cannot tell housing from delay"},
		{"two", []float64{800, 3200}, []float64{11, 9.85}, boat(), true, true, false, 3700, "none", "no honest interval"},
		{"two with u", []float64{800, 3200}, []float64{11, 9.85}, stated, true, true, true, 3700, "stated", ""},
		{"three", []float64{800, 2000, 3200}, []float64{11, 10.4, 9.85}, boat(), true, true, true, 3700, "scatter", ""},
	} {
		res := fit(t, plain(c.speeds, c.shown, 10), c.set)
		if res.Offset.Known() != c.offset || res.Delay.Known() != c.delay {
			t.Errorf("%s: offset %+v, delay %+v", c.name, res.Offset, res.Delay)
		}
		if got := len(res.ErrorAt) > 0 && !math.IsInf(res.ErrorAt[0].U, 1); got != c.interval {
			t.Errorf("%s: error with interval %v, want %v (%+v)", c.name, got, c.interval, res.ErrorAt)
		}
		if res.Next != c.next {
			t.Errorf("%s: next reading at %v, want %v", c.name, res.Next, c.next)
		}
		if res.Scale != c.scale {
			t.Errorf("%s: uncertainty rests on %q, want %q", c.name, res.Scale, c.scale)
		}
		if !c.interval && (res.Verdict != readings.ReadMore || res.Housing.Direction != readings.Leave) {
			t.Errorf("%s: %s, %+v without any interval", c.name, res.Verdict, res.Housing)
		}
		if !strings.Contains(strings.Join(res.Advice, " "), c.advising) {
			t.Errorf("%s: advice %q does not say %q", c.name, res.Advice, c.advising)
		}
	}
	// By hand: two readings 2400 rpm apart, error falling 1.15°: 1.15/(6·2400)·10⁶ = 79.86 µs.
	res := fit(t, plain([]float64{800, 3200}, []float64{11, 9.85}, 10), stated)
	near(t, "delay from two", res.Delay.Value, 1.15/(6*2400)*1e6, 1e-9)
	near(t, "its u", res.Delay.U, 0.3*math.Sqrt2/(6*2400)*1e6, 1e-9)
	near(t, "its interval, normal", res.Delay.Hi-res.Delay.Value, 1.959964*res.Delay.U, 1e-5)
	if len(res.Warnings) == 0 || !strings.Contains(strings.Join(res.Warnings, " "), "stated uncertainty alone") {
		t.Errorf("an interval on a stated figure alone is not flagged: %q", res.Warnings)
	}
	// One reading with u: 1.959964·0.3 about the error at that speed.
	one := fit(t, plain([]float64{800}, []float64{11}, 10), stated)
	near(t, "error at the one speed", one.ErrorAt[0].Value, 1, 1e-12)
	near(t, "U at the one speed", one.ErrorAt[0].U, 1.959964*0.3, 1e-5)
}

// Readings on the starter never turn the housing, however wrong they look.
func TestCrankingReadingsNeverTurnTheHousing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 8).Draw(t, "readings")
		var rows []readings.Row
		for range n {
			rows = append(rows, readings.Row{
				Speed:  quantity.Speed(rapid.Float64Range(60, 440).Draw(t, "rpm")),
				Shown:  quantity.Crank(rapid.Float64Range(-30, 50).Draw(t, "shown")),
				Locked: 12, U: 0.3,
			})
		}
		res, err := readings.Fit(rows, boat())
		if err != nil {
			t.Fatal(err)
		}
		if res.Housing != (readings.Housing{Direction: readings.Leave}) || res.Allowance.Set != res.Allowance.Now || res.Verdict != readings.ReadMore || len(res.CrankingRows) != n {
			t.Fatalf("%d cranking readings: %+v, %+v, %s", n, res.Housing, res.Allowance, res.Verdict)
		}
	})
	// And they do not bend the line of the steady ones.
	e := truth{constant: 2, tau: 160}
	var rows []readings.Row
	for _, n := range []float64{800, 1600, 2400, 3200} {
		rows = append(rows, e.row(8, n, 100, 0))
	}
	clean := fit(t, rows, boat())
	bias := readings.Row{Speed: 180, Shown: 8 + 5, Locked: 8}
	res := fit(t, append([]readings.Row{bias}, rows...), boat())
	if res.Offset.Value != clean.Offset.Value || !slices.Equal(res.CrankingRows, []int{1}) {
		t.Errorf("a cranking reading moved the offset from %v to %v (%v)", clean.Offset.Value, res.Offset.Value, res.CrankingRows)
	}
	near(t, "mean cranking error", res.CrankingError.Value, 5, 1e-12)
}

func TestVerdicts(t *testing.T) {
	rows := func(e truth, noise float64, us quantity.Crank) []readings.Row {
		var out []readings.Row
		sign := []float64{1, -1, -1, 1, 1, -1}
		for i, n := range []float64{800, 1300, 1900, 2500, 3100, 3700} {
			r := e.row(8, n, 100, noise*sign[i])
			r.U = us
			out = append(out, r)
		}
		return out
	}
	for _, c := range []struct {
		name string
		rows []readings.Row
		want readings.Verdict
	}{
		{"within the tolerance with its U", rows(truth{0.1, 105, 0}, 0.05, 0), readings.Pass},
		{"beyond it with its U", rows(truth{1.9, 177, 0}, 0.05, 0), readings.Correct},
		{"beyond it at redline only", rows(truth{0, 200, 0}, 0.05, 0), readings.Correct},
		{"between", rows(truth{0.5, 110, 0}, 0.4, 0), readings.ReadMore},
		{"wide scatter round nothing", rows(truth{0, 100, 0}, 1.2, 0), readings.ReadMore},
		{"a bend, against the stated u", bend(0.1), readings.NotALine},
		{"a bend, nothing stated", bend(0), readings.NotALine},
	} {
		res := fit(t, c.rows, boat())
		if res.Verdict != c.want {
			t.Errorf("%s: %q, want %q (worst %+v, lack of fit %+v, misread %v)", c.name, res.Verdict, c.want, res.Worst, res.LackOfFit, res.Outliers)
		}
		if res.Verdict == readings.Pass || res.Verdict == readings.NotALine {
			if res.Allowance.Set != res.Allowance.Now || res.Housing.Direction != readings.Leave {
				t.Errorf("%s: %q moves something: %+v %+v", c.name, res.Verdict, res.Allowance, res.Housing)
			}
		}
		if len(res.Advice) == 0 {
			t.Errorf("%s: no advice", c.name)
		}
	}
}

// bend is timing that was not locked: the error follows a map, 3° more advance at mid speed.
func bend(u quantity.Crank) []readings.Row {
	var out []readings.Row
	noise := []float64{0.05, -0.05, 0.03, -0.02, 0.04, -0.05, 0.02, -0.03}
	for i, n := range []float64{800, 1200, 1600, 2000, 2400, 2800, 3200, 3600} {
		x := (n - 2200) / 1400
		out = append(out, readings.Row{Speed: quantity.Speed(n), Locked: 8, Shown: quantity.Crank(8 + 3*(1-x*x) + noise[i]), U: u})
	}
	return out
}

// Repeats that agree well about a line that does not: the pure-error test says so.
func TestRepeatsShowThatALineDoesNotFit(t *testing.T) {
	var rows []readings.Row
	for i, n := range []float64{800, 800, 1600, 1600, 2400, 2400, 3200, 3200} {
		shown := []float64{8.0, 8.13, 9.51, 9.4, 9.47, 9.55, 8.1, 7.98}[i]
		rows = append(rows, readings.Row{Speed: quantity.Speed(n), Locked: 8, Shown: quantity.Crank(shown)})
	}
	res := fit(t, rows, boat())
	if res.Verdict != readings.NotALine || !(res.LackOfFit.P < 0.01) {
		t.Errorf("%s with P = %v by %s", res.Verdict, res.LackOfFit.P, res.LackOfFit.Test)
	}
}

// A bend that is certain but a fiftieth of the tolerance does not stop the job: 0.02°·(2·x² − 1).
func TestABendTooSmallToMatter(t *testing.T) {
	var rows []readings.Row
	for i, n := range []float64{800, 1200, 1600, 2000, 2400, 2800, 3200, 3600} {
		x := (n - 2200) / 1400
		rows = append(rows, readings.Row{Speed: quantity.Speed(n), Locked: 8, Shown: quantity.Crank(8 + 0.02*(2*x*x-1) + 1e-4*float64(i%2))})
	}
	res := fit(t, rows, boat())
	if !(res.LackOfFit.P < 0.01) || res.Verdict != readings.Pass || !strings.Contains(strings.Join(res.Warnings, " "), "too little to matter") {
		t.Errorf("%s with %+v, warnings %q", res.Verdict, res.LackOfFit, res.Warnings)
	}
}

// Whole steps: 77 µs left over at 100 is 177, set 180; what is left is −3 µs: at 4200 rpm
// 6·4200·3·10⁻⁶ = 0.0756° early (by hand).
func TestAllowanceIsSetInWholeSteps(t *testing.T) {
	var rows []readings.Row
	e := truth{constant: 1.9, tau: 177}
	for _, n := range []float64{800, 1600, 2400, 3200} {
		rows = append(rows, e.row(8, n, 100, 0))
	}
	res := fit(t, rows, boat())
	if res.Allowance.Set != 180 {
		t.Errorf("set %v, want 180", res.Allowance.Set)
	}
	near(t, "error left at redline by whole steps", float64(res.RoundingDeg), 0.0756, 1e-6)
	set := boat()
	set.AllowanceStep = 0
	res = fit(t, rows, set)
	if res.Allowance.Set != 177 || !strings.Contains(strings.Join(res.Warnings, " "), "1 µs assumed") {
		t.Errorf("without a step: set %v, warnings %q", res.Allowance.Set, res.Warnings)
	}
	// Never below nothing: timing that runs ahead by 150 µs with 100 allowed.
	e.tau = -50
	rows = rows[:0]
	for _, n := range []float64{800, 1600, 2400, 3200} {
		rows = append(rows, e.row(8, n, 100, 0))
	}
	res = fit(t, rows, boat())
	if res.Allowance.Set != 0 || !strings.Contains(strings.Join(res.Warnings, " "), "below nothing") {
		t.Errorf("set %v, warnings %q", res.Allowance.Set, res.Warnings)
	}
	near(t, "error left at redline", float64(res.RoundingDeg), 6*4200*50e-6, 1e-6)
}

// Marks out of place are in the offset's uncertainty and not in the delay's; the tachometer is in
// the delay's and not in the offset's. By hand: ±0.3° rectangular is 0.1732°; a tachometer
// good to ±3 % on 80 µs is 80·0.03/√3 = 1.386 µs.
func TestSharedErrorsGoWhereTheyBelong(t *testing.T) {
	e := truth{constant: 1, tau: 180}
	var rows []readings.Row
	for i, n := range []float64{800, 1400, 2000, 2600, 3200} {
		rows = append(rows, e.row(8, n, 100, []float64{0.1, -0.1, 0, 0.1, -0.1}[i]))
	}
	bare := boat()
	bare.Common = nil
	a := fit(t, rows, bare)
	marks, tacho := bare, bare
	marks.Common = []readings.Common{{Name: "mark placement", Effect: readings.Constant, Limit: 0.3}}
	tacho.Common = []readings.Common{{Name: "tachometer", Effect: readings.SpeedScale, Limit: 0.03}}
	b, c := fit(t, rows, marks), fit(t, rows, tacho)
	near(t, "offset's u with marks", b.Offset.U, math.Hypot(a.Offset.U, 0.3/math.Sqrt(3)), 1e-12)
	near(t, "delay's u with marks", b.Delay.U, a.Delay.U, 1e-12)
	near(t, "delay's u with tachometer", c.Delay.U, math.Hypot(a.Delay.U, a.Delay.Value*0.03/math.Sqrt(3)), 1e-9)
	near(t, "offset's u with tachometer", c.Offset.U, a.Offset.U, 1e-12)
	for i := range a.ErrorAt {
		if b.ErrorAt[i].U <= a.ErrorAt[i].U || c.ErrorAt[i].U < a.ErrorAt[i].U {
			t.Errorf("a shared error made U smaller at %v rpm", a.ErrorAt[i].RPM)
		}
	}
	// Unknown is infinite: nothing passes, nothing fails.
	marks.Common[0].Limit = math.Inf(1)
	d := fit(t, rows, marks)
	if d.Verdict != readings.ReadMore || !math.IsInf(d.Offset.Expanded(), 1) || math.IsInf(d.Delay.Expanded(), 1) {
		t.Errorf("unknown marks: %s, offset %+v, delay %+v", d.Verdict, d.Offset, d.Delay)
	}
	if _, err := json.Marshal(d); err != nil {
		t.Errorf("infinite uncertainty cannot be written: %v", err)
	}
}

// The tachometer's share with rows under different allowances: the same as fitting once more with
// every speed stretched by one standard uncertainty.
func TestTachometerAcrossAllowances(t *testing.T) {
	set := boat()
	u := 0.02 / math.Sqrt(3)
	rows := func(stretch float64) []readings.Row {
		var out []readings.Row
		for i, n := range []float64{800, 1400, 2000, 2600, 3200} {
			r := truth{constant: 1, tau: 240}.row(8, n*(1+stretch), []float64{60, 200, 100, 40, 160}[i], 0)
			r.Speed = quantity.Speed(n)
			out = append(out, r)
		}
		return out
	}
	set.Common, set.Misreads = nil, readings.KeepAll
	a, b := fit(t, rows(0), set), fit(t, rows(u), set)
	set.Common = []readings.Common{{Name: "tachometer", Effect: readings.SpeedScale, Limit: 0.02}}
	c := fit(t, rows(0), set)
	near(t, "delay's u", c.Delay.U, math.Abs(b.Delay.Value-a.Delay.Value), 1e-6)
	near(t, "offset's u", c.Offset.U, math.Abs(b.Offset.Value-a.Offset.Value), 1e-8)
	if c.Offset.U < 1e-4 {
		t.Errorf("offset's u %v: different allowances should let the tachometer into it", c.Offset.U)
	}
}

// Three readings with stated u that agree with it rest on it (normal, 1.96); three that do not
// rest on their scatter (t for one degree of freedom, 12.71: NIST TN 1297).
func TestStatedUncertaintyCarriesFewReadings(t *testing.T) {
	set := boat()
	set.ReadingU = 0.3
	for _, c := range []struct {
		off    float64
		scale  string
		factor float64
	}{{0.2, "stated", 1.959964}, {1.2, "scatter", 12.706205}} {
		res := fit(t, plain([]float64{800, 2000, 3200}, []float64{11.01, 10.41 + c.off, 9.83}, 10), set)
		if res.Scale != c.scale {
			t.Errorf("middle reading off by %v: rests on %q, want %q", c.off, res.Scale, c.scale)
		}
		near(t, "coverage factor", (res.Delay.Hi-res.Delay.Value)/res.Delay.U, c.factor, 1e-5)
	}
}

// Readings written to half degrees cannot be better than that: ±0.25° rectangular, 0.144°.
func TestScatterIsNotBelievedBelowTheLight(t *testing.T) {
	rows := plain([]float64{800, 1600, 2400, 3200, 4000}, []float64{10.5, 10, 9.5, 9, 8.5}, 10)
	res := fit(t, rows, boat())
	x := []float64{800, 1600, 2400, 3200, 4000}
	y := []float64{0.5, 0, -0.5, -1, -1.5}
	f, err := estimate.Line(x, y, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "u(offset)", res.Offset.U, 0.5/math.Sqrt(12)*math.Sqrt(f.Unit[0][0]), 1e-9)
	if !strings.Contains(strings.Join(res.Warnings, " "), "resolution") {
		t.Errorf("not said: %q", res.Warnings)
	}
}

func TestMisreadIsNamedInTheResult(t *testing.T) {
	e := truth{constant: 1.9, tau: 177}
	var rows []readings.Row
	for i, n := range []float64{180, 800, 1400, 2000, 2600, 3200, 3800} {
		r := e.row(8, n, 100, []float64{0, 0.2, -0.3, 0.1, 0.2, -0.2, 0.1}[i])
		r.U = 0.4
		rows = append(rows, r)
	}
	rows[3].Shown -= 4
	res := fit(t, rows, boat())
	if !slices.Equal(res.Outliers, []int{4}) || !slices.Equal(res.CrankingRows, []int{1}) || res.Used != 5 {
		t.Errorf("misread %v, cranking %v, used %d; want [4], [1], 5", res.Outliers, res.CrankingRows, res.Used)
	}
	near(t, "delay all the same", res.Delay.Value, 77, 25)
}

// The design's keys, none renamed.
func TestJSONKeys(t *testing.T) {
	for _, rows := range [][]readings.Row{nil, plain([]float64{800, 3200}, []float64{11, 9.85}, 10), plain([]float64{800, 1600, 2400, 3200}, []float64{11.8, 11.8, 11.7, 11.8}, 10)} {
		res := fit(t, rows, boat())
		raw, err := json.Marshal(res)
		if err != nil {
			t.Fatal(err)
		}
		var got map[string]json.RawMessage
		if err := json.Unmarshal(raw, &got); err != nil {
			t.Fatal(err)
		}
		inside := func(key string, keys ...string) {
			t.Helper()
			var m map[string]json.RawMessage
			if err := json.Unmarshal(got[key], &m); err != nil {
				t.Fatalf("%s: %v in %s", key, err, got[key])
			}
			for _, k := range keys {
				if _, ok := m[k]; !ok {
					t.Errorf("%s has no %q: %s", key, k, got[key])
				}
			}
		}
		inside("offset_deg", "value", "u", "lo", "hi")
		inside("delay_us", "value", "u", "lo", "hi")
		inside("allowance_us", "now", "set")
		inside("housing", "turn_deg", "direction")
		for _, k := range []string{"outliers", "residual_sd_deg", "verdict", "next_reading_rpm", "error_at"} {
			if _, ok := got[k]; !ok {
				t.Errorf("no key %q", k)
			}
		}
		if string(got["outliers"]) == "null" || string(got["error_at"]) == "null" {
			t.Error("an empty list is written as null")
		}
		if len(res.ErrorAt) > 0 {
			var at []map[string]any
			if err := json.Unmarshal(got["error_at"], &at); err != nil {
				t.Fatal(err)
			}
			for _, k := range []string{"rpm", "value", "U"} {
				if _, ok := at[0][k]; !ok {
					t.Errorf("error_at has no %q: %v", k, at[0])
				}
			}
		}
		var back readings.Result
		if err := json.Unmarshal(raw, &back); err != nil {
			t.Fatal(err)
		}
		again, err := json.Marshal(&back)
		if err != nil || string(again) != string(raw) {
			t.Errorf("reading the JSON back changed it (%v):\n%s\n%s", err, raw, again)
		}
	}
}

// The next speed is the one that shrinks the largest variance over the range most: tried out one
// by one with real fits.
func TestNextReadingIsTheBestOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 8).Draw(t, "readings")
		var rows []readings.Row
		var x, y, u []float64
		for range n {
			x = append(x, math.Round(rapid.Float64Range(750, 4000).Draw(t, "rpm")))
			y, u = append(y, 0), append(u, 0.3)
			rows = append(rows, readings.Row{Speed: quantity.Speed(x[len(x)-1]), Locked: 8, Shown: 8, U: 0.3})
		}
		if slices.Max(x)-slices.Min(x) < 50 {
			return
		}
		set := boat()
		res, err := readings.Fit(rows, set)
		if err != nil {
			t.Fatal(err)
		}
		worst := func(next float64) float64 {
			f, err := estimate.Line(append(slices.Clone(x), next), append(slices.Clone(y), 0), append(slices.Clone(u), 0.3))
			if err != nil {
				t.Fatal(err)
			}
			_, low := f.At([]float64{1, 750}, 1)
			_, high := f.At([]float64{1, 4200}, 1)
			return max(low, high)
		}
		got := worst(res.Next)
		if res.Next < 750 || res.Next > 0.9*4200 || math.Mod(res.Next, 50) != 0 {
			t.Fatalf("next reading at %v", res.Next)
		}
		for c := 800.0; c <= 3700; c += 100 {
			if w := worst(c); w < got*(1-1e-6) {
				t.Fatalf("reading at %v leaves %v, at %v only %v", res.Next, got, c, w)
			}
		}
	})
}

func TestFitRefusesWhatItCannotUse(t *testing.T) {
	good := plain([]float64{800, 1600, 2400}, []float64{10, 10, 10}, 10)
	for name, change := range map[string]func(*readings.Settings){
		"no tolerance":        func(s *readings.Settings) { s.Tolerance = 0 },
		"no redline":          func(s *readings.Settings) { s.Redline = 0 },
		"redline below idle":  func(s *readings.Settings) { s.Redline = 500 },
		"negative allowance":  func(s *readings.Settings) { s.AllowanceNow = -1 },
		"NaN u":               func(s *readings.Settings) { s.ReadingU = quantity.Crank(math.NaN()) },
		"negative limit":      func(s *readings.Settings) { s.Common = []readings.Common{{Limit: -1, Effect: readings.Constant}} },
		"no effect":           func(s *readings.Settings) { s.Common = []readings.Common{{Limit: 1}} },
		"confidence of three": func(s *readings.Settings) { s.Confidence = 3 },
	} {
		set := boat()
		change(&set)
		if _, err := readings.Fit(good, set); err == nil {
			t.Errorf("%s went through", name)
		}
	}
	for name, change := range map[string]func(*readings.Row){
		"NaN":       func(r *readings.Row) { r.Shown = quantity.Crank(math.NaN()) },
		"infinite":  func(r *readings.Row) { r.Speed = quantity.Speed(math.Inf(1)) },
		"standing":  func(r *readings.Row) { r.Speed = 0 },
		"backwards": func(r *readings.Row) { r.Speed = -800 },
		"700°":      func(r *readings.Row) { r.Shown = 700 },
		"u < 0":     func(r *readings.Row) { r.U = -0.1 },
	} {
		rows := slices.Clone(good)
		change(&rows[1])
		if _, err := readings.Fit(rows, boat()); err == nil || !strings.Contains(err.Error(), "reading 2") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Advice in words, as on the look's sheet.
func TestAdviceInWords(t *testing.T) {
	e := truth{constant: 1.8, tau: 180}
	var rows []readings.Row
	for i, n := range []float64{800, 1400, 2000, 2600, 3200} {
		rows = append(rows, e.row(8, n, 100, []float64{0.05, -0.05, 0, 0.05, -0.05}[i]))
	}
	res := fit(t, rows, boat())
	text := strings.Join(res.Advice, "\n")
	for _, want := range []string{
		"Stop the engine before anything is changed.", "from 100 to 180 µs", "off and on and read the setting back",
		"Turn the housing 0.9° with the rotor (the way the rotor turns: counterclockwise, seen from above the cap). Then tighten the clamp.", "Read again at 3\u2009700.",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("advice does not say %q:\n%s", want, text)
		}
	}
	if strings.Index(text, "Stop the engine") > strings.Index(text, "Set the delay") {
		t.Errorf("the engine runs while settings change:\n%s", text)
	}
	if strings.Contains(text, "%!") {
		t.Errorf("badly made advice:\n%s", text)
	}
}

func BenchmarkFit20(b *testing.B)        { benchFit(b, 0) }
func BenchmarkFit20Misread(b *testing.B) { benchFit(b, 4) }

func benchFit(b *testing.B, bad float64) {
	r := rand.New(rand.NewPCG(2, 2))
	e := truth{constant: 1.9, tau: 177}
	var rows []readings.Row
	for i := range 20 {
		rows = append(rows, e.row(8, 800+150*float64(i), 100, 0.3*r.NormFloat64()))
	}
	rows[6].Shown += quantity.Crank(bad)
	set := boat()
	set.Common = readings.UsualCommon()
	for b.Loop() {
		if _, err := readings.Fit(rows, set); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFitMillion(b *testing.B) {
	r := rand.New(rand.NewPCG(2, 2))
	e := truth{constant: 1.9, tau: 177}
	rows := make([]readings.Row, 1_000_000)
	for i := range rows {
		rows[i] = e.row(8, 800+3000*r.Float64(), 100, 0.3*r.NormFloat64())
	}
	for b.Loop() {
		if _, err := readings.Fit(rows, boat()); err != nil {
			b.Fatal(err)
		}
	}
}
