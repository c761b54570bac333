package stand

import (
	"fmt"
	"strings"

	"phasewright/jobcard"
)

// card writes the job card that goes with the engine and has it parsed.
func (g *rig) card(r chance) (string, *jobcard.Card, error) {
	var b strings.Builder
	line := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	list := func(n int, at func(int) string) string {
		var s []string
		for i := range n {
			s = append(s, at(i))
		}
		return "[" + strings.Join(s, ", ") + "]"
	}
	edge := func(rises bool) string {
		if rises {
			return "rising"
		}
		return "falling"
	}
	level := func(high bool) string {
		if high {
			return "high"
		}
		return "low"
	}
	odd := ""
	for _, v := range g.intervals {
		if v != g.intervals[0] {
			odd = ", intervals: " + list(g.n(), func(i int) string { return fmt.Sprintf("%g deg", g.intervals[i]) })
		}
	}
	line(`job: {name: "stand, invented"}`)
	order := list(g.n(), func(i int) string { return fmt.Sprint(g.order[i]) })
	line("engine: {cylinders: %d, firing_order: %s%s, rotation: clockwise,", g.n(), order, odd)
	line("  bore: 90 mm, stroke: 92 mm, rod: 155 mm,")
	line("  cranking_speed: %.0f rpm, idle_speed: %.0f rpm, redline: %.0f rpm}", g.crankRPM, g.idle, g.redline)
	line("damper: {diameter: 170 mm, zero_mark: %v deg}", MarkLimit)
	use, coils := "spark and signal", "one"
	switch g.coils {
	case pairs:
		use, coils = "signal only", "companion pairs"
	case perCylinder:
		use, coils = "signal only", "per cylinder"
	}
	line("distributor: {use: %s, rotation: clockwise}", use)
	kind := "hall"
	switch {
	case g.reluctor:
		kind = "variable reluctance"
	case g.width > 25:
		kind = "optical"
	}
	line("signals:")
	line("  crank: {kind: %s, vane_width: %g deg, in_vane: %s, active_edge: %s, lead: %g deg}",
		kind, g.width, level(g.vaneHigh), edge(g.activeRises()), g.lead)
	if g.cam {
		at, rises := g.camAt, g.camHigh
		if r.one(0.5) { // the edge at the window's end
			at, rises = at-g.camWidth, !rises
		}
		for at < 0 {
			at += 720
		}
		line("  cam: {kind: hall, vane_width: %g deg, in_vane: %s, active_edge: %s, edge_at: %g deg}",
			g.camWidth/2, level(g.camHigh), edge(rises), at)
	} else {
		line("  cam: {kind: none}")
	}
	most := (max(g.locked, g.cranking) + g.lead) / 2
	line("controller: {advance: {cranking: %g deg, locked: %g deg, min: 0 deg, max: %g deg},", g.cranking,
		g.locked, most)
	line("  delay_allowance: %g us, delay_step: 10 us}", g.allowance)
	out := "coil driver"
	if g.out == boxPulse {
		out = "spark box"
	}
	line("ignition: {output: %s, coils: %s, dwell: %.3g ms}", out, coils, g.dwell(g.idle))
	line("tolerance: 1 deg")
	c, err := jobcard.Parse("card.yaml", []byte(b.String()))
	if err != nil {
		return b.String(), nil, fmt.Errorf("the card of the case is refused: %w\n%s", err, b.String())
	}
	return b.String(), c, nil
}
