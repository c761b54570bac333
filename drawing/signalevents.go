package drawing

import (
	"cmp"
	"fmt"
	"slices"
)

// Event is something that comes at one angle, such as a spark: a stroke across the track, its spread as a bar to scale.
type Event struct {
	At     float64 // crank degrees
	Spread float64 // half the width of the bar, degrees; 0: none is drawn
	Label  string  // above the stroke
	Note   string  // below the track, where there is room
	Bare   bool    // no stroke: the level changes here
}

// mostNoteRows is how many rows of notes a track may have.
const mostNoteRows = 2

func (t Track) labelled() bool {
	return slices.ContainsFunc(t.Active, func(e Edge) bool { return e.Label != "" }) ||
		slices.ContainsFunc(t.Events, func(e Event) bool { return e.Label != "" })
}

// layNotes places the note of each event, and says how many rows they take.
func (l *signalLayout) layNotes(t Track) ([]label, int) {
	var rows labelRows
	notes := make([]label, len(t.Events))
	for i, e := range t.Events {
		notes[i].row = -1
		if e.Note != "" && l.x.holds(e.At) {
			notes[i] = labelAt(l.x.at(e.At), e.Note, l.s.Width*0.3, l.left, l.s.Width-0.5)
			rows.first(&notes[i], 0.8, mostNoteRows)
		}
	}
	return notes, len(rows)
}

// events draws the events of track i over its level.
func (l *signalLayout) events(t Track, i int) {
	d, low := l.d, l.base[i]
	pen := Style{Stroke: cmp.Or(t.Paint, Ink), Width: 0.5}
	for k, e := range t.Events {
		if !l.x.holds(e.At) {
			continue
		}
		d.Group(Group{ID: fmt.Sprintf("event-%d-%d", i+1, k+1), Class: "event", Label: e.Label}, func() {
			x := l.x.at(e.At)
			if from, to := l.x.span(e.At-e.Spread, e.At+e.Spread); to > from {
				d.Rect(from, low-levelHigh*0.7, to-from, levelHigh*0.4, Area(Tint))
				for _, end := range []float64{from, to} {
					d.Line(end, low-levelHigh*0.7, end, low-levelHigh*0.3, Fine)
				}
			}
			if !e.Bare {
				d.Line(x, low, x, low-levelHigh, pen)
			}
			if e.Label != "" {
				l.edgeLabel(x, low-levelHigh-1.2, e.Label)
			}
			if n := l.notes[i][k]; n.row >= 0 {
				d.Heed(n.full)
				l.set(n.left, low+1.3+float64(n.row)*labelRow, n.words, Note.At(Start, Top).On(Sheet))
			}
		})
	}
}

func (l *signalLayout) zeroLines() []string {
	if l.s.Zero == "" {
		return nil
	}
	return Wrap(l.s.Zero, l.s.Width-1, Note)
}
