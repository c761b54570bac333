package book

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"
)

// held makes the writer wait, so that what is asked for meanwhile shares one transaction, then lets it go.
func held(t *testing.T, b *Book, requests ...func() error) []error {
	t.Helper()
	begun, release := make(chan struct{}), make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		if err := b.do(t.Context(), func(context.Context, *writer) ([]Change, error) {
			close(begun)
			<-release
			return nil, nil
		}); err != nil {
			t.Error(err)
		}
	})
	<-begun
	answers := make([]error, len(requests))
	for i, ask := range requests {
		queued := len(b.writer.queue)
		wg.Go(func() { answers[i] = ask() })
		for len(b.writer.queue) == queued { // the next one is to stand behind it
		}
	}
	close(release)
	wg.Wait()
	return answers
}

// What a refused request wrote before it was refused must go, and its neighbours must stay.
func TestARefusalTakesBackItsOwnWritesOnly(t *testing.T) {
	b := openNew(t)
	job := newJob(t, b, "Sandpiper").Job
	refusal := errors.New("refused")
	draft := func(text string) []Event {
		e, err := settled(note(text))
		if err != nil {
			t.Fatal(err)
		}
		e.Job = job
		return []Event{e}
	}
	ask := func(text string, answer error) func() error {
		return func() error {
			return b.do(t.Context(), func(ctx context.Context, w *writer) ([]Change, error) {
				if _, _, err := w.append(ctx, AnyVersion, draft(text)); err != nil {
					return nil, err
				}
				return nil, answer
			})
		}
	}
	broken := func() error { // fails in the database itself
		return b.do(t.Context(), func(ctx context.Context, w *writer) ([]Change, error) {
			return nil, w.stmt.exec(ctx, `INSERT INTO jobs (no) VALUES (1)`)
		})
	}
	for name, c := range map[string]struct {
		requests []func() error
		good     []int
	}{
		"refusal":          {[]func() error{ask("kept", nil), ask("gone", refusal), ask("kept", nil)}, []int{0, 2}},
		"database failure": {[]func() error{ask("kept", nil), broken, ask("kept", nil), ask("gone", refusal)}, []int{0, 2}},
	} {
		before, _ := b.Events(t.Context(), job, 0)
		answers := held(t, b, c.requests...)
		for _, i := range c.good {
			if answers[i] != nil {
				t.Errorf("%s: request %d took harm from its neighbour: %v", name, i, answers[i])
			}
			answers[i] = refusal
		}
		for i, err := range answers {
			if err == nil {
				t.Errorf("%s: request %d was not refused", name, i)
			}
		}
		after, err := b.Events(t.Context(), job, 0)
		if err != nil || len(after) != len(before)+len(c.good) {
			t.Errorf("%s: %d events before, %d after, %v", name, len(before), len(after), err)
		}
		for _, e := range after {
			if strings.Contains(string(e.Payload), "gone") {
				t.Errorf("%s: a refused event is there", name)
			}
		}
	}
	mustBeSound(t, b)
}

// An invariant that breaks in a request's work breaks that request alone, on its own goroutine; neighbours in the same
// transaction stay.
func TestABrokenInvariantIsItsRequestsOwn(t *testing.T) {
	b := openNew(t)
	job := newJob(t, b, "Sandpiper").Job
	broken := func() (err error) {
		defer func() {
			if p := recover(); p != nil {
				err = fmt.Errorf("came home: %v", p)
			}
		}()
		return b.do(t.Context(), func(ctx context.Context, w *writer) ([]Change, error) {
			e, err := settled(note("gone"))
			if err != nil {
				return nil, err
			}
			e.Job = job
			if _, _, err := w.append(ctx, AnyVersion, []Event{e}); err != nil {
				return nil, err
			}
			panic("a nut in the works")
		})
	}
	add := func() error {
		_, err := b.Append(t.Context(), job, AnyVersion, note("kept"))
		return err
	}
	answers := held(t, b, add, broken, add)
	if answers[0] != nil || answers[2] != nil {
		t.Errorf("neighbours took harm: %v, %v", answers[0], answers[2])
	}
	if answers[1] == nil || !strings.Contains(answers[1].Error(), "came home: a nut in the works") {
		t.Errorf("the request got %v", answers[1])
	}
	events, err := b.Events(t.Context(), job, 0)
	if err != nil || len(events) != 3 { // the job and two notes
		t.Errorf("%d events, %v; want 3", len(events), err)
	}
}

// Where the writer itself breaks, nobody waits for ever and the next request hears of it too.
func TestABrokenWriterKeepsNobodyWaiting(t *testing.T) {
	b := openNew(t)
	job := newJob(t, b, "Sandpiper").Job
	b.writer.queue <- nil // no request: what breaks the loop itself
	for range 2 {
		func() {
			defer func() {
				if p := recover(); p == nil {
					t.Error("a request was answered by a broken writer")
				}
			}()
			_, err := b.Append(t.Context(), job, AnyVersion, note("x"))
			t.Errorf("answer %v, want a panic", err)
		}()
	}
}
