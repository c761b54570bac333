package record

import (
	"encoding/json"

	"phasewright/book"
	"phasewright/procedure"
	"phasewright/readings"
)

// Meaning is what a step that is done means beside the order: a reading taken, a housing turned, an allowance changed,
// the proof signed. It is recorded together with the step, under a key made of the step's, and bears the step's stamp.
// The card must be one that can be used. The error says what cannot be a reading or a correction, in the words of their
// Check.
func (j *Job) Meaning(step book.Draft, stamp Stamp) (d book.Draft, ok bool, err error) {
	var p struct {
		Step  procedure.StepID
		Who   string
		Proof *procedure.Proof
	}
	if step.Kind != book.KindStepDone && step.Kind != book.KindStepTried || json.Unmarshal(step.Payload,
		&p) != nil || p.Proof == nil {
		return d, false, nil
	}
	if p.Step == procedure.StepSignOff && step.Kind == book.KindStepDone {
		body, err := j.Signature(p.Proof.Text, "", false)
		if err != nil {
			return d, false, err
		}
		d.Who, d.Key, d.Kind = step.Who, step.Key+ofStep, book.KindProofSigned
		d.Payload, err = stamp.On(body)
		return d, err == nil, err
	}
	if p.Proof.Value == nil {
		return d, false, nil
	}
	value := *p.Proof.Value
	var body any
	switch p.Step {
	case procedure.StepIdle, procedure.StepRange, procedure.StepOther:
		if p.Proof.RPM == nil {
			return d, false, nil
		}
		locked, given := j.Card.Controller.Advance.Locked.Get()
		if !given {
			return d, false, nil // nothing to compare the light with
		}
		r := j.Reading(Reading{ID: step.Key, RPM: *p.Proof.RPM, Shown: value, Locked: float64(locked),
			Note: "from the order of work", Step: string(p.Step), U: p.Proof.U,
			Wire: p.Proof.Wire}, stamp)
		if p.Proof.Kind == procedure.Capture {
			r.Recording = p.Proof.SHA256
		}
		body, err = r, r.Check()
		d.Kind = book.KindReadingAdded
	case procedure.StepHousing:
		if value == 0 || step.Kind != book.KindStepDone {
			return d, false, nil
		}
		c := Correction{Housing: value, Direction: readings.WithRotor, Note: "from the order of work",
			Step: string(p.Step), Person: p.Who}
		if value < 0 {
			c.Housing, c.Direction = -value, readings.AgainstRotor
		}
		body, d.Kind, err = c, book.KindCorrectionMade, c.Check(j.Turned())
	case procedure.StepAllowance:
		if step.Kind != book.KindStepDone {
			return d, false, nil
		}
		c := Correction{Allowance: &value, Note: "from the order of work", Step: string(p.Step), Person: p.Who}
		body, d.Kind, err = c, book.KindCorrectionMade, c.Check(j.Turned())
	default:
		return d, false, nil
	}
	d.Who, d.Key = step.Who, step.Key+ofStep
	if err != nil {
		return book.Draft{}, false, err
	}
	if c := stamp.Configuration; d.Kind == book.KindCorrectionMade && c != nil {
		begun := *c + 1 // the step that goes with it is the change itself
		stamp.Configuration = &begun
	}
	d.Payload, err = stamp.On(body)
	return d, err == nil, err
}
