package drawing

import (
	"fmt"
	"math"
)

// Firing is one firing on an axis of crank degrees before TDC: the active edge, the charge of the coil, the spark.
type Firing struct {
	Width      float64 // mm
	Lead       float64 // at which the active edge arrives, degrees before TDC
	Edge       Direction
	Spark      float64 // degrees before TDC
	Dwell      float64 // crank degrees that the charge, or the pulse, takes
	LeadWords  string
	SparkWords string
	DwellWords string
	Below      []string
	Prefix     string
}

// Draw lays the drawing out.
func (v Firing) Draw() (*Drawing, error) {
	const where = "one firing"
	if err := stepWidth(where, v.Width); err != nil {
		return nil, err
	}
	if !(v.Lead > 0 && v.Lead <= 360 && math.Abs(v.Spark) <= 180 && v.Dwell >= 0 && v.Dwell <= 720) {
		return nil, fmt.Errorf("%s – lead %g°, spark %g°, dwell %g° – give a lead up to 360°, a spark within "+
			"180° of TDC and a dwell up to 720°", where, v.Lead, v.Spark, v.Dwell)
	}
	desc := fmt.Sprintf("One firing. Active edge: %s. Spark: %s. Dwell: %s.", v.LeadWords, v.SparkWords, v.DwellWords)
	b := newStepBoard(v.Width, 52, "One firing", desc, v.Prefix, v.Below)
	d := b.d
	const left, right = 14.0, 5.0
	most, least := math.Max(v.Lead, v.Spark+v.Dwell)+8, math.Min(-6, v.Spark-6)
	most = math.Min(most, v.Lead*2)
	at := func(before float64) float64 { return left + (v.Width-left-right)*(most-before)/(most-least) }
	edge, spark, tdc := at(v.Lead), at(v.Spark), at(0)
	begin := math.Max(at(v.Spark+v.Dwell), left)
	for i, name := range []string{"crank", "coil", "spark"} {
		b.set(1, 15+11*float64(i), name, Note.At(Start, Centred))
	}
	d.Group(Group{ID: "crank", Class: "trace"}, func() {
		lo, hi := 18.0, 12.0
		if v.Edge == Falling {
			lo, hi = hi, lo
		}
		b.drawn(Poly(Point{left, lo}, Point{edge, lo}, Point{edge, hi}, Point{v.Width - right, hi}), Outline)
		b.drawn(Poly(Point{edge, 10}, Point{edge, 20}), Heavy.Wide(0.8))
	})
	d.Group(Group{ID: "coil", Class: "trace"}, func() {
		b.drawn(Poly(Point{left, 29}, Point{begin, 29}, Point{spark, 23}, Point{spark, 29}, Point{v.Width - right, 29}),
			Outline)
	})
	d.Group(Group{ID: "spark", Class: "trace"}, func() {
		b.drawn(Poly(Point{left, 40}, Point{spark, 40}, Point{spark, 34}, Point{spark, 40}, Point{v.Width - right, 40}),
			Style{Stroke: Spark, Width: 0.6})
	})
	b.drawn(Poly(Point{tdc, 8}, Point{tdc, 46}), CentreLn)
	b.name("TDC", Note, Point{tdc, 49.5})
	b.dimension(edge, tdc, 5, v.LeadWords)
	b.drawn(Poly(Point{edge, 4}, Point{edge, 10}), Dimension)
	b.drawn(Poly(Point{tdc, 4}, Point{tdc, 8}), Dimension)
	b.dimension(spark, tdc, 45, v.SparkWords)
	b.drawn(Poly(Point{spark, 41}, Point{spark, 46}), Dimension)
	if v.DwellWords != "" {
		b.name(v.DwellWords, Value.Sized(3.4), Point{(begin + spark) / 2, 32.4}, Point{begin - 12, 25.5},
			Point{begin, 32.4})
	}
	return d, nil
}

// dimension draws a straight dimension line from x1 to x2 at height y, its words beside or over it.
func (b *stepBoard) dimension(x1, x2, y float64, words string) {
	t := Value.Sized(3.4)
	w := Width(words, t)
	if math.Abs(x2-x1) > w+4*arrowLong {
		mid := (x1 + x2) / 2
		b.straightArrow(Point{mid - w/2 - 1, y}, Point{x1, y}, 0.2)
		b.straightArrow(Point{mid + w/2 + 1, y}, Point{x2, y}, 0.2)
		b.name(words, t, Point{mid, y})
		return
	}
	b.straightArrow(Point{x1 - 6, y}, Point{x1, y}, 0.2)
	b.straightArrow(Point{x2 + 6, y}, Point{x2, y}, 0.2)
	b.name(words, t, Point{x1 - 7.5 - w/2, y}, Point{x2 + 7.5 + w/2, y})
}
