package report

import (
	"strings"
	"testing"

	"phasewright/leads"
)

// The paper is legible on few sheets, begins with what can harm, and holds every lead with its parts.
func TestLeadsPapers(t *testing.T) {
	for _, name := range examples {
		t.Run(name, func(t *testing.T) {
			c := sparkCase(t, name).Card
			in := leads.SoundCard()
			list, err := leads.Make(c, in)
			if err != nil {
				t.Fatal(err)
			}
			p, err := Leads(c, list, in, Stamp{Date: someDay})
			if err != nil {
				t.Fatal(err)
			}
			legible(t, name, p)
			if len(p.Doc.Pages) > 2 || len(p.Warnings()) > 0 {
				t.Errorf("%d sheets, %v", len(p.Doc.Pages), p.Warnings())
			}
			text := squeeze(run(t, "pdftotext", "-layout", keep(t, "leads-"+name, p), "-"))
			if !strings.Contains(text, squeeze("tens of kilovolts")) {
				t.Error("what can harm is not on it")
			}
			for _, l := range list {
				for _, x := range append(l.Lines(in), leads.Line{Name: l.Title}) {
					if !strings.Contains(text, squeeze(x.Name)) {
						t.Errorf("%s: %q is not on it", l.ID, x.Name)
					}
				}
			}
		})
	}
}
