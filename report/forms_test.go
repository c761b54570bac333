package report

import (
	"strconv"
	"strings"
	"testing"

	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/procedure"
	"phasewright/quantity"
)

// The blank form for readings names every speed and wire that the order of work asks for, what must show, and all that
// the page of readings asks.
func TestReadingsForm(t *testing.T) {
	for i, name := range examples {
		c, s := card(t, name)
		p, err := ReadingsForm(c, s, Stamp{Date: someDay, Paper: drawing.SheetSize(i % 2)})
		if err != nil {
			t.Fatal(err)
		}
		legible(t, name, p)
		wellSet(t, name, p)
		if n := len(p.Doc.Pages); n > 2 {
			t.Errorf("%s: %d pages", name, n)
		}
		file := keep(t, "readings-form-"+name, p)
		run(t, "qpdf", "--check", file)
		text := squeeze(run(t, "pdftotext", "-layout", file, "-"))
		order, err := procedure.New(c, s)
		if err != nil {
			t.Fatal(err)
		}
		ladder, _ := order.Step(procedure.StepRange)
		words := []string{"starter", "idle, " + quantity.Number(float64(c.Engine.IdleSpeed), 0),
			"± " + degrees(float64(c.Tolerance)), "rpm", "light shows", "command", "wire", "dial", "initials",
			"housing turned", "with", "against", "allowance", "clamp tight"}
		for _, r := range ladder.Demand.Rungs {
			words = append(words, quantity.Number(r.RPM, 0))
		}
		for _, w := range words {
			if !strings.Contains(text, squeeze(w)) {
				t.Errorf("%s: %q is not on the form", name, w)
			}
		}
		asked := readingsAsked(c, order)
		if len(asked) < 2+len(ladder.Demand.Rungs) {
			t.Errorf("%s: %d readings asked for", name, len(asked))
		}
		for i, one := range asked {
			row := squeeze(strconv.Itoa(i+1) + one.at + one.wanted)
			if !strings.Contains(text, row) {
				t.Errorf("%s: no row reads %q", name, row)
			}
		}
	}
}

// The blank card asks for every field that a card takes, with its units and why, what every card needs first; words are
// boxes to tick.
func TestCardForm(t *testing.T) {
	for size, shop := range map[drawing.SheetSize]quantity.LengthUnit{drawing.A4: 0, drawing.Letter: quantity.Inch} {
		p := CardForm(shop, Stamp{Date: someDay, Paper: size})
		name := "card-form-" + shop.Short()
		legible(t, name, p)
		wellSet(t, name, p)
		file := keep(t, name, p)
		run(t, "qpdf", "--check", file)
		text := squeeze(run(t, "pdftotext", "-raw", file, "-"))
		rest := strings.Index(text, squeeze("May stay empty"))
		for _, field := range jobcard.Fields() {
			if field.Path == "job.confirmed" {
				continue
			}
			doc := strings.Index(text, squeeze(field.Doc))
			if doc < 0 || !strings.Contains(text, squeeze(fieldName(field))) {
				t.Errorf("%s: %s is not on the form", name, field.Path)
				continue
			}
			if (doc < rest) != (field.Needed() || field.Path == "job.units") {
				t.Errorf("%s: %s stands in the wrong part", name, field.Path)
			}
			for _, w := range append(field.Words, strings.Fields(unitsOf(field, shop))...) {
				if !strings.Contains(text, squeeze(w)) {
					t.Errorf("%s: %s does not offer %q", name, field.Path, w)
				}
			}
			if field.Demand != "" && !strings.Contains(text, squeeze(field.Demand)) {
				t.Errorf("%s: %s does not say why it is needed", name, field.Path)
			}
		}
	}
	if inch := unitsOf(jobcard.Field{Units: []string{"mm", "in", "cm"}}, quantity.Inch); !strings.HasPrefix(inch, "in ") {
		t.Errorf("an inch shop is offered %q", inch)
	}
}
