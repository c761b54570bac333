package drawing

import (
	"slices"
	"strings"
	"testing"
)

// Values here are invented.

// Lines that the axis does not reach take no room above the field, and the order in which lines are given
// does not matter.
func TestReferencesTakeTheRoomTheyNeed(t *testing.T) {
	draw := func(tops ...Reference) string {
		d, err := SignalChart{Width: 160, From: -30, To: 60, Tops: tops, Tracks: []Track{{Name: "crank"}}}.Draw()
		if err != nil {
			t.Fatal(err)
		}
		return d.SVG(InPage)
	}
	near := []Reference{{0, "TDC 1"}, {4, "TDC 5"}, {30, "TDC 3"}}
	want := draw(near...)
	if got := draw(append([]Reference{{120, "TDC 6"}, {-90, "TDC 2"}, {121, "TDC 4"}}, near...)...); got != want {
		t.Error("lines off the axis change the drawing")
	}
	slices.Reverse(near)
	if got := draw(near...); got != want {
		t.Error("the drawing depends on the order in which lines are given")
	}
}

// Ticks of one's own that lie off the axis have no say in how the others are printed.
func TestTicksOffTheAxisAreLeftOut(t *testing.T) {
	x := layAxis(Axis{Ticks: []float64{-0.125, 0, 1000, 2000, 3000.5}}, valueRange{lo: 0, hi: 2000}, 5)
	if got := strings.Join(x.words, "; "); got != "0; 1\u2009000; 2\u2009000" {
		t.Errorf("ticks say %s", got)
	}
}

// What begins before a logarithmic axis does, begins at its left end; what lies beside the axis is not drawn.
func TestSpansOnALogarithmicAxis(t *testing.T) {
	c := Chart{Width: 120, X: Axis{Min: 10, Max: 1000, Scale: Log}, Panels: []Panel{{Y: Axis{Max: 1}}},
		Rows: []Row{{Label: "without sync", Spans: []Span{{From: -5, To: -1}, {From: -5, To: 100}, {From: 2000, To: 3000}}}}}
	d, err := c.Draw()
	if err != nil {
		t.Fatal(err)
	}
	l, err := c.layout()
	if err != nil {
		t.Fatal(err)
	}
	got := boxes(d, "row-1")
	if len(got) != 1 || got[0] != [2]float64{l.left, l.x.at(100)} {
		t.Errorf("the span lies at %v, want %.3f to %.3f mm", got, l.left, l.x.at(100))
	}
}
