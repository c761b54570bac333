package sheet

import (
	"fmt"
	"math"
	"strings"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// mostWiresToRead is how many wires beside No. 1 are named: a shaft that swings once a turn is told in every direction
// by the opposite vane and the two a quarter away.
const mostWiresToRead = 3

// WiresToRead orders the other cylinders by what the light on their wires tells beside No. 1: the vane opposite on the
// distributor first (a full cycle is one turn of its shaft, so it lies 360° of crank away), where a swinging shaft
// shows twice over; then the two a quarter of a shaft turn away, for a swing that No. 1 and its opposite do not show.
// With a coil for each pair the companion's spark is on the same wire, and another pair tells more.
func WiresToRead(c *jobcard.Card) []int {
	f := c.Firings()
	first := 0
	for f.Cylinder(first) != 1 {
		first++
	}
	after := func(i int) float64 { return math.Mod(float64(f.TDC(i).From(f.TDC(first)))+720, 720) }
	companion, paired := f.Companion(first)
	paired = paired && c.Ignition.Coils == jobcard.CompanionPairs
	taken := map[int]bool{first: true}
	if paired {
		taken[companion] = true
	}
	var out []int
	for _, want := range []float64{360, 180, 540} {
		best, away := -1, math.Inf(1)
		for i := range f.Count() {
			d := math.Abs(after(i) - want)
			if taken[i] || paired && want == 360 || d > away || d == away && want < 540 {
				continue // of two quarters as near, the earlier and the later: opposite ones would tell the same
			}
			best, away = i, d
		}
		if best < 0 {
			continue
		}
		taken[best] = true
		if j, ok := f.Companion(best); ok && paired {
			taken[j] = true
		}
		out = append(out, f.Cylinder(best))
	}
	return out[:min(len(out), mostWiresToRead)]
}

// wireItems says on which wires the light tells most in the fewest restarts; a single has no other.
func wireItems(c *jobcard.Card) []Item {
	wires := WiresToRead(c)
	if len(wires) == 0 {
		return nil
	}
	f := c.Firings()
	at := map[int]engine.Position{}
	for i := range f.Count() {
		at[f.Cylinder(i)] = f.TDC(i)
	}
	var told []string
	for _, w := range wires {
		told = append(told, fmt.Sprintf("No. %d (%s)", w, markOf(c, at[w].From(at[1]))))
	}
	return []Item{{
		ID: "wires_to_read", Title: "Wires to read", Value: float64(len(wires)), Unit: "wires beside No. 1",
		Verdict: Fine, Text: "beside No. 1 read once each at idle. " + strings.Join(told, ". ") + ". " + moving(c),
		Because: "the vane opposite No. 1 shows a swinging shaft twice over. The vanes a quarter of a turn away " +
			"show a swing that these two do not. A bent vane shows on its own wire alone. Only all wires, or a " +
			"capture, tell them all",
		Formula: "shaft swing a·cos(shaft angle − direction): No. 1 less its opposite shows 2·a·cos, the vanes a " +
			"quarter away a·sin. shown_deg counts from the top dead centre of the cylinder that the wire belongs to",
		Inputs:  from(c, "engine.firing_order", c.Engine.FiringOrder, "ignition.coils", c.Ignition.Coils),
		Ignored: "a pass on wire 1 says nothing of the other cylinders. A late one loses power. An early one knocks",
	}}
}

// markOf says against which mark a wire is read whose cylinder comes to top dead centre so far after No. 1: what comes
// later to the pointer lies behind the zero mark in running direction.
func markOf(c *jobcard.Card, after quantity.Crank) string {
	after = quantity.Crank(math.Remainder(float64(after), 360))
	if math.Abs(float64(after)) < 0.5 {
		return "zero mark"
	}
	side := "behind"
	if after < 0 {
		side = "ahead of"
	}
	return fmt.Sprintf("own mark, %s %s the zero mark",
		c.Job.Units.Tool(quantity.Length(layOut(c, "", after).ArcMM), 1), side)
}

// moving says how the light gets its trigger from one cylinder after the other.
func moving(c *jobcard.Card) string {
	switch c.Ignition.Coils {
	case jobcard.CoilPerCylinder:
		return "No plug wires. Clamp on the coil's primary wire, or on a wire put between coil and plug, engine " +
			"stopped (common practice; the coil maker's word wins)"
	case jobcard.CompanionPairs:
		return "Each wire flashes for both cylinders of its pair. Two marks side by side are their difference. An " +
			"inductive clamp moves without a restart (common practice)"
	}
	return "An inductive clamp moves without a restart (common practice)"
}
