package drawing

import "math"

// placeReferences gives each reference label the first row in which it stands free.
func (l *chartLayout) placeReferences() {
	var ends []float64
	l.refRow = make([]int, len(l.c.References))
	for _, i := range l.referenceOrder() {
		lo, hi := l.referenceSpan(i)
		row := 0
		for row < len(ends) && ends[row] > lo-1 {
			row++
		}
		if row == len(ends) {
			ends = append(ends, 0)
		}
		ends[row] = hi
		l.refRow[i] = row
	}
	l.rows = len(ends)
}

func (l *chartLayout) referenceOrder() []int {
	var order []int
	for i, r := range l.c.References {
		if !l.x.holds(r.X) {
			continue
		}
		k := len(order)
		for k > 0 && l.c.References[order[k-1]].X > r.X {
			k--
		}
		order = append(order[:k], append([]int{i}, order[k:]...)...)
	}
	return order
}

// referenceSpan returns where the label of reference i stands: centred on its line, kept on the sheet.
func (l *chartLayout) referenceSpan(i int) (lo, hi float64) {
	w := Width(l.referenceLabel(i), Note)
	x := math.Min(math.Max(l.x.at(l.c.References[i].X)-w/2, 0.5), l.c.Width-0.5-w)
	return x, x + w
}

func (l *chartLayout) referenceLabel(i int) string {
	return Fit(l.c.References[i].Label, l.c.Width*0.6, Note)
}

func (l *chartLayout) references() {
	foot := l.y[len(l.y)-1].from
	l.d.Group(Group{Class: "references"}, func() {
		for _, i := range l.referenceOrder() {
			x := l.x.at(l.c.References[i].X)
			lo, _ := l.referenceSpan(i)
			base := 1.5 + Note.Size*capHeight + float64(l.refRow[i])*refRowGap
			l.d.Line(x, base+0.9, x, foot, CentreLn)
			l.edge(Point{x, base + 0.9}, Point{x, foot}, 1)
			l.d.Heed(l.c.References[i].Label)
			l.set(lo, base, l.referenceLabel(i), Note)
		}
	})
}

func (l *chartLayout) panel(i int) {
	p, y, d := l.c.Panels[i], l.y[i], l.d
	d.Group(Group{Class: "panel"}, func() {
		frame := RectPath(l.left, y.to, l.right-l.left, y.from-y.to)
		d.Group(Group{Class: "bands", Clip: frame}, func() {
			for _, b := range p.Bands {
				l.band(b, y)
			}
		})
		d.Group(Group{Class: "grid"}, func() {
			for _, t := range l.xTicks {
				if l.x.holds(t) {
					d.Line(l.x.at(t), y.to, l.x.at(t), y.from, Grid)
				}
			}
			for _, t := range l.yTicks[i] {
				if y.holds(t) {
					d.Line(l.left, y.at(t), l.right, y.at(t), Grid)
				}
			}
		})
		l.edge(Point{l.left, y.to}, Point{l.left, y.from}, 1)
		if y.scale == Linear && y.holds(0) {
			l.edge(Point{l.left, y.at(0)}, Point{l.right, y.at(0)}, 1)
			d.Line(l.left, y.at(0), l.right, y.at(0), Style{Stroke: Ink, Width: 0.2})
		}
		for _, z := range p.Zones {
			top, foot := y.at(math.Min(z.Hi, y.hi)), y.at(math.Max(z.Lo, y.lo))
			if foot > top {
				l.edge(Point{l.left, top}, Point{l.right, top}, 1)
				l.edge(Point{l.left, foot}, Point{l.right, foot}, 1)
				d.Rect(l.left, top, l.right-l.left, foot-top, Tolerance)
			}
		}
		d.Group(Group{Class: "series", Clip: frame}, func() {
			for _, s := range p.Series {
				p := l.line(s, y)
				d.Path(p, lineStyles[s.Look])
				l.avoid(p, 3)
			}
		})
		d.Group(Group{Class: "points"}, func() {
			for _, m := range p.Marks {
				l.mark(m, y)
			}
		})
		for k, s := range tickWords(l.yTicks[i], p.Y) {
			if t := l.yTicks[i][k]; y.holds(t) {
				l.ifFree(l.left-1.4, y.at(t), s, tickText.At(End, Centred))
			}
		}
		label := d.fit(p.Y.Label, l.c.Width-1.5, Note)
		x := l.left
		if x+Width(label, Note) > l.c.Width-0.5 {
			x = math.Max(0.5, l.c.Width-0.5-Width(label, Note))
		}
		l.labels = append(l.labels, panelLabel{Point{x, y.to - 2}, label})
	})
}

var lineStyles = [...]Style{
	Strong:          {Stroke: Ink, Width: 0.5, Cap: RoundCap},
	Light:           {Stroke: Ink, Width: 0.25, Cap: RoundCap},
	OutsideValidity: {Stroke: Ink, Width: 0.35, Dash: Dashed},
	SparkTrace:      {Stroke: Spark, Width: 0.5, Cap: RoundCap},
}

func (l *chartLayout) band(b Band, y axisMap) {
	if len(b.X) < 2 {
		return
	}
	p := &Path{}
	for k := range b.X {
		q := Point{l.x.at(b.X[k]), y.at(b.Hi[k])}
		if k == 0 {
			p.Move(q.X, q.Y)
		} else {
			p.Line(q.X, q.Y)
		}
	}
	for k := len(b.X) - 1; k >= 0; k-- {
		p.Line(l.x.at(b.X[k]), y.at(b.Lo[k]))
	}
	l.d.Path(p.Close(), Area(Tint))
}

// line returns the series in mm. Very long series keep the lowest and highest
// point of each strip of the width, so that no peak is lost.
func (l *chartLayout) line(s Series, y axisMap) *Path {
	p := &Path{}
	to := func(q XY) {
		if len(p.segs) == 0 {
			p.Move(l.x.at(q.X), y.at(q.Y))
		} else {
			p.Line(l.x.at(q.X), y.at(q.Y))
		}
	}
	if len(s.Points) <= most {
		for _, q := range s.Points {
			to(q)
		}
		return p
	}
	strips := most / 2
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
		to(part[min(lo, hi)])
		to(part[max(lo, hi)])
	}
	return p
}

func (l *chartLayout) mark(m Mark, y axisMap) {
	if !l.x.holds(m.X) {
		return
	}
	x := l.x.at(m.X)
	if m.Y > y.hi || m.Y < y.lo { // off the field: an arrowhead at its edge
		tip, way := y.to+0.3, 1.0
		if m.Y < y.lo {
			tip, way = y.from-0.3, -1
		}
		l.d.Polygon([]Point{{x, tip}, {x - 1, tip + 2*way}, {x + 1, tip + 2*way}}, Area(Ink))
		return
	}
	at := Point{x, y.at(m.Y)}
	pen := Style{Stroke: Ink, Width: 0.4}
	switch m.Kind {
	case Dot:
		l.d.Circle(at, 0.8, Area(Ink))
		return
	case Ring:
		l.d.Circle(at, 1, pen.Filled(Sheet))
		return
	case Whisker:
		if m.U > 0 && y.scale == Linear {
			l.d.Line(x, math.Max(y.at(m.Y+m.U), y.to), x, math.Min(y.at(m.Y-m.U), y.from), Quiet)
		}
		l.d.Circle(at, 0.5, Area(Ink))
		return
	}
	top, foot := at.Y-1.2, at.Y+1.2
	if m.U > 0 && y.scale == Linear {
		top, foot = math.Max(y.at(m.Y+m.U), y.to), math.Min(y.at(m.Y-m.U), y.from)
	}
	l.edge(Point{x, top}, Point{x, foot}, 4)
	l.d.Line(x, top, x, foot, pen)
	l.d.Line(x-1.2, at.Y, x+1.2, at.Y, pen)
	if m.Kind == SetAside {
		l.d.Circle(at, 2.3, Style{Stroke: Ink, Width: 0.25, Dash: Short})
	}
}

func (l *chartLayout) xAxis() {
	foot := l.axisFoot()
	for k, s := range tickWords(l.xTicks, l.c.X) {
		if t := l.xTicks[k]; l.x.holds(t) {
			l.ifFree(l.x.at(t), foot+1.6, s, tickText.At(Middle, Top))
		}
	}
	if l.c.X.Label != "" {
		l.set(l.right, foot+5, l.d.fit(l.c.X.Label, l.right-0.5, Note), Note.At(End, Top))
	}
}

// notes sets the words that belong to points and lines where they stand free.
func (l *chartLayout) notes(i int) {
	p, y := l.c.Panels[i], l.y[i]
	for _, m := range p.Marks {
		if m.Note != "" && l.x.holds(m.X) {
			l.free(Point{l.x.at(m.X), y.at(math.Min(math.Max(m.Y, y.lo), y.hi))}, 3, m.Note, y)
		}
	}
	for _, r := range p.Remarks {
		l.free(Point{l.x.at(r.X), y.at(r.Y)}, 1, r.Text, y)
	}
	for _, s := range p.Series {
		if s.Label == "" || len(s.Points) == 0 {
			continue
		}
		q := s.Points[len(s.Points)-1]
		at := Point{math.Min(l.x.at(q.X), l.right), math.Min(math.Max(y.at(q.Y), y.to), y.from)}
		l.free(Point{at.X - 2, at.Y}, 1.6, s.Label, y)
	}
}

// free sets a note near at, on the field.
func (l *chartLayout) free(at Point, gap float64, text string, y axisMap) {
	text = l.d.fit(text, l.right-l.left-2, Note)
	l.near(at, gap, text, Note, Point{l.left + 0.6, y.to + 0.5}, Point{l.right - 0.6, y.from - 0.5})
}
