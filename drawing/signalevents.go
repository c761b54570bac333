package drawing

import (
	"fmt"
	"math"
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
	for _, e := range t.Active {
		if e.Label != "" {
			return true
		}
	}
	for _, e := range t.Events {
		if e.Label != "" {
			return true
		}
	}
	return false
}

// noteRows gives each note the first row in which it stands free, and says how many rows there are.
func (l *signalLayout) noteRows(t Track) (rows []int, n int) {
	var ends [mostNoteRows]float64
	for _, e := range t.Events {
		row := -1
		if e.Note != "" && l.x.holds(e.At) {
			lo, hi := l.noteSpan(e)
			for k := range ends {
				if ends[k] <= lo-0.8 {
					row = k
					break
				}
			}
			if row >= 0 {
				ends[row], n = hi, max(n, row+1)
			}
		}
		rows = append(rows, row)
	}
	return rows, n
}

func (l *signalLayout) noteWords(e Event) string { return Fit(e.Note, l.s.Width*0.3, Note) }

// noteSpan is where the note stands: centred on its event, kept on the field.
func (l *signalLayout) noteSpan(e Event) (lo, hi float64) {
	w := Width(l.noteWords(e), Note)
	x := math.Max(math.Min(l.x.at(e.At)-w/2, l.s.Width-0.5-w), l.left)
	return x, x + w
}

// events draws the events of track i over its level.
func (l *signalLayout) events(t Track, i int) {
	d, low := l.d, l.base[i]
	pen := Style{Stroke: Ink, Width: 0.5}
	if t.Paint == Spark {
		pen.Stroke = Spark
	}
	for k, e := range t.Events {
		if !l.x.holds(e.At) {
			continue
		}
		d.Group(Group{ID: fmt.Sprintf("event-%d-%d", i+1, k+1), Class: "event", Label: e.Label}, func() {
			x := l.x.at(e.At)
			if from, to := math.Max(l.x.at(e.At-e.Spread), l.left), math.Min(l.x.at(e.At+e.Spread), l.x.to); to > from {
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
			if row := l.notes[i][k]; row >= 0 {
				lo, _ := l.noteSpan(e)
				d.Heed(e.Note)
				l.set(lo, low+1.3+float64(row)*refRowGap, l.noteWords(e), Note.At(Start, Top).On(Sheet))
			}
		})
	}
}

func (l *signalLayout) axis() string {
	if l.s.Axis == "" {
		return "crank degrees"
	}
	return l.d.fit(l.s.Axis, l.x.to-0.5, Note)
}

func (l *signalLayout) zeroLines() []string {
	if l.s.Zero == "" {
		return nil
	}
	return Wrap(l.s.Zero, l.s.Width-1, Note)
}
