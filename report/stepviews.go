package report

import (
	"fmt"

	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/leads"
	"phasewright/quantity"
	"phasewright/sheet"
)

// LampView is how a lamp is wired to the pickups of an engine; the caller sets the width.
func LampView(c *jobcard.Card) drawing.LampWiring {
	out := drawing.LampWiring{Prefix: "lamp"}
	for _, l := range leads.Lamps(c) {
		if len(l.Ways) == 0 {
			out.Circuits = append(out.Circuits, drawing.LampCircuit{Name: l.Pickup + " pickup: no lamp",
				Way: drawing.MeterAcross, Resistor: []string{"while the starter turns"}, Lit: "scope, or AC volts"})
		}
		for _, w := range l.Ways {
			one := drawing.LampCircuit{Name: l.Pickup + " pickup: " + w.Output, Supply: "+ its own supply",
				Lit: "on while " + string(w.Lit)}
			if w.Lit == jobcard.High {
				one.Way = drawing.ToGround
			}
			for _, r := range w.With {
				one.Resistor = append(one.Resistor, fmt.Sprintf("%s at %v", r.Says(), r.Supply))
			}
			out.Circuits = append(out.Circuits, one)
		}
	}
	return out
}

// RotorSeen is the rotor over its terminal with the window of a cut-open cap, and the tip where the light on the
// starter must show it; ok is false where the card does not foretell it.
func RotorSeen(c *jobcard.Card, s *sheet.Sheet, width float64, prefix string) (view drawing.RotorSweep, ok bool) {
	seen, ok := s.RotorOnStarter(c)
	if !ok {
		return view, false
	}
	k, err := sheet.CaseOf(c)
	if err != nil { // an item of the sheet says why
		return view, false
	}
	view, ok = RotorSweep(c, k.Plan, width, prefix)
	view.Seen = []float64{float64(seen.Tip)}
	view.SeenWords = fmt.Sprintf("dots: the window; hatched: seen at %s before TDC", quantity.Degrees(seen.Shown, 1))
	return view, ok
}
