package web

import (
	"context"
	"encoding/json"
	"errors"
	"maps"
	"sync"
	"time"

	"phasewright/book"
	"phasewright/capture"
	"phasewright/jobcard"
)

// job is what a job's events come to: what the pages show. It is never changed after it was made.
type job struct {
	book.Job
	YAML        string       // the job card as last saved; "" before that
	CardVersion book.Version // of the event that saved it
	CardBy      string
	CardAt      time.Time
	Card        *jobcard.Card  // nil where there is none or it has mistakes
	Mistakes    jobcard.Errors // of the card
	Readings    []reading      // all of them, the withdrawn too, in the order taken
	Corrections []correction
	Signed      *signing                      // the last proof signed, while nothing moved since
	Captures    map[book.Hash]*capture.Result // what recorded files showed, as last read
	Events      []book.Event

	work *worked // nil without a card that can be used
}

// reading is a light reading as recorded. The keys are those of the book's events.
type reading struct {
	ID        string   `json:"id"`
	RPM       float64  `json:"rpm"`
	Shown     float64  `json:"shown_deg"`
	Locked    float64  `json:"locked_deg"`
	U         *float64 `json:"u_deg,omitempty"`
	Allowance *float64 `json:"allowance_us,omitempty"`
	Note      string   `json:"note,omitempty"`

	Housing   float64   `json:"-"` // shaft degrees turned so far when it was taken, with the rotor positive
	Who       string    `json:"-"`
	At        time.Time `json:"-"`
	Withdrawn string    `json:"-"` // why; "" while it counts
}

// correction is a housing turn, a new delay allowance, or both.
type correction struct {
	Housing   float64  `json:"housing_deg,omitempty"` // shaft degrees, never negative
	Direction string   `json:"direction,omitempty"`   // with the rotor, against the rotor
	Allowance *float64 `json:"allowance_us,omitempty"`
	Note      string   `json:"note,omitempty"`

	Who   string    `json:"-"`
	At    time.Time `json:"-"`
	After int       `json:"-"` // readings taken before it
}

// signing is a signed proof.
type signing struct {
	Name    string       `json:"name"`
	Verdict string       `json:"verdict"`
	At      time.Time    `json:"-"`
	Version book.Version `json:"-"`
}

// Counting gives the readings that were not withdrawn.
func (j *job) Counting() []reading {
	var out []reading
	for _, r := range j.Readings {
		if r.Withdrawn == "" {
			out = append(out, r)
		}
	}
	return out
}

// head names the job on its pages.
func (j *job) head() *jobHead {
	about := j.Engine
	if about == "" {
		about = j.Shop
	}
	return &jobHead{ID: j.ID, Name: j.Name, Engine: about, Away: j.Archived}
}

// fold gives the job as it is after more events.
func (j *job) fold(line book.Job, events []book.Event) *job {
	n := *j
	n.Job = line
	n.Readings = append([]reading(nil), j.Readings...)
	n.Corrections = append([]correction(nil), j.Corrections...)
	n.Events = append(j.Events[:len(j.Events):len(j.Events)], events...)
	n.Captures = maps.Clone(j.Captures)
	for _, e := range events {
		n.apply(e)
	}
	n.work = newWorked(&n, j)
	return &n
}

// apply takes one event in. An event that this release cannot read is kept in Events and otherwise passed over.
func (j *job) apply(e book.Event) {
	switch e.Kind {
	case book.KindCardSaved:
		var p struct{ YAML string }
		if json.Unmarshal(e.Payload, &p) != nil {
			return
		}
		j.YAML, j.CardVersion, j.CardBy, j.CardAt = p.YAML, e.Version, e.Who, e.At
		j.Card, j.Mistakes = parseCard(p.YAML)
		j.Signed = nil
	case book.KindReadingAdded:
		r := reading{Who: e.Who, At: e.At, Housing: j.housing()}
		if json.Unmarshal(e.Payload, &r) == nil {
			j.Readings = append(j.Readings, r)
			j.Signed = nil
		}
	case book.KindReadingWithdrawn:
		var p struct{ ID, Reason string }
		if json.Unmarshal(e.Payload, &p) != nil {
			return
		}
		if p.Reason == "" {
			p.Reason = "no reason given"
		}
		for i := range j.Readings {
			if j.Readings[i].ID == p.ID {
				j.Readings[i].Withdrawn = p.Reason
			}
		}
		j.Signed = nil
	case book.KindCorrectionMade:
		c := correction{Who: e.Who, At: e.At, After: len(j.Readings)}
		if json.Unmarshal(e.Payload, &c) == nil {
			j.Corrections = append(j.Corrections, c)
			j.Signed = nil
		}
	case book.KindCaptureRead:
		var p struct {
			SHA256  book.Hash       `json:"sha256"`
			Summary *capture.Result `json:"summary"`
		}
		if json.Unmarshal(e.Payload, &p) == nil && p.Summary != nil {
			if j.Captures == nil {
				j.Captures = map[book.Hash]*capture.Result{}
			}
			j.Captures[p.SHA256] = p.Summary
		}
	case book.KindProofSigned:
		s := signing{At: e.At, Version: e.Version}
		if json.Unmarshal(e.Payload, &s) == nil {
			j.Signed = &s
		}
	}
}

// parseCard reads a card; mistakes come as a list whatever kind of error they are.
func parseCard(text string) (*jobcard.Card, jobcard.Errors) {
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

// cachedJobs bounds how many jobs are kept worked out.
const cachedJobs = 64

// jobCache keeps jobs worked out, so that a page of a job with a thousand events costs only the new ones.
type jobCache struct {
	book Book
	mu   sync.Mutex
	jobs map[string]*job
}

func newJobCache(b Book) *jobCache { return &jobCache{book: b, jobs: map[string]*job{}} }

// get gives a job as the book has it now.
func (c *jobCache) get(ctx context.Context, id string) (*job, error) {
	line, err := c.book.Job(ctx, id)
	if err != nil {
		return nil, err
	}
	c.mu.Lock()
	have := c.jobs[id]
	c.mu.Unlock()
	if have == nil {
		have = &job{}
	}
	if have.Version == line.Version {
		return have, nil
	}
	events, err := c.book.Events(ctx, id, have.Version)
	if err != nil {
		return nil, err
	}
	if n := len(events); n > 0 { // one may have come between the two questions
		line.Version = events[n-1].Version
	}
	fresh := have.fold(line, events)
	c.mu.Lock()
	defer c.mu.Unlock()
	if now := c.jobs[id]; now == nil || now.Version < fresh.Version {
		for k := range c.jobs {
			if len(c.jobs) < cachedJobs {
				break
			}
			delete(c.jobs, k)
		}
		c.jobs[id] = fresh
	}
	return fresh, nil
}
