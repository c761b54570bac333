package procedure

import "slices"

// Mark is how a step stands.
type Mark string

// The marks.
const (
	Done     Mark = "done"
	Due      Mark = "open"
	Blocked  Mark = "not open yet"
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
	Hidden     bool // beside the line, and nothing asks for it now: a list need not show it
}

// stands says whether a step needs not be done: all that it is for holds, or is past. A signed job is over.
func (p *Procedure) stands(s Plant, st *Step) bool {
	return st.OnDemand || s.Get(Signed) == Yes || st.holds(s)
}

// due is the first step of the line that does not stand.
func (p *Procedure) due(s Plant) (int, bool) {
	for i := range p.steps {
		if !p.stands(s, &p.steps[i]) {
			return i, true
		}
	}
	return 0, false
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
	stands := p.stands(s.Plant, st)
	if rec.Done && stands {
		out.Mark, out.Why = Done, "by "+rec.Who
		if rec.Overridden {
			out.Why += ", against a rule"
		}
		return out
	}
	if st.OnDemand {
		out.Mark, out.Why = IfNeeded, "done only where the readings or a failed check ask for it"
		out.Locks = p.locks(s, st)
		out.Hidden = !p.askedFor(s, st.ID)
		return out
	}
	if stands {
		out.Mark, out.Why = NotDue, "its time is past"
		return out
	}
	out.Locks = p.locks(s, st)
	switch {
	case rec.Redo != "":
		out.Mark, out.Why = Redo, rec.Redo
	case len(out.Locks) > 0:
		out.Mark, out.Why = Blocked, out.Locks[0].Remedy
	default:
		out.Mark = Due
	}
	return out
}

// askedFor says whether something asks for a step beside the line now: the step to do, a shut gate, or a branch of
// the step that is due.
func (p *Procedure) askedFor(s State, id StepID) bool {
	if p.Next(s).Step == id || s.Gate != nil && s.Gate.Go == id {
		return true
	}
	switch id {
	case StepStop:
		return s.Plant.Get(Engine) != Stopped
	case StepRunDry:
		return s.Plant.Get(Engine) == Running
	case StepRotor:
		return s.Plant.Get(Base) == Yes
	case StepOther:
		return s.Plant.Get(Range) == Yes
	}
	if i, ok := p.due(s.Plant); ok && p.at[p.steps[i].ID] >= p.at[StepPhase] {
		return slices.ContainsFunc(p.steps[i].Branches, func(b Branch) bool { return b.Go == id })
	}
	return false
}

// Now is the one thing to do now.
type Now struct {
	Step     StepID // "" when the whole job is done
	Act      Act
	Why      string // where it is not simply the next step
	For      StepID // the step that it makes possible; "" where it is that step
	Finished bool
}

// Next is the one step to do now: the first of the line that does not stand; what opens it, where a gate is shut; or
// what has to be done before it.
func (p *Procedure) Next(s State) Now {
	i, ok := p.due(s.Plant)
	if !ok {
		return Now{Finished: true, Why: "the whole job is done"}
	}
	id, why := p.steps[i].ID, s.Steps[i].Redo
	if g := s.Gate; g != nil && p.at[g.At] >= i {
		if g.At == id {
			why = g.Why
		}
		if t, known := p.at[g.Go]; known && p.steps[t].OnDemand && g.Go != StepReopen && p.possible(s.Plant, t) {
			id, why = g.Go, g.Why
		}
	}
	return p.toward(s, id, why)
}

// possible says whether what a correction needs of the work behind it stands: nothing of it can be made up in passing.
func (p *Procedure) possible(s Plant, i int) bool {
	for _, n := range p.steps[i].Needs {
		if (n.Part.isEvidence() || n.Part == Clamp) && !n.Holds(s) {
			return false
		}
	}
	return true
}

// ToDo is the step to do now on the way to the step with the ID; "" is the whole job.
func (p *Procedure) ToDo(s State, id StepID) Now {
	target, ok := p.at[id]
	if i, due := p.due(s.Plant); !ok || due && !p.steps[target].OnDemand && i < target {
		return p.Next(s)
	}
	return p.toward(s, id, s.Steps[target].Redo)
}

// toward is the step to do now so that another becomes possible: back along the first need that does not hold.
func (p *Procedure) toward(s State, id StepID, why string) Now {
	target := id
	for range p.steps { // each provider has fewer needs than what it provides for
		st := &p.steps[p.at[id]]
		var missing *Condition
		for k := range st.Needs {
			if !st.Needs[k].Holds(s.Plant) {
				missing = &st.Needs[k]
				break
			}
		}
		if missing == nil {
			break
		}
		next, ok := p.provider(s.Plant, *missing)
		if !ok || next == id {
			break
		}
		id = next
	}
	out := Now{Step: id, Act: Do, Why: why}
	if id != target {
		out.For = target
		if why == "" {
			out.Why = "needed before «" + p.steps[p.at[target]].Title + "»"
		}
	}
	return out
}

// provides names the step that brings each part to what the steps after it need.
var provides = map[Part]StepID{
	People: StepBegin, Secured: StepPlace, Feed: StepFeed, Injectors: StepFeed, Box: StepBleed,
	FuelLine: StepFuelDown, Starter: StepStarts, Battery: StepStarts,
	Key: StepStop, Engine: StepStop, Bar: StepFeed, StopTool: StepFeed,
	Plugs: StepPlugsOut, Cap: StepOpen, Wires: StepOpen,
	Zero: StepZero, Marks: StepMarks, Crank: StepLead,
	Settings: StepSettings, Phased: StepPhase, Turned: StepTurnOver, Base: StepBase, Leaks: StepPrime,
	Idle: StepIdle, Range: StepRange, Proven: StepProve, Lock: StepIdle,
}

// provider is the step that makes a condition hold.
func (p *Procedure) provider(s Plant, n Condition) (StepID, bool) {
	id := provides[n.Part]
	yes := func(v Value) bool { return n.In>>v&1 != 0 }
	switch {
	case n.Part == Engine && yes(Running):
		id = StepStart
	case n.Part == Key && yes(KeyRun):
		id = StepPower
	case n.Part == FuelLine && yes(Full):
		id = StepPrime
	case n.Part == FuelLine && s.Get(Engine) == Running && p.unmetered:
		id = StepRunDry
	case n.Part == Plugs && yes(In) || n.Part == Cap && yes(On):
		id = StepClose
	case n.Part == Wires && yes(On):
		id = StepWires
	case n.Part == Unit && yes(NewIn):
		id = StepDrop
	case n.Part == Unit && yes(NoneIn):
		id = StepUnitOut
	case n.Part == Clamp && yes(Tight):
		id = StepClamp
	case n.Part == Lock && yes(Free):
		id = StepUnlock
	case n.Part == Starter && yes(Able) || n.Part == Battery && yes(Connected):
		id = StepStart
	case n.Part == Fit:
		id = StepFit
	}
	_, ok := p.at[id]
	return id, ok
}

// Stands says whether the lasting result of the step at a place in the order of work holds as the plant is, or is past.
func (p *Procedure) Stands(s State, i int) bool { return p.stands(s.Plant, &p.steps[i]) }

// RecordOf is how the step with the ID stands in a state; the zero Record for one that this engine does not have.
func (p *Procedure) RecordOf(s State, id StepID) Record {
	if i, ok := p.at[id]; ok {
		return s.Steps[i]
	}
	return Record{}
}
