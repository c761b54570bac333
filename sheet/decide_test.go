package sheet

import (
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"phasewright/coil"
	"phasewright/examples"
	"phasewright/quantity"
)

func caseOf(t testing.TB, name string, swap ...string) *Case {
	t.Helper()
	s, err := CaseOf(sparkCard(t, name, swap...))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Whatever is tried, the causes follow each other from cranking to a tenth past the redline without a hole, each is the
// cause at every speed within it, and where it ends on one supply another begins within 1 rpm.
func TestCausesCoverEverySpeed(t *testing.T) {
	cases := map[string]*Case{}
	var names []string
	for _, e := range examples.Cards() {
		cases[e.Name], names = caseOf(t, e.Name), append(names, e.Name)
	}
	rapid.Check(t, func(t *rapid.T) {
		s := cases[rapid.SampledFrom(names).Draw(t, "card")]
		values := map[string]float64{}
		for _, k := range Knobs(s.Card) {
			values[k.Name] = rapid.Float64Range(k.Least, k.Most).Draw(t, k.Name)
		}
		tried, err := s.Try(values)
		if err != nil {
			var f *quantity.Invalid
			if !errors.As(err, &f) {
				t.Fatal(err)
			}
			t.Skip("cannot be: " + err.Error())
		}
		d := tried.Decide(60)
		p := d.Plan
		if len(d.Causes) == 0 || d.Causes[0].From != p.CrankingSpeed || math.Abs(float64(d.Causes[len(d.Causes)-1].To-1.1*p.Redline)) > 1e-6 {
			t.Fatalf("causes run from %v to %v", d.Causes[0].From, d.Causes[len(d.Causes)-1].To)
		}
		for i, c := range d.Causes {
			if i > 0 && c.From != d.Causes[i-1].To {
				t.Fatalf("hole before %v", c.From)
			}
			if c.Name() == "" || c.Short() == "" || c.Fails && c.Hand >= 1 || !c.Fails && c.Limit != coil.Nothing && c.Hand < 1 {
				t.Fatalf("%+v", c)
			}
			want := p.Running
			if c.From < p.Idle {
				want = p.CrankingSupply
			}
			if c.Supply != want {
				t.Fatalf("%+v stands on %v", c, want)
			}
			if i > 0 && d.Causes[i-1].Supply == c.Supply {
				was := d.Causes[i-1]
				before, after := causeAt(p.PointAt(c.From-1, c.Supply), c.Supply), causeAt(p.PointAt(c.From, c.Supply), c.Supply)
				if after.Limit == was.Limit && after.Fails == was.Fails || before.Limit != was.Limit || before.Fails != was.Fails {
					t.Fatalf("%q is said to end at %v: %q 1 rpm before, %q there", was.Name(), c.From, before.Name(), after.Name())
				}
			}
		}
		for _, pt := range d.Running().Points { // at the speeds of the chart the cause is the point's own
			n := pt.Speed
			at, ok := d.At(n)
			if !ok {
				t.Fatal("no point at", n)
			}
			k, _ := slices.BinarySearchFunc(d.Causes, n, func(c Cause, n quantity.Speed) int {
				switch {
				case c.To <= n && c.To < 1.1*p.Redline:
					return -1
				case c.From > n:
					return 1
				}
				return 0
			})
			if d.Causes[k].Hand > at.Hand+1e-9 {
				t.Fatalf("%g in hand at %v, the stretch is said to have %g at least", at.Hand, n, d.Causes[k].Hand)
			}
			if own := d.CauseOf(at); own.Limit != d.Causes[k].Limit || own.Fails != d.Causes[k].Fails {
				t.Fatalf("at %v %q, the chart says %q", n, own.Name(), d.Causes[k].Name())
			}
		}
	})
}

// By hand: dwell to the target 2.9076 ms (see TestSparkItemsByHand) and 0.6 ms off time fill the 120° of a six at
// 120/(6·3.5076 ms) = 5702 rpm; at cranking on 9.8 V the 3.2 ms set are too short for 7 A.
func TestCausesByHand(t *testing.T) {
	d := caseOf(t, "sandpiper", "redline: 4200 rpm", "redline: 6200 rpm").Decide(60)
	if c := d.Causes[0]; c.Limit != coil.DwellShort || !c.Fails || c.From != 180 || c.To != 750 || c.Supply != 9.8 {
		t.Errorf("cranking: %+v", c)
	}
	if c := d.Causes[len(d.Causes)-1]; c.Limit != coil.NoTime || !c.Fails || math.Abs(float64(c.From)-5702) > 1.5 {
		t.Errorf("near the redline: %+v", c)
	}
	rows := d.Rows()
	if rows[0].Speed != 180 || rows[1].Speed != 750 || rows[len(rows)-1].Speed != 6200 || len(rows) > 12 {
		t.Errorf("%d rows from %v", len(rows), rows[0].Speed)
	}
	if !slices.IsSortedFunc(rows, func(a, b coil.Point) int { return int(a.Speed - b.Speed) }) {
		t.Error("rows do not rise")
	}
	if got := d.CauseOf(rows[0]).Name(); got != "dwell set too short" {
		t.Errorf("at cranking %q", got)
	}
}

// What is tried is what the card would say with those values written on it. (The rotor offset is stated, so that it
// does not follow the lead.)
func TestTryIsTheCardWithThoseValues(t *testing.T) {
	stated := []string{"tower_for_no1: 4", "tower_for_no1: 4, rotor_offset: -18 deg"}
	tried, err := caseOf(t, "sandpiper", stated...).Try(map[string]float64{"dwell": 2.7, "supply": 12.6, "gap": 0.65, "lead": 56})
	if err != nil {
		t.Fatal(err)
	}
	written := caseOf(t, "sandpiper", append(stated, "dwell: 3.2 ms", "dwell: 2.7 ms", "supply: 13.8 V", "supply: 12.6 V", "plug_gap: 0.8 mm", "plug_gap: 0.65 mm", "lead: 60 deg", "lead: 56 deg")...)
	a, b := tried.Items(), written.Items()
	if len(a) != len(b) {
		t.Fatalf("%d items tried, %d written", len(a), len(b))
	}
	for i := range a {
		if a[i].ID != b[i].ID || a[i].Text != b[i].Text || a[i].Verdict != b[i].Verdict {
			t.Errorf("%s: tried %q, written %q", a[i].ID, a[i].Text, b[i].Text)
		}
	}
	x, _ := json.Marshal(tried.Decide(30).Causes)
	y, _ := json.Marshal(written.Decide(30).Causes)
	if string(x) != string(y) {
		t.Errorf("causes differ:\n%s\n%s", x, y)
	}
	same := caseOf(t, "sandpiper", stated...)
	if same.Card.Ignition.Dwell.Or(0) != 3200 || same.Plan.Primary.Supply != 13.8 || same.Plan.Sparks.Lead != 60 {
		t.Error("the card itself was changed")
	}
}

// The same for a spark box, whose dwell is the width of its trigger pulse.
func TestTryOnASparkBox(t *testing.T) {
	stated := []string{"tower_for_no1: 3", "tower_for_no1: 3, rotor_offset: -18 deg", "output: spark box", "output: spark box, box_voltage: 38 kV ± 4 kV"}
	tried, err := caseOf(t, "gorse-hill", stated...).Try(map[string]float64{"dwell": 2.2, "gap": 0.7})
	if err != nil {
		t.Fatal(err)
	}
	written := caseOf(t, "gorse-hill", append(stated, "dwell: 1.4 ms", "dwell: 2.2 ms", "plug_gap: 0.03 in", "plug_gap: 0.7 mm")...)
	a, b := tried.Items(), written.Items()
	if len(a) != len(b) {
		t.Fatalf("%d items tried, %d written", len(a), len(b))
	}
	for i := range a {
		if a[i].Text != b[i].Text || a[i].Verdict != b[i].Verdict {
			t.Errorf("%s: tried %q, written %q", a[i].ID, a[i].Text, b[i].Text)
		}
	}
	// the pulse fills an eight's 90° at 90/(6·2.2 ms) = 6818 rpm
	for _, it := range a {
		if it.ID == "box_trigger" && math.Abs(it.Value-6818) > 0.5 {
			t.Errorf("%+v", it)
		}
	}
}

// The lead moves the tip by half of itself, and nothing of the coil; the trial leaves the case alone.
func TestTryLeadMovesTheRotorByHalf(t *testing.T) {
	s := caseOf(t, "sandpiper")
	rapid.Check(t, func(t *rapid.T) {
		lead := rapid.Float64Range(35, 119).Draw(t, "lead")
		tried, err := s.Try(map[string]float64{"lead": lead})
		if err != nil {
			t.Fatal(err)
		}
		was, now := s.Plan.PointAt(3000, 13.8), tried.Plan.PointAt(3000, 13.8)
		if moved := float64(now.Rotor.Middle - was.Rotor.Middle); math.Abs(moved-(lead-60)/2) > 1e-9 || now.Current != was.Current {
			t.Fatalf("the tip moved %g° for %g° of lead", moved, lead-60)
		}
	})
	if s.Plan.Sparks.Lead != 60 || s.Card.Signals.Crank.Lead != 60 {
		t.Error("the case itself was changed")
	}
}

// A coil known by its measured charge keeps its iron when another supply is tried: the charge was measured at
// the card's.
func TestTrySupplyKeepsTheMeasuredIron(t *testing.T) {
	s := caseOf(t, "heron-ferry")
	tried, err := s.Try(map[string]float64{"supply": 11})
	if err != nil {
		t.Fatal(err)
	}
	if tried.Plan.Primary.Iron != s.Plan.Primary.Iron {
		t.Error("the coil was fitted anew")
	}
	// v·t = λ + R·∫i dt holds at any supply: less drive, more time
	if a, b := s.Plan.Primary.Hot(13.6).TimeTo(5), tried.Plan.Primary.Hot(11).TimeTo(5); !(b > a) {
		t.Errorf("%v at 13.6 V, %v at 11 V", a, b)
	}
}

// Every bad value is refused with the field and what is accepted.
func TestTryRefuses(t *testing.T) {
	s := caseOf(t, "sandpiper")
	for _, k := range Knobs(s.Card) {
		if k.Card < k.Least || k.Card > k.Most || !(k.Step > 0) {
			t.Errorf("%+v", k)
		}
		for _, text := range []string{"", "x", "NaN", "1e9", "-1", "−3", "3 kg", strings.Repeat("9", 400)} {
			if v, err := k.Read(text); err == nil {
				t.Errorf("%s took %q as %g", k.Name, text, v)
			} else if strings.Count(err.Error(), " – ") != 2 || !strings.HasPrefix(err.Error(), k.Path) || len(err.Error()) > 600 {
				t.Errorf("%s: %v", k.Name, err)
			}
		}
		if _, err := s.Try(map[string]float64{k.Name: k.Most + 1}); err == nil {
			t.Errorf("%s took %g", k.Name, k.Most+1)
		}
	}
	for text, want := range map[string]float64{"3.5": 3.5, "3,5": 3.5, "3500 us": 3.5, "3.5 ms": 3.5} {
		if v, err := Knobs(s.Card)[0].Read(text); err != nil || math.Abs(v-want) > 1e-9 {
			t.Errorf("%q: %g %v", text, v, err)
		}
	}
	// a target out of reach: the coil's field is named, not the slider's. Hot or cold, 5 V through 0.6 Ω pass 8.3 A
	weak := caseOf(t, "sandpiper", "target: 7 A", "target: 9 A")
	_, err := weak.Try(map[string]float64{"supply": 6})
	var f *quantity.Invalid
	if !errors.As(err, &f) || f.Field != "coil.target" || !strings.Contains(err.Error(), "8.33") {
		t.Errorf("never reached: %v", err)
	}
	// a tip wider than its place between towers
	_, err = CaseOf(sparkCard(t, "sandpiper", "rotor_tip: 9 mm", "rotor_tip: 24 mm"))
	var r *quantity.Invalid
	if !errors.As(err, &r) || r.Field != "distributor.rotor_tip" || !strings.Contains(err.Error(), "narrower than") {
		t.Errorf("wide tip: %v", err)
	}
}

// With its maker's figure a spark box has a margin: 38 ± 4 kV over what the spark needs. (Both figures invented.)
func TestSparkBoxWithItsMakersFigure(t *testing.T) {
	s := caseOf(t, "gorse-hill", "output: spark box", "output: spark box, box_voltage: 38 kV ± 4 kV")
	pt := s.Plan.PointAt(3000, 13.8)
	if pt.Available != (coil.Band[quantity.Voltage]{Low: 34000, High: 42000}) || math.Abs(pt.Margin.Low-34000/float64(pt.Demand.Volts.High)) > 1e-12 {
		t.Errorf("%+v of %+v", pt.Margin, pt.Available)
	}
	sh := sparkOf(t, "gorse-hill", "output: spark box", "output: spark box, box_voltage: 38 kV")
	it := sh.Item("spark_margin")
	if it == nil || !strings.Contains(it.Text, "the spark box can give 32.3 to 43.7 kV") || !strings.Contains(it.Inputs[0].Value, "± 15 % assumed") { // 38 ± 15 %
		t.Errorf("%+v", it)
	}
	if it := sh.Item("spark_demand"); it.Verdict != Fine {
		t.Errorf("the maker's figure is asked for although it is there: %+v", it)
	}
	if it := sh.Item("spark_cranking"); it == nil || it.Verdict != Caution || !strings.Contains(it.Because, "weak battery") {
		t.Errorf("%+v", it)
	}
	if hopeless := sparkOf(t, "gorse-hill", "output: spark box", "output: spark box, box_voltage: 8 kV ± 1 kV").Item("spark_margin"); hopeless.Verdict != Stop || !strings.Contains(hopeless.Because, "stronger spark box") {
		t.Errorf("%+v", hopeless)
	}
	if caseOf(t, "gorse-hill").Plan.PointAt(3000, 13.8).Margin.High != 0 {
		t.Error("a margin without a figure")
	}
}

// A coil's ceiling holds what it can give down.
func TestCeiling(t *testing.T) {
	free, held := caseOf(t, "sandpiper").Plan.PointAt(3000, 13.8), caseOf(t, "sandpiper", "target: 7 A", "target: 7 A, ceiling: 40 kV").Plan.PointAt(3000, 13.8)
	if free.Available.High < 40000 || held.Available.High != 40000 || held.Available.Low != free.Available.Low {
		t.Errorf("%v, held %v", free.Available, held.Available)
	}
}

// On the wire: units in the keys, the same numbers as the plan, null for what is not known or never.
func TestSparkSeries(t *testing.T) {
	s := caseOf(t, "sandpiper")
	data, err := json.Marshal(SparkSeries(s.Card, 25))
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Marks  []struct{ Name string }
		Causes []struct {
			From float64 `json:"from_rpm"`
			To   float64 `json:"to_rpm"`
		}
		Lines []struct {
			Supply float64 `json:"supply_v"`
			Full   float64 `json:"target_up_to_rpm"`
			Points []map[string]any
		}
	}
	if err := json.Unmarshal(data, &got); err != nil {
		t.Fatal(err)
	}
	if len(got.Marks) != 3 || len(got.Lines) != 3 || math.Abs(got.Lines[2].Full-5702) > 1 || len(got.Causes) < 2 {
		t.Fatalf("%s", data)
	}
	for _, l := range got.Lines {
		for _, p := range l.Points {
			want := s.Plan.PointAt(quantity.Speed(p["rpm"].(float64)), quantity.Voltage(l.Supply))
			for key, v := range map[string]float64{"current_a": float64(want.Current), "dwell_fits_us": float64(want.Fits), "margin_lo": want.Margin.Low, "demand_hi_kv": float64(want.Demand.Volts.High) / 1e3, "rotor_overlap_mm": float64(want.Rotor.Overlap)} {
				if math.Abs(p[key].(float64)-v) > 1e-4*math.Max(1, math.Abs(v)) {
					t.Fatalf("%s at %v, %g V: %v, want %g", key, p["rpm"], l.Supply, p[key], v)
				}
			}
		}
	}
	for key := range got.Lines[0].Points[0] {
		if !slices.ContainsFunc([]string{"rpm", "_us", "_a", "_mj", "_w", "_kv", "_mm", "_deg", "margin_lo", "margin_hi", "crossfire_lo", "crossfire_hi", "limit", "extrapolated"}, func(end string) bool { return strings.HasSuffix(key, end) }) {
			t.Errorf("%q does not say its unit", key)
		}
	}
	// nothing of the coil is known: null, never nought
	for _, null := range []string{`"current_a":null`, `"margin_lo":null`, `"dwell_needed_us":null`, `"rotor_overlap_mm":null`} {
		if out, _ := json.Marshal(SparkSeries(sparkCard(t, "tern-single"), 10)); !strings.Contains(string(out), null) {
			t.Errorf("no %s in %s", null, out)
		}
	}
	if SparkSeries(sparkCard(t, "sandpiper", "rotor_tip: 9 mm", "rotor_tip: 24 mm"), 10) != nil {
		t.Error("a chart of what cannot be")
	}
}

func BenchmarkDecide(b *testing.B) {
	s := caseOf(b, "sandpiper")
	for b.Loop() {
		if len(s.Decide(80).Causes) == 0 {
			b.Fatal("nothing")
		}
	}
}
