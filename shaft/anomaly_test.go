package shaft

import (
	"fmt"
	"math"
	"sort"
	"testing"

	"phasewright/waveform"
)

// sweep is stop, cranking, catching, idle, redline and back to a stop.
func sweep() (drive, float64) {
	d, deg, _ := legs(0, point{180, 0.6}, point{200, 2}, point{850, 0.8}, point{850, 1.5}, point{5500, 4}, point{5500, 1}, point{700, 4}, point{0, 2})
	return d, deg
}

// pulseAt finds the pulse of channel ch whose first edge (of the given kind) is the first at or after t: indices of
// both edges.
func pulseAt(edges []waveform.Edge, ch int32, first waveform.EdgeKind, t float64) (i, j int) {
	for i = range edges {
		if e := edges[i]; e.Channel == ch && e.Kind == first && float64(e.At) >= t {
			for j = i + 1; j < len(edges); j++ {
				if edges[j].Channel == ch {
					return i, j
				}
			}
		}
	}
	return -1, -1
}

func without(edges []waveform.Edge, drop func(i int, e waveform.Edge) bool) []waveform.Edge {
	var out []waveform.Edge
	for i, e := range edges {
		if !drop(i, e) {
			out = append(out, e)
		}
	}
	return out
}

func with(edges []waveform.Edge, more ...waveform.Edge) []waveform.Edge {
	out := append(append([]waveform.Edge(nil), edges...), more...)
	sort.SliceStable(out, func(i, j int) bool { return out[i].At < out[j].At })
	return out
}

func wantAnomaly(t *testing.T, r *Result, kind Kind, at, within float64, channel string) {
	t.Helper()
	for _, a := range r.Anomalies {
		if a.Kind == kind && a.Channel == channel && math.Abs(a.TimeS-at) <= within {
			if len(r.Anomalies) > 1 {
				t.Errorf("%s on %s found, but others too: %v", kind, channel, r.Anomalies)
			}
			return
		}
	}
	t.Errorf("want %s on %s at %.4f s (within %.4f s); found %v", kind, channel, at, within, r.Anomalies)
}

func TestCleanSweepsRaiseNoAlarm(t *testing.T) {
	d, deg := sweep()
	engines := map[string]*synth{
		"eight":        eight(d, 0.5, deg-0.5),
		"four":         {intervals: evenIntervals(4), widths: repeat(40, 4)},
		"six":          {intervals: evenIntervals(6), widths: repeat(40, 6)},
		"one":          {intervals: evenIntervals(1), widths: repeat(60, 1)},
		"two":          {intervals: []float64{270, 450}, widths: repeat(60, 2)},
		"odd six":      {intervals: []float64{90, 150, 90, 150, 90, 150}, widths: repeat(30, 6)},
		"twelve":       {intervals: evenIntervals(12), widths: repeat(22, 12)},
		"five":         {intervals: evenIntervals(5), widths: repeat(50, 5)},
		"three":        {intervals: evenIntervals(3), widths: repeat(80, 3)},
		"uneven vanes": {intervals: evenIntervals(4), widths: []float64{40, 60, 40, 80}},
	}
	for name, e := range engines {
		for _, start := range []float64{0.3, 37, 200} {
			for _, jitter := range []float64{0, 0.1} {
				t.Run(fmt.Sprintf("%s from %v jitter %v", name, start, jitter), func(t *testing.T) {
					s := *eight(d, start, deg-0.5)
					s.intervals, s.widths, s.jitter = e.intervals, e.widths, jitter
					s.pickup = 40
					opt := Options{Cylinders: len(s.intervals)}
					if opt.Cylinders == 1 { // one vane a cycle on either pickup: nothing but a word tells them apart
						opt.Roles = map[string]Role{"A": Crank}
					}
					r := analyse(t, s.run(), fourNames, opt)
					if len(r.Anomalies) > 0 || r.Sync != SyncHeld || len(r.Losses) > 0 {
						t.Errorf("sync %s, losses %v, anomalies %v", r.Sync, r.Losses, r.Anomalies)
					}
					if r.Crank == nil || r.Crank.EdgesPerCycle != len(s.intervals) {
						t.Errorf("crank %+v", r.Crank)
					}
					if m := r.Speed.Max; m < 5490 || m > 5600 {
						t.Errorf("largest speed %v, put in 5500", m)
					}
					// Angle over time: what the drive turned in its 15.9 s, less the last and first stretch
					// between vanes.
					if want := deg / 15.9 / 6; math.Abs(r.Speed.Mean/want-1) > 0.15 {
						t.Errorf("mean speed %v, put in %v", r.Speed.Mean, want)
					}
					for i, want := range []Role{Crank, Cam, Spark, Mark} {
						if r.Channels[i].Role != want {
							t.Errorf("channel %d is %s, want %s (%s)", i, r.Channels[i].Role, want, r.Channels[i].Reason)
						}
					}
				})
			}
		}
	}
}

func TestAnomaliesAreFound(t *testing.T) {
	d, deg := sweep()
	jitters := []float64{0, 0.05}
	times := []float64{1.8, 2.9, 4.2, 6, 8.4, 9.6, 12} // cranking, catching, idle, rising, redline, redline, falling
	if testing.Short() {
		jitters, times = jitters[1:], []float64{1.8, 8.4}
	}
	for _, engine := range []string{"eight", "odd six"} {
		for _, jitter := range jitters {
			s := eight(d, 0.5, deg-0.5)
			s.jitter = jitter
			if engine == "odd six" {
				s.intervals, s.widths = []float64{90, 150, 90, 150, 90, 150}, repeat(30, 6)
			}
			clean := s.run()
			opt := Options{Cylinders: len(s.intervals)}
			// The crank pickup: entering is falling here, so a vane is a low pulse.
			for _, at := range times {
				t.Run(fmt.Sprintf("%s jitter %v at %v", engine, jitter, at), func(t *testing.T) {
					i, j := pulseAt(clean, chCrank, waveform.Fall, at)
					when := float64(clean[i].At)
					next, _ := pulseAt(clean, chCrank, waveform.Fall, when+1e-9)
					interval := float64(clean[next].At) - when

					r := analyse(t, without(clean, func(k int, _ waveform.Edge) bool { return k == i || k == j }), fourNames, opt)
					wantAnomaly(t, r, MissingPulse, when, interval/4, "A")
					if r.Sync != SyncHeld {
						t.Errorf("a single missing pulse: sync %s %v", r.Sync, r.Losses)
					}

					for _, share := range []float64{0.45, 0.6, 0.85, 0.95, 0.98} { // in the gap between vanes
						at := when + share*interval
						r = analyse(t, with(clean, waveform.Edge{At: waveform.Second(at), Kind: waveform.Fall}, waveform.Edge{At: waveform.Second(at + interval*0.01), Kind: waveform.Rise}), fourNames, opt)
						wantAnomaly(t, r, ExtraPulse, at, interval/100, "A")
					}
					in := when + 0.4*(float64(clean[j].At)-when) // a gap inside the vane
					r = analyse(t, with(clean, waveform.Edge{At: waveform.Second(in), Kind: waveform.Rise}, waveform.Edge{At: waveform.Second(in + interval*0.01), Kind: waveform.Fall}), fourNames, opt)
					wantAnomaly(t, r, ExtraPulse, in, interval/3, "A")

					short := append([]waveform.Edge(nil), clean...)
					short[j].At = clean[i].At + 0.3*(clean[j].At-clean[i].At)
					sort.SliceStable(short, func(a, b int) bool { return short[a].At < short[b].At })
					r = analyse(t, short, fourNames, opt)
					wantAnomaly(t, r, ShortPulse, when, interval/4, "A")
					long := append([]waveform.Edge(nil), clean...) // a vane too long leaves a gap too short
					long[j].At = clean[next].At - 0.2*(clean[next].At-clean[j].At)
					sort.SliceStable(long, func(a, b int) bool { return long[a].At < long[b].At })
					r = analyse(t, long, fourNames, opt)
					wantAnomaly(t, r, ShortPulse, float64(clean[next].At)-0.2*(float64(clean[next].At)-float64(clean[j].At)), interval/20, "A")

					for _, gone := range []float64{5.5, 12.5, 40.5} { // vanes
						until := when + gone*interval
						r = analyse(t, without(clean, func(_ int, e waveform.Edge) bool {
							return e.Channel == chCrank && float64(e.At) >= when-1e-9 && float64(e.At) < until
						}), fourNames, opt)
						wantAnomaly(t, r, Dropout, when, interval, "A")
						if r.Sync != SyncLost || len(r.Losses) != 1 || math.Abs(r.Losses[0].TimeS-when) > interval {
							t.Errorf("dropout of %v vanes: sync %s %v", gone, r.Sync, r.Losses)
						} else if back := float64(r.Losses[0].RegainedS); !(back > until && back < until+20*interval) {
							t.Errorf("dropout of %v vanes until %v: regained at %v", gone, until, back)
						}
					}
					// Spark, cam and mark.
					for _, c := range []struct {
						ch   int32
						name string
						kind waveform.EdgeKind
						tol  float64
					}{{chSpark, "C", waveform.Rise, 1.5 * interval}, {chCam, "B", waveform.Fall, 1.5 * interval}, {chMark, "D", waveform.Rise, interval}} {
						i, j := pulseAt(clean, c.ch, c.kind, at)
						r := analyse(t, without(clean, func(k int, _ waveform.Edge) bool { return k == i || k == j }), fourNames, opt)
						wantAnomaly(t, r, MissingPulse, float64(clean[i].At), c.tol, c.name)
						for _, after := range []float64{0.05, 0.3} {
							x := float64(clean[j].At) + after*interval
							extra := []waveform.Edge{{At: waveform.Second(x), Channel: c.ch, Kind: c.kind}, {At: waveform.Second(x + 0.03*interval), Channel: c.ch, Kind: 1 - c.kind}}
							r = analyse(t, with(clean, extra...), fourNames, opt)
							wantAnomaly(t, r, ExtraPulse, x, interval/20, c.name)
						}
					}
				})
			}
		}
	}
}
