package report

import (
	"fmt"
	"math"
	"sort"

	"phasewright/drawing"
	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/sheet"
)

func turn(d engine.Direction) drawing.Turn {
	if d == engine.Clockwise {
		return drawing.Clockwise
	}
	return drawing.Counterclockwise
}

// degrees prints degrees with as many decimals as they need, at most two.
func degrees(v float64) string {
	for places := range 2 {
		p := math.Pow(10, float64(places))
		if math.Abs(v*p-math.Round(v*p)) < 1e-6 {
			return quantity.Degrees(v, places)
		}
	}
	return quantity.Degrees(v, 2)
}

// distances says which marks get a dimension line.
type distances uint8

const (
	everyDistance distances = iota
	largestDistance
)

// Lengths prints the lengths of a drawing in the unit that a shop works in, with the other one beside it: a tape is
// measured.
func Lengths(u quantity.LengthUnit) drawing.Lengths {
	if u == 0 {
		return drawing.Lengths{} // as the drawing prints them by itself
	}
	l := drawing.Lengths{Print: func(mm float64, decimals int) string {
		return u.Tool(quantity.Length(mm), max(decimals, 1))
	}}
	if u == quantity.Inch {
		l.Rules = drawing.InchRules
	}
	return l
}

// DamperView is the damper from the front with the sheet's marks and their distances along the rim; the caller sets the
// width.
func DamperView(c *jobcard.Card, s *sheet.Sheet) drawing.DamperView {
	v := drawing.DamperView{Turn: turn(c.Engine.Rotation), Prefix: "damper"}
	for _, m := range s.Marks {
		v.Marks = append(v.Marks, drawing.DamperMark{Before: m.AngleDeg, Name: degrees(m.AngleDeg),
			Distance: dimension(c.Job.Units, quantity.Length(math.Abs(m.ArcMM)))})
	}
	return v
}

// dimension prints a length on a dimension line: in an inch shop the millimetres follow in brackets, as usual on
// drawings with two units.
func dimension(u quantity.LengthUnit, l quantity.Length) string {
	if u == quantity.Inch {
		return u.Tool(l, 1)
	}
	return u.Fixed(l, 1)
}

// damperView shows the damper on paper.
func damperView(c *jobcard.Card, s *sheet.Sheet, width float64, shown distances) (*drawing.Drawing, error) {
	v := DamperView(c, s)
	v.Width = width
	largest := 0
	for i, m := range s.Marks {
		if math.Abs(m.AngleDeg) > math.Abs(s.Marks[largest].AngleDeg) {
			largest = i
		}
	}
	for i := range v.Marks {
		if shown == largestDistance && i != largest {
			v.Marks[i].Distance = ""
		}
	}
	return v.Draw()
}

// CapView is the cap from above, which wire stands in which tower; ok is false where no cap steers the spark. The
// caller sets the width.
func CapView(c *jobcard.Card, s *sheet.Sheet) (m drawing.CapMap, ok bool) {
	if len(s.CylinderMap) == 0 {
		return m, false
	}
	towers := append([]sheet.Tower(nil), s.CylinderMap...)
	sort.SliceStable(towers, func(i, j int) bool { return towers[i].FiresDeg < towers[j].FiresDeg })
	m = drawing.CapMap{Turn: turn(c.Distributor.Rotation), FirstAt: towers[0].AngleDeg, Prefix: "cap"}
	for _, t := range towers {
		after := math.Mod(float64(m.Turn)*(t.AngleDeg-m.FirstAt)+720, 360)
		m.Order, m.At, m.Towers = append(m.Order, t.Cylinder), append(m.At, after),
			append(m.Towers, fmt.Sprint(t.Tower))
		if t.Companion > t.Cylinder {
			m.Pairs = append(m.Pairs, [2]int{t.Cylinder, t.Companion})
		}
	}
	return m, true
}

// capView shows the cap on paper; nil where no cap steers the spark.
func capView(c *jobcard.Card, s *sheet.Sheet, width float64) (*drawing.Drawing, error) {
	m, ok := CapView(c, s)
	if !ok {
		return nil, nil
	}
	m.Width = width
	return m.Draw()
}

// Tape is the timing tape that follows from a card and its sheet: the sheet's marks, ten
// degrees more at each end. Callers may change what it says about paper, tape and view.
func Tape(c *jobcard.Card, s *sheet.Sheet) drawing.Tape {
	t := drawing.Tape{Name: c.Job.Name, Diameter: float64(c.Damper.Diameter.Value), Turn: turn(c.Engine.Rotation),
		From: -10, To: 10, Lengths: Lengths(c.Job.Units)}
	if c.Job.Serial != "" {
		t.Name += "; " + c.Job.Serial
	}
	for _, m := range s.Marks {
		t.Marks = append(t.Marks, drawing.TapeMark{Before: m.AngleDeg, Label: m.Name + " " + degrees(m.AngleDeg)})
		t.From = math.Min(t.From, math.Floor(m.AngleDeg/10)*10-10)
		t.To = math.Max(t.To, math.Ceil(m.AngleDeg/10)*10+10)
	}
	return t
}
