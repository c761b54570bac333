package drawing

import "math"

// TextBox is the place that one line of text takes on the sheet: from the descent
// to the top of a capital, with its four corners in drawing order.
type TextBox struct {
	Text    string
	Corners [4]Point
}

// TextBoxes returns the box of every line of text, in drawing order.
func (d *Drawing) TextBoxes() []TextBox {
	var out []TextBox
	d.root.boxes(identity(), &out)
	return out
}

func (g *group) boxes(m matrix, out *[]TextBox) {
	for _, part := range g.parts {
		switch p := part.(type) {
		case *words:
			*out = append(*out, p.box(m))
		case *group:
			p.boxes(m.then(placed(p.X, p.Y, p.Turn)), out)
		}
	}
}

func (w *words) box(m matrix) TextBox {
	m = m.then(placed(w.at.X, w.at.Y, w.Turn))
	wide, x := width(w.text, w.TextStyle), 0.0
	switch w.Anchor {
	case Middle:
		x = -wide / 2
	case End:
		x = -wide
	}
	top, foot := w.dy-capHeight*w.Size, w.dy+descent*w.Size
	return TextBox{w.text, [4]Point{
		m.apply(Point{x, top}), m.apply(Point{x + wide, top}),
		m.apply(Point{x + wide, foot}), m.apply(Point{x, foot}),
	}}
}

// Overlaps reports whether two boxes share more than a hair's breadth (0.05 mm).
func (t TextBox) Overlaps(other TextBox) bool {
	for _, pair := range [2][2]TextBox{{t, other}, {other, t}} {
		c := pair[0].Corners
		for i := range 4 {
			n := Point{c[(i+1)%4].Y - c[i].Y, c[i].X - c[(i+1)%4].X}
			l := math.Hypot(n.X, n.Y)
			if l == 0 {
				continue
			}
			alo, ahi := span(pair[0], n, l)
			blo, bhi := span(pair[1], n, l)
			if math.Min(ahi, bhi)-math.Max(alo, blo) < 0.05 {
				return false
			}
		}
	}
	return true
}

func span(t TextBox, n Point, l float64) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, q := range t.Corners {
		v := (q.X*n.X + q.Y*n.Y) / l
		lo, hi = math.Min(lo, v), math.Max(hi, v)
	}
	return lo, hi
}

// Clashes returns every pair of text boxes that lie over each other.
func (d *Drawing) Clashes() [][2]TextBox {
	boxes := d.TextBoxes()
	var out [][2]TextBox
	for i, a := range boxes {
		for _, b := range boxes[i+1:] {
			if a.Overlaps(b) {
				out = append(out, [2]TextBox{a, b})
			}
		}
	}
	return out
}

// Outside returns every text box that leaves the sheet.
func (d *Drawing) Outside() []TextBox {
	var out []TextBox
	for _, b := range d.TextBoxes() {
		for _, q := range b.Corners {
			if q.X < -0.01 || q.Y < -0.01 || q.X > d.Width+0.01 || q.Y > d.Height+0.01 {
				out = append(out, b)
				break
			}
		}
	}
	return out
}
