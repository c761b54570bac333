package shaft

import (
	"context"
	"strings"
	"testing"

	"phasewright/jobcard"
	"phasewright/waveform"
)

// Recordings, faults and numbers here are invented, unless a test says where one comes from.

// TestUnlikelySpeed: milliseconds taken for seconds, and the other way round, give speeds that no engine has.
func TestUnlikelySpeed(t *testing.T) {
	for _, c := range []struct {
		by     float64
		doubts bool
	}{{1, false}, {1e3, true}, {1e-3, true}} {
		d, deg, _ := legs(800, point{4000, 6})
		edges := eight(d, 0.5, deg-0.5).run()
		for i := range edges {
			edges[i].At *= waveform.Second(c.by)
		}
		r := analyse(t, edges, []string{"crank", "cam", "spark", "mark"}, Options{Cylinders: 8})
		got := false
		for _, d := range r.Doubts {
			got = got || strings.Contains(d, "no engine turns at")
		}
		if r.Speed == nil || got != c.doubts {
			t.Errorf("times %g-fold: speed %+v, doubts %q", c.by, r.Speed, r.Doubts)
		}
	}
}

// TestReversedReluctanceWires: with a reluctance pickup another edge than the stated one points to its wires.
func TestReversedReluctanceWires(t *testing.T) {
	d, deg, _ := legs(900, point{3000, 3}, point{900, 3}, point{3000, 3})
	s := eight(d, 0.5, deg-0.5)
	s.jitter = 0.3 // metal: only the edge that sparks are timed from leads to them closely
	for _, method := range []waveform.Method{waveform.ByState, waveform.ByZeroCrossing} {
		edges := s.run()
		in := info("crank", "cam", "spark", "mark")
		in.Channels[0].Method = method
		r, err := Run(context.Background(), Events{Info: in, Edges: edges, End: edges[len(edges)-1].At}, Options{Cylinders: 8, ActiveEdge: jobcard.Rising})
		if err != nil {
			t.Fatal(err)
		}
		wires := false
		for _, f := range r.Findings {
			wires = wires || f.ID == FoundWrongEdge && strings.Contains(f.Remedy, "wires")
		}
		if !r.Found(FoundWrongEdge) || wires != (method == waveform.ByZeroCrossing) {
			t.Errorf("%v: %+v", method, r.Findings)
		}
	}
}

// TestMarksWhileSyncIsLost: marks that come while the vanes are not told apart are not counted as missing when they
// are again.
func TestMarksWhileSyncIsLost(t *testing.T) {
	d, deg, _ := legs(800, point{800, 1}, point{4000, 5}, point{4000, 1})
	s := eight(d, 0.5, deg-0.5)
	edges := s.run()
	for _, gone := range []int{3, 4, 5} {
		for _, at := range []int{300, 301, 302, 303, 304, 305, 306, 307} {
			lo, hi := s.crankT[at][0]-1e-9, s.crankT[at+gone][0]-1e-9
			left := without(edges, func(_ int, e waveform.Edge) bool {
				return e.Channel == chCrank && float64(e.At) > lo && float64(e.At) < hi
			})
			r := analyse(t, left, fourNames, Options{Cylinders: 8, ActiveEdge: jobcard.Falling})
			found := false
			for _, a := range r.Anomalies {
				found = found || a.Kind == Dropout && a.Channel == "A"
				if a.Channel == "D" {
					t.Errorf("%d vanes missing from vane %d on: %v, though every mark is there", gone, at, a)
				}
			}
			if !found {
				t.Errorf("%d vanes missing from vane %d on: no dropout among %v", gone, at, r.Anomalies)
			}
		}
	}
}

// TestLinearMapIsNoDelay: a spark map that rises in a straight line with speed looks like a signal delay, but one of
// less than nothing; no correction comes of it.
func TestLinearMapIsNoDelay(t *testing.T) {
	d, deg, _ := legs(900, point{3500, 6}, point{900, 4})
	s := eight(d, 0.5, deg-0.5)
	for _, unlocked := range []bool{false, true} {
		s.delay = 0 // a delay of less than the allowance is nothing odd
		s.advance = func(n float64) float64 {
			if unlocked {
				return 10 + (n-900)*20/2600
			}
			return 10
		}
		r := analyse(t, s.run(), fourNames, Options{Card: card()})
		m := r.Timing
		if m == nil || r.Found(FoundNotLocked) != unlocked {
			t.Fatalf("unlocked %v: timing %+v, findings %v", unlocked, m, r.Findings)
		}
		if unlocked && (m.Allowance.Set != m.Allowance.Now || m.Housing.TurnDeg != 0 || m.Withheld == "") {
			t.Errorf("a correction is given all the same: %+v", m)
		}
	}
}
