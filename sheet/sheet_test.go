package sheet_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"

	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/sheet"
)

func example(t testing.TB, name string) string {
	t.Helper()
	for _, c := range examples.Cards() {
		if c.Name == name {
			return c.YAML
		}
	}
	t.Fatalf("no example %s", name)
	return ""
}

// of makes the sheet of an example with texts replaced: old, new, old, new …
func of(t testing.TB, name string, swap ...string) *sheet.Sheet {
	t.Helper()
	text := example(t, name)
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
	s, err := sheet.Make(c)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func item(t testing.TB, s *sheet.Sheet, id string) *sheet.Item {
	t.Helper()
	it := s.Item(id)
	if it == nil {
		t.Fatalf("no item %s", id)
	}
	return it
}

// Worked by hand from the card of the work boat; textbook geometry and definitions.
func TestSandpiperByHand(t *testing.T) {
	s := of(t, "sandpiper")
	for _, c := range []struct {
		id   string
		want float64
		tol  float64
	}{
		{"mark_lead", math.Pi * 168 * 60 / 360, 0.001},                        // 87.96 mm along the rim
		{"mark_locked", math.Pi * 168 * 8 / 360, 0.001},                       // 11.73
		{"piston_stop", 17.972, 0.006},                                        // r 48.5, l 158, 45°: 48.5(1−0.707107) + 158(1−√(1−(48.5·0.707107/158)²)) = 14.205 + 3.767
		{"true_tdc", math.Pi * 168 / 4, 0.06},                                 // quarter of the rim
		{"gear_step", 30, 1e-9},                                               // 360/12
		{"gear_drop", 14 * math.Tan(math.Pi/6) / (math.Pi * 31) * 360, 0.006}, // 29.88
		{"gear_landings", 15, 1e-9},                                           // half a step
		{"seat", 0, 0},                                                        // it seats
		{"active_edge", 30, 1e-9},                                             // leaving edge active: the other comes 2·15° sooner
		{"vanes", 30, 1e-9},                                                   // vane 30 of crank, gap 90
		{"cam_window", 60, 1e-9},                                              // 120° BTDC between 60 and 180
		{"signal_rate", 210, 1e-9},                                            // 6·4200/120
		{"delay_at_redline", 10.08, 1e-9},                                     // 6·4200·400e−6, the longest that is assumed
		{"dwell_window", 120/(6*4200.)*1000 - 0.6, 0.0005},                    // 4.762 − 0.6 ms
		{"cylinder_map", 4, 0},
	} {
		if got := item(t, s, c.id).Value; !(math.Abs(got-c.want) <= c.tol) {
			t.Errorf("%s: %v, want %v", c.id, got, c.want)
		}
	}
	var lead sheet.Mark
	for _, m := range s.Marks {
		if m.Name == "trigger lead" {
			lead = m
		}
	}
	if math.Abs(lead.ChordMM-84) > 0.001 || lead.Direction != "clockwise, seen from the front (damper end)" { // 168·sin 30° = 84
		t.Errorf("lead mark: %+v", lead)
	}
	// u² = (360/(π·168))²·(0.5²/3) + (60/168)²·(0.3²/3) = 0.19695² + 0.06186²
	if math.Abs(lead.UDeg-0.20643) > 0.0001 {
		t.Errorf("u of the lead mark %v, want 0.2064", lead.UDeg)
	}
	// While speed rises: n 750, T 26.667 ms, wait T·52/120 = 11.556 ms: 3·500·0.011556·0.038222 = 0.6625°
	if got := item(t, s, "acceleration").Value; math.Abs(got-0.6625) > 0.0006 {
		t.Errorf("acceleration %v", got)
	}
}

// The other rotation, the other side; after-TDC marks behind the zero mark.
func TestMarkSides(t *testing.T) {
	s := of(t, "ember-twelve")
	if got := s.Marks[0].Direction; !strings.HasPrefix(got, "counterclockwise, seen from the front") {
		t.Errorf("a counterclockwise engine's marks go %s", got)
	}
	s = of(t, "sandpiper", "cranking: 12 deg", "cranking: -4 deg", "min: 2 deg", "min: -6 deg")
	for _, m := range s.Marks {
		if m.AngleDeg == -4 && !strings.HasPrefix(m.Direction, "counterclockwise") {
			t.Errorf("4° after TDC lies %s", m.Direction)
		}
	}
}

func TestVerdicts(t *testing.T) {
	for _, c := range []struct {
		name, card string
		swap       []string
		id         string
		want       sheet.Verdict
		says       string // in text or reason
	}{
		{"lead fits", "sandpiper", nil, "trigger_lead", sheet.Fine, "11.4°"},                                                                        // 60 − (34 + 6·4200·(400 + 60)e−6 + 3)
		{"lead short", "sandpiper", []string{"lead: 60 deg", "lead: 38 deg"}, "trigger_lead", sheet.Stop, "raise it to 38.5°"},                      // 34 + 6·4200·60e−6 + 3, with no delay at all
		{"lead short if the delay is long", "sandpiper", []string{"lead: 60 deg", "lead: 42 deg"}, "trigger_lead", sheet.Caution, "stay below 198"}, // (42 − 34 − 3) ÷ (6·4200)
		{"lead wasteful", "sandpiper", []string{"lead: 60 deg", "lead: 80 deg"}, "trigger_lead", sheet.Caution, "more than it needs"},
		{"no lead fits", "ember-twelve", []string{"redline: 4700 rpm", "redline: 22000 rpm", "min: 5 deg", "min: -8 deg"}, "trigger_lead", sheet.Stop, "no lead fits"},
		{"an eight", "gorse-hill", nil, "trigger_lead", sheet.Fine, "9.1°"}, // 57 − (37 + 6·6600·(180 + 45)e−6 + 2)
		{"materials eaten", "mill-pump", []string{"rotation: counterclockwise,", "rotation: counterclockwise, gear_teeth: 12,"}, "gear_material", sheet.Stop, "eats"},
		{"materials unknown", "gorse-hill", []string{"gear_material: melonised steel", "gear_material: brass"}, "gear_material", sheet.Stop, "ask the cam maker"},
		{"materials suited", "gorse-hill", nil, "gear_material", sheet.Fine, "cast-iron cam"},
		{"shims", "gorse-hill", nil, "seat", sheet.Caution, "2 shims lift the unit 1.6"}, // (0.6+0.5)/0.8 → 2
		{"shims out of mesh", "gorse-hill", []string{"seat_gap: 0.6 mm", "seat_gap: 5 mm"}, "seat", sheet.Stop, "machined"},
		{"many shims", "gorse-hill", []string{"seat_gap: 0.6 mm", "seat_gap: 1.8 mm"}, "seat", sheet.Caution, "3 shims lift the unit 2.4"},
		{"shims without a bound", "gorse-hill", []string{", gear_engagement: 4 mm", ""}, "seat", sheet.Caution, "measure the gear engagement first"},
		{"dry fit not done", "heron-ferry", nil, "seat", sheet.Caution, "dry"},
		{"housing runs out", "sandpiper", []string{"tower_for_no1: 4", "tower_for_no1: 4, housing_travel: 10 deg"}, "gear_landings", sheet.Caution, "runs out"},
		{"twist unknown", "sandpiper", []string{"drop_travel: 14 mm, ", ""}, "gear_drop", sheet.Caution, "note how far it turns"},
		{"turn unknown", "sandpiper", []string{", drop_turn: clockwise", ""}, "gear_drop", sheet.Caution, "against the way it turns"},
		{"tongue", "mill-pump", nil, "drive", sheet.Fine, "no teeth"},
		{"cam too close", "sandpiper", []string{"vane_width: 40 deg", "vane_width: 40 deg, edge_at: 63 deg"}, "cam_window", sheet.Stop, "other edge is the safer"},
		{"cam close", "sandpiper", []string{"vane_width: 40 deg", "vane_width: 40 deg, edge_at: 70 deg"}, "cam_window", sheet.Caution, "little for wear"},
		{"no cam, one cylinder", "tern-single", nil, "cam_window", sheet.Fine, "wasted"},
		{"no cam, coils per cylinder", "sandpiper", []string{"rotation: counterclockwise,", "use: signal only, rotation: counterclockwise,", "cam: {kind: hall, active_edge: falling, vane_width: 40 deg}", "cam: {kind: none}"}, "cam_window", sheet.Stop, "cannot be told apart"},
		{"reluctor", "mill-pump", nil, "phasing", sheet.Caution, "by eye"},
		{"spark box usual", "gorse-hill", nil, "dwell_window", sheet.Fine, "only the width"},
		{"dwell not given", "sandpiper", []string{"dwell: 3.2 ms, ", ""}, "dwell_window", sheet.Caution, "read it in the controller"},
		{"no off time", "gorse-hill", []string{"dwell: 1.4 ms", "dwell: 2.0 ms", "redline: 6600 rpm", "redline: 7500 rpm"}, "dwell_window", sheet.Stop, "does not fit"}, // 15 s ÷ 7500 = 2.0 ms between an eight's firings
		{"coil does not fit", "sandpiper", []string{"dwell: 3.2 ms", "dwell: 5 ms"}, "dwell_window", sheet.Stop, "does not fit"},
		{"dwell fills the interval", "sandpiper", []string{"dwell: 3.2 ms", "dwell: 2.6 ms", "redline: 4200 rpm", "redline: 8000 rpm"}, "dwell_window", sheet.Stop, "fills the interval"},
		{"dwell leaves less than an assumed off time", "sandpiper", []string{"dwell: 3.2 ms", "dwell: 2.4 ms", "redline: 4200 rpm", "redline: 8000 rpm"}, "dwell_window", sheet.Caution, "above " + fmt.Sprint(quantity.Speed(6667)) + " it leaves less than the off time, which is assumed"}, // 20 s ÷ (2.4 + 0.6) ms
		{"dwell leaves less than the off time", "sandpiper", []string{"dwell: 3.2 ms", "dwell: 2.4 ms", "redline: 4200 rpm", "redline: 8000 rpm", "target: 7 A", "target: 7 A, off_time: 0.6 ms"}, "dwell_window", sheet.Stop, "above " + fmt.Sprint(quantity.Speed(6667)) + " beside the off time"},
		{"coarse step", "sandpiper", []string{"delay_step: 15 us", "delay_step: 100 us"}, "delay_at_redline", sheet.Caution, "half a step"},
		{"zero mark not proven", "heron-ferry", nil, "true_tdc", sheet.Caution, "nobody has stated"},
		{"zero mark proven", "gorse-hill", nil, "true_tdc", sheet.Fine, "± 0.3°"},
		{"coarse marks", "sandpiper", []string{"mark_placement: 0.5 mm", "mark_placement: 2 mm"}, "mark_lead", sheet.Caution, "more than half"},
		{"signal only has no cap", "tern-single", nil, "cylinder_map", sheet.Fine, "only carries the pickups"},
		{"short pulse", "ember-twelve", []string{"vane_width: 9 deg", "vane_width: 2 deg"}, "vanes", sheet.Caution, "shortest pulse"},
	} {
		it := item(t, of(t, c.card, c.swap...), c.id)
		if it.Verdict != c.want || !strings.Contains(strings.ToLower(it.Text+" "+it.Because), strings.ToLower(c.says)) {
			t.Errorf("%s: %s (want %s, %q): %s / %s", c.name, it.Verdict, c.want, c.says, it.Text, it.Because)
		}
	}
}

// A quick torque balance of another hand: about −2° on an eight, +3 to +5° on a four, at an ordinary advance (our
// examples command 13 and 8).
func TestCrankingSigns(t *testing.T) {
	eight := of(t, "gorse-hill")
	if got := item(t, eight, "cranking_bias").Value - 13; got > -0.5 || got < -5 {
		t.Errorf("an eight is moved by %v°", got)
	}
	four := of(t, "mill-pump")
	if got := item(t, four, "cranking_bias").Value - 8; got < 1 || got > 8 {
		t.Errorf("a four is moved by %v°", got)
	}
	if e := four.Expect[0]; e.Band <= 0 || e.RPM != 210 {
		t.Errorf("the cranking row %+v", e)
	}
}

// Every item of every example is complete, and the sheet leaves nothing out.
func TestItemsComplete(t *testing.T) {
	number := regexp.MustCompile(`[0-9]`)
	for _, c := range examples.Cards() {
		s := of(t, c.Name)
		seen := map[string]bool{}
		for _, it := range s.Items {
			if it.ID == "" || seen[it.ID] {
				t.Errorf("%s: id %q twice or empty", c.Name, it.ID)
			}
			seen[it.ID] = true
			if it.Title == "" || it.Text == "" || it.Because == "" || it.Formula == "" || it.Ignored == "" || it.Area == "" || len(it.Inputs) == 0 {
				t.Errorf("%s %s is not complete: %+v", c.Name, it.ID, it)
			}
			if it.Verdict != sheet.Fine && it.Verdict != sheet.Caution && it.Verdict != sheet.Stop {
				t.Errorf("%s %s: verdict %q", c.Name, it.ID, it.Verdict)
			}
			if !math.IsNaN(it.Value) && (it.Unit == "" || !number.MatchString(it.Text+it.Title)) && it.ID != "drive" && it.ID != "seat" {
				t.Errorf("%s %s: a number without unit or text: %+v", c.Name, it.ID, it)
			}
		}
		for _, id := range []string{"mark_lead", "piston_stop", "true_tdc", "seat", "gear_material", "trigger_lead", "active_edge", "phasing", "vanes", "cam_window", "signal_rate", "delay_at_redline", "acceleration", "dwell_window", "cylinder_map", "cranking_bias"} {
			if !seen[id] {
				t.Errorf("%s: no item %s", c.Name, id)
			}
		}
	}
}

func TestCylinderMapIsAPermutation(t *testing.T) {
	for _, c := range examples.Cards() {
		s := of(t, c.Name)
		towers, cylinders := map[int]bool{}, map[int]bool{}
		for _, w := range s.CylinderMap {
			towers[w.Tower], cylinders[w.Cylinder] = true, true
		}
		if len(towers) != len(s.CylinderMap) || len(cylinders) != len(s.CylinderMap) {
			t.Errorf("%s: %+v", c.Name, s.CylinderMap)
		}
	}
}

// JSON keys that others rely on (design.md).
func TestJSONKeys(t *testing.T) {
	data, err := json.Marshal(of(t, "tern-single"))
	if err != nil {
		t.Fatal(err)
	}
	var v struct {
		Items []map[string]any `json:"items"`
		Map   []any            `json:"cylinder_map"`
		Exp   []map[string]any `json:"expect"`
	}
	if err := json.Unmarshal(data, &v); err != nil {
		t.Fatal(err)
	}
	for _, k := range []string{"id", "title", "value", "unit", "text", "verdict", "because"} {
		if _, ok := v.Items[0][k]; !ok {
			t.Errorf("items have no %s", k)
		}
	}
	for _, k := range []string{"rpm", "shown_deg", "why"} {
		if _, ok := v.Exp[0][k]; !ok {
			t.Errorf("expect has no %s", k)
		}
	}
	if !bytes.Contains(data, []byte(`"value":null`)) {
		t.Error("a missing value must be null")
	}
}

func TestTextFits80Columns(t *testing.T) {
	for _, c := range examples.Cards() {
		var b bytes.Buffer
		if err := of(t, c.Name).WriteText(&b, 80); err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(b.String()) {
			if n := len([]rune(strings.TrimSuffix(line, "\n"))); n > 80 {
				t.Errorf("%s: %d columns: %s", c.Name, n, line)
			}
		}
	}
}

// While speed rises, by hand from 3·α·t_w·(T + t_w) with the interval before each edge: the ferry at 680 rpm is
// 4080°/s, the wait from 46° to 11° is 35/4080 s = 8.578 ms, and 500 rpm/s. Before cylinder 1 lie 140°, T = 34.314 ms:
// 3·500·0.008578·0.042892 = 0.552°. Before cylinder 2 lie 100°, T = 24.510 ms: 0.426°.
func TestWhileSpeedRisesOnAnOddFireEngine(t *testing.T) {
	it := item(t, of(t, "heron-ferry"), "acceleration")
	if math.Abs(it.Value-0.552) > 0.001 || !strings.Contains(it.Text, "0.43 to 0.55° at ") {
		t.Errorf("%v: %s", it.Value, it.Text)
	}
}

// Wires may follow a unit that landed teeth away only where the rotor meets every tower again, and then the cam's
// setting has to follow too: two teeth of twelve are one tower of an even cap of six; the ferry's 17 teeth meet none of
// its uneven towers.
func TestWiresInsteadOfTeeth(t *testing.T) {
	if text := item(t, of(t, "heron-ferry"), "gear_landings").Text; strings.Contains(text, "wires could follow") {
		t.Errorf("the ferry: %s", text)
	}
	if text := item(t, of(t, "heron-ferry", "gear_teeth: 17", "gear_teeth: 12"), "gear_landings").Text; !strings.Contains(text, "4 teeth are exactly 2 of the 6 towers of the uneven cap") {
		t.Errorf("twelve teeth, towers that repeat every 120°: %s", text)
	}
	// the same with three narrow vanes behind three wide ones, which repeat only once a turn
	if text := item(t, of(t, "heron-ferry", "gear_teeth: 17", "gear_teeth: 12", "vanes: [13 deg, 9 deg, 13 deg, 9 deg, 13 deg, 9 deg]",
		"vanes: [13 deg, 13 deg, 13 deg, 9 deg, 9 deg, 9 deg]"), "gear_landings").Text; strings.Contains(text, "wires could follow") {
		t.Errorf("vanes that do not repeat: %s", text)
	}
	if text := item(t, of(t, "sandpiper"), "gear_landings").Text; !strings.Contains(text, "2 teeth are exactly 1 of the 6 towers of the even cap") || !strings.Contains(text, "sync names another cylinder") {
		t.Errorf("the six: %s", text)
	}
}

// What no number of readings can show, by hand for the work boat: marks within 0.5 mm on 168 mm are 0.3411°, zero mark
// 0.3°, pointer 0.25°, limits of rectangular distributions: 1.95996·√((0.3411² + 0.3² + 0.25²)/3) = 0.587°. With a zero
// mark that nobody proved (0.5°) 0.741°, proven to 0.2° 0.529°.
func TestWhatReadingsCanShow(t *testing.T) {
	for _, c := range []struct {
		swap []string
		want float64
		as   sheet.Verdict
		says string
	}{
		{nil, 0.587, sheet.Fine, "right to 0.41°"},
		{[]string{", zero_mark: 0.3 deg", ""}, 0.741, sheet.Caution, "proven to ± 0.20° by a piston stop it would be ± 0.53°"},
		{[]string{", zero_mark: 0.3 deg", "", "tolerance:   1 deg", "tolerance: 0.7 deg"}, 0.741, sheet.Caution, "no number of readings can show this tolerance"},
	} {
		it := item(t, of(t, "sandpiper", c.swap...), "provable")
		if math.Abs(it.Value-c.want) > 0.001 || it.Verdict != c.as || !strings.Contains(strings.ToLower(it.Because), strings.ToLower(c.says)) {
			t.Errorf("%v: %v, %s: %s", c.swap, it.Value, it.Verdict, it.Because)
		}
	}
}
