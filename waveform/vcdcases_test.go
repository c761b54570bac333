package waveform

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// transitions counts what the VCD cases count: edges of known polarity, and changes into and out of "unknown" after the
// first state.
func transitions(r *Recording, ch int) (times []float64, known int) {
	start := true
	for _, e := range r.Edges {
		if int(e.Channel) != ch {
			continue
		}
		switch e.Kind {
		case Rise, Fall:
			known++
			times = append(times, float64(e.At))
		case FoundLow, FoundHigh:
			if !start || e.At > r.Start {
				times = append(times, float64(e.At))
			}
		case Lost:
			times = append(times, float64(e.At))
		}
		start = false
	}
	return times, known
}

// TestVCDCases: vcd_cases.json, ten invented files with hand-made expectations (two readers in common use each get some
// of them wrong). Each is read whole and in chunks of a few bytes.
func TestVCDCases(t *testing.T) {
	raw, err := os.ReadFile("testdata/vcd_cases.json")
	if err != nil {
		t.Fatal(err)
	}
	var cases []struct {
		Name, VCD string
		Expect    map[string]json.RawMessage
	}
	if err := json.Unmarshal(raw, &cases); err != nil {
		t.Fatal(err)
	}
	if len(cases) != 10 {
		t.Fatalf("%d cases, want 10", len(cases))
	}
	for _, c := range cases {
		t.Run(c.Name, func(t *testing.T) {
			tick := 1e-6
			if v, ok := c.Expect["tick_s"]; ok {
				json.Unmarshal(v, &tick)
			}
			for _, chunk := range []int{0, 1, 3, 7} {
				r, err := ReadAll(context.Background(), File("t.vcd", strings.NewReader(c.VCD), int64(len(c.VCD))), Options{Chunk: chunk})
				if err != nil {
					t.Fatal(err)
				}
				for name, raw := range c.Expect {
					switch name {
					case "tick_s":
						continue
					case "end":
						var end float64
						json.Unmarshal(raw, &end)
						if float64(r.End) != end*tick {
							t.Errorf("end %v, want %v", r.End, end*tick)
						}
						continue
					}
					var x struct {
						Rise, Fall  *int64
						Times       []float64
						Values      []any
						Unknown     [][2]float64
						Known       *int `json:"known_to_known_edges"`
						Transitions *int
						Final       string
						Collapsed   *struct {
							Rise, Fall int64
							Times      []float64
						} `json:"edges_if_collapsed"`
					}
					if err := json.Unmarshal(raw, &x); err != nil {
						t.Fatal(err)
					}
					i := channelOf(t, r, name)
					ch := r.Channels[i]
					near := func(got, want []float64) bool {
						return slices.EqualFunc(got, want, func(a, b float64) bool { return a-b*tick < 1e-18 && b*tick-a < 1e-18 })
					}
					at, known := transitions(r, i)
					var edges []float64
					for _, e := range edgesOf(r, i) {
						edges = append(edges, float64(e.At))
					}
					if x.Rise != nil && (ch.Rises != *x.Rise || ch.Falls != *x.Fall || !near(edges, x.Times)) {
						t.Errorf("%s: %d up, %d down at %v, want %d, %d at %v", name, ch.Rises, ch.Falls, edges, *x.Rise, *x.Fall, x.Times)
					}
					if x.Known != nil && (known != *x.Known || len(at) != *x.Transitions || !near(at, x.Times)) {
						t.Errorf("%s: %d edges, changes at %v, want %d, %v", name, known, at, *x.Known, x.Times)
					}
					if c := x.Collapsed; c != nil && (ch.Rises != c.Rise || ch.Falls != c.Fall || !near(edges, c.Times) || ch.Shorts != 1) {
						t.Errorf("%s: %d up, %d down at %v, %d short, want %+v and one short pulse", name, ch.Rises, ch.Falls, edges, ch.Shorts, *c)
					}
					for _, gap := range x.Unknown {
						var lost, found float64 = -1, -1
						for _, e := range r.Edges {
							if int(e.Channel) == i && e.Kind == Lost {
								lost = float64(e.At)
							} else if int(e.Channel) == i && (e.Kind == FoundLow || e.Kind == FoundHigh) {
								found = float64(e.At)
							}
						}
						if !near([]float64{lost, found}, gap[:]) {
							t.Errorf("%s: unknown from %v to %v, want %v", name, lost, found, gap)
						}
					}
					var times []float64
					for _, s := range r.Times[i] {
						times = append(times, float64(s))
					}
					for k, v := range x.Values {
						switch v := v.(type) {
						case string:
							if k >= len(r.Words[i]) || r.Words[i][k] != v {
								t.Errorf("%s: words %v, want %v", name, r.Words[i], x.Values)
							}
						case float64:
							if k >= len(r.Values[i]) || r.Values[i][k] != v {
								t.Errorf("%s: values %v, want %v", name, r.Values[i], x.Values)
							}
						}
						if k >= len(times) || !near(times[k:k+1], x.Times[k:k+1]) {
							t.Errorf("%s: times %v, want %v", name, times, x.Times)
						}
					}
				}
			}
		})
	}
}

// TestCapturesVCD: real recordings of sigrok-dumps (public domain); expected counts by an independent token parser and
// two common readers, which agree.
func TestCapturesVCD(t *testing.T) {
	checked := 0
	for name, want := range expectedCaptures(t) {
		if !strings.HasSuffix(name, ".vcd") {
			continue
		}
		t.Run(name, func(t *testing.T) {
			r := readCapture(t, filepath.Join(captures, name))
			var tick float64
			switch want.Timescale {
			case "1ns":
				tick = 1e-9
			case "10ns":
				tick = 1e-8
			case "1us":
				tick = 1e-6
			case "1s":
				tick = 1
			}
			same := func(a Second, ticks int64) bool {
				d := float64(a) - float64(ticks)*tick
				return d < tick/1000 && d > -tick/1000
			}
			if !same(r.Start, want.FirstTick) || !same(r.End, want.LastTick) {
				t.Errorf("from %v to %v, want %d to %d ticks", r.Start, r.End, want.FirstTick, want.LastTick)
			}
			var chans []expectedChannel
			if err := json.Unmarshal(want.Channels, &chans); err != nil {
				t.Fatal(err)
			}
			for _, c := range chans {
				i := channelOf(t, r, c.Names[0])
				ch := r.Channels[i]
				if !slices.Equal(append([]string{ch.Name}, ch.Aliases...), c.Names) {
					t.Errorf("names %v %v, want %v", ch.Name, ch.Aliases, c.Names)
				}
				if c.Changes != nil {
					n := int64(0)
					for k := 1; k < len(r.Values[i]); k++ {
						if r.Values[i][k] != r.Values[i][k-1] {
							n++
						}
					}
					if n != int64(*c.Changes) {
						t.Errorf("%s: %d changes, want %d", c.Names[0], n, *c.Changes)
					}
					continue
				}
				if ch.Rises != c.Rise || ch.Falls != c.Fall {
					t.Errorf("%s: %d up, %d down, want %d, %d", ch.Name, ch.Rises, ch.Falls, c.Rise, c.Fall)
				}
				// the expectation counts the end of "unknown" as a change
				if at, _ := transitions(r, i); c.First != nil && (!same(Second(at[0]), *c.First) || !same(Second(at[len(at)-1]), *c.Last)) {
					t.Errorf("%s: changes from %v to %v, want %d to %d ticks", ch.Name, at[0], at[len(at)-1], *c.First, *c.Last)
				}
				checked++
			}
		})
	}
	if checked < 20 {
		t.Errorf("only %d channels were compared", checked)
	}
}
