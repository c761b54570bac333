package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"phasewright/drawing"
	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/report"
	"phasewright/sheet"
)

type tapeCommand struct {
	Card      string   `arg:"" optional:"" help:"The job card (YAML); without one give --diameter and --rotation."`
	Diameter  string   `help:"Diameter where the tape goes, such as 165mm or 6.5in." placeholder:"LENGTH"`
	Rotation  string   `help:"Crank rotation seen from the front: cw or ccw." placeholder:"WAY" one:"cw,ccw"`
	From      *float64 `help:"First degree before top dead centre; negative is after it." placeholder:"DEG"`
	To        *float64 `help:"Last degree before top dead centre; left out: 60, or what the card needs." placeholder:"DEG"`
	Mark      []string `help:"Mark as DEGREES=WORDS, such as 50=lead; may be repeated." placeholder:"DEG=WORDS"`
	Thickness string   `help:"Thickness of the tape: the middle of a bent tape keeps its length." default:"0.1mm" placeholder:"LENGTH"`
	Units     string   `help:"Lengths on the tape in mm or inches, the other in brackets; left out: as the card says, else mm." placeholder:"UNIT" one:"mm,inches"`
	Date      string   `help:"Date of issue printed on it, such as 2026-11-25; left out: none." placeholder:"DATE"`
	By        string   `help:"Who made it, printed on it." placeholder:"NAME"`
	Letter    bool     `help:"US Letter paper instead of A4."`
	Wheel     bool     `help:"A degree wheel for the crank's front end instead of a tape; --diameter is then the wheel's."`
	Transfer  bool     `help:"Only the marks, for carrying them onto the rim with a scriber."`
	Measured  string   `help:"What the 100.0 mm check line measured on an earlier print; this print makes up for it." placeholder:"LENGTH"`
	PDF       output   `name:"pdf" help:"Write a PDF; - is standard output." placeholder:"FILE"`
	SVG       output   `name:"svg" help:"Write an SVG drawing; a tape of several sheets makes FILE-1.svg, FILE-2.svg …" placeholder:"FILE"`
}

func (c *tapeCommand) Run(a *app) error {
	if c.PDF == "" && c.SVG == "" {
		return hinted{errors.New("no file to write was named"), "add --pdf tape.pdf or --svg tape.svg"}
	}
	paper, err := c.paper(a)
	if err != nil {
		return err
	}
	pages := paper.Doc.Pages
	if c.PDF != "" {
		if err := a.writePaper(c.PDF, paper); err != nil {
			return err
		}
		fmt.Fprintf(a.err, "%s: %s; print at 100 %%, not fitted to the page, and measure the check line\n", c.PDF,
			count(len(pages), "sheet"))
	}
	if c.SVG == "" {
		return nil
	}
	for i, p := range pages {
		name := c.SVG
		if len(pages) > 1 && name != "-" {
			ext := filepath.Ext(string(name))
			name = output(fmt.Sprintf("%s-%d%s", strings.TrimSuffix(string(name), ext), i+1, ext))
		}
		if err := a.writeBytes(name, []byte(p.SVG(drawing.AsFile))); err != nil {
			return err
		}
	}
	return nil
}

// paper draws the tape, or the degree wheel.
func (c *tapeCommand) paper(a *app) (*report.Paper, error) {
	t, card, err := c.tape(a)
	if err != nil {
		return nil, err
	}
	stamp, err := stampOf(c.Date, c.By, c.Letter)
	if err != nil {
		return nil, err
	}
	if !c.Wheel {
		return report.TapePaper(t, card, stamp)
	}
	face := report.Wheel(t)
	if c.Diameter != "" {
		face.Diameter = t.Diameter
	}
	return report.WheelPaper(face, card, stamp)
}

// tape takes what the card says, then what the flags say. The card is nil where none is named.
func (c *tapeCommand) tape(a *app) (t drawing.Tape, card *jobcard.Card, err error) {
	t = drawing.Tape{Name: "without a job card", To: 60}
	if c.From != nil {
		t.From = *c.From
	}
	if c.To != nil {
		t.To = *c.To
	}
	if c.Card != "" {
		card, err = a.readCard(c.Card)
		if err != nil {
			return t, card, err
		}
		made, err := sheet.Make(card)
		if err != nil {
			return t, card, err
		}
		t = report.Tape(card, made)
		if c.From != nil {
			t.From = *c.From
		}
		if c.To != nil {
			t.To = *c.To
		}
	}
	if c.Units != "" {
		u, err := lengthUnit(c.Units)
		if err != nil {
			return t, card, err
		}
		t.Lengths = report.Lengths(u)
	}
	if c.Diameter != "" {
		d, err := quantity.Parse[quantity.Length](c.Diameter)
		if err != nil {
			return t, card, fmt.Errorf("--diameter: %w", err)
		}
		t.Diameter = float64(d)
	}
	if c.Rotation != "" {
		d, err := engine.ParseDirection(c.Rotation)
		if err != nil {
			return t, card, fmt.Errorf("--rotation: %w", err)
		}
		t.Turn = turnOf(d)
	}
	if c.Card == "" && (c.Diameter == "" || c.Rotation == "") {
		return t, card, hinted{errors.New("diameter and rotation are not known"),
			"name a job card, or give --diameter 165mm --rotation cw"}
	}
	thickness, err := quantity.Parse[quantity.Length](c.Thickness)
	if err != nil {
		return t, card, fmt.Errorf("--thickness: %w", err)
	}
	t.Thickness = float64(thickness)
	if c.Measured != "" {
		m, err := quantity.Parse[quantity.Length](c.Measured)
		if err != nil {
			return t, card, fmt.Errorf("--measured: %w", err)
		}
		t.Measured = float64(m)
	}
	for _, m := range c.Mark {
		angle, words, ok := strings.Cut(m, "=")
		v, err := quantity.Parse[quantity.Crank](strings.TrimSuffix(strings.TrimSpace(angle), "°") + "°")
		if !ok || err != nil {
			return t, card, hinted{fmt.Errorf("--mark %q is not DEGREES=WORDS", m),
				"write a mark such as --mark 50=lead"}
		}
		t.Marks = append(t.Marks, drawing.TapeMark{Before: float64(v), Label: words})
	}
	if c.Letter {
		t.Sheet = drawing.Letter
	}
	if c.Transfer {
		t.Face = drawing.MarksOnly
	}
	return t, card, nil
}

// lengthUnit reads a flag --units.
func lengthUnit(text string) (quantity.LengthUnit, error) {
	u, err := quantity.ParseLengthUnit(text)
	if err != nil {
		return 0, hinted{fmt.Errorf("--units %q is no unit that a shop works in", text), "write mm or inches"}
	}
	return u, nil
}

func turnOf(d engine.Direction) drawing.Turn {
	if d == engine.CounterClockwise {
		return drawing.Counterclockwise
	}
	return drawing.Clockwise
}
