package shaft

import (
	"context"
	"encoding/json"
	"errors"
	"slices"
	"testing"

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

// A result asked for in the middle is the result of the recording cut off there, and asking changes nothing of
// what follows.
func TestResultAtAnyMoment(t *testing.T) {
	l := loop(0.05)
	for _, times := range []int{1, 40} { // before and after the roles are told
		l.times = times
		in := info(fourNames...)
		var edges []waveform.Edge
		for i := range l.times {
			for _, e := range l.edges {
				e.At += waveform.Second(float64(i) * l.period)
				edges = append(edges, e)
			}
		}
		asked, err := New(Options{Cylinders: 8, Commanded: locked(9)})
		if err != nil {
			t.Fatal(err)
		}
		plain, _ := New(Options{Cylinders: 8, Commanded: locked(9)})
		text := func(a *Analyser, end waveform.Second) string {
			out, err := json.Marshal(a.Result(&waveform.Result{Info: in, End: end}))
			if err != nil {
				t.Fatal(err)
			}
			return string(out)
		}
		for _, a := range []*Analyser{asked, plain} {
			if err := a.Begin(in); err != nil {
				t.Fatal(err)
			}
		}
		cut := 0
		for _, share := range []float64{0.3, 0.5, 0.77} {
			to := int(share * float64(len(edges)))
			if err := asked.Edges(edges[cut:to]); err != nil {
				t.Fatal(err)
			}
			cut = to
			short, _ := New(Options{Cylinders: 8, Commanded: locked(9)})
			if err := errors.Join(short.Begin(in), short.Edges(edges[:to])); err != nil {
				t.Fatal(err)
			}
			if end := edges[to-1].At; text(asked, end) != text(short, end) {
				t.Errorf("%d times, after %v: not the result of the recording cut off there", times, share)
			}
		}
		if err := errors.Join(asked.Edges(edges[cut:]), plain.Edges(edges)); err != nil {
			t.Fatal(err)
		}
		end := edges[len(edges)-1].At
		if text(asked, end) != text(plain, end) {
			t.Errorf("%d times: asking in the middle changed the end", times)
		}
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

// A channel of a VCD may be called by the last part of its name, where only one ends so.
func TestRolesByLastPart(t *testing.T) {
	s := running()
	names := []string{"top.dut.crank_in", "top.dut.b", "top.dut.c", "top.dut.d"}
	r := analyse(t, s.run(), names, Options{Roles: map[string]Role{"crank_in": Crank, "dut.d": Mark}, Cylinders: 8})
	if r.Channels[chCrank].Role != Crank || r.Channels[chMark].Role != Mark || r.Found(FoundNoChannel) {
		t.Errorf("%+v, findings %+v", r.Channels, r.Findings)
	}
}
