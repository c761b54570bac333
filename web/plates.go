package web

import (
	"math"

	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/report"
	"phasewright/sheet"
)

// damperPlate shows the damper from the front with the sheet's marks.
func damperPlate(c *jobcard.Card, sh *sheet.Sheet) (*plate, error) {
	return draw(func(width float64, prefix string) (*drawing.Drawing, error) {
		v := report.DamperView(c, sh)
		v.Width, v.Prefix = width, prefix
		return v.Draw()
	}, "damper")
}

// capPlate shows the cap from above: which wire stands in which tower. It is nil where no cap steers the spark.
func capPlate(c *jobcard.Card, sh *sheet.Sheet) (*plate, error) {
	if _, ok := report.CapView(c, sh); !ok {
		return nil, nil
	}
	return draw(func(width float64, prefix string) (*drawing.Drawing, error) {
		v, _ := report.CapView(c, sh)
		v.Width, v.Prefix = math.Min(width, 120), prefix
		return v.Draw()
	}, "cap")
}
