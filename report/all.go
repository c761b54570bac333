package report

import (
	"fmt"

	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/leads"
	"phasewright/procedure"
	"phasewright/sheet"
)

// Named is a paper with the name of its file.
type Named struct {
	Name string
	*Paper
}

// All are the papers that a job card gives: sheet, tape, strip and wheel, drawings, spark, leads for a sound card, the
// order of work as it stands, and blank forms.
func All(c *jobcard.Card, s *sheet.Sheet, lines []procedure.Line, photos map[string]string,
	stamp Stamp) ([]Named, error) {
	if c == nil || s == nil {
		return nil, ErrNothing
	}
	tape := func(face drawing.TapeFace) drawing.Tape {
		t := Tape(c, s)
		t.Sheet, t.Face = stamp.Paper, face
		return t
	}
	var out []Named
	for _, one := range []struct {
		name string
		make func() (*Paper, error)
	}{
		{"set-up-sheet.pdf", func() (*Paper, error) { return SetUp(c, s, stamp) }},
		{"timing-tape.pdf", func() (*Paper, error) { return TapePaper(tape(drawing.DegreeScale), c, stamp) }},
		{"transfer-strip.pdf", func() (*Paper, error) { return TapePaper(tape(drawing.MarksOnly), c, stamp) }},
		{"degree-wheel.pdf", func() (*Paper, error) { return WheelPaper(Wheel(tape(drawing.DegreeScale)), c, stamp) }},
		{"drawings.pdf", func() (*Paper, error) { return Drawings(c, s, stamp) }},
		{"coil-and-spark.pdf", func() (*Paper, error) {
			k, err := sheet.CaseOf(c)
			if err != nil {
				return nil, err
			}
			return Spark(k, stamp)
		}},
		{"test-leads.pdf", func() (*Paper, error) {
			in := leads.SoundCard()
			list, err := leads.Make(c, in)
			if err != nil {
				return nil, err
			}
			return Leads(c, list, in, stamp)
		}},
		{"order-of-work.pdf", func() (*Paper, error) { return Steps(c, s, lines, photos, stamp) }},
		{"readings-form.pdf", func() (*Paper, error) { return ReadingsForm(c, s, stamp) }},
		{"card-form.pdf", func() (*Paper, error) { return CardForm(c.Job.Units, stamp), nil }},
	} {
		p, err := one.make()
		if err != nil {
			return nil, fmt.Errorf("%s: %w", one.name, err)
		}
		out = append(out, Named{one.name, p})
	}
	return out, nil
}

// wheelWide is the diameter of a degree wheel that fits either sheet, mm.
const wheelWide = 180

// Wheel is the degree wheel with a card's marks.
func Wheel(t drawing.Tape) drawing.WheelFace {
	return drawing.WheelFace{Name: t.Name, Diameter: wheelWide, Hole: 20, Turn: t.Turn, Marks: t.Marks, Sheet: t.Sheet,
		Measured: t.Measured, Lengths: t.Lengths}
}
