package drawing

import (
	"cmp"
	"fmt"
	"math"
)

// Span is a range of crank degrees with a name.
type Span struct {
	From, To float64
	Label    string
}

// Edge is a place where a level changes, with a word for it.
type Edge struct {
	At    float64
	Label string // set above the edge; may be empty
	Up    Direction
}

// Direction of an edge.
type Direction uint8

// The directions.
const (
	Rising Direction = iota
	Falling
)

// Track is one signal: where it is high. Active edges are marked with a heavy line
// and an arrowhead.
type Track struct {
	Name   string
	High   []Span
	Active []Edge
	// Windows are hatched under the trace: where a reading is safe or a range lies.
	Windows []Span
	Events  []Event // strokes with their spread, such as sparks
	Paint   Paint   // Spark for the spark; None: Ink
}

// SignalChart shows levels against crank angle, such as crank, cam and spark over
// a cycle of 720°.
type SignalChart struct {
	Width       float64 // mm
	Title, Desc string
	From, To    float64     // crank degrees
	Tops        []Reference // TDC of each cylinder, drawn through all tracks
	Tracks      []Track
	Axis        string // below the numbers; empty: crank degrees
	Zero        string // on lines of its own below: what the angles count from
	Prefix      string
}

// Draw lays the chart out.
func (s SignalChart) Draw() (*Drawing, error) {
	const where = "signal chart"
	if !(s.Width >= 60 && s.Width <= 1000) {
		return nil, fmt.Errorf("%s – a width of %g mm cannot be drawn – use 60 to 1000 mm", where, s.Width)
	}
	if !finite(s.From, s.To) || s.To-s.From < 1 || s.To-s.From > 7200 {
		return nil, fmt.Errorf("%s – the range %g° to %g° cannot be drawn – give 1 to 7200 degrees", where,
			s.From, s.To)
	}
	if len(s.Tracks) == 0 || len(s.Tracks) > 12 {
		return nil, fmt.Errorf("%s – %d tracks – give 1 to 12", where, len(s.Tracks))
	}
	for _, t := range s.Tracks {
		for _, sp := range append(append([]Span{}, t.High...), t.Windows...) {
			if !finite(sp.From, sp.To) {
				return nil, fmt.Errorf("%s, track %s – an angle is not a finite number – give degrees", where, t.Name)
			}
		}
		for _, e := range t.Active {
			if !finite(e.At) {
				return nil, fmt.Errorf("%s, track %s – an edge is not at a finite angle – give degrees", where, t.Name)
			}
		}
		for _, e := range t.Events {
			if !finite(e.At, e.Spread) || e.Spread < 0 {
				return nil, fmt.Errorf("%s, track %s – an event at %g° with a spread of %g° – give finite "+
					"degrees, a spread not below 0", where, t.Name, e.At, e.Spread)
			}
		}
	}
	l := &signalLayout{s: s}
	l.left = 2.0
	for _, t := range s.Tracks {
		l.left = math.Max(l.left, math.Min(Width(t.Name, Label), s.Width*0.22)+2.5)
	}
	l.x = degreeAxis(s.From, s.To, l.left, s.Width-4)
	l.refs = references{top: 1, gap: 0.8}
	l.refs.lay(s.Tops, l.x.axisMap, s.Width, 0.4)
	y := 1 + float64(l.refs.rows)*labelRow
	l.top = y
	for _, t := range s.Tracks {
		y += 6.2
		if t.labelled() {
			y += 3.4
		}
		l.base = append(l.base, y)
		if len(t.Windows) > 0 {
			y += 6.4
		}
		notes, rows := l.layNotes(t)
		l.notes = append(l.notes, notes)
		y += float64(rows)*labelRow + 2.2
	}
	l.foot = y
	zero := l.zeroLines()
	d := New(s.Width, y+8.4+float64(len(zero))*Note.Size*LineHeight, s.Title, s.Desc)
	d.Prefix = s.Prefix
	l.d = d
	l.draw()
	return d, nil
}

type signalLayout struct {
	s         SignalChart
	x         axis
	left      float64
	top, foot float64
	base      []float64 // the low level of each track, mm
	refs      references
	notes     [][]label // of each event, by track; row −1: no room
	placer
}

const levelHigh = 4.4 // mm from low to high

// degreeAxis divides crank degrees into parts that go into a turn, at least 9 mm apart.
func degreeAxis(lo, hi, left, right float64) axis {
	x, step := axis{axisMap: linear(lo, hi, left, right)}, 720.0
	for _, c := range []float64{360, 180, 120, 90, 60, 45, 30, 15, 10} {
		if (right-left)*c/(hi-lo) >= 9 {
			step = c
		}
	}
	x.ticks = stepTicks(lo, hi, step)
	x.words = tickWords(x.ticks, Axis{})
	return x
}

func (l *signalLayout) draw() {
	d, s := l.d, l.s
	d.Group(Group{ID: "grid", Class: "grid"}, func() {
		l.x.uprights(d, l.top+1, l.foot)
		l.numbersBelow(l.x, l.foot, 1.4, cmp.Or(s.Axis, "crank degrees"))
		for i, line := range l.zeroLines() {
			l.set(0.5, l.foot+8.4+float64(i)*Note.Size*LineHeight, line, Note.At(Start, Top))
		}
		d.Heed(s.Zero)
	})
	l.references("tdc", l.refs, l.foot)
	for i, t := range s.Tracks {
		d.Group(Group{ID: fmt.Sprintf("track-%d", i+1), Class: "track", Label: t.Name}, func() {
			l.track(t, l.base[i])
			l.events(t, i)
		})
	}
}

func (l *signalLayout) track(t Track, low float64) {
	d := l.d
	line := Style{Stroke: cmp.Or(t.Paint, Ink), Width: 0.4}
	d.Text(0.5, low-levelHigh/2, l.d.fit(t.Name, l.left-2, Label), Label.At(Start, Centred).Painted(Soft))
	p := new(Path).Move(l.left, low)
	at := l.left
	for _, h := range t.High { // in order; a span that runs off the sheet is cut
		from, to := l.x.span(h.From, h.To)
		if to <= from || from < at-1e-9 {
			continue
		}
		p.Line(from, low).Line(from, low-levelHigh).Line(to, low-levelHigh).Line(to, low)
		at = to
	}
	d.Path(p.Line(l.x.to, low), line)
	for _, e := range t.Active {
		if !l.x.holds(e.At) {
			continue
		}
		x := l.x.at(e.At)
		d.Line(x, low, x, low-levelHigh, Style{Stroke: line.Stroke, Width: 0.8})
		tip, way := low-levelHigh/2-1.1, 1.0
		if e.Up == Falling {
			tip, way = low-levelHigh/2+1.1, -1
		}
		d.Polygon([]Point{{x, tip}, {x - 1, tip + 2.2*way}, {x + 1, tip + 2.2*way}}, Area(line.Stroke))
		if e.Label != "" {
			l.edgeLabel(x, low-levelHigh-1.2, e.Label)
		}
	}
	for _, w := range t.Windows {
		l.window(w, low)
	}
}

// edgeLabel sets a word above an edge, or leaves it out where another word stands: edges
// repeat, one word is enough.
func (l *signalLayout) edgeLabel(x, y float64, text string) {
	w := labelAt(x, text, (l.x.to-l.left)*0.5, l.left, l.x.to)
	l.d.Heed(text)
	l.ifFree(w.left, y, w.words, Note.On(Sheet))
}

// window draws a hatched range under the trace with its word beside or below.
func (l *signalLayout) window(w Span, low float64) {
	from, to := l.x.span(w.From, w.To)
	if to <= from {
		return
	}
	y := low + 0.9
	box := RectPath(from, y, to-from, 1.8)
	l.d.Hatch(box, 45, 0.9, Quiet)
	l.d.Path(box, Quiet)
	if w.Label == "" {
		return
	}
	text := labelAt((from+to)/2, w.Label, l.x.to-l.left, l.left, l.x.to)
	l.d.Heed(w.Label)
	l.ifFree(text.left, y+2.8, text.words, Note.At(Start, Top).On(Sheet))
}
