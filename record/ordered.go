package record

import (
	"fmt"
	"math"
	"strings"
	"time"

	"phasewright/book"
	"phasewright/procedure"
	"phasewright/readings"
	"phasewright/verdict"
)

// Entry is how something comes into the job from another page than that of the steps: by whom, on what device, with
// what looked at.
type Entry struct {
	Who, Device, Key string
	Looks            []procedure.Look // that were ticked
	Brought          bool             // of work done elsewhere: it is kept, says so, and proves nothing of this order
	Now              time.Time
	Stamp            Stamp
}

// Taken is the answer to an entry: what to record in one write, and why it is not, or not all, that was wanted. A check
// that failed gives both: that it was tried is recorded, and so is the reading.
type Taken struct {
	Drafts  []book.Draft
	Refused []procedure.Refusal
}

// TakeReading takes a reading as evidence of the step of the order that it belongs to by its speed, or refuses it with
// the step that is missing. A brought one is kept beside the order.
func (j *Job) TakeReading(r Reading, e Entry) (Taken, error) {
	if err := r.Check(); err != nil {
		return Taken{}, err
	}
	if e.Brought {
		r = j.Reading(r, e.Stamp)
		r.Brought = true
		if e.Who != e.Device {
			r.Person = e.Who
		}
		payload, err := e.Stamp.On(r)
		return Taken{Drafts: []book.Draft{{Who: e.Device, Kind: book.KindReadingAdded, Payload: payload,
			Key: e.Key}}}, err
	}
	p, s, err := j.Order(e.Now)
	if err != nil {
		return Taken{}, err
	}
	id, ok := p.StepOf(r.RPM)
	if !ok {
		return Taken{Refused: []procedure.Refusal{{Kind: procedure.Input, Step: p.Next(s).Step,
			Want: "a speed that a step asks for", Have: fmt.Sprintf("%.0f rpm", r.RPM),
			Remedy: "read at a speed that the order of work names", Go: procedure.StepRange, Never: true}}}, nil
	}
	if locked, given := j.Card.Controller.Advance.Locked.Get(); given && id != procedure.StepBase &&
		float64(locked) != r.Locked {
		return Taken{Refused: []procedure.Refusal{{Kind: procedure.Input, Step: id,
			Want: fmt.Sprintf("timing locked at %v, as on the card", locked), Have: fmt.Sprintf("%v°", r.Locked),
			Remedy: "lock it there and read again, or change the card", Go: id, Never: true}}}, nil
	}
	f := &procedure.Proof{Kind: procedure.Reading, Value: &r.Shown, RPM: &r.RPM, Seen: e.Looks}
	return j.taken(p.Decide(s, procedure.Request{Act: procedure.Do, Step: id, Who: e.Who, Proof: f,
		Seen: s.Version}), e)
}

// MakeCorrection takes a turn of the housing or a new allowance as the step of the order that makes it, or refuses it
// with what is missing: a running engine, a fed coil, a clamp that nobody tightened. One thing at a time: each is read
// again. A brought one is kept beside the order: what it touches falls.
func (j *Job) MakeCorrection(c Correction, e Entry) (Taken, error) {
	if err := c.Check(j.Turned()); err != nil {
		return Taken{}, err
	}
	if e.Brought {
		if e.Who != e.Device {
			c.Person = e.Who
		}
		payload, err := e.Stamp.On(c)
		return Taken{Drafts: []book.Draft{{Who: e.Device, Kind: book.KindCorrectionMade, Payload: payload,
			Key: e.Key}}}, err
	}
	p, s, err := j.Order(e.Now)
	if err != nil {
		return Taken{}, err
	}
	id, value := procedure.StepHousing, c.Housing
	if c.Direction == readings.AgainstRotor {
		value = -value
	}
	switch {
	case c.Allowance != nil && c.Housing != 0:
		return Taken{Refused: []procedure.Refusal{{Kind: procedure.Input, Step: procedure.StepHousing,
			Want: "one correction at a time", Have: "two",
			Remedy: "enter the turn of the housing first, then the allowance", Never: true}}}, nil
	case c.Allowance != nil:
		id, value = procedure.StepAllowance, *c.Allowance
	}
	f := &procedure.Proof{Kind: procedure.Number, Value: &value, Seen: e.Looks}
	return j.taken(p.Decide(s, procedure.Request{Act: procedure.Do, Step: id, Who: e.Who, Proof: f,
		Seen: s.Version}), e)
}

// DoStep does a step of the order, takes one back, or overrides a lock, at the time of the entry. Where a recording is
// the proof, its figures are read from it, whatever was typed beside.
func (j *Job) DoStep(r procedure.Request, e Entry) (Taken, error) {
	r, no, err := j.prove(r)
	if err != nil {
		return Taken{}, err
	}
	if no != nil {
		return Taken{Refused: []procedure.Refusal{*no}}, nil
	}
	p, s, err := j.Order(e.Now)
	if err != nil {
		return Taken{}, err
	}
	if r.Act != procedure.TakeBack && r.Proof != nil && r.Proof.Kind == procedure.Capture {
		return j.byRecording(p, s, r, e)
	}
	return j.taken(p.Decide(s, r), e)
}

// taken makes drafts of an outcome, with what it means for the readings.
func (j *Job) taken(o procedure.Outcome, e Entry) (Taken, error) {
	out := Taken{Refused: o.Refused}
	for _, one := range o.Events {
		payload, err := e.Stamp.On(one.Payload)
		if err != nil {
			return Taken{}, err
		}
		draft := book.Draft{Who: e.Device, Kind: book.Kind(one.Kind), Payload: payload, Key: e.Key}
		out.Drafts = append(out.Drafts, draft)
		meant, ok, err := j.Meaning(draft, e.Stamp)
		if err != nil {
			return Taken{}, err
		}
		if ok {
			out.Drafts = append(out.Drafts, meant)
		}
	}
	return out, nil
}

// Brought lists the readings that the proof would rest on and that no step of the order took: they came from elsewhere,
// or from a release that did not ask.
func (j *Job) Brought() []Reading {
	var out []Reading
	for _, r := range j.AfterCorrections() {
		if r.Step == "" {
			out = append(out, r)
		}
	}
	return out
}

// Unsigned says why the proof cannot be signed as a proof of the order of work: readings that came from elsewhere, a
// step that is missing, a clause that is not shown, or a lock that was overridden and not shown since. nil where it
// can.
func (j *Job) Unsigned(now time.Time) (*procedure.Refusal, error) {
	p, s, err := j.Order(now)
	if err != nil {
		return nil, err
	}
	if n := len(j.Brought()); n > 0 {
		return &procedure.Refusal{Kind: procedure.Unproven, Step: procedure.StepProve,
			Want: "readings that the order of work took", Have: fmt.Sprintf("%d brought from elsewhere", n),
			Remedy: "print them as brought readings, or read them again by the order of work",
			Go:     procedure.StepIdle, Never: true}, nil
	}
	if s.Plant.Get(procedure.Range) != procedure.Yes && s.Plant.Get(procedure.Signed) != procedure.Yes {
		next := p.Next(s)
		st, _ := p.Step(next.Step)
		return &procedure.Refusal{Kind: procedure.Order, Step: procedure.StepProve,
			Want: "every step up to the readings", Have: "the order of work stands at «" + st.Title + "»",
			Remedy: "go on with the order of work", Go: next.Step, Never: true}, nil
	}
	if no, err := j.unproven(); err != nil || no != nil {
		return no, err
	}
	if over := s.Passed(); len(over) > 0 {
		o := over[0]
		return &procedure.Refusal{Kind: procedure.Unproven, Step: o.Step, Want: "«" + o.Title + "» shown",
			Have:   "overridden by " + o.Names() + ": " + o.Reason,
			Remedy: "show it properly; until then nothing is called a pass", Go: o.Step, Never: true}, nil
	}
	return nil, nil
}

// unproven says why the statement is not proven: a clause that is not shown. nil where all of it is.
func (j *Job) unproven() (*procedure.Refusal, error) {
	says, err := j.Judge()
	if err != nil || says.Word == verdict.Pass {
		return nil, err
	}
	have := string(says.Word)
	for _, state := range []verdict.State{verdict.Broken, verdict.AtOdds, verdict.Open} {
		if titles := says.Clauses.Titles(state); len(titles) > 0 {
			have += "; " + string(state) + ": " + strings.Join(titles, ", ")
		}
	}
	return &procedure.Refusal{Kind: procedure.Unproven, Step: procedure.StepProve, Want: "all nine clauses shown",
		Have: have, Remedy: says.Next, Never: true}, nil
}

// prove makes a request for the step that proves, or signs: it needs the whole statement shown, and its figure is that
// of the judge, whatever was typed.
func (j *Job) prove(r procedure.Request) (procedure.Request, *procedure.Refusal, error) {
	if r.Act != procedure.Do || r.Step != procedure.StepProve && r.Step != procedure.StepSignOff {
		return r, nil, nil
	}
	if no, err := j.unproven(); err != nil || no != nil || r.Step == procedure.StepSignOff {
		return r, no, err
	}
	says, err := j.Judge()
	if err != nil {
		return r, nil, err
	}
	timing := says.Clauses.Get(verdict.Timing)
	most := math.Abs(float64(timing.Value)) + float64(timing.U)
	r.Proof = &procedure.Proof{Kind: procedure.Number, Value: &most, Text: says.First}
	return r, nil, nil
}

// Signature is what a signed proof says under a name and the role in which it is signed, as the payload of its
// event. With brought readings it says so.
func (j *Job) Signature(name, role string, brought bool) (map[string]any, error) {
	says, err := j.Judge()
	if err != nil {
		return nil, err
	}
	proof, err := j.Proof()
	if err != nil {
		return nil, err
	}
	word, words := string(says.Word), says.First
	if brought {
		word = "of brought readings: " + word
		words = "Of readings brought from elsewhere: no proof of the order of work. " + words
	}
	out := map[string]any{"name": name, "verdict": word, "words": words, "worst": proof.Worst,
		"tolerance_deg": proof.Tolerance, "readings": len(j.AfterCorrections()), "clauses": says.Clauses}
	if role != "" {
		out["role"] = role
	}
	return out, nil
}
