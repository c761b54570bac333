package drawing

// Round is the engine from above, as one walks round it: belts and fan in front, what it drives behind.
type Round struct {
	Width  float64 // mm
	Drive  string  // what it drives
	Apart  bool    // and that is out
	Walk   bool    // the way round it
	Kill   bool    // one hand at the kill
	Cable  bool    // leads and the light's cable, laid clear of belts and fan
	Keep   string  // who stays behind a line; empty: nobody
	Beside []string
	Below  []string
	Prefix string
}

// Draw lays the drawing out.
func (v Round) Draw() (*Drawing, error) {
	if err := stepWidth("round the engine", v.Width); err != nil {
		return nil, err
	}
	high := 62.0
	b := newStepBoard(v.Width, high, "Round the engine", v.describe(), v.Prefix,
		append(unscaled("seen from above; hatched: belts and fan", v.Width), v.Below...))
	d := b.d
	x, y := v.Width/2-5, 30.0
	d.Group(Group{ID: "engine", Class: "engine"}, func() {
		b.drawn(RectPath(x-17, y-10, 34, 20), Outline.Filled(Paper))
		belts := RectPath(x-24, y-11, 7, 22)
		d.hatched(belts, Outline)
		b.avoid(belts, 50)
	})
	b.set(x, y, "engine", Label.At(Middle, Centred))
	b.name("front", Note, Point{x - 20.5, y - 14}, Point{x - 20.5, y + 14})
	v.behind(b, x, y)
	if v.Walk {
		d.Group(Group{ID: "walk", Class: "walk"}, func() {
			const out = 8.0
			p := new(Path).Move(x-12, y+10+out).Line(x-24, y+10+out)
			p.Arc(Point{x - 24, y + 10}, out, 180, 90).Line(x-32, y-10).Arc(Point{x - 24, y - 10}, out, 270, 90).
				Line(x+30, y-18)
			b.drawn(p, Heavy.Dashed(Dashed))
			b.straightArrow(Point{x + 29, y - 18}, Point{x + 36, y - 18}, 0.6)
		})
		b.name("walk round, look", Label, Point{x - 2, y - 21.5})
	}
	if v.Kill {
		at := Point{x + 8, y + 14}
		b.drawn(Poly(Point{x + 8, y + 10}, Point{x + 8, y + 11.6}), Outline)
		b.drawn(CirclePath(at, 2.4), Heavy.Filled(Sheet))
		b.drawn(CirclePath(at, 1.1), Area(Ink))
		b.name("one hand at the kill", Label, Point{x + 9, y + 20.5}, Point{x, y + 20.5})
	}
	if v.Cable {
		p := new(Path).Move(x+6, y-10).Curve(Point{x + 6, y - 17}, Point{x + 16, y - 17}, Point{x + 22, y - 17})
		b.drawn(p, Heavy)
		b.name("wires laid clear", Label, Point{x + 22, y - 20.6})
	}
	if v.Keep != "" {
		b.drawn(Poly(Point{4, y + 17}, Point{v.Width - 4, y + 17}), Heavy.Dashed(Dashed))
		b.name(v.Keep, Label.Heavy(), Point{v.Width / 2, y + 22})
	}
	for i, s := range v.Beside {
		b.set(v.Width/2, 4+4.2*float64(i), d.fit(s, v.Width-2, Label), Label.At(Middle, Centred))
	}
	return d, nil
}

// behind draws what the engine drives, joined or apart.
func (v Round) behind(b *stepBoard, x, y float64) {
	gap, id := 0.0, "joined"
	if v.Apart {
		gap, id = 5, "apart"
	}
	left := x + 17 + gap
	b.d.Group(Group{ID: "drive-" + id, Class: "drive"}, func() {
		b.drawn(Poly(Point{x + 17, y - 3}, Point{x + 19, y - 3}, Point{x + 19, y + 3}, Point{x + 17, y + 3}), Outline)
		b.drawn(RectPath(left+2, y-5, 14, 10), Outline.Filled(Paper))
	})
	b.name(v.Drive, Label, Point{left + 9, y + 8.6}, Point{left + 9, y - 8.6})
}

func (v Round) describe() string {
	s := "Engine from above, belts and fan in front; behind it: " + v.Drive + "."
	if v.Walk {
		s += " Walk round it."
	}
	if v.Kill {
		s += " One hand at the kill."
	}
	if v.Cable {
		s += " Wires lie clear of belts and fan."
	}
	if v.Keep != "" {
		s += " " + v.Keep + "."
	}
	return s
}
