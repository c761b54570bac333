package drawing

import (
	"fmt"
	"math"
)

// XY is a point in the units of the axes.
type XY struct{ X, Y float64 }

// Band is an area between two lines, drawn as a tint with a line at either edge.
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
	Excluded                 // the same in a dashed ring
	Dot                      // a small filled disc
	Ring                     // an open ring
	Whisker                  // a fine dot with its bar: one of many
)

// Mark is a measured point; U is half the length of its error bar, in units of y.
type Mark struct {
	X, Y, U float64
	Kind    MarkKind
	Note    string
	// AtEdge draws a mark that lies beyond the x axis as an arrowhead at its edge; it is left out otherwise.
	AtEdge bool
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
	l.numbersBelow(l.x, l.axisFoot(), 1.6, c.X.Label)
	l.references("", l.refs, l.y[len(l.y)-1].from)
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
	x           axis
	y           []axis
	refs        references
	labels      []panelLabel
	strips      stretchLayout
	placer
}

type panelLabel struct {
	at   Point
	text string
}

const panelGap = 6.5 // mm

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
	l := &chartLayout{c: c}
	xs, ys := c.ranges()
	if err := xs.usable("chart x axis"); err != nil {
		return nil, err
	}
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
		l.y = append(l.y, layAxis(p.Y, ys[i], int(heights[i]/7)+1))
		l.left = math.Max(l.left, l.y[i].wide+3)
	}
	l.x = layLevel(c.X, xs, 12, func(wide float64) (left, right float64) { // the outer numbers stay on the sheet
		return math.Max(l.left, wide/2+0.5), c.Width - math.Max(wide/2, 2) - 0.5
	})
	l.left, l.right = l.x.from, l.x.to
	l.refs = references{top: 1.5, gap: 0.9}
	l.refs.lay(c.References, l.x.axisMap, c.Width, 0.6)
	y := 1.5
	if l.refs.rows > 0 {
		y += float64(l.refs.rows)*labelRow + 0.5
	}
	for i := range c.Panels {
		y += 4 // the panel's label
		l.y[i].from, l.y[i].to = y+heights[i], y
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

// ranges returns the range of x and of each y from the axes or the data.
func (c Chart) ranges() (valueRange, []valueRange) {
	x := noValues
	ys := make([]valueRange, len(c.Panels))
	for i, p := range c.Panels {
		y := noValues
		for _, s := range p.Series {
			for _, q := range s.Points {
				x.grow(q.X)
				y.grow(q.Y)
			}
		}
		for _, b := range p.Bands {
			x.grow(b.X...)
			y.grow(b.Lo...)
			y.grow(b.Hi...)
		}
		for _, m := range p.Marks {
			x.grow(m.X)
			y.grow(m.Y-m.U, m.Y+m.U)
		}
		for _, z := range p.Zones {
			y.grow(z.Lo, z.Hi)
		}
		ys[i] = y.or(p.Y)
	}
	for _, r := range c.References {
		x.grow(r.X)
	}
	return x.or(c.X), ys
}
