package report

import (
	"os"
	"path/filepath"
	"testing"

	"phasewright/drawing"
	"phasewright/procedure"
)

// Every step of every example card has its drawing; its words leave neither sheet nor place, and no line crosses them.
// STEPS=folder keeps pictures.
func TestEveryStepIsDrawn(t *testing.T) {
	for _, name := range examples {
		c, s := card(t, name)
		p, err := procedure.New(c, s)
		if err != nil {
			t.Fatal(err)
		}
		var all []*drawing.Drawing
		for _, st := range p.Steps() {
			for _, width := range []float64{90, 150} {
				what := name + ", " + string(st.ID)
				d, err := StepDrawing(c, s, st, width, "step")
				if err != nil {
					t.Errorf("%s: %v", what, err)
					continue
				}
				for _, x := range d.Clashes() {
					t.Errorf("%s at %v: %q lies over %q", what, width, x[0].Text, x[1].Text)
				}
				for _, x := range d.Outside() {
					t.Errorf("%s at %v: %q leaves the sheet", what, width, x.Text)
				}
				for _, x := range d.Crossings() {
					t.Errorf("%s at %v: a line crosses %q", what, width, x.Text)
				}
				if width == 90 {
					all = append(all, d)
				}
			}
		}
		if dir := os.Getenv("STEPS"); dir != "" {
			pdf, err := drawing.PDF(drawing.Document{Title: name, Date: someDay, Pages: all})
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(dir, name+".pdf"), pdf, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}
