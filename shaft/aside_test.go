package shaft

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"phasewright/waveform"
)

// tee takes a copy of everything, and fails after so many edges.
type tee struct {
	edges   []waveform.Edge
	revised []int // edges that had come when each revision came
	limit   int
}

var errTee = errors.New("the disk is full")

func (*tee) Begin(waveform.Info) error { return nil }

func (t *tee) Edges(e []waveform.Edge) error {
	if t.edges = append(t.edges, e...); t.limit > 0 && len(t.edges) > t.limit {
		return errTee
	}
	return nil
}

func (t *tee) Revise(int, waveform.Channel) error {
	t.revised = append(t.revised, len(t.edges))
	return nil
}

// TestAsideIsInPlace: a ledger that works on a goroutine of its own finds what one in place finds, to the last digit.
func TestAsideIsInPlace(t *testing.T) {
	l := loop(0.05)
	l.times = 40
	var all, direct tee
	got, err := Run(context.Background(), l, Options{Cylinders: 8, Commanded: locked(9), Tee: &all})
	if err != nil {
		t.Fatal(err)
	}
	a, err := New(Options{Cylinders: 8, Commanded: locked(9), Tee: &direct})
	if err != nil {
		t.Fatal(err)
	}
	res, err := l.Scan(context.Background(), a)
	if err != nil {
		t.Fatal(err)
	}
	if a.tr.aside != nil {
		t.Fatal("an Analyser by hand works aside: nothing is compared")
	}
	if least := (asides + 2) * mostNotes; a.tr.head < int64(least) {
		t.Fatalf("only %d crank edges, fewer than the %d that fill every batch", a.tr.head, least)
	}
	want, err := json.Marshal(a.Finish(res))
	if err != nil {
		t.Fatal(err)
	}
	if have, err := json.Marshal(got); err != nil || string(have) != string(want) {
		t.Errorf("%v: the Result differs from that of an Analyser fed by hand", err)
	}
	if !slices.Equal(all.edges, direct.edges) || len(all.edges) != l.times*len(l.edges) {
		t.Errorf("%d and %d edges of %d, or not the same", len(all.edges), len(direct.edges), l.times*len(l.edges))
	}
}

// TestReviseGoesOn: who listens beside hears of levels learnt later, in their place among the edges.
func TestReviseGoesOn(t *testing.T) {
	l := loop(0.05)
	var got tee
	a, err := New(Options{Cylinders: 8, Tee: &got})
	if err != nil {
		t.Fatal(err)
	}
	in := info(fourNames...)
	if err := errors.Join(a.Begin(in), a.Edges(l.edges[:7]), a.Revise(1, in.Channels[1]), a.Edges(l.edges[7:])); err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(got.revised, []int{7}) || len(got.edges) != len(l.edges) {
		t.Errorf("revised after %v of %d edges", got.revised, len(got.edges))
	}
}

// TestAsideBreaks: an invariant that breaks on the ledger's goroutine comes out where Run was called, so that a caller can catch it; and no goroutine is left.
func TestAsideBreaks(t *testing.T) {
	before := runtime.NumGoroutine()
	a, err := New(Options{Cylinders: 8})
	if err != nil {
		t.Fatal(err)
	}
	a.apart = true
	l := loop(0.05)
	l.times = 40
	res, err := l.Scan(context.Background(), a)
	if err != nil || a.tr == nil {
		t.Fatal(err, a.tr)
	}
	a.tr.noted.list = append(a.tr.noted.list, note{what: noteStrays, events: 1 << 20}) // promises events that do not follow
	func() {
		defer func() {
			if p := recover(); p == nil || !strings.Contains(fmt.Sprint(p), "out of range") {
				t.Errorf("recovered %v", p)
			}
		}()
		a.Finish(res)
	}()
	a.abandon()
	for range 100 {
		if runtime.NumGoroutine() <= before {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Errorf("%d goroutines, %d before", runtime.NumGoroutine(), before)
}

// TestRunHandsErrorsBack: an error of the sink ends the run wherever it comes, in the middle or with the last edges.
func TestRunHandsErrorsBack(t *testing.T) {
	l := loop(0.05)
	l.times = 40
	total := l.times * len(l.edges)
	for _, limit := range []int{1, total / 2, total - 1} {
		got := tee{limit: limit}
		r, err := Run(context.Background(), l, Options{Cylinders: 8, Tee: &got})
		if !errors.Is(err, errTee) {
			t.Errorf("after %d of %d edges: %v", limit, total, err)
		}
		if r != nil && r.Partial == "" {
			t.Error("the Result is not marked as partial")
		}
		if len(got.edges) > limit+len(l.edges) {
			t.Errorf("%d edges went on after the error at %d", len(got.edges), limit)
		}
	}
}

// What breaks in the ledger or the plan, on their own goroutines, comes out where they are waited for; until then
// nobody waits for a broken ledger.
func TestWhatBreaksAsideComesHome(t *testing.T) {
	home := func(name string, work func()) {
		t.Helper()
		defer func() {
			if p := recover(); !strings.Contains(fmt.Sprint(p), "runtime error") {
				t.Errorf("%s: recovered %v", name, p)
			}
		}()
		work()
		t.Errorf("%s: nothing broke", name)
	}
	home("plan", func() {
		p := newPlanning(nil, nil, []waveform.Edge{{Channel: 3}}) // an edge of no channel
		for !p.made() {
			time.Sleep(time.Millisecond)
		}
		p.wait()
	})
	home("ledger", func() {
		a, b := newAside(nil), newNotes()
		for range 3 * asides {
			b.list = append(b.list[:0], note{})
			b = a.swap(b)
		}
		a.close()
	})
}
