package drawing

import (
	"fmt"
	"math"
)

// UnitWay is which way a unit is moved along its shaft.
type UnitWay uint8

// The ways of a unit in its hole.
const (
	Seated UnitWay = iota
	LiftedOut
	LoweredIn
)

// UnitSide is the distributor from the side over its hole in the block: seat, shaft and drive.
type UnitSide struct {
	Width    float64 // mm
	Way      UnitWay
	Gear     bool    // a gear drives it; else a tongue
	Helix    float64 // of the teeth, degrees; 0: straight
	GapWords string  // of the gap under the flange, which is measured; empty: not shown
	Shims    int     // under the flange
	Oil      bool    // drops at teeth, shaft and seal
	Rag      bool    // in the hole
	Below    []string
	Prefix   string
}

// Draw lays the drawing out.
func (v UnitSide) Draw() (*Drawing, error) {
	const where = "distributor from the side"
	if err := stepWidth(where, v.Width); err != nil {
		return nil, err
	}
	if !(math.Abs(v.Helix) <= 80) || v.Shims < 0 || v.Shims > 40 {
		return nil, fmt.Errorf("%s – a helix of %g° and %d shims – give at most 80° and 0 to 40", where, v.Helix,
			v.Shims)
	}
	// the words stand to the right of the unit
	const seat, hole = 42.0, 8.0 // height of the seat on the sheet, half the hole's width
	b := newStepBoard(v.Width, 70, "Distributor from the side", v.describe(), v.Prefix,
		append([]string{"seen from the side; not to scale"}, v.Below...))
	d, x := b.d, math.Min(30, v.Width*0.42)
	up := 0.0
	switch {
	case v.Way != Seated:
		up = 15
	case v.GapWords != "":
		up = 3
	case v.Shims > 0:
		up = math.Min(float64(v.Shims), 6) * 0.9
	}
	d.Group(Group{ID: "block", Class: "block"}, func() {
		for _, side := range []float64{-1, 1} {
			p := Poly(Point{x + side*27, seat}, Point{x + side*hole, seat}, Point{x + side*hole, 67},
				Point{x + side*27, 67})
			d.Path(p, Area(Wash))
			b.drawn(p, Outline)
		}
	})
	y := seat - up
	d.Group(Group{ID: "unit", Class: "unit"}, func() {
		b.drawn(RectPath(x-13, y-20, 26, 17), Outline.Filled(Paper))
		b.drawn(RectPath(x-18, y-3, 36, 3), Outline.Filled(Paper))
		b.drawn(RectPath(x-hole+0.8, y, 2*hole-1.6, 9), Outline.Filled(Paper))
		b.drawn(RectPath(x-2, y+9, 4, 3), Outline.Filled(Sheet))
		d.Line(x-hole+0.8, y+4, x+hole-0.8, y+4, Heavy) // the sealing ring
		b.drawn(Poly(Point{x - 5, y - 22.5}, Point{x + 5, y - 22.5}), Heavy)
		d.Line(x, y-22.5, x, y-20, Outline)
	})
	v.drive(b, x, y+12)
	d.Line(x, y-25, x, 69, CentreLn)
	for i := range min(v.Shims, 6) {
		at := seat - 0.9*float64(i) - 0.45
		b.drawn(Poly(Point{x - 17, at}, Point{x - hole - 0.4, at}), Style{Stroke: Ink, Width: 0.6})
		b.drawn(Poly(Point{x + hole + 0.4, at}, Point{x + 17, at}), Style{Stroke: Ink, Width: 0.6})
	}
	v.moves(b, x, y, seat)
	return b.d, nil
}

func (v UnitSide) describe() string {
	s := "Distributor from the side over its hole in the block"
	switch v.Way {
	case LiftedOut:
		s += ", lifted out upwards"
	case LoweredIn:
		s += ", lowered into it"
	}
	if v.GapWords != "" {
		s += "; the gap between flange and seat: " + v.GapWords
	}
	if v.Shims > 0 {
		s += fmt.Sprintf("; %d shims under the flange", v.Shims)
	}
	return s + "."
}

// drive draws gear or tongue, its top at y.
func (v UnitSide) drive(b *stepBoard, x, y float64) {
	d := b.d
	if !v.Gear {
		d.Group(Group{ID: "tongue", Class: "drive"}, func() {
			b.drawn(RectPath(x-4, y, 8, 5), Outline.Filled(Sheet))
			b.drawn(RectPath(x-1.2, y+5, 2.4, 4), Outline.Filled(Wash))
		})
		return
	}
	d.Group(Group{ID: "gear", Class: "drive"}, func() {
		p := RectPath(x-6.5, y, 13, 9)
		b.drawn(p, Outline.Filled(Sheet))
		s, k := sincos(v.Helix)
		d.Group(Group{Class: "hatch", Clip: p}, func() {
			for i := -8; i <= 8; i++ {
				at := x + 1.8*float64(i)
				d.Line(at-s/math.Max(k, 0.2)*4.5, y+9, at+s/math.Max(k, 0.2)*4.5, y, Fine)
			}
		})
	})
}

// moves draws arrows, dimensions and drops, with their words.
func (v UnitSide) moves(b *stepBoard, x, y, seat float64) {
	side := x + 34
	words := func(s string, at float64) {
		room := b.d.Width - side - 3
		for i, line := range Wrap(s, room, Label) {
			b.set(side+3, at+float64(i)*4, line, Label.At(Start, Centred))
		}
	}
	switch v.Way {
	case LiftedOut:
		b.straightArrow(Point{side - 3, seat - 4}, Point{side - 3, seat - 24}, 1.1)
		words("lift it straight up", seat-14)
	case LoweredIn:
		b.straightArrow(Point{side - 3, seat - 24}, Point{side - 3, seat - 4}, 1.1)
		words("lower it", seat-14)
	}
	if v.GapWords != "" {
		at := x + 26
		b.drawn(Poly(Point{x + 18.5, y}, Point{at + 2, y}), Dimension)
		b.straightArrow(Point{at, y - 8}, Point{at, y}, 0.2)
		b.straightArrow(Point{at, seat + 8}, Point{at, seat}, 0.2)
		t := Value
		for t.Size > leastText && Width(v.GapWords, t) > b.d.Width-at-4.5 {
			t.Size -= 0.1
		}
		b.set(at+4, y-5.5, b.d.fit(v.GapWords, b.d.Width-at-4.5, t), t.At(Start, Centred))
	}
	if v.Shims > 0 {
		b.drawn(Poly(Point{x + 17.5, seat - 1}, Point{x + 24, seat - 8}), Dimension)
		b.set(x+25, seat-9, plural(v.Shims, "shim"), Value.At(Start, Centred))
	}
	if v.Oil {
		for _, p := range []Point{{x - 11, y + 17}, {x - 4.5, y + 10.8}, {x + 11, y + 3}} {
			drop := new(Path).Move(p.X, p.Y-2.2).Curve(Point{p.X + 2.6, p.Y + 1.2}, Point{p.X - 2.6, p.Y + 1.2},
				Point{p.X, p.Y - 2.2}).Close()
			b.d.Path(drop, Area(Ink))
		}
		words("oil teeth, shaft and seal", seat-25)
	}
	if v.Rag {
		p := new(Path).Move(x-7, seat+3).Curve(Point{x - 4, seat - 4}, Point{x + 4, seat - 4}, Point{x + 7, seat + 3}).
			Curve(Point{x + 4, seat + 9}, Point{x - 4, seat + 9}, Point{x - 7, seat + 3}).Close()
		b.drawn(p, Outline.Filled(Sheet))
		words("rag in the hole", seat-5)
	}
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}
