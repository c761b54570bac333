package drawing

import (
	"math"
	"strings"
	"testing"
)

// groups are all groups with the id.
func groups(d *Drawing, id string) (out []*group) {
	var walk func(g *group)
	walk = func(g *group) {
		for _, part := range g.parts {
			if in, ok := part.(*group); ok {
				if in.ID == id {
					out = append(out, in)
				}
				walk(in)
			}
		}
	}
	walk(&d.root)
	return out
}

func drawn(t *testing.T, v interface{ Draw() (*Drawing, error) }) *Drawing {
	t.Helper()
	d, err := v.Draw()
	if err != nil {
		t.Fatal(err)
	}
	legible(t, d.Title, d)
	for _, b := range d.Crossings() {
		t.Errorf("%s: a line crosses %q", d.Title, b.Text)
	}
	return d
}

// From above, clockwise is clockwise: the arrow of a clockwise turn runs clockwise, the rotor's tip stands at its clock
// angle, the pickup at its own; a lit lamp has rays, a dark one none.
func TestUnitAboveTurns(t *testing.T) {
	for _, way := range []Turn{Clockwise, Counterclockwise} {
		for _, rotor := range []float64{0, 75, 180, 201, 300} {
			v := UnitAbove{Width: 90, Turn: -way, Rotor: []float64{rotor}, No1: []float64{rotor + 10}, No1Words: "No. 1",
				Turns: []HousingTurn{{Way: way}}, Pickup: []float64{rotor + 180}, Begin: []float64{rotor + 180 - 20*float64(way)}, BeginWords: "begin here",
				Vanes: []VaneArc{{rotor + 180, 15}}, Lamps: []LampLook{{false, "high: off"}, {true, "low: on"}}}
			d := drawn(t, v)
			arrow := circles(d, "turn-"+way.String())[0]
			if (arrow.sweep > 0) != (way == Clockwise) {
				t.Errorf("the arrow of a %s turn sweeps %.1f°, clockwise positive", way, arrow.sweep)
			}
			if got := groups(d, "rotor")[0].Turn; got != rotor {
				t.Errorf("the rotor is drawn at %.1f°, want %.1f", got, rotor)
			}
			housing, pickup := circles(d, "housing")[0], circles(d, "pickup")[0]
			if mid := pickup.start + pickup.sweep/2; math.Abs(math.Mod(mid-rotor-180+1080, 360)) > 1e-6 && math.Abs(math.Mod(mid-rotor-180+1080, 360)-360) > 1e-6 {
				t.Errorf("the pickup stands at %.1f°, want %.1f", mid, rotor+180)
			}
			if pickup.a != housing.a || pickup.r >= housing.r {
				t.Error("the pickup is not in the housing")
			}
			if dark, lit := len(straight(d, "lamp-dark")), len(straight(d, "lamp-lit")); dark != 2 || lit != 10 {
				t.Errorf("the dark lamp has %d lines, the lit one %d; want the cross, and eight rays more", dark, lit)
			}
		}
	}
}

// With an angle before TDC at the pointer the zero mark has that far to go: behind the pointer, against the rotation.
// Clockwise, 60° before TDC at the top: zero at ten o'clock; counterclockwise: at two o'clock (common practice).
func TestDamperAtAnAngle(t *testing.T) {
	for turn, oclock := range map[Turn]float64{Clockwise: 10, Counterclockwise: 2} {
		d := drawn(t, DamperView{Width: 90, Turn: turn, At: 60, Light: true, Largest: 28, Within: 5, Marks: []DamperMark{{60, "60°", ""}, {0, "0", ""}}})
		body, ticks := circles(d, "damper")[0], straight(d, "marks")
		for i, at := range []float64{oclock, 12} {
			p, want := ticks[i][0], Polar(body.a, body.r, at*30)
			if math.Hypot(p.X-want.X, p.Y-want.Y) > 0.01 {
				t.Errorf("%s: tick %d at %v, want %v (%g o'clock)", turn, i, p, want, at)
			}
		}
		within := circles(d, "within")[0]
		if mid := within.start + within.sweep/2; math.Abs(mid) > 1e-9 || math.Abs(within.sweep) != 10 {
			t.Errorf("what may stand there spans %.1f° about %.1f°, want 10 about the pointer", within.sweep, mid)
		}
		if body.r > 28 {
			t.Errorf("radius %.1f mm, want 28 at most", body.r)
		}
	}
}

// What is pulled is drawn apart, what is fed is not; a meter stands where it is asked for; an open key is open.
func TestFeedDrawsWhatIsOut(t *testing.T) {
	d := drawn(t, Feed{Width: 90, Key: KeyAtOff, BatteryOff: true, Lines: []FeedLine{{"coil", true, "0 V"}, {"controller", false, ""}}})
	for id, want := range map[string]int{"out-1": 1, "fed-2": 1, "meter-1": 1, "meter-2": 0, "key-off": 1, "fed-1": 0} {
		if n := len(groups(d, id)); n != want {
			t.Errorf("%d of %q, want %d", n, id, want)
		}
	}
	key := straight(d, "key-off")[0]
	if key[0].Y == key[1].Y {
		t.Error("the key is off and its switch is shut")
	}
	if n := len(circles(d, "battery")); n != 2 {
		t.Errorf("the battery's lead has %d ends, want two apart", n)
	}
	want := "Battery off, key off. coil: feed out, meter: 0 V. controller: feed on."
	if d.Desc != want {
		t.Errorf("it says %q, want %q", d.Desc, want)
	}
}

// What a step cannot be drawn from is refused in words that say what can be.
func TestStepDrawingsRefuse(t *testing.T) {
	nan := math.NaN()
	for what, v := range map[string]interface{ Draw() (*Drawing, error) }{
		"above, no way": UnitAbove{Width: 90}, "above, narrow": UnitAbove{Width: 20, Turn: Clockwise},
		"above, no angle":   UnitAbove{Width: 90, Turn: Clockwise, Rotor: []float64{nan}},
		"above, two rotors": UnitAbove{Width: 90, Turn: Clockwise, Rotor: []float64{1, 2}},
		"above, many lamps": UnitAbove{Width: 90, Turn: Clockwise, Lamps: make([]LampLook, 3)},
		"side, helix":       UnitSide{Width: 90, Helix: nan}, "side, shims": UnitSide{Width: 90, Shims: -1}, "side, narrow": UnitSide{Width: 1},
		"feed, nothing": Feed{Width: 90}, "feed, narrow": Feed{Width: nan, Lines: make([]FeedLine, 1)},
		"fuel, nothing": FuelWay{Width: 90}, "fuel, narrow": FuelWay{Width: 1, Parts: make([]FuelPart, 2)},
		"plugs, none": PlugRow{Width: 90}, "plugs, narrow": PlugRow{Width: 1, Cylinders: []int{1}}, "round, narrow": Round{Width: 1},
		"firing, no lead": Firing{Width: 90, Lead: nan}, "firing, narrow": Firing{Width: 1, Lead: 60},
		"damper, at": DamperView{Width: 90, Turn: Clockwise, At: nan},
	} {
		if d, err := v.Draw(); err == nil || d != nil || !strings.Contains(err.Error(), " – ") {
			t.Errorf("%s: %v, %v", what, d, err)
		}
	}
}

// Names longer than their room are shortened or wrapped: nothing leaves the sheet.
func TestStepDrawingsWithLongNames(t *testing.T) {
	long := strings.Repeat("Sandpiper of Marlow Quay ", 40)
	for what, v := range map[string]interface{ Draw() (*Drawing, error) }{
		"feed":  Feed{Width: 90, Lines: []FeedLine{{long, true, long}, {long, false, ""}}},
		"fuel":  FuelWay{Width: 90, Parts: []FuelPart{{FuelTank, long, long, false}, {FuelEnd, long, long, true}}},
		"plugs": PlugRow{Width: 90, Cylinders: []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16}, Clamp: 16, Wired: true, Gap: "0.8 mm"},
	} {
		d, err := v.Draw()
		if err != nil {
			t.Fatal(err)
		}
		for _, b := range d.Outside() {
			t.Errorf("%s: %.40q leaves the sheet", what, b.Text)
		}
	}
}

// The bookkeeping sees a line that runs through words, and none where the words have a ground of their own or an area
// lies between.
func TestCrossingIsFound(t *testing.T) {
	d := New(100, 100, "", "")
	d.Line(0, 9, 50, 9, Outline)
	d.Text(10, 10, "crossed", Body)
	d.Line(0, 29, 50, 29, Grid)
	d.Text(10, 30, "on a ground", Body.On(Sheet))
	d.Line(0, 37, 50, 37, Outline)
	d.Text(10, 38, "cuts an outline", Body.On(Sheet))
	d.Line(0, 49, 50, 49, Outline)
	d.Rect(5, 40, 60, 20, Outline.Filled(Paper))
	d.Text(10, 50, "on an area", Body)
	d.Text(10, 70, "crossed later", Body.On(Sheet))
	d.Circle(Point{14, 69}, 3, Outline)
	d.Text(10, 90, "clear", Body)
	var got []string
	for _, b := range d.Crossings() {
		got = append(got, b.Text)
	}
	if strings.Join(got, ", ") != "crossed, cuts an outline, crossed later" {
		t.Errorf("crossed: %v", got)
	}
}
