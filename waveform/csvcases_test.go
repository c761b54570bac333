package waveform

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"math"
	"os"
	"strings"
	"testing"
)

func readText(t testing.TB, text string, opt Options) (*Recording, error) {
	t.Helper()
	return ReadAll(context.Background(), File("t.csv", strings.NewReader(text), int64(len(text))), opt)
}

func channelOf(t testing.TB, r *Recording, name string) int {
	t.Helper()
	for i, c := range r.Channels {
		for _, n := range append([]string{c.Name}, c.Aliases...) {
			if n == name || strings.HasSuffix(n, "."+name) {
				return i
			}
		}
	}
	t.Fatalf("no channel %q among %v", name, r.Channels)
	return -1
}

// TestCSVCases: csv_cases.json, invented tables with what a reader must give, expected values by construction; two
// forms were seen in real files. Each case is read as a file and as a stream.
func TestCSVCases(t *testing.T) {
	raw, err := os.ReadFile("testdata/csv_cases.json")
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		Cases []struct {
			Name, Why, CSV string
			Expect         struct {
				T        []float64            `json:"t_s"`
				TBy      map[string][]float64 `json:"t_s_by_channel"`
				Channels map[string][]any     `json:"channels"`
				Edges    map[string][2]int64  `json:"edges"`
				Held     bool                 `json:"held"`
				Warning  string               `json:"warning"`
				Error    *struct {
					Row  int64  `json:"row"`
					What string `json:"what"`
				} `json:"error"`
			}
		}
	}
	if err := json.Unmarshal(raw, &file); err != nil {
		t.Fatal(err)
	}
	if len(file.Cases) != 16 {
		t.Fatalf("%d cases, want 16", len(file.Cases))
	}
	for _, c := range file.Cases {
		t.Run(c.Name, func(t *testing.T) {
			for _, in := range []Input{File("t.csv", strings.NewReader(c.CSV), int64(len(c.CSV))), Stream("t.csv", bytes.NewBufferString(c.CSV), -1)} {
				r, err := ReadAll(context.Background(), in, Options{})
				x := c.Expect
				if x.Error != nil {
					var p *Problem
					if !errors.As(err, &p) {
						t.Fatalf("error %v, want a Problem: %s", err, x.Error.What)
					}
					if !strings.Contains(p.What, x.Error.What) || (x.Error.Row > 0 && p.Line != x.Error.Row) {
						t.Errorf("%v (line %d), want %q in line %d", p, p.Line, x.Error.What, x.Error.Row)
					}
					continue
				}
				if err != nil {
					t.Fatal(err)
				}
				if len(r.Channels) != len(x.Channels) {
					t.Errorf("%d channels, want %d", len(r.Channels), len(x.Channels))
				}
				for name, want := range x.Channels {
					i := channelOf(t, r, name)
					times := x.T
					if x.TBy != nil {
						times = x.TBy[name]
					}
					if len(r.Values[i]) != len(want) || len(r.Times[i]) != len(times) {
						t.Fatalf("%s: %d values at %d times, want %d", name, len(r.Values[i]), len(r.Times[i]), len(want))
					}
					for k, w := range want {
						if got := float64(r.Times[i][k]); got != times[k] && math.Abs(got-times[k]) > 1e-15*math.Abs(times[k])+1e-21 {
							t.Errorf("%s: time %d is %v, want %v", name, k, got, times[k])
						}
						got := r.Values[i][k]
						switch w {
						case "over":
							w = math.Inf(1)
						case "under":
							w = math.Inf(-1)
						case "missing":
							if !math.IsNaN(got) {
								t.Errorf("%s: value %d is %v, want none", name, k, got)
							}
							continue
						}
						if got != w.(float64) {
							t.Errorf("%s: value %d is %v, want %v", name, k, got, w)
						}
					}
					if e, ok := x.Edges[name]; ok && (r.Channels[i].Rises != e[0] || r.Channels[i].Falls != e[1]) {
						t.Errorf("%s: %d up, %d down, want %v", name, r.Channels[i].Rises, r.Channels[i].Falls, e)
					}
					if x.Held && !r.Channels[i].Held {
						t.Errorf("%s: not seen as held values", name)
					}
				}
				if (x.Warning != "") != (r.Partial != nil) {
					t.Errorf("partial %v, want %q", r.Partial, x.Warning)
				} else if x.Warning != "" && (!strings.Contains(r.Partial.What, x.Warning) || !errors.Is(r.Partial, ErrTruncated)) {
					t.Errorf("partial %v, want %q as truncated", r.Partial, x.Warning)
				}
			}
		})
	}
}
