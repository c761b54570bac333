package waveform

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// captures holds recordings of others that anybody may pass on; see SOURCES.md in it.
const captures = "testdata/captures"

func readCapture(t testing.TB, path string) *Recording {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		t.Fatal(err)
	}
	r, err := ReadAll(context.Background(), File(filepath.Base(path), f, st.Size()), Options{})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

type expectedChannel struct {
	Code       string
	Name       string
	Names      []string
	Type       string
	Size       int
	Rise, Fall int64
	Changes    *int
	First      *int64   `json:"first_change_tick"`
	Last       *int64   `json:"last_change_tick"`
	FirstNs    *float64 `json:"first_change_ns"`
	LastNs     *float64 `json:"last_change_ns"`
	MedianLow  float64  `json:"median_low"`
	MedianHigh float64  `json:"median_high"`
	Cross      []string `json:"cross_half_s"`
	Final      string
}

type expectedCapture struct {
	Timescale  string
	FirstTick  int64 `json:"first_tick"`
	LastTick   int64 `json:"last_tick"`
	Rows       int64
	DtS        float64 `json:"dt_s"`
	Channels   json.RawMessage
	MedianLow  float64  `json:"median_low"`
	MedianHigh float64  `json:"median_high"`
	Cross      []string `json:"cross_half_s"`
	Rises      int64
	Falls      int64
	Rate       int64 `json:"rate_hz"`
	Frames     int64
}

func expectedCaptures(t testing.TB) map[string]expectedCapture {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join(captures, "expected.json"))
	if err != nil {
		t.Fatal(err)
	}
	var m map[string]expectedCapture
	if err := json.Unmarshal(raw, &m); err != nil {
		t.Fatal(err)
	}
	return m
}

// edgesOf gives the rises and falls of one channel.
func edgesOf(r *Recording, ch int) (out []Edge) {
	for _, e := range r.Edges {
		if int(e.Channel) == ch && e.Kind <= Fall {
			out = append(out, e)
		}
	}
	return out
}

// TestCapturesCSV: real recordings of sigrok-dumps (public domain), expected counts and crossings computed by an
// independent parser.
func TestCapturesCSV(t *testing.T) {
	for name, want := range expectedCaptures(t) {
		if !strings.HasSuffix(name, ".csv") {
			continue
		}
		t.Run(name, func(t *testing.T) {
			r := readCapture(t, filepath.Join(captures, name))
			if r.Rows != want.Rows && r.Rows != want.Rows-1 {
				t.Errorf("%d rows, want %d", r.Rows, want.Rows)
			}
			var chans []expectedChannel
			if want.Channels != nil {
				if err := json.Unmarshal(want.Channels, &chans); err != nil {
					t.Fatal(err)
				}
			} else {
				chans = []expectedChannel{{Name: r.Channels[0].Name, MedianLow: want.MedianLow, MedianHigh: want.MedianHigh, Cross: want.Cross}}
			}
			for _, c := range chans {
				i := channelOf(t, r, c.Name)
				got := edgesOf(r, i)
				if c.Cross == nil {
					if r.Channels[i].Rises != c.Rise || r.Channels[i].Falls != c.Fall {
						t.Errorf("%s: %d up, %d down, want %d, %d", c.Name, r.Channels[i].Rises, r.Channels[i].Falls, c.Rise, c.Fall)
					}
					if c.FirstNs != nil && math.Abs(float64(got[0].At)*1e9-*c.FirstNs) > 1e-3 {
						t.Errorf("%s: first at %v, want %v ns", c.Name, got[0].At, *c.FirstNs)
					}
					if c.LastNs != nil && math.Abs(float64(got[len(got)-1].At)*1e9-*c.LastNs) > 1e-3 {
						t.Errorf("%s: last at %v, want %v ns", c.Name, got[len(got)-1].At, *c.LastNs)
					}
					continue
				}
				// the expectation's levels are medians, ours histogram modes: with a quantisation of 31 mV they may
				// differ by one step, and the crossing by that share of a sample
				step := 0.0321
				if math.Abs(r.Channels[i].Low-c.MedianLow) > step || math.Abs(r.Channels[i].High-c.MedianHigh) > step {
					t.Errorf("%s: levels %v, %v, want %v, %v", c.Name, r.Channels[i].Low, r.Channels[i].High, c.MedianLow, c.MedianHigh)
				}
				if len(got) != len(c.Cross) {
					t.Fatalf("%s: %d edges, want %d", c.Name, len(got), len(c.Cross))
				}
				for k, s := range c.Cross {
					at, err := strconv.ParseFloat(s[2:], 64)
					if err != nil {
						t.Fatal(err)
					}
					if (s[0] == 'r') != (got[k].Kind == Rise) || math.Abs(float64(got[k].At)-at) > 0.03*want.DtS {
						t.Errorf("%s: edge %d is %v at %v, want %s", c.Name, k, got[k].Kind, got[k].At, s)
					}
				}
			}
		})
	}
}
