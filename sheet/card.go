package sheet

import (
	"math"
	"strings"

	"phasewright/jobcard"
)

// cardItems are what has to be looked at on the card itself before its numbers are used.
func cardItems(c *jobcard.Card, _ *Sheet) []Item {
	var items []Item
	if doubts := c.Doubts(); len(doubts) > 0 {
		var lines []string
		var in []Input
		for _, d := range doubts {
			lines = append(lines, d.String())
			in = append(in, Input{Path: d.Path, Value: "as written on the card"})
		}
		items = append(items, Item{
			ID: "card_doubts", Title: "To be looked at on the card", Value: float64(len(doubts)), Unit: "values",
			Verdict: Caution, Text: strings.Join(lines, ". "),
			Because: "they look like slips of the pen. Mend them. What is right as it stands goes into " +
				"job.confirmed",
			Formula: "usual ranges, each with its source", Inputs: in,
			Ignored: "every number below that rests on them is wrong by the same factor",
		})
	}
	if c.Ignition.Plugs == 2 {
		items = append(items, Item{
			ID: "two_plugs", Title: "Two plugs a cylinder", Value: math.NaN(), Verdict: Caution,
			Text: "timing, marks and housing hold for both plugs where one command fires them. Cap, rotor, coil, " +
				"voltage and wires are worked out for one row only. It is the row that this distributor or these " +
				"coils serve",
			Because: "the second row is not served. Its coils, its wires and a stagger between the rows are not " +
				"told here",
			Formula: "none", Inputs: from(c, "ignition.plugs", c.Ignition.Plugs),
			Ignored: "the second row fires late, early or not at all, while this sheet says that all is fine",
		})
	}
	return items
}
