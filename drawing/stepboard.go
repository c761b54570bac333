package drawing

import (
	"fmt"
	"math"
)

// stepBoard is the drawing of a step in the making: a field, and words below it.
type stepBoard struct {
	placer
	high float64 // of the field
}

// newStepBoard begins a drawing with a field of so many mm and the lines of words below it.
func newStepBoard(width, high float64, title, desc, prefix string, below []string) *stepBoard {
	var lines []string
	for _, s := range below {
		lines = append(lines, Wrap(s, width-2, Note)...)
	}
	step := Note.Size * LineHeight
	d := New(width, high+step*float64(len(lines))+1.5, title, desc)
	d.Prefix = prefix
	b := &stepBoard{placer{d: d}, high}
	for i, line := range lines {
		d.Text(width/2, high+step*float64(i+1)-0.4, line, Note.At(Middle, Baseline))
	}
	for _, s := range below {
		d.Heed(s)
	}
	return b
}

// unscaled are the words below a drawing that say from where it is seen and that it is not to scale, on as many lines
// as so many mm ask for.
func unscaled(view string, width float64) []string {
	const not = "not to scale"
	if Width(view+"; "+not, Note) <= width-2 {
		return []string{view + "; " + not}
	}
	return append(Wrap(view, width-2, Note), not)
}

// stepWidth says what is wrong with the width of a step's drawing, mm.
func stepWidth(where string, width float64) error {
	if !(width >= 80 && width <= 400) {
		return fmt.Errorf("%s – a width of %g mm cannot be drawn – use 80 to 400 mm", where, width)
	}
	return nil
}

// name sets words at the first of the places that is free, on the field.
func (b *stepBoard) name(s string, t TextStyle, places ...Point) {
	if s == "" {
		return
	}
	t = t.At(Middle, Centred)
	w, h := Width(s, t), t.Size*capHeight
	var on []Point
	for _, p := range places {
		p.X = math.Min(math.Max(p.X, w/2+0.6), b.d.Width-w/2-0.6)
		if p.Y-h/2 > 0.3 && p.Y+h/2+t.Size*descent < b.high {
			on = append(on, p)
		}
	}
	b.best(s, t, on)
}

// placesBy gives places for words round a point at clock angle deg: straight out first, then beside it and further out.
func placesBy(c Point, r, deg float64, text string, t TextStyle) (out []Point) {
	w, h := Width(text, t), t.Size*capHeight
	for _, far := range []float64{1.2, 2.5, 4, 6, 9, 13, 18} {
		for _, off := range []float64{0, 8, -8, 16, -16, 26, -26, 38, -38, 52, -52, 70, -70, 90, -90} {
			a := deg + off
			out = append(out, Polar(c, r+far+reach(a, w, h), a))
		}
	}
	return out
}

// drawn draws a path and keeps words off it.
func (b *stepBoard) drawn(p *Path, s Style) {
	b.d.Path(p, s)
	b.avoid(p, 50)
}

// bent draws an arrow along an arc, its head at the end; it says a movement.
func (b *stepBoard) bent(c Point, r, from, sweep, thick float64) {
	way := math.Copysign(1, sweep)
	long := math.Max(thick*4, arrowLong*1.4)
	head := math.Min(long/r*180/math.Pi, math.Abs(sweep)*0.6)
	b.drawn(new(Path).Arc(c, r, from, sweep-way*head*0.8), Style{Stroke: Ink, Width: thick})
	tip, half := Polar(c, r, from+sweep), math.Max(thick*1.5, 1)
	back := from + sweep - way*head
	b.drawn(Poly(tip, Polar(c, r+half, back), Polar(c, r-half, back)).Close(), Area(Ink))
}

// straightArrow draws an arrow from a to z.
func (b *stepBoard) straightArrow(a, z Point, thick float64) {
	long := math.Max(thick*4, arrowLong*1.4)
	deg := math.Atan2(z.X-a.X, a.Y-z.Y) * 180 / math.Pi
	back := Polar(z, long, deg+180)
	b.drawn(Poly(a, Polar(z, long*0.8, deg+180)), Style{Stroke: Ink, Width: thick})
	half := math.Max(thick*1.5, 1)
	b.drawn(Poly(z, Polar(back, half, deg+90), Polar(back, half, deg-90)).Close(), Area(Ink))
}

// LampLook is a signal lamp: a cross in a circle, with rays where it is lit.
type LampLook struct {
	Lit  bool
	Word string // beside it
}

// lampSign draws the lamp at p.
func (b *stepBoard) lampSign(p Point, r float64, lit bool) {
	id := "lamp-dark"
	if lit {
		id = "lamp-lit"
	}
	b.d.Group(Group{ID: id, Class: id}, func() {
		pen := Outline.Filled(Sheet)
		if !lit {
			pen = Outline.Filled(Wash)
		}
		b.drawn(CirclePath(p, r), pen)
		for _, deg := range []float64{45, 135} {
			a, z := Polar(p, r, deg), Polar(p, r, deg+180)
			b.d.Line(a.X, a.Y, z.X, z.Y, Fine)
		}
		for k := range 8 {
			if deg := float64(k) * 45; lit {
				a, z := Polar(p, r+0.9, deg), Polar(p, r+2.4, deg)
				b.drawn(Poly(a, z), Outline)
			}
		}
	})
}

const lampsHigh = 10.4 // mm, of a row of lamps with their rays

// lamps sets what lamps show, one after the other with an arrow between, centred on x.
func (b *stepBoard) lamps(x, y float64, looks []LampLook) {
	const r, gap, between = 2.6, 4.6, 11.0
	t := Label.Heavy()
	total := between * float64(len(looks)-1)
	for _, l := range looks {
		total += 2*r + gap + Width(l.Word, t)
	}
	x -= total / 2
	for i, l := range looks {
		if i > 0 {
			b.straightArrow(Point{x + 2, y}, Point{x + between - 4, y}, 0.5)
			x += between
		}
		b.lampSign(Point{x + r, y}, r, l.Lit)
		x += 2*r + gap
		b.set(x, y, l.Word, t.At(Start, Centred))
		x += Width(l.Word, t)
	}
}

// Below puts drawings of one width below each other.
func Below(title string, parts ...*Drawing) *Drawing {
	const gap = 3.0
	d := New(0, -gap, title, "")
	for _, p := range parts {
		if d.Desc != "" {
			d.Desc += " "
		}
		d.Width, d.Height, d.Desc, d.Prefix = math.Max(d.Width, p.Width), d.Height+gap+p.Height, d.Desc+p.Desc, p.Prefix
	}
	y := 0.0
	for _, p := range parts {
		d.Place(p, (d.Width-p.Width)/2, y)
		y += p.Height + gap
	}
	return d
}
