package procedure

import (
	"encoding/json"
	"fmt"
	"strings"
)

// Act is what somebody wants to do with a step.
type Act string

// The acts.
const (
	Do       Act = "do"
	TakeBack Act = "take back"
	Override Act = "override"
)

// The kinds of the events that the procedure reads and gives out. They are those of the shop book.
const (
	StepDone     = "step.done"
	StepUndone   = "step.undone"
	StepOverride = "step.override"
	CardSaved    = "card.saved" // moves the version only: whoever looked at the old card looks again
)

// Request is what somebody asks for.
type Request struct {
	Act    Act
	Step   StepID
	Who    string // name of the person
	Reason string // for taking back and for an override
	Proof  *Proof // nil: none given
	Seen   int64  // State.Version that the asker looked at
}

// Cause is why a request is refused.
type Cause string

// The kinds of refusal. Input and Stale cannot be overridden.
const (
	Input    Cause = "input"    // the request itself is wrong
	Stale    Cause = "stale"    // somebody did something meanwhile
	Order    Cause = "order"    // something has to be done first
	Unsafe   Cause = "unsafe"   // a rule forbids it
	Unproven Cause = "unproven" // the proof is missing or fails
	Barred   Cause = "barred"   // the set-up sheet forbids it
)

// Refusal says why something cannot be done: what is wanted, what there is, what to do.
type Refusal struct {
	Kind   Cause
	Step   StepID
	Rule   string // of the table, for Unsafe
	Want   string
	Have   string
	Remedy string
	Go     StepID // the step to go to; "" where there is none
}

// Error is the refusal in one line.
func (r Refusal) Error() string {
	where := string(r.Step)
	if r.Rule != "" {
		where += ", rule " + r.Rule
	}
	return fmt.Sprintf("%s – wants %s; there is %s – %s", where, r.Want, r.Have, r.Remedy)
}

// Draft is an event to record.
type Draft struct {
	Kind    string
	Payload json.RawMessage
}

// Outcome is the answer to a request: events to record, or why not.
type Outcome struct {
	Events  []Draft
	Refused []Refusal
}

// payload is what the events carry.
type payload struct {
	Step    StepID   `json:"step"`
	Who     string   `json:"who"`
	Reason  string   `json:"reason,omitempty"`
	Proof   *Proof   `json:"proof,omitempty"`
	Basis   string   `json:"basis,omitempty"`
	Against []string `json:"against,omitempty"`
}

// longest is how many letters a name and a reason may have.
const (
	longestName   = 100
	longestReason = 1000
)

// Decide answers a request. It changes nothing: the caller records the events and folds them.
func (p *Procedure) Decide(s State, r Request) Outcome {
	i, known := p.at[r.Step]
	if !known {
		return refuse(Refusal{Kind: Input, Step: r.Step, Want: "a step of this engine", Have: fmt.Sprintf("%q", r.Step), Remedy: "choose one of: " + strings.Join(p.ids(), ", ")})
	}
	st := &p.steps[i]
	if bad := p.checkRequest(s, st, r); bad != nil {
		return refuse(*bad)
	}
	who, reason := strings.TrimSpace(r.Who), strings.TrimSpace(r.Reason)
	rec := s.Steps[i]
	if r.Act == TakeBack {
		if !rec.Done {
			return refuse(Refusal{Kind: Input, Step: r.Step, Want: "a step that is done", Have: "«" + st.Title + "» is not done", Remedy: "take back only what was ticked"})
		}
		if !hold(st.Once, s.Plant) {
			return refuse(Refusal{Kind: Input, Step: r.Step, Want: st.Once[0].String(), Have: Say(st.Once[0].Part, s.Plant.Get(st.Once[0].Part)), Remedy: "it could not be done again; write a note beside it instead"})
		}
		if !st.main(s.Plant) {
			return refuse(p.superseded(s, st))
		}
		if _, broken := p.tryBack(s.Plant, st); broken != 0 {
			return Outcome{Refused: p.unsafe(s.Plant, st, broken)}
		}
		return draft(StepUndone, payload{Step: st.ID, Who: who, Reason: reason})
	}
	if rec.Done && !st.Again && st.stands(s.Plant) {
		return refuse(Refusal{Kind: Input, Step: r.Step, Want: "a step that is not done yet", Have: fmt.Sprintf("done by %s", rec.Who), Remedy: "go on with the next step, or take this one back first"})
	}
	if r.Proof != nil {
		if bad := p.badProof(s, st, *r.Proof); bad != nil {
			return refuse(*bad)
		}
	}
	refused := p.locks(s, st)
	if f := p.proofLock(s, st, r.Proof); f != nil {
		refused = append(refused, *f)
	}
	out := payload{Step: st.ID, Who: who, Proof: r.Proof, Basis: st.Basis}
	if r.Act == Do {
		if len(refused) > 0 {
			return Outcome{Refused: refused}
		}
		return draft(StepDone, out)
	}
	if len(refused) == 0 {
		return refuse(Refusal{Kind: Input, Step: r.Step, Want: "a lock to override", Have: "nothing is locked", Remedy: "do the step as usual"})
	}
	out.Reason = reason
	for _, f := range refused {
		out.Against = append(out.Against, f.against())
	}
	return draft(StepOverride, out)
}

func (r Refusal) against() string {
	if r.Rule != "" {
		return r.Rule
	}
	return string(r.Kind) + ": " + r.Want
}

func (p *Procedure) checkRequest(s State, st *Step, r Request) *Refusal {
	bad := func(want, have, remedy string) *Refusal {
		return &Refusal{Kind: Input, Step: st.ID, Want: want, Have: have, Remedy: remedy}
	}
	who, reason := strings.TrimSpace(r.Who), strings.TrimSpace(r.Reason)
	switch {
	case r.Act != Do && r.Act != TakeBack && r.Act != Override:
		return bad(fmt.Sprintf("one of %q, %q, %q", Do, TakeBack, Override), fmt.Sprintf("%q", r.Act), "say what is to happen with the step")
	case who == "":
		return bad("the name of whoever does it", "no name", "write your name")
	case len([]rune(who)) > longestName:
		return bad(fmt.Sprintf("a name of at most %d letters", longestName), fmt.Sprintf("%d letters", len([]rune(who))), "shorten it")
	case r.Act != Do && !worded(reason):
		return bad("a written reason", "none", "write why, in words that the next reader understands")
	case len([]rune(reason)) > longestReason:
		return bad(fmt.Sprintf("a reason of at most %d letters", longestReason), fmt.Sprintf("%d letters", len([]rune(reason))), "shorten it")
	case r.Seen != s.Version:
		return &Refusal{Kind: Stale, Step: st.ID, Want: fmt.Sprintf("version %d", s.Version), Have: fmt.Sprintf("version %d", r.Seen), Remedy: "somebody moved the work on meanwhile: look at the step again, then do it"}
	}
	return nil
}

// worded says whether a text holds at least one word.
func worded(t string) bool {
	letters := 0
	for _, r := range t {
		if r > ' ' && !strings.ContainsRune(".,-–?!/:;*_", r) {
			letters++
		}
	}
	return letters >= 3
}

// superseded says which later step took the place of this one.
func (p *Procedure) superseded(s State, st *Step) Refusal {
	part := st.After[0].Part
	r := Refusal{Kind: Input, Step: st.ID, Want: Say(part, st.After[0].To), Have: Say(part, s.Plant.Get(part)), Remedy: "its result has been overtaken already; there is nothing to take back"}
	for i := range p.steps {
		t := &p.steps[i]
		if t.After[0].Part == part && t.ID != st.ID && t.main(s.Plant) && s.Steps[i].Done {
			r.Go, r.Remedy = t.ID, fmt.Sprintf("«%s» came after it: take that back first", t.Title)
		}
	}
	return r
}

// locks lists what stands against doing a step, apart from its proof.
func (p *Procedure) locks(s State, st *Step) []Refusal {
	var out []Refusal
	if st.Bar.Have != "" {
		out = append(out, Refusal{Kind: Barred, Step: st.ID, Want: st.Bar.Want, Have: st.Bar.Have, Remedy: st.Bar.Remedy})
	}
	if !hold(st.Due, s.Plant) {
		var want []string
		for _, c := range st.Due {
			want = append(want, c.String())
		}
		out = append(out, Refusal{Kind: Order, Step: st.ID, Want: strings.Join(want, ", "), Have: "no need for it now", Remedy: "go on with the next step"})
	}
	for _, n := range st.Needs {
		if n.Holds(s.Plant) {
			continue
		}
		r := Refusal{Kind: Order, Step: st.ID, Want: n.String(), Have: Say(n.Part, s.Plant.Get(n.Part)), Remedy: "take back what led here"}
		if t := p.provider(s.Plant, n, p.at[st.ID]); t != nil {
			r.Go, r.Remedy = t.ID, "do «"+t.Title+"» first"
		}
		out = append(out, r)
	}
	_, broken := p.tryDo(s.Plant, st)
	return append(out, p.unsafe(s.Plant, st, broken)...)
}

// tryDo is the plant after a step, and the rules (as bits) that stand against it: those that it would break while it is done or after, and
// those that stand broken already, unless it mends some of them and breaks none.
func (p *Procedure) tryDo(s Plant, st *Step) (after Plant, against uint64) {
	during := p.move(s, st.During, nil)
	after = p.move(during, st.after, nil)
	if p.freely {
		return after, 0
	}
	end := p.broken(after)
	against = p.broken(during) | end
	if against == 0 {
		return after, 0
	}
	was := p.broken(s)
	against &^= was
	if was != 0 && (end == was || end&^was != 0) {
		against |= was
	}
	return after, against
}

// tryBack is the plant after a step was taken back, and the rules that it would break. What was broken before is not held against it: going back
// towards safety must always be possible.
func (p *Procedure) tryBack(s Plant, st *Step) (after Plant, against uint64) {
	after = p.move(s, st.undo, nil)
	against = p.broken(after)
	if len(st.Undo) > 0 {
		for _, e := range st.During {
			if e == to(Hands, AtIgnition) {
				against |= p.broken(p.move(s, []Effect{e}, nil))
			}
		}
	}
	if against != 0 {
		against &^= p.broken(s)
	}
	return after, against
}

// unsafe puts broken rules into words.
func (p *Procedure) unsafe(s Plant, st *Step, broken uint64) []Refusal {
	var out []Refusal
	for i := range p.rules {
		if broken>>i&1 == 0 {
			continue
		}
		rule := &p.rules[i]
		var want, have []string
		r := Refusal{Kind: Unsafe, Step: st.ID, Rule: rule.ID, Remedy: rule.Reason}
		for _, c := range rule.Forbids {
			if c.Holds(s) {
				have = append(have, Say(c.Part, s.Get(c.Part)))
			}
			want = append(want, c.String())
			other := Condition{c.Part, ^c.In & (1<<len(words[c.Part]) - 1)}
			if t := p.provider(s, other, p.at[st.ID]); c.Holds(s) && t != nil && r.Go == "" {
				r.Go, r.Remedy = t.ID, fmt.Sprintf("%s: do «%s» first", rule.Reason, t.Title)
			}
		}
		if have == nil { // it would come about while the step is done
			for _, c := range rule.Forbids {
				have = append(have, Say(c.Part, s.Get(c.Part)))
			}
		}
		r.Want, r.Have = "never together: "+strings.Join(want, ", "), strings.Join(have, ", ")
		out = append(out, r)
	}
	return out
}

func (p *Procedure) ids() []string {
	var out []string
	for i := range p.steps {
		out = append(out, string(p.steps[i].ID))
	}
	return out
}

func refuse(r Refusal) Outcome { return Outcome{Refused: []Refusal{r}} }

func draft(kind string, body payload) Outcome {
	data, err := json.Marshal(body)
	if err != nil {
		panic(err) // strings and finite numbers only: badProof lets nothing else through
	}
	return Outcome{Events: []Draft{{Kind: kind, Payload: data}}}
}
