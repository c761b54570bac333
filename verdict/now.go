package verdict

import (
	"math"
	"slices"
	"strings"

	"phasewright/quantity"
	"phasewright/suspects"
)

// Now is what to do by the judge and a ranking of the suspects on the same evidence, in one voice.
type Now struct {
	Settled bool // do it: no further look is worth its minutes
	Do      string
	Mind    string // its hazard
	Check   string // what shows that it helped
	Looks   []suspects.Advice
}

// ofTiming are the faults whose cure turns the housing or changes the allowance: the judge says when and by how much.
var ofTiming = []string{"housing", "allowance", "delay"}

// ofUnit are the faults whose cure lifts the unit out. It is a costly cure to do in vain, and after it all is to be
// shown anew: where the judge wants nothing turned yet, his look comes first.
var ofUnit = []string{"stroke", "tooth"}

// Now joins the judge and the ranking. The judge's correction of the timing goes before every other cure; one that he
// does not advise is not advised here either, and nothing is called right that he finds broken.
func (j *Judgement) Now(r *suspects.Result) Now {
	first := r.Suspects[0]
	fault := len(first.Faults) > 0
	of := func(list []string) bool {
		return slices.ContainsFunc(first.Faults, func(f string) bool { return slices.Contains(list, f) })
	}
	timing, lifts := of(ofTiming), of(ofUnit)
	switch {
	case j.Cure != nil && (timing || !r.Settled):
		return Now{Settled: true, Do: j.Next}
	case r.Settled && lifts && strings.Contains(j.Next, doNotTurn):
		return Now{Do: j.Next}
	case r.Settled && fault && !timing:
		return Now{Settled: true, Do: first.Cure, Mind: first.Mind, Check: first.Check}
	case r.Settled && !fault && j.Word != Fails && j.Cure == nil && first.Name == suspects.NothingWrong:
		return Now{Settled: true, Do: first.Cure}
	case r.Settled || r.Next == nil:
		return Now{Do: j.Next}
	}
	return Now{Looks: r.Observations[:min(len(r.Observations), 2)]} // the one, and one in its stead
}

// Line is one explanation in a ranking with its own share.
type Line struct {
	suspects.Member
	Share   string
	First   bool // of those that stand together
	Suspect *suspects.Suspect
}

// Lines are the explanations of a ranking one by one, those that the evidence does not tell apart after each other.
// Shares are whole per cents that never add to more than a hundred.
func Lines(r *suspects.Result) []Line {
	var out []Line
	var p []float64
	for i := range r.Suspects {
		s := &r.Suspects[i]
		members := s.Members
		if len(members) == 0 {
			members = []suspects.Member{{Name: s.Name, Faults: s.Faults, Probability: s.Probability, Cure: s.Cure}}
		}
		for k, m := range members {
			out, p = append(out, Line{Member: m, First: k == 0, Suspect: s}), append(p, m.Probability)
		}
	}
	for i, share := range wholes(p) {
		out[i].Share = quantity.Chance(share)
	}
	return out
}

// wholes rounds shares to whole per cents whose sum is the rounded sum of all: those with the largest part left over
// are rounded up.
func wholes(p []float64) []float64 {
	out, order := make([]float64, len(p)), make([]int, len(p))
	sum, whole := 0.0, 0.0
	for i, x := range p {
		order[i] = i
		out[i] = math.Floor(100 * x)
		sum, whole = sum+100*x, whole+out[i]
	}
	slices.SortStableFunc(order, func(a, b int) int {
		left := func(i int) float64 { return 100*p[i] - out[i] }
		switch {
		case left(a) > left(b):
			return -1
		case left(a) < left(b):
			return 1
		}
		return 0
	})
	up := int(math.Round(min(sum, 100)) - whole)
	for _, i := range order[:max(min(up, len(order)), 0)] {
		out[i]++
	}
	for i := range out {
		out[i] /= 100
	}
	return out
}

// Reasons are what speaks for and against a suspect, without what each explanation foresees.
func Reasons(s *suspects.Suspect) (forIt, against []string) {
	for _, why := range s.Because {
		text, _, _ := strings.Cut(why, " (foreseen ")
		if what, ok := strings.CutPrefix(text, "for: "); ok {
			forIt = append(forIt, what)
		} else if what, ok := strings.CutPrefix(text, "against: "); ok {
			against = append(against, what)
		} else if len(s.Faults) == 0 && s.Name == suspects.NoneOfThese {
			forIt = append(forIt, text)
		}
	}
	return forIt, against
}

// Tells is what a look would say of whom: what says the same is said once, and what says the same whatever is seen is
// left out.
func Tells(o *suspects.Advice) string {
	var whom []string
	seen := map[string][]string{}
	for _, part := range strings.Split(o.Tells, "; ") {
		what, who, ok := strings.Cut(part, ": ")
		if !ok {
			return o.Tells
		}
		if seen[who] == nil {
			whom = append(whom, who)
		}
		seen[who] = append(seen[who], what)
	}
	if len(whom) < 2 {
		return ""
	}
	for i, who := range whom {
		whom[i] = strings.Join(seen[who], " or ") + ": " + who
	}
	return strings.Join(whom, "; ")
}
