package sheet_test

import (
	"regexp"
	"strings"
	"testing"

	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/sheet"
)

// bracketed are lengths in the other unit, where a tool is set; notLengths are words of the coil's tables and of the
// limits assumed for a chamber, whose unit is that of their source.
var (
	bracketed  = regexp.MustCompile(`\([0-9.\x{2009}]+[ \x{2009}](?:mm|in)\)`)
	notLengths = regexp.MustCompile(`than [0-9.]+ mm at one atmosphere|gasket bore ± .* mm, assumed`)
	inMM       = regexp.MustCompile(`[0-9][ \x{2009}]mm\b|millimetre`)
	inInches   = regexp.MustCompile(`[0-9][ \x{2009}]in\b|thou\b`)
)

// Whatever unit a shop works in, every length of the sheet is in it, and the numbers are those of the other: JSON does
// not change.
func TestEveryLengthIsInTheUnitOfTheShop(t *testing.T) {
	for _, e := range examples.Cards() {
		for unit, other := range map[quantity.LengthUnit]*regexp.Regexp{0: inInches, quantity.Millimetre: inInches, quantity.Inch: inMM} {
			c, err := jobcard.Parse(e.Name, []byte(e.YAML))
			if err != nil {
				t.Fatal(err)
			}
			c.Job.Units = unit
			s, err := sheet.Make(c)
			if err != nil {
				t.Fatal(err)
			}
			for _, it := range s.Items {
				texts := []string{it.Title, it.Text, it.Because}
				for _, in := range it.Inputs {
					texts = append(texts, in.Value)
				}
				for _, text := range texts {
					left := notLengths.ReplaceAllString(bracketed.ReplaceAllString(text, ""), "")
					if found := other.FindString(left); found != "" {
						t.Errorf("%s in %v: %s says %q in %q", e.Name, unit, it.ID, found, text)
					}
					if unit == 0 && bracketed.MatchString(text) && strings.Contains(bracketed.FindString(text), "in)") {
						t.Errorf("%s: nothing was chosen, and %s says %q", e.Name, it.ID, text)
					}
				}
			}
			lead := item(t, s, "mark_lead")
			if lead.Unit != "mm" || lead.Value != s.Marks[0].ArcMM {
				t.Errorf("%s in %v: the value of a mark is %v %s", e.Name, unit, lead.Value, lead.Unit)
			}
		}
	}
}
