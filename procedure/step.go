package procedure

// ProofKind is how a step is proven.
type ProofKind string

// The kinds of proof.
const (
	Tick    ProofKind = "tick"    // a box ticked; words may stand beside it
	Number  ProofKind = "value"   // a number in the demand's unit, or one of its options as text
	Photo   ProofKind = "photo"   // sha256 of a picture in the shop book
	Reading ProofKind = "reading" // what the light shows, degrees BTDC, at a speed in rpm
	Capture ProofKind = "capture" // sha256 of a recording in the shop book
	Written ProofKind = "words"   // what was seen, in words
)

// Proof is the evidence given for a step.
type Proof struct {
	Kind   ProofKind `json:"kind"`
	Value  *float64  `json:"value,omitempty"`
	RPM    *float64  `json:"rpm,omitempty"`
	Text   string    `json:"text,omitempty"`
	SHA256 string    `json:"sha256,omitempty"`
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
	Unit     string      // of the number
	Possible Band        // outside it the number cannot be true: bad input
	Passes   Band        // outside it the proof fails: see the branches
	Speed    Band        // rpm, for a reading
	Options  []string    // the words that a value may have, where it is no number
	Right    string      // the option that passes
	Whole    float64     // where set, the number must lie whole multiples of it
	From     float64     // from this one
	Same     StepID      // the step whose number it must repeat
}

// Branch is where to go when the proof fails.
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
	Part   string // of the job; steps of one part follow each other
	Title  string
	Text   string // what to do, with the numbers of this engine
	Why    string
	Hazard string // what can hurt; empty where nothing can
	Show   []Figure
	Expect string // what must be seen, before → after
	Demand Demand

	Branches []Branch
	OnDemand bool        // done only where a branch or the readings ask for it
	Due      []Condition // where these do not hold the step is not needed
	Once     []Condition // once these are past, it can neither be done nor taken back: it is history
	Again    bool        // may be done any number of times

	Needs  []Condition // what must stand before
	During []Effect    // the plant while it is done
	After  []Effect    // the plant after; the first is what the step is for
	Undo   []Effect    // the plant after it was taken back; evidence that the step gave falls by itself

	Basis string // the figures of the card that it is done by
	Bar   Bar    // why it cannot be done on this card at all, whatever the plant

	after, undo []Effect // with what ends by itself: hands and checks
}

// isEvidence says whether a part is evidence.
func (p Part) isEvidence() bool { return p >= Plan && p < parts }

// finish fills in what follows from the written part of a step.
func (s *Step) finish() {
	s.after = append([]Effect{to(Hands, Clear), to(Check, NoCheck)}, s.After...)
	s.undo = append([]Effect{to(Hands, Clear), to(Check, NoCheck)}, s.Undo...)
	for _, e := range s.After {
		if e.Part.isEvidence() && !sets(s.Undo, e.Part) {
			s.undo = append(s.undo, to(e.Part, No))
		}
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

// stands says whether the lasting result of the step still holds.
func (s *Step) stands(p Plant) bool {
	for _, e := range s.After {
		if p.Get(e.Part) != e.To {
			return false
		}
	}
	return true
}

// retractable says whether the step can be taken back: what it is for still holds, and its time is not past.
func (s *Step) retractable(p Plant) bool { return s.main(p) && hold(s.Once, p) }

// wanted says whether the step has a place in the work as the plant stands.
func (s *Step) wanted(p Plant) bool { return hold(s.Due, p) && hold(s.Once, p) }

// main says whether what the step is for still holds.
func (s *Step) main(p Plant) bool { return p.Get(s.After[0].Part) == s.After[0].To }

// Bar says why a step cannot be done on the card as it is: what is wanted, what the card has instead, and what to do. Empty where nothing bars it.
type Bar struct{ Want, Have, Remedy string }
