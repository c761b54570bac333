package report

import (
	"strings"
	"testing"

	"phasewright/readings"
)

// A typed misread does not stretch the printed chart: it stands at the edge with its figure. By hand: tolerance 1°, the
// counted readings within 0.25°, so the chart reaches 2° either way; the reading of 108° at 8° commanded is +100° off.
func TestMisreadDoesNotStretchTheChart(t *testing.T) {
	c, _ := card(t, "sandpiper")
	rows := []readings.Row{{Speed: 800, Shown: 8, Locked: 8}, {Speed: 2000, Shown: 8.25, Locked: 8},
		{Speed: 3000, Shown: 7.75, Locked: 8}, {Speed: 3700, Shown: 108, Locked: 8}}
	res, err := readings.Fit(rows, readings.FromCard(c))
	if err != nil {
		t.Fatal(err)
	}
	p := errorPanel("", res, rows, 1)
	if m := p.Marks[3]; p.Y.Max != 2 || p.Y.Min != -2 || !m.AtEdge || !strings.Contains(m.Note, "not used, +100.0°") {
		t.Errorf("axis %v to %v, mark %+v", p.Y.Min, p.Y.Max, m)
	}
}
