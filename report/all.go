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
	var out []Named
	for _, one := range []struct {
		name string
		make func() (*Paper, error)
	}{
		{"set-up-sheet.pdf", func() (*Paper, error) { return SetUp(c, s, stamp) }},
		{"timing-tape.pdf", func() (*Paper, error) { return TapePaper(c, s, drawing.DegreeScale, stamp) }},
		{"transfer-strip.pdf", func() (*Paper, error) { return TapePaper(c, s, drawing.MarksOnly, stamp) }},
		{"degree-wheel.pdf", func() (*Paper, error) { return WheelPaper(c, s, stamp) }},
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

// TapePaper is the true-scale timing tape of a card's damper, or only its marks.
func TapePaper(c *jobcard.Card, s *sheet.Sheet, face drawing.TapeFace, stamp Stamp) (*Paper, error) {
	tape := Tape(c, s)
	tape.Sheet, tape.Face = stamp.Paper, face
	kind, title := "tape", "Timing tape, "
	if face == drawing.MarksOnly {
		kind, title = "strip", "Mark-transfer strip, "
	}
	tape.Identity = stamp.Block(kind, c)
	if n := len(stamp.Overrides); n > 0 {
		tape.Foot = append(tape.Foot, drawing.Cell{Label: "rules OVERRIDDEN",
			Value: fmt.Sprintf("%d: see the proof", n), Share: 1.2})
	}
	pages, err := tape.Pages()
	if err != nil {
		return nil, err
	}
	return &Paper{Doc: drawing.Document{Title: title + c.Job.Name, Date: stamp.Date, Pages: pages}}, nil
}

// wheelWide is the diameter of a degree wheel that fits either sheet, mm.
const wheelWide = 180

// Wheel is the degree wheel with a card's marks.
func Wheel(t drawing.Tape) drawing.WheelFace {
	return drawing.WheelFace{Name: t.Name, Diameter: wheelWide, Hole: 20, Turn: t.Turn, Marks: t.Marks, Sheet: t.Sheet,
		Measured: t.Measured, Lengths: t.Lengths}
}

// WheelPaper is the degree wheel of a card's engine, for the crank's front end.
func WheelPaper(c *jobcard.Card, s *sheet.Sheet, stamp Stamp) (*Paper, error) {
	tape := Tape(c, s)
	tape.Sheet = stamp.Paper
	wheel := Wheel(tape)
	wheel.Identity = stamp.Block("wheel", c)
	page, err := wheel.Page()
	if err != nil {
		return nil, err
	}
	return &Paper{Doc: drawing.Document{Title: "Degree wheel, " + c.Job.Name, Date: stamp.Date,
		Pages: []*drawing.Drawing{page}}}, nil
}
