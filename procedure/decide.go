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

	// Of the log only.
	Tried   Act = "tried"   // a check that failed
	Break   Act = "break"   // everybody was away for too long
	History Act = "history" // of an earlier release, or made beside the order
)

// The kinds of the events that the procedure reads and gives out. They are those of the shop book.
const (
	StepDone       = "step.done"
	StepTried      = "step.tried"
	StepUndone     = "step.undone"
	StepOverride   = "step.override"
	CardSaved      = "card.saved" // moves the version only: whoever looked at the old card looks again
	CorrectionMade = "correction.made"
	JobArchived    = "job.archived"
	JobReopened    = "job.reopened"
	ProofSigned    = "proof.signed"
)

// Request is what somebody asks for.
type Request struct {
	Act    Act
	Step   StepID
	Who    string // name of the person
	Second string // for an override: name of a second person
	Paired bool   // another device is paired, so that a second person can be asked
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
	First  string // what is to be done before, as an order without "first"; "" where it is told by Want and Have
	Rule   string // of the table, for Unsafe
	Want   string
	Have   string
	Remedy string
	Go     StepID // the step to go to; "" where there is none
	Never  bool   // nobody can override it
}

// Error is the refusal in one line.
func (r Refusal) Error() string {
	where := string(r.Step)
	if r.Rule != "" {
		where += ", rule " + r.Rule
	}
	return where + " – " + strings.TrimSuffix(r.Says(), ".") + " – " + r.Remedy
}

// Says is the refusal without its remedy, in a sentence or two.
func (r Refusal) Says() string {
	switch {
	case r.First != "":
		return "First " + r.First + "."
	case r.Kind == Unsafe:
		return "Unsafe: " + r.Have + "."
	}
	return fmt.Sprintf("Wanted: %s. Found: %s.", r.Want, r.Have)
}

// Draft is an event to record.
type Draft struct {
	Kind    string
	Payload json.RawMessage
}

// Outcome is the answer to a request: events to record, or why not. A check on a turning engine that failed gives both:
// it was tried, and that is recorded; the step is not done.
type Outcome struct {
	Events  []Draft
	Refused []Refusal
}

// payload is what the events carry.
type payload struct {
	Order     int      `json:"order,omitempty"`
	Step      StepID   `json:"step"`
	Who       string   `json:"who"`
	Second    string   `json:"second,omitempty"`
	Reason    string   `json:"reason,omitempty"`
	Proof     *Proof   `json:"proof,omitempty"`
	Basis     string   `json:"basis,omitempty"`
	Against   []string `json:"against,omitempty"`
	Allowance *float64 `json:"allowance_us,omitempty"` // of a correction
}

// longest is how many letters a name and a reason may have.
const (
	longestName   = 100
	longestReason = 1000
	fewestWords   = 5 // of the reason for an override: a sentence
)

// Decide answers a request. It changes nothing: the caller records the events and folds them.
//
// An override stands in for the proof of the step that is due, or passes a stop of the sheet or a lock that may be
// overridden. It never jumps ahead: what is missing before the step is shown or overridden first, one after the other.
// It passes no look.
func (p *Procedure) Decide(s State, r Request) Outcome {
	i, known := p.at[r.Step]
	if !known {
		return refuse(Refusal{Kind: Input, Step: r.Step, Want: "a step of this engine",
			Have: fmt.Sprintf("%q", r.Step), Remedy: "choose one of: " + strings.Join(p.ids(), ", "), Never: true})
	}
	st := &p.steps[i]
	if bad := p.checkRequest(s, st, r); bad != nil {
		return refuse(*bad)
	}
	out := payload{Order: edition, Step: st.ID, Who: strings.TrimSpace(r.Who), Proof: r.Proof, Basis: st.Basis}
	if r.Act == TakeBack {
		if refused := p.backLocks(s, i); refused != nil {
			return Outcome{Refused: refused}
		}
		return draft(StepUndone,
			payload{Order: edition, Step: st.ID, Who: out.Who, Reason: strings.TrimSpace(r.Reason)})
	}
	if done := p.overtaken(s, i); done != nil {
		return refuse(*done)
	}
	if r.Proof != nil {
		if bad := p.badProof(st, *r.Proof); bad != nil {
			return refuse(*bad)
		}
	}
	refused := p.locks(s, st)
	free := len(refused) == 0
	wrong := p.proofLock(s, st, r.Proof)
	if wrong != nil {
		refused = append(refused, *wrong)
	}
	if f := lookLock(st, r.Proof); f != nil {
		refused = append(refused, *f)
	}
	if r.Act == Do {
		if len(refused) == 0 {
			return draft(StepDone, out)
		}
		o := Outcome{Refused: refused}
		// a tick that is missing alone: what was turned was turned, but a reading is not taken twice
		moved := wrong != nil || p.tried(s.Plant, st) != s.Plant
		if free && moved && st.Failed != nil && r.Proof != nil && showsSomething(st, r.Proof) {
			o.Events = draft(StepTried, out).Events
		}
		return o
	}
	if len(refused) == 0 {
		return refuse(Refusal{Kind: Input, Step: r.Step, Want: "something to override", Have: "nothing stands in " +
			"the way",
			Remedy: "do the step as usual", Never: true})
	}
	for _, f := range refused {
		if f.Never {
			return Outcome{Refused: never(refused)}
		}
	}
	out.Reason, out.Second = strings.TrimSpace(r.Reason), strings.TrimSpace(r.Second)
	for _, f := range refused {
		out.Against = append(out.Against, f.against())
	}
	return draft(StepOverride, out)
}

// showsSomething says whether a proof tells of an engine that was turned.
func showsSomething(st *Step, f *Proof) bool {
	return f.Value != nil || len(st.Demand.Options) > 0 && f.Text != ""
}

// never keeps the refusals that nobody can override.
func never(all []Refusal) (out []Refusal) {
	for _, f := range all {
		if f.Never {
			out = append(out, f)
		}
	}
	return out
}

// backLocks says why a step cannot be taken back; nil where it can.
func (p *Procedure) backLocks(s State, i int) []Refusal {
	st, rec := &p.steps[i], s.Steps[i]
	bad := func(want, have, remedy string) []Refusal {
		return []Refusal{{Kind: Input, Step: st.ID, Want: want, Have: have, Remedy: remedy, Never: true}}
	}
	switch {
	case st.OnDemand:
		return bad("a step of the line", "«"+st.Title+"» is beside it",
			"what it moved is moved. Do what is asked for now")
	case !rec.Done:
		return bad("a step that is done", "«"+st.Title+"» is not done", "take back only what was ticked")
	case !hold(st.Once, s.Plant):
		return bad(st.Once[0].String(), "the work went on",
			"it cannot be done again. Write a note beside it instead")
	case !st.main(s.Plant):
		return bad(Say(st.After[0].Part, st.After[0].To), Say(st.After[0].Part, s.Plant.Get(st.After[0].Part)),
			"its result is past already. Go on with the next step")
	}
	if _, broken := p.tryBack(s.Plant, st); broken != 0 {
		return p.unsafe(s.Plant, st, broken)
	}
	return nil
}

// overtaken says why a step is not to be done now whatever the locks: it stands, or is past. nil where it may be.
func (p *Procedure) overtaken(s State, i int) *Refusal {
	st, rec := &p.steps[i], s.Steps[i]
	if st.OnDemand || !p.stands(s.Plant, st) || st.Anytime && !st.main(s.Plant) {
		return nil
	}
	if (st.ID == StepIdle || st.ID == StepRange) && s.Plant.Get(Engine) == Running && s.Plant.Get(Lock) == Locked {
		return nil // one more reading
	}
	out := &Refusal{Kind: Input, Step: st.ID, Want: "a step that is not done yet", Have: "done by " + rec.Who,
		Remedy: "go on with the next step. Or take this one back first", Never: true}
	if !rec.Done {
		out.Have, out.Remedy = "its time is past", "go on with the next step"
	}
	return out
}

func (r Refusal) against() string {
	if r.Rule != "" {
		return r.Rule
	}
	return string(r.Kind) + ": " + r.Want
}

func (p *Procedure) checkRequest(s State, st *Step, r Request) *Refusal {
	bad := func(want, have, remedy string) *Refusal {
		return &Refusal{Kind: Input, Step: st.ID, Want: want, Have: have, Remedy: remedy, Never: true}
	}
	second := strings.TrimSpace(r.Second)
	who, reason := strings.TrimSpace(r.Who), strings.TrimSpace(r.Reason)
	switch {
	case r.Act != Do && r.Act != TakeBack && r.Act != Override:
		return bad(fmt.Sprintf("one of %q, %q, %q", Do, TakeBack, Override), fmt.Sprintf("%q", r.Act),
			"say what is to happen with the step")
	case who == "":
		return bad("the name of whoever does it", "no name", "write your name")
	case len([]rune(who)) > longestName:
		return bad(tooLong("a name", longestName, who))
	case r.Act == Override && len(strings.Fields(reason)) < fewestWords:
		return bad("a reason of a sentence", fmt.Sprintf("%q", clip(reason)),
			fmt.Sprintf("write at least %d words: why it is safe, and what you saw", fewestWords))
	case r.Act == Override && r.Paired && second == "":
		return bad("the name of a second person", "none",
			"another device is paired. Ask who holds it. Write the name")
	case r.Act == Override && second != "" && strings.EqualFold(second, who):
		return bad("a second person", "the same name twice", "ask somebody else")
	case len([]rune(second)) > longestName:
		return bad(tooLong("a name", longestName, second))
	case r.Act != Do && !worded(reason):
		return bad("a written reason", "none", "write why, in words that the next reader understands")
	case len([]rune(reason)) > longestReason:
		return bad(tooLong("a reason", longestReason, reason))
	case r.Seen != s.Version:
		return &Refusal{Kind: Stale, Step: st.ID, Want: fmt.Sprintf("version %d", s.Version),
			Have:   fmt.Sprintf("version %d", r.Seen),
			Remedy: "somebody moved the work on meanwhile. Look at the step again. Then do it", Never: true}
	}
	return nil
}

// tooLong says of a text that has too many letters what is wanted, what there is, and what to do.
func tooLong(what string, most int, text string) (want, have, remedy string) {
	have = fmt.Sprintf("%d letters", len([]rune(text)))
	return fmt.Sprintf("%s of at most %d letters", what, most), have, "shorten it"
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

// locks lists what stands against doing a step, apart from its proof.
func (p *Procedure) locks(s State, st *Step) []Refusal {
	var out []Refusal
	if st.Bar.Have != "" {
		out = append(out, Refusal{Kind: Barred, Step: st.ID, Want: st.Bar.Want, Have: st.Bar.Have,
			Remedy: st.Bar.Remedy, Never: st.Bar.Never})
	}
	if g := p.shut(s, st); st.ID == StepRange && s.Plant.Get(Range) == No && g != nil {
		out = append(out, Refusal{Kind: Order, Step: st.ID,
			Want: "readings that foretell the next speed inside the bound", Have: g.Why,
			Remedy: "stop. Correct first", Go: g.Go})
	}
	if first, ok := p.due(s.Plant); ok && !st.OnDemand && first < p.at[st.ID] {
		before := &p.steps[first]
		out = append(out, Refusal{Kind: Order, Step: st.ID, Want: before.wants(s.Plant),
			Have: before.lacks(s.Plant), First: before.first(s.Plant), Remedy: "Do «" + before.Title + "»",
			Go: before.ID, Never: true})
	}
	if !hold(st.Once, s.Plant) {
		out = append(out, Refusal{Kind: Order, Step: st.ID, Want: "an engine that is as found",
			Have: "the work went on", Remedy: "write a note beside it instead", Never: true})
	}
	for _, n := range st.Needs {
		if n.Holds(s.Plant) {
			continue
		}
		r := Refusal{Kind: Order, Step: st.ID, Want: n.String(), Have: Say(n.Part, s.Plant.Get(n.Part)),
			First: n.act(), Remedy: "do what the line asks for first", Never: true}
		if id, ok := p.provider(s.Plant, n); ok {
			r.Go, r.Remedy = id, "Do «"+p.steps[p.at[id]].Title+"»"
		}
		out = append(out, r)
	}
	_, broken := p.tryDo(s.Plant, st)
	return append(out, p.unsafe(s.Plant, st, broken)...)
}

// wants and lacks say what a step is for that does not hold.
func (s *Step) wants(p Plant) string {
	for _, c := range s.Holds {
		if !c.Holds(p) {
			return c[0].String()
		}
	}
	return s.Title
}

func (s *Step) lacks(p Plant) string {
	for _, c := range s.Holds {
		if !c.Holds(p) {
			return Say(c[0].Part, p.Get(c[0].Part))
		}
	}
	return "it is not done"
}

// first is what to do so that a step holds, as an order; "" where no one condition says it.
func (s *Step) first(p Plant) string {
	for _, c := range s.Holds {
		if !c.Holds(p) {
			return c[0].act()
		}
	}
	return ""
}

// tryDo is the plant after a step, and the rules (as bits) that stand against it: those that it would break while it is
// done or after, and those that are broken already, unless it mends some of them and breaks none.
func (p *Procedure) tryDo(s Plant, st *Step) (after Plant, against uint64) {
	after = s
	for _, m := range st.During {
		after = p.move(after, m, nil)
		against |= p.broken(after)
	}
	after = p.move(after, st.After, nil)
	end := p.broken(after)
	against |= end
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

// tryBack is the plant after a step was taken back, and the rules that it would break. What was broken before is not
// held against it: going back towards safety must always be possible.
func (p *Procedure) tryBack(s Plant, st *Step) (after Plant, against uint64) {
	after = p.back(s, st)
	return after, p.broken(after) &^ p.broken(s)
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
		r := Refusal{Kind: Unsafe, Step: st.ID, Rule: rule.ID, Remedy: rule.Reason, Never: rule.Never}
		for _, c := range rule.Forbids {
			if c.Holds(s) {
				have = append(have, Say(c.Part, s.Get(c.Part)))
			}
			want = append(want, c.String())
			other := Condition{c.Part, ^c.In & (1<<len(states[c.Part]) - 1)}
			if id, ok := p.provider(s, other); ok && c.Holds(s) && r.Go == "" && id != st.ID {
				r.Go, r.Remedy = id, fmt.Sprintf("%s First do «%s»", sentence(rule.Reason), p.steps[p.at[id]].Title)
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
