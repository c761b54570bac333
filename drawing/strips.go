package drawing

import (
	"fmt"
	"math"
	"slices"
)

// Strips are narrow fields one below the other over one x axis, a name before each and figures behind: what is alike in
// many, such as cylinders, so that one which stands apart is seen. A strip holds a distribution, or a line with its
// band.
type Strips struct {
	Width       float64 // mm
	Title, Desc string
	Prefix      string
	Label       string // above, over the whole width: what is shown, with unit
	Names       string // head over the names
	Heads       []string
	X           Axis
	Ends        [2]string // words at the ends of the x axis
	Y           Axis      // of lines and bands; its label is not shown
	Height      float64   // of a strip, mm; 0: by the house
	Rows        []Strip
}

// Strip is one field.
type Strip struct {
	ID      string // of its group; empty: its number
	Name    string
	Figures []string
	Bars    Histogram
	Spread  *Spread
	Line    []XY // the spark's
	Band    Band
	Note    string // in the field, where there is nothing else
}

// Histogram is equal classes of x from From on, each Step wide; counts of all strips share one scale, each by its own
// sum.
type Histogram struct {
	From, Step float64
	Counts     []float64
}

func (h Histogram) sum() (sum float64) {
	for _, c := range h.Counts {
		sum += c
	}
	return sum
}

// Spread is a mean with one standard deviation either way, and the extremes where Most is above Least. NaN: no standard
// deviation.
type Spread struct{ Mean, SD, Least, Most float64 }

const stripFigures = 2.6 // mm before a column of figures

type stripsLayout struct {
	s           Strips
	left, right float64
	x           axis
	y           valueRange
	wide        []float64 // of each column of figures
	label       []string
	top         float64 // of the first strip
	high        float64
	share       float64 // largest share of a class
	placer
}

// Draw lays the strips out.
func (s Strips) Draw() (*Drawing, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	l := &stripsLayout{s: s, high: s.Height}
	if l.high <= 0 {
		l.high = 7
	}
	l.measure()
	if l.right-l.left < 15 {
		return nil, fmt.Errorf("strips – names and figures leave %.0f mm for the strips – give "+
			"more width or fewer figures", l.right-l.left)
	}
	d := New(s.Width, l.top+float64(len(s.Rows))*l.high+l.footHigh(), s.Title, s.Desc)
	d.Prefix, l.d = s.Prefix, d
	l.heads()
	l.grid()
	for i, r := range s.Rows {
		id := r.ID
		if id == "" {
			id = fmt.Sprint(i + 1)
		}
		d.Group(Group{ID: "strip-" + id, Class: "strip", Label: s.Names + " " + r.Name},
			func() { l.row(r, l.top+float64(i)*l.high) })
	}
	l.foot()
	return d, nil
}

func (s Strips) check() error {
	const where = "strips"
	if !(s.Width >= 50 && s.Width <= 1000) {
		return fmt.Errorf("%s – a width of %g mm cannot be drawn – use 50 to 1000 mm", where, s.Width)
	}
	if len(s.Rows) == 0 || len(s.Rows) > 64 {
		return fmt.Errorf("%s – %d of them – give 1 to 64", where, len(s.Rows))
	}
	if s.X.Scale != Linear || s.Y.Scale != Linear {
		return fmt.Errorf("%s – a logarithmic axis – use a linear one", where)
	}
	for i, r := range s.Rows {
		bad := func(what string) error {
			return fmt.Errorf("%s, row %d, %s – a value is not a finite number – leave it out", where, i+1, what)
		}
		if p := r.Spread; p != nil && (!finite(p.Mean, p.Least, p.Most) || math.IsInf(p.SD, 0) || p.SD < 0) {
			return bad("spread")
		}
		if !finite(r.Bars.From, r.Bars.Step) || !finite(r.Bars.Counts...) || len(r.Bars.Counts) > 0 &&
			r.Bars.Step <= 0 {
			return bad("histogram")
		}
		for _, q := range r.Line {
			if !finite(q.X, q.Y) {
				return bad("line")
			}
		}
		if b := r.Band; len(b.Lo) != len(b.X) || len(b.Hi) != len(b.X) || !finite(b.X...) || !finite(b.Lo...) ||
			!finite(b.Hi...) {
			return bad("band")
		}
	}
	x, y := s.ranges()
	if err := x.usable(where + ", x axis"); err != nil {
		return err
	}
	return y.usable(where + ", y axis")
}

// ranges are those of the axes, or of the data where an axis gives none; y is 0 to 1 where no strip holds a line.
func (s Strips) ranges() (x, y valueRange) {
	x, y = noValues, noValues
	for _, r := range s.Rows {
		x.grow(r.Band.X...)
		y.grow(r.Band.Lo...)
		y.grow(r.Band.Hi...)
		for _, q := range r.Line {
			x.grow(q.X)
			y.grow(q.Y)
		}
		if q := r.Spread; q != nil {
			x.grow(q.Mean, q.Mean-q.SD, q.Mean+q.SD, q.Least, q.Most)
		}
	}
	if y == noValues {
		y = valueRange{lo: 0, hi: 1}
	}
	return x.or(s.X), y.or(s.Y)
}

var (
	stripName   = TextStyle{Size: 3.2, Weight: Bold}
	stripFigure = TextStyle{Size: 2.9}
)

func (l *stripsLayout) measure() {
	s := l.s
	name := math.Min(Width(s.Names, Note), s.Width*0.25)
	for _, r := range s.Rows {
		name = math.Max(name, math.Min(Width(r.Name, stripName), s.Width*0.25))
	}
	l.left = name + 2.5
	l.right = s.Width - 1
	for i, h := range s.Heads {
		w := Width(h, Note)
		for _, r := range s.Rows {
			if i < len(r.Figures) {
				w = math.Max(w, Width(r.Figures[i], stripFigure))
			}
		}
		l.wide = append(l.wide, w)
		l.right -= w + stripFigures
	}
	x, y := s.ranges()
	l.y = y
	l.x = layLevel(s.X, x, 10, func(wide float64) (left, right float64) {
		if len(s.Heads) == 0 { // the last number stays on the sheet
			return l.left, s.Width - math.Max(wide/2, 1) - 0.5
		}
		return l.left, l.right
	})
	l.right = l.x.to
	for _, r := range s.Rows {
		if sum := r.Bars.sum(); sum > 0 {
			l.share = math.Max(l.share, slices.Max(r.Bars.Counts)/sum)
		}
	}
	l.label = Wrap(s.Label, s.Width-1, Note)
	if s.Label == "" {
		l.label = nil
	}
	l.top = 1.2 + float64(len(l.label))*Note.Size*LineHeight
	if len(s.Heads) > 0 || s.Names != "" {
		l.top += 4.4
	}
	l.top += 0.8
}

func (l *stripsLayout) footHigh() float64 {
	if l.s.Ends != [2]string{} || l.s.X.Label != "" {
		return 8.4
	}
	return 5
}

func (l *stripsLayout) heads() {
	d := l.d
	d.Heed(l.s.Label)
	for i, line := range l.label {
		l.set(0.5, 1.2+Note.Size*LineHeight*(float64(i)+0.75), line, Note)
	}
	y := l.top - 1.9
	l.set(0.5, y, d.fit(l.s.Names, l.left-1.5, Note), Note)
	for i, h := range l.s.Heads {
		l.set(l.column(i), y, h, Note.At(End, Baseline))
	}
}

// column is the right end of a column of figures.
func (l *stripsLayout) column(i int) float64 {
	x := l.right
	for k := range i + 1 {
		x += stripFigures + l.wide[k]
	}
	return x
}

func (l *stripsLayout) grid() {
	foot := l.top + float64(len(l.s.Rows))*l.high
	l.d.Group(Group{Class: "grid"}, func() {
		l.x.uprights(l.d, l.top, foot)
		if l.x.holds(0) && l.x.lo < 0 {
			l.d.Line(l.x.at(0), l.top, l.x.at(0), foot, Style{Stroke: Ink, Width: 0.2})
		}
		for i := range len(l.s.Rows) + 1 {
			y := l.top + float64(i)*l.high
			l.d.Line(0.5, y, l.s.Width-1, y, Grid)
		}
	})
}

func (l *stripsLayout) foot() {
	foot := l.top + float64(len(l.s.Rows))*l.high
	l.numbersBelow(l.x, foot, 1.4, l.s.X.Label)
	for i, w := range l.s.Ends {
		if x, a := l.left, Start; w != "" {
			if i == 1 {
				x, a = l.right, End
			}
			l.set(x, foot+5, l.d.fit(w, (l.right-l.left)/2-1, Note), Note.At(a, Top))
		}
	}
}

func (l *stripsLayout) row(r Strip, top float64) {
	d, foot, mid := l.d, top+l.high, top+l.high/2
	l.set(0.5, mid, d.fit(r.Name, l.left-1.5, stripName), stripName.At(Start, Centred))
	for i, f := range r.Figures {
		if i < len(l.wide) {
			l.set(l.column(i), mid, f, stripFigure.At(End, Centred))
		}
	}
	if r.Note != "" {
		l.set(l.left+1, mid, d.fit(r.Note, l.right-l.left-1.5, Note), Note.At(Start, Centred).On(Sheet))
	}
	frame := RectPath(l.left, top, l.right-l.left, l.high)
	d.Group(Group{Class: "field", Clip: frame}, func() {
		l.histogram(r.Bars, top, foot)
		y := axisMap{l.y, foot, top}
		if len(r.Band.X) > 0 || len(r.Line) > 0 {
			d.Path(r.Band.path(l.x.axisMap, y), Area(Tint))
			for _, edge := range r.Band.edges(l.x.axisMap, y) {
				d.Path(edge, bandEdge)
			}
			if y.holds(0) {
				d.Line(l.left, y.at(0), l.right, y.at(0), Fine)
			}
			if len(r.Line) == 1 {
				d.Circle(Point{l.x.at(r.Line[0].X), y.at(r.Line[0].Y)}, 0.7, Area(Spark))
			}
			d.Path(Series{Points: r.Line}.path(l.x.axisMap, y), Style{Stroke: Spark, Width: 0.5, Cap: RoundCap})
		}
		if r.Spread != nil {
			l.spread(*r.Spread, top, foot)
		}
	})
}

// histogram stands on the foot of its strip; the fullest class of all strips nearly fills one.
func (l *stripsLayout) histogram(h Histogram, top, foot float64) {
	sum := h.sum()
	if sum <= 0 || l.share <= 0 {
		return
	}
	p := new(Path).Move(l.x.at(h.From), foot)
	for i, c := range h.Counts {
		y := foot - c/sum/l.share*0.88*(foot-top)
		p.Line(l.x.at(h.From+float64(i)*h.Step), y).Line(l.x.at(h.From+float64(i+1)*h.Step), y)
	}
	p.Line(l.x.at(h.From+float64(len(h.Counts))*h.Step), foot).Close()
	l.d.Path(p, Style{Stroke: Soft, Width: 0.15, Fill: Tint})
}

// spread draws the extremes as a fine line, the standard deviation as a strong one and the mean as the spark's own
// stroke.
func (l *stripsLayout) spread(s Spread, top, foot float64) {
	d, mid, tick := l.d, (top+foot)/2, (foot-top)*0.16
	within := l.x.within
	if s.Most > s.Least {
		d.Line(within(s.Least), mid, within(s.Most), mid, Quiet)
		for _, v := range []float64{s.Least, s.Most} {
			d.Line(within(v), mid-tick/2, within(v), mid+tick/2, Quiet)
		}
	}
	if s.SD > 0 && l.x.holds(s.Mean) {
		pen := Style{Stroke: Ink, Width: 0.45}
		d.Line(within(s.Mean-s.SD), mid, within(s.Mean+s.SD), mid, pen)
		for _, v := range []float64{s.Mean - s.SD, s.Mean + s.SD} {
			d.Line(within(v), mid-tick, within(v), mid+tick, pen)
		}
	}
	d.Group(Group{Class: "mean"}, func() {
		x := l.x.at(s.Mean)
		if l.x.holds(s.Mean) {
			d.Line(x, top+(foot-top)*0.12, x, foot-(foot-top)*0.12, Style{Stroke: Spark, Width: 0.7})
			return
		}
		tip, way := l.right-0.4, -1.0 // off the field: an arrowhead at its edge
		if s.Mean < l.x.lo {
			tip, way = l.left+0.4, 1
		}
		d.Polygon([]Point{{tip, mid}, {tip + 2*way, mid - 1}, {tip + 2*way, mid + 1}}, Area(Spark))
	})
}
