package drawing

import (
	"math"
	"slices"
)

func (l *chartLayout) panel(i int) {
	p, y, d := l.c.Panels[i], l.y[i], l.d
	d.Group(Group{Class: "panel"}, func() {
		frame := RectPath(l.left, y.to, l.right-l.left, y.from-y.to)
		d.Group(Group{Class: "bands", Clip: frame}, func() {
			for _, b := range p.Bands {
				d.Path(b.path(l.x.axisMap, y.axisMap), Area(Tint))
			}
			for _, b := range p.Bands {
				for _, edge := range b.edges(l.x.axisMap, y.axisMap) {
					d.Path(edge, bandEdge)
					l.avoid(edge, 2)
				}
			}
		})
		d.Group(Group{Class: "grid"}, func() {
			l.x.uprights(d, y.to, y.from)
			y.levels(d, l.left, l.right)
		})
		l.edge(Point{l.left, y.to}, Point{l.left, y.from}, 1)
		if y.scale == Linear && y.holds(0) {
			l.edge(Point{l.left, y.at(0)}, Point{l.right, y.at(0)}, 1)
			d.Line(l.left, y.at(0), l.right, y.at(0), Style{Stroke: Ink, Width: 0.2})
		}
		for _, z := range p.Zones {
			foot, top := y.span(z.Lo, z.Hi)
			if foot > top {
				l.edge(Point{l.left, top}, Point{l.right, top}, 1)
				l.edge(Point{l.left, foot}, Point{l.right, foot}, 1)
				d.Rect(l.left, top, l.right-l.left, foot-top, Tolerance)
			}
		}
		d.Group(Group{Class: "series", Clip: frame}, func() {
			for _, s := range p.Series {
				p := s.path(l.x.axisMap, y.axisMap)
				d.Path(p, lineStyles[s.Look])
				l.avoid(p, 3)
			}
		})
		d.Group(Group{Class: "points"}, func() {
			for _, m := range p.Marks {
				l.mark(m, y.axisMap)
			}
		})
		l.numbersBefore(y, l.left, tickText)
		label := d.fit(p.Y.Label, l.c.Width-1.5, Note)
		x := math.Min(l.left, math.Max(0.5, l.c.Width-0.5-Width(label, Note)))
		l.labels = append(l.labels, panelLabel{Point{x, y.to - 2}, label})
	})
}

// bandEdge keeps a band where a copy or a fax loses its tint.
var bandEdge = Style{Stroke: Soft, Width: 0.25}

var lineStyles = [...]Style{
	Strong:          {Stroke: Ink, Width: 0.5, Cap: RoundCap},
	Light:           {Stroke: Ink, Width: 0.25, Cap: RoundCap},
	OutsideValidity: {Stroke: Ink, Width: 0.35, Dash: Dashed},
	SparkTrace:      {Stroke: Spark, Width: 0.5, Cap: RoundCap},
}

// path is the band's outline on the sheet.
func (b Band) path(x, y axisMap) *Path {
	if len(b.X) < 2 {
		return &Path{}
	}
	upper, lower := make([]Point, len(b.X)), make([]Point, len(b.X))
	for k, v := range b.X {
		upper[k], lower[k] = Point{x.at(v), y.at(b.Hi[k])}, Point{x.at(v), y.at(b.Lo[k])}
	}
	slices.Reverse(lower)
	return Poly(append(upper, lower...)...).Close()
}

// edges are the upper and the lower line of the band.
func (b Band) edges(x, y axisMap) []*Path {
	if len(b.X) < 2 {
		return nil
	}
	upper, lower := &Path{}, &Path{}
	for k, v := range b.X {
		upper.Line(x.at(v), y.at(b.Hi[k]))
		lower.Line(x.at(v), y.at(b.Lo[k]))
	}
	return []*Path{upper, lower}
}

// path is the series on the sheet. Very long series keep the lowest and highest
// point of each strip of the width, so that no peak is lost.
func (s Series) path(x, y axisMap) *Path {
	points := s.Points
	if strips := most / 2; len(points) > most {
		points = nil
		for k := range strips {
			part := s.Points[k*len(s.Points)/strips : (k+1)*len(s.Points)/strips]
			lo, hi := 0, 0
			for j, q := range part {
				if q.Y < part[lo].Y {
					lo = j
				}
				if q.Y > part[hi].Y {
					hi = j
				}
			}
			points = append(points, part[min(lo, hi)], part[max(lo, hi)])
		}
	}
	at := make([]Point, len(points))
	for i, q := range points {
		at[i] = Point{x.at(q.X), y.at(q.Y)}
	}
	return Poly(at...)
}

func (l *chartLayout) mark(m Mark, y axisMap) {
	if !l.x.holds(m.X) {
		if m.AtEdge {
			l.beside(m, y)
		}
		return
	}
	x := l.x.at(m.X)
	if m.Y > y.hi || m.Y < y.lo { // off the field: an arrowhead at its edge
		tip, way := y.to+0.3, 1.0
		if m.Y < y.lo {
			tip, way = y.from-0.3, -1
		}
		l.d.Polygon([]Point{{x, tip}, {x - 1, tip + 2*way}, {x + 1, tip + 2*way}}, m.head())
		return
	}
	at := Point{x, y.at(m.Y)}
	pen := Style{Stroke: Ink, Width: 0.4}
	barred := m.U > 0 && y.scale == Linear
	foot, top := y.span(m.Y-m.U, m.Y+m.U)
	switch m.Kind {
	case Dot:
		l.d.Circle(at, 0.8, Area(Ink))
		return
	case Ring:
		l.d.Circle(at, 1, pen.Filled(Sheet))
		return
	case Whisker:
		if barred {
			l.d.Line(x, top, x, foot, Quiet)
		}
		l.d.Circle(at, 0.5, Area(Ink))
		return
	}
	if !barred {
		foot, top = at.Y+1.2, at.Y-1.2
	}
	l.edge(Point{x, top}, Point{x, foot}, 4)
	l.d.Line(x, top, x, foot, pen)
	l.d.Line(x-1.2, at.Y, x+1.2, at.Y, pen)
	if m.Kind == Excluded {
		l.d.Circle(at, 2.3, Style{Stroke: Ink, Width: 0.25, Dash: Short})
	}
}

// beside draws the arrowhead of a mark that lies beyond the x axis.
func (l *chartLayout) beside(m Mark, y axisMap) {
	tip, way := l.right-0.3, -1.0
	if l.x.at(m.X) < l.left {
		tip, way = l.left+0.3, 1
	}
	at := y.within(m.Y)
	l.d.Polygon([]Point{{tip, at}, {tip + 2*way, at - 1}, {tip + 2*way, at + 1}}, m.head())
}

// head is how the arrowhead of a mark off the field is drawn: open for what the line does not go through.
func (m Mark) head() Style {
	if m.Kind == Excluded || m.Kind == Ring {
		return Style{Stroke: Ink, Width: 0.3}.Filled(Sheet)
	}
	return Area(Ink)
}

// notes sets the words that belong to points and lines where they stand free.
func (l *chartLayout) notes(i int) {
	p, y := l.c.Panels[i], l.y[i]
	for _, m := range p.Marks {
		if m.Note != "" && (m.AtEdge || l.x.holds(m.X)) {
			x := math.Min(math.Max(l.x.at(m.X), l.left), l.right)
			l.free([]Point{{x, y.within(m.Y)}}, 3, m.Note, i)
		}
	}
	for _, r := range p.Remarks {
		l.free([]Point{{l.x.at(r.X), y.at(r.Y)}}, 1, r.Text, i)
	}
	for _, s := range p.Series {
		if s.Label == "" || len(s.Points) == 0 {
			continue
		}
		var along []Point // from the line's end backwards
		for k := range 8 {
			q := s.Points[(len(s.Points)-1)*(8-k)/8]
			along = append(along, Point{math.Min(math.Max(l.x.at(q.X), l.left), l.right) - 2, y.within(q.Y)})
		}
		l.free(along, 1.6, s.Label, i)
	}
}

// free sets a note near one of the places, the earlier the better, on the field of panel i.
func (l *chartLayout) free(at []Point, gap float64, text string, i int) {
	y := l.y[i]
	text = l.d.fit(text, l.right-l.left-2, Note)
	ground := func(b TextBox) Paint {
		for _, band := range l.c.Panels[i].Bands {
			if b.inside(band.path(l.x.axisMap, y.axisMap).pieces(identity())) {
				return Tint
			}
		}
		return Sheet
	}
	l.near(at, gap, text, Note, ground, Point{l.left + 0.6, y.to + 0.5}, Point{l.right - 0.6, y.from - 0.5})
}
