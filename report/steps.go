package report

import (
	"strconv"

	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/sheet"
)

// Step is one step of the order of work.
type Step struct {
	Part   string // the part of the job that it belongs to; a new part gets a heading
	Title  string
	Text   string
	Hazard string // what can hurt; empty where nothing can
	Proof  string // what shows that it is done
}

// Steps is the step list with boxes to tick, in the order given. Paper cannot lock an
// unsafe order, and says so.
func Steps(c *jobcard.Card, steps []Step, stamp Stamp) (*Paper, error) {
	if c == nil {
		return nil, ErrNothing
	}
	f := newFlow(stamp.Paper, "Order of work", c.Job.Name, []drawing.Cell{
		{Label: "steps", Value: strconv.Itoa(len(steps)), Share: 0.8},
		{Label: "date", Value: day(stamp.Date), Share: 1.1},
		{Label: "by", Value: or(stamp.By, c.Job.Shop), Share: 1.8},
	})
	f.cautions(sheet.Cautions())
	f.text("Work from top to bottom and tick as you go. Paper cannot stop an unsafe order: never skip a step.",
		drawing.Body.Heavy())
	f.y += gap
	part := ""
	for i, s := range steps {
		if s.Part != part {
			part = s.Part
			_, _, high := f.laid(s)
			f.headingOf(part, high)
		}
		f.step(i+1, s)
	}
	return f.paper(stamp, c), nil
}

// para is a wrapped paragraph of a step.
type para struct {
	lines []string
	style drawing.TextStyle
	mark  bool
}

// stepIn is how far a step's words stand in from its box, mm.
const stepIn = 18.0

// laid wraps a step's words and says how high it stands.
func (f *flow) laid(s Step) (title []string, parts []para, high float64) {
	body, soft := drawing.Body.Sized(2.9), drawing.Note.Sized(2.7)
	wide := f.wide() - stepIn
	title = drawing.Wrap(s.Title, wide, drawing.Body.Sized(3.3).Heavy())
	add := func(text string, t drawing.TextStyle, mark bool) {
		if text != "" {
			parts = append(parts, para{clip(drawing.Wrap(text, wide-5, t), 25), t, mark})
		}
	}
	add(s.Text, body, false)
	add(s.Hazard, body, true)
	if s.Proof != "" {
		add("Done when: "+s.Proof, soft, false)
	}
	high = 2.5 + float64(len(title))*4.4
	for _, p := range parts {
		high += float64(len(p.lines))*p.style.Size*drawing.LineHeight + 0.4
	}
	return title, parts, max(high+1.5, 10)
}

// step sets one step; it stays on one sheet.
func (f *flow) step(n int, s Step) {
	title, parts, high := f.laid(s)
	for _, words := range []string{s.Text, s.Hazard, s.Proof} {
		f.heed(words)
	}
	f.need(high)
	f.d.Line(inset, f.y, f.w-inset, f.y, drawing.Grid)
	f.d.Rect(inset+0.5, f.y+2, 6, 6, drawing.Style{Stroke: drawing.Ink, Width: 0.4})
	f.d.Text(inset+14.5, f.y+6.2, strconv.Itoa(n), drawing.Body.Sized(3.3).Heavy().At(drawing.End, drawing.Baseline))
	f.heed(s.Title)
	y := f.y + 1.8
	for _, line := range title {
		y += 4.4
		f.d.Text(inset+stepIn, y, line, drawing.Body.Sized(3.3).Heavy())
	}
	for _, p := range parts {
		if p.mark {
			f.d.Mark(drawing.Point{X: inset + stepIn + 1.4, Y: y + 2.8}, 2.6, drawing.IsCaution, drawing.Ink)
		}
		for _, line := range p.lines {
			y += p.style.Size * drawing.LineHeight
			x := inset + stepIn
			if p.mark {
				x += 4.5
			}
			f.d.Text(x, y, line, p.style)
		}
		y += 0.4
	}
	f.y += high
}
