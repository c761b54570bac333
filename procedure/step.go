package procedure

import (
	"strings"

	"phasewright/words"
)

// ProofKind is how a step is proven.
type ProofKind string

// The kinds of proof.
const (
	Tick    ProofKind = "tick"    // a box ticked; words may stand beside it
	Number  ProofKind = "value"   // a number in the demand's unit, or one of its options as text
	Photo   ProofKind = "photo"   // sha256 of a picture in the shop book
	Reading ProofKind = "reading" // what the light shows, degrees BTDC, at a speed in rpm
	Capture ProofKind = "capture" // sha256 of a recording in the shop book; its reading stands beside it
	Written ProofKind = "words"   // what was seen, in words
)

// Proof is the evidence given for a step.
type Proof struct {
	Kind   ProofKind `json:"kind"`
	Value  *float64  `json:"value,omitempty"`
	RPM    *float64  `json:"rpm,omitempty"`
	U      *float64  `json:"u,omitempty"`    // standard uncertainty of the value, where a recording tells it
	Wire   int       `json:"wire,omitempty"` // number of the cylinder whose wire the light was on; 0: of the first
	Text   string    `json:"text,omitempty"`
	SHA256 string    `json:"sha256,omitempty"`
	Seen   []Look    `json:"seen,omitempty"` // the looks that were ticked
}

// Look names a thing that must have been looked at, each with its own tick.
type Look string

// The looks. Recorded events name them by these words.
const (
	LookPeople      Look = "people"
	LookImplants    Look = "implants"
	LookDrive       Look = "drive"
	LookExhaust     Look = "exhaust"
	LookBilge       Look = "bilge"
	LookAirbags     Look = "airbags"
	LookKill        Look = "kill"
	LookOil         Look = "oil"
	LookWater       Look = "water"
	LookCold        Look = "cold"
	LookRings       Look = "rings"
	LookFeed        Look = "feed"
	LookBox         Look = "box"
	LookFuel        Look = "fuel off"
	LookStarter     Look = "starter"
	LookBolt        Look = "bolt"
	LookStopOut     Look = "stop out"
	LookCompression Look = "compression"
	LookSecondSign  Look = "second sign"
	LookBarOff      Look = "bar off"
	LookShaft       Look = "shaft"
	LookGear        Look = "gear"
	LookTang        Look = "drive engaged"
	LookStored      Look = "stored"
	LookCycled      Look = "cycled"
	LookEdge        Look = "edge"
	LookScribed     Look = "scribed"
	LookTools       Look = "tools"
	LookArrester    Look = "arrester"
	LookWalk        Look = "walk"
	LookClamp       Look = "clamp"
	LookHeld        Look = "held"
	LookEven        Look = "even"
	LookClean       Look = "clean"
	LookLeaks       Look = "leaks"
	LookClosed      Look = "closed"
	LookKept        Look = "kept"
	LookCap         Look = "cap"
	LookCoils       Look = "coils"
)

// Also is a look that a step asks for, in the words of this engine.
type Also struct {
	ID  Look
	Ask string
}

// Band is a closed interval; the zero Band is no limit.
type Band struct{ From, To float64 }

// Set says whether the band limits anything.
func (b Band) Set() bool { return b != Band{} }

// Has says whether v lies in the band.
func (b Band) Has(v float64) bool { return v >= b.From && v <= b.To }

// Demand is the proof that a step asks for.
type Demand struct {
	Kinds    []ProofKind // any of these; the first is the one to ask for
	Ask      string      // what to give
	Also     []Also      // what else must have been looked at, each ticked by itself
	Unit     string      // of the number
	Possible Band        // outside it the number cannot be true: bad input
	Passes   Band        // outside it the proof fails: see the branches
	Never    bool        // a failed proof cannot be overridden
	Speed    Band        // rpm, for a reading
	Options  []string    // the words that a value may have, where it is no number
	Right    string      // the option that passes
	Whole    float64     // where set, the number must lie whole multiples of it
	From     float64     // from this one
	AsSet    bool        // the number must repeat the delay allowance that was set last
	Wires    []int       // the cylinders whose wires a reading may be of, the one to read first before the others
	Rungs    []Rung      // the speeds that must be read one after the other, each its own proof
}

// Limits says whether a number that can be true may fail: the demand names the limits then.
func (d Demand) Limits() bool { return d.Passes.Set() && d.Passes != d.Possible && len(d.Options) == 0 }

// Branch is a row of what to do when it is otherwise.
type Branch struct {
	If   string // what is seen
	Why  string
	Do   string
	Go   StepID // the step to go to; the step itself: do it again
	When Band   // the numbers that mean this; the zero Band: the technician decides
	Says string // the option that means this
}

// Figure is a number to work by.
type Figure struct{ Name, Value string }

// Step is one step of the order of work.
type Step struct {
	ID     StepID
	Part   string   // of the job; steps of one part follow each other
	Title  string   // one imperative, with view and direction where it has one
	Hazard string   // what can hurt; it stands above the text
	Do     []string // what to do, one action a sentence, at most 15 words
	Text   string   // Do in one text
	Notes  []string // from the set-up sheet, to look things up
	Why    string
	Show   []Figure
	Expect string // what must be seen, before → after
	Demand Demand

	Branches []Branch
	OnDemand bool // stands beside the line: done only where a branch or the readings ask for it
	Again    bool // may be done any number of times
	Anytime  bool // makes something safe: it may be done although it is past

	Needs  []Condition // what must stand before, beside the line
	During [][]Effect  // the plant while it is done, moment by moment
	After  []Effect    // the plant after; the first is what the step is for
	Failed []Effect    // the plant after a check that failed, or was broken off; nil where nothing is moved by trying
	Undo   []Effect    // the plant after it was taken back; evidence that the step gave falls by itself
	Holds  []Clause    // it stands while all of these hold
	Once   []Condition // once these are past, it can neither be done nor taken back: it is history

	Basis string  // the figures of the card that it is done by
	Bar   Barrier // why it cannot be done on this card at all, whatever the plant
}

// isEvidence says whether a part is evidence.
func (p Part) isEvidence() bool { return p >= AsFound && p < parts }

// ended is what ends by itself with a step: hands and light.
var ended = []Effect{to(Hands, Clear), to(Light, NoLight), to(StopTool, NotIn)}

// finish fills in what follows from the written part of a step.
func (s *Step) finish() {
	s.Text = strings.Join(s.Do, " ")
	for i := range s.Branches {
		s.Branches[i].Do = words.Capital(s.Branches[i].Do)
	}
	s.Again = s.OnDemand
	s.After = append(s.After, ended...)
	if s.Failed != nil {
		s.Failed = append(s.Failed, ended...)
	}
	for _, e := range s.After {
		if e.Part.isEvidence() && e.To != No && !sets(s.Undo, e.Part) {
			s.Undo = append(s.Undo, to(e.Part, No))
		}
	}
	if s.Holds == nil && !s.OnDemand {
		s.Holds = []Clause{either(is(s.After[0].Part, s.After[0].To))}
	}
}

func sets(effects []Effect, part Part) bool {
	for _, e := range effects {
		if e.Part == part {
			return true
		}
	}
	return false
}

// holds says whether all that the step is for holds, or is past.
func (s *Step) holds(p Plant) bool {
	for _, c := range s.Holds {
		if !c.Holds(p) {
			return false
		}
	}
	return true
}

// main says whether what the step is for still holds.
func (s *Step) main(p Plant) bool { return p.Get(s.After[0].Part) == s.After[0].To }

// Barrier says why a step cannot be done on the card as it is: what is wanted, what the card has instead, and what to
// do. Empty where nothing bars it.
type Barrier struct {
	Want, Have, Remedy string
	Never              bool // nobody can override it
}
