package record

import (
	"encoding/json"
	"os"
	"testing"
	"time"

	"phasewright/book"
)

// tale is an invented job told as the events that a shop book would hold, a minute apart.
type tale struct {
	t      testing.TB
	line   book.Job
	events []book.Event
	slept  time.Duration // beside a minute an event
}

func begin(t testing.TB) *tale {
	return &tale{t: t, line: book.Job{ID: "job-1", Name: "Sandpiper", Owner: "harbour pilots", Shop: "Marlow Quay Boatyard"}}
}

// carded begins a job whose card is saved.
func carded(t testing.TB) *tale {
	t.Helper()
	text, err := os.ReadFile("../examples/sandpiper.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return begin(t).and(book.KindCardSaved, map[string]any{"yaml": string(text)})
}

// and adds an event; its line of the job list follows as the book's does.
func (s *tale) and(kind book.Kind, payload any) *tale {
	s.t.Helper()
	text, err := json.Marshal(payload)
	if err != nil {
		s.t.Fatal(err)
	}
	v := book.Version(len(s.events) + 1)
	e := book.Event{Job: s.line.ID, Version: v, At: time.Date(2026, 3, 14, 9, int(v), 0, 0, time.UTC).Add(s.slept), Who: "Ada Reed", Kind: kind, Payload: text}
	e.Key = string(kind) + e.At.Format(" 15:04")
	s.events = append(s.events, e)
	s.line.Version, s.line.LastAt, s.line.LastWho = v, e.At, e.Who
	return s
}

// read adds a reading of a light that is locked at the card's 8°.
func (s *tale) read(id string, rpm, shown float64) *tale {
	s.t.Helper()
	return s.and(book.KindReadingAdded, map[string]any{"id": id, "rpm": rpm, "shown_deg": shown, "locked_deg": 8.0})
}

func (s *tale) job() *Job { return new(Job).Fold(s.line, s.events) }
