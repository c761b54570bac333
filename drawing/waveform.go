package drawing

import (
	"fmt"
	"math"
	"strings"
)

// Waveform is a stretch of a recording: one strip a channel over a common time axis, below one strip of the whole
// recording that shows where the stretch lies. Times are seconds.
type Waveform struct {
	Width       float64 // mm: 90 fills a phone, 180 a desk
	Title, Desc string
	Prefix      string
	From, To    float64
	Whole       WholeStrip
	Traces      []Trace
	Cycle       float64 // how long one cycle of the engine lasts here, s; 0 or NaN: not known
	CycleWords  string
}

// WholeStrip is the recording from end to end, drawn small. Lo and Hi are a quantity's range at the times X.
type WholeStrip struct {
	From, To  float64
	Label     string    // of the quantity, with its unit
	X, Lo, Hi []float64 // drawn as far as Least to Most, where those differ
	Least     float64
	Most      float64
	Signal    *Trace    // in the place of a quantity: a channel's columns over the whole
	Marks     []float64 // times of what is wrong
}

// Trace is one channel. Either Lo and Hi hold the least and largest value in equal columns of the stretch (NaN, NaN
// where there is none), or Times and Values hold samples, with the one before the stretch and the one after it.
type Trace struct {
	Name, About   string // what it is called; what it is and its levels
	Logic         bool   // 0 and 1
	Held          bool   // a value holds until the next sample; else samples are joined by straight lines
	Lo, Hi        []float64
	Times, Values []float64
	Low, High     float64 // state levels; NaN: none
	Paint         Paint   // Spark for the spark; None: Ink
	Marks         []WaveMark
	Marked        bool // keeps room for marks, so that the strips stand still when a stretch has none

	// Changes counts the changes from one level to the other in each column of Lo and Hi, and Rests are the times
	// between them, in order. With them, areas stand where lines would run together; without, all is drawn as lines.
	Changes []int
	Rests   []WaveRest
}

// WaveMark is something wrong at a time, in a word.
type WaveMark struct {
	At   float64
	Text string
}

// WaveField is where the time axis lies on the drawing, mm, for a page that moves it.
type WaveField struct{ Left, Right float64 }

// check refuses what has no place on the drawing.
func (w Waveform) check() error {
	const where = "waveform"
	if !(w.Width >= 60 && w.Width <= 1000) {
		return fmt.Errorf("%s – a width of %g mm cannot be drawn – use 60 to 1000 mm", where, w.Width)
	}
	if !finite(w.From, w.To) || !(w.To > w.From) {
		return fmt.Errorf("%s – the stretch from %g s to %g s cannot be drawn – give finite times that rise", where,
			w.From, w.To)
	}
	if len(w.Traces) == 0 || len(w.Traces) > 16 {
		return fmt.Errorf("%s – %d channels – give 1 to 16", where, len(w.Traces))
	}
	for _, t := range w.Traces {
		if len(t.Lo) != len(t.Hi) || len(t.Times) != len(t.Values) || len(t.Lo) > 10000 || len(t.Times) > 10000 {
			return fmt.Errorf("%s, channel %s – %d least, %d largest values, %d times, %d samples – give as "+
				"many of each, at most 10,000", where, t.Name, len(t.Lo), len(t.Hi), len(t.Times), len(t.Values))
		}
		for i, at := range t.Times {
			if math.IsNaN(at) || math.IsInf(at, 0) || i > 0 && at < t.Times[i-1] {
				return fmt.Errorf("%s, channel %s – time %d is %g after %g – give finite times that do not fall", where,
					t.Name, i+1, at, t.Times[max(0, i-1)])
			}
		}
		if len(t.Changes) > 0 && len(t.Changes) != len(t.Lo) {
			return fmt.Errorf("%s, channel %s – changes of %d columns beside %d columns – give as many of each", where,
				t.Name, len(t.Changes), len(t.Lo))
		}
		for _, r := range t.Rests {
			if !finite(r.From, r.To, r.Period) {
				return fmt.Errorf("%s, channel %s – a rest from %g s to %g s – give finite times", where, t.Name,
					r.From, r.To)
			}
		}
		for _, m := range t.Marks {
			if !finite(m.At) {
				return fmt.Errorf("%s, channel %s – a mark is not at a finite time – leave it out", where, t.Name)
			}
		}
	}
	s := w.Whole
	if s.From != s.To && (!finite(s.From, s.To) || s.To < s.From) || len(s.X) != len(s.Lo) || len(s.X) != len(s.Hi) ||
		!finite(s.X...) || !finite(s.Marks...) {
		return fmt.Errorf("%s, strip of the whole – it goes from %g s to %g s with %d times, %d least and %d largest "+
			"values – give finite times that rise, and as many of each", where, s.From, s.To, len(s.X), len(s.Lo),
			len(s.Hi))
	}
	return nil
}

// Sizes of the parts, mm.
const (
	waveLeft   = 11.0 // room for the numbers of the scales
	waveHead   = 4.8  // name of a channel
	waveMarks  = 4.2  // signs and words of what is wrong
	waveGap    = 3.4  // between strips
	waveWedge  = 6.6  // between the strip of the whole and the field
	waveLogic  = 7.0
	waveAnalog = 15.0
	waveWhole  = 7.0 // the recording from end to end; with two strips below it fits a phone on its side
)

type waveLayout struct {
	w           Waveform
	x           timeAxis
	left, right float64
	strip       [2]float64 // top and foot of the strip of the whole
	top, foot   float64    // of the field
	strips      [][2]float64
	placer
}

// Draw lays the waveform out.
func (w Waveform) Draw() (*Drawing, WaveField, error) {
	if err := w.check(); err != nil {
		return nil, WaveField{}, err
	}
	l := &waveLayout{w: w, left: waveLeft, right: w.Width - 2}
	l.x = timeTicks(w.From, w.To, func(words []string) bool {
		return float64(len(words))*(widest(words)+4) <= l.right-l.left
	})
	l.x.from, l.x.to = l.left, l.right
	y := 1.0
	if w.Whole.To > w.Whole.From {
		y += 4.6
		l.strip = [2]float64{y, y + waveWhole}
		y = l.strip[1] + waveWedge
	}
	l.top = y
	for i, t := range w.Traces {
		if i > 0 {
			y += waveGap
		}
		y += waveHead
		if t.Marked {
			y += waveMarks
		}
		high := waveAnalog
		if t.Logic {
			high = waveLogic
		}
		l.strips = append(l.strips, [2]float64{y, y + high})
		y += high
	}
	l.foot = y + 1.2
	y = l.foot + 4.6 + 5 + 6
	l.d = New(w.Width, y, w.Title, w.Desc)
	l.d.Prefix = w.Prefix
	l.draw()
	return l.d, WaveField{l.left, l.right}, nil
}

func (l *waveLayout) draw() {
	if l.w.Whole.To > l.w.Whole.From {
		l.whole()
	}
	d := l.d
	for i, t := range l.w.Traces {
		d.Group(Group{Class: "wave-trace", Label: t.Name}, func() { l.trace(t, l.strips[i]) })
	}
	d.Group(Group{Class: "wave-words"}, func() {
		for i, t := range l.w.Traces {
			l.marks(t, l.strips[i])
		}
		l.time()
	})
}

// time draws the numbers of the axis, and as dimensions the length of one cycle, where it has room, and of the stretch.
func (l *waveLayout) time() {
	d, foot := l.d, l.foot
	d.Line(l.left, foot, l.right, foot, Fine)
	base := foot + 1.5 + tickSize*capHeight
	row := foot + 4.6 + 3.4
	unit, after, long := strings.Cut(l.x.unit, " ")
	l.set(0.5, base, unit, Note)
	for i, t := range l.x.ticks {
		x := l.x.at(t)
		d.Line(x, foot, x, foot+1, Fine)
		half := Width(l.x.words[i], tickText) / 2
		x = math.Min(math.Max(x, half+0.3), l.w.Width-half-0.3)
		l.ifFree(x, base, l.x.words[i], tickText.At(Middle, Baseline))
	}
	room := l.right
	if long {
		l.set(l.right, row, after, Note.At(End, Centred))
		room -= Width(after, Note) + 3
	}
	d.Heed(l.w.CycleWords)
	to := l.x.at(l.w.From + l.w.Cycle)
	switch {
	case !(l.w.Cycle > 0):
	case to-l.left > 4*arrowLong && to+2 < room:
		d.Line(to, foot+1, to, row+1.2, Dimension)
		l.dimension(l.left, to, row, l.w.CycleWords, room)
	default:
		if text := l.w.CycleWords + ": " + spanWords(l.w.Cycle); l.left+Width(text, Note) < room {
			l.set(l.left, row, text, Note.At(Start, Centred))
		}
	}
	l.dimension(l.left, l.right, row+5.6, spanWords(l.w.To-l.w.From), l.right)
}

// dimension is a dimension line with its words on it, or behind it and before limit where it is short.
func (l *waveLayout) dimension(from, to, y float64, text string, limit float64) {
	d := l.d
	style := Note.Painted(Ink).At(Middle, Centred)
	w := Width(text, style)
	d.Line(from, y-1.4, from, y+1.2, Dimension)
	d.Line(to, y-1.4, to, y+1.2, Dimension)
	d.Arrow(Point{from, y}, 270, Ink)
	d.Arrow(Point{to, y}, 90, Ink)
	if w+4*arrowLong > to-from {
		d.Line(from, y, to, y, Dimension)
		if to+1.5+w < limit {
			l.set(to+1.5, y, text, style.At(Start, Centred))
		}
		return
	}
	mid := (from + to) / 2
	d.Line(from, y, mid-w/2-1, y, Dimension)
	d.Line(mid+w/2+1, y, to, y, Dimension)
	l.set(mid, y, text, style)
}

// whole draws the recording from end to end and where the stretch lies in it.
func (l *waveLayout) whole() {
	d, s := l.d, l.w.Whole
	top, foot := l.strip[0], l.strip[1]
	x := linear(s.From, s.To, l.left, l.right)
	words := "whole recording, " + spanWords(s.To-s.From)
	l.set(l.left, top-1.8, words, Note)
	if w := Width(s.Label, Note); w > 0 && l.left+Width(words, Note)+4+w < l.right {
		l.set(l.right, top-1.8, s.Label, Note.At(End, Baseline))
	}
	d.Heed(s.Label)
	box := RectPath(l.left, top, l.right-l.left, foot-top)
	d.Group(Group{Class: "wave-whole", Clip: box}, func() {
		r := noValues
		r.grow(s.Lo...)
		r.grow(s.Hi...)
		r = r.or(Axis{Min: s.Least, Max: max(s.Least, s.Most)})
		if s.Signal != nil {
			r.grow(s.Signal.Lo...)
			r.grow(s.Signal.Hi...)
		}
		y := axisMap{r, foot - 0.8, top + 0.8}
		if s.Signal != nil && r.lo < r.hi {
			all := *l
			all.w.From, all.w.To, all.x.axisMap = s.From, s.To, x
			all.content(*s.Signal, y, Style{Stroke: Soft, Width: 0.2})
		}
		l.ribbon(len(s.X), func(i int) (float64, float64, float64) {
			return x.at(s.X[i]), math.Max(s.Lo[i], r.lo), math.Min(s.Hi[i], r.hi)
		}, y, Style{Stroke: Soft, Width: 0.2})
	})
	d.Path(box, Style{Stroke: Ink, Width: 0.2})
	d.Group(Group{Class: "wave-signs"}, func() {
		last := math.Inf(-1)
		for _, at := range s.Marks {
			if p := x.at(at); x.holds(at) && p > last+0.8 {
				last = p
				d.Polygon([]Point{{p, top + 1.6}, {p - 0.8, top}, {p + 0.8, top}}, Area(Ink))
			}
		}
	})
	from, to := x.span(l.w.From, l.w.To)
	if to-from < 1 {
		mid := (from + to) / 2
		from, to = mid-0.5, mid+0.5
	}
	d.Group(Group{Class: "wave-window"}, func() {
		d.Rect(from, top-0.6, to-from, foot-top+1.2, Style{Stroke: Ink, Width: 0.5})
	})
	d.Group(Group{Class: "wave-wedge"}, func() {
		join := foot + waveWedge - 1.4
		pen := Style{Stroke: Soft, Width: 0.15}
		d.Polyline([]Point{{from, foot + 0.6}, {l.left, join}, {l.left, l.top}}, pen)
		d.Polyline([]Point{{to, foot + 0.6}, {l.right, join}, {l.right, l.top}}, pen)
		if k := (s.To - s.From) / (l.w.To - l.w.From); k > 1.005 {
			text := "drawn " + enlarged(k) + " : 1"
			l.set((l.left+l.right)/2, foot+waveWedge/2+0.4, text, Note.At(Middle, Centred).On(Sheet))
		}
	})
}

// enlarged prints a scale with three figures.
func enlarged(k float64) string {
	places := 0
	if k < 10 {
		places = 1
	}
	if k >= 1000 {
		p := math.Pow(10, math.Floor(math.Log10(k))-2)
		k = math.Round(k/p) * p
	}
	return Number(k, places)
}
