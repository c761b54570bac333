package report

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"

	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/procedure"
	"phasewright/sheet"
)

// Steps is the order of work with boxes to tick and blanks to fill in, in the order given. Photos names the pictures
// that show steps by their hashes; nil where there are none. Paper cannot lock an unsafe order, and says so.
func Steps(c *jobcard.Card, s *sheet.Sheet, lines []procedure.Line, photos map[string]string,
	stamp Stamp) (*Paper, error) {
	if c == nil || s == nil {
		return nil, ErrNothing
	}
	done := 0
	for _, l := range lines {
		if len(l.Deeds) > 0 {
			done++
		}
	}
	f := newFlow("steps", "Order of work", c.Job.Name, c, stamp, []drawing.Cell{
		{Label: "steps", Value: fmt.Sprintf("%d, done %d", len(lines), done), Share: 1},
	})
	f.cautions(sheet.Cautions())
	f.text("Work from top to bottom. Tick each box, write down what you measured, put your initials beside it. "+
		"Paper cannot stop an unsafe order: never skip a step.", drawing.Body.Heavy())
	f.y += gap
	var steps []laid
	part := ""
	for i, l := range lines {
		plates, err := stepPlates(c, s, l.Step)
		if err != nil {
			return nil, fmt.Errorf("order of work, «%s»: %w", l.Title, err)
		}
		one := f.stepLaid(i+1, l, plates, photos)
		if l.Part != part {
			part = l.Part
			one.part = part
		}
		steps = append(steps, one)
	}
	f.evenly(steps)
	return f.paper(stamp, c), nil
}

// plateWidths are the widths of a step's drawing beside its words, mm: the first in which all its words find room.
var plateWidths = []float64{82, 92, 104}

// stepPlates are the drawing of a step and, where it is worked by a lamp, how that is wired.
func stepPlates(c *jobcard.Card, s *sheet.Sheet, st procedure.Step) (plates []*drawing.Drawing, err error) {
	for _, wide := range plateWidths {
		d, err := StepDrawing(c, s, st, wide, "step-"+string(st.ID))
		if errors.Is(err, errNotDrawn) {
			break
		}
		if err != nil {
			return nil, err
		}
		if plates = []*drawing.Drawing{d}; len(d.Outside())+len(d.Clashes())+len(d.Crossings()) == 0 {
			break
		}
	}
	if st.ID == procedure.StepPower {
		lamp := LampView(c)
		lamp.Width = lampWide
		d, err := lamp.Draw()
		if err != nil {
			return nil, err
		}
		plates = append(plates, d)
	}
	return plates, nil
}

// lampWide is the width of the drawing of a lamp's wiring, below the words of its step, mm.
const lampWide = 160.0

// laid is a step laid out: words and drawing beside each other, which stay on one sheet, and what stands below both.
type laid struct {
	n      int
	title  string
	part   string // that it begins; "" where it goes on
	beside []piece
	plate  *drawing.Drawing
	below  []piece
}

// piece is a part of known height that is drawn at a place.
type piece struct {
	high float64
	draw func(f *flow, x, y float64)
}

func total(list []piece) (h float64) {
	for _, p := range list {
		h += p.high
	}
	return h
}

func (l laid) high() float64 { return l.head() + total(l.below) }

// head is the height of what stays on one sheet.
func (l laid) head() float64 {
	h := total(l.beside)
	if l.plate != nil {
		h = max(h, l.plate.Height+gap)
	}
	return h
}

// Heights of a heading over a part, less at the top of a sheet, and of a line that says whose rest follows, mm.
const (
	partHigh = 8.4
	partTop  = 6.4
	restHigh = 5.0
)

// atom is what a sheet may begin with: what stays together of a step, or a piece below it.
type atom struct {
	of    *laid
	piece int // of laid.below; -1: the head
	high  float64
}

// evenly sets steps on as few sheets as they need and fills these alike, so that no sheet holds a lonely rest; a step
// is broken only where that saves a sheet.
func (f *flow) evenly(steps []laid) {
	var atoms []atom
	for i := range steps {
		l := &steps[i]
		h := l.head()
		if l.part != "" {
			h += partHigh
		}
		atoms = append(atoms, atom{l, -1, h})
		for k, p := range l.below {
			atoms = append(atoms, atom{l, k, p.high})
		}
	}
	begins := sheetsOf(atoms, f.bottom()-f.top, f.y-f.top)
	for i, a := range atoms {
		if begins[i] && i > 0 {
			f.page()
			if a.piece >= 0 {
				f.y += restHigh
				f.d.Text(inset+stepIn, f.y-1.4, drawing.Fit(fmt.Sprintf("%d  %s, continued", a.of.n, a.of.title),
					f.wide()-stepIn, stepSoft), stepSoft)
			}
		}
		if a.piece < 0 {
			a.of.draw(f)
			continue
		}
		p := a.of.below[a.piece]
		p.draw(f, inset, f.y)
		f.y += p.high
	}
}

// Costs of a way to fill sheets, beside the square of what stays empty on each, mm²: a sheet more is dearer than any
// room that it leaves, and a broken step as dear as a strip of 60 mm.
const (
	sheetCost = 1e7
	breakCost = 60 * 60
)

// sheetsOf says which atoms begin a sheet, by the cheapest of all ways: room mm are on a sheet, begun mm of them taken
// on the first.
func sheetsOf(atoms []atom, room, begun float64) map[int]bool {
	n := len(atoms)
	cost, end := make([]float64, n+1), make([]int, n)
	for i := n - 1; i >= 0; i-- {
		y, first := 0.0, atoms[i]
		switch {
		case i == 0:
			y = begun
		case first.piece >= 0:
			y = restHigh
		case first.of.part != "":
			y = partTop - partHigh
		}
		cost[i] = math.Inf(1)
		for j := i; j < n; j++ {
			if y += atoms[j].high; y > room && j > i {
				break
			}
			c := sheetCost + (room-y)*(room-y) + cost[j+1]
			if j+1 < n && atoms[j+1].piece >= 0 {
				c += breakCost
			}
			if c < cost[i] {
				cost[i], end[i] = c, j+1
			}
		}
	}
	begins := map[int]bool{}
	for i := 0; i < n; i = end[i] {
		begins[i] = true
	}
	return begins
}

// draw sets what stays on one sheet.
func (l laid) draw(f *flow) {
	if l.part != "" {
		f.headingOf(l.part, 0)
	}
	top := f.y
	f.d.Line(inset, top, f.w-inset, top, drawing.Grid)
	if l.plate != nil {
		f.d.Place(l.plate, f.w-inset-l.plate.Width, top+gap/2)
	}
	for _, p := range l.beside {
		p.draw(f, inset, f.y)
		f.y += p.high
	}
	f.y = top + l.head()
}

// How a step is set, mm: how far its words stand in from the edge, and from their box.
const (
	stepIn = 9.0
	boxIn  = 4.6
)

// Styles of a step's words.
var (
	stepTitle = drawing.Body.Sized(3.4).Heavy()
	stepBody  = drawing.Body.Sized(2.9)
	stepSoft  = drawing.Note.Sized(2.7)
)

// stepLaid lays a step out: what can hurt first, then what to do, the figures, what to tick and to write down, what to
// do when it is otherwise. What does not fit beside the drawing goes on below it over the whole width.
func (f *flow) stepLaid(n int, l procedure.Line, plates []*drawing.Drawing, photos map[string]string) laid {
	whole := f.wide() - stepIn
	parts := append([]part{titled(n, l.Title)}, toDo(l, photos)...)
	parts = append(parts, otherwise(l)...)
	for _, d := range plates[min(1, len(plates)):] {
		parts = append(parts, func(float64) []piece {
			return []piece{{d.Height + gap, func(f *flow, x, y float64) { f.d.Place(d, x+stepIn, y+gap/2) }}}
		})
	}
	if len(plates) == 0 {
		return laid{n: n, title: l.Title, beside: laidAt(whole, parts)}
	}
	beside := whole - plates[0].Width - 4
	least := laid{}
	for k := 1; k <= len(parts); k++ {
		one := laid{n: n, title: l.Title, beside: laidAt(beside, parts[:k]), plate: plates[0],
			below: laidAt(whole, parts[k:])}
		if k == 1 || one.high() < least.high() {
			least = one
		}
	}
	return least
}

// part is a part of a step's words, laid out at a width.
type part func(wide float64) []piece

func laidAt(wide float64, parts []part) (out []piece) {
	for _, p := range parts {
		out = append(out, p(wide)...)
	}
	return out
}

// joined are parts that stay on one sheet.
func joined(parts ...part) part {
	return func(wide float64) []piece {
		list := laidAt(wide, parts)
		return []piece{{total(list), func(f *flow, x, y float64) {
			for _, p := range list {
				p.draw(f, x, y)
				y += p.high
			}
		}}}
	}
}

// titled is the number and the title of a step.
func titled(n int, title string) part {
	const step = 4.5
	return func(wide float64) []piece {
		lines := drawing.Wrap(title, wide, stepTitle)
		return []piece{{1.8 + step*float64(len(lines)), func(f *flow, x, y float64) {
			f.heed(title)
			y += 1
			f.d.Text(x+stepIn-2.5, y+step, strconv.Itoa(n), stepTitle.At(drawing.End, drawing.Baseline))
			for i, line := range lines {
				f.d.Text(x+stepIn, y+step*float64(i+1), line, stepTitle)
			}
		}}}
	}
}

// toDo are the parts from what can hurt to why.
func toDo(l procedure.Line, photos map[string]string) (out []part) {
	if l.Hazard != "" {
		out = append(out, para(l.Hazard, boxIn, stepBody.Heavy(), func(f *flow, x, y float64) {
			f.d.Mark(drawing.Point{X: x + 1.4, Y: y + 2.6}, 2.6, drawing.IsCaution, drawing.Ink)
		}))
	}
	for i, one := range l.Do {
		mark := strconv.Itoa(i+1) + "."
		if len(l.Do) == 1 {
			mark = "–"
		}
		out = append(out, para(one, boxIn, stepBody, func(f *flow, x, y float64) {
			f.d.Text(x+boxIn-1.2, y+stepBody.Size*drawing.LineHeight, mark, stepSoft.At(drawing.End, drawing.Baseline))
		}))
	}
	figures := []part{room(1)}
	for _, s := range l.Show {
		figures = append(figures, row([]string{s.Name, s.Value}, []float64{0.42, 0.58}, stepBody))
	}
	out = append(out, joined(figures...))
	if l.Expect != "" {
		out = append(out, plainly("Look for: "+l.Expect+".", stepBody))
	}
	out = append(out, room(1))
	for _, a := range l.Asks {
		out = append(out, boxed(a))
	}
	for _, d := range l.Deeds {
		out = append(out, plainly(deedWords(d, photos), stepBody.Heavy()))
	}
	if l.Redo != "" {
		out = append(out, plainly("Must be done again: "+l.Redo+".", stepBody.Heavy()))
	}
	if len(l.Deeds) == 0 || l.OnDemand {
		out = append(out, blanks("initials", "time"))
	}
	for _, o := range l.Overrides {
		out = append(out, plainly(o, stepBody.Heavy()))
	}
	return append(out, plainly(l.Remarks, stepSoft), room(1.5))
}

// deedWords says in one line what was seen, by whom, when, and which picture shows it.
func deedWords(d procedure.Deed, photos map[string]string) string {
	out := "Done"
	if d.Against {
		out = "Done AGAINST A RULE"
	}
	if d.Value != "" {
		out += ": " + d.Value
	}
	out += " – " + or(d.Who, "") + ", " + d.When
	if d.Photo != "" {
		name := photos[d.Photo]
		if name == "" {
			name = "SHA-256 " + head(d.Photo, 16)
		}
		out += "; photo: " + name
	}
	return out
}

// longestPara is how many lines of a paragraph are printed: what is longer is no step, and stays on the screen.
const longestPara = 25

// plainly is a paragraph.
func plainly(text string, t drawing.TextStyle) part {
	return para(text, 0, t, func(*flow, float64, float64) {})
}

// para is a paragraph that stands in mm behind a mark.
func para(text string, in float64, t drawing.TextStyle, mark func(f *flow, x, y float64)) part {
	step := t.Size * drawing.LineHeight
	return func(wide float64) []piece {
		lines := clip(drawing.Wrap(text, wide-in, t), longestPara)
		return []piece{{step*float64(len(lines)) + 0.5, func(f *flow, x, y float64) {
			f.heed(text)
			mark(f, x+stepIn, y)
			for i, line := range lines {
				f.d.Text(x+stepIn+in, y+step*float64(i+1), line, t)
			}
		}}}
	}
}

// room is h mm of nothing.
func room(h float64) part {
	return func(float64) []piece { return []piece{{h, func(*flow, float64, float64) {}}} }
}

// box draws a box to tick, h mm high, ticked or not.
func (f *flow) box(x, y, h float64, ticked bool) {
	f.d.Rect(x, y, h, h, drawing.Style{Stroke: drawing.Ink, Width: 0.3})
	if ticked {
		f.d.Polyline([]drawing.Point{{X: x + h*0.2, Y: y + h*0.5}, {X: x + h*0.43, Y: y + h*0.78},
			{X: x + h*0.85, Y: y + h*0.15}}, drawing.Style{Stroke: drawing.Ink, Width: 0.5})
	}
}

// boxed is what shows that a step is done behind its box, and what is written down for it.
func boxed(a procedure.Ask) part {
	ask := para(a.Ask, boxIn, stepBody, func(f *flow, x, y float64) { f.box(x, y+0.9, 3, a.Ticked) })
	if a.Ticked || len(a.Blanks) == 0 {
		return ask
	}
	return joined(ask, blanks(a.Blanks...))
}

// blanks are lines to write on by hand, side by side, each behind what belongs there.
func blanks(labels ...string) part {
	const high, narrow, write = 7.5, 38.0, 14.0
	return func(wide float64) (out []piece) {
		columns := max(int((wide-boxIn)/narrow), 1)
		each := (wide - boxIn) / float64(columns)
		for now := range slices.Chunk(labels, columns) {
			out = append(out, piece{high, func(f *flow, x, y float64) {
				x += stepIn + boxIn
				for _, label := range now {
					f.heed(label)
					f.d.Text(x, y+high-1.2, drawing.Fit(label, each-write, stepSoft), stepSoft)
					f.d.Line(x+min(drawing.Width(label, stepSoft), each-write)+1, y+high-0.8, x+each-3, y+high-0.8,
						drawing.Style{Stroke: drawing.Ink, Width: 0.2})
					x += each
				}
			}})
		}
		return out
	}
}

// row is a row of a table inside a step: cells that share the width, a hairline above.
func row(cells []string, shares []float64, t drawing.TextStyle) part {
	step := t.Size * drawing.LineHeight
	return func(wide float64) []piece {
		n := 0
		lines := make([][]string, len(cells))
		for k, words := range cells {
			lines[k] = clip(drawing.Wrap(words, wide*shares[k]-2, t), 8)
			n = max(n, len(lines[k]))
		}
		return []piece{{step*float64(n) + 1, func(f *flow, x, y float64) {
			x += stepIn
			f.d.Line(x, y+0.4, x+wide, y+0.4, drawing.Grid)
			for k, cell := range lines {
				f.heed(cells[k])
				for j, line := range cell {
					f.d.Text(x, y+0.4+step*float64(j+1), line, t)
				}
				x += wide * shares[k]
			}
		}}}
	}
}

// otherwise is what to do when a step does not come out so, as a table.
func otherwise(l procedure.Line) []part {
	if len(l.If) == 0 {
		return nil
	}
	shares := []float64{0.29, 0.42, 0.29}
	var rows []part
	for i, b := range l.If {
		one := row([]string{b[0], b[2], b[1]}, shares, stepSoft)
		if i == 0 {
			one = joined(row([]string{"if", "do", "because"}, shares, stepSoft.Heavy()), one)
		}
		rows = append(rows, one)
	}
	whole := func(wide float64) []piece { return laidAt(wide, rows) }
	return []part{whole, room(1.5)}
}
