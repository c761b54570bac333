package waveform

import (
	"bytes"
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"phasewright/waveform/block"
)

// scratch is a spill in memory.
type scratch struct{ b []byte }

func (s *scratch) WriteAt(p []byte, off int64) (int, error) {
	if need := off + int64(len(p)); int64(len(s.b)) < need {
		s.b = append(s.b, make([]byte, need-int64(len(s.b)))...)
	}
	return copy(s.b[off:], p), nil
}

func (s *scratch) ReadAt(p []byte, off int64) (int, error) {
	if off >= int64(len(s.b)) {
		return 0, errEOF
	}
	n := copy(p, s.b[off:])
	if n < len(p) {
		return n, errEOF
	}
	return n, nil
}

// TestOverviewCovers: at random zooms no column shows less than the samples in it (computed from ReadAll), and none
// shows more than the samples within one column and one stretch to either side; with and without a spill, and from
// a pipe.
func TestOverviewCovers(t *testing.T) {
	rng := rand.New(rand.NewPCG(61, 62))
	for name, data := range map[string][]byte{"csv": hardTable(60_000, "\n"), "vcd": hardVCD(30_000), "wav": hardWave(t, 150_000)} {
		all, err := readText(t, string(data), Options{})
		if err != nil {
			t.Fatal(err)
		}
		for kind, opt := range map[string]Options{"file": {}, "spill": {Spill: &scratch{}}, "pipe": {}} {
			in := File("x", bytes.NewReader(data), int64(len(data)))
			if kind == "pipe" {
				in = Stream("x", bytes.NewReader(data), -1)
			}
			opt.Overview = true
			r, err := Scan(context.Background(), in, opt, &counter{})
			if err != nil {
				t.Fatal(err)
			}
			if kind == "spill" && name != "vcd" && len(opt.Spill.(*scratch).b) == 0 {
				t.Errorf("%s: nothing was spilt", name)
			}
			for range looks(30) {
				ch := rng.IntN(len(r.Channels))
				if r.Channels[ch].Kind == Bus {
					continue
				}
				width := r.Duration() * Second(math.Pow(10, -4*rng.Float64()))
				t0 := r.Start + Second(rng.Float64())*(r.Duration()-width)
				n := 1 + rng.IntN(60)
				got, err := r.Overview.Query(context.Background(), ch, t0, t0+width, n)
				if err != nil {
					t.Fatal(err)
				}
				checkColumns(t, name+" "+kind, all, ch, t0, width, got, kind)
				if t.Failed() {
					return
				}
			}
		}
	}
}

// checkColumns compares columns with the samples themselves.
func checkColumns(t *testing.T, what string, all *Recording, ch int, t0, width Second, got []Extent, kind string) {
	t.Helper()
	step := width / Second(len(got))
	held := all.Channels[ch].Held
	// stretches of blockRows samples (or, from a pipe, of the coarse store) may reach beyond a column
	reach := step + step/1000
	if kind == "pipe" {
		reach += (all.End - all.Start) / 200 // 256 samples of the shortest recording here
	}
	times, values := all.Times[ch], all.Values[ch]
	for i, e := range got {
		a, b := t0+Second(i)*step, t0+Second(i+1)*step
		least, largest := math.Inf(1), math.Inf(-1)
		near0, near1 := math.Inf(1), math.Inf(-1)
		for k, at := range times {
			v := values[k]
			next := at
			if held {
				next = all.End
				if k+1 < len(times) {
					next = times[k+1]
				}
			}
			if !block.Finite(v) {
				continue
			}
			inside := at > a+step*1e-6 && at < b-step*1e-6 || held && at <= a && next >= b
			if inside {
				least, largest = min(least, v), max(largest, v)
			}
			if next >= a-reach && at <= b+reach {
				near0, near1 = min(near0, v), max(near1, v)
			}
			if at > b+reach {
				break
			}
		}
		if least <= largest && !(e.Min <= least && e.Max >= largest) {
			t.Errorf("%s: channel %d, column %d of %d from %v: %v, the samples go from %v to %v", what, ch, i, len(got), a, e, least, largest)
			return
		}
		eps := 1e-6 * math.Max(1, math.Abs(near1))
		if e.Min == e.Min && !(e.Min >= near0-eps && e.Max <= near1+eps) {
			t.Errorf("%s: channel %d, column %d of %d from %v: %v, but nearby samples go from %v to %v only", what, ch, i, len(got), a, e, near0, near1)
			return
		}
	}
}

// TestOverviewRefuses: views that make no sense are refused.
func TestOverviewRefuses(t *testing.T) {
	data := hardTable(1000, "\n")
	r := scanBytes(t, data, Options{Overview: true}, &counter{})
	for _, q := range []struct {
		ch     int
		t0, t1 Second
		n      int
	}{{-1, 0, 1, 5}, {99, 0, 1, 5}, {0, 1, 1, 5}, {0, 2, 1, 5}, {0, 0, 1, 0}, {0, 0, 1, 1 << 20}, {0, Second(math.NaN()), 1, 5}} {
		if _, err := r.Overview.Query(context.Background(), q.ch, q.t0, q.t1, q.n); err == nil {
			t.Errorf("%+v is answered", q)
		}
	}
}

// looks is the number of random stretches looked at: n, with -short a third of them.
func looks(n int) int {
	if testing.Short() {
		return n / 3
	}
	return n
}
