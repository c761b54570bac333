package drawing

import (
	"fmt"
	"math"
	"strconv"
)

// PlugRow is the plugs of an engine in a row, from the side.
type PlugRow struct {
	Width     float64 // mm
	Cylinders []int   // in the order of the row
	Out       bool    // taken out, else screwed in
	Clamp     int     // the cylinder whose wire carries the light's clamp; 0: none
	Wired     bool    // wires or coils are on
	Gap       string  // of the plugs, on a dimension line; empty: not shown
	Below     []string
	Prefix    string
}

// Draw lays the drawing out.
func (v PlugRow) Draw() (*Drawing, error) {
	const where = "plugs"
	if err := stepWidth(where, v.Width); err != nil {
		return nil, err
	}
	n := len(v.Cylinders)
	if n < 1 || n > 16 {
		return nil, fmt.Errorf("%s – %d plugs – give 1 to 16", where, n)
	}
	const head = 30.0 // height of the cylinder head on the sheet
	state := "in"
	if v.Out {
		state = "out, in their order"
	}
	desc := fmt.Sprintf("%s %s.", plural(n, "plug"), state)
	if v.Gap != "" {
		desc += " Gap: " + v.Gap + "."
	}
	if v.Clamp != 0 {
		desc += fmt.Sprintf(" The light's clamp is on the wire of cylinder %d.", v.Clamp)
	}
	high := head + 16
	if v.Gap != "" {
		high += 22
	}
	b := newStepBoard(v.Width, high, "Plugs", desc, v.Prefix, append(v.Below, "not to scale"))
	d := b.d
	room := math.Min((v.Width-4)/float64(n), 22)
	left := v.Width/2 - room*float64(n)/2
	p := Poly(Point{left, head}, Point{left + room*float64(n), head}, Point{left + room*float64(n), head + 8},
		Point{left, head + 8}).Close()
	d.Path(p, Outline.Filled(Wash))
	t := Label.Heavy()
	if room < 6 {
		t = t.Sized(leastText)
	}
	for i, cyl := range v.Cylinders {
		x := left + room*(float64(i)+0.5)
		lift := 0.0
		if v.Out {
			lift = 9
		}
		half := math.Min(1.6, room*0.2)
		d.Group(Group{ID: "plug-" + strconv.Itoa(cyl), Class: "plug"}, func() {
			d.Rect(x-half*1.3, head-lift-3, half*2.6, 3, Outline.Filled(Sheet))
			d.Rect(x-half*0.8, head-lift-9, half*1.6, 6, Outline.Filled(Sheet))
			if v.Out {
				d.Rect(x-half*0.9, head-lift, half*1.8, 4, Fine.Filled(Sheet))
				d.Line(x-half, head+0.1, x+half, head+0.1, Style{Stroke: Sheet, Width: 0.8})
			}
			if v.Wired {
				d.Line(x, head-lift-9, x, head-22, Outline)
			}
		})
		d.Text(x, head+4.2, strconv.Itoa(cyl), t.At(Middle, Centred))
		if cyl == v.Clamp {
			v.clampOn(b, x, head-16)
		}
	}
	b.set(v.Width/2, head+12.5, "cylinders", Note.At(Middle, Centred))
	if v.Gap != "" {
		v.gap(b, head+26)
	}
	return d, nil
}

// clampOn draws the light's clamp round a wire, with its cable.
func (v PlugRow) clampOn(b *stepBoard, x, y float64) {
	b.d.Group(Group{ID: "clamp", Class: "clamp"}, func() {
		b.d.Rect(x-2.4, y-1.6, 4.8, 3.2, Heavy.Filled(Sheet))
		way := 1.0
		if x > v.Width/2 {
			way = -1
		}
		end := Point{x + way*12, y - 9.5}
		b.d.Path(new(Path).Move(x+way*2.4, y).Curve(Point{x + way*8, y}, Point{x + way*6, y - 9.5}, end), Outline)
		words, a := "to the light", Start
		if way < 0 {
			a = End
		}
		b.set(end.X+way*1.2, end.Y, words, Label.Heavy().At(a, Centred))
	})
}

// gap draws the electrodes large, with the gap between them.
func (v PlugRow) gap(b *stepBoard, y float64) {
	x := v.Width/2 - 12
	b.d.Group(Group{ID: "gap", Class: "gap"}, func() {
		b.d.Polyline([]Point{{x - 8, y - 6}, {x - 8, y + 6}, {x + 4, y + 6}, {x + 4, y + 3}, {x - 5, y + 3}},
			Outline.Filled(Sheet))
		b.d.Rect(x-2, y-6, 4, 5, Outline.Filled(Sheet))
		for _, at := range []float64{y - 1, y + 3} {
			b.d.Line(x+2.6, at, x+12, at, Dimension)
		}
		b.straightArrow(Point{x + 10, y - 6}, Point{x + 10, y - 1}, 0.2)
		b.straightArrow(Point{x + 10, y + 8}, Point{x + 10, y + 3}, 0.2)
	})
	for i, line := range Wrap("gap "+v.Gap, v.Width-x-14.5, Value) {
		b.set(x+14, y+1+float64(i)*Value.Size*LineHeight, line, Value.At(Start, Centred))
	}
}
