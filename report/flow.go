package report

import (
	"fmt"

	"phasewright/drawing"
)

// Places on an upright sheet, mm.
const (
	margin = 9.0
	inset  = margin + 4
	bodyY  = 23.0 // first baseline region below the strip
	gap    = 3.0
)

// flow fills sheets from top to bottom.
type flow struct {
	told        bool // the locks passed stand on it
	close       bool // tables are set closely
	w, h        float64
	title, desc string
	job         string // of the strip at the top of every sheet
	cells       []drawing.Cell
	pages       []*drawing.Drawing
	d           *drawing.Drawing
	y           float64 // the next free place
}

func newFlow(size drawing.SheetSize, title, job string, cells []drawing.Cell) *flow {
	f := &flow{w: 210, h: 297, title: title, job: job, cells: cells}
	if size == drawing.Letter {
		f.w, f.h = 215.9, 279.4
	}
	f.page()
	return f
}

func (f *flow) wide() float64   { return f.w - 2*inset }
func (f *flow) bottom() float64 { return f.h - margin - drawing.TitleBlockHeight - 3 }

// page begins a new sheet.
func (f *flow) page() {
	f.d = drawing.New(f.w, f.h, f.title, f.desc)
	f.d.Prefix = fmt.Sprintf("sheet-%d", len(f.pages)+1)
	f.d.Reads = true
	job, title := drawing.Aside, drawing.Aside // later sheets say it again
	if len(f.pages) == 0 {
		job, title = &drawing.Tag{Role: drawing.RoleText}, &drawing.Tag{Role: drawing.RoleTitle}
	}
	f.pages = append(f.pages, f.d)
	f.d.Frame(margin)
	name := drawing.Head
	where := drawing.Body.Sized(3.6)
	room := f.wide() - drawing.Width(f.title, where) - 6
	f.d.Text(inset, margin+7.4, drawing.Fit(f.job, room, name), name.As(job))
	f.d.Text(f.w-inset, margin+7.4, f.title, where.At(drawing.End, drawing.Baseline).As(title))
	f.d.Line(margin, margin+10.5, f.w-margin, margin+10.5, drawing.Style{Stroke: drawing.Ink, Width: 0.3})
	f.y = bodyY
}

// need begins a new sheet where less than h mm are left.
func (f *flow) need(h float64) {
	if f.y+h > f.bottom() && f.y > bodyY {
		f.page()
	}
}

// finish draws the title block of every sheet, now that their number is known.
func (f *flow) finish() []*drawing.Drawing {
	for i, d := range f.pages {
		cells := append(append([]drawing.Cell{}, f.cells...),
			drawing.Cell{Label: "page", Value: fmt.Sprintf("%d of %d", i+1, len(f.pages)), Share: 0.8})
		foot := func() { d.TitleBlock(margin, f.h-margin-drawing.TitleBlockHeight, f.w-2*margin, cells) }
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
	if f.y > bodyY {
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
	for _, line := range drawing.Wrap(s, f.wide()-in, t) {
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
		if f.y+blocks[0].high > f.bottom() && f.y > bodyY {
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
			for n < len(blocks) && (y+blocks[n].high <= f.y+room || y == f.y) {
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
