package sheet_test

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"

	"phasewright/jobcard"
	"phasewright/sheet"
)

// anEight is an ordinary eight on one coil with wide plug gaps. Invented.
const anEight = `job: {name: Tug eight}
engine: {cylinders: 8, firing_order: [1, 8, 4, 3, 6, 5, 7, 2], rotation: clockwise, bore: 101 mm, stroke: 90 mm, rod: 150 mm,
         compression_ratio: 10.4, inertia: 0.3 kg.m2, cranking_speed: 190 rpm, idle_speed: 800 rpm, redline: 6000 rpm}
damper: {diameter: 170 mm ± 0.3 mm}
distributor: {rotation: clockwise, gear_teeth: 14, helix_angle: 30 deg, gear_material: bronze, cam_material: billet steel}
signals: {crank: {kind: hall, vane_width: 12 deg, active_edge: falling, lead: 58 deg}, cam: {kind: hall, active_edge: falling, vane_width: 40 deg}}
controller: {advance: {cranking: 11 deg, locked: 9 deg, min: 4 deg, max: 36 deg}, delay_allowance: 70 us, delay_step: 10 us, latency: 60 us}
ignition: {output: coil driver, dwell: 2 ms, plug_gap: 0.045 in}
coil: {resistance: 0.7 ohm, inductance: 5 mH, saturates_at: 9 A, target: 6.5 A}
`

// plain has ordinary spaces between numbers and their units.
func plain(text string) string { return strings.ReplaceAll(text, "\u2009", " ") }

func sheetOf(t *testing.T, text string) *sheet.Sheet {
	t.Helper()
	c, err := jobcard.Parse("card.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	s, err := sheet.Make(c)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// What the sheet proposes for the controller's table it accepts when it stands on the card: as read off the sheet's own
// text.
func TestTheSheetAcceptsItsOwnDwellTable(t *testing.T) {
	proposed := regexp.MustCompile(`\[\[.*\]\]`)
	limited := strings.Replace(anEight, "target: 6.5 A", "target: 6.5 A, driver_limit: 7 A", 1)
	for _, c := range []struct{ name, text, dwell string }{
		{"sandpiper", example(t, "sandpiper"), "dwell: 3.2 ms"}, {"mill-pump", example(t, "mill-pump"), "dwell: 3.6 ms"},
		{"heron-ferry", example(t, "heron-ferry"), "dwell: 3.1 ms"}, {"eight", anEight, "dwell: 2 ms"},
		{"eight with a small driver", limited, "dwell: 2 ms"},
	} {
		table := proposed.FindString(item(t, sheetOf(t, c.text), "dwell_table").Text)
		if table == "" || !strings.Contains(c.text, c.dwell) {
			t.Errorf("%s: no table is proposed, or the card has no %s", c.name, c.dwell)
			continue
		}
		s := sheetOf(t, strings.Replace(c.text, c.dwell, "dwell_table: "+table, 1))
		held := item(t, s, "dwell_held")
		small := strings.Contains(c.name, "small driver") // then the driver keeps a cold coil from what a hot one needs
		if held.Verdict != sheet.Fine && !small || held.Verdict == sheet.Stop {
			t.Errorf("%s: its own proposal %s is %s: %s", c.name, table, held.Verdict, held.Because)
		}
		for _, id := range []string{"dwell_window", "coil_charge", "driver_current", "coil_heat", "dwell_cranking"} {
			if it := item(t, s, id); it.Verdict == sheet.Stop {
				t.Errorf("%s: with its own proposal %s is a stop: %s", c.name, id, it.Because)
			}
		}
		if small {
			continue
		}
		// one dwell too long or too short at any one point is found
		c2, err := jobcard.Parse("card.yaml", []byte(strings.Replace(c.text, c.dwell, "dwell_table: "+table, 1)))
		if err != nil {
			t.Fatal(err)
		}
		for k, at := range c2.Ignition.DwellTable {
			row := fmt.Sprintf("%g V, %g ms", float64(at.Supply), at.Dwell.Milliseconds())
			for _, share := range []float64{0.8, 3} {
				other := fmt.Sprintf("%g V, %g ms", float64(at.Supply), math.Min(20, share*at.Dwell.Milliseconds()))
				s := sheetOf(t, strings.Replace(c.text, c.dwell, "dwell_table: "+strings.Replace(table, row, other, 1), 1))
				if share > 1 && at.Supply < c2.Ignition.Supply && item(t, s, "dwell_held").Verdict == sheet.Fine {
					continue // below the running supply a long dwell harms only what the driver's limit says
				}
				if v := item(t, s, "dwell_held").Verdict; v == sheet.Fine {
					t.Errorf("%s: point %d at %g times its dwell (%s instead of %s) is fine", c.name, k+1, share, other, row)
				}
			}
		}
	}
}

// An ordinary eight has a single dwell without a stop, and no plug gap is advised from an estimate outside its sources:
// 1.143 mm at a density of ten atmospheres is longer than the 10 mm that published tables reach to.
func TestAnOrdinaryEightHasADwellWithoutAStop(t *testing.T) {
	clear := 0
	for _, ms := range []string{"1.5", "1.7", "1.9", "2", "2.2", "2.4", "3"} {
		s := sheetOf(t, strings.Replace(anEight, "dwell: 2 ms", "dwell: "+ms+" ms", 1))
		stops := 0
		for _, it := range s.Items {
			if it.Verdict == sheet.Stop {
				stops++
			}
		}
		if stops == 0 {
			clear++
		}
		for _, id := range []string{"spark_margin", "spark_cranking"} {
			it := item(t, s, id)
			if it.Verdict == sheet.Stop || strings.Contains(it.Text, "plug gaps up to") || !strings.Contains(it.Because, "settles it") {
				t.Errorf("dwell %s ms: %s is %s: %s because %s", ms, id, it.Verdict, it.Text, it.Because)
			}
		}
	}
	if clear < 3 {
		t.Errorf("%d of the dwells are without a stop", clear)
	}
}

// Where a supply cannot drive the target there is no needed dwell: V − 1 V drop over R hot = 0.7·(1 + 0.00393·60) + 0.05
// = 0.915 Ω gives 5.46 A at 6 V and 6.56 A at 7 V, so 6.5 A are reached from 7 V on.
func TestADwellThatNeverReachesIsNotGiven(t *testing.T) {
	it := item(t, sheetOf(t, anEight), "dwell_table")
	if text := plain(it.Text); !strings.Contains(text, "6.50 A is not reached at 6 V (5.46 A at the most)") || it.Value != 7 {
		t.Errorf("%v: %q", it.Value, text)
	}
}

// The off time is one rule: what the card states, or 0.6 ms (0.3 to 1.5 ms) for coil and box alike, shown as assumed.
func TestTheOffTimeIsOneRuleForCoilAndBox(t *testing.T) {
	for _, c := range []struct{ name, text, path, value string }{
		{"coil", anEight, "coil.off_time", "600 µs (0.3 to 1.5 ms)"},
		{"box", strings.Replace(example(t, "gorse-hill"), "box_pulse_rest: 0.3 ms, ", "", 1), "ignition.box_pulse_rest", "600 µs (0.3 to 1.5 ms)"},
	} {
		it := item(t, sheetOf(t, c.text), "dwell_window")
		found := false
		for _, in := range it.Inputs {
			if value := plain(in.Value); in.Path == c.path && value == c.value && in.Assumed {
				found = true
			}
		}
		if !found || !strings.Contains(plain(it.Text), "off time: 600 µs") {
			t.Errorf("%s: %s with %+v", c.name, it.Text, it.Inputs)
		}
	}
	// 90° at 6000 rpm last 2.5 ms: 2 ms are 80 % of it, fill it at 15 s ÷ 2 ms and leave 0.6 ms up to 15 s ÷ 2.6 ms
	text := plain(item(t, sheetOf(t, anEight), "dwell_window").Text)
	if !strings.Contains(text, "leaves the off time up to 5 769 rpm. It fills the whole interval at 7 500 rpm. At the redline it takes 80 % of the time (duty)") {
		t.Error(text)
	}
}
