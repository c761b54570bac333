package readings_test

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"phasewright/estimate"
	"phasewright/quantity"
	"phasewright/readings"
)

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
