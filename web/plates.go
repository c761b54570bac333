package web

import (
	"fmt"
	"math"
	"sort"

	"phasewright/drawing"
	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/sheet"
)

// turnOf is a sense of rotation as the drawing room takes it.
func turnOf(d engine.Direction) drawing.Turn {
	if d == engine.Clockwise {
		return drawing.Clockwise
	}
	return drawing.Counterclockwise
}

// damperPlate shows the damper from the front with the sheet's marks.
func damperPlate(c *jobcard.Card, sh *sheet.Sheet) (*plate, error) {
	view := drawing.DamperView{Turn: turnOf(c.Engine.Rotation)}
	for _, m := range sh.Marks {
		view.Marks = append(view.Marks, drawing.DamperMark{Before: m.AngleDeg, Name: deg(m.AngleDeg), Distance: figure(math.Abs(m.ArcMM), 1) + " mm"})
	}
	return draw(func(width float64, prefix string) (*drawing.Drawing, error) {
		v := view
		v.Width, v.Prefix = width, prefix
		return v.Draw()
	}, "damper")
}

// capPlate shows the cap from above: which wire stands in which tower. It is nil where no cap steers the spark.
func capPlate(c *jobcard.Card, sh *sheet.Sheet) (*plate, error) {
	if len(sh.CylinderMap) == 0 {
		return nil, nil
	}
	towers := append([]sheet.Tower(nil), sh.CylinderMap...)
	sort.SliceStable(towers, func(i, j int) bool { return towers[i].FiresDeg < towers[j].FiresDeg })
	m := drawing.CapMap{Turn: turnOf(c.Distributor.Rotation), FirstAt: towers[0].AngleDeg}
	for _, t := range towers {
		after := math.Mod(float64(m.Turn)*(t.AngleDeg-m.FirstAt)+720, 360)
		m.Order, m.At = append(m.Order, t.Cylinder), append(m.At, after)
		m.Towers = append(m.Towers, fmt.Sprint(t.Tower))
		if t.Companion > t.Cylinder {
			m.Pairs = append(m.Pairs, [2]int{t.Cylinder, t.Companion})
		}
	}
	return draw(func(width float64, prefix string) (*drawing.Drawing, error) {
		v := m
		v.Width, v.Prefix = math.Min(width, 120), prefix
		return v.Draw()
	}, "cap")
}
