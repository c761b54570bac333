package stand_test

import (
	"bytes"
	"context"
	"math"
	"strings"
	"testing"

	"phasewright/shaft/stand"
	"phasewright/waveform"
)

// Every dialect holds the edges that it was made from: room waveform, which shares no code with the writers,
// finds each of them again to within a sample. Cut files hold the first of them; the swings of a reluctor and
// UTF-16, which room waveform refuses in words, are left to the report.
func TestFilesHoldTheirEdges(t *testing.T) {
	for _, name := range stand.Dialects() {
		if strings.HasSuffix(name, "reluctor") || name == "csv-utf16" {
			continue
		}
		c, err := stand.MakeFile(name, 5)
		if err != nil {
			t.Fatal(err)
		}
		in := waveform.File(name, bytes.NewReader(c.File), int64(len(c.File)))
		r, err := waveform.ReadAll(context.Background(), in, waveform.Options{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		shift := 0.0
		if !strings.HasPrefix(name, "csv") { // these begin at nought
			shift = float64(c.Info.Start)
		}
		for ch := range c.Info.Channels {
			want, got := changes(c.Edges, ch), changes(r.Edges, ch)
			if strings.HasSuffix(name, "cut") {
				want = want[:min(len(want), len(got))]
				got = got[:min(len(want), len(got))]
				if len(want) < 5 {
					t.Errorf("%s: channel %d has %d edges left", name, ch, len(want))
				}
			}
			if len(want) == len(got)+1 { // the last sample may come before the last edge
				want = want[:len(got)]
			}
			if len(want) != len(got) {
				t.Errorf("%s: channel %d (%s) has %d edges, made with %d", name, ch, c.Truth.Roles[ch], len(got), len(want))
				continue
			}
			for i := range want {
				if math.Abs(float64(got[i].At)+shift-float64(want[i].At)) > 60e-6 || got[i].Kind != want[i].Kind {
					t.Errorf("%s: channel %d: edge %d is %v at %.6f s, made %v at %.6f s", name, ch, i,
						got[i].Kind, float64(got[i].At)+shift, want[i].Kind, float64(want[i].At))
					break
				}
			}
		}
	}
}

// changes are a channel's rising and falling edges.
func changes(es []waveform.Edge, ch int) []waveform.Edge {
	var of []waveform.Edge
	for _, e := range es {
		if int(e.Channel) == ch && (e.Kind == waveform.Rise || e.Kind == waveform.Fall) {
			of = append(of, e)
		}
	}
	return of
}
