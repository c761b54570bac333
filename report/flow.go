package report

import (
	"fmt"
	"slices"

	"phasewright/drawing"
	"phasewright/jobcard"
)

// Places on an upright sheet, mm.
const (
	margin = 9.0
	inset  = margin + 4
	gap    = 3.0
)

// flow fills sheets from top to bottom.
type flow struct {
	told   bool // the locks passed stand on it
	close  bool // tables are set closely
	w, h   float64
	title  string
	job    string           // whole in the strip at the top of every sheet
	number string           // of the paper
	cells  [][]drawing.Cell // of the title block, but for the page
	foot   float64          // height of the title block
	top    float64          // where the first words of a sheet begin
	pages  []*drawing.Drawing
	d      *drawing.Drawing
	y      float64 // the next free place
}

// newFlow begins a paper. kind is the word for it in its number; cells are its own fields, beside those that every
// paper has. The card may be nil.
func newFlow(kind, title, job string, c *jobcard.Card, stamp Stamp, cells []drawing.Cell) *flow {
	f := &flow{w: 210, h: 297, title: title, job: job}
	if stamp.Paper == drawing.Letter {
		f.w, f.h = 215.9, 279.4
	}
	if c != nil && c.Job.Serial != "" {
		f.job += "; " + c.Job.Serial
	}
	id := stamp.identified(c)
	f.number = id.Number(kind)
	f.cells = [][]drawing.Cell{cells, id.cells(kind, stamp)}
	if len(cells) == 0 {
		f.cells = f.cells[1:]
	}
	f.foot = drawing.TitleHeight(f.w-2*margin, f.block(99, 99)...)
	f.page()
	return f
}

func (f *flow) wide() float64   { return f.w - 2*inset }
func (f *flow) bottom() float64 { return f.h - margin - f.foot - 3 }

// fresh says whether nothing stands on the sheet yet.
func (f *flow) fresh() bool { return f.y <= f.top }

// page begins a new sheet.
func (f *flow) page() {
	f.d = drawing.New(f.w, f.h, f.title, "")
	f.d.Prefix = fmt.Sprintf("sheet-%d", len(f.pages)+1)
	f.d.Reads = true
	job, title := drawing.Aside, drawing.Aside // later sheets say it again
	if len(f.pages) == 0 {
		job, title = &drawing.Tag{Role: drawing.RoleText}, &drawing.Tag{Role: drawing.RoleTitle}
	}
	f.pages = append(f.pages, f.d)
	f.d.Frame(margin)
	where := drawing.Body.Sized(3.6)
	name, lines := wholeName(f.job, f.wide()-drawing.Width(f.title, where)-6)
	f.heed(f.job)
	step := name.Size * 1.25
	for i, line := range lines {
		f.d.Text(inset, margin+7.4+step*float64(i), line, name.As(job))
	}
	f.d.Text(f.w-inset, margin+7.4, f.title, where.At(drawing.End, drawing.Baseline).As(title))
	below := margin + 10.5 + step*float64(len(lines)-1)
	f.d.Line(margin, below, f.w-margin, below, drawing.Style{Stroke: drawing.Ink, Width: 0.3})
	f.top = below + 3.5
	f.y = f.top
}

// mostNameLines bounds the strip at the top of a sheet: a name as long as the shop book takes fits into them.
const mostNameLines = 16

// wholeName sets a name: on one line, else on two, else smaller on as many as it takes.
func wholeName(name string, room float64) (t drawing.TextStyle, lines []string) {
	for _, t = range []drawing.TextStyle{drawing.Head, drawing.Head.Sized(3.6), drawing.Head.Sized(3)} {
		if lines = drawing.Wrap(name, room, t); len(lines) <= 2 {
			return t, lines
		}
	}
	t = drawing.Head.Sized(smallest)
	lines = drawing.Wrap(name, room, t)
	if over := len(lines) - mostNameLines; over > 0 {
		lines = append(lines[:mostNameLines-1:mostNameLines-1],
			fmt.Sprintf("and %d more lines of this name, in the attachment", over+1))
	}
	return t, lines
}

// need begins a new sheet where less than h mm are left.
func (f *flow) need(h float64) {
	if f.y+h > f.bottom() && !f.fresh() {
		f.page()
	}
}

// block is the title block of page n of all.
func (f *flow) block(n, all int) [][]drawing.Cell {
	last := len(f.cells) - 1
	rows := append(slices.Clone(f.cells[:last]), slices.Clone(f.cells[last]))
	rows[last] = append(rows[last], drawing.Cell{Label: "page", Value: fmt.Sprintf("%d of %d", n, all), Share: 0.7})
	return rows
}

// finish draws the title block of every sheet, now that their number is known.
func (f *flow) finish() []*drawing.Drawing {
	for i, d := range f.pages {
		foot := func() { d.TitleBlock(margin, f.h-margin-f.foot, f.w-2*margin, f.block(i+1, len(f.pages))...) }
		if i == 0 {
			foot()
		} else {
			d.As(drawing.Aside, foot)
		}
	}
	drawing.SayUnprinted(f.pages)
	return f.pages
}

// heading sets a heading and keeps it with what follows.
func (f *flow) heading(text string) { f.headingOf(text, 14) }

// headingOf sets a heading and keeps it with the first h mm of what follows.
func (f *flow) headingOf(text string, h float64) {
	f.need(h + 8.4)
	if !f.fresh() {
		f.y += 2
	}
	f.y += 4
	tag := &drawing.Tag{Role: drawing.RoleHeading}
	f.d.Text(inset, f.y, text, drawing.TextStyle{Size: 4, Weight: drawing.Bold}.As(tag))
	f.y += 2.4
}

// text sets a paragraph; a long one runs over to the next sheet.
func (f *flow) text(s string, t drawing.TextStyle) { f.indented(s, t, 0) }

func (f *flow) indented(s string, t drawing.TextStyle, in float64) {
	step := t.Size * drawing.LineHeight
	t.Tag = &drawing.Tag{Role: drawing.RoleText}
	lines := drawing.Wrap(s, f.wide()-in, t)
	if len(lines) <= 4 { // a short paragraph stays on one sheet
		f.need(step * float64(len(lines)))
	}
	for _, line := range lines {
		f.need(step)
		f.y += step
		f.d.Text(inset+in, f.y-step*0.25, line, t)
	}
	f.heed(s)
}

// heed keeps the warnings of text that was wrapped before it was drawn.
func (f *flow) heed(s string) { f.d.Heed(s) }

// place puts a drawing at the left edge.
func (f *flow) place(d *drawing.Drawing) {
	f.need(d.Height + gap)
	f.d.Place(d, inset, f.y)
	f.y += d.Height + gap
}

// beside puts two drawings next to each other; the second may be nil.
func (f *flow) beside(a, b *drawing.Drawing) {
	h := a.Height
	if b != nil {
		h = max(h, b.Height)
	}
	f.need(h + gap)
	if b == nil {
		f.d.Place(a, (f.w-a.Width)/2, f.y)
	} else {
		f.d.Place(a, inset, f.y+(h-a.Height)/2)
		f.d.Place(b, f.w-inset-b.Width, f.y+(h-b.Height)/2)
	}
	f.y += h + gap
}

// fields sets labelled values in two columns.
func (f *flow) fields(list []Field) {
	half := (f.wide() - 4) / 2
	label, value := drawing.Note, drawing.Body.Heavy()
	all := &drawing.Tag{Role: drawing.RoleList}
	for i := 0; i < len(list); i += 2 {
		high := 0.0
		var cells [2][]string
		for k := 0; k < 2 && i+k < len(list); k++ {
			cells[k] = clip(drawing.Wrap(list[i+k].Value, half-34, value), 6)
			high = max(high, float64(max(len(cells[k]), 1))*value.Size*drawing.LineHeight+1.6)
		}
		f.need(high)
		for k := 0; k < 2 && i+k < len(list); k++ {
			x := inset + float64(k)*(half+4)
			f.d.Line(x, f.y, x+half, f.y, drawing.Grid)
			item := &drawing.Tag{Role: drawing.RoleItem, Under: all}
			label.Tag = &drawing.Tag{Role: drawing.RoleName, Under: item}
			value.Tag = &drawing.Tag{Role: drawing.RoleSaid, Under: item}
			f.d.Text(x, f.y+4, drawing.Fit(list[i+k].Label, 32, label), label)
			for n, line := range cells[k] {
				f.d.Text(x+34, f.y+4+float64(n)*value.Size*drawing.LineHeight, line, value)
			}
			f.heed(list[i+k].Value)
		}
		f.y += high
	}
	f.y += gap
}

// clip keeps the first n lines and shows that there were more.
func clip(lines []string, n int) []string {
	if len(lines) <= n {
		return lines
	}
	out := append([]string{}, lines[:n]...)
	out[n-1] += " …"
	return out
}

// block is a piece of known height that is drawn in one go.
type block struct {
	high float64
	draw func(x, y float64)
}

// draw draws a block as one paragraph.
func (f *flow) draw(b block, x, y float64) {
	f.d.As(&drawing.Tag{Role: drawing.RoleText}, func() { b.draw(x, y) })
}

// columns sets blocks in two columns of even length.
func (f *flow) columns(blocks []block) {
	for len(blocks) > 0 {
		if f.y+blocks[0].high > f.bottom() && !f.fresh() {
			f.page()
		}
		total := 0.0
		for _, b := range blocks {
			total += b.high
		}
		room := f.bottom() - f.y
		half := (f.wide()-6)/2 + 6
		lowest := f.y
		n := 0
		for col := range 2 {
			y := f.y
			for n < len(blocks) && (y+blocks[n].high <= f.y+room || y == f.y && col == 0) {
				if col == 0 && y-f.y+blocks[n].high/2 >= total/2 {
					break
				}
				f.draw(blocks[n], inset+float64(col)*half, y)
				y += blocks[n].high
				n++
			}
			lowest = max(lowest, y)
		}
		blocks = blocks[n:]
		f.y = lowest
	}
}

// columnWidth is the width of one of two columns.
func (f *flow) columnWidth() float64 { return (f.wide() - 6) / 2 }
