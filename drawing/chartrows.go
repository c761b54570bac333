package drawing

import (
	"fmt"
	"math"
)

// Row is a line of events below the panels, over the same x axis: a tick for each moment, a hatched bar for what lasts.
type Row struct {
	Label string // stands above it: what, how many
	At    []float64
	Spans []Span
}

const (
	rowLabel = 4.6 // mm above a row
	rowHigh  = 3.2
)

func (l *chartLayout) rowsHigh() float64 {
	if len(l.c.Rows) == 0 {
		return 0
	}
	return float64(len(l.c.Rows))*(rowLabel+rowHigh) + 0.8
}

func (l *chartLayout) rowsOfEvents() {
	d, y := l.d, l.y[len(l.y)-1].from+0.8
	for i, r := range l.c.Rows {
		y += rowLabel
		d.Group(Group{ID: fmt.Sprintf("row-%d", i+1), Class: "row", Label: r.Label}, func() {
			l.set(l.left, y-1.2, d.fit(r.Label, l.c.Width-l.left-0.5, Note), Note)
			d.Rect(l.left, y, l.right-l.left, rowHigh, Grid)
			for _, s := range r.Spans {
				from, to := l.x.span(s.From, s.To)
				if s.To < l.x.lo || s.From > l.x.hi {
					continue
				}
				if to-from < 0.4 { // a short one is still seen
					from, to = math.Max(l.left, (from+to)/2-0.2), math.Min(l.right, (from+to)/2+0.2)
				}
				d.hatched(RectPath(from, y, to-from, rowHigh), Style{Stroke: Ink, Width: 0.25})
			}
			ticks, last := &Path{}, math.Inf(-1)
			for _, v := range r.At { // those that lie on one another are one
				if x := l.x.at(v); l.x.holds(v) && math.Abs(x-last) > 0.15 {
					ticks.Move(x, y+0.3).Line(x, y+rowHigh-0.3)
					last = x
				}
			}
			d.Path(ticks, Style{Stroke: Ink, Width: 0.3})
		})
		y += rowHigh
	}
}
