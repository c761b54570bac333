package waveform

import (
	"strconv"
	"testing"
)

// Recordings, faults and numbers here are invented, unless a test says where one comes from.

// plainSink keeps every edge as it comes.
type plainSink struct{ edges []Edge }

func (*plainSink) Begin(Info) error { return nil }

func (s *plainSink) Edges(e []Edge) error {
	s.edges = append(s.edges, e...)
	return nil
}

// TestFarApart: stamps of every number of digits, and changes farther apart than a word counts, are timed right, with
// and without somebody who wants the changes themselves. 10¹² fs are a millisecond.
func TestFarApart(t *testing.T) {
	text := []byte("$timescale 1 fs $end $var wire 1 ! a $end $enddefinitions $end\n")
	var want []Second
	tick := uint64(0)
	for digits := range 19 {
		for _, d := range []uint64{0, 7} {
			tick = d
			for i := range digits {
				tick = tick*10 + uint64(i+1)%10 + 1
			}
			if n := len(want); n > 0 && float64(tick)/1e15 <= float64(want[n-1]) {
				continue
			}
			text = append(strconv.AppendUint(append(text, '#'), tick, 10), '\n', '0'+byte(len(want)&1), '!', '\n')
			want = append(want, Second(float64(tick)/1e15))
		}
	}
	if len(want) < 20 {
		t.Fatal(len(want), "stamps")
	}
	for _, opt := range []Options{{}, {Overview: true}, {Chunk: 1}, {Chunk: 29}} {
		var got plainSink
		scanBytes(t, text, opt, &got)
		if len(got.edges) != len(want) {
			t.Fatalf("%d edges, not %d", len(got.edges), len(want))
		}
		for i, e := range got.edges {
			if e.At != want[i] {
				t.Errorf("%+v: edge %d at %v, not %v", opt, i, e.At, want[i])
			}
		}
	}
}
