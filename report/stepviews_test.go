package report

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// A lamp's drawing has a circuit for each output that the engine's pickups may have, with the resistors of the sums,
// and no words of it clash or leave the sheet, on a phone, on a desk and on paper.
func TestLampViewOfEachKind(t *testing.T) {
	c, _ := card(t, "sandpiper")
	for kind, circuits := range map[jobcard.PickupKind]int{jobcard.Hall: 1, jobcard.Optical: 2, jobcard.Proximity: 3,
		jobcard.Reluctor: 2} {
		c.Signals.Crank.Kind = kind // the cam stays a Hall pickup
		v := LampView(c)
		if len(v.Circuits) != circuits {
			t.Errorf("%s: %d circuits, want %d", kind, len(v.Circuits), circuits)
		}
		for _, width := range []float64{90, 166, 176} {
			v.Width = width
			d, err := v.Draw()
			if err != nil {
				t.Fatal(err)
			}
			legible(t, fmt.Sprintf("%s at %v", kind, width), &Paper{Doc: drawing.Document{Pages: []*drawing.Drawing{d}}})
			words := ""
			for _, b := range d.TextBoxes() {
				words += b.Text + "\n"
			}
			if strings.Contains(words, "…") {
				t.Errorf("%s at %v mm: words were cut:\n%s", kind, width, words)
			}
		}
	}
}

// The hatched tip stands where the sheet foretells it, at the damper's reading that stands beside it.
func TestRotorSeenStandsAsForetold(t *testing.T) {
	drawn := 0
	for _, name := range examples {
		c, s := card(t, name)
		seen, ok := s.RotorOnStarter(c)
		v, there := RotorSeen(c, s, 90, "seen")
		if ok != there {
			t.Errorf("%s: foretold %v, drawn %v", name, ok, there)
		}
		if !there {
			continue
		}
		drawn++
		if len(v.Seen) != 1 || math.Abs(v.Seen[0]-float64(seen.Tip)) > 1e-9 ||
			!strings.Contains(v.SeenWords, quantity.Degrees(seen.Shown, 1)) {
			t.Errorf("%s: %+v, want the tip at %v", name, v, seen)
		}
		d, err := v.Draw()
		if err != nil {
			t.Fatal(err)
		}
		legible(t, name, &Paper{Doc: drawing.Document{Pages: []*drawing.Drawing{d}}})
	}
	if drawn < 3 {
		t.Errorf("%d rotors were drawn", drawn)
	}
}
