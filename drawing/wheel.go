package drawing

import (
	"fmt"
	"math"
	"slices"
)

// WheelFace is a degree wheel, true to scale, for the crank's front end, read at a
// fixed pointer. Degrees before TDC lie ahead of zero in the direction of rotation.
type WheelFace struct {
	Name     string
	Diameter float64 // mm, of the circle that the ticks stand on
	Hole     float64 // mm, diameter of the hole; 0: a cross alone
	Turn     Turn    // seen from the front
	Marks    []TapeMark
	Sheet    SheetSize // used upright
	Measured float64   // as for Tape
	Lengths  Lengths
	Identity []Cell // as for Tape
}

// Page returns the wheel on one sheet.
func (f WheelFace) Page() (*Drawing, error) {
	const where = "degree wheel"
	if err := f.Turn.usable(where); err != nil {
		return nil, err
	}
	h, w := f.Sheet.landscape()
	k := 1.0
	if f.Measured != 0 {
		if !(f.Measured >= 90 && f.Measured <= 110) {
			return nil, fmt.Errorf("%s – a check line of %g mm – switch off the printer's own scaling and measure "+
				"again; 90 to 110 mm can be made up for", where, f.Measured)
		}
		k = checkLength / f.Measured
	}
	most := math.Floor((w - 2*pageMargin - 6) / k)
	if !(f.Diameter >= 80 && f.Diameter <= most) {
		return nil, fmt.Errorf("%s – a diameter of %g mm does not fit the sheet – give 80 to %g mm", where,
			f.Diameter, most)
	}
	if !(f.Hole >= 0 && f.Hole < f.Diameter*0.5) {
		return nil, fmt.Errorf("%s – a hole of %g mm – give less than half the wheel's diameter", where, f.Hole)
	}
	for _, m := range f.Marks {
		if !(math.Abs(m.Before) <= 180) {
			return nil, fmt.Errorf("%s – a mark at %g° – give −180 to 180 degrees before the zero mark", where,
				m.Before)
		}
	}
	d := New(w, h, "Degree wheel", fmt.Sprintf(
		"Degree wheel of %s diameter; the crank turns %s, seen from the front.",
		f.Lengths.of(f.Diameter, places(f.Diameter)), f.Turn))
	d.Reads = true
	d.Frame(pageMargin)
	d.Text(inside, pageMargin+7.5, "Degree wheel", Head.As(&Tag{Role: RoleTitle}))
	d.Text(inside+Width("Degree wheel", Head)+4, pageMargin+7.5,
		"seen from the front; the crank turns "+f.Turn.String(), Body.Painted(Soft))
	d.Line(pageMargin, pageMargin+10.5, w-pageMargin, pageMargin+10.5, Style{Stroke: Ink, Width: 0.3})
	c := Point{w / 2, pageMargin + 17 + f.Diameter*k/2}
	d.As(&Tag{Role: RolePicture, Alt: d.Desc}, func() { f.face(d, c, f.Diameter*k/2, k) })
	y := c.Y + f.Diameter*k/2 + 8
	y = d.Lines(inside, y, w-2*inside, "Print at 100 %, “fit to page” off, and measure the check line. Turn the "+
		"crank only in its running direction, by hand, with coil and injector power off and the plugs out. Set zero "+
		"by the piston stop: it lies midway between the two stop readings.", Body.Sized(2.9))
	tape := Tape{Measured: f.Measured, Lengths: f.Lengths}
	block := [][]Cell{{{"engine", f.Name, 2}, {"diameter", f.Lengths.of(f.Diameter, places(f.Diameter)), 1},
		{"crank, seen from the front", f.Turn.String(), 1.6}}, append(slices.Clone(f.Identity), pageOf(1, 1))}
	foot := TitleHeight(w-2*pageMargin, block...)
	tape.check(d, math.Max(y-4, h-pageMargin-foot-checkRoom))
	d.TitleBlock(pageMargin, h-pageMargin-foot, w-2*pageMargin, block...)
	SayUnprinted([]*Drawing{d})
	return d, nil
}

func (f WheelFace) face(d *Drawing, c Point, r, k float64) {
	turn := float64(f.Turn)
	d.Group(Group{ID: "wheel", Class: "wheel"}, func() {
		d.Circle(c, r, Style{Stroke: Soft, Width: 0.15, Dash: Dashed}) // cut here
		for deg := -179; deg <= 180; deg++ {
			in, pen := 3.0, tickPens[0]
			switch {
			case deg%10 == 0:
				in, pen = 6.5, tickPens[2]
			case deg%5 == 0:
				in, pen = 4.8, tickPens[1]
			}
			if deg == 0 {
				in, pen = 10, Style{Stroke: Ink, Width: 0.5}
			}
			a, b := Polar(c, r, turn*float64(deg)), Polar(c, r-in, turn*float64(deg))
			d.Line(a.X, a.Y, b.X, b.Y, pen)
			step := 10
			if r*math.Pi/18 < 8 {
				step = 30
			}
			if deg%step == 0 {
				t := TextStyle{Size: 3.2, Weight: Bold}
				text := Number(math.Abs(float64(deg)), 0)
				at := Polar(c, r-in-2.6, turn*float64(deg))
				if deg == 0 {
					text = "TDC"
				}
				d.Text(at.X, at.Y, text, t.At(Middle, Centred).Turned(turn*float64(deg)))
			}
		}
		for _, side := range []struct {
			deg  float64
			word string
		}{{90, "before TDC"}, {-90, "after TDC"}} {
			at := Polar(c, r*0.62, turn*side.deg)
			d.Text(at.X, at.Y, side.word, Label.Heavy().At(Middle, Centred))
		}
		for i, m := range f.Marks {
			deg := turn * m.Before
			in := r * (0.5 + 0.07*float64(i%3))
			a, b := Polar(c, r-10.5, deg), Polar(c, in, deg)
			d.Line(a.X, a.Y, b.X, b.Y, Style{Stroke: Ink, Width: 0.35})
			d.arrow(a, deg, 3, Ink)
			text := d.fit(m.Label, r*0.45, Label)
			s, k := sincos(deg)
			at := Polar(c, in-1.5, deg)
			d.Text(at.X-s*Width(text, Label)/2, at.Y+k*Label.Size*capHeight/2, text, Label.At(Middle, Centred))
		}
		turnArrow(d, c, r*0.36, 150*turn, 60, f.Turn)
		d.Line(c.X-6, c.Y, c.X+6, c.Y, Fine)
		d.Line(c.X, c.Y-6, c.X, c.Y+6, Fine)
		if f.Hole > 0 {
			d.Circle(c, f.Hole*k/2, Fine)
		}
	})
}
