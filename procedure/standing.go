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
	Step       string
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
	case rec.Redo != "":
		out.Mark, out.Why = Redo, rec.Redo
	case !hold(st.Due, s.Plant):
		out.Mark, out.Why, out.Locks = NotDue, "nothing calls for it", nil
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
	Step     string // "" when the whole job is done
	Act      Act    // Do, or TakeBack where only that mends what stands broken
	Why      string // where it is not simply the next step
	For      string // ID of the step that it makes possible; "" where it is that step
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

// ToDo is the step to do now on the way to the step with the ID; "" is the first that is not done.
func (p *Procedure) ToDo(s State, id string) Now {
	target := -1
	if i, ok := p.at[id]; ok {
		target = i
	}
	for i := range p.steps {
		st := &p.steps[i]
		if target < 0 && !s.Steps[i].Done && !st.OnDemand && hold(st.Due, s.Plant) {
			target = i
		}
	}
	if target < 0 {
		return Now{Finished: true, Why: "the whole job is done"}
	}
	want := &p.steps[target]
	i, ok := p.way(s.Plant, target, 0)
	if !ok || i == target {
		return Now{Step: want.ID, Act: Do, Why: s.Steps[target].Redo}
	}
	st := &p.steps[i]
	return Now{Step: st.ID, Act: Do, For: want.ID, Why: fmt.Sprintf("needed again before «%s»", want.Title)}
}

// way finds the step to do now so that the step at target becomes possible: it goes back along the needs that do not hold.
func (p *Procedure) way(s Plant, target int, seen uint64) (int, bool) {
	if seen>>target&1 != 0 {
		return 0, false
	}
	seen |= 1 << target
	st := &p.steps[target]
	for _, n := range append(append([]Condition(nil), st.Due...), st.Needs...) {
		if n.Holds(s) {
			continue
		}
		for _, k := range p.providers(n, target) {
			if i, ok := p.way(s, k, seen); ok {
				return i, true
			}
		}
		return 0, false
	}
	if _, against := p.tryDo(s, st); against != 0 {
		return 0, false
	}
	return target, true
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
	all := p.providers(n, target)
	for _, k := range all {
		if _, ok := p.way(s, k, 1<<target); ok {
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
		if after, against := p.tryDo(s.Plant, st); against == 0 && hold(st.Needs, s.Plant) && hold(st.Due, s.Plant) && st.Bar == "" && count(p.broken(after)) < least {
			least = count(p.broken(after))
			best = Now{Step: st.ID, Act: Do, Why: "something stands unsafe: this mends it"}
		}
	}
	for i := range p.steps {
		st := &p.steps[i]
		if !s.Steps[i].Done || !st.main(s.Plant) {
			continue
		}
		if after, against := p.tryBack(s.Plant, st); against == 0 && count(p.broken(after)) < least {
			least = count(p.broken(after))
			best = Now{Step: st.ID, Act: TakeBack, Why: "something stands unsafe: taking this back mends it"}
		}
	}
	return best, best.Step != ""
}
