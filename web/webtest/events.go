package webtest

import (
	"context"
	"encoding/json"
	"os"
	"sync"

	"github.com/google/jsonschema-go/jsonschema"

	"phasewright/book"
)

// eventSchema is what docs/schema says of the events of a book.
var eventSchema = sync.OnceValues(func() (*jsonschema.Resolved, error) {
	text, err := os.ReadFile(InRepository("docs", "schema", "events.schema.json"))
	if err != nil {
		return nil, err
	}
	var s jsonschema.Schema
	if err := json.Unmarshal(text, &s); err != nil {
		return nil, err
	}
	return s.Resolve(nil)
})

// Odd says that the test puts events into the book that no page would write: they need not fit the schema.
func (s *Shop) Odd() *Shop {
	s.odd = true
	return s
}

// eventsFit holds every event of the book against the schema of events: what the pages write is what the schema says.
func (s *Shop) eventsFit() {
	schema, err := eventSchema()
	if err != nil {
		s.T.Error(err)
		return
	}
	ctx := context.Background()
	jobs, err := s.Book.AllJobs(ctx, book.Query{Shelf: book.Both})
	if err != nil {
		return // the test has closed or broken it
	}
	said := map[book.Kind]bool{}
	for _, j := range jobs {
		events, err := s.Book.Events(ctx, j.ID, 0)
		if err != nil {
			return
		}
		for _, e := range events {
			var payload any
			if err := json.Unmarshal(e.Payload, &payload); err != nil {
				s.T.Errorf("%s: %v", e.Kind, err)
				continue
			}
			err := schema.Validate(map[string]any{"kind": string(e.Kind), "payload": payload})
			if err != nil && !said[e.Kind] {
				said[e.Kind] = true
				s.T.Errorf("%s by %q does not fit docs/schema/events.schema.json: %v\n%.300s", e.Kind, e.Who, err,
					e.Payload)
			}
		}
	}
}
