package report

import (
	"fmt"
	"slices"
	"strconv"

	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/sheet"
)

// Step is one step of the order of work, in the order in which it is read: what can hurt stands first.
type Step struct {
	Part   string // the part of the job that it belongs to; a new part gets a heading
	Title  string
	Hazard string      // what can hurt; empty where nothing can
	Do     []string    // one action each
	Show   []string    // one figure each
	Notes  string      // why, overrides
	If     [][3]string // seen, why, what to do
	Proof  []string    // what shows that it is done, each with a box of its own

	Drawing string // "lamp" or "rotor": what it is worked by; empty: none
}

// Steps is the step list with boxes to tick, in the order given. Paper cannot lock an
// unsafe order, and says so.
func Steps(c *jobcard.Card, steps []Step, stamp Stamp) (*Paper, error) {
	if c == nil {
		return nil, ErrNothing
	}
	f := newFlow("steps", "Order of work", c.Job.Name, c, stamp, nil)
	f.cautions(sheet.Cautions())
	f.text("Work from top to bottom and tick as you go. Paper cannot stop an unsafe order: never skip a step.",
		drawing.Body.Heavy())
	f.y += gap
	part := ""
	for i, s := range steps {
		plate, err := stepDrawing(c, s.Drawing, f.wide()-stepIn)
		if err != nil {
			return nil, fmt.Errorf("order of work, «%s»: %w", s.Title, err)
		}
		if s.Part != part {
			part = s.Part
			_, _, high := f.laid(s)
			if plate != nil {
				high += plate.Height
			}
			f.headingOf(part, high)
		}
		f.step(i+1, s, plate)
	}
	return f.paper(stamp, c), nil
}

// para is a wrapped paragraph of a step, or a row of its table of what to do when it is otherwise.
type para struct {
	lines []string
	style drawing.TextStyle
	lead  lead
	cells [][]string // of a row, each wrapped; nil for a paragraph
}

// rows is how many lines of text stand below each other.
func (p para) rows() int {
	n := len(p.lines)
	for _, c := range p.cells {
		n = max(n, len(c))
	}
	return n
}

// ifHeads and ifShares are the columns of that table: their heads, and their shares of the width.
var (
	ifHeads  = [3]string{"if", "do", "because"}
	ifShares = [3]float64{0.29, 0.42, 0.29}
)

// lead is what stands before a paragraph.
type lead int

const (
	nothing lead = iota
	caution
	box
	rule // a line above the row
)

// stepIn is how far a step's words stand in from its box, mm.
const stepIn = 18.0

// words are all texts of a step, in the order of the paper.
func (s Step) words() []string {
	out := slices.Concat([]string{s.Title, s.Hazard}, s.Do, s.Show)
	for _, row := range s.If {
		out = append(out, row[:]...)
	}
	return append(append(out, s.Notes), s.Proof...)
}

// laid wraps a step's words and says how high it stands.
func (f *flow) laid(s Step) (title []string, parts []para, high float64) {
	body, soft := drawing.Body.Sized(2.9), drawing.Note.Sized(2.7)
	wide := f.wide() - stepIn
	title = drawing.Wrap(s.Title, wide, drawing.Body.Sized(3.3).Heavy())
	add := func(text string, t drawing.TextStyle, before lead) {
		if text != "" {
			parts = append(parts, para{clip(drawing.Wrap(text, wide-5, t), 25), t, before, nil})
		}
	}
	row := func(cells [3]string, t drawing.TextStyle, before lead) {
		p := para{nil, t, before, nil}
		for i, c := range cells {
			p.cells = append(p.cells, clip(drawing.Wrap(c, (wide-5)*ifShares[i]-2, t), 8))
		}
		parts = append(parts, p)
	}
	add(s.Hazard, body.Heavy(), caution)
	for _, one := range s.Do {
		add(one, body, nothing)
	}
	for _, one := range s.Show {
		add(one, body, rule)
	}
	for i, one := range s.If {
		if i == 0 {
			row(ifHeads, soft.Heavy(), rule)
		}
		row([3]string{one[0], one[2], one[1]}, soft, rule)
	}
	add(s.Notes, soft, nothing)
	for _, p := range s.Proof {
		add(p, body, box)
	}
	high = 2.5 + float64(len(title))*4.4
	for _, p := range parts {
		high += float64(p.rows())*p.style.Size*drawing.LineHeight + 0.4
	}
	return title, parts, max(high+1.5, 10)
}

// step sets one step with the drawing that it is worked by, where there is one; it stays on one sheet.
func (f *flow) step(n int, s Step, plate *drawing.Drawing) {
	title, parts, high := f.laid(s)
	if plate != nil {
		high += plate.Height + gap
	}
	for _, words := range s.words() {
		f.heed(words)
	}
	f.need(high)
	f.d.Line(inset, f.y, f.w-inset, f.y, drawing.Grid)
	f.d.Text(inset+14.5, f.y+6.2, strconv.Itoa(n), drawing.Body.Sized(3.3).Heavy().At(drawing.End, drawing.Baseline))
	y := f.y + 1.8
	for _, line := range title {
		y += 4.4
		f.d.Text(inset+stepIn, y, line, drawing.Body.Sized(3.3).Heavy())
	}
	for _, p := range parts {
		x := inset + stepIn
		switch p.lead {
		case caution:
			f.d.Mark(drawing.Point{X: x + 1.4, Y: y + 2.8}, 2.6, drawing.IsCaution, drawing.Ink)
			x += 4.5
		case box:
			f.d.Rect(x, y+1, 2.8, 2.8, drawing.Style{Stroke: drawing.Ink, Width: 0.3})
			x += 4.5
		}
		if p.lead == rule {
			f.d.Line(x, y+0.8, f.w-inset-5, y+0.8, drawing.Grid)
		}
		step := p.style.Size * drawing.LineHeight
		for k, line := range p.lines {
			f.d.Text(x, y+step*float64(k+1), line, p.style)
		}
		for i, cell := range p.cells {
			for k, line := range cell {
				f.d.Text(x, y+step*float64(k+1), line, p.style)
			}
			x += (f.wide() - stepIn - 5) * ifShares[i]
		}
		y += step*float64(p.rows()) + 0.4
	}
	if plate != nil {
		f.d.Place(plate, inset+stepIn, y+gap/2)
	}
	f.y += high
}
