package drawing

import "math"

// Point is a place on the sheet in mm, y down.
type Point struct{ X, Y float64 }

// Add returns p moved by q.
func (p Point) Add(q Point) Point { return Point{p.X + q.X, p.Y + q.Y} }

// Polar returns the point at radius r (mm) and clock angle deg from c: zero is
// straight up, positive clockwise on the sheet.
func Polar(c Point, r, deg float64) Point {
	s, k := sincos(deg)
	return Point{c.X + r*s, c.Y - r*k}
}

// sincos is exact at the quarter turns, so that upright lines are upright.
func sincos(deg float64) (sin, cos float64) {
	switch math.Mod(math.Mod(deg, 360)+360, 360) {
	case 0:
		return 0, 1
	case 90:
		return 1, 0
	case 180:
		return 0, -1
	case 270:
		return -1, 0
	}
	return math.Sincos(deg * math.Pi / 180)
}

type segKind uint8

const (
	segMove segKind = iota
	segLine
	segCurve
	segArc
	segClose
)

// segment is one step of a path. An arc keeps its centre so that both writers
// can draw it as exactly as their format allows.
type segment struct {
	kind  segKind
	a, b  Point   // control points; for an arc a is the centre
	to    Point   // end
	r     float64 // arc radius
	start float64 // arc start, clock degrees
	sweep float64 // arc sweep, degrees, positive clockwise
}

// Path is a run of lines and curves. The zero value is empty and ready.
type Path struct{ segs []segment }

// Move starts a new part at p.
func (p *Path) Move(x, y float64) *Path {
	p.segs = append(p.segs, segment{kind: segMove, to: Point{x, y}})
	return p
}

// Line draws to (x, y); an empty path starts there.
func (p *Path) Line(x, y float64) *Path {
	if len(p.segs) == 0 {
		return p.Move(x, y)
	}
	p.segs = append(p.segs, segment{kind: segLine, to: Point{x, y}})
	return p
}

// Curve draws a cubic Bézier with control points a and b to the point to.
func (p *Path) Curve(a, b, to Point) *Path {
	p.segs = append(p.segs, segment{kind: segCurve, a: a, b: b, to: to})
	return p
}

// Arc draws round c at radius r from clock angle start through sweep degrees
// (positive clockwise). It is joined to what came before by a straight line; an
// empty path starts at the arc's first point.
func (p *Path) Arc(c Point, r, start, sweep float64) *Path {
	from := Polar(c, r, start)
	if len(p.segs) == 0 || p.segs[len(p.segs)-1].kind == segClose {
		p.Move(from.X, from.Y)
	} else if q := p.segs[len(p.segs)-1].to; math.Hypot(q.X-from.X, q.Y-from.Y) > 1e-6 {
		p.Line(from.X, from.Y)
	}
	p.segs = append(p.segs, segment{kind: segArc, a: c, r: r, start: start, sweep: sweep, to: Polar(c, r, start+sweep)})
	return p
}

// Close joins the part to its start.
func (p *Path) Close() *Path {
	p.segs = append(p.segs, segment{kind: segClose})
	return p
}

// Poly returns the path through the points given.
func Poly(pts ...Point) *Path {
	p := &Path{}
	for i, q := range pts {
		if i == 0 {
			p.Move(q.X, q.Y)
		} else {
			p.Line(q.X, q.Y)
		}
	}
	return p
}

// RectPath returns a closed rectangle.
func RectPath(x, y, w, h float64) *Path {
	return Poly(Point{x, y}, Point{x + w, y}, Point{x + w, y + h}, Point{x, y + h}).Close()
}

// CirclePath returns a closed circle.
func CirclePath(c Point, r float64) *Path { return new(Path).Arc(c, r, 0, 360).Close() }

// SectorPath returns the closed ring sector between radii r0 and r1 from clock
// angle start through sweep degrees.
func SectorPath(c Point, r0, r1, start, sweep float64) *Path {
	p := new(Path).Arc(c, r1, start, sweep)
	if r0 <= 0 {
		return p.Line(c.X, c.Y).Close()
	}
	return p.Arc(c, r0, start+sweep, -sweep).Close()
}

// bezier calls f with the control points of each piece of an arc. Pieces span at
// most 45°: the error is then below 5 parts in a million of the radius.
func (s segment) bezier(f func(a, b, to Point)) {
	n := int(math.Ceil(math.Abs(s.sweep)/45 - 1e-9))
	if n < 1 {
		n = 1
	}
	step := s.sweep / float64(n)
	k := 4.0 / 3 * math.Tan(step*math.Pi/720) * s.r
	for i := range n {
		a0 := s.start + step*float64(i)
		a1 := a0 + step
		p0, p1 := Polar(s.a, s.r, a0), Polar(s.a, s.r, a1)
		t0, t1 := Polar(Point{}, k, a0+90), Polar(Point{}, k, a1+90)
		f(p0.Add(t0), Point{p1.X - t1.X, p1.Y - t1.Y}, p1)
	}
}

// bounds returns the smallest and largest x and y, control points included.
func (p *Path) bounds() (lo, hi Point) {
	lo, hi = Point{math.Inf(1), math.Inf(1)}, Point{math.Inf(-1), math.Inf(-1)}
	grow := func(q Point) {
		lo = Point{math.Min(lo.X, q.X), math.Min(lo.Y, q.Y)}
		hi = Point{math.Max(hi.X, q.X), math.Max(hi.Y, q.Y)}
	}
	for _, s := range p.segs {
		switch s.kind {
		case segClose:
		case segArc:
			s.bezier(func(a, b, to Point) { grow(a); grow(b); grow(to) })
		case segCurve:
			grow(s.a)
			grow(s.b)
			grow(s.to)
		default:
			grow(s.to)
		}
	}
	return lo, hi
}

// matrix is an affine map: x' = a·x + c·y + e, y' = b·x + d·y + f.
type matrix struct{ a, b, c, d, e, f float64 }

func identity() matrix { return matrix{a: 1, d: 1} }

func (m matrix) apply(p Point) Point {
	return Point{m.a*p.X + m.c*p.Y + m.e, m.b*p.X + m.d*p.Y + m.f}
}

// then returns the map that applies n first and m after it.
func (m matrix) then(n matrix) matrix {
	return matrix{
		m.a*n.a + m.c*n.b, m.b*n.a + m.d*n.b,
		m.a*n.c + m.c*n.d, m.b*n.c + m.d*n.d,
		m.a*n.e + m.c*n.f + m.e, m.b*n.e + m.d*n.f + m.f,
	}
}

// placed moves by (x, y) after turning by deg clockwise.
func placed(x, y, deg float64) matrix {
	s, c := sincos(deg)
	return matrix{c, s, -s, c, x, y}
}
