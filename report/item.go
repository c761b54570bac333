package report

import (
	"strings"

	"phasewright/drawing"
)

// found is a finding with its verdict, in words.
type found struct {
	verdict              drawing.Verdict
	title, text, because string
	cure                 string // by which lines of the card; "" for what is fine
}

var (
	itemTitle   = drawing.TextStyle{Size: 3, Weight: drawing.Bold}
	itemText    = drawing.TextStyle{Size: 2.7}
	itemBecause = drawing.TextStyle{Size: smallest, Paint: drawing.Soft}
	itemCure    = drawing.TextStyle{Size: smallest}
)

// itemsRunIn sets findings that stand well as closely as can be read: the words go on behind the title.
func (f *flow) itemsRunIn(list []found, wide float64) []block {
	const in, step, behind = 5.0, smallest * 1.25, 1.3
	title, words := itemTitle.Sized(smallest), itemText.Sized(smallest)
	var out []block
	for _, it := range list {
		taken := drawing.Width(it.title, title) + behind
		lines := []string{""}
		if room := wide - in - 1 - taken; room > wide/4 {
			lines = drawing.Wrap(it.text, room, words)
			lines = append(lines[:1], drawing.Wrap(strings.Join(lines[1:], " "), wide-in-1, words)...)
		} else {
			lines = append(lines, drawing.Wrap(it.text, wide-in-1, words)...)
		}
		if lines[len(lines)-1] == "" {
			lines = lines[:len(lines)-1]
		}
		high := 1.4 + float64(len(lines))*step + 0.4
		out = append(out, block{high, func(x, y float64) {
			f.heed(it.title + it.text)
			f.d.Line(x, y, x+wide, y, drawing.Grid)
			f.d.Mark(drawing.Point{X: x + 1.9, Y: y + 2.3}, 2.5, it.verdict, drawing.Ink)
			y += 3.2
			f.d.Text(x+in, y, it.title, title)
			f.d.Text(x+in+taken, y, lines[0], words)
			for _, s := range lines[1:] {
				y += step
				f.d.Text(x+in, y, s, words)
			}
		}})
	}
	return out
}

// items makes a block of each finding, wide mm wide. A stop is a filled bar.
func (f *flow) items(list []found, wide float64) []block {
	return f.itemsSized(list, wide, itemText.Size)
}

func (f *flow) itemsSized(list []found, wide, size float64) []block {
	var out []block
	itemText, step := itemText.Sized(size), size*1.3
	for _, it := range list {
		const in = 6.0
		title := drawing.Wrap(it.title, wide-in, itemTitle)
		text := clip(drawing.Wrap(it.text, wide-in-1, itemText), 30)
		because := clip(drawing.Wrap(it.because, wide-in-1, itemBecause), 12)
		if it.because == "" {
			because = nil
		}
		var cure []string
		if it.cure != "" {
			cure = drawing.Wrap(it.cure, wide-in-1, itemCure)
		}
		high := 1.8 + float64(len(title))*4 + float64(len(text))*step + float64(len(because)+len(cure))*3.15 + 0.6
		out = append(out, block{high, func(x, y float64) {
			f.heed(it.title + it.text + it.because + it.cure)
			ink, soft := drawing.Ink, drawing.Soft
			if it.verdict == drawing.IsStop {
				f.d.Rect(x-1.5, y+0.4, wide+3, high-0.8, drawing.Area(drawing.Ink))
				ink, soft = drawing.Sheet, drawing.Sheet
			} else {
				f.d.Line(x, y, x+wide, y, drawing.Grid)
			}
			f.d.Mark(drawing.Point{X: x + 1.9, Y: y + 3.7}, 3.2, it.verdict, ink)
			y += 4.7
			for _, s := range title {
				f.d.Text(x+in, y, s, itemTitle.Painted(ink))
				y += 4
			}
			y -= 0.3
			for _, s := range text {
				f.d.Text(x+in, y, s, itemText.Painted(ink))
				y += step
			}
			for _, s := range because {
				f.d.Text(x+in, y-0.2, s, itemBecause.Painted(soft))
				y += 3.15
			}
			for _, s := range cure {
				f.d.Text(x+in, y-0.2, s, itemCure.Painted(ink))
				y += 3.15
			}
		}})
	}
	return out
}

// stack sets blocks one under the other over the whole width.
func (f *flow) stack(blocks []block) {
	for _, b := range blocks {
		f.need(b.high)
		f.draw(b, inset, f.y)
		f.y += b.high
	}
}

// besideCautions puts one or two drawings and the usual cautions next to each other.
func (f *flow) besideCautions(a, b *drawing.Drawing, list []string) {
	x, high := inset+a.Width+4, a.Height
	if b != nil {
		x, high = x+b.Width+4, max(high, b.Height)
	}
	t := drawing.TextStyle{Size: smallest}
	wide := f.w - inset - x
	type para struct{ lines []string }
	var paras []para
	need := 6.0
	for _, s := range list {
		p := para{drawing.Wrap(s, wide-4.5, t)}
		need += float64(len(p.lines))*t.Size*1.28 + 1
		paras = append(paras, p)
		f.heed(s)
	}
	f.need(max(high, need) + gap)
	f.d.Place(a, inset, f.y)
	if b != nil {
		f.d.Place(b, inset+a.Width+4, f.y)
	}
	y := f.y + 3.5
	f.d.Text(x, y, "Keep people whole", itemTitle.As(&drawing.Tag{Role: drawing.RoleHeading}))
	y += 1.5
	for _, p := range paras {
		t.Tag = &drawing.Tag{Role: drawing.RoleText}
		f.d.Mark(drawing.Point{X: x + 1.2, Y: y + 2}, 2.2, drawing.IsCaution, drawing.Ink)
		for _, line := range p.lines {
			y += t.Size * 1.28
			f.d.Text(x+4.5, y-0.2, line, t)
		}
		y++
	}
	f.y += max(high, need) + gap
}

// cautions sets the usual cautions.
func (f *flow) cautions(list []string) {
	f.heading("Keep people whole")
	t := drawing.TextStyle{Size: 2.7}
	for _, s := range list {
		lines := drawing.Wrap(s, f.wide()-6, t)
		f.need(float64(len(lines)) * t.Size * drawing.LineHeight)
		f.d.Mark(drawing.Point{X: inset + 1.6, Y: f.y + 2.2}, 2.6, drawing.IsCaution, drawing.Ink)
		f.indented(s, t, 6)
		f.y += 0.5
	}
	f.y += gap
}
