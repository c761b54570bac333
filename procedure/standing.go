package procedure

import "fmt"

// Mark is how a step stands.
type Mark string

// The marks.
const (
	Done     Mark = "done"
	Due      Mark = "open"
	Blocked  Mark = "locked"
	Redo     Mark = "must be done again"
	IfNeeded Mark = "only if asked for"
	NotDue   Mark = "not needed"
)

// Standing is how one step stands.
type Standing struct {
	Step       StepID
	Mark       Mark
	Why        string    // done by whom; what is locked; why it must be done again
	Locks      []Refusal // what stands against doing it now
	Overridden bool
}

// Standing is how each step stands, in the order of work.
func (p *Procedure) Standing(s State) []Standing {
	out := make([]Standing, len(p.steps))
	for i := range p.steps {
		out[i] = p.StandingOf(s, i)
	}
	return out
}

// StandingOf is how the step at a place in the order of work stands.
func (p *Procedure) StandingOf(s State, i int) Standing {
	st, rec := &p.steps[i], s.Steps[i]
	out := Standing{Step: st.ID, Overridden: rec.Overridden}
	if rec.Done {
		out.Mark, out.Why = Done, "by "+rec.Who
		if rec.Overridden {
			out.Why += ", against a lock"
		}
		return out
	}
	out.Locks = p.locks(s, st)
	switch {
	case !st.wanted(s.Plant):
		out.Mark, out.Why, out.Locks = NotDue, "nothing calls for it", nil
		if !hold(st.Once, s.Plant) {
			out.Why = "too late for it"
		}
	case rec.Redo != "":
		out.Mark, out.Why = Redo, rec.Redo
	case st.OnDemand:
		out.Mark, out.Why = IfNeeded, "done only where the readings or a failed proof ask for it"
	case len(out.Locks) > 0:
		out.Mark, out.Why = Blocked, out.Locks[0].Remedy
	default:
		out.Mark = Due
	}
	return out
}

// Now is the one thing to do now.
type Now struct {
	Step     StepID // "" when the whole job is done
	Act      Act    // Do, or TakeBack where only that mends what stands broken
	Why      string // where it is not simply the next step
	For      StepID // the step that it makes possible; "" where it is that step
	Finished bool
}

// Next is the one step to do now: the first that is not done, or what has to be done before it. While a rule stands broken, what mends it comes first.
func (p *Procedure) Next(s State) Now {
	if set := p.broken(s.Plant); set != 0 {
		if n, ok := p.mend(s, set); ok {
			return n
		}
	}
	return p.ToDo(s, "")
}

// ToDo is the step to do now on the way to the step with the ID; "" is the whole job. Of all the steps that some unfinished step waits for, it is the
// first in the order of work: so that the bar comes off the crank after the engine was brought to the lead again, not before.
func (p *Procedure) ToDo(s State, id StepID) Now {
	if target, ok := p.at[id]; ok {
		i, ok := p.way(s.Plant, target, p.rounds(s.Plant))
		if !ok {
			i = target
		}
		return p.now(s, i, target)
	}
	first, best, target := -1, -1, -1
	rounds := p.rounds(s.Plant)
	for i := range p.steps {
		st := &p.steps[i]
		if s.Steps[i].Done || st.OnDemand || !st.wanted(s.Plant) {
			continue
		}
		if first < 0 {
			first = i
		}
		if k, ok := p.way(s.Plant, i, rounds); ok && (best < 0 || k < best) {
			best, target = k, i
		}
	}
	switch {
	case first < 0:
		return Now{Finished: true, Why: "the whole job is done"}
	case best < 0:
		return p.retreat(s, first)
	}
	return p.now(s, best, target)
}

// retreat finds what to take back where no step leads to the one at target.
func (p *Procedure) retreat(s State, target int) Now {
	for _, n := range p.steps[target].Needs {
		for i := range p.steps {
			st := &p.steps[i]
			if n.Holds(s.Plant) || !s.Steps[i].Done || !st.retractable(s.Plant) {
				continue
			}
			if after, against := p.tryBack(s.Plant, st); against == 0 && n.Holds(after) {
				return Now{Step: st.ID, Act: TakeBack, For: p.steps[target].ID, Why: fmt.Sprintf("it stands in the way of «%s»", p.steps[target].Title)}
			}
		}
	}
	return p.now(s, target, target)
}

// now puts the step at i, on the way to that at target, into words.
func (p *Procedure) now(s State, i, target int) Now {
	out := Now{Step: p.steps[i].ID, Act: Do, Why: s.Steps[i].Redo}
	if i != target && (s.Steps[i].Done || p.steps[i].OnDemand) {
		out.For, out.Why = p.steps[target].ID, fmt.Sprintf("needed again before «%s»", p.steps[target].Title)
	}
	return out
}

// rounds says how far each step is from the plant: 0 can be done now, 1 after steps of round 0, and so on; −1 never. It lets every value that was
// once reached stand, so that a round is a least number, found without search.
func (p *Procedure) rounds(s Plant) []int {
	var have [parts]uint8 // values that can be reached
	for part := range parts {
		have[part] = 1 << s.Get(part)
	}
	out := make([]int, len(p.steps))
	for i := range out {
		out[i] = -1
	}
	can := func(all []Condition) bool {
		for _, c := range all {
			if c.In&have[c.Part] == 0 {
				return false
			}
		}
		return true
	}
	for round := 0; ; round++ {
		var fresh []int
		for i := range p.steps {
			st := &p.steps[i]
			if out[i] < 0 && can(st.Due) && can(st.Once) && can(st.Needs) {
				fresh = append(fresh, i)
			}
		}
		if fresh == nil {
			return out
		}
		for _, i := range fresh {
			out[i] = round
			for _, e := range p.steps[i].After {
				have[e.Part] |= 1 << e.To
			}
		}
	}
}

// way finds the step to do now so that the one at target becomes possible: back along the first need that does not hold, by steps of ever earlier rounds.
func (p *Procedure) way(s Plant, target int, rounds []int) (int, bool) {
	st := &p.steps[target]
	if rounds[target] < 0 {
		return 0, false
	}
	for _, all := range [][]Condition{st.Due, st.Once, st.Needs} {
		for _, n := range all {
			if n.Holds(s) {
				continue
			}
			for _, k := range p.providers(n, target) {
				if rounds[k] >= 0 && rounds[k] < rounds[target] {
					return p.way(s, k, rounds)
				}
			}
			return 0, false
		}
	}
	_, against := p.tryDo(s, st)
	return target, against == 0
}

// providers are the steps that make a condition hold, the likeliest first: those made for it before those that do it by the way; the nearest
// before the target, then the nearest after it.
func (p *Procedure) providers(n Condition, target int) []int {
	var out []int
	for _, main := range []bool{true, false} {
		for _, before := range []bool{true, false} {
			for d := 1; d < len(p.steps); d++ {
				k := target + d
				if before {
					k = target - d
				}
				if k < 0 || k >= len(p.steps) {
					continue
				}
				for j, e := range p.steps[k].After {
					if (j == 0) == main && e.Part == n.Part && n.In>>e.To&1 != 0 {
						out = append(out, k)
					}
				}
			}
		}
	}
	return out
}

// provider is the likeliest step to make a condition hold that leads on from here.
func (p *Procedure) provider(s Plant, n Condition, target int) *Step {
	all, rounds := p.providers(n, target), p.rounds(s)
	for _, k := range all {
		if _, ok := p.way(s, k, rounds); ok {
			return &p.steps[k]
		}
	}
	if len(all) > 0 {
		return &p.steps[all[0]]
	}
	return nil
}

// mend finds what lessens the rules that stand broken.
func (p *Procedure) mend(s State, set uint64) (Now, bool) {
	var best Now
	least := count(set)
	for i := range p.steps {
		st := &p.steps[i]
		if after, against := p.tryDo(s.Plant, st); against == 0 && hold(st.Needs, s.Plant) && hold(st.Due, s.Plant) && st.Bar.Have == "" && count(p.broken(after)) < least {
			least = count(p.broken(after))
			best = Now{Step: st.ID, Act: Do, Why: "something stands unsafe: this mends it"}
		}
	}
	for i := range p.steps {
		st := &p.steps[i]
		if !s.Steps[i].Done || !st.retractable(s.Plant) {
			continue
		}
		if after, against := p.tryBack(s.Plant, st); against == 0 && count(p.broken(after)) < least {
			least = count(p.broken(after))
			best = Now{Step: st.ID, Act: TakeBack, Why: "something stands unsafe: taking this back mends it"}
		}
	}
	return best, best.Step != ""
}

// Stands says whether the lasting result of the step at a place in the order of work holds as the plant is.
func (p *Procedure) Stands(s State, i int) bool { return p.steps[i].stands(s.Plant) }
