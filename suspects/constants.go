package suspects

import (
	"slices"
	"strings"

	"phasewright/bench"
	"phasewright/quantity"
)

// What a careful set-up by lamp, a proven mark and a known delay leave, one standard deviation each.
const (
	setUpLeaves   = 0.3  // of the tolerance
	tolerated     = 0.25 // of the tolerance, as a delay at the redline
	starterLeaves = 1.6  // degrees, of the foretold light while cranking
)

// where is what all of this room's numbers show on.
const where = "suspects"

// Constants are the numbers that a ranking rests on beside the evidence: the odds before anything was seen, and the
// bench's limits of how an engine goes. The odds of a fault count against those of the other faults.
func Constants() []quantity.Constant {
	out := slices.Concat(chances(DefaultPriors()), bench.Constants(), weights(DefaultPriors()))
	for _, w := range works {
		out = append(out, likelier(string(w.work), w.by))
	}
	return out
}

func chances(p Priors) []quantity.Constant {
	return []quantity.Constant{
		quantity.Assume("chance that nothing is wrong", p.Nothing, 0.05, 0.5, "", where),
		quantity.Assume("chance that it is none of the faults known here", p.None, 0.005, 0.1, "", where),
		quantity.Assume("chance of two faults at once", p.Pair, 0.1, 0.4, "", where),
		quantity.Assume("what a careful set-up leaves", setUpLeaves, 0.1, 0.6, "of the tolerance", where),
		quantity.Assume("what a known delay leaves at the redline", tolerated, 0.1, 0.7, "of the tolerance", where),
		quantity.Assume("what a foretold light while cranking leaves", starterLeaves, 0.5, 3, "°", where),
	}
}

func weights(p Priors) []quantity.Constant {
	out := make([]quantity.Constant, len(p.Weight))
	names := names()
	for k, w := range p.Weight {
		out[k] = quantity.Assume("odds of "+names[k], w, w/3, 3*w, "", where)
	}
	return out
}

func likelier(work string, by float64) quantity.Constant {
	return quantity.Assume("work on "+work+" makes its faults likelier by", by, by/2, 2*by, "times", where)
}

// restsOn says in words what of this a ranking rests on: of the odds, those of the faults that lead it. Odds that
// somebody wrote for his shop are his.
func (e *Engine) restsOn(r *Result, done []string) []string {
	const leading = 4
	list := slices.Concat(chances(e.priors), bench.Constants())
	all := weights(e.priors)
	for _, s := range r.Suspects[:min(leading, len(r.Suspects))] {
		for _, f := range s.Faults {
			if k := slices.IndexFunc(e.faults[:], func(x fault) bool { return x.name == f }); k >= 0 {
				list = append(list, all[k])
			}
		}
	}
	for _, w := range works {
		if slices.Contains(done, string(w.work)) {
			list = append(list, likelier(string(w.work), w.by))
		}
	}
	ours := Constants()
	var out []string
	for _, k := range list {
		i := slices.IndexFunc(ours, func(o quantity.Constant) bool { return o.Name == k.Name })
		if ours[i].Value != k.Value {
			k = quantity.Constant{Name: k.Name, Value: k.Value, Unit: k.Unit}.From("as this shop has it")
		}
		if said := strings.TrimSpace(k.Said()); !slices.Contains(out, said) {
			out = append(out, said)
		}
	}
	return out
}
