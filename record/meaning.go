package record

import (
	"encoding/json"

	"phasewright/book"
	"phasewright/procedure"
	"phasewright/readings"
)

// Meaning is what a step that was done means for the readings: a reading taken, a housing turned, an allowance changed. The card must
// be one that can be used.
func (j *Job) Meaning(e book.Event) (d book.Draft, ok bool, err error) {
	var p struct {
		Step  string
		Proof *procedure.Proof
	}
	if json.Unmarshal(e.Payload, &p) != nil || p.Proof == nil || p.Proof.Value == nil {
		return d, false, nil
	}
	value := *p.Proof.Value
	var body any
	switch p.Step {
	case "idle", "range":
		if p.Proof.RPM == nil {
			return d, false, nil
		}
		locked, given := j.Card.Controller.Advance.Locked.Get()
		if !given {
			return d, false, nil // nothing to compare the light with
		}
		body = Reading{ID: e.Key, RPM: *p.Proof.RPM, Shown: value, Locked: float64(locked), Allowance: j.Allowance(), Note: "from the order of work"}
		d.Kind = book.KindReadingAdded
	case "housing":
		if value == 0 {
			return d, false, nil
		}
		c := Correction{Housing: value, Direction: readings.WithRotor, Note: "from the order of work"}
		if value < 0 {
			c.Housing, c.Direction = -value, readings.AgainstRotor
		}
		body, d.Kind = c, book.KindCorrectionMade
	case "allowance":
		body, d.Kind = Correction{Allowance: &value, Note: "from the order of work"}, book.KindCorrectionMade
	default:
		return d, false, nil
	}
	d.Payload, err = json.Marshal(body)
	return d, err == nil, err
}
