package sheet

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"phasewright/coil"
	"phasewright/distributor"
	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// sparkOf makes the coil, spark and rotor items of an example with texts replaced: old, new …
func sparkOf(t testing.TB, name string, swap ...string) *Sheet {
	t.Helper()
	c := sparkCard(t, name, swap...)
	s := &Sheet{}
	s.Items = append(sparkItems(c, s), rotorItems(c, s)...)
	return s
}

func sparkCard(t testing.TB, name string, swap ...string) *jobcard.Card {
	t.Helper()
	text := ""
	for _, e := range examples.Cards() {
		if e.Name == name {
			text = e.YAML
		}
	}
	for i := 0; i < len(swap); i += 2 {
		if !strings.Contains(text, swap[i]) {
			t.Fatalf("%s does not hold %q", name, swap[i])
		}
		text = strings.Replace(text, swap[i], swap[i+1], 1)
	}
	c, err := jobcard.Parse(name, []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// By hand from the card of the work boat: R hot = 0.55·(1 + 0.00393·60) + 0.05 = 0.72969 Ω, drive 13.8 − 1.0 = 12.8 V.
func TestSparkItemsByHand(t *testing.T) {
	s := sparkOf(t, "sandpiper")
	// t = L0/(R(1+a²))·[−ln(1−x/a) + ½ln(1+x²) + a·atan x], x = 7/8, a = 12.8/(0.72969·8) = 2.19271:
	// 5.2e−3/(0.72969·5.80798)·[0.50958 + 0.28434 + 1.57580] = 2.9076 ms
	r := 0.55*(1+0.00393*60) + 0.05
	x, a := 7.0/8, 12.8/(r*8)
	need := 5.2e-3 / (r * (1 + a*a)) * (-math.Log(1-x/a) + math.Log(1+x*x)/2 + a*math.Atan(x)) * 1e3
	for _, c := range []struct {
		id        string
		want, tol float64
	}{
		{"coil_charge", need, 1e-4},
		{"coil_charge", 2.9076, 1e-4},
		{"coil_reach", 120 / (6 * (need + 0.6)) * 1e3, 0.6}, // six: 120° ÷ (6·(dwell + off time))
		{"rotor_centre", -21, 1e-9},                         // (60 − 18)/2
		{"rotor_sweep", (9.5493 + 7.1876 - 8 - 1) * math.Pi / 180 * 27, 2e-3},
		{"rotor_corrections", 0.5, 1e-9},
		{"box_trigger", math.NaN(), 0},
	} {
		it := s.Item(c.id)
		if math.IsNaN(c.want) {
			if it != nil {
				t.Errorf("%s on a coil driver", c.id)
			}
			continue
		}
		if it == nil || !(math.Abs(it.Value-c.want) <= c.tol) {
			t.Errorf("%s: %+v, want %g", c.id, it, c.want)
		}
	}
	// a 1.4 ms trigger on an eight fills 90° at 90/(6·1.4 ms) = 10714 rpm
	if it := sparkOf(t, "gorse-hill").Item("box_trigger"); it == nil || math.Abs(it.Value-10714) > 0.5 {
		t.Errorf("box_trigger: %+v", it)
	}
}

func TestSparkVerdicts(t *testing.T) {
	for _, c := range []struct {
		name, card string
		swap       []string
		id         string
		want       Verdict
		says       string
	}{
		{"reaches", "sandpiper", nil, "coil_charge", Fine, "reaches the target"},
		{"falls a little short", "sandpiper", []string{"dwell: 3.2 ms", "dwell: 2.7 ms"}, "coil_charge", Caution, "falls short"},
		{"far too short", "sandpiper", []string{"dwell: 3.2 ms", "dwell: 1.5 ms"}, "coil_charge", Stop, "set 2.91 ms"},
		{"never when hot", "sandpiper", []string{"saturates_at: 8 A, target: 7 A", "saturates_at: 8 A, target: 20 A"}, "coil_charge", Stop, "never reached when hot"},
		{"never at all", "sandpiper", []string{"target: 7 A", "target: 30 A"}, "coil_charge", Stop, "is never reached: 13.8"},
		{"weak battery", "sandpiper", nil, "dwell_cranking", Caution, "lengthen the dwell"},
		{"good battery", "sandpiper", []string{"cranking_supply: 9.8 V", "cranking_supply: 12 V"}, "dwell_cranking", Fine, ""},
		{"reach below redline", "sandpiper", []string{"redline: 4200 rpm", "redline: 6200 rpm"}, "coil_reach", Caution, "below the redline"},
		{"driver overrun", "sandpiper", []string{"target: 7 A", "target: 7 A, driver_limit: 8 A"}, "driver_current", Stop, "above the driver's limit"},
		{"driver overrun, limit assumed", "sandpiper", []string{"dwell: 3.2 ms", "dwell: 4 ms"}, "driver_current", Caution, "only assumed"},
		{"cooks", "sandpiper", []string{"target: 7 A", "target: 7 A, heat_limit: 5 W"}, "coil_heat", Stop, "cooks"},
		{"warm", "sandpiper", []string{"target: 7 A", "target: 7 A, heat_limit: 12 W"}, "coil_heat", Caution, "may pass"},
		{"cool", "sandpiper", nil, "coil_heat", Fine, ""},
		{"fit", "heron-ferry", nil, "coil_fit", Fine, "runs through the points"},
		{"fit with a bad point", "heron-ferry", []string{"[2 ms, 3.9 A]", "[2 ms, 5.1 A]"}, "coil_fit", Caution, "measure again"},
		{"no coil", "tern-single", nil, "coil_charge", Caution, "write the coil section"},
		{"demand without a coil", "tern-single", nil, "spark_demand", Fine, "band"},
		{"spark box, maker's figure wanted", "gorse-hill", nil, "spark_demand", Caution, "maker's figure"},
		{"trigger merges", "gorse-hill", []string{"dwell: 1.4 ms", "dwell: 2.0 ms", "redline: 6600 rpm", "redline: 7500 rpm"}, "box_trigger", Stop, "shorten"}, // 2.0 ms fill an eight's interval at 7500 rpm
		{"trigger as its maker states", "gorse-hill", nil, "box_trigger", Fine, "maker states"},
		{"trigger wider than its maker states", "gorse-hill", []string{"box_pulse_most: 3 ms", "box_pulse_most: 1.2 ms"}, "box_trigger", Caution, "wider than the box's maker allows"},
		{"trigger narrower than its maker states", "gorse-hill", []string{"box_pulse_least: 0.8 ms", "box_pulse_least: 1.6 ms"}, "box_trigger", Caution, "narrower than the box answers to"},
		{"trigger's limits not given", "gorse-hill", []string{"box_pulse_least: 0.8 ms, ", ""}, "box_trigger", Caution, "look it up"},
		{"trigger not given", "gorse-hill", []string{"dwell: 1.4 ms, ", ""}, "box_trigger", Caution, "read it in the controller"},
		{"dwell not given", "sandpiper", []string{"dwell: 3.2 ms, ", ""}, "coil_charge", Caution, "not given"},
		{"spark with a dwell not given", "sandpiper", []string{"dwell: 3.2 ms, ", ""}, "spark_margin", Caution, "since the one set is not given"},
		{"hopeless coil", "sandpiper", []string{"target: 7 A", "target: 7 A, secondary_capacitance: 900 pF, efficiency: 0.2"}, "spark_margin", Stop, "less plug gap"},
		{"hopeless gap, outside the sources", "sandpiper", []string{"plug_gap: 0.8 mm", "plug_gap: 2.9 mm", "target: 7 A", "target: 7 A, secondary_capacitance: 500 pF"}, "spark_margin", Caution, "a spark tester under load and on the starter settles it"},
		{"dwell as long as the redline lets it", "sandpiper", []string{"dwell: 3.2 ms", "dwell: 1.9 ms", "redline: 4200 rpm", "redline: 8000 rpm"}, "coil_charge", Caution, "no more fits at the redline"}, // 120° last 2.5 ms at 8000 rpm
		{"table short at one point", "sandpiper", []string{"dwell: 3.2 ms", "dwell_table: [[9 V, 3.2 ms], [16 V, 2.9 ms]]"}, "dwell_held", Caution, "only 4.28"},
		{"table past the driver at one point", "sandpiper", []string{"dwell: 3.2 ms", "dwell_table: [[9 V, 6 ms], [16 V, 3.4 ms]]", "target: 7 A", "target: 7 A, driver_limit: 9 A"}, "dwell_held", Stop, "a cold coil draws 11.65"},
		{"table that ends above the cranking supply", "sandpiper", []string{"dwell: 3.2 ms", "dwell_table: [[11 V, 4 ms], [16 V, 2.5 ms]]"}, "dwell_held", Caution, "the table ends at "},
		{"plenty", "sandpiper", []string{"plug_gap: 0.8 mm", "plug_gap: 0.5 mm"}, "spark_margin", Fine, ""},
		{"weak battery says what more dwell does", "sandpiper", nil, "spark_cranking", Caution, "set 4.87 ms"},
		{"rotor measured and right", "sandpiper", []string{"tower_for_no1: 4", "tower_for_no1: 4, rotor_offset: -21 deg"}, "rotor_sweep", Fine, "whole range"},
		{"rotor not measured", "sandpiper", nil, "rotor_sweep", Caution, "nobody measured where the tip stands"},
		{"rotor misses at one end", "sandpiper", []string{"tower_for_no1: 4", "tower_for_no1: 4, rotor_offset: -5 deg"}, "rotor_sweep", Stop, "2.0° the tip may have left"},
		{"rotor a little off", "sandpiper", []string{"tower_for_no1: 4", "tower_for_no1: 4, rotor_offset: -16 deg"}, "rotor_centre", Caution, "5.0° away"},
		{"tip too narrow for the range", "ember-twelve", []string{"rotor_tip: 8 mm", "rotor_tip: 6 mm"}, "rotor_centre", Caution, "wider tip"},
		{"tip faces two terminals", "sandpiper", []string{"rotor_tip: 9 mm", "rotor_tip: 24 mm"}, "rotor_sweep", Stop, "faces two terminals"},
		{"crossfire on a small cap", "ember-twelve", nil, "crossfire", Caution, "cap dry"},
		{"crossfire far off", "mill-pump", nil, "crossfire", Fine, "tracks"},
	} {
		s := sparkOf(t, c.card, c.swap...)
		it := s.Item(c.id)
		if it == nil {
			t.Errorf("%s: no item %s", c.name, c.id)
			continue
		}
		if it.Verdict != c.want || !strings.Contains(strings.ToLower(it.Text+" "+it.Because), strings.ToLower(c.says)) {
			t.Errorf("%s: %s is %s: %s because %s", c.name, c.id, it.Verdict, it.Text, it.Because)
		}
	}
}

// Every item says what a reader needs.
func TestSparkItemsAreWhole(t *testing.T) {
	for _, e := range examples.Cards() {
		s := sparkOf(t, e.Name)
		seen := map[string]bool{}
		for _, it := range s.Items {
			if seen[it.ID] {
				t.Errorf("%s: %s stands twice", e.Name, it.ID)
			}
			seen[it.ID] = true
			if it.Title == "" || it.Text == "" || it.Because == "" || it.Formula == "" || it.Ignored == "" || len(it.Inputs) == 0 ||
				(it.Unit == "" && !math.IsNaN(it.Value)) || (it.Verdict != Fine && it.Verdict != Caution && it.Verdict != Stop) {
				t.Errorf("%s: %+v", e.Name, it)
			}
		}
	}
}

// The chart from a card: three supplies, the spark box without coil rows, none without a coil.
func TestDecisionChartOfCards(t *testing.T) {
	chart, ok, err := DecisionChart(sparkCard(t, "sandpiper"), 50)
	if err != nil || !ok || len(chart.Lines) != 3 || chart.Lines[0].Supply != 9.8 || chart.Lines[2].Supply != 13.8 {
		t.Fatalf("%v %v %d", ok, err, len(chart.Lines))
	}
	if at, found := chart.Lines[2].At(4200); !found || at.Rotor == (distributor.Sweep{}) || at.Current < 7 {
		t.Errorf("at the redline %+v", at)
	}
	if at, _ := chart.Lines[0].At(180); at.Limit != coil.DwellShort {
		t.Errorf("at cranking the dwell set is too short, the chart says %q", at.Limit)
	}
	if chart, ok, err = DecisionChart(sparkCard(t, "gorse-hill"), 50); err != nil || !ok || chart.Lines[0].Points[0].Current != 0 {
		t.Error("spark box", ok, err)
	}
	if _, ok, err = DecisionChart(sparkCard(t, "tern-single"), 50); err != nil || ok {
		t.Error("no coil", ok, err)
	}
}

func BenchmarkSparkItems(b *testing.B) {
	c := sparkCard(b, "sandpiper")
	for b.Loop() {
		s := &Sheet{}
		if len(sparkItems(c, s))+len(rotorItems(c, s)) < 10 {
			b.Fatal("items are missing")
		}
	}
}

// A coil of which nobody measured efficiency and capacitance may be a poor one. By hand: what the secondary reaches goes as
// √(share kept ÷ capacitance), so from 0.6 ± 0.1 and 80 pF ± 25 % to 0.45 ± 0.1 and 120 pF ± 25 % the worst end falls to
// √((0.35 ÷ 0.5) · (100 ÷ 150)) = 0.6831 of what it was: 1.11 times become 0.76. Nothing is fine that such a coil would not
// cover, and both figures stand among the inputs, assumed, with their spread.
func TestAPoorCoilIsReckonedWith(t *testing.T) {
	const fall = 0.68313
	doubted, fine := 0, 0
	for _, gap := range []string{"0.4 mm", "0.5 mm", "0.6 mm", "0.7 mm", "0.8 mm", "0.9 mm", "1.0 mm", "1.2 mm"} {
		for _, given := range []bool{false, true} {
			text := `
job: {name: Test}
engine: {cylinders: 4, firing_order: [1, 3, 4, 2], rotation: clockwise, bore: 86 mm, stroke: 91 mm, rod: 150 mm, compression_ratio: 8.3, redline: 4500 rpm}
damper: {diameter: 150 mm ± 0.3 mm}
distributor: {rotation: clockwise}
signals: {crank: {vane_width: 20 deg, active_edge: falling, lead: 60 deg}}
controller: {advance: {cranking: 9 deg, locked: 11 deg, min: 2 deg, max: 31 deg}}
ignition: {dwell: 4 ms, plug_gap: ` + gap + `}
coil: {resistance: 0.6 ohm, inductance: 5.5 mH, target: 7 A`
			if given {
				text += ", efficiency: 0.6, secondary_capacitance: 80 pF"
			}
			c, err := jobcard.Parse("card.yaml", []byte(text+"}\n"))
			if err != nil {
				t.Fatal(err)
			}
			s, err := Make(c)
			if err != nil {
				t.Fatal(err)
			}
			for _, id := range []string{"spark_margin", "spark_cranking"} {
				it := s.Item(id)
				poor := fall * it.Value
				said := strings.Contains(it.Because, "Efficiency and capacitance are unmeasured")
				if want := !given && poor < 0.999 && it.Verdict != Stop; !given && math.Abs(poor-1) > 0.01 && said != want || given && said {
					t.Errorf("%s with %s, given %v: %.3f at worst, a poor coil %.3f, yet: %s", id, gap, given, it.Value, poor, it.Because)
				}
				if said {
					doubted++
					if want := "leaves " + quantity.Number(poor, 2) + " times"; it.Verdict == Fine || !strings.Contains(it.Because, want) {
						t.Errorf("%s with %s is %s, want doubt and %q: %s", id, gap, it.Verdict, want, it.Because)
					}
				}
				if it.Verdict == Fine {
					fine++
				}
				for path, value := range map[string]string{"coil.efficiency": "0.6 ± 0.1", "coil.secondary_capacitance": fmt.Sprint(c.Coil.SecondaryCapacitance) + " ± 25 %"} {
					if !slices.Contains(it.Inputs, Input{Path: path, Value: value, Assumed: true}) {
						t.Errorf("%s does not show %s %s as assumed", id, path, value)
					}
				}
			}
			if heat := s.Item("coil_heat"); !slices.Contains(heat.Inputs, Input{Path: "coil.efficiency", Value: "0.6 ± 0.1", Assumed: true}) {
				t.Error("coil heat does not show the efficiency")
			}
		}
	}
	if doubted < 3 || fine < 3 {
		t.Errorf("%d margins doubted and %d fine: the cases do not try both", doubted, fine)
	}
}
