package stand_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// bound is how often something may come out wrong, as a share of the cases where an answer was given.
type bound struct {
	what  string
	card  bool
	now   float64 // what room shaft keeps today; the test fails beyond it. Tighten it as the room gets better
	aim   float64 // what it is to keep in the end; -strict tests this
	class bool    // also tested class by class, by what chance allows
}

// bounds are all limits of the report. An interval of 95 % leaves the truth outside in 5 of 100 cases. That it leaves
// it outside less often is no fault here: with ± 0.5° for the mark's place, a rectangular distribution, the intervals
// are wide by the rules of the GUM, which reckons with its standard deviation.
var bounds = []bound{
	{ofRoles, true, 0.003, 0.003, false},
	{ofRoles, false, 0.03, 0.01, false},
	{ofCount, true, 0, 0.003, false},
	{ofEdge, false, 0.02, 0.01, false},
	{ofSync, true, 0, 0.003, false},
	{ofSync, false, 0.03, 0.01, false},
	{ofOffset, true, 0.03, 0.07, true},
	{ofOffset, false, 0.07, 0.07, true},
	{ofDelay, true, 0.07, 0.07, true},
	{ofDelay, false, 0.11, 0.07, true},
	{ofLow, true, 0.05, 0.07, true},
	{ofLow, false, 0.09, 0.07, true},
	{ofHigh, true, 0.03, 0.07, true},
	{ofHigh, false, 0.07, 0.07, true},
	{ofVerdict, true, 0, 0, false},
	{ofCylinder, true, 0.01, 0.01, false},
	{ofDwell, true, 0.003, 0.01, false},
	{ofClean, true, 0.02, 0.003, false},
	{ofFault, true, 0.01, 0.01, false},
}

// falseEngines is how many recordings without an engine may be taken for one.
var falseEngines = struct{ now, aim int }{0, 0}

// leastAnswered is the share of cases with a timing to be had in which one must be given: an analyser that never
// answers is never wrong.
var leastAnswered = struct{ now, aim float64 }{0.88, 0.9}

// inClass is how many of n answers may be wrong in one class, at a rate of p, so that chance alone exceeds it
// in less than one class of a thousand: of 11 answers at 5 %, four.
func inClass(n int, p float64) int {
	if p <= 0 {
		return 0
	}
	sum, term := 0.0, math.Pow(1-p, float64(n))
	for k := 0; k < n; k++ {
		if sum += term; 1-sum < 1e-3 {
			return k
		}
		term *= float64(n-k) / float64(k+1) * p / (1 - p)
	}
	return n
}

func TestWhatChanceAllowsInAClass(t *testing.T) {
	// Binomial sums by hand for 11 answers at 5 %: P(more than 3) = 0.0016, P(more than 4) = 0.00011.
	if got := inClass(11, 0.05); got != 4 {
		t.Errorf("of 11 answers at 5 %% chance leaves %d wrong, by hand 4", got)
	}
	if inClass(300, 0) != 0 {
		t.Error("where nothing may be wrong, chance excuses something")
	}
}

// usual says whether the run is the one that the bounds of today were measured on.
func usual() bool { return tried() == 11 && *first == 0 && *only == "" && !*smooth }

// check holds a part of the report against the bounds.
func check(t *testing.T, card bool, all *line, classes []*line) {
	t.Helper()
	if !*strict && (!usual() || strings.HasPrefix(all.name, "files")) { // files are too few for a level of today
		return
	}
	for _, b := range bounds {
		if b.card != card {
			continue
		}
		limit := b.now
		if *strict {
			limit = b.aim
		}
		n := all.by[b.what]
		if given := n.right + n.wrong; given > 0 && float64(n.wrong) > limit*float64(given) {
			t.Errorf("%s: %s wrong in %d of %d, more than %.1f %%", all.name, b.what, n.wrong, given, 100*limit)
		}
		if !b.class || !*strict {
			continue
		}
		for _, l := range classes {
			k := l.by[b.what]
			if most := inClass(k.right+k.wrong, 0.05); k.wrong > most {
				t.Errorf("%s %s: %s outside in %d of %d; chance leaves %d", all.name, l.name, b.what, k.wrong,
					k.right+k.wrong, most)
			}
		}
	}
	least := leastAnswered.now
	if *strict {
		least = leastAnswered.aim
	}
	n := all.by[ofHigh]
	if asked := n.right + n.wrong + n.open; float64(n.right+n.wrong) < least*float64(asked) {
		t.Errorf("%s: a timing in %d of %d, less than %.0f %%", all.name, n.right+n.wrong, asked, 100*least)
	}
}

func (t tally) share() string {
	if t.right+t.wrong == 0 {
		return ""
	}
	return fmt.Sprintf("%.1f%%", 100*float64(t.right)/float64(t.right+t.wrong))
}
