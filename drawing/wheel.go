package drawing

import (
	"fmt"
	"math"
	"slices"
	"strings"
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
		"scale 1 : 1; seen from the front; the crank turns "+f.Turn.String(), Body.Painted(Soft))
	d.Line(pageMargin, pageMargin+10.5, w-pageMargin, pageMargin+10.5, Style{Stroke: Ink, Width: 0.3})
	c := Point{w / 2, pageMargin + 17 + f.Diameter*k/2}
	below := ""
	d.As(&Tag{Role: RolePicture, Alt: d.Desc}, func() { below = f.face(d, c, f.Diameter*k/2, k) })
	y := c.Y + f.Diameter*k/2 + 8
	tape := Tape{Measured: f.Measured, Lengths: f.Lengths}
	list := []string{"Print at 100 %, “fit to page” off. " + tape.measure(),
		"Turn the crank by hand, with coil and injector power off and the plugs out.",
		"Find zero with a piston stop: turn gently each way until the piston touches. Zero lies midway between the " +
			"two readings.",
		"Take the stop out. From then on turn only in the running direction, " + f.Turn.String() + "."}
	if below != "" {
		list = append(list, below)
	}
	body := Body.Sized(2.9)
	for i, s := range list {
		d.Text(inside, y, fmt.Sprint(i+1), body.Heavy())
		y = d.Lines(inside+5, y, w-2*inside-5, s, body) + 0.7
	}
	block := [][]Cell{{{"engine", f.Name, 2}, {"diameter", f.Lengths.of(f.Diameter, places(f.Diameter)), 1},
		{"crank, seen from the front", f.Turn.String(), 1.6}}, append(slices.Clone(f.Identity), pageOf(1, 1))}
	foot := TitleHeight(w-2*pageMargin, block...)
	tape.check(d, math.Max(y-4, h-pageMargin-foot-tape.checkRoom()))
	d.TitleBlock(pageMargin, h-pageMargin-foot, w-2*pageMargin, block...)
	SayUnprinted([]*Drawing{d})
	return d, nil
}

// face draws the wheel and returns what is to stand below it.
func (f WheelFace) face(d *Drawing, c Point, r, k float64) (below string) {
	turn := float64(f.Turn)
	p := &placer{d: d}
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
				p.set(at.X, at.Y, text, t.At(Middle, Centred).Turned(turn*float64(deg)))
			}
		}
		hole := math.Max(f.Hole*k/2, 6.5)
		arrow := math.Max(r*0.36, hole+4)
		turnArrow(d, c, arrow, 150*turn, 60, f.Turn)
		p.avoid(new(Path).Arc(c, arrow, 145*turn, 80*turn), overWords)
		d.Line(c.X-6, c.Y, c.X+6, c.Y, Fine)
		d.Line(c.X, c.Y-6, c.X, c.Y+6, Fine)
		if f.Hole > 0 {
			d.Circle(c, f.Hole*k/2, Fine)
		}
		p.avoid(CirclePath(c, hole), overWords)
		p.edge(Point{c.X - hole, c.Y}, Point{c.X + hole, c.Y}, 200)
		for _, side := range []struct {
			deg  float64
			word string
		}{{90, "before TDC"}, {-90, "after TDC"}} {
			mid := (hole + r - wheelFigures) / 2
			at := Polar(c, mid, turn*side.deg)
			lines := Wrap(side.word, r-wheelFigures-wheelArrow-hole-2, Label.Heavy())
			for i, line := range lines {
				y := at.Y + 4.2*(float64(i)-float64(len(lines)-1)/2)
				p.set(at.X, y, line, Label.Heavy().At(Middle, Centred))
			}
		}
	})
	return f.marks(p, c, r)
}

// wheelFigures is how far the ticks and figures reach in from the rim, mm.
const wheelFigures = 15.0

// marks draws a strong tick and an arrowhead at each mark, and its name inside the figures. Where names have no room
// the arrowheads carry letters, and the names are returned to stand below the wheel.
func (f WheelFace) marks(p *placer, c Point, r float64) (below string) {
	p.d.Group(Group{ID: "marks", Class: "marks"}, func() {
		names, keys := make([]callout, len(f.Marks)), make([]callout, len(f.Marks))
		for i, m := range f.Marks {
			deg := float64(f.Turn) * m.Before
			at, in := Polar(c, r, deg), Polar(c, r-6.5, deg)
			p.d.Line(at.X, at.Y, in.X, in.Y, Style{Stroke: Ink, Width: 0.5})
			p.d.arrow(Polar(c, r-wheelFigures, deg), deg, wheelArrow, Ink)
			from := Polar(c, r-wheelFigures-wheelArrow, deg)
			p.avoid(Poly(from, Polar(c, r-wheelFigures, deg)), overWords)
			p.d.Heed(m.Label)
			names[i], keys[i] = callout{from: from, text: m.Label}, callout{from: from, text: letter(i + 1)}
			below += "; " + letter(i+1) + ": " + m.Label
		}
		f.within(names, c, r)
		if at, ok := p.layCallouts(names, Label); ok {
			p.callouts(names, Label, at)
			below = ""
			return
		}
		f.within(keys, c, r)
		at, _ := p.layCallouts(keys, Label.Heavy())
		p.callouts(keys, Label.Heavy(), at)
		below = "Marks" + strings.Replace(below, "; ", ": ", 1) + "."
	})
	return below
}

const wheelArrow = 3.0 // mm long

// within gives each name every place inside the arrowheads where it fits.
func (f WheelFace) within(all []callout, c Point, r float64) {
	most := r - wheelFigures - wheelArrow
	for i := range all {
		w, h := Width(all[i].text, Label.Heavy()), Label.Size
		for y := -most; y <= most; y += 1.5 {
			for x := -most; x <= most; x += 2 {
				if math.Hypot(math.Abs(x)+w/2, math.Abs(y)+h/2) < most {
					all[i].places = append(all[i].places, Point{c.X + x, c.Y + y})
				}
			}
		}
	}
}
