// Package verdict judges. The technician answers for one statement: from first crank to redline the spark falls within
// the tolerance of the commanded crank angle, on every cylinder, and on the right one. It is made of nine clauses. A
// clause is shown, broken, open (with the cheapest look that would show it), or at odds: two pieces of evidence exclude
// each other, and neither is believed.
//
// Every surface takes its words, its next action and its exit status from here; none has an opinion of its own.
//
// Angles are crank degrees, early positive; U is the half-width of a 95 % interval. A number without an interval
// shows nothing.
package verdict

import (
	"math"
	"slices"

	"phasewright/readings"
)

// ID names a clause.
type ID string

// The nine clauses, in the order in which they stand on every sheet.
const (
	ZeroMark      ID = "zero_mark"
	Locked        ID = "locked"
	Timing        ID = "timing"
	EveryCylinder ID = "every_cylinder"
	RightCylinder ID = "right_cylinder"
	FirstCrank    ID = "first_crank"
	Signals       ID = "signals"
	Spark         ID = "spark"
	Held          ID = "held"
)

// clause is what stands in the table of clauses.
type clause struct {
	id      ID
	title   string
	look    string // the cheapest look that would show it
	minutes int
}

// clauses is the one table of the nine.
var clauses = []clause{
	{ZeroMark, "zero mark", "fit the piston stop. Halve the two marks", 12},
	{Locked, "locked", "read the commanded advance back while the light or the recorder runs", 2},
	{Timing, "timing", "read the timing at idle and at several speeds up to the redline", 10},
	{EveryCylinder, "every cylinder",
		"record crank, spark and mark together, or read the light on the companion's wire too", 5},
	{RightCylinder, "right cylinder",
		"feel compression on No. 1 as the mark comes up. Check the wires against the map", 6},
	{FirstCrank, "first crank", "read the timing on the starter, fuel off", 4},
	{Signals, "signals", "record crank and cam from the starter to the redline", 8},
	{Spark, "spark", "record the coil driver. Compare its dwell with the set-up sheet", 8},
	{Held, "held", "tighten the clamp. Power off and on. Read the settings back", 4},
}

// IDs are the nine clauses in the order in which they stand on every sheet.
func IDs() []ID {
	var out []ID
	for _, c := range clauses {
		out = append(out, c.id)
	}
	return out
}

// Title is a clause in words.
func (id ID) Title() string {
	for _, c := range clauses {
		if c.id == id {
			return c.title
		}
	}
	return string(id)
}

// State is how a clause stands.
type State string

// The states.
const (
	Shown  State = "shown"
	Broken State = "broken"
	Open   State = "open"
	AtOdds State = "at odds"
	// NotClaimed is an open clause that the card says is not claimed for this job.
	NotClaimed State = "not claimed"
)

// Source is what speaks for a clause.
type Source string

// The sources.
const (
	ByCard      Source = "card"
	ByOrder     Source = "order of work"
	BySeen      Source = "observation"
	ByLight     Source = "light"
	ByRecording Source = "recording"
	BySheet     Source = "set-up sheet"
)

// by names the source of the clauses that it says something about.
func (s Set) by(source Source) Set {
	for i := range s {
		if s[i].Touched() {
			s[i].By = source
		}
	}
	return s
}

// Number is a figure that may be unknown: JSON writes NaN and infinity as null.
type Number = readings.Number

// Clause is how one of the nine stands.
type Clause struct {
	ID        ID     `json:"id"`
	State     State  `json:"state"`
	By        Source `json:"by,omitempty"` // what speaks for it
	Value     Number `json:"value"`        // what decided, in degrees or ms; null where no figure did
	U         Number `json:"u"`
	Limit     Number `json:"limit"`
	Because   string `json:"because"`
	WouldShow string `json:"would_show,omitempty"` // the cheapest look; "" where nothing is open
	Minutes   int    `json:"minutes,omitempty"`    // that it takes
}

// Word is the verdict on the whole statement.
type Word string

// The words.
const (
	Pass        Word = "pass"
	Fails       Word = "fails"
	NotShownYet Word = "not shown yet"
)

var nan = Number(math.NaN())

// Set is the nine clauses as some evidence leaves them.
type Set []Clause

const nothingYet = "nothing shows it yet"

// open is the set that no evidence has touched.
func open() Set {
	s := make(Set, len(clauses))
	for i, c := range clauses {
		s[i] = Clause{ID: c.id, State: Open, Value: nan, U: nan, Limit: nan, Because: nothingYet,
			WouldShow: c.look, Minutes: c.minutes}
	}
	return s
}

// Get is the clause.
func (s Set) Get(id ID) *Clause {
	return &s[slices.IndexFunc(s, func(c Clause) bool { return c.ID == id })]
}

// settle puts a clause into a state that needs no further look.
func (s Set) settle(id ID, state State, because string) *Clause {
	c := s.Get(id)
	c.State, c.Because = state, because
	if state == Shown {
		c.WouldShow, c.Minutes = "", 0
	}
	return c
}

// leave keeps a clause open, and says why and what would show it.
func (s Set) leave(id ID, because, look string) {
	c := s.Get(id)
	c.Because = because
	if look != "" {
		c.WouldShow = look
	}
}

// reopen takes back what was said of a clause, and says why.
func (s Set) reopen(id ID, because string) {
	*s.Get(id) = *open().Get(id)
	s.Get(id).Because = because
}

// figure adds what decided.
func (c *Clause) figure(value, u, limit float64) {
	c.Value, c.U, c.Limit = Number(value), Number(u), Number(limit)
}

// Word is pass only where every clause is shown, and fails where one is broken.
func (s Set) Word() Word {
	word := Pass
	for _, c := range s {
		switch c.State {
		case Broken:
			return Fails
		case Open, AtOdds:
			word = NotShownYet
		}
	}
	return word
}

// In are the clauses in a state.
func (s Set) In(state State) []Clause {
	var out []Clause
	for _, c := range s {
		if c.State == state {
			out = append(out, c)
		}
	}
	return out
}

// Titles are the clauses in a state, in words.
func (s Set) Titles(state State) []string {
	var out []string
	for _, c := range s.In(state) {
		out = append(out, c.ID.Title())
	}
	return out
}

// Join puts two sets together, both under the same settings of the same engine. Shown by one and open in the other is
// shown; broken by one and shown by the other is at odds.
func Join(a, b Set) Set {
	out := slices.Clone(a)
	for i := range out {
		x, y := a[i], b[i]
		switch {
		case x.State == Open && (y.State != Open || y.Touched()):
			out[i] = y
		case y.State == Open || x.State == y.State || x.State == AtOdds:
		case y.State == AtOdds:
			out[i] = y
		default:
			out[i] = contradiction(x, y)
		}
	}
	return out
}

// Touched says whether evidence says anything about an open clause.
func (c Clause) Touched() bool { return c.Because != nothingYet }

// contradiction is a clause that one look shows and the other breaks.
func contradiction(x, y Clause) Clause {
	fresh := open().Get(x.ID)
	return Clause{ID: x.ID, State: AtOdds, Value: nan, U: nan, Limit: nan, Because: x.Because + ". But: " + y.Because,
		WouldShow: fresh.WouldShow, Minutes: fresh.Minutes}
}
