package verdict

import (
	"slices"

	"phasewright/jobcard"
	"phasewright/procedure"
	"phasewright/readings"
	"phasewright/shaft"
	"phasewright/sheet"
	"phasewright/suspects"
)

// Evidence is all that was seen of one engine. Every part of it is optional but the card: what is nil was not looked
// at. Judge never changes it.
type Evidence struct {
	Card    *jobcard.Card
	Engine  *suspects.Engine // of the card, for the ranking; nil: Judge prepares it where it needs it
	Sheet   *sheet.Sheet     // set-up sheet of the card
	Changes []procedure.Change
	// CardAfter is how many of the changes lay before the card was saved: what it states of the zero mark is as old.
	CardAfter int

	Light    *Light
	Captures []Capture // in the order made
	Seen     *Seen
	Order    *Order
}

// Light is the readings of the timing light.
type Light struct {
	Rows []readings.Row   // all that bear on the engine as it stands
	Fit  *readings.Result // the line through them
	// Proof is made of the readings since the last change that touches the timing; nil where there are none.
	Proof *readings.Proof
}

// Capture is what one recording showed.
type Capture struct {
	Name   string
	Result *shaft.Result
	After  int // how many of the changes lay before it
}

// Seen is what was observed and written down beside readings and recordings.
type Seen struct {
	*suspects.Evidence
	After int // how many of the changes lay before it was last kept
}

// Order is how the order of work stands. It keeps by itself what a later change puts in doubt.
type Order struct {
	*procedure.Procedure
	State procedure.State
}

// clausesOf says which clauses a part of the order's evidence speaks for. With procedure.Touches it is the table of
// which change touches which clause: both the locks and the judge go by it.
var clausesOf = map[procedure.Part][]ID{
	procedure.Zero:     {ZeroMark},
	procedure.Lock:     {Locked},
	procedure.Idle:     {Timing, EveryCylinder},
	procedure.Stroke:   {RightCylinder, Signals}, // which stroke, as the cam pickup tells it
	procedure.Turned:   {RightCylinder, Spark},   // closed up, with the wires in their places
	procedure.Base:     {FirstCrank},
	procedure.Settings: {Held},
	procedure.Phased:   {Held}, // under a tight clamp
}

// Touched are the clauses that a change puts in doubt.
func Touched(c procedure.Change) []ID {
	var out []ID
	for _, part := range procedure.Touches(c) {
		for _, id := range clausesOf[part] {
			if !slices.Contains(out, id) {
				out = append(out, id)
			}
		}
	}
	return out
}

// stands says whether what was seen after so many of the changes still counts for a clause.
func (e *Evidence) stands(after int, id ID) bool {
	for _, c := range e.Changes[min(after, len(e.Changes)):] {
		if slices.Contains(Touched(c), id) {
			return false
		}
	}
	return true
}

// keep opens again the clauses of a set that a later change touched.
func (e *Evidence) keep(s Set, after int, what string) {
	fresh := open()
	for i := range s {
		if s[i].State != Open && !e.stands(after, s[i].ID) {
			s[i] = fresh[i]
			s[i].Because = what + " was taken before a change that touches this"
		}
	}
}
