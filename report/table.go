package report

import (
	"slices"

	"phasewright/drawing"
)

// column is one column of a table; share is its part of the width.
type column struct {
	title string
	share float64
	right align
}

type align bool

const (
	left   align = false
	figure align = true // figures stand to the right
)

// tableText is how cells are set.
var tableText = drawing.TextStyle{Size: 2.8}

// cellStyle says how cells are set, and the room below the last line of a row, mm.
func (f *flow) cellStyle() (t drawing.TextStyle, below float64) {
	if f.close {
		return tableText.Sized(smallest), 1
	}
	return tableText, 1.5
}

// rowHeight is the height of a row of one line, mm.
func (f *flow) rowHeight() float64 {
	t, below := f.cellStyle()
	return t.Size*1.3 + below
}

// table sets rows under a head that is repeated on each sheet.
func (f *flow) table(cols []column, rows [][]string) {
	total := 0.0
	for _, c := range cols {
		total += c.share
	}
	const pad = 1.6
	wide := make([]float64, len(cols))
	for i, c := range cols {
		wide[i] = f.wide() * c.share / total
	}
	all := &drawing.Tag{Role: drawing.RoleTable}
	tagged := func(role drawing.Role) []*drawing.Tag { // a row of cells, the empty ones too
		row := &drawing.Tag{Role: drawing.RoleRow, Under: all}
		out := make([]*drawing.Tag, len(cols))
		for i := range out {
			out[i] = &drawing.Tag{Role: role, Under: row}
		}
		f.d.Parts(out)
		return out
	}
	cell := func(x, y float64, i int, s string, t drawing.TextStyle) {
		if cols[i].right == figure {
			f.d.Text(x+wide[i]-pad, y, s, t.At(drawing.End, drawing.Baseline))
		} else {
			f.d.Text(x, y, s, t)
		}
	}
	headed := false
	head := func() {
		x := inset
		tags := slices.Repeat([]*drawing.Tag{drawing.Aside}, len(cols)) // where it is repeated
		if !headed {
			tags, headed = tagged(drawing.RoleHeadCell), true
		}
		high := 1
		var titles [][]string
		for i, c := range cols {
			titles = append(titles, drawing.Wrap(c.title, wide[i]-pad, drawing.Note))
			high = max(high, len(titles[i]))
		}
		step := drawing.Note.Size * 1.2
		for i := range cols {
			for k, line := range titles[i] {
				cell(x, f.y+3.4+step*float64(k+high-len(titles[i])), i, line, drawing.Note.As(tags[i]))
			}
			x += wide[i]
		}
		f.y += 4.8 + step*float64(high-1)
		f.d.Line(inset, f.y, f.w-inset, f.y, drawing.Style{Stroke: drawing.Ink, Width: 0.25})
	}
	tableText, below := f.cellStyle()
	step := tableText.Size * 1.3
	f.need(14)
	head()
	for _, row := range rows {
		lines := make([][]string, len(cols))
		n := 1
		for i := range cols {
			if i < len(row) {
				f.heed(row[i])
				lines[i] = drawing.Wrap(row[i], wide[i]-pad, tableText)
				n = max(n, len(lines[i]))
			}
		}
		tags := tagged(drawing.RoleCell)
		for done := 0; done < n; { // a row longer than the sheet runs over
			fits := int((f.bottom() - f.y - below - 0.3) / step)
			if fits < min(n-done, 12) {
				f.page()
				head()
				continue
			}
			now := min(n-done, fits)
			x := inset
			for i := range cols {
				for k := done; k < min(done+now, len(lines[i])); k++ {
					cell(x, f.y+step*float64(k-done+1)-0.2, i, lines[i][k], tableText.As(tags[i]))
				}
				x += wide[i]
			}
			f.y += step*float64(now) + below
			done += now
		}
		f.d.Line(inset, f.y, f.w-inset, f.y, drawing.Grid)
	}
	f.y += gap
}
