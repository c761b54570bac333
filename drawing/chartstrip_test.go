package drawing

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// boxes are the left and right ends of the closed four-cornered paths in the group with the id, in mm on the sheet.
func boxes(d *Drawing, id string) (out [][2]float64) {
	var walk func(g *group, in bool)
	walk = func(g *group, in bool) {
		for _, part := range g.parts {
			switch p := part.(type) {
			case *group:
				walk(p, in || p.ID == id)
			case *shape:
				if in && p.style.Stroke == Ink && len(p.path.segs) >= 4 {
					lo, hi := p.path.bounds()
					out = append(out, [2]float64{lo.X, hi.X})
				}
			}
		}
	}
	walk(&d.root, false)
	return out
}

// A stretch lies under its speeds: its ends stand where the axis has them, for every width and range.
func TestStretchesLieUnderTheirValues(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(200, 2000).Draw(t, "a")
		b := rapid.Float64Range(a+100, 4000).Draw(t, "b")
		c := sampleChart(rapid.Float64Range(80, 200).Draw(t, "width"))
		c.Stretches = []Stretch{{180, a, "x", "", IsCaution}, {a, b, "y", "", IsFine}, {b, 9000, "z", "", IsFine}} // the last runs past the axis
		d, err := c.Draw()
		if err != nil {
			t.Fatal(err)
		}
		l, err := c.layout()
		if err != nil {
			t.Fatal(err)
		}
		got := boxes(d, "stretches")
		if len(got) != 3 {
			t.Fatalf("%d boxes", len(got))
		}
		for i, want := range [][2]float64{{180, a}, {a, b}, {b, 4400}} {
			for k := range 2 {
				at := l.left + want[k]/4400*(l.right-l.left)
				if math.Abs(got[i][k]-at) > 1e-6 {
					t.Fatalf("stretch %d ends at %.3f mm, %g stands at %.3f", i, got[i][k], want[k], at)
				}
			}
		}
	})
}

// Where words have no room on the strip they stand below, each with its letter; nothing is dropped. The same words
// share a letter.
func TestStretchesKeepTheirWords(t *testing.T) {
	c := stretchedChart(90)
	c.Stretches = append(c.Stretches[:2:2], Stretch{4200, 4300, "dwell", c.Stretches[0].Note, IsCaution}, c.Stretches[2])
	c.Stretches[3].From = 4300
	d, err := c.Draw()
	if err != nil {
		t.Fatal(err)
	}
	svg := d.SVG(AsFile)
	for _, want := range []string{"dwell set too short", "least in hand: spark voltage", "no time left"} {
		if strings.Count(svg, want) == 0 {
			t.Errorf("%q is not on the drawing", want)
		}
	}
	l, _ := c.layout()
	if k := l.strips.keys; k[0] != k[2] || k[0] == k[1] || len(l.strips.notes) != 3 {
		t.Errorf("letters %v, %d notes", k, len(l.strips.notes))
	}
	if keyOf(0) != "a" || keyOf(25) != "z" || keyOf(26) != "aa" {
		t.Error("letters")
	}
}

func TestStretchesRefused(t *testing.T) {
	for _, s := range []Stretch{{From: math.NaN(), To: 1}, {From: 2, To: 1}, {From: 0, To: math.Inf(1)}} {
		c := sampleChart(90)
		c.Stretches = []Stretch{s}
		if _, err := c.Draw(); err == nil || strings.Count(err.Error(), " – ") != 2 {
			t.Errorf("%+v: %v", s, err)
		}
	}
}
