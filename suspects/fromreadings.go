package suspects

import (
	"math"

	"phasewright/engine"
	"phasewright/readings"
)

// FromReadings puts a table of readings into evidence, without retyping. Readings taken before the housing was turned
// are moved to where it stands now (two crank degrees for each of the housing, with the rotor later).
func (ev *Evidence) FromReadings(rows []readings.Row) {
	if len(rows) == 0 {
		return
	}
	now := rows[len(rows)-1].Housing
	for _, r := range rows {
		l := Light{Speed: float64(r.Speed), Wire: r.Cylinder()}
		turned := engine.ShaftToCrank(now - r.Housing)
		l.Shown = &Number{Value: math.Remainder(float64(r.Shown-turned), 360), U: float64(r.U)}
		l.Locked = &Number{Value: float64(r.Locked)}
		if r.AllowanceStated {
			l.Allowance = &Number{Value: float64(r.Allowance)}
		}
		ev.Light = append(ev.Light, l)
	}
}
