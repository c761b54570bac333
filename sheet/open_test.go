package sheet_test

import (
	"bytes"
	"regexp"
	"slices"
	"strings"
	"testing"

	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/sheet"
)

// settings are the keys of a card that only the controller, or the maker of a spark box, can tell.
var settings = regexp.MustCompile(`(cranking|locked): [0-9.]+ deg, |, delay_(allowance|step): [0-9.]+ us|dwell: [0-9.]+ ms, |box_pulse_(least|most|rest): [0-9.]+ ms, `)

// Where a card leaves the controller's settings open, nothing stands in for them: the sheet is made, says what it
// cannot tell, and prints no figure that was put in their place.
func TestOpenSettingsAreNotFilledIn(t *testing.T) {
	for _, e := range examples.Cards() {
		text := settings.ReplaceAllString(e.YAML, "")
		c, err := jobcard.Parse(e.Name, []byte(text))
		if err != nil {
			t.Fatalf("%s: %v\n%s", e.Name, err, text)
		}
		k := c.Controller
		if k.Advance.Cranking.Given() || k.Advance.Locked.Given() || k.DelayAllowance.Given() || k.DelayStep.Given() || c.Ignition.Dwell.Given() {
			t.Fatalf("%s: a setting stands where the card has none: %+v", e.Name, k)
		}
		s, err := sheet.Make(c)
		if err != nil {
			t.Fatalf("%s: %v", e.Name, err)
		}
		open := item(t, s, "open_settings")
		for _, name := range []string{"advance on the starter", "locked advance", "delay allowance", "step of the allowance", "dwell"} {
			if !strings.Contains(strings.ToLower(open.Text), strings.ToLower(name)) {
				t.Errorf("%s: the sheet does not ask for the %s: %s", e.Name, name, open.Text)
			}
		}
		want := 5.0
		if c.Ignition.Output == jobcard.SparkBox { // and the three limits of its maker
			want = 8
		}
		if open.Value != want || open.Verdict != sheet.Caution || len(s.Expect) != 0 {
			t.Errorf("%s: %+v, expects %+v", e.Name, open, s.Expect)
		}
		if it := item(t, s, "cranking_bias"); it.Verdict != sheet.Caution || !strings.Contains(it.Text, "not given") {
			t.Errorf("%s: cranking: %+v", e.Name, it)
		}
		for _, m := range s.Marks {
			if strings.Contains(m.Name, "cranking") || strings.Contains(m.Name, "locked") {
				t.Errorf("%s: a mark for %s", e.Name, m.Name)
			}
		}
		var b bytes.Buffer
		if err := s.WriteText(&b, 80); err != nil {
			t.Fatal(err)
		}
		if strings.Contains(b.String(), "NaN") || strings.Contains(b.String(), "assumed: controller.delay_allowance") {
			t.Errorf("%s:\n%s", e.Name, b.String())
		}
	}
}

// Whatever of the controller, or of a box's maker, a card leaves out, the sheet names it by what it is and says either
// what cannot be told or what is taken, with its range and that it is assumed.
func TestEveryOpenFieldOfTheControllerIsNamed(t *testing.T) {
	bare := `job: {name: "Bare, invented"}
engine: {cylinders: 4, firing_order: 1342, rotation: cw, bore: 86 mm, stroke: 91 mm, rod: 150 mm, redline: 4500 rpm}
damper: {diameter: 150 mm}
distributor: {rotation: cw}
signals: {crank: {vane_width: 15 deg, active_edge: falling, lead: 60 deg}}
controller: {advance: {max: 31 deg}}
ignition: {output: spark box}
`
	ours := map[string]bool{"controller.guard": true, "controller.signal_delay": true} // our margin; what readings replace
	c, err := jobcard.Parse("card.yaml", []byte(bare))
	if err != nil {
		t.Fatal(err)
	}
	s, err := sheet.Make(c)
	if err != nil {
		t.Fatal(err)
	}
	open := item(t, s, "open_settings")
	for _, f := range jobcard.Fields() {
		controller := strings.HasPrefix(f.Path, "controller.") || strings.HasPrefix(f.Path, "ignition.box_pulse") || f.Path == "ignition.dwell" || f.Path == "signals.cam.active_edge"
		if !controller || f.Demand != "" || ours[f.Path] {
			continue
		}
		i := slices.IndexFunc(open.Inputs, func(in sheet.Input) bool { return in.Path == f.Path })
		if i < 0 {
			t.Errorf("%s is left open and not named", f.Path)
			continue
		}
		if in := open.Inputs[i]; in.Assumed == f.Open || f.Open != (in.Value == jobcard.NotGiven) || !f.Open && !strings.Contains(open.Text, in.Value+", assumed") {
			t.Errorf("%s: %+v in %q", f.Path, in, open.Text)
		}
	}
	for path := range ours {
		if !slices.ContainsFunc(item(t, s, "trigger_lead").Inputs, func(in sheet.Input) bool {
			return in.Path == path && in.Assumed && strings.ContainsAny(in.Value, "0123456789")
		}) {
			t.Errorf("%s is taken and not shown as assumed", path)
		}
	}
	// read, none of them is asked for any more
	full := strings.NewReplacer("max: 31 deg}", "max: 31 deg, min: 3 deg, cranking: 9 deg, locked: 11 deg}, delay_allowance: 70 us, delay_step: 10 us, latency: 50 us",
		"lead: 60 deg}", "lead: 60 deg}, cam: {active_edge: rising}", "spark box", "spark box, dwell: 2 ms, box_pulse_least: 1 ms, box_pulse_most: 5 ms, box_pulse_rest: 1 ms").Replace(bare)
	if c, err = jobcard.Parse("card.yaml", []byte(full)); err != nil {
		t.Fatal(err)
	}
	if s, err = sheet.Make(c); err != nil || s.Item("open_settings") != nil {
		t.Errorf("%v: still asked: %+v", err, s.Item("open_settings"))
	}
}
