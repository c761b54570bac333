package drawing

import "fmt"

// FuelPart is a part of the way that fuel takes.
type FuelPart struct {
	Kind  FuelKind
	Name  string
	State string // in a word or two
	Shut  bool   // a tap shut, a pump without its fuse, a line or bowl that is empty
}

// FuelKind is what a part of the way is.
type FuelKind uint8

// The parts.
const (
	FuelTank FuelKind = iota
	FuelTap
	FuelPump
	FuelEnd // bowl, rail or line at the engine
)

// FuelWay is the way of the fuel from tank to engine, and where it is shut.
type FuelWay struct {
	Width  float64 // mm
	Parts  []FuelPart
	Below  []string
	Prefix string
}

// Draw lays the drawing out.
func (v FuelWay) Draw() (*Drawing, error) {
	const where = "fuel"
	if err := stepWidth(where, v.Width); err != nil {
		return nil, err
	}
	n := len(v.Parts)
	if n < 2 || n > 5 {
		return nil, fmt.Errorf("%s – %d parts – give 2 to 5", where, n)
	}
	desc := "The way of the fuel."
	for _, p := range v.Parts {
		desc += " " + p.Name + ": " + p.State + "."
	}
	b := newStepBoard(v.Width, 34, "Way of the fuel", desc, v.Prefix, append(v.Below, "not to scale"))
	room := v.Width / float64(n)
	const y = 10.0
	for i, p := range v.Parts {
		x := room * (float64(i) + 0.5)
		if i > 0 {
			b.d.Line(x-room+6, y, x-6, y, Outline)
		}
		p.draw(b, i, x, y)
		for k, s := range []string{p.Name, p.State} {
			t := Note
			if k == 1 {
				t = Label.Heavy()
			}
			for row, line := range Wrap(s, room-1.5, t) {
				if row < 2 {
					b.set(x, 22+5.6*float64(k)+3.6*float64(row), line, t.At(Middle, Centred))
				}
			}
		}
	}
	return b.d, nil
}

func (p FuelPart) draw(b *stepBoard, i int, x, y float64) {
	d := b.d
	id := "open"
	if p.Shut {
		id = "shut"
	}
	d.Group(Group{ID: fmt.Sprintf("%s-%d", id, i+1), Class: id}, func() {
		switch p.Kind {
		case FuelTank, FuelEnd:
			d.Rect(x-6, y-7, 12, 14, Outline.Filled(Sheet))
			if !p.Shut {
				d.Rect(x-6, y-2, 12, 9, Outline.Filled(Tint))
			}
		case FuelTap: // two triangles, filled where shut
			pen := Outline.Filled(Sheet)
			if p.Shut {
				pen = Outline.Filled(Ink)
			}
			d.Polygon([]Point{{x - 6, y - 4}, {x, y}, {x - 6, y + 4}}, pen)
			d.Polygon([]Point{{x + 6, y - 4}, {x, y}, {x + 6, y + 4}}, pen)
			if p.Shut {
				d.Line(x, y, x, y-6, Heavy)
				d.Line(x-3.5, y-6, x+3.5, y-6, Heavy)
			} else {
				d.Line(x, y, x, y-6, Heavy)
				d.Line(x, y-6, x, y-8, Heavy)
			}
		case FuelPump:
			d.Circle(Point{x, y}, 6, Outline.Filled(Sheet))
			if p.Shut {
				d.Line(x-4.2, y-4.2, x+4.2, y+4.2, Heavy)
				d.Line(x-4.2, y+4.2, x+4.2, y-4.2, Heavy)
			} else {
				d.Polygon([]Point{{x - 3, y - 4}, {x + 5, y}, {x - 3, y + 4}}, Outline.Filled(Wash))
			}
		}
	})
}
