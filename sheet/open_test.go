package sheet_test

import (
	"bytes"
	"regexp"
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
			if !strings.Contains(open.Text, name) {
				t.Errorf("%s: the sheet does not ask for the %s: %s", e.Name, name, open.Text)
			}
		}
		if open.Value != 5 || open.Verdict != sheet.Caution || len(s.Expect) != 0 {
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
