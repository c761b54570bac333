package drawing

import "math"

// Crossings returns the text boxes that a line runs through. A quiet line that was drawn before words with a ground of
// their own lies under that ground; a strong one would be cut in two by it. Hatches are left out.
func (d *Drawing) Crossings() []TextBox {
	var all []crossable
	d.root.crossable(identity(), &all)
	var out []TextBox
	for i, one := range all {
		if one.drawn || one.area {
			continue
		}
		from := 0 // what was drawn before lies under an area that holds the words
		for k := i - 1; k >= 0 && from == 0; k-- {
			if all[k].area && !all[k].ownGround && one.box.inside(all[k].line) {
				from = k
			}
		}
		for k, line := range all {
			under := k < i && one.ground != None && !line.strong
			if line.drawn && k >= from && !under && one.box.crossedBy(line.line) {
				out = append(out, one.box)
				break
			}
		}
	}
	return out
}

// strongLine is the least width of a line, mm, that words must not lie over even with a ground of their own: outlines,
// marks and the spark's strokes are this strong; grids, centre lines and dimension lines are not.
const strongLine = 0.35

// crossable is a line of text or a drawn line, in drawing order.
type crossable struct {
	box       TextBox
	ground    Paint
	line      [][2]Point // straight pieces
	drawn     bool       // as a line, or filled with ink
	strong    bool       // a line that words must not cut
	area      bool       // filled
	ownGround bool       // laid under words
}

func (g *group) crossable(m matrix, out *[]crossable) {
	for _, part := range g.parts {
		switch p := part.(type) {
		case *words:
			*out = append(*out, crossable{box: p.box(m), ground: p.Ground})
		case *shape:
			*out = append(*out, crossable{line: p.path.pieces(m), drawn: p.style.Stroke != None || p.style.Fill == Ink,
				strong:    p.style.Stroke != None && p.style.Width >= strongLine || p.style.Fill == Ink,
				area:      p.style.Fill != None,
				ownGround: p.ground})
		case *group:
			if p.Class == "hatch" {
				continue
			}
			in, from := m.then(placed(p.X, p.Y, p.Turn)), len(*out)
			p.crossable(in, out)
			if p.Clip != nil { // what is cut off crosses nothing
				lo, hi := p.Clip.bounds()
				a, z := in.apply(lo), in.apply(hi)
				field := rect{Point{min(a.X, z.X), min(a.Y, z.Y)}, Point{max(a.X, z.X), max(a.Y, z.Y)}}
				for i := from; i < len(*out); i++ {
					(*out)[i].line = field.cut((*out)[i].line)
				}
			}
		}
	}
}

// pieces are the straight pieces of a path, curves in steps of a few degrees.
func (p *Path) pieces(m matrix) [][2]Point {
	var out [][2]Point
	var at, start Point
	to := func(q Point) {
		out = append(out, [2]Point{m.apply(at), m.apply(q)})
		at = q
	}
	for _, s := range p.segs {
		switch s.kind {
		case segMove:
			at, start = s.to, s.to
		case segLine:
			to(s.to)
		case segCurve:
			a, from := s.a, at
			for i := 1; i <= 8; i++ {
				f := float64(i) / 8
				g := 1 - f
				mix := func(p0, p1, p2, p3 float64) float64 {
					return g*g*g*p0 + 3*g*g*f*p1 + 3*g*f*f*p2 + f*f*f*p3
				}
				to(Point{mix(from.X, a.X, s.b.X, s.to.X), mix(from.Y, a.Y, s.b.Y, s.to.Y)})
			}
		case segArc:
			n := int(math.Abs(s.sweep)/3) + 1
			for i := 1; i <= n; i++ {
				to(Polar(s.a, s.r, s.start+s.sweep*float64(i)/float64(n)))
			}
		case segClose:
			to(start)
		}
	}
	return out
}

// crossedBy says whether one of the pieces runs through the box, deeper than a hair's breadth.
func (t TextBox) crossedBy(pieces [][2]Point) bool {
	const hair = 0.15 // mm
	lo, hi := t.extent()
	a, right, down := t.Corners[0], unit(t.Corners[0], t.Corners[1]), unit(t.Corners[0], t.Corners[3])
	wide := math.Hypot(t.Corners[1].X-a.X, t.Corners[1].Y-a.Y)
	high := math.Hypot(t.Corners[3].X-a.X, t.Corners[3].Y-a.Y)
	for _, p := range pieces {
		if max(p[0].X, p[1].X) < lo.X || min(p[0].X, p[1].X) > hi.X || max(p[0].Y, p[1].Y) < lo.Y ||
			min(p[0].Y, p[1].Y) > hi.Y {
			continue
		}
		n := int(math.Hypot(p[1].X-p[0].X, p[1].Y-p[0].Y)/0.2) + 1
		for i := range n + 1 {
			f := float64(i) / float64(n)
			x, y := p[0].X+f*(p[1].X-p[0].X)-a.X, p[0].Y+f*(p[1].Y-p[0].Y)-a.Y
			u, v := x*right.X+y*right.Y, x*down.X+y*down.Y
			if u > hair && u < wide-hair && v > hair && v < high-hair {
				return true
			}
		}
	}
	return false
}

// inside says whether the whole box lies within the closed figure of the pieces.
func (t TextBox) inside(pieces [][2]Point) bool {
	for _, q := range t.Corners {
		in := false
		for _, p := range pieces {
			a, b := p[0], p[1]
			if (a.Y > q.Y) != (b.Y > q.Y) && q.X < (b.X-a.X)*(q.Y-a.Y)/(b.Y-a.Y)+a.X {
				in = !in
			}
		}
		if !in {
			return false
		}
	}
	return true
}
