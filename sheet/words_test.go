package sheet_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"phasewright/bench"
	"phasewright/cranking"
	"phasewright/jobcard"
	"phasewright/sheet"
)

// Sentences agree with their numbers, and name what they count.
func TestSentencesAgreeWithTheirNumbers(t *testing.T) {
	for _, c := range []struct {
		name, card string
		swap       []string
		id, says   string
	}{
		{"one shim", "gorse-hill", []string{"seat_gap: 0.6 mm", "seat_gap: 0.2 mm"}, "seat", "1 shim lifts the unit"},
		{"two shims", "gorse-hill", nil, "seat", "2 shims lift the unit"},
		{"a material that nobody knows", "sandpiper", []string{"gear_material: bronze, cam_material: billet steel, ", ""}, "gear_material", "Gear of unknown material, cam of unknown material"},
		{"a material that is known", "sandpiper", nil, "gear_material", "Gear of bronze, cam of billet steel"},
		// the ferry fires 100° and 140° apart: 3900 rpm pass them in 4.274 and 5.983 ms
		{"two intervals", "heron-ferry", nil, "signal_rate", "one every 4.274 to 5.983 ms"},
		{"one interval", "sandpiper", nil, "signal_rate", "one every 4.762 ms"},
	} {
		if it := item(t, of(t, c.card, c.swap...), c.id); !strings.Contains(plain(it.Text), c.says) {
			t.Errorf("%s: %q does not hold %q", c.name, it.Text, c.says)
		}
	}
}

// The band of the light on the starter is one: in the sheet's sentence, in its table, and on the bench's own line.
func TestTheCrankingBandIsOne(t *testing.T) {
	for _, name := range []string{"sandpiper", "mill-pump", "heron-ferry", "gorse-hill", "ember-twelve", "tern-single"} {
		c, err := jobcard.Parse(name, []byte(example(t, name)))
		if err != nil {
			t.Fatal(err)
		}
		s, err := sheet.Make(c)
		if err != nil {
			t.Fatal(err)
		}
		e := s.Expect[0]
		words := fmt.Sprintf("anything from %.1f° to %.1f°", e.Shown-e.Band, e.Shown+e.Band)
		if it := item(t, s, "cranking_bias"); e.Band == 0 || !strings.Contains(it.Text, words) {
			t.Errorf("%s: the table says %.1f° ± %.1f°, the sentence %q", name, e.Shown, e.Band, it.Text)
		}
		config, err := bench.FromCard(c)
		if err != nil {
			t.Fatal(err)
		}
		b, err := bench.CrankingBias(config, cranking.SpreadOf(c))
		if err != nil {
			t.Fatal(err)
		}
		if commanded := c.Controller.Advance.Cranking.Or(0); math.Abs(float64(b.Half)-e.Band) > 0.051 || math.Abs(float64(commanded+b.Mean)-e.Shown) > 0.051 {
			t.Errorf("%s: the bench moves the light by %v ± %v, the table says %.1f° ± %.1f°", name, b.Mean, b.Half, e.Shown, e.Band)
		}
	}
}
