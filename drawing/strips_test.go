package drawing

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Recordings, faults and numbers here are invented, unless a test says where one comes from.

// upright are the x of the upright two-point lines in the group, in drawing order.
func upright(d *Drawing, id string) (xs []float64) {
	for _, l := range straight(d, id) {
		if l[0].X == l[1].X {
			xs = append(xs, l[0].X)
		}
	}
	return xs
}

// A strip's mean stands over its number on the axis, and its standard deviation either way, for any width.
func TestStripPlaces(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		mean := rapid.Float64Range(-1.4, 1.4).Draw(rt, "mean")
		sd := rapid.Float64Range(0.05, 0.5).Draw(rt, "sd")
		s := distributions(rapid.Float64Range(80, 200).Draw(rt, "width"))
		s.Rows[1].Spread, s.X.Ticks = &Spread{Mean: mean, SD: sd}, []float64{-1, 0, 1}
		d, err := s.Draw()
		if err != nil {
			rt.Fatal(err)
		}
		left, right := middle(t, d, "−1"), middle(t, d, "+1")
		at := func(v float64) float64 { return left.X + (v+1)/2*(right.X-left.X) }
		got := upright(d, "strip-3")
		want := []float64{at(mean - sd), at(mean + sd), at(mean)}
		if len(got) != len(want) {
			rt.Fatalf("strokes at %v", got)
		}
		for i := range want {
			if math.Abs(got[i]-want[i]) > 0.01 {
				rt.Fatalf("stroke %d of %.3f ± %.3f stands at %.3f mm, its number at %.3f", i, mean, sd, got[i], want[i])
			}
		}
	})
}

// Early is to the right, and a mean off the field is an arrowhead at its edge, not a stroke.
func TestStripOffTheField(t *testing.T) {
	s := distributions(90)
	s.X.Ticks = []float64{-1, 0, 1}
	d, err := s.Draw()
	if err != nil {
		t.Fatal(err)
	}
	if middle(t, d, "early →").X < middle(t, d, "← late").X || middle(t, d, "+1").X < middle(t, d, "−1").X {
		t.Error("early is not to the right")
	}
	for _, l := range straight(d, "strip-4") {
		if l[0].X == l[1].X && l[0].X > middle(t, d, "early →").X+12 {
			t.Errorf("a stroke outside the field: %v", l)
		}
	}
}

// In a ribbon early is up: the higher mean stands higher.
func TestRibbonsPointUp(t *testing.T) {
	s := ribbons(120)
	s.Rows = []Strip{{ID: "a", Name: "1", Line: []XY{{1000, 1}, {2000, -1}}}}
	d, err := s.Draw()
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range straight(d, "strip-a") {
		if l[0].X != l[1].X && l[0].Y != l[1].Y {
			if l[0].X > l[1].X || l[0].Y > l[1].Y {
				t.Errorf("%v: the line does not fall from early to late", l)
			}
			return
		}
	}
	t.Error("no line")
}

// An event stands at its angle, its bar to scale, and no note lies on another however close they come.
func TestEventPlaces(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		at, spread := rapid.Float64Range(20, 340).Draw(rt, "at"), rapid.Float64Range(1, 15).Draw(rt, "spread")
		d, err := SignalChart{Width: 120, To: 360, Tracks: []Track{{Name: "spark", Paint: Spark, Events: []Event{{At: at, Spread: spread, Label: "7", Note: "±9"}, {At: at + 5, Note: "±9"}, {At: at + 9, Note: "±9"}}}}}.Draw()
		if err != nil {
			rt.Fatal(err)
		}
		zero, right := middle(t, d, "0"), middle(t, d, "360")
		x := func(v float64) float64 { return zero.X + v/360*(right.X-zero.X) }
		got := upright(d, "event-1-1")
		for i, want := range []float64{x(at - spread), x(at + spread), x(at)} {
			if len(got) != 3 || math.Abs(got[i]-want) > 0.01 {
				rt.Fatalf("strokes at %v, want %.3f in place %d", got, want, i)
			}
		}
		if c := d.Clashes(); len(c) > 0 {
			rt.Fatalf("%q lies over %q", c[0][0].Text, c[0][1].Text)
		}
	})
}

// A row's tick stands under its moment, and what is short is still seen.
func TestRowPlaces(t *testing.T) {
	d, err := rowsChart(120).Draw()
	if err != nil {
		t.Fatal(err)
	}
	l, err := rowsChart(120).layout()
	if err != nil {
		t.Fatal(err)
	}
	ticks := map[float64]bool{}
	var walk func(g *group, in bool)
	walk = func(g *group, in bool) {
		for _, part := range g.parts {
			switch p := part.(type) {
			case *group:
				walk(p, in || p.ID == "row-2")
			case *shape:
				for _, s := range p.path.segs {
					if in && s.kind == segMove && p.style.Width == 0.3 {
						ticks[math.Round(s.to.X*1000)] = true
					}
				}
			}
		}
	}
	walk(&d.root, false)
	for _, v := range []float64{600, 1200, 4400} {
		if !ticks[math.Round(l.x.at(v)*1000)] {
			t.Errorf("no tick at %g: %v", v, ticks)
		}
	}
	if len(ticks) != 3 { // 601 lies on 600
		t.Errorf("%d ticks", len(ticks))
	}
	if b := boxes(d, "row-1"); len(b) < 2 || b[len(b)-1][1]-b[len(b)-1][0] < 0.39 {
		t.Errorf("the short span cannot be seen: %v", b)
	}
}
