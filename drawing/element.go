package drawing

import (
	"math"
	"strings"
)

// Hatch fills the path with parallel lines at deg (clock angle of the lines),
// pitch mm apart.
func (d *Drawing) Hatch(p *Path, deg, pitch float64, s Style) {
	lo, hi := p.bounds()
	if !finite(lo.X, lo.Y, hi.X, hi.Y) || pitch <= 0 {
		return
	}
	c := Point{(lo.X + hi.X) / 2, (lo.Y + hi.Y) / 2}
	half := math.Hypot(hi.X-lo.X, hi.Y-lo.Y)/2 + pitch
	n := min(int(half/pitch), 2000)
	d.Group(Group{Class: "hatch", Clip: p}, func() {
		for i := -n; i <= n; i++ {
			m := Polar(c, float64(i)*pitch, deg+90)
			a, b := Polar(m, half, deg), Polar(m, half, deg+180)
			d.Line(a.X, a.Y, b.X, b.Y, s)
		}
	})
}

// hatched draws an area that is tinted, hatched and outlined.
func (d *Drawing) hatched(p *Path, outline Style) {
	d.Path(p, Area(Tint))
	d.Hatch(p, 45, 1.1, Style{Stroke: Soft, Width: 0.15})
	d.Path(p, outline)
}

// arrow sizes, mm
const (
	arrowLong = 2.4
	arrowWide = 0.8
)

// Arrow draws a filled head whose tip is at tip, pointing along clock angle deg.
func (d *Drawing) Arrow(tip Point, deg float64, p Paint) { d.arrow(tip, deg, arrowLong, p) }

func (d *Drawing) arrow(tip Point, deg, long float64, p Paint) {
	back := Polar(tip, long, deg+180)
	half := long / arrowLong * arrowWide / 2
	d.Polygon([]Point{tip, Polar(back, half, deg+90), Polar(back, half, deg-90)}, Area(p))
}

// DimArc draws an angular dimension at radius r from clock angle start through
// sweep degrees, with extension lines from radius r0. A narrow one gets its heads
// outside. Words are the caller's: they need room that only it knows.
func (d *Drawing) DimArc(c Point, r0, r, start, sweep float64) {
	for _, deg := range []float64{start, start + sweep} {
		a, b := Polar(c, r0, deg), Polar(c, r+1.2, deg)
		d.Line(a.X, a.Y, b.X, b.Y, Dimension)
	}
	head := arrowLong / r * 180 / math.Pi // the angle that a head takes
	way := math.Copysign(1, sweep)
	along := func(deg, way float64) float64 { return deg + way*(90-head/2) } // the chord that a head lies on
	if !narrowArc(r, sweep) {
		d.Arc(c, r, start, sweep, Dimension)
		d.Arrow(Polar(c, r, start), along(start, -way), Ink)
		d.Arrow(Polar(c, r, start+sweep), along(start+sweep, way), Ink)
		return
	}
	d.Arc(c, r, start-way*2*head, sweep+way*4*head, Dimension)
	d.Arrow(Polar(c, r, start), along(start, way), Ink)
	d.Arrow(Polar(c, r, start+sweep), along(start+sweep, -way), Ink)
}

// narrowArc says whether an angular dimension of sweep degrees at radius r has no room for its heads inside.
func narrowArc(r, sweep float64) bool { return math.Abs(sweep)*math.Pi/180*r <= 2.5*arrowLong }

// Verdict is a finding, told by shape so that it survives a black and white print.
type Verdict uint8

// The verdicts and their shapes.
const (
	IsFine    Verdict = iota // open circle
	IsCaution                // hatched square
	IsStop                   // filled square
)

// Word returns the verdict in the trade's words.
func (v Verdict) Word() string { return [...]string{"fine", "caution", "stop"}[min(v, IsStop)] }

// Mark draws the verdict's shape, size mm across, centred at c, in the paint p.
func (d *Drawing) Mark(c Point, size float64, v Verdict, p Paint) {
	pen := Style{Stroke: p, Width: size * 0.12}
	h := size/2 - pen.Width/2
	d.As(&Tag{Role: RolePicture, Alt: v.Word()}, func() {
		switch v {
		case IsFine:
			d.Circle(c, h, pen)
		case IsCaution:
			// Both ends of each hatch line lie on the square, so no clip is needed.
			for i := range 3 {
				o := float64(i-1) * h * 0.85
				a, b := math.Max(-h, -h-o), math.Min(h, h-o)
				d.Line(c.X+a, c.Y+a+o, c.X+b, c.Y+b+o, pen)
			}
			d.Rect(c.X-h, c.Y-h, 2*h, 2*h, pen)
		case IsStop:
			d.Rect(c.X-size/2, c.Y-size/2, size, size, Area(p))
		}
	})
}

// Cell is one field of a title block (ISO 7200, from memory). Share is its part of the width; 0 means 1.
type Cell struct {
	Label, Value string
	Share        float64
}

// Sizes of a title block, mm: its words, and how small a value may become before it takes more lines. Nothing on paper
// is set smaller than 7 points, 2.47 mm.
const (
	titleLabel    = 2.5
	titleValue    = 3.2
	smallestValue = 2.5
	titleStep     = 3.2 // from line to line of a value that takes several
	titleRow      = 8.6 // a row of one line
	// mostValueLines bounds a row: what the shop book takes for a name fits into them.
	mostValueLines = 16
)

// TitleHeight is the height of a title block w mm wide, mm.
func TitleHeight(w float64, rows ...[]Cell) float64 {
	high := 0.0
	for _, row := range rows {
		high += rowHeight(w, row)
	}
	return high
}

func rowHeight(w float64, row []Cell) float64 {
	lines := 1
	for i, wide := range cellWidths(w, row) {
		_, value := row[i].set(wide)
		lines = max(lines, len(value))
	}
	return titleRow + float64(lines-1)*titleStep
}

func cellWidths(w float64, row []Cell) []float64 {
	total := 0.0
	for _, c := range row {
		total += share(c)
	}
	out := make([]float64, len(row))
	for i, c := range row {
		out[i] = w * share(c) / total
	}
	return out
}

// set sets the whole value of a cell, wide mm wide: on one line where it fits, else smaller, else on several lines.
func (c Cell) set(wide float64) (t TextStyle, lines []string) {
	t = Value.Sized(titleValue)
	for t.Size > smallestValue && Width(c.Value, t) > wide-3 {
		t.Size = max(smallestValue, t.Size-0.1)
	}
	if lines = Wrap(c.Value, wide-3, t); len(lines) > mostValueLines {
		rest := strings.Join(lines[mostValueLines-1:], " ")
		lines = append(lines[:mostValueLines-1:mostValueLines-1], Fit(rest, wide-3, t))
	}
	return t, lines
}

// TitleBlock draws rows of fields from (x, y) down, w mm wide. No value is cut: one that is too long takes more lines.
func (d *Drawing) TitleBlock(x, y, w float64, rows ...[]Cell) {
	pen := Style{Stroke: Ink, Width: 0.3}
	label := Note.Sized(titleLabel)
	d.Group(Group{Class: "title-block"}, func() {
		for _, row := range rows {
			d.Line(x, y, x+w, y, pen)
			high, at := rowHeight(w, row), x
			for i, wide := range cellWidths(w, row) {
				if i > 0 {
					d.Line(at, y, at, y+high, pen)
				}
				field := &Tag{Role: RoleText}
				d.Text(at+1.5, y+3.2, d.fit(row[i].Label, wide-3, label), label.As(field))
				t, lines := row[i].set(wide)
				d.Heed(row[i].Value)
				for k, line := range lines {
					d.Text(at+1.5, y+7+titleStep*float64(k), line, t.As(field))
				}
				at += wide
			}
			y += high
		}
	})
}

func share(c Cell) float64 {
	if c.Share <= 0 {
		return 1
	}
	return c.Share
}

// Frame draws the border of a sheet, margin mm from the edge.
func (d *Drawing) Frame(margin float64) {
	w, h := d.Width-2*margin, d.Height-2*margin
	d.Group(Group{Class: "frame"}, func() {
		d.Rect(margin-1.2, margin-1.2, w+2.4, h+2.4, Grid.Wide(0.2))
		d.Rect(margin, margin, w, h, Style{Stroke: Ink, Width: 0.3})
	})
}
