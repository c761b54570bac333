package record

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"phasewright/book"
	"phasewright/jobcard"
	"phasewright/procedure"
	"phasewright/shaft"
	"phasewright/verdict"
)

// Job is what a job's events come to. The zero Job has none; Fold gives the job with more. It is never changed after
// it was made.
type Job struct {
	book.Job
	Contact     string       // how the owner is reached
	YAML        string       // the job card as last saved; "" before that
	CardVersion book.Version // of the event that saved it
	From        string       // the job whose card this one began with; "" where it began otherwise
	CardBy      string
	CardAt      time.Time
	Card        *jobcard.Card  // nil where there is none or it has mistakes
	Mistakes    jobcard.Errors // of the card
	Readings    []Reading      // all of them, the withdrawn too, in the order taken
	Corrections []Correction
	Instruments []Instrument                // that it is measured with, in the order picked
	Signed      *Signing                    // the last proof signed, while nothing moved since
	Signings    []Signing                   // all who signed it as it is, in this order
	Superseded  []Superseded                // proofs that were signed and no longer stand, oldest first
	Captures    map[book.Hash]*shaft.Result // what recorded files showed, as last read
	Events      []book.Event

	rejected map[book.Version]string    // events that do not count, and why
	changes  []Change                   // of the engine's configuration, oldest first
	readAt   map[book.Hash]book.Version // of the events in Captures
	work     *worked                    // nil without a card that can be used

	superseded *Superseded // the job is as this was signed on it; nil: as it is now
}

// Reading is a light reading as recorded. The keys are those of the book's events.
type Reading struct {
	ID        string   `json:"id"`
	RPM       float64  `json:"rpm"`
	Shown     float64  `json:"shown_deg"`
	Locked    float64  `json:"locked_deg"`
	U         *float64 `json:"u_deg,omitempty"`
	Allowance *float64 `json:"allowance_us,omitempty"`
	Wire      int      `json:"wire,omitempty"`      // cylinder on whose wire the light hung; 0: cylinder 1
	Confirmed bool     `json:"confirmed,omitempty"` // asked about an unlikely figure, the reader says it was shown
	Note      string   `json:"note,omitempty"`
	Step      string   `json:"step,omitempty"`      // of the order of work that took it as evidence
	Brought   bool     `json:"brought,omitempty"`   // of work done elsewhere
	Person    string   `json:"who,omitempty"`       // who read it, where the name of the device does not say
	Recording string   `json:"recording,omitempty"` // SHA-256 of the recording that it is the figures of; "" for a light

	Housing   float64   `json:"-"` // shaft degrees turned so far when it was taken, with the rotor positive
	Who       string    `json:"-"`
	At        time.Time `json:"-"` // when it arrived
	Origin    Origin    `json:"-"`
	Withdrawn string    `json:"-"` // why; "" while it was not

	Version    book.Version `json:"-"` // of its event
	Impossible string       `json:"-"` // why it cannot be a reading, so that it does not count; "" mostly
}

// Correction is a housing turn, a new delay allowance, or both. The keys are those of the book's events.
type Correction struct {
	Housing   float64  `json:"housing_deg,omitempty"` // shaft degrees, never negative
	Direction string   `json:"direction,omitempty"`   // with the rotor, against the rotor
	Allowance *float64 `json:"allowance_us,omitempty"`
	Note      string   `json:"note,omitempty"`
	Step      string   `json:"step,omitempty"` // of the order of work that made it; "" for one made beside it
	Person    string   `json:"who,omitempty"`  // who made it, where the name of the device does not say

	Who           string    `json:"-"`
	At            time.Time `json:"-"`
	After         int       `json:"-"` // readings taken before it
	Configuration int       `json:"-"` // that it began
}

// By is who took the reading; "" where nobody said.
func (r Reading) By() string { return person(r.Person, r.Who) }

// By is who made the correction; "" where nobody said.
func (c Correction) By() string { return person(c.Person, c.Who) }

// Signing is a signed proof.
type Signing struct {
	Name    string       `json:"name"`
	Role    string       `json:"role,omitempty"` // in which they signed; "" where nobody asked
	Verdict string       `json:"verdict"`
	At      time.Time    `json:"-"`
	Version book.Version `json:"-"`
}

// Superseded is a proof that was signed, until something that it rests on was recorded.
type Superseded struct {
	Signings []Signing
	Version  book.Version // of the last signature: the job up to it is what was signed
	By       book.Event   // what ended it
}

// unsign takes the signatures off: an event came that the proof rests on.
func (j *Job) unsign(by book.Event) {
	if n := len(j.Signings); n > 0 {
		j.Superseded = append(j.Superseded[:len(j.Superseded):len(j.Superseded)],
			Superseded{j.Signings, j.Signings[n-1].Version, by})
	}
	j.Signed, j.Signings = nil, nil
}

// AsSigned is the job as a superseded proof was signed on it.
func (j *Job) AsSigned(s Superseded) *Job {
	line := j.Job
	line.Version, line.Archived = 0, false
	n := slices.IndexFunc(j.Events, func(e book.Event) bool { return e.Version > s.Version })
	if n < 0 {
		n = len(j.Events)
	}
	then := new(Job).Fold(line, j.Events[:n])
	then.superseded = &s
	return then
}

// Counting gives the readings that count: neither withdrawn nor impossible.
func (j *Job) Counting() []Reading {
	var out []Reading
	for _, r := range j.Readings {
		if r.Counts() {
			out = append(out, r)
		}
	}
	return out
}

// AfterCorrections gives the readings that the proof rests on.
func (j *Job) AfterCorrections() []Reading {
	var out []Reading
	for _, r := range j.Readings[j.since(verdict.Timing):] {
		if r.Counts() {
			out = append(out, r)
		}
	}
	return out
}

// Recorded says whether a deed with a key made by the client was recorded already: sent twice, it counts once. Without
// a key nobody can tell.
func (j *Job) Recorded(key string) bool {
	if key == "" {
		return false
	}
	for i := len(j.Events) - 1; i >= 0; i-- {
		if j.Events[i].Key == key {
			return true
		}
	}
	return false
}

// SameGround says whether nothing that a proof rests on was recorded since a version.
func (j *Job) SameGround(since book.Version) bool {
	if since <= 0 {
		return false
	}
	for _, e := range j.Events {
		if e.Version <= since {
			continue
		}
		switch e.Kind {
		case book.KindCardSaved, book.KindReadingAdded, book.KindReadingWithdrawn, book.KindCorrectionMade,
			book.KindInstrumentUsed, book.KindInstrumentUnused, book.KindProofSigned:
			return false
		}
	}
	return true
}

// Fold gives the job as it is after more events: those that the book holds beyond j's version, with the job's line of
// the list. Events that came between asking for the line and asking for them count.
func (j *Job) Fold(line book.Job, events []book.Event) *Job {
	n := *j
	n.Job = line
	if k := len(events); k > 0 && events[k-1].Version > line.Version {
		e := events[k-1]
		n.Version, n.LastAt, n.LastKind, n.LastWho, n.LastSeq, n.Head = e.Version, e.At, e.Kind, e.Who, e.Seq, e.Hash
	}
	n.Readings = append([]Reading(nil), j.Readings...)
	n.Corrections = append([]Correction(nil), j.Corrections...)
	n.Events = append(j.Events[:len(j.Events):len(j.Events)], events...)
	n.changes = j.changes[:len(j.changes):len(j.changes)]
	n.Captures = maps.Clone(j.Captures)
	n.readAt = maps.Clone(j.readAt)
	n.rejected = maps.Clone(j.rejected)
	for _, e := range events {
		n.apply(e)
	}
	n.Card = n.named(n.Card)
	n.work = newWorked(&n, j)
	return &n
}

// named is a card under the names that the job goes by now: the two are one, and whoever corrects the job's corrects
// every paper. The text of the card stays as it was saved.
func (j *Job) named(c *jobcard.Card) *jobcard.Card {
	if c == nil {
		return nil
	}
	under := c.Job
	under.Name, under.Owner, under.Shop = cmp.Or(j.Name, under.Name), cmp.Or(j.Owner, under.Owner),
		cmp.Or(j.Shop, under.Shop)
	if under.Name == c.Job.Name && under.Owner == c.Job.Owner && under.Shop == c.Job.Shop {
		return c
	}
	other := *c
	other.Job = under
	return &other
}

// apply takes one event in. An event that cannot be read, or cannot be, is kept in Events and does not count; Why says
// so.
func (j *Job) apply(e book.Event) {
	card := j.Card
	switch e.Kind {
	case book.KindJobCreated, book.KindJobDescribed:
		var p struct{ Contact *string }
		if json.Unmarshal(e.Payload, &p) == nil && p.Contact != nil {
			j.Contact = *p.Contact
		}
	case book.KindCardSaved:
		var p struct {
			YAML string `json:"yaml"`
			From string `json:"from"`
		}
		if err := json.Unmarshal(e.Payload, &p); err != nil {
			j.reject(e, unread(err))
			break
		}
		j.YAML, j.CardVersion, j.CardBy, j.CardAt = p.YAML, e.Version, e.Who, e.At
		j.Card, j.Mistakes = ParseCard(p.YAML)
		if p.From != "" {
			j.From = p.From
		}
		j.unsign(e)
	case book.KindReadingAdded:
		var r Reading
		if err := json.Unmarshal(e.Payload, &r); err != nil {
			r.Impossible = unread(err)
		} else if err := r.Check(); err != nil {
			r.Impossible = err.Error()
		}
		if r.Impossible != "" {
			j.reject(e, r.Impossible)
		}
		r.Who, r.At, r.Version, r.Origin = e.Who, e.At, e.Version, j.Origin(e)
		var number struct{ ID json.Number }
		if r.ID == "" && json.Unmarshal(e.Payload, &number) == nil {
			r.ID = number.ID.String()
		}
		if r.ID == "" {
			r.ID = fmt.Sprintf("version %d", e.Version) // as package book counts it
		}
		if r.Person == "" {
			r.Person = j.stepper(e.Key)
		}
		j.take(r)
		j.unsign(e)
	case book.KindReadingWithdrawn:
		var p struct{ ID, Reason string }
		if err := json.Unmarshal(e.Payload, &p); err != nil {
			j.reject(e, unread(err))
			break
		}
		if p.Reason == "" {
			p.Reason = "no reason given"
		}
		for i := range j.Readings {
			if j.Readings[i].ID == p.ID {
				j.Readings[i].Withdrawn = p.Reason
			}
		}
		j.unsign(e)
	case book.KindCorrectionMade:
		c := Correction{Who: e.Who, At: e.At, After: len(j.Readings), Configuration: len(j.changes) + 1}
		if err := json.Unmarshal(e.Payload, &c); err != nil {
			j.reject(e, unread(err))
			break
		}
		if err := c.Check(j.Turned()); err != nil {
			j.reject(e, err.Error())
			break
		}
		if c.Person == "" {
			c.Person = j.stepper(e.Key)
		}
		j.Corrections = append(j.Corrections, c)
		j.unsign(e)
	case book.KindCaptureRead:
		var p struct {
			SHA256  book.Hash     `json:"sha256"`
			Summary *shaft.Result `json:"summary"`
		}
		if err := json.Unmarshal(e.Payload, &p); err != nil {
			j.reject(e, unread(err))
			break
		}
		if p.Summary == nil {
			j.reject(e, "it says nothing of the recording")
			break
		}
		if err := p.Summary.Check(); err != nil {
			j.reject(e, err.Error())
			break
		}
		if j.Captures == nil {
			j.Captures, j.readAt = map[book.Hash]*shaft.Result{}, map[book.Hash]book.Version{}
		}
		j.Captures[p.SHA256], j.readAt[p.SHA256] = p.Summary, e.Version
	case book.KindInstrumentUsed, book.KindInstrumentUnused:
		j.instrument(e)
	case book.KindProofSigned:
		s := Signing{At: e.At, Version: e.Version}
		if err := json.Unmarshal(e.Payload, &s); err != nil {
			j.reject(e, unread(err))
		} else {
			j.Signed, j.Signings = &s, append(j.Signings[:len(j.Signings):len(j.Signings)], s)
		}
	}
	if kinds, begins := j.changed(e, card); begins {
		if slices.Contains(kinds, procedure.Reopened) {
			j.unsign(e) // what it was put under is history
		}
		c := Change{Version: e.Version, At: e.At, kinds: kinds}
		if j.Card != nil {
			c.allowance = j.Allowance()
		}
		j.changes = append(j.changes, c)
	}
}

// ofStep ends the key of what a step meant beside the order.
const ofStep = "-for-readings"

// stepper is who did the step that an event with this key came of; "" where it came of none.
func (j *Job) stepper(key string) string {
	step, ok := strings.CutSuffix(key, ofStep)
	for i := len(j.Events) - 1; ok && i >= 0; i-- {
		var p struct{ Who string }
		if j.Events[i].Key == step && json.Unmarshal(j.Events[i].Payload, &p) == nil {
			return p.Who
		}
	}
	return ""
}

// take puts a reading behind those of its own configuration, which for one that came late is before the corrections
// made since.
func (j *Job) take(r Reading) {
	r.Housing = j.housing(r.Origin.Configuration)
	i := len(j.Readings)
	for i > 0 && j.Readings[i-1].Origin.Configuration > r.Origin.Configuration {
		i--
	}
	j.Readings = slices.Insert(j.Readings, i, r)
	for k := range j.Corrections {
		if j.Corrections[k].Configuration > r.Origin.Configuration {
			j.Corrections[k].After++
		}
	}
}

// ParseCard reads a card; mistakes come as a list whatever kind of error they are.
func ParseCard(text string) (*jobcard.Card, jobcard.Errors) {
	card, err := jobcard.Parse("", []byte(text))
	if err == nil {
		return card, nil
	}
	var all jobcard.Errors
	if errors.As(err, &all) {
		return nil, all
	}
	return nil, jobcard.Errors{{Problem: err.Error()}}
}
