package quantity_test

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"phasewright/quantity"
)

func TestParseLength(t *testing.T) {
	// 25.4 mm to the inch: international yard and pound agreement, 1959, exact.
	for text, want := range map[string]float64{
		"6.5 in": 165.1, "165 mm": 165, "7 1/4 in": 184.15, "1/2 in": 12.7, "6,5 in": 165.1, "16.5cm": 165, "0.165 m": 165, "6\"": 152.4,
		" 165  mm ": 165, "1.65e2 mm": 165, "−3 mm": -3, "-1/2 in": -12.7, "-7 1/4 in": -184.15, "3 200 mm": 3200, "3\u2009200,5 mm": 3200.5, "0,125 in": 3.175, "165 MM": 165,
		// as people write inches: thousandths, a hyphen before the fraction, fractions with a sign of their own
		"45 thou": 1.143, "0.045 in": 1.143, "1 3/4\"": 44.45, "1-3/4 in": 44.45, "1¾ in": 44.45, "-1-3/4\"": -44.45, "¾”": 19.05, "-¾ in": -19.05, "6 ½ in": 165.1,
	} {
		got, err := quantity.Parse[quantity.Length](text)
		if err != nil || math.Abs(float64(got)-want) > 1e-9 {
			t.Errorf("%q: %v, %v; want %v mm", text, float64(got), err, want)
		}
	}
}

func TestParseOthers(t *testing.T) {
	check := func(text string, got float64, err error, want float64) {
		t.Helper()
		if err != nil || math.Abs(got-want) > 1e-9*math.Max(1, math.Abs(want)) {
			t.Errorf("%q: %v, %v; want %v", text, got, err, want)
		}
	}
	us, err := quantity.Parse[quantity.Time]("100 us")
	check("100 us", float64(us), err, 100)
	us, err = quantity.Parse[quantity.Time]("100 µs") // micro sign
	check("100 µs", float64(us), err, 100)
	us, err = quantity.Parse[quantity.Time]("100 μs") // Greek mu
	check("100 μs", float64(us), err, 100)
	us, err = quantity.Parse[quantity.Time]("3.2 ms")
	check("3.2 ms", float64(us), err, 3200)
	deg, err := quantity.Parse[quantity.Crank]("0,5 deg")
	check("0,5 deg", float64(deg), err, 0.5)
	deg, err = quantity.Parse[quantity.Crank]("50°")
	check("50°", float64(deg), err, 50)
	rpm, err := quantity.Parse[quantity.Speed]("750 1/min")
	check("750 1/min", float64(rpm), err, 750)
	rpm, err = quantity.Parse[quantity.Speed]("750/min")
	check("750/min", float64(rpm), err, 750)
	rpm, err = quantity.Parse[quantity.Speed]("12.5 rev/s")
	check("12.5 rev/s", float64(rpm), err, 750)
	mh, err := quantity.Parse[quantity.Inductance]("5.2 mH")
	check("5.2 mH", float64(mh), err, 5.2e-3)
	c, err := quantity.Parse[quantity.Temperature]("68 degF")
	check("68 degF", float64(c), err, 20)
	c, err = quantity.Parse[quantity.Temperature]("293.15 K")
	check("293.15 K", float64(c), err, 20)
	p, err := quantity.Parse[quantity.Pressure]("14.7 psi") // 6894.757 Pa: NIST SP 811
	check("14.7 psi", float64(p), err, 14.7*6894.757293168361)
	j, err := quantity.Parse[quantity.Inertia]("0.32 kg.m2")
	check("0.32 kg.m2", float64(j), err, 0.32)
}

func TestParseMeasured(t *testing.T) {
	for text, want := range map[string][2]float64{
		"165 mm ± 0.3 mm": {165, 0.3}, "165 ± 0.3 mm": {165, 0.3}, "6.5 in ± 1/64 in": {165.1, 25.4 / 64}, "165 mm +/- 0.3": {165, 0.3},
		"165 mm±0,3 mm": {165, 0.3}, "165 mm ± 1 %": {165, 1.65}, "6.5 in ± 0.3 mm": {165.1, 0.3},
	} {
		got, err := quantity.ParseMeasured[quantity.Length](text)
		if err != nil || math.Abs(float64(got.Value)-want[0]) > 1e-9 || math.Abs(float64(got.Limit)-want[1]) > 1e-9 || !got.Stated {
			t.Errorf("%q: %+v, %v", text, got, err)
		}
	}
	bare, err := quantity.ParseMeasured[quantity.Length]("165 mm")
	if err != nil || bare.Stated || !math.IsInf(float64(bare.Standard()), 1) {
		t.Errorf("a missing uncertainty must be infinite: %+v %v", bare, err)
	}
	// JCGM 100:2008, 4.3.7: limits ± a of a rectangular distribution give u = a/√3.
	got, _ := quantity.ParseMeasured[quantity.Length]("168 mm ± 0.3 mm")
	if math.Abs(float64(got.Standard())-0.17320508) > 1e-8 {
		t.Errorf("standard uncertainty %v", float64(got.Standard()))
	}
}

func TestParseRefused(t *testing.T) {
	for text, want := range map[string]string{
		"": "no number", "mm": "no number", "165": "has no unit", "165 kg": `unit "kg"`, "12..5 mm": "not a number", "1,000 mm": "thousand or a decimal",
		"1.2,3 mm": "not a number", "1e999 mm": "not a number", "nan mm": "no number", "7 9/4 in": "fraction", "1/0 in": "fraction", "165 mm ± 0.3 mm ± 1": "more than one",
		"165 mm ± -0.3 mm": "negative ±", "165 mm ± 0.3 s": "after ±", "32 00 mm": "not a number", "45 mil": `unit "mil"`, "1½½ in": "not a", "1-3 in": "unit", "0x10 mm": "unit", "5 ± 2 %": "no unit", strings.Repeat("9", 5000): "too long",
	} {
		_, err := quantity.ParseMeasured[quantity.Length](text)
		var pe *quantity.ParseError
		if err == nil || !errors.As(err, &pe) || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), "165 mm") {
			t.Errorf("%q: %v; want %q and an example of what is accepted", text, err, want)
		}
	}
	if _, err := quantity.Parse[quantity.Length]("165 mm ± 1 mm"); err == nil {
		t.Error("a ± was accepted where none belongs")
	}
}

// Case matters where a prefix could be meant: a millipascal is not a megapascal.
func TestCase(t *testing.T) {
	if v, err := quantity.Parse[quantity.Pressure]("1 mPa"); err == nil {
		t.Errorf("1 mPa was read as %v", v)
	}
	if v, err := quantity.Parse[quantity.Speed]("750 RPM"); err != nil || v != 750 {
		t.Errorf("750 RPM: %v %v", v, err)
	}
}

func TestUnitAlwaysPrinted(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{fmt.Sprintf("%v", quantity.Crank(12.5)), "12.5°"}, {fmt.Sprintf("%d", quantity.Crank(12.5)), "12.5°"}, {fmt.Sprintf("%.2f", quantity.Crank(12.5)), "12.50°"},
		{fmt.Sprintf("%+.1f", quantity.Crank(1.94)), "+1.9°"}, {fmt.Sprintf("%.1f", quantity.Crank(-0.04)), "0.0°"}, {fmt.Sprintf("%s", quantity.Crank(-2.5)), "−2.5°"},
		{fmt.Sprintf("%v", quantity.Time(100)), "100\u2009µs"}, {fmt.Sprintf("%v", quantity.Time(3200)), "3.2\u2009ms"}, {fmt.Sprintf("%v", quantity.Speed(3200)), "3\u2009200\u2009rpm"},
		{fmt.Sprintf("%v", quantity.Length(88.0)), "88\u2009mm"}, {fmt.Sprintf("%v", quantity.Inductance(0.0052)), "5.2\u2009mH"}, {fmt.Sprintf("%v", quantity.Voltage(17400)), "17.4\u2009kV"},
		{fmt.Sprintf("%v", quantity.Length(math.NaN())), "unknown\u2009mm"}, {fmt.Sprintf("%8v|", quantity.Crank(5)), "      5°|"}, {fmt.Sprintf("%-4v|", quantity.Crank(5)), "5°  |"},
		{quantity.Measured[quantity.Length]{Value: 168, Limit: 0.3, Stated: true}.String(), "168\u2009mm ± 0.3\u2009mm"}, {fmt.Sprint(quantity.Speed(1234567)), "1\u2009234\u2009567\u2009rpm"},
	} {
		if c.got != c.want {
			t.Errorf("printed %q, want %q", c.got, c.want)
		}
	}
}

// 1 rpm = 6 °/s, by definition.
func TestSpeedTimeAngle(t *testing.T) {
	if got := quantity.Speed(1).Over(quantity.Seconds(1)); got != 6 {
		t.Errorf("1 rpm passes %v in 1 s, want 6°", got)
	}
	if got := quantity.Speed(4200).Over(100); math.Abs(float64(got)-2.52) > 1e-12 {
		t.Errorf("4200 rpm passes %v in 100 µs, want 2.52°", got)
	}
	if got := quantity.Speed(1000).TimeFor(60).Milliseconds(); got != 10 {
		t.Errorf("60° at 1000 rpm take %v ms, want 10", got)
	}
}

func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := quantity.Length(rapid.Float64Range(-1e4, 1e4).Draw(t, "v"))
		back, err := quantity.Parse[quantity.Length](fmt.Sprintf("%.6f", v))
		if err != nil || math.Abs(float64(back-v)) > 1e-6 {
			t.Fatalf("%.6f read back as %v (%v)", v, float64(back), err)
		}
	})
}

// Figures with a fixed number of decimals, as tables and sentences print them. All values are invented.
func TestFigures(t *testing.T) {
	for got, want := range map[string]string{
		quantity.Signed(1.25, 1):                     "+1.2",
		quantity.Signed(-1.25, 2):                    "−1.25",
		quantity.Signed(0.0, 1):                      "0.0",
		quantity.Degrees(quantity.Shaft(-29.88), 1):  "−29.9°",
		quantity.RPM(quantity.Speed(3200.4)):         "3\u2009200 rpm",
		quantity.Millimetres(quantity.Length(87.96)): "88.0 mm",
		quantity.Microseconds(quantity.Time(1234.5)): "1\u2009234 µs",
		quantity.PlusMinus(0.25, 2, "°"):             "± 0.25°",
		quantity.PlusMinus(math.Inf(1), 2, "°"):      "± unknown",
		quantity.PlusMinus(math.NaN(), 2, "°"):       "± unknown",
		quantity.Chance(0.994):                       "over 99 %",
		quantity.Chance(0.004):                       "under 1 %",
		quantity.Chance(0.625):                       "62 %",
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// The pattern in the schema is never narrower than the parser.
func TestPattern(t *testing.T) {
	measured := regexp.MustCompile(quantity.Pattern[quantity.Length](quantity.WithLimits))
	bare := regexp.MustCompile(quantity.Pattern[quantity.Length](quantity.Bare))
	for _, good := range []string{"6.5 in", "165 mm", "7 1/4 in", "3\u2009200,5 mm", "0,5 MM", "6\"", " 1e2 mm ", "−3 mm",
		"45 thou", "1 3/4\"", "1-3/4 in", "1¾ in", "¾”", "-¾ in", "6 ½ in"} {
		if !bare.MatchString(good) || !measured.MatchString(good) {
			t.Errorf("%q does not match", good)
		}
	}
	for _, bad := range []string{"", "165", "mm", "12..5 mm", "3 parsecs", "1,2,3 mm", "1/2/3 mm"} {
		if bare.MatchString(bad) || measured.MatchString(bad) {
			t.Errorf("%q matches", bad)
		}
	}
	for _, good := range []string{"165 mm ± 0.3 mm", "165 ± 0.3 mm", "165 mm +/- 1 %", "165 mm±0.3"} {
		if !measured.MatchString(good) || bare.MatchString(good) {
			t.Errorf("%q", good)
		}
	}
}

func FuzzParseMeasured(f *testing.F) {
	for _, s := range []string{"6.5 in", "165 mm ± 0.3 mm", "7 1/4 in", "0,5 deg", "1e", "±", "1 ±", "/", "1/min", "−", "9 9 9", "1 /2", "1/", "1e+", "3 1/min", "1-1/2 rpm", "1½ rpm", "½", "½½ rpm", "1½/2 rpm"} {
		f.Add(s)
	}
	pattern := regexp.MustCompile(quantity.Pattern[quantity.Speed](quantity.WithLimits))
	f.Fuzz(func(t *testing.T, s string) {
		m, err := quantity.ParseMeasured[quantity.Speed](s)
		if err == nil && !pattern.MatchString(s) {
			t.Fatalf("%q is read as %v, and the schema would refuse it", s, m)
		}
		if err == nil && (math.IsNaN(float64(m.Value)) || math.IsInf(float64(m.Value), 0) || m.Limit < 0) {
			t.Fatalf("%q gave %+v", s, m)
		}
		if err != nil && !strings.Contains(err.Error(), "rpm") {
			t.Fatalf("%q: no remedy in %v", s, err)
		}
	})
}

// Numbers of our own are shown with what is known of them; expected by hand.
func TestConstantsSayWhatTheyRestOn(t *testing.T) {
	k := quantity.Assume("enough", 1.2, 1.1, 1.5, "times")
	for got, want := range map[string]string{
		k.Said():                         "enough 1.2 (1.1 to 1.5) times, assumed",
		k.From("common practice").Said(): "enough 1.2 (1.1 to 1.5) times, common practice",
		quantity.Assume("stop", 45, 30, 60, "°").String():                                "45 (30 to 60)°",
		quantity.Constant{Value: 287, Unit: "J/(kg·K)", Source: "any handbook"}.String(): "287 J/(kg·K), any handbook",
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if !k.Assumed() || k.From("x").Assumed() || (quantity.Constant{}).Range() != "" {
		t.Error("what is assumed and what has a range is told wrongly")
	}
}

// Volumes and gauge pressures: 1 in³ is 2.54³ cm³ = 16.387064 cm³ and 1 kgf/cm² is 98 066.5 Pa, both exact (NIST SP 811,
// appendix B.8); 1 psi is 6894.757 Pa (the same).
func TestVolumeAndGauge(t *testing.T) {
	for text, want := range map[string]float64{"45 cc": 45, "45 cm³": 45, "0.045 l": 45, "2 in3": 32.774128, "45 ml": 45} {
		if v, err := quantity.Parse[quantity.Volume](text); err != nil || math.Abs(float64(v)-want) > 1e-9 {
			t.Errorf("%q: %v %v, want %v cm³", text, float64(v), err, want)
		}
	}
	for text, want := range map[string]float64{"160 psi": 1103161.17, "11 bar": 1.1e6, "11 kg/cm2": 1078731.5, "1100 kPa": 1.1e6} {
		if v, err := quantity.Parse[quantity.Gauge](text); err != nil || math.Abs(float64(v)-want) > 0.01 {
			t.Errorf("%q: %v %v, want %v Pa", text, float64(v), err, want)
		}
	}
}

// 25.4 mm to the inch; rounded by hand.
func TestLengthUnit(t *testing.T) {
	var none quantity.LengthUnit
	in, mm := quantity.Inch, quantity.Millimetre
	for got, want := range map[string]string{
		none.Tool(87.96, 1): "88.0 mm", mm.Tool(87.96, 1): "88.0 mm (3.463 in)", in.Tool(87.96, 1): "3.463 in (88.0 mm)",
		in.ToolFigure(87.96, 1): "3.463 (88.0)", none.ToolFigure(87.96, 1): "88.0", in.ToolHead(): "in (mm)", none.ToolHead(): "mm", in.Figure(25.4, 1): "1.000",
		in.Fixed(0.8, 2): "0.0315 in", none.Of(168): "168\u2009mm", in.Of(165.1): "6.5\u2009in",
		in.OfMeasured(quantity.Measured[quantity.Length]{Value: 165.1, Limit: 0.254, Stated: true}): "6.5\u2009in ± 0.01\u2009in",
		in.Constant(quantity.Assume("stop", 2.54, 1.27, 5.08, "mm")).String():                       "0.1 (0.05 to 0.2) in",
		none.Constant(quantity.Assume("stop", 2.54, 1.27, 5.08, "mm")).String():                     "2.54 (1.27 to 5.08) mm",
		in.Constant(quantity.Assume("stop", 45, 30, 60, "°")).String():                              "45 (30 to 60)°",
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	for text, want := range map[string]quantity.LengthUnit{"mm": mm, "Inches": in, " in ": in, "Imperial": in, "millimetres": mm} {
		if got, err := quantity.ParseLengthUnit(text); err != nil || got != want {
			t.Errorf("%q: %v %v", text, got, err)
		}
	}
	if _, err := quantity.ParseLengthUnit("furlongs"); err == nil || !strings.Contains(err.Error(), "write mm or inches") {
		t.Error(err)
	}
}

// The figure with another unit, where that makes it usual; ranges invented, values by hand.
func TestMeant(t *testing.T) {
	for text, want := range map[string]string{"8.0 mm": "8.0 in (203.2\u2009mm)", "8.0 mm ± 1": "8.0 in (203.2\u2009mm)", "16 mm": "16 cm (160\u2009mm)",
		"1-3/4 mm": "", "168 mm": "", "no": "", "20 cm": ""} {
		if got := strings.Join(quantity.Meant[quantity.Length](text, 100, 300), ", "); got != want {
			t.Errorf("%q may mean %q, want %q", text, got, want)
		}
	}
	if got := quantity.Meant[quantity.Time]("3.2 us", 1000, 8000); len(got) != 1 || got[0] != "3.2 ms (3.2\u2009ms)" {
		t.Error(got)
	}
}
