package procedure

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
)

// Event is a recorded event, as a shop book gives it. Kinds that are not the procedure's are passed over.
type Event struct {
	Version int64
	At      time.Time
	By      string // whoever recorded it: person or device, as the book knows it
	Kind    string
	Payload []byte
}

// Record is how one step stands.
type Record struct {
	Done       bool   // it was done, and has not fallen since
	Redo       string // why it must be done again; "" where it was never done, or stands
	Who, By    string // last one who did it
	At         time.Time
	Proof      *Proof
	Overridden bool // the last time it was done, it was done against a lock
}

// Overriding is a lock that somebody overrode. It is never dropped from the state.
type Overriding struct {
	Step                           StepID
	Title, Who, Second, By, Reason string
	Against                        []string
	At                             time.Time
	Mended                         bool // the step was shown properly since
}

// Entry is one line of who did what when.
type Entry struct {
	Version        int64
	At             time.Time
	Step           StepID
	Title, Who, By string
	Act            Act
	Reason         string
	Proof          *Proof
	Expired        []Expiry // what else this led to
}

// Expiry is a step that must be done again.
type Expiry struct {
	Step       StepID
	Title, Why string
}

// State is what the events come to.
type State struct {
	Version   int64 // of the last event that moved the work; requests name it
	Plant     Plant
	Steps     []Record // one a step, in the order of work
	Overrides []Overriding
	Log       []Entry
	Unread    []string // events that could not be read, in words
	Earlier   int      // ticks of an earlier release, with other steps: history, they show nothing
	Ladder    []Read   // the readings that count: idle first, then upwards
	Allowance *float64 // µs, the delay allowance set last; nil: the card's
	Gate      *Gate    // what stands shut after a check that failed

	seen, asked time.Time // the last event, and when it was last asked who is here
}

// Start is the state before any event.
func (p *Procedure) Start() State {
	return State{Plant: p.found, Steps: make([]Record, len(p.steps))}
}

// Fold derives the state from a job's events, in the order of their versions, as it is at a time: what nobody has
// looked at since a break counts no more. What was recorded is taken as done: the locks were asked when it was decided.
// The result depends on events, card and now alone.
func (p *Procedure) Fold(events []Event, now time.Time) State {
	s := p.Start()
	basis := make([]string, len(p.steps)) // that each step was last done by
	saved := -1
	var put time.Time // away or signed, last
	for i, e := range events {
		if e.Kind == CardSaved {
			saved = i
		}
	}
	for i, e := range events {
		switch e.Kind {
		case CardSaved:
			s.Version = e.Version
			if i == saved {
				p.outdate(&s, basis, p.back)
			}
		case StepDone, StepTried, StepUndone, StepOverride, CorrectionMade:
			p.apply(&s, e, basis)
		case JobArchived, ProofSigned:
			put = e.At
		case JobReopened:
			if AwayTooLong(put, e.At) {
				p.reopen(&s, e)
			}
		}
	}
	// another release of the sums
	p.outdate(&s, basis, func(at Plant, st *Step) Plant { return p.move(at, st.Undo, nil) })
	p.age(&s, now)
	return s
}

// outdate lets fall what was done by other figures than the card gives now.
func (p *Procedure) outdate(s *State, basis []string, undo func(Plant, *Step) Plant) {
	for i := range p.steps {
		st := &p.steps[i]
		if !s.Steps[i].Done || basis[i] == "" || basis[i] == st.Basis {
			continue
		}
		was := s.Plant
		s.Plant = undo(was, st)
		s.Steps[i].Done = false
		s.Steps[i].Redo = fmt.Sprintf("the card changed since: done by %s; it now says %s", basis[i], st.Basis)
		p.expire(s, was, i, nil, "the card changed")
	}
}

// age lets fall what a break ends, where one lies between the last event and a time.
func (p *Procedure) age(s *State, now time.Time) {
	if s.seen.IsZero() || now.Sub(s.seen) <= longestBreak && (s.asked.IsZero() || now.Sub(s.asked) <= longestShift) {
		return
	}
	was := s.Plant
	s.Plant = p.pause(was)
	if s.Plant == was {
		return
	}
	fell := p.expire(s, was, -1, nil, "")
	s.Log = append(s.Log, Entry{Version: s.Version, At: s.seen, Act: Break, Title: "everybody was away",
		Reason: "nothing was recorded for too long: nobody knows who was at the engine (" +
			strings.Join(restsOn("a break"), "; ") + ")", Expired: fell})
	s.asked, s.seen = now, now
}

// edition is the order of work that events of this release belong to.
const edition = 2

// apply takes one event into a state that the caller owns.
func (p *Procedure) apply(s *State, e Event, basis []string) {
	var body payload
	if err := json.Unmarshal(e.Payload, &body); err != nil {
		s.Version = e.Version
		s.Unread = append(s.Unread, fmt.Sprintf("event %d (%s) cannot be read: %v", e.Version, e.Kind, err))
		return
	}
	p.age(s, e.At)
	s.seen = e.At
	if e.Kind == CorrectionMade {
		p.besides(s, e, body)
		return
	}
	s.Version = e.Version
	if body.Order != edition {
		s.Earlier++
		s.Log = append(s.Log, Entry{Version: e.Version, At: e.At, Step: body.Step,
			Title: fmt.Sprintf("«%s», by an earlier order of work: history, it shows nothing here",
				clip(string(body.Step))), Who: body.Who, By: e.By, Reason: body.Reason, Proof: body.Proof,
			Act: History})
		return
	}
	i, known := p.at[body.Step]
	if !known {
		s.Unread = append(s.Unread,
			fmt.Sprintf("event %d (%s) names the step %q, which this engine does not have", e.Version, e.Kind,
				clip(string(body.Step))))
		return
	}
	st, rec := &p.steps[i], &s.Steps[i]
	before := s.Plant
	entry := Entry{Version: e.Version, At: e.At, Step: st.ID, Title: st.Title, Who: body.Who, By: e.By,
		Reason: body.Reason, Proof: body.Proof, Act: Do}
	var causes []int
	switch e.Kind {
	case StepUndone:
		entry.Act = TakeBack
		s.Plant = p.back(before, st)
		rec.Done, rec.Redo, rec.Overridden = false, "", false
		s.Gate = nil
	case StepTried:
		entry.Act = Tried
		s.Plant = p.tried(before, st)
		s.Gate = p.gateOf(*s, st, body.Proof)
	default:
		_, during := p.through(before, st.During, &causes)
		after := st.After
		if !p.climb(s, st, body.Proof) {
			after = ended
		}
		s.Plant = p.move(during, after, &causes)
		*rec = Record{Done: st.main(s.Plant) && !st.OnDemand, Who: body.Who, By: e.By, At: e.At, Proof: body.Proof}
		basis[i] = body.Basis
		if g := s.Gate; g != nil && (g.At == st.ID || g.Go == st.ID || st.ID == StepReopen) {
			s.Gate = nil
		}
		if e.Kind == StepOverride {
			entry.Act, rec.Overridden = Override, true
			s.Overrides = append(s.Overrides, Overriding{Step: st.ID, Title: st.Title, Who: body.Who,
				Second: body.Second, By: e.By, Reason: body.Reason, Against: body.Against, At: e.At})
		} else {
			for k := range s.Overrides {
				if s.Overrides[k].Step == st.ID {
					s.Overrides[k].Mended = true
				}
			}
		}
		switch st.ID {
		case StepBegin:
			s.asked = e.At
		case StepAllowance:
			if body.Proof != nil && body.Proof.Value != nil {
				v := *body.Proof.Value
				s.Allowance = &v
			}
		}
	}
	entry.Expired = p.expire(s, before, i, causes, entry.because(st))
	if s.Gate == nil && s.Plant.Get(Range) == No {
		s.Gate = p.shut(*s, &p.steps[p.at[StepRange]])
	}
	s.Log = append(s.Log, entry)
}

// because says in words what an entry did.
func (e Entry) because(st *Step) string {
	switch e.Act {
	case TakeBack:
		return "«" + st.Title + "» was taken back"
	case Tried:
		return "«" + st.Title + "» was tried and failed"
	}
	return "«" + st.Title + "» was done"
}

// besides takes in a correction that was made beside the order: what it touches falls, and whoever made it may have fed
// what was dead.
func (p *Procedure) besides(s *State, e Event, body payload) {
	if body.Allowance != nil {
		v := *body.Allowance
		s.Allowance = &v
	}
	if body.Step != "" {
		return // made by a step, which did all that
	}
	s.Version = e.Version
	before := s.Plant
	change := HousingTurned
	if body.Allowance != nil {
		change = AllowanceSet
	}
	s.Plant = p.move(before, append(fell(change), fears(before)...), nil)
	s.Gate = nil
	fell := p.expire(s, before, -1, nil, "a correction was made beside the order of work")
	s.Log = append(s.Log, Entry{Version: e.Version, At: e.At, Title: "a correction beside the order of work",
		Who: body.Who, By: e.By, Act: History, Expired: fell})
}

// reopen begins anew with an engine that was out of sight: what was shown of it is history, a signature too.
func (p *Procedure) reopen(s *State, e Event) {
	was := s.Plant
	s.Plant = p.move(p.pause(p.move(was, []Effect{to(Signed, No)}, nil)), fell(Reopened), nil)
	s.Version, s.Gate = e.Version, nil
	fell := p.expire(s, was, -1, nil, string(Reopened))
	s.Log = append(s.Log, Entry{Version: e.Version, At: e.At, Title: "opened again", By: e.By, Act: Break,
		Reason: string(Reopened), Expired: fell})
	s.seen, s.asked = e.At, e.At
}

// feared is what must be feared once hands or an attempt came between: none of it is known.
var feared = []Effect{to(Feed, Live), to(Injectors, Live), to(Box, Charged), to(Starter, Able), to(Battery, Connected)}

// fears is what must be feared of a plant: once it is closed up, the starter may have turned the crank too; once base
// timing was shown, fuel may have been let in.
func fears(s Plant) []Effect {
	out := append([]Effect{}, feared...)
	if s.Get(Plugs) == In {
		out = append(out, to(Crank, Anywhere))
	}
	if s.Get(Base) == Yes {
		out = append(out, to(FuelLine, Full))
	}
	return out
}

// back is the plant after a step was taken back. With the new unit in, somebody who broke a check off may have fed the
// coil and enabled the starter since: both count as live until they are shown dead again.
func (p *Procedure) back(s Plant, st *Step) Plant {
	effects := append(append([]Effect{}, ended...), st.Undo...)
	if s.Get(Unit) == NewIn {
		for _, f := range fears(s) {
			if !sets(st.Undo, f.Part) {
				effects = append(effects, f)
			}
		}
	}
	return p.move(s, effects, nil)
}

// tried is the plant after a check that failed.
func (p *Procedure) tried(s Plant, st *Step) Plant {
	_, during := p.through(s, st.During, nil)
	return p.move(during, st.Failed, nil)
}

// climb takes a reading into the ladder. It says whether the step is done with it: a speed of several does not do it.
func (p *Procedure) climb(s *State, st *Step, f *Proof) bool {
	if st.ID != StepIdle && st.ID != StepRange || f == nil || f.Value == nil || f.RPM == nil {
		return true
	}
	if s.Plant.Get(Range) == Yes {
		return true // one more reading of what is done
	}
	locked := (st.Demand.Passes.From + st.Demand.Passes.To) / 2
	r := Read{*f.RPM, *f.Value - locked}
	if st.ID == StepIdle {
		s.Ladder = []Read{r}
		return true
	}
	s.Ladder = append(append([]Read{}, s.Ladder...), r)
	_, more := st.nextRung(s.Ladder)
	return !more
}

// gateOf is what a failed check leaves shut.
func (p *Procedure) gateOf(s State, st *Step, f *Proof) *Gate {
	g := &Gate{At: st.ID, Go: st.ID, Why: "it was tried and failed"}
	if r := p.proofLock(s, st, f); r != nil {
		g.Why = "it showed " + r.Have + ", wanted " + r.Want + ": " + r.Remedy
		if r.Go != "" {
			g.Go = r.Go
		}
	}
	return g
}

// expire marks the steps that stood and stand no more.
func (p *Procedure) expire(s *State, before Plant, by int, causes []int, because string) []Expiry {
	why := map[Part]string{}
	for _, c := range causes {
		f := &p.follows[c]
		if why[f.Loses] == "" {
			why[f.Loses] = f.Why
		}
	}
	if by < 0 && because == "" {
		for _, a := range p.ages {
			why[a.Part] = a.Why
		}
	}
	if s.Plant.Get(Idle) == No {
		s.Ladder = nil
	} else if s.Plant.Get(Range) == No && before.Get(Range) == Yes && len(s.Ladder) > 0 {
		s.Ladder = s.Ladder[:1:1]
	}
	var out []Expiry
	for k := range p.steps {
		st, rec := &p.steps[k], &s.Steps[k]
		if k == by || !rec.Done || p.stands(s.Plant, st) {
			continue
		}
		reason := because
		for _, c := range st.Holds {
			if !c.Holds(s.Plant) {
				if w := why[c[0].Part]; w != "" {
					reason = w
				} else {
					reason = joinWords(because, Say(c[0].Part, s.Plant.Get(c[0].Part)))
				}
				break
			}
		}
		rec.Done, rec.Redo = false, reason
		out = append(out, Expiry{st.ID, st.Title, reason})
	}
	return out
}

func joinWords(a, b string) string {
	if a == "" {
		return b
	}
	return a + ": " + b
}

// Broken lists the rules that the plant breaks as it stands: by an override, or because the card changed.
func (p *Procedure) Broken(s State) []Rule {
	var out []Rule
	set := p.broken(s.Plant)
	for i := range p.rules {
		if set>>i&1 != 0 {
			out = append(out, p.rules[i])
		}
	}
	return out
}

// Passed lists the locks that were overridden and not shown properly since. While there is one, nothing may be called
// a pass.
func (s State) Passed() []Overriding {
	var out []Overriding
	for _, o := range s.Overrides {
		if !o.Mended {
			out = append(out, o)
		}
	}
	return out
}

// Begun says whether anything was done by this order of work. Before that, readings of the job came from elsewhere.
func (s State) Begun() bool {
	return slices.ContainsFunc(s.Log, func(e Entry) bool { return e.Act != History && e.Act != Break })
}

// allowanceNow is the delay allowance that the controller must give back, µs.
func (p *Procedure) allowanceNow(s State) float64 {
	if s.Allowance != nil && !math.IsNaN(*s.Allowance) {
		return *s.Allowance
	}
	return p.allowance
}
