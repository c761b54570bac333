package drawing

import (
	"fmt"
	"math"
)

// Scale is how an axis is divided.
type Scale uint8

// The scales.
const (
	Linear Scale = iota
	Log
)

// Sign says how tick numbers show their sign.
type Sign uint8

// The signs.
const (
	MinusOnly Sign = iota
	PlusMinus      // +1, 0, −1
)

// Axis is one axis of a chart. Where Min and Max are equal the range comes from
// the data, rounded outwards.
type Axis struct {
	Label    string // quantity and unit
	Min, Max float64
	Scale    Scale
	Sign     Sign
	Ticks    []float64 // own ticks; empty: round numbers
}

// XY is a point in the units of the axes.
type XY struct{ X, Y float64 }

// Band is an area between two lines, drawn as a tint.
type Band struct{ X, Lo, Hi []float64 }

// Zone is a range of y that holds over the whole width, drawn dotted (a tolerance).
type Zone struct{ Lo, Hi float64 }

// LineLook is how a series is drawn.
type LineLook uint8

// The looks of a series.
const (
	Strong LineLook = iota
	Light
	OutsideValidity // dashed
	SparkTrace      // the spark alone
)

// Series is a line through points.
type Series struct {
	Points []XY
	Look   LineLook
	Label  string // set beside the line's end where there is room
}

// MarkKind is what a point stands for.
type MarkKind uint8

// The kinds of point.
const (
	Reading  MarkKind = iota // a cross with its error bar
	SetAside                 // the same in a dashed ring
	Dot                      // a small filled disc
	Ring                     // an open ring
	Whisker                  // a fine dot with its bar: one of many
)

// Mark is a measured point; U is half the length of its error bar, in units of y.
type Mark struct {
	X, Y, U float64
	Kind    MarkKind
	Note    string
}

// Reference is a value of x that all panels share, such as idle or redline.
type Reference struct {
	X     float64
	Label string
}

// Remark is a note at a place in the chart.
type Remark struct {
	X, Y float64
	Text string
}

// Panel is one field of a chart.
type Panel struct {
	Y       Axis
	Height  float64 // of the field, mm; 0: by the house
	Bands   []Band
	Zones   []Zone
	Series  []Series
	Marks   []Mark
	Remarks []Remark
}

// Chart is one or several panels over one x axis.
type Chart struct {
	Width       float64 // of the drawing, mm: 90 fills a phone, 180 a sheet
	Title, Desc string
	Prefix      string
	X           Axis
	References  []Reference
	Panels      []Panel
	Rows        []Row     // of events, below the panels
	Stretches   []Stretch // on a strip below the panels, from left to right
	StripLabel  string
}

// most is the number of points of a series that is drawn without thinning.
const most = 4000

// Draw lays the chart out. Words keep their size whatever the width.
func (c Chart) Draw() (*Drawing, error) {
	l, err := c.layout()
	if err != nil {
		return nil, err
	}
	d := New(c.Width, l.height, c.Title, c.Desc)
	d.Prefix = c.Prefix
	l.d = d
	for i := range c.Panels {
		l.panel(i)
	}
	l.rowsOfEvents()
	l.strip()
	l.xAxis()
	l.references()
	for _, p := range l.labels { // last, so that reference lines do not cross the words
		l.set(p.at.X, p.at.Y, p.text, Note.On(Sheet))
	}
	for i := range c.Panels {
		l.notes(i)
	}
	return d, nil
}

// chartLayout holds where everything stands, in mm.
type chartLayout struct {
	c           Chart
	left, right float64
	height      float64
	x           axisMap
	xTicks      []float64
	y           []axisMap
	yTicks      [][]float64
	refRow      []int // row of each reference label
	rows        int
	labels      []panelLabel
	strips      stretchLayout
	placer
}

type panelLabel struct {
	at   Point
	text string
}

// axisMap turns values into mm.
type axisMap struct {
	lo, hi, from, to float64
	scale            Scale
}

func (a axisMap) at(v float64) float64 {
	lo, hi := a.lo, a.hi
	if a.scale == Log {
		v, lo, hi = math.Log(v), math.Log(lo), math.Log(hi)
	}
	return a.from + (v-lo)/(hi-lo)*(a.to-a.from)
}

func (a axisMap) holds(v float64) bool {
	pad := (a.hi - a.lo) * 1e-9
	return v >= a.lo-pad && v <= a.hi+pad
}

const (
	tickSize  = 3.0 // mm, of the tick numbers
	refRowGap = 3.6
	panelGap  = 6.5
)

var tickText = TextStyle{Size: tickSize}

func (c Chart) layout() (*chartLayout, error) {
	if !(c.Width >= 50 && c.Width <= 1000) {
		return nil, fmt.Errorf("chart – a width of %g mm cannot be drawn – use 50 to 1000 mm", c.Width)
	}
	if len(c.Panels) == 0 {
		return nil, fmt.Errorf("chart – no panel – give at least one")
	}
	if err := c.check(); err != nil {
		return nil, err
	}
	l := &chartLayout{c: c, right: c.Width - 3}
	xs, ys := c.ranges()
	if err := xs.usable("chart x axis"); err != nil {
		return nil, err
	}
	wide := 0.0
	heights := make([]float64, len(c.Panels))
	for i, p := range c.Panels {
		if err := ys[i].usable(fmt.Sprintf("chart panel %d, y axis", i+1)); err != nil {
			return nil, err
		}
		heights[i] = p.Height
		if heights[i] <= 0 {
			heights[i] = math.Min(math.Max(c.Width*0.38, 32), 70)
			if len(c.Panels) > 1 {
				heights[i] *= 0.7
			}
		}
		ticks, r := axisTicks(p.Y, ys[i], int(heights[i]/7)+1)
		l.yTicks = append(l.yTicks, ticks)
		ys[i] = r
		for _, s := range tickWords(ticks, p.Y) {
			wide = math.Max(wide, Width(s, tickText))
		}
	}
	l.left = wide + 3
	base := l.left
	for n := 12; n >= 2; n-- { // as many numbers as stand apart
		ticks, r := axisTicks(c.X, xs, n)
		widest := 0.0
		for _, s := range tickWords(ticks, c.X) {
			widest = math.Max(widest, Width(s, tickText))
		}
		l.left = math.Max(base, widest/2+0.5) // the outer numbers stay on the sheet
		l.right = c.Width - math.Max(widest/2, 2) - 0.5
		l.xTicks, l.x = ticks, axisMap{r.lo, r.hi, l.left, l.right, c.X.Scale}
		if len(c.X.Ticks) > 0 || float64(len(ticks)-1)*(widest+3) <= l.right-l.left {
			break
		}
	}
	l.placeReferences()
	y := 1.5
	if l.rows > 0 {
		y += float64(l.rows)*refRowGap + 0.5
	}
	for i, p := range c.Panels {
		y += 4 // the panel's label
		l.y = append(l.y, axisMap{ys[i].lo, ys[i].hi, y + heights[i], y, p.Y.Scale})
		y += heights[i] + panelGap - 4
	}
	l.height = y - panelGap + 4 + 8.2
	if c.X.Label == "" {
		l.height -= 3
	}
	l.height += l.rowsHigh()
	l.layStrip()
	return l, nil
}

type valueRange struct {
	lo, hi float64
	fixed  bool
	scale  Scale
}

func (r valueRange) usable(where string) error {
	switch {
	case math.IsInf(r.lo, 0) || math.IsInf(r.hi, 0):
		return fmt.Errorf("%s – no data and no range – give Min and Max", where)
	case r.scale == Log && r.lo <= 0:
		return fmt.Errorf("%s – a logarithmic axis cannot start at %g – use values above 0", where, r.lo)
	case r.hi <= r.lo:
		return fmt.Errorf("%s – the range %g to %g is empty – give Min below Max", where, r.lo, r.hi)
	}
	return nil
}

// ranges returns the range of x and of each y from the axes or the data.
func (c Chart) ranges() (valueRange, []valueRange) {
	inf := math.Inf(1)
	x := valueRange{inf, -inf, false, c.X.Scale}
	ys := make([]valueRange, len(c.Panels))
	for i, p := range c.Panels {
		y := valueRange{inf, -inf, false, p.Y.Scale}
		grow := func(r *valueRange, v float64) { r.lo, r.hi = math.Min(r.lo, v), math.Max(r.hi, v) }
		for _, s := range p.Series {
			for _, q := range s.Points {
				grow(&x, q.X)
				grow(&y, q.Y)
			}
		}
		for _, b := range p.Bands {
			for k := range b.X {
				grow(&x, b.X[k])
				grow(&y, b.Lo[k])
				grow(&y, b.Hi[k])
			}
		}
		for _, m := range p.Marks {
			grow(&x, m.X)
			grow(&y, m.Y-m.U)
			grow(&y, m.Y+m.U)
		}
		for _, z := range p.Zones {
			grow(&y, z.Lo)
			grow(&y, z.Hi)
		}
		ys[i] = y.or(p.Y)
	}
	for _, r := range c.References {
		x.lo, x.hi = math.Min(x.lo, r.X), math.Max(x.hi, r.X)
	}
	return x.or(c.X), ys
}

// or takes the range of the axis where it has one.
func (r valueRange) or(a Axis) valueRange {
	if a.Min != a.Max {
		return valueRange{a.Min, a.Max, true, a.Scale}
	}
	if r.lo == r.hi { // one value: give it some room
		pad := math.Max(math.Abs(r.lo)*0.1, 1)
		if a.Scale == Log {
			r.lo, r.hi = r.lo/2, r.hi*2
		} else {
			r.lo, r.hi = r.lo-pad, r.hi+pad
		}
	}
	return r
}

// axisTicks returns the ticks and the range, widened to whole steps where it is free.
func axisTicks(a Axis, r valueRange, n int) ([]float64, valueRange) {
	if len(a.Ticks) > 0 {
		return a.Ticks, r
	}
	n = max(n, 2)
	if a.Scale == Log {
		ticks := LogTicks(r.lo, r.hi, n)
		return ticks, r
	}
	if !r.fixed {
		step := niceStep(r.hi-r.lo, n)
		r.lo, r.hi = math.Floor(r.lo/step+1e-9)*step, math.Ceil(r.hi/step-1e-9)*step
		return stepTicks(r.lo, r.hi, step), r
	}
	return Ticks(r.lo, r.hi, n), r
}

func tickWords(ticks []float64, a Axis) []string {
	places := 0
	for _, t := range ticks {
		for places < 9 && math.Abs(t*math.Pow(10, float64(places))-math.Round(t*math.Pow(10, float64(places)))) > 1e-6*math.Max(1, math.Abs(t)) {
			places++
		}
	}
	out := make([]string, len(ticks))
	for i, t := range ticks {
		p := places
		if a.Scale == Log {
			p = decimals(t)
		}
		if a.Sign == PlusMinus {
			out[i] = Signed(t, p)
		} else {
			out[i] = Number(t, p)
		}
	}
	return out
}
