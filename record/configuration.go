package record

import (
	"bytes"
	"encoding/json"
	"slices"
	"time"

	"phasewright/book"
	"phasewright/jobcard"
	"phasewright/procedure"
	"phasewright/quantity"
)

// Stamp says what the screen showed on which something was entered, and when that was. It travels in the payload of the
// event, so that an entry that waited on a phone without a line still belongs to the engine as it was then.
type Stamp struct {
	Configuration *int       `json:"configuration,omitempty"` // count that the screen showed; nil: that of its arrival
	TakenAt       *time.Time `json:"taken_at,omitempty"`      // by the clock of the screen
}

// On puts the stamp into a payload, which must be a JSON object.
func (s Stamp) On(payload any) (json.RawMessage, error) {
	object, err := json.Marshal(payload)
	if err != nil {
		return nil, err
	}
	stamp, err := json.Marshal(s)
	if err != nil || string(stamp) == "{}" {
		return object, err
	}
	if string(object) == "{}" {
		return stamp, nil
	}
	return bytes.Join([][]byte{bytes.TrimSuffix(object, []byte("}")), stamp[1:]}, []byte(",")), nil
}

// Change is an event that began a new configuration of the engine.
type Change struct {
	Version   book.Version
	At        time.Time
	allowance jobcard.Setting[quantity.Time] // in force from then on
	kinds     []procedure.Change             // what it changed
}

// moving says what each step changes that moves the housing, the lead, an edge, the allowance or the wires, done or
// taken back. It is written down here and not asked of the procedure, because the count of a job must not depend on
// what its card says later.
var moving = map[procedure.StepID]procedure.Change{
	procedure.StepUnitOut: procedure.UnitMoved, procedure.StepDrop: procedure.UnitMoved,
	procedure.StepPhase: procedure.UnitMoved, procedure.StepHousing: procedure.HousingTurned,
	// Settings are stored and read back. Whoever changes edge or lead changes the card.
	procedure.StepSettings: procedure.AllowanceSet, procedure.StepAllowance: procedure.AllowanceSet,
	procedure.StepOpen: procedure.WiresMoved, procedure.StepWires: procedure.WiresMoved,
	procedure.StepRotor: procedure.WiresMoved, // onto the cut cap and back

	// of earlier releases, beside those of the same name
	"old-out": procedure.UnitMoved, "lift": procedure.UnitMoved, "slacken": procedure.UnitMoved,
	"cap-off": procedure.WiresMoved,
}

// changed says whether an event begins a new configuration, and what it changed: housing, delay allowance, edge, lead
// or wires. A card that is saved begins one, also where it changes none of them. before is the card until then.
func (j *Job) changed(e book.Event, before *jobcard.Card) (kinds []procedure.Change, begins bool) {
	switch e.Kind {
	case book.KindCardSaved:
		return cardChanges(before, j.Card), true
	case book.KindCorrectionMade:
		var c Correction
		if json.Unmarshal(e.Payload, &c) == nil {
			if c.Housing != 0 {
				kinds = append(kinds, procedure.HousingTurned)
			}
			if c.Allowance != nil {
				kinds = append(kinds, procedure.AllowanceSet)
			}
		}
		return kinds, true
	case book.KindJobReopened:
		if procedure.AwayTooLong(j.closed(e.Version), e.At) {
			return []procedure.Change{procedure.Reopened}, true
		}
	case book.KindStepDone, book.KindStepOverride, book.KindStepUndone:
		var p struct{ Step procedure.StepID }
		if json.Unmarshal(e.Payload, &p) == nil && moving[p.Step] != "" {
			return []procedure.Change{moving[p.Step]}, true
		}
	}
	return nil, false
}

// closed is when the job was last signed or put away before a version.
func (j *Job) closed(before book.Version) (at time.Time) {
	for _, e := range j.Events {
		if e.Version < before && (e.Kind == book.KindJobArchived || e.Kind == book.KindProofSigned) {
			at = e.At
		}
	}
	return at
}

// Closed says whether the job is over: signed or put away, so long ago that nobody knows what was done to its engine
// since. Who measures on that engine again opens the job first, and what was shown before is history.
func (j *Job) Closed(now time.Time) (since time.Time, over bool) {
	if j.Signed == nil && !j.Archived {
		return time.Time{}, false
	}
	since = j.closed(j.Version + 1)
	return since, procedure.AwayTooLong(since, now)
}

// cardChanges is what somebody changed on engine or controller, where one card follows another: a card is the record of
// how both are set.
func cardChanges(a, b *jobcard.Card) []procedure.Change {
	if a == nil || b == nil {
		return nil
	}
	var out []procedure.Change
	add := func(c procedure.Change, differ bool) {
		if differ {
			out = append(out, c)
		}
	}
	x, y, u, v := a.Signals, b.Signals, a.Distributor, b.Distributor
	add(procedure.SettingsChanged, x.Crank.ActiveEdge != y.Crank.ActiveEdge || x.Crank.Lead != y.Crank.Lead ||
		x.Cam.ActiveEdge != y.Cam.ActiveEdge || a.Controller.Advance.Locked != b.Controller.Advance.Locked)
	add(procedure.AllowanceSet, a.Controller.DelayAllowance != b.Controller.DelayAllowance)
	add(procedure.WiresMoved, !slices.Equal(a.Engine.FiringOrder, b.Engine.FiringOrder) ||
		a.Distributor.TowerForNo1 != b.Distributor.TowerForNo1)
	add(procedure.MarkMoved, a.Damper != b.Damper)
	add(procedure.UnitMoved, x.Crank.Kind != y.Crank.Kind || x.Crank.InVane != y.Crank.InVane ||
		!slices.Equal(x.Crank.Vanes, y.Crank.Vanes) || x.Cam.Fitted != y.Cam.Fitted || x.Cam.Kind != y.Cam.Kind ||
		x.Cam.InVane != y.Cam.InVane || x.Cam.EdgeAt != y.Cam.EdgeAt || u.Use != v.Use || u.Rotation != v.Rotation ||
		u.GearTeeth != v.GearTeeth)
	add(procedure.OtherEngine, a.Engine.Cycle != b.Engine.Cycle || a.Engine.Rotation != b.Engine.Rotation ||
		!slices.Equal(a.Engine.Intervals, b.Engine.Intervals))
	return out
}

// Configuration counts the changes of the engine so far. Two things taken under the same count were taken of the same
// engine.
func (j *Job) Configuration() int { return len(j.changes) }

// AllowanceAt is the delay allowance that was in force in a configuration, where a card that can be used said so.
func (j *Job) AllowanceAt(configuration int) (a quantity.Time, ok bool) {
	if configuration < 1 || configuration > len(j.changes) {
		return 0, false
	}
	return j.changes[configuration-1].allowance.Get()
}

// Reading completes a reading that is about to be recorded with the allowance of the configuration that its stamp
// names.
func (j *Job) Reading(r Reading, stamp Stamp) Reading {
	at := j.Configuration()
	if stamp.Configuration != nil {
		at = *stamp.Configuration
	}
	if a, ok := j.AllowanceAt(at); ok {
		us := float64(a)
		r.Allowance = &us
	}
	return r
}

// Origin is where on the way of the job something recorded belongs.
type Origin struct {
	Configuration int       // that it was taken in
	Arrived       int       // that it arrived in
	Late          bool      // it arrived after that configuration had ended
	Ended         Change    // what ended it, where it came late
	Taken         time.Time // by the clock of the screen; the time of arrival where none came along
	ClockWrong    bool      // a time came along that cannot be: Taken is the time of arrival
	AfterAll      bool      // it came late, and by the clock of the screen it was taken after the change as well
}

// slack is how far a clock may be off before it is called wrong: a reading is written down in half a minute and an
// engine is stopped, turned and running again in two (common practice), so that less decides nothing.
const slack = 2 * time.Minute

// configurationAt is the configuration in which an event arrived.
func (j *Job) configurationAt(v book.Version) int {
	n := len(j.changes)
	for n > 0 && j.changes[n-1].Version >= v {
		n--
	}
	return n
}

// Origin tells where an event of the job belongs. One without a stamp that can be right belongs where it arrived.
func (j *Job) Origin(e book.Event) Origin {
	arrived := j.configurationAt(e.Version)
	o := Origin{Configuration: arrived, Arrived: arrived, Taken: e.At}
	var s Stamp
	if !bytes.Contains(e.Payload, []byte(`"configuration"`)) && !bytes.Contains(e.Payload, []byte(`"taken_at"`)) ||
		json.Unmarshal(e.Payload, &s) != nil {
		return o // most events of a job bear none, and a recording's summary takes long to read
	}
	if s.TakenAt != nil {
		begun := e.At
		if len(j.Events) > 0 {
			begun = j.Events[0].At
		}
		if s.TakenAt.Before(begun.Add(-slack)) || s.TakenAt.After(e.At.Add(slack)) {
			o.ClockWrong = true
		} else {
			o.Taken = s.TakenAt.UTC()
		}
	}
	if c := s.Configuration; c != nil && *c >= 0 && *c < arrived {
		o.Configuration, o.Late, o.Ended = *c, true, j.changes[*c]
		o.AfterAll = s.TakenAt != nil && !o.ClockWrong && o.Taken.After(o.Ended.At.Add(slack))
	}
	return o
}
