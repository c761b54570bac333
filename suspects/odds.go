package suspects

import (
	"slices"
	"strings"
)

// fewLooks is how many looks with the light the odds alone are weighed by: a judge asks for them with every reading
// that is taken, and has looked at the line through all of them already.
const fewLooks = 8

// Odds are the explanations of what was seen, likeliest first, as a judge weighs them who would have a housing turned:
// less sure than Explain says, because his readings and recordings were not each taken for what it tells. With the
// chance of none of these, which is given too, they sum to 1.
func (e *Engine) Odds(ev *Evidence) (odds []Explanation, none float64, err error) {
	items, err := e.items(ev, fewLooks)
	if err != nil {
		return nil, 0, err
	}
	w := e.weigh(items, ev.WorkedOn, ev.Engine.Misfire)
	w.state(careful)
	return w.explanations(), w.none, nil
}

// explanations lists the sets of faults with their probability, likeliest first.
func (w *weighed) explanations() []Explanation {
	out := make([]Explanation, len(w.order))
	for i, s := range w.order {
		out[i] = Explanation{Faults: []string{}, Probability: w.sets[s]}
		for _, k := range s.list() {
			out[i].Faults = append(out[i].Faults, w.e.faults[k].name)
		}
	}
	slices.SortFunc(out, func(a, b Explanation) int {
		switch {
		case a.Probability > b.Probability:
			return -1
		case a.Probability < b.Probability:
			return 1
		}
		return strings.Compare(strings.Join(a.Faults, ","), strings.Join(b.Faults, ","))
	})
	return out
}
