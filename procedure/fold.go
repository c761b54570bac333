package procedure

import (
	"encoding/json"
	"fmt"
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
	Done       bool
	Redo       string // why it must be done again; "" where it was never done, or stands
	Who, By    string // last one who did it
	At         time.Time
	Proof      *Proof
	Overridden bool // the last time it was done, it was done against a lock
}

// Overriding is a lock that somebody overrode. It is never dropped from the state.
type Overriding struct {
	Step                   StepID
	Title, Who, By, Reason string
	Against                []string
	At                     time.Time
	Mended                 bool // the step was done properly since
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
}

// Start is the state before any event.
func (p *Procedure) Start() State {
	return State{Plant: p.found, Steps: make([]Record, len(p.steps))}
}

// Fold derives the state from a job's events, in the order of their versions. What was recorded is taken as done: the locks were asked when it was
// decided. The result depends on events and card alone.
func (p *Procedure) Fold(events []Event) State {
	s := p.Start()
	basis := make([]string, len(p.steps)) // that each step was last done by
	for _, e := range events {
		switch e.Kind {
		case CardSaved:
			s.Version = e.Version
		case StepDone, StepUndone, StepOverride:
			s.Version = e.Version
			p.apply(&s, e, basis)
		}
	}
	for i := range p.steps {
		st := &p.steps[i]
		if s.Steps[i].Done && basis[i] != "" && basis[i] != st.Basis {
			p.outdated(&s, i, basis[i])
		}
	}
	return s
}

// apply takes one event into a state that the caller owns.
func (p *Procedure) apply(s *State, e Event, basis []string) {
	var body payload
	if err := json.Unmarshal(e.Payload, &body); err != nil {
		s.Unread = append(s.Unread, fmt.Sprintf("event %d (%s) cannot be read: %v", e.Version, e.Kind, err))
		return
	}
	i, known := p.at[body.Step]
	if !known {
		s.Unread = append(s.Unread, fmt.Sprintf("event %d (%s) names the step %q, which this engine does not have", e.Version, e.Kind, clip(string(body.Step))))
		return
	}
	st, rec := &p.steps[i], &s.Steps[i]
	before := s.Plant
	entry := Entry{Version: e.Version, At: e.At, Step: st.ID, Title: st.Title, Who: body.Who, By: e.By, Reason: body.Reason, Proof: body.Proof, Act: Do}
	var causes []int
	if e.Kind == StepUndone {
		entry.Act = TakeBack
		s.Plant = p.move(before, st.undo, &causes)
		rec.Done, rec.Redo, rec.Overridden = false, "", false
	} else {
		s.Plant = p.move(p.move(before, st.During, &causes), st.after, &causes)
		*rec = Record{Done: true, Who: body.Who, By: e.By, At: e.At, Proof: body.Proof}
		basis[i] = body.Basis
		if e.Kind == StepOverride {
			entry.Act, rec.Overridden = Override, true
			s.Overrides = append(s.Overrides, Overriding{Step: st.ID, Title: st.Title, Who: body.Who, By: e.By, Reason: body.Reason, Against: body.Against, At: e.At})
		} else {
			for k := range s.Overrides {
				if s.Overrides[k].Step == st.ID {
					s.Overrides[k].Mended = true
				}
			}
		}
	}
	entry.Expired = p.expire(s, before, i, causes, entry)
	s.Log = append(s.Log, entry)
}

// expire re-locks what depended on what a step changed: steps whose evidence fell, and later steps whose part was moved back.
func (p *Procedure) expire(s *State, before Plant, by int, causes []int, e Entry) []Expiry {
	why := map[Part]string{}
	for _, c := range causes {
		f := &p.follows[c]
		if f.Loses.isEvidence() && why[f.Loses] == "" {
			why[f.Loses] = f.Why
		}
	}
	moved := map[Part]bool{}
	for _, part := range differing(before, s.Plant) {
		moved[part] = true
	}
	var out []Expiry
	for k := range p.steps {
		st, rec := &p.steps[k], &s.Steps[k]
		part := st.After[0].Part
		if k == by || !rec.Done || st.main(s.Plant) {
			continue
		}
		reason := why[part]
		if reason == "" && part.isEvidence() && moved[part] {
			reason = fmt.Sprintf("«%s» was taken back", p.steps[by].Title)
		}
		if reason == "" && k > by && moved[part] {
			reason = fmt.Sprintf("«%s» was done again: %s", p.steps[by].Title, Say(part, s.Plant.Get(part)))
			if e.Act == TakeBack {
				reason = fmt.Sprintf("«%s» was taken back: %s", p.steps[by].Title, Say(part, s.Plant.Get(part)))
			}
		}
		if reason == "" || part == Fit && s.Plant.Get(Fit) > st.After[0].To {
			continue
		}
		rec.Done = false
		if !st.OnDemand {
			rec.Redo = reason
			out = append(out, Expiry{st.ID, st.Title, reason})
		}
	}
	return out
}

// outdated expires a step that was done by other figures than the card gives now.
func (p *Procedure) outdated(s *State, i int, was string) {
	st := &p.steps[i]
	before := s.Plant
	var causes []int
	var falls []Effect
	for _, e := range st.After {
		if e.Part.isEvidence() && s.Plant.Get(e.Part) == e.To {
			falls = append(falls, to(e.Part, No))
		}
	}
	if st.After[0].Part == Settings && s.Plant.Get(Settings) != Changed {
		falls = append(falls, to(Settings, Changed))
	}
	s.Plant = p.move(s.Plant, falls, &causes)
	s.Steps[i].Done = false
	s.Steps[i].Redo = fmt.Sprintf("the card changed since: done by %s; it now says %s", was, st.Basis)
	p.expire(s, before, i, causes, Entry{Act: TakeBack})
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
