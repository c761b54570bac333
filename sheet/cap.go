package sheet

import (
	"fmt"
	"math"
	"strings"

	"phasewright/jobcard"
)

func capItems(c *jobcard.Card, s *Sheet) []Item {
	return append(mapItems(c, s), wireItems(c)...)
}

func mapItems(c *jobcard.Card, s *Sheet) []Item {
	if c.Distributor.Use == jobcard.SignalOnly {
		return []Item{{
			ID: "cylinder_map", Title: "No cap, no rotor", Value: math.NaN(), Verdict: Fine,
			Text: "the unit only carries the pickups. Coils go to their cylinders in the controller's order " +
				spell(c.Job.Units, c.Engine.FiringOrder),
			Because: "distributor.use is signal only", Formula: "firing order",
			Inputs:  from(c, "distributor.use", c.Distributor.Use, "engine.firing_order", c.Engine.FiringOrder),
			Ignored: "a coil on the wrong cylinder backfires",
		}}
	}
	var walk, pairs []string
	for _, t := range s.CylinderMap {
		walk = append(walk, fmt.Sprintf("tower %d → cylinder %d", t.Tower, t.Cylinder))
		if t.Companion > t.Cylinder {
			pairs = append(pairs, fmt.Sprintf("%d and %d", t.Cylinder, t.Companion))
		}
	}
	companions := "No two cylinders reach top dead centre together"
	if len(pairs) > 0 {
		companions = "Companions (top dead centre together): " + strings.Join(pairs, ", ")
	}
	it := Item{
		ID: "cylinder_map", Title: "Wires", Value: float64(c.Distributor.TowerForNo1),
		Unit: fmt.Sprintf("tower for cylinder %d", c.Engine.FiringOrder[0]), Verdict: Fine,
		Text: fmt.Sprintf("the rotor turns %s. Towers count clockwise from above. In rotor direction: %s. %s", s.Rotor,
			strings.Join(walk, ", "), companions),
		Because: "laid from firing order and rotor direction",
		Formula: "one tower a firing in rotor direction, from the tower chosen for the first cylinder",
		Inputs: from(c, "engine.firing_order", c.Engine.FiringOrder, "distributor.rotation", s.Rotor,
			"distributor.tower_for_no1", c.Distributor.TowerForNo1, "distributor.cap", string(c.Distributor.Cap)),
		Ignored: "the light on wire 1 reads right while other cylinders fire on open valves. That misfires, " +
			"backfires or bursts the airbox",
	}
	if !c.EvenFire() && c.Assumed("distributor.cap") {
		it.Verdict = Caution
		it.Because += ". The card does not say how the cap's towers stand: evenly, or as unevenly as the engine " +
			"fires. Look at the cap and write distributor.cap. Taken as " + string(c.Distributor.Cap)
	}
	return []Item{it}
}
