package capture

import (
	"context"
	"encoding/json"
	"errors"
	"testing"

	"phasewright/signal"
)

// tee takes a copy of everything, and fails after so many edges.
type tee struct {
	edges   []signal.Edge
	revised []int // edges that had come when each revision came
	limit   int
}

var errTee = errors.New("the disk is full")

func (*tee) Begin(signal.Info) error { return nil }

func (t *tee) Edges(e []signal.Edge) error {
	if t.edges = append(t.edges, e...); t.limit > 0 && len(t.edges) > t.limit {
		return errTee
	}
	return nil
}

func (t *tee) Revise(int, signal.Channel) error {
	t.revised = append(t.revised, len(t.edges))
	return nil
}

// TestRelayKeepsOrder: what goes through the relay is what goes to an Analyser by hand, edge for edge, and the Result is the same to the last digit.
func TestRelayKeepsOrder(t *testing.T) {
	l := loop(0.05)
	l.times = 3
	var all, direct tee
	got, err := Run(context.Background(), l, Options{Cylinders: 8, Commanded: locked(10), Tee: &all})
	if err != nil {
		t.Fatal(err)
	}
	a, err := New(Options{Cylinders: 8, Commanded: locked(10), Tee: &direct})
	if err != nil {
		t.Fatal(err)
	}
	res, err := l.Scan(context.Background(), a)
	if err != nil {
		t.Fatal(err)
	}
	want, err := json.Marshal(a.Finish(res))
	if err != nil {
		t.Fatal(err)
	}
	if have, err := json.Marshal(got); err != nil || string(have) != string(want) {
		t.Errorf("%v: the Result differs from that of an Analyser fed by hand", err)
	}
	if len(all.edges) != 3*len(l.edges) || len(all.edges) != len(direct.edges) {
		t.Fatalf("%d and %d edges of %d", len(all.edges), len(direct.edges), 3*len(l.edges))
	}
	for i, e := range all.edges {
		if e != direct.edges[i] {
			t.Fatalf("edge %d differs", i)
		}
	}
}

func TestRelayRevises(t *testing.T) {
	l := loop(0.05)
	for len(l.edges) <= (relays+1)*relayed { // more than all buffers hold
		l.edges = append(l.edges, l.edges...) // those that go back in time are passed on all the same
	}
	total := len(l.edges)
	var got tee
	a, err := New(Options{Cylinders: 8, Tee: &got})
	if err != nil {
		t.Fatal(err)
	}
	r := newRelay(a)
	in := info(fourNames...)
	if err := r.Begin(in); err != nil {
		t.Fatal(err)
	}
	for _, n := range []int{0, total - 1, 1} {
		if err := r.Edges(l.edges[:n]); err != nil {
			t.Fatal(err)
		}
		l.edges = l.edges[n:]
		if err := r.Revise(1, in.Channels[1]); err != nil {
			t.Fatal(err)
		}
	}
	if err := r.close(); err != nil {
		t.Fatal(err)
	}
	if n := len(got.edges); n != total || len(got.revised) != 3 || got.revised[0] != 0 || got.revised[1] != n-1 || got.revised[2] != n {
		t.Errorf("revised after %v of %d edges", got.revised, n)
	}
}

// TestRelayHandsErrorsBack: an error of the sink ends the run wherever it comes, in the middle or with the last edges.
func TestRelayHandsErrorsBack(t *testing.T) {
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
		if len(got.edges) > limit+relayed {
			t.Errorf("%d edges went on after the error at %d", len(got.edges), limit)
		}
	}
}
