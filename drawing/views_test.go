package drawing

import (
	"math"
	"testing"
)

// straight returns the two-point lines of the group with the id, in mm on the sheet.
func straight(d *Drawing, id string) [][2]Point {
	var out [][2]Point
	var walk func(g *group, m matrix, in bool)
	walk = func(g *group, m matrix, in bool) {
		for _, part := range g.parts {
			switch p := part.(type) {
			case *group:
				walk(p, m.then(placed(p.X, p.Y, p.Turn)), in || p.ID == id)
			case *shape:
				if in && len(p.path.segs) == 2 && p.path.segs[1].kind == segLine {
					out = append(out, [2]Point{m.apply(p.path.segs[0].to), m.apply(p.path.segs[1].to)})
				}
			}
		}
	}
	walk(&d.root, identity(), false)
	return out
}

func circles(d *Drawing, id string) []segment {
	var out []segment
	var walk func(g *group, in bool)
	walk = func(g *group, in bool) {
		for _, part := range g.parts {
			switch p := part.(type) {
			case *group:
				walk(p, in || p.ID == id)
			case *shape:
				for _, s := range p.path.segs {
					if in && s.kind == segArc {
						out = append(out, s)
					}
				}
			}
		}
	}
	walk(&d.root, false)
	return out
}

// TestDamperSides: an angle before TDC lies ahead of the zero mark in the direction of
// rotation. Seen from the front, pointer at the top: a clockwise engine's 60° mark is at two
// o'clock, a counterclockwise engine's at ten o'clock; after TDC the other way (common practice).
func TestDamperSides(t *testing.T) {
	for _, c := range []struct {
		turn    Turn
		pointer float64
		before  float64
		oclock  float64
	}{
		{Clockwise, 0, 60, 2}, {Counterclockwise, 0, 60, 10},
		{Clockwise, 0, -30, 11}, {Counterclockwise, 0, -30, 1},
		{Clockwise, 30, 60, 3}, {Counterclockwise, 30, 60, 11},
	} {
		d, err := DamperView{Width: 90, Turn: c.turn, Pointer: c.pointer, Marks: []DamperMark{{c.before, "m", ""}}}.Draw()
		if err != nil {
			t.Fatal(err)
		}
		body := circles(d, "damper")[0]
		ticks := straight(d, "marks")
		if len(ticks) != 2 {
			t.Fatalf("%d ticks, want the zero mark and one more", len(ticks))
		}
		p := ticks[1][0]
		// A clock hand: o'clock counts 30° each, clockwise, from straight up.
		want := Point{body.a.X + body.r*math.Sin(c.oclock*math.Pi/6), body.a.Y - body.r*math.Cos(c.oclock*math.Pi/6)}
		if math.Hypot(p.X-want.X, p.Y-want.Y) > 0.01 {
			t.Errorf("%s, pointer %g°, %g° before: mark at %v, want %v (%g o'clock)", c.turn, c.pointer, c.before, p, want, c.oclock)
		}
	}
}

// TestCapOrder: with the rotor, the wires follow the firing order. Six towers, first
// at the top, rotor clockwise seen from above, order 1 5 3 6 2 4: cylinder 5 at two o'clock.
func TestCapOrder(t *testing.T) {
	for _, c := range []struct {
		turn     Turn
		cylinder string
		oclock   float64
	}{
		{Clockwise, "1", 0}, {Clockwise, "5", 2}, {Clockwise, "6", 6}, {Clockwise, "4", 10},
		{Counterclockwise, "1", 0}, {Counterclockwise, "5", 10}, {Counterclockwise, "6", 6}, {Counterclockwise, "4", 2},
	} {
		d, err := CapMap{Width: 90, Turn: c.turn, Order: []int{1, 5, 3, 6, 2, 4}}.Draw()
		if err != nil {
			t.Fatal(err)
		}
		cap, tower := circles(d, "cap")[0], circles(d, "tower-"+c.cylinder)[0]
		got := math.Atan2(tower.a.X-cap.a.X, cap.a.Y-tower.a.Y) * 6 / math.Pi
		if math.Abs(math.Mod(got-c.oclock+18, 12)-6) > 0.001 {
			t.Errorf("%s: cylinder %s at %.2f o'clock, want %g", c.turn, c.cylinder, got, c.oclock)
		}
	}
}

// TestSweepSeen: what the light must show stands on the rotor's side of the terminal, whichever way it turns.
func TestSweepSeen(t *testing.T) {
	for _, turn := range []Turn{Clockwise, Counterclockwise} {
		d, err := RotorSweep{Width: 90, Radius: 27, AirGap: 1, TipWidth: 9, TerminalWidth: 7, Neighbours: 60, Turn: turn, From: -5, To: 11, Seen: []float64{4}}.Draw()
		if err != nil {
			t.Fatal(err)
		}
		arc := circles(d, "seen")[0]
		if mid := arc.start + arc.sweep/2; math.Abs(mid-float64(turn)*4) > 1e-6 {
			t.Errorf("turning %s the tip is shown at %.2f°, want %v°", turn, mid, float64(turn)*4)
		}
	}
}

// TestSweepToScale: on a drawing at 2 : 1 a 9 mm tip on a 27 mm radius spans 19.1°, and
// the tip's corners stand 54 mm from the centre.
func TestSweepToScale(t *testing.T) {
	d, err := RotorSweep{Width: 180, Scale: 2, Radius: 27, AirGap: 1, TipWidth: 9, TerminalWidth: 7, Neighbours: 60, Turn: Clockwise, From: -5, To: 11}.Draw()
	if err != nil {
		t.Fatal(err)
	}
	arcs := circles(d, "sweep")
	var tip segment
	for _, a := range arcs[2:] { // after the tinted field
		if math.Abs(a.r-54) < 1e-9 {
			tip = a
			break
		}
	}
	if arc := tip.r * math.Abs(tip.sweep) * math.Pi / 180; math.Abs(arc-18) > 1e-6 {
		t.Errorf("the tip is %.3f mm long at 2 : 1, want 18", arc)
	}
	if mid := tip.start + tip.sweep/2; math.Abs(mid+5) > 1e-6 {
		t.Errorf("the first tip stands at %.2f°, want −5", mid)
	}
	nearest := math.Inf(1)
	for _, a := range circles(d, "terminals") {
		nearest = math.Min(nearest, a.r)
	}
	if math.Abs(nearest-56) > 1e-9 { // (27 + 1) mm at 2 : 1
		t.Errorf("terminals begin %.3f mm from the centre, want 56", nearest)
	}
}

// TestOverlapIsFound: the bookkeeping must see words that lie over each other.
func TestOverlapIsFound(t *testing.T) {
	d := New(100, 100, "", "")
	d.Text(10, 10, "first words", Body)
	d.Text(12, 11, "second words", Body)
	d.Text(10, 20, "third words", Body)
	d.Text(60, 60, "on end", Body.Turned(90))
	d.Text(50, 62, "across it", Body)
	d.Text(95, 95, "off the sheet", Body)
	if got := len(d.Clashes()); got != 2 {
		t.Errorf("%d clashes found, want 2: %v", got, d.Clashes())
	}
	if got := d.Outside(); len(got) != 1 || got[0].Text != "off the sheet" {
		t.Errorf("outside: %v", got)
	}
}

// TestVerdictShapes: the three verdicts differ by shape, not by colour.
func TestVerdictShapes(t *testing.T) {
	count := func(v Verdict) (arcs, lines, filled int) {
		d := New(10, 10, "", "")
		d.Mark(Point{5, 5}, 4, v, Ink)
		for _, p := range d.root.parts[0].(*group).parts {
			s := p.(*shape)
			if s.style.Fill == Ink {
				filled++
			}
			for _, g := range s.path.segs {
				switch g.kind {
				case segArc:
					arcs++
				case segLine:
					lines++
				}
				if g.kind == segMove || g.kind == segLine {
					if math.Abs(g.to.X-5) > 2 || math.Abs(g.to.Y-5) > 2 {
						t.Errorf("%s: the mark leaves its 4 mm at %v", v.Word(), g.to)
					}
				}
			}
		}
		return
	}
	if a, l, f := count(IsFine); a != 1 || l != 0 || f != 0 {
		t.Errorf("fine is an open circle, got %d arcs, %d lines, %d filled", a, l, f)
	}
	if a, l, f := count(IsCaution); a != 0 || l != 6 || f != 0 {
		t.Errorf("caution is a hatched square, got %d arcs, %d lines, %d filled", a, l, f)
	}
	if a, l, f := count(IsStop); a != 0 || l != 3 || f != 1 {
		t.Errorf("stop is a filled square, got %d arcs, %d lines, %d filled", a, l, f)
	}
}

// middle returns the middle of the box of the words.
func middle(t *testing.T, d *Drawing, text string) Point {
	t.Helper()
	for _, b := range d.TextBoxes() {
		if b.Text == text {
			lo, hi := b.extent()
			return Point{(lo.X + hi.X) / 2, (lo.Y + hi.Y) / 2}
		}
	}
	t.Fatalf("%q is not on the drawing", text)
	return Point{}
}

// TestChartPlaces: a point at 1 000 rpm and +1° stands over the word 1 000 and level with
// the word +1; early is up, fast is right.
func TestChartPlaces(t *testing.T) {
	for _, scale := range []Scale{Linear, Log} {
		d, err := Chart{Width: 120, X: Axis{Min: 100, Max: 10000, Scale: scale, Ticks: []float64{100, 1000, 10000}},
			Panels: []Panel{{Y: Axis{Min: -2, Max: 2, Sign: PlusMinus, Ticks: []float64{-2, -1, 0, 1, 2}}, Marks: []Mark{{X: 1000, Y: 1, U: 0.5, Kind: Reading}}}}}.Draw()
		if err != nil {
			t.Fatal(err)
		}
		x, y := middle(t, d, "1\u2009000"), middle(t, d, "+1")
		var up, across [2]Point
		var walk func(g *group)
		walk = func(g *group) {
			for _, part := range g.parts {
				switch p := part.(type) {
				case *group:
					if p.Class == "points" {
						up = [2]Point{p.parts[0].(*shape).path.segs[0].to, p.parts[0].(*shape).path.segs[1].to}
						across = [2]Point{p.parts[1].(*shape).path.segs[0].to, p.parts[1].(*shape).path.segs[1].to}
					}
					walk(p)
				}
			}
		}
		walk(&d.root)
		if math.Abs(up[0].X-x.X) > 0.01 || math.Abs(up[1].X-x.X) > 0.01 {
			t.Errorf("the point stands at x = %.3f, its number at %.3f", up[0].X, x.X)
		}
		// Words are centred on their capitals; the box reaches a descent lower.
		if level := y.Y - tickSize*descent/2; math.Abs(across[0].Y-level) > 0.01 {
			t.Errorf("the point stands at y = %.3f, its number at %.3f", across[0].Y, level)
		}
		step := middle(t, d, "0").Y - middle(t, d, "+1").Y
		if bar := math.Abs(up[0].Y - up[1].Y); step <= 0 || math.Abs(bar-step) > 0.01 {
			t.Errorf("an error bar of ± 0.5° is %.3f mm long where 1° is %.3f mm upwards", bar, step)
		}
		if middle(t, d, "10\u2009000").X < x.X {
			t.Error("faster is not to the right")
		}
	}
}

// TestTracePlaces: an edge at 180° lies midway between 0 and 360.
func TestTracePlaces(t *testing.T) {
	d, err := SignalChart{Width: 120, From: 0, To: 360, Tracks: []Track{{Name: "crank", High: []Span{{90, 180, ""}}}}}.Draw()
	if err != nil {
		t.Fatal(err)
	}
	var xs []float64
	var walk func(g *group)
	walk = func(g *group) {
		for _, part := range g.parts {
			switch p := part.(type) {
			case *group:
				walk(p)
			case *shape:
				if len(p.path.segs) == 6 { // the trace: low, up, high, down, low
					for _, s := range p.path.segs {
						xs = append(xs, s.to.X)
					}
				}
			}
		}
	}
	walk(&d.root)
	for i, word := range map[int]string{0: "0", 1: "90", 2: "90", 3: "180", 4: "180", 5: "360"} {
		if len(xs) != 6 || math.Abs(xs[i]-middle(t, d, word).X) > 0.01 {
			t.Errorf("corner %d of the trace is not at %s°: %v", i, word, xs)
		}
	}
}

// TestWheelSides: on the wheel too, before TDC lies ahead in the direction of rotation.
func TestWheelSides(t *testing.T) {
	for _, turn := range []Turn{Clockwise, Counterclockwise} {
		d, err := WheelFace{Diameter: 180, Turn: turn, Marks: []TapeMark{{60, "lead"}}}.Page()
		if err != nil {
			t.Fatal(err)
		}
		for _, word := range []string{"before TDC", "lead"} {
			if right := middle(t, d, word).X > 105; right != (turn == Clockwise) {
				t.Errorf("%s: %q stands at %.0f mm", turn, word, middle(t, d, word).X)
			}
		}
	}
}
