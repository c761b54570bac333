package readings_test

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"phasewright/estimate"
	"phasewright/quantity"
	"phasewright/readings"
)

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
	if res.Verdict != readings.Adjust || res.Housing.Direction != readings.WithRotor || !strings.Contains(strings.Join(res.Warnings, " "), "not certain to be beyond") {
		t.Errorf("marks of ±0.7°: %s, %+v, %q", res.Verdict, res.Housing, res.Warnings)
	}
	p, err := readings.Prove(nil, rows, set, set, readings.Simulation{Draws: 1000})
	if err != nil || p.Statement != readings.NotShownYet {
		t.Errorf("the proof says %q (%v); nothing is certain", p.Statement, err)
	}
	set.Common[0].Limit = 1.5
	res = fit(t, rows, set)
	if res.Verdict != readings.ReadMore || !strings.Contains(strings.Join(res.Advice, " "), "More readings alone will not settle it") {
		t.Errorf("marks of ±1.5°: %s, %q", res.Verdict, res.Advice)
	}
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
		{"beyond it with its U", rows(truth{1.9, 177, 0}, 0.05, 0), readings.Adjust},
		{"beyond it at redline only", rows(truth{0, 200, 0}, 0.05, 0), readings.Adjust},
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
	if res.Allowance.Set != 177 || !strings.Contains(strings.Join(res.Warnings, " "), "to the microsecond") {
		t.Errorf("without a step: set %v, warnings %q", res.Allowance.Set, res.Warnings)
	}
	// Never below nothing: timing that runs ahead by 150 µs with 100 allowed.
	e.tau = -50
	rows = rows[:0]
	for _, n := range []float64{800, 1600, 2400, 3200} {
		rows = append(rows, e.row(8, n, 100, 0))
	}
	res = fit(t, rows, boat())
	if res.Allowance.Set != 4 || !strings.Contains(strings.Join(res.Warnings, " "), "below nothing") {
		t.Errorf("set %v, warnings %q", res.Allowance.Set, res.Warnings)
	}
	near(t, "error left at redline", float64(res.RoundingDeg), 6*4200*54e-6, 1e-6) // six whole steps of 16 down from 100 leave 4
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
		"Stop the engine before anything is changed.", "from 100 to 180 µs", "off and on. Read the setting back",
		"Turn the housing 0.9° with the rotor. That is half of 1.8°: the shaft turns at half crank speed. The rotor turns counterclockwise, seen from above the cap. Then tighten the clamp.", "Read again at 3\u2009700\u2009rpm.",
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

// The steps count from the allowance in force, which the controller can hold; where nobody said what that is, the
// change is given alone. By arithmetic: 100 µs of delay are 6.7 steps of 15, so 105; from 85 down by 100 only five
// whole steps of 15 are left.
func TestAllowanceStepsCountFromTheOneInForce(t *testing.T) {
	for _, c := range []struct {
		now, want, step, set, change float64
		says                         string
	}{
		{85, 100, 15, 190, 105, "set the allowance from 85 to 190 µs"},
		{85, -100, 15, 10, -75, "set the allowance from 85 to 10 µs"},
		{85, 7, 15, 85, 0, ""},
		{math.NaN(), 100, 15, math.NaN(), 105, "raise the allowance by 105 µs"},
		{math.NaN(), -100, 15, math.NaN(), -105, "lower the allowance by 105 µs"},
	} {
		a := readings.Allow(c.now, c.want, c.step)
		same := float64(a.Set) == c.set || math.IsNaN(float64(a.Set)) && math.IsNaN(c.set)
		if !same || a.Change != c.change || a.Changes() != (c.change != 0) || c.says != "" && a.Do("allowance") != c.says {
			t.Errorf("from %g by %g in steps of %g: %+v, %q", c.now, c.want, c.step, a, a.Do("allowance"))
		}
	}
	e := truth{constant: 0.2, tau: 185}
	var rows []readings.Row
	for _, n := range []float64{800, 1600, 2400, 3200} {
		r := e.row(8, n, 85, 0)
		r.AllowanceStated = false
		rows = append(rows, r)
	}
	set := boat()
	set.AllowanceNow, set.AllowanceOpen, set.AllowanceStep = 0, true, 15
	res := fit(t, rows, set)
	near(t, "delay left over", res.Delay.Value, 100, 1e-6)
	if res.Allowance.Change != 105 || !strings.Contains(strings.Join(res.Advice, " "), "Raise the delay allowance by 105 µs.") {
		t.Errorf("%+v, %q", res.Allowance, res.Advice)
	}
	data, err := json.Marshal(res)
	if err != nil || !strings.Contains(string(data), `"allowance_us":{"now":null,"set":null,"change":105}`) {
		t.Errorf("%s %v", data, err)
	}
	// A row that says under which allowance it was taken settles the matter.
	rows[3].AllowanceStated = true
	if res = fit(t, rows, set); res.Allowance.Now != 85 || res.Allowance.Set != 190 {
		t.Errorf("%+v", res.Allowance)
	}
}
