package drawing

import (
	"fmt"
	"math"
	"slices"
	"strconv"
)

// CapMap shows the distributor cap from above: which cylinder's wire stands in
// which tower, and which way the rotor turns.
type CapMap struct {
	Width float64 // mm
	Turn  Turn    // of the rotor, seen from above the cap
	Order []int   // firing order, cylinder numbers, first the one at FirstAt
	// At holds each tower's shaft degrees after the first, in the order of Order.
	// Empty: evenly spaced.
	At      []float64
	FirstAt float64   // clock angle of the first tower
	Towers  []string  // names of the towers as the cap numbers them, in the order of Order; may be empty
	Pairs   [][2]int  // companion cylinders, joined by a line
	Rotor   []float64 // clock angle of the rotor, where it is to be shown; at most one
	Prefix  string
}

// Draw lays the map out.
func (m CapMap) Draw() (*Drawing, error) {
	const where = "cap map"
	if err := m.Turn.usable(where); err != nil {
		return nil, err
	}
	if !(m.Width >= 45 && m.Width <= 400) {
		return nil, fmt.Errorf("%s – a width of %g mm cannot be drawn – use 45 to 400 mm", where, m.Width)
	}
	n := len(m.Order)
	if n < 1 || n > 16 {
		return nil, fmt.Errorf("%s – %d towers – give a firing order of 1 to 16 cylinders", where, n)
	}
	if len(m.At) != 0 && len(m.At) != n {
		return nil, fmt.Errorf("%s – %d angles for %d towers – give one for each, or none", where, len(m.At), n)
	}
	if !finite(append([]float64{m.FirstAt}, m.At...)...) || !finite(m.Rotor...) {
		return nil, fmt.Errorf("%s – an angle is not a finite number – give degrees", where)
	}
	r := math.Min((m.Width-14)/2, 60)
	c := Point{m.Width / 2, r + 7}
	var lines []string
	for _, s := range m.words() {
		lines = append(lines, Wrap(s, m.Width-2, Note)...)
	}
	d := New(m.Width, c.Y+r+7+float64(len(lines))*Note.Size*LineHeight+1, "Cap map", m.describe())
	d.Prefix = m.Prefix
	m.draw(d, c, r)
	y := c.Y + r + 9
	for _, s := range lines {
		d.Text(m.Width/2, y, s, Note.At(Middle, Baseline))
		y += Note.Size * LineHeight
	}
	return d, nil
}

func (m CapMap) words() []string {
	lines := append(unscaled("seen from above; the rotor turns "+m.Turn.String(), m.Width),
		"from No. "+strconv.Itoa(m.Order[0])+" with the rotor: "+m.order())
	if len(m.Towers) > 0 {
		lines = append(lines, "small figures: the towers as the cap numbers them")
	}
	return lines
}

func (m CapMap) order() string {
	s := ""
	for i, n := range m.Order {
		if i > 0 {
			s += " "
		}
		s += strconv.Itoa(n)
	}
	return s
}

func (m CapMap) describe() string {
	return fmt.Sprintf("Distributor cap from above with %d towers. The rotor turns %s. From the tower of "+
		"cylinder %d, with the rotor: %s.", len(m.Order), m.Turn, m.Order[0], m.order())
}

// angle returns the clock angle of tower i.
func (m CapMap) angle(i int) float64 {
	at := 360 * float64(i) / float64(len(m.Order))
	if len(m.At) > 0 {
		at = m.At[i]
	}
	return m.FirstAt + float64(m.Turn)*at
}

func (m CapMap) draw(d *Drawing, c Point, r float64) {
	n, p := len(m.Order), &placer{d: d}
	ring := r * 0.79 // on which the towers stand
	tower := math.Min(r*0.16, ring*math.Sin(math.Pi/float64(max(n, 2)))*0.86)
	tower = math.Max(tower, 1.8)
	d.Group(Group{ID: "cap", Class: "cap"}, func() {
		d.Circle(c, r, Outline.Filled(Paper))
		d.Circle(c, r*0.56, Fine)
	})
	place := map[int]Point{}
	for i, cyl := range m.Order {
		place[cyl] = Polar(c, ring, m.angle(i))
	}
	d.Group(Group{ID: "pairs", Class: "pairs"}, func() {
		for _, pair := range m.Pairs {
			a, okA := place[pair[0]]
			b, okB := place[pair[1]]
			if okA && okB {
				d.Line(a.X, a.Y, b.X, b.Y, Style{Stroke: Soft, Width: 0.18, Dash: Dashed})
			}
		}
	})
	number := TextStyle{Size: 5.5, Weight: Bold}
	widest := strconv.Itoa(slices.Max(m.Order))
	for number.Size > leastText && math.Hypot(Width(widest, number)/2, number.Size*(capHeight/2+descent)) > tower-0.2 {
		number.Size -= 0.1
	}
	small := TextStyle{Size: math.Max(math.Min(tower*0.8, 2.75), leastText), Paint: Soft}
	arrow := r * 0.36 // inside the names of the towers
	for _, name := range m.Towers {
		arrow = math.Min(arrow, ring-tower-1.8-Width(name, small)-arrowWide*1.5)
	}
	arrow = math.Max(arrow, r*0.2)
	turnArrow(d, c, arrow, m.FirstAt+float64(m.Turn)*25, 100, m.Turn)
	if len(m.Rotor) > 0 {
		rotorArm(d, c, ring-tower-0.8, m.Rotor[0])
	} else {
		d.Circle(c, r*0.07, Fine.Filled(Sheet))
	}
	for i, cyl := range m.Order {
		at := Polar(c, ring, m.angle(i))
		d.Group(Group{ID: "tower-" + strconv.Itoa(cyl), Class: "tower",
			Label: "tower of cylinder " + strconv.Itoa(cyl)}, func() {
			d.Circle(at, tower, Outline.Filled(Sheet))
			if i == 0 {
				d.Circle(at, tower+0.9, Fine)
			}
			d.Text(at.X, at.Y, strconv.Itoa(cyl), number.At(Middle, Centred))
			if i < len(m.Towers) && m.Towers[i] != "" {
				name := d.fit(m.Towers[i], r*0.5, small)
				deg := m.angle(i)
				q := Polar(c, ring-tower-1.8, deg)
				s, k := sincos(deg)
				q.X, q.Y = q.X-s*Width(name, small)/2, q.Y+k*small.Size*capHeight/2
				style := small.At(Middle, Centred).On(Paper)
				if box := boxAt(q.X, q.Y, name, style); m.clear(box, c, ring, tower, arrow) {
					p.ifFree(q.X, q.Y, name, style)
				}
			}
		})
	}
}

// clear says whether the name of a tower stands off the circles of the towers and the rotor's arrow.
func (m CapMap) clear(box TextBox, c Point, ring, tower, arrow float64) bool {
	if q := box.rect().nearest(c); math.Hypot(q.X-c.X, q.Y-c.Y) < arrow+arrowWide {
		return false
	}
	for i := range m.Order {
		at := Polar(c, ring, m.angle(i))
		if q := box.rect().nearest(at); math.Hypot(q.X-at.X, q.Y-at.Y) < tower+0.2 {
			return false
		}
	}
	return true
}

// turnArrow draws an arc with a head at its end, showing a direction of rotation.
func turnArrow(d *Drawing, c Point, r, from, sweep float64, t Turn) {
	d.Group(Group{ID: "rotation", Class: "rotation"}, func() {
		w := float64(t)
		d.Arc(c, r, from, w*sweep, Style{Stroke: Soft, Width: 0.5})
		head := arrowLong * 1.3 / r * 180 / math.Pi
		end := from + w*(sweep+head)
		d.arrow(Polar(c, r, end), end+w*(90-head/2), arrowLong*1.5, Ink)
	})
}

// rotorArm draws the rotor, its tip at radius r from c, pointing along clock angle
// deg. It is drawn upright about its own origin: the page turns the group.
func rotorArm(d *Drawing, c Point, r, deg float64) {
	d.Group(Group{ID: "rotor", Class: "rotor", X: c.X, Y: c.Y, Turn: deg}, func() {
		w, tail := r*0.1, r*0.22
		p := new(Path).Move(-w*1.4, tail*0.7).Line(-w*0.55, -r).Line(w*0.55, -r).Line(w*1.4, tail*0.7)
		p.Curve(Point{w * 1.1, tail * 1.3}, Point{-w * 1.1, tail * 1.3}, Point{-w * 1.4, tail * 0.7}).Close()
		d.Path(p, Outline.Filled(Sheet))
		d.Circle(Point{}, r*0.07, Fine)
	})
}
