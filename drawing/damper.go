package drawing

import (
	"fmt"
	"math"
	"slices"
)

// Turn is a direction of rotation in the view that the drawing shows.
type Turn int8

// The directions.
const (
	Clockwise        Turn = 1
	Counterclockwise Turn = -1
)

// String returns the trade's word.
func (t Turn) String() string {
	if t == Counterclockwise {
		return "counterclockwise"
	}
	return "clockwise"
}

func (t Turn) usable(where string) error {
	if t != Clockwise && t != Counterclockwise {
		return fmt.Errorf("%s – no direction of rotation – give clockwise or counterclockwise", where)
	}
	return nil
}

// DamperMark is a mark on the damper, Before degrees before the zero mark (after
// it where negative). Name is set at the mark; Distance, where given, is set on a
// dimension line along the rim from the zero mark.
type DamperMark struct {
	Before         float64
	Name, Distance string
}

// DamperView shows the damper from the front with its zero mark, or another, at the pointer.
//
// An angle before TDC lies ahead of the zero mark in the direction of rotation: it
// must reach the pointer earlier. Seen from the front, clockwise engine: clockwise
// from the zero mark.
type DamperView struct {
	Width   float64 // mm
	Turn    Turn    // seen from the front
	Pointer float64 // clock angle at which the pointer stands, degrees
	Marks   []DamperMark
	At      float64 // degrees before TDC that stand at the pointer
	Within  float64 // degrees either way of what may stand there, drawn as an arc; 0: none
	Light   bool    // the timing light shines on the pointer
	Largest float64 // most that the radius may be, mm; 0: as large as fits
	Prefix  string
}

// maxMarks is what one damper view holds with its dimension lines apart.
const maxMarks = 8

// Draw lays the view out.
func (v DamperView) Draw() (*Drawing, error) {
	const where = "damper view"
	if err := v.Turn.usable(where); err != nil {
		return nil, err
	}
	if !(v.Width >= 50 && v.Width <= 400) {
		return nil, fmt.Errorf("%s – a width of %g mm cannot be drawn – use 50 to 400 mm", where, v.Width)
	}
	if len(v.Marks) > maxMarks {
		return nil, fmt.Errorf("%s – %d marks stand in each other's way – show at most %d", where, len(v.Marks),
			maxMarks)
	}
	if !finite(v.Pointer, v.At, v.Within, v.Largest) {
		return nil, fmt.Errorf("%s – an angle or a radius is not a number – give degrees and mm", where)
	}
	for _, m := range v.Marks {
		if !(math.Abs(m.Before) <= 360) {
			return nil, fmt.Errorf("%s – a mark at %g° – give −360 to 360 degrees before the zero mark", where,
				m.Before)
		}
	}
	marks := slices.Clone(v.Marks)
	slices.SortStableFunc(marks, func(a, b DamperMark) int {
		switch x, y := math.Abs(a.Before), math.Abs(b.Before); {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	r, lo, hi := v.fit(marks)
	c := Point{v.Width / 2, 1 - lo.Y}
	view := unscaled("seen from the front; the crank turns "+v.Turn.String(), v.Width)
	height := c.Y + hi.Y + 2.6 + float64(len(view))*Note.Size*LineHeight
	d := New(v.Width, height, "Damper marks", v.describe(marks))
	d.Prefix = v.Prefix
	l := &damperLayout{v: v, c: c, r: r, foot: c.Y + hi.Y + 1, placer: placer{d: d}}
	l.body()
	l.light()
	l.marks(marks)
	for i, line := range view {
		y := height - 1.6 - float64(len(view)-1-i)*Note.Size*LineHeight
		l.set(v.Width/2, y, line, Note.At(Middle, Baseline))
	}
	return d, nil
}

// The rings that dimension lines lie on, mm.
const (
	firstRing = 6.5 // outside the rim, clear of the pointer
	ringGap   = 5.2
)

// fit returns the largest radius that leaves room for the dimension lines, and the
// corners of all that is drawn, seen from the centre.
func (v DamperView) fit(marks []DamperMark) (r float64, lo, hi Point) {
	r = 60.0
	if v.Largest > 0 {
		r = math.Max(v.Largest, 12)
	}
	for ; ; r -= 0.5 {
		lo, hi = Point{-r - 5, -r - 5}, Point{r + 5, r + 5}
		if v.Light {
			lo.Y = -r - lightAway
		}
		grow := func(deg, out float64) {
			q := Polar(Point{}, r+out, v.clock(deg))
			lo = Point{math.Min(lo.X, q.X), math.Min(lo.Y, q.Y)}
			hi = Point{math.Max(hi.X, q.X), math.Max(hi.Y, q.Y)}
		}
		ring := 0.0
		for _, m := range marks {
			if m.Distance == "" || m.Before == 0 {
				continue
			}
			out := firstRing + ringGap*ring
			for k := range 41 {
				f := float64(k) / 40
				grow(m.Before*f, out+1.5)
				if math.Abs(math.Abs(f)-0.5) < 0.3 {
					grow(m.Before*f, out+5) // words stand outside the middle of the line
				}
			}
			ring++
		}
		if half := v.Width/2 - 0.5; (-lo.X <= half && hi.X <= half) || r <= 12 {
			return r, lo, hi
		}
	}
}

func (v DamperView) describe(marks []DamperMark) string {
	s := "Damper from the front; the crank turns " + v.Turn.String() + "."
	if v.At != 0 {
		s += " At the pointer: " + Number(math.Abs(v.At), places(v.At)) + "° " + sideOfTDC(v.At) + " TDC."
	}
	if v.Light {
		s += " The timing light shines on the pointer."
	}
	for _, m := range marks {
		if m.Before == 0 {
			continue
		}
		way, when := v.Turn, "before"
		if m.Before < 0 {
			way, when = -way, "after"
		}
		s += fmt.Sprintf(" Mark %s: %s° %s the zero mark, %s from it", m.Name,
			Number(math.Abs(m.Before), places(m.Before)), when, way)
		if m.Distance != "" {
			s += ", " + m.Distance
		}
		s += "."
	}
	return s
}

// places returns the decimals, at most three, that show v.
func places(v float64) int {
	for p := range 3 {
		if s := v * math.Pow(10, float64(p)); math.Abs(s-math.Round(s)) < 1e-6 {
			return p
		}
	}
	return 3
}

type damperLayout struct {
	v    DamperView
	c    Point
	r    float64
	foot float64 // of the field, mm; words stand below it
	placer
}

// sideOfTDC is the word for an angle before TDC, or after it where negative.
func sideOfTDC(before float64) string {
	if before < 0 {
		return "after"
	}
	return "before"
}

// clock turns degrees before the zero mark into a clock angle on the sheet.
func (v DamperView) clock(before float64) float64 { return v.Pointer + float64(v.Turn)*(before-v.At) }

func (l *damperLayout) clock(before float64) float64 { return l.v.clock(before) }

// lightAway is how far above the rim a timing light needs room, mm.
const lightAway = 15

// light draws the timing light, its beam on the pointer, and the range that may stand there.
func (l *damperLayout) light() {
	d, c, r, tip := l.d, l.c, l.r, l.v.Pointer
	if l.v.Within > 0 {
		d.Group(Group{ID: "within", Class: "tolerance"}, func() {
			p := SectorPath(c, r+0.8, r+2.6, tip-l.v.Within, 2*l.v.Within)
			d.hatched(p, Fine)
			l.avoid(p, 20)
		})
	}
	if !l.v.Light {
		return
	}
	d.Group(Group{ID: "light", Class: "light"}, func() {
		const aside = -34.0 // clock degrees from the pointer to the light
		at := Polar(c, r+lightAway-3.5, tip+aside*20/r)
		to := Polar(c, r-1, tip)
		deg := math.Atan2(to.X-at.X, at.Y-to.Y) * 180 / math.Pi
		mouth := Polar(at, 4, deg)
		for _, side := range []float64{90, -90} {
			d.Line(Polar(mouth, 1.6, deg+side).X, Polar(mouth, 1.6, deg+side).Y, to.X, to.Y, Quiet.Dashed(Short))
		}
		body := Poly(Polar(mouth, 2, deg+90), Polar(mouth, 2, deg-90), Polar(Polar(at, 4, deg+180), 1.4, deg-90),
			Polar(Polar(at, 4, deg+180), 1.4, deg+90)).Close()
		d.Path(body, Outline.Filled(Sheet))
		l.avoid(body, 50)
		l.edge(mouth, to, 20)
	})
}

func (l *damperLayout) body() {
	d, c, r := l.d, l.c, l.r
	d.Group(Group{ID: "damper", Class: "damper"}, func() {
		d.Circle(c, r, Outline.Filled(Paper))
		d.Circle(c, r*0.62, Fine)
		d.Circle(c, r*0.27, Fine)
		d.Line(c.X-r-4, c.Y, c.X+r+4, c.Y, CentreLn)
		d.Line(c.X, c.Y-r-4, c.X, c.Y+r+4, CentreLn)
	})
	l.avoid(CirclePath(c, r), overWords)
	tip := l.v.Pointer
	d.Group(Group{ID: "pointer", Class: "pointer"}, func() {
		at := Polar(c, r+0.3, tip)
		back := Polar(c, r+5.2, tip)
		p := Poly(at, Polar(back, 1.8, tip+90), Polar(back, 1.8, tip-90)).Close()
		d.Path(p, Area(Ink))
		l.avoid(p, overWords)
	})
	// The rotation arrow stands opposite the marks, inside the ring.
	from := l.clock(205)
	turnArrow(d, c, r*0.52, from, 50, l.v.Turn)
	l.avoid(new(Path).Arc(c, r*0.52, from-float64(l.v.Turn)*4, float64(l.v.Turn)*72), overWords)
}

func (l *damperLayout) marks(marks []DamperMark) {
	d, c, r := l.d, l.c, l.r
	tick := Style{Stroke: Ink, Width: 0.6}
	style := l.nameStyle()
	var names []callout
	name := func(before float64, text string) {
		deg := l.clock(before)
		a, b := Polar(c, r, deg), Polar(c, r*0.875, deg)
		d.Line(a.X, a.Y, b.X, b.Y, tick)
		l.edge(a, b, overWords)
		if text != "" {
			names = append(names, l.inside(b, l.d.fit(text, r*1.1, style)))
		}
	}
	d.Group(Group{ID: "marks", Class: "marks"}, func() {
		zero := "0"
		for _, m := range marks {
			if m.Before == 0 && m.Name != "" {
				zero = m.Name
			}
		}
		name(0, zero)
		for _, m := range marks {
			if m.Before != 0 {
				name(m.Before, m.Name)
			}
		}
		at, _ := l.layCallouts(names, style)
		l.callouts(names, style, at)
	})
	d.Group(Group{ID: "distances", Class: "dimensions"}, func() {
		ring := 0
		var figures []callout
		for _, m := range marks {
			if m.Distance == "" || m.Before == 0 {
				continue
			}
			r0, rr := r+0.8, r+firstRing+ringGap*float64(ring)
			ring++
			d.DimArc(c, r0, rr, l.clock(0), float64(l.v.Turn)*m.Before)
			for _, deg := range []float64{0, m.Before} {
				l.edge(Polar(c, r0, l.clock(deg)), Polar(c, rr+1.2, l.clock(deg)), 6)
			}
			way := float64(l.v.Turn) * math.Copysign(1, m.Before)
			l.avoid(new(Path).Arc(c, rr, l.clock(0), float64(l.v.Turn)*m.Before), 8)
			if narrowArc(rr, m.Before) { // its heads stand outside
				tail := 2 * arrowLong / rr * 180 / math.Pi * way
				l.avoid(new(Path).Arc(c, rr, l.clock(0), -tail), overWords)
				l.avoid(new(Path).Arc(c, rr, l.clock(m.Before), tail), overWords)
			}
			figures = append(figures, l.beside(m, rr))
		}
		style := distanceStyle(marks)
		at, _ := l.layCallouts(figures, style)
		l.callouts(figures, style, at)
	})
}

// distanceStyle is how distances are set: smaller where they are given in two units.
func distanceStyle(marks []DamperMark) TextStyle {
	t := Value.Sized(3.4).On(Sheet)
	for _, m := range marks {
		if Width(m.Distance, t) > 24 {
			return Value.Sized(2.7).On(Sheet)
		}
	}
	return t
}

// nameStyle is how names stand on the damper: smaller on a small one.
func (l *damperLayout) nameStyle() TextStyle {
	return TextStyle{Size: math.Min(math.Max(l.r*0.11, leastText), 3.2), Weight: Bold, Ground: Paper}
}

// inside gives the name of a mark whose tick ends at from every place within the ticks.
func (l *damperLayout) inside(from Point, text string) callout {
	out, style := callout{from: from, text: text}, l.nameStyle()
	w, h, most := Width(text, style), style.Size, l.r*0.875-0.4
	for y := -most; y <= most; y += 1.2 {
		for x := -most; x <= most; x += 1.2 {
			if math.Hypot(math.Abs(x)+w/2, math.Abs(y)+h/2) < most {
				out.places = append(out.places, Point{l.c.X + x, l.c.Y + y})
			}
		}
	}
	if len(out.places) == 0 {
		out.places = []Point{l.c}
	}
	return out
}

// reach is how far a box of w × h mm extends from its middle towards clock angle deg.
func reach(deg, w, h float64) float64 {
	s, k := sincos(deg)
	return math.Abs(s)*w/2 + math.Abs(k)*h/2
}

// beside gives the distance of a mark every place outside the rim, near its dimension line at radius r.
func (l *damperLayout) beside(m DamperMark, r float64) callout {
	t := distanceStyle(l.v.Marks)
	out := callout{text: l.d.fit(m.Distance, l.d.Width*0.7, t), from: Polar(l.c, r, l.clock(m.Before/2))}
	// Best at the end of the line that lies on the zero mark, beyond the heads where those stand outside.
	deg, way, tail := l.clock(0), -math.Copysign(float64(l.v.Turn), m.Before), 1.2
	if narrowArc(r, m.Before) {
		tail += 2 * arrowLong
	}
	end := Polar(Polar(l.c, r, deg), tail, deg+90*way)
	if first := Polar(end, 0.6+reach(deg+90*way, Width(out.text, t), t.Size*capHeight), deg+90*way); l.holds(first,
		out.text, t) {
		out.along, out.places = append(out.along, end), append(out.places, first)
	}
	for k := range 9 {
		out.along = append(out.along, Polar(l.c, r, l.clock(m.Before*(0.1+0.1*float64(k)))))
	}
	w, h := Width(out.text, t), t.Size
	for y := h/2 + 0.4; y < l.foot-h/2; y += 1.3 {
		for x := w/2 + 0.4; x <= l.d.Width-w/2-0.4; x += 1.3 {
			dx, dy := math.Max(math.Abs(x-l.c.X)-w/2, 0), math.Max(math.Abs(y-l.c.Y)-h/2, 0)
			if math.Hypot(dx, dy) > l.r+1 {
				out.places = append(out.places, Point{x, y})
			}
		}
	}
	if len(out.places) == 0 {
		out.places = []Point{{l.d.Width / 2, h}}
	}
	return out
}

// holds says whether words with their middle at a place stand on the field.
func (l *damperLayout) holds(at Point, text string, t TextStyle) bool {
	w, h := Width(text, t)/2, t.Size/2
	return at.X-w > 0.4 && at.X+w < l.d.Width-0.4 && at.Y-h > 0.2 && at.Y+h < l.foot
}
