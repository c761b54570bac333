package suspects

import (
	"math"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/readings"
)

// aReading is what one takes, µs: in a table without times they are taken for one after the other where a speed was
// read twice, which is done to see whether the light walks. Half a minute, assumed.
const aReading = 30e6

// FromReadings puts a table of readings into evidence, without retyping. Readings taken before the housing was turned
// are moved to where it stands now (two crank degrees for each of the housing, with the rotor later).
func (ev *Evidence) FromReadings(rows []readings.Row) {
	if len(rows) == 0 {
		return
	}
	now := rows[len(rows)-1].Housing
	type look struct {
		speed quantity.Speed
		wire  int
	}
	seen, each := map[look]bool{}, 0.0
	for _, r := range rows {
		at := look{r.Speed, r.Cylinder()}
		if seen[at] {
			each = aReading
		}
		seen[at] = true
	}
	for i, r := range rows {
		l := Light{After: float64(i) * each, Speed: float64(r.Speed), Wire: r.Cylinder()}
		turned := engine.ShaftToCrank(now - r.Housing)
		l.Shown = &Number{Value: math.Remainder(float64(r.Shown-turned), 360), U: float64(r.U)}
		l.Locked = &Number{Value: float64(r.Locked)}
		if r.AllowanceStated {
			l.Allowance = &Number{Value: float64(r.Allowance)}
		}
		ev.Light = append(ev.Light, l)
	}
}

// FromDark puts looks at which the light did not flash into evidence.
func (ev *Evidence) FromDark(rows []readings.Row) {
	for _, r := range rows {
		ev.Light = append(ev.Light, Light{Speed: float64(r.Speed), Wire: r.Cylinder(), Flashes: "none"})
	}
}

// Rows are the looks with the usual light that showed a number, as a table of readings of the card's engine. A look
// without its commanded advance is one under the card's; where the card does not give it, the look is left out.
func (ev *Evidence) Rows(card *jobcard.Card) []readings.Row {
	var out []readings.Row
	for _, l := range ev.Light {
		if l.Shown == nil || l.Which != "" {
			continue
		}
		row := readings.Row{Speed: quantity.Speed(l.Speed), Shown: quantity.Crank(l.Shown.Value),
			U: quantity.Crank(l.Shown.U), Wire: max(l.Wire, 1)}
		told := card.Controller.Advance.Locked
		if l.Speed < float64(card.Engine.IdleSpeed)/2 {
			told = card.Controller.Advance.Cranking
		}
		locked, given := told.Get()
		switch {
		case l.Locked != nil:
			row.Locked = quantity.Crank(l.Locked.Value)
		case given:
			row.Locked = locked
		default:
			continue
		}
		if l.Allowance != nil {
			row.Allowance, row.AllowanceStated = quantity.Time(l.Allowance.Value), true
		}
		out = append(out, row)
	}
	return out
}
