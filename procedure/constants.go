package procedure

import (
	"sync"

	"phasewright/quantity"
)

// Constants are the numbers of the order of work that no card holds; a step that rests on one names it in its notes,
// and a break that ended something names its time.
func Constants() []quantity.Constant {
	const common = "common practice"
	at := func(s StepID) string { return "step " + string(s) }
	return []quantity.Constant{
		quantity.Assume("how far the light may stand off before anything faster", idleBound, 3, 8, "°",
			at(StepIdle), at(StepRange)),
		quantity.Assume("what phasing by lamp or eye leaves", phasingLeaves, 1, 3, "°", at(StepBase)).From(common),
		quantity.Assume("what is usual on the starter where nothing is foretold", starterUsual, 5, 10, "°",
			at(StepBase)).From(common),
		quantity.Assume("fastest that counts as the speed named", rungAbove, 1.01, 1.05, "times", at(StepRange)),
		quantity.Assume("slowest that counts as the speed named", rungBelow, 0.9, 0.97, "times", at(StepRange)),
		quantity.Assume("fastest that is read first", calmSpeed, 3000, 4500, "rpm", at(StepRange)).From(common),
		quantity.Assume("its share of the redline, where that is less", calmShare, 0.4, 0.6, "",
			at(StepRange)).From(common),
		quantity.Assume("longest at a speed above half of the highest", heldSeconds, 10, 30, "s", at(StepRange)),
		quantity.Assume("idling after each speed", coolSeconds, 30, 120, "s", at(StepRange)),
		quantity.Assume("longest break after which conditions still stand", longestBreak.Hours(), 1, 6, "h", "a break"),
		quantity.Assume("longest shift after which conditions still stand", longestShift.Hours(), 8, 16, "h",
			"a break"),
	}
}

var ours = sync.OnceValue(Constants)

// restsOn says what of our own numbers a step or a break rests on, a sentence each.
func restsOn(where string) []string {
	var out []string
	for _, k := range ours() {
		for _, w := range k.Where {
			if w == where {
				out = append(out, k.Said())
			}
		}
	}
	return out
}
