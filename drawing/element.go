package drawing

import "math"

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
}

// Cell is one field of a title block. Share is its part of the width; 0 means 1.
type Cell struct {
	Label, Value string
	Share        float64
}

// TitleBlockHeight is the height of one row of a title block, mm.
const TitleBlockHeight = 11

// TitleBlock draws one row of fields at (x, y), w mm wide.
func (d *Drawing) TitleBlock(x, y, w float64, cells []Cell) {
	total := 0.0
	for _, c := range cells {
		total += share(c)
	}
	d.Group(Group{Class: "title-block"}, func() {
		d.Line(x, y, x+w, y, Style{Stroke: Ink, Width: 0.3})
		for i, c := range cells {
			wide := w * share(c) / total
			if i > 0 {
				d.Line(x, y, x, y+TitleBlockHeight, Style{Stroke: Ink, Width: 0.3})
			}
			d.Text(x+2, y+3.9, d.fit(c.Label, wide-4, Note), Note)
			size := Value
			for size.Size > 2.6 && Width(c.Value, size) > wide-4 {
				size.Size -= 0.2
			}
			d.Text(x+2, y+8.8, d.fit(c.Value, wide-4, size), size)
			x += wide
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
