package drawing

import (
	"strings"
	"testing"
)

// A mark beyond the axes stands at the edge with its words, where it is asked for, and stretches nothing.
func TestMarksBeyondTheAxesStandAtTheEdge(t *testing.T) {
	draw := func(marks ...Mark) string {
		c := Chart{Width: 90, Title: "t", Desc: "d", X: Axis{Label: "rpm", Min: 0, Max: 4000},
			Panels: []Panel{{Y: Axis{Label: "°", Min: -3, Max: 3}, Marks: marks}}}
		d, err := c.Draw()
		if err != nil {
			t.Fatal(err)
		}
		return d.SVG(InPage)
	}
	heads := func(svg string) int { return strings.Count(svg, "<polygon") + strings.Count(svg, "Z") }
	empty := draw()
	for _, c := range []struct {
		name  string
		mark  Mark
		heads int
		words bool
	}{
		{"right of it, asked for", Mark{X: 20000, Y: 1, Note: "far off", AtEdge: true}, 1, true},
		{"right of it, not asked for", Mark{X: 20000, Y: 1, Note: "far off"}, 0, false},
		{"above it", Mark{X: 2000, Y: 17, Note: "far off"}, 1, true},
		{"above and right of it", Mark{X: 20000, Y: 17, Note: "far off", AtEdge: true}, 1, true},
	} {
		svg := draw(c.mark)
		n := heads(svg) - heads(empty)
		if c.words { // they stand on a ground of their own
			n--
		}
		if n != c.heads || strings.Contains(svg, "far off") != c.words {
			t.Errorf("%s: %d arrowheads, words %v", c.name, n, strings.Contains(svg, "far off"))
		}
		if c.heads == 1 && !strings.Contains(svg, "4 000") && !strings.Contains(svg, "4\u2009000") && !strings.Contains(svg, "4\u202f000") && !strings.Contains(svg, "4\u00a0000") {
			t.Errorf("%s: the axis has moved", c.name)
		}
	}
}
