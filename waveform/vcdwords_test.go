package waveform

import (
	"slices"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// Recordings, faults and numbers here are invented, unless a test says where one comes from.

// TestWordsKeepEvents: packed events come out as they went in, near and far apart, with the place of their texts.
func TestWordsKeepEvents(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		later := rapid.OneOf(rapid.Uint64Range(0, 9), rapid.Uint64Range(far-2, far+2), rapid.Uint64Range(0, 1<<50))
		var want []vcdEvent
		var words []vcdWord
		from := rapid.Uint64Range(0, 1<<60).Draw(t, "from")
		tick := from
		for range rapid.IntRange(0, 20).Draw(t, "events") {
			d := later.Draw(t, "later")
			tick += d
			e := vcdEvent{tick: tick, v: rapid.Int32Range(0, maxVariables).Draw(t, "v"), value: rapid.Uint8Range(0, valueText).Draw(t, "value")}
			if e.value == valueText {
				e.at = rapid.Uint32().Draw(t, "at")
			}
			want = append(want, e)
			words = pack(words, e.v, e.value, d, e.at)
		}
		var got []vcdEvent
		for k := (&vcdWalk{words: words, from: from}); k.next(); {
			got = append(got, k.vcdEvent)
		}
		if !slices.Equal(got, want) {
			t.Fatalf("%v became %v", want, got)
		}
	})
}

// plainSink keeps every edge as it comes.
type plainSink struct{ edges []Edge }

func (*plainSink) Begin(Info) error { return nil }

func (s *plainSink) Edges(e []Edge) error {
	s.edges = append(s.edges, e...)
	return nil
}

// TestFarApart: stamps of every number of digits, and changes farther apart than a word counts, are timed right, with and without somebody who wants the
// changes themselves. 10¹² fs are a millisecond.
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
