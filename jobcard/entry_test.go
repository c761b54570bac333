package jobcard_test

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"phasewright/jobcard"
	"phasewright/quantity"
)

func field(t testing.TB, path string) jobcard.Field {
	t.Helper()
	i := slices.IndexFunc(jobcard.Fields(), func(f jobcard.Field) bool { return f.Path == path })
	if i < 0 {
		t.Fatalf("no field %s", path)
	}
	return jobcard.Fields()[i]
}

// What people type beside the unit that a form shows, and what then stands on the card. Notations are common practice
// in workshops; a figure without a unit takes the one beside it, one with a unit keeps its own.
func TestTypedNotations(t *testing.T) {
	in := quantity.Inch
	for _, c := range []struct {
		path, typed, limit, unit string
		want                     string // on the card
	}{
		{"engine.bore", "94", "", "mm", "94 mm"},
		{"engine.bore", "94,0", "", "mm", "94,0 mm"},
		{"engine.bore", " 94.0 ", "", "mm", "94.0 mm"},
		{"engine.bore", "9.4 cm", "", "mm", "9.4 cm"},
		{"engine.bore", "3.7", "", "in", "3.7 in"},
		{"engine.bore", "3 11/16", "", "in", "3 11/16 in"},
		{"engine.bore", "3-11/16", "", "in", "3-11/16 in"},
		{"engine.bore", "3 ¾", "", "in", "3 ¾ in"},
		{"engine.bore", "3.7\"", "", "mm", "3.7\""},
		{"engine.bore", "3 3/4''", "", "mm", "3 3/4''"},
		{"engine.bore", "94mm", "", "in", "94mm"},
		{"damper.diameter", "6 1/2 in", "", "mm", "6 1/2 in"},
		{"damper.diameter", "168", "0.3", "mm", "168 mm ± 0.3 mm"},
		{"damper.diameter", "168", "0,3", "mm", "168 mm ± 0,3 mm"},
		{"damper.diameter", "168 +- 0.3", "", "mm", "168 mm ± 0.3 mm"},
		{"damper.diameter", "168 ± 0.3 mm", "", "in", "168 ± 0.3 mm"},
		{"damper.diameter", "168", "1 %", "mm", "168 mm ± 1 %"},
		{"damper.diameter", "6 1/2", "1/64", "in", "6 1/2 in ± 1/64 in"},
		{"damper.diameter", "", "0.3", "mm", "± 0.3"}, // which the parser refuses
		{"damper.diameter", " ", " ", "mm", ""},
		{"engine.redline", "4200", "", "rpm", "4200 rpm"},
		{"engine.redline", "4 200", "", "rpm", "4 200 rpm"},
		{"engine.redline", "4\u202f200", "", "rpm", "4\u202f200 rpm"},
		{"engine.redline", "4,200", "", "rpm", "4,200 rpm"}, // 4.2 rpm is impossible
		{"engine.redline", "4'200", "", "rpm", "4 200 rpm"},
		{"engine.redline", "4200 knots", "", "rpm", ""},
		{"engine.redline", "4200 U/min", "", "rpm", "4200 U/min"},
		{"engine.redline", "4200 r/min", "", "rpm", "4200 r/min"},
		{"engine.redline", "4200 1/min", "", "rpm", "4200 1/min"},
		{"engine.redline", "4200 min-1", "", "rpm", "4200 min-1"},
		{"engine.redline", "4200 RPM", "", "rpm", "4200 RPM"},
		{"signals.crank.lead", "60", "", "deg", "60 deg"},
		{"signals.crank.lead", "60°", "", "deg", "60°"},
		{"signals.crank.lead", "60 BTDC", "", "deg", "60 BTDC"},
		{"signals.crank.lead", "60° BTDC", "", "deg", "60° BTDC"},
		{"engine.pin_offset", "-1.5", "", "mm", "-1.5 mm"},
		{"engine.pin_offset", "−1,5", "", "mm", "−1,5 mm"},
		{"ignition.dwell", "3,2", "", "ms", "3,2 ms"},
		{"ignition.dwell", "3200", "", "us", "3200 us"},
		{"ignition.dwell", "3.2 msec", "", "us", "3.2 msec"},
		{"ignition.supply", "13.8v", "", "V", "13.8v"},
		{"engine.charge_temperature", "20 ° C", "", "degC", "20 ° C"},
		{"engine.charge_temperature", "68", "", "degF", "68 degF"},
		{"engine.compression_ratio", "8,6:1", "", "", "8,6:1"},
		{"engine.compression_ratio", "8.6 : 1", "", "", "8.6 : 1"},
		{"engine.cylinders", " 6 ", "", "", "6"},
		{"engine.firing_order", "1-5-3-6-2-4", "", "", "[1, 5, 3, 6, 2, 4]"},
		{"engine.firing_order", "1 5 3 6 2 4", "", "", "[1, 5, 3, 6, 2, 4]"},
		{"engine.firing_order", "153624", "", "", "[1, 5, 3, 6, 2, 4]"},
		{"engine.firing_order", "1,5,3,6,2,4", "", "", "[1, 5, 3, 6, 2, 4]"},
		{"engine.firing_order", "1.5.3.6.2.4", "", "", "[1, 5, 3, 6, 2, 4]"},
		{"engine.firing_order", "1 – 5 – 3 – 6 – 2 – 4", "", "", "[1, 5, 3, 6, 2, 4]"},
		{"engine.firing_order", "[1, 5, 3, 6, 2, 4]", "", "", "[1, 5, 3, 6, 2, 4]"},
		{"engine.rotation", "CW", "", "", "clockwise"},
		{"engine.rotation", "Anti-Clockwise", "", "", "counterclockwise"},
		{"job.units", "Inch", "", "", "inches"},
		{"distributor.gear_material", "Melonized", "", "", "melonised steel"},
		{"distributor.gear_material", "other: sintered iron", "", "", "other: sintered iron"},
		{"signals.crank.vanes", "15 15 12 15 15 12", "", "deg", "[15 deg, 15 deg, 12 deg, 15 deg, 15 deg, 12 deg]"},
		{"signals.crank.vanes", "15, 15, 12, 15, 15, 12", "", "deg", "[15 deg, 15 deg, 12 deg, 15 deg, 15 deg, 12 deg]"},
		{"signals.crank.vanes", "15,15,12,15,15,12", "", "deg", "[15 deg, 15 deg, 12 deg, 15 deg, 15 deg, 12 deg]"},
		{"signals.crank.vanes", "15; 15; 12,5; 15; 15; 12,5", "", "deg", "[15 deg, 15 deg, 12,5 deg, 15 deg, 15 deg, 12,5 deg]"},
		{"signals.crank.vanes", "15° 15° 12° 15° 15° 12°", "", "deg", "[15°, 15°, 12°, 15°, 15°, 12°]"},
		{"ignition.dwell_table", "9 5.8; 12 3.7; 14 2.9", "", "V, ms", "[[9 V, 5.8 ms], [12 V, 3.7 ms], [14 V, 2.9 ms]]"},
		{"ignition.dwell_table", "9 V: 5.8 ms; 12 V: 3.7 ms", "", "V, ms", "[[9 V, 5.8 ms], [12 V, 3.7 ms]]"},
		{"job.note", "94", "", "", "94"},
	} {
		f := field(t, c.path)
		got := f.Text(jobcard.Entry{Figure: c.typed, Limit: c.limit, Unit: c.unit})
		if c.want == "" {
			if got != strings.TrimSpace(c.typed) {
				t.Errorf("%s: %q, whose unit nobody knows, became %q", c.path, c.typed, got)
			}
			continue
		}
		if got != c.want {
			t.Errorf("%s: %q beside %q gives %q, want %q", c.path, c.typed, c.unit, got, c.want)
		}
		if again := f.Text(f.Entry(got, in)); !f.Same(again, got) {
			t.Errorf("%s: %q through the form again is %q", c.path, got, again)
		}
	}
}

// What the form makes of each notation is taken by the parser and means the same figure; by hand.
func TestTypedNotationsMeanTheFigure(t *testing.T) {
	for typed, want := range map[string]quantity.Speed{"4200": 4200, "4 200": 4200, "4,200": 4200, "4'200": 4200, "4200,0": 4200, "70 rev/s": 4200} {
		f := field(t, "engine.redline")
		text := f.Text(jobcard.Entry{Figure: typed, Unit: "rpm"})
		if c := parse(t, swap(t, "redline: 4200 rpm", `redline: "`+text+`"`)); c.Engine.Redline != want || len(c.Doubts()) > 0 {
			t.Errorf("%q: %v, asks %v", text, c.Engine.Redline, c.Doubts())
		}
	}
	// 3.700 in is 93.98 mm, and 3700 in is no bore
	if c := parse(t, swap(t, "bore: 94 mm", `bore: "3,700 in"`)); quantity.Abs(c.Engine.Bore-93.98) > 1e-9 {
		t.Error(c.Engine.Bore)
	}
	// 1,650 mm can only be 1650 mm, which is possible and unlikely: it is asked about
	if c := parse(t, swap(t, "diameter: 168 mm ± 0.3 mm", `diameter: "1,650 mm"`)); c.Damper.Diameter.Value != 1650 || len(c.Doubts()) != 1 {
		t.Error(c.Damper.Diameter, c.Doubts())
	}
}

// The unit beside an empty field is the field's own, and of lengths the shop's.
func TestUnitBesideAField(t *testing.T) {
	for path, want := range map[string][2]string{"engine.bore": {"mm", "in"}, "engine.redline": {"rpm", "rpm"}, "ignition.dwell": {"ms", "ms"},
		"ignition.box_voltage": {"kV", "kV"}, "engine.chamber.volume": {"cm3", "cm3"}, "damper.diameter": {"mm", "in"}, "engine.cylinders": {"", ""}} {
		f := field(t, path)
		if mm, in := f.Entry("", quantity.Millimetre).Unit, f.Entry("", quantity.Inch).Unit; mm != want[0] || in != want[1] {
			t.Errorf("%s: %q and %q, want %q", path, mm, in, want)
		}
	}
	for _, f := range jobcard.Fields() {
		if e := f.Entry("", 0); e.Unit != "" && f.Kind != jobcard.Table && !slices.Contains(f.Units, e.Unit) {
			t.Errorf("%s: %q is not offered", f.Path, e.Unit)
		}
	}
}

// Whatever is typed with its unit or without: taken apart and put together it says the same.
func TestEntriesRoundTrip(t *testing.T) {
	f := field(t, "damper.diameter")
	rapid.Check(t, func(t *rapid.T) {
		figure := rapid.StringMatching(`[+-]?([0-9]{1,4}([.,][0-9]{1,3})?|[0-9]{1,2} 1/[0-9]{1,2}|[0-9]½)`).Draw(t, "figure")
		limit := rapid.StringMatching(`|[0-9]([.,][0-9]{1,2})?|1/64|[0-9] %`).Draw(t, "limit")
		unit := rapid.SampledFrom([]string{"mm", "in", "cm", "thou"}).Draw(t, "unit")
		text := f.Text(jobcard.Entry{Figure: figure, Limit: limit, Unit: unit})
		e := f.Entry(text, 0)
		if again := f.Text(e); again != text || e.Unit != unit {
			t.Fatalf("%q is taken apart to %+v and comes back as %q", text, e, again)
		}
		a, errA := quantity.ParseMeasured[quantity.Length](text)
		b, errB := quantity.ParseMeasured[quantity.Length](figure + " " + unit)
		if (errA == nil) != (errB == nil) || errA == nil && a.Value != b.Value {
			t.Fatalf("%q is %v, %v and the figure alone %v, %v", text, a, errA, b, errB)
		}
	})
}

// A text that is no figure is not touched.
func TestNoFigureStaysAsTyped(t *testing.T) {
	f := field(t, "engine.bore")
	rapid.Check(t, func(t *rapid.T) {
		typed := rapid.StringMatching(`[a-z?=*]{1,6}[0-9 a-z±/-]{0,8}[a-z]`).Draw(t, "typed")
		if got := f.Text(f.Entry(typed, 0)); got != typed {
			t.Fatalf("%q became %q", typed, got)
		}
	})
}
