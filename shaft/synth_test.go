package shaft

import (
	"context"
	"math"
	"math/rand/v2"
	"sort"
	"testing"

	"phasewright/quantity"
	"phasewright/waveform"
)

// A tiny engine of the tests' own, independent of every other package: closed forms of motion, edges at known degrees,
// and a controller that waits T·(L−a)/S after the active edge. All numbers in it are invented.

// course gives the time at which the crank has turned by deg degrees.
type course interface{ at(deg float64) float64 }

// leg is a stretch of constant acceleration: θ = ω₀t + ½αt², degrees and seconds.
type leg struct{ deg0, t0, w0, alpha float64 }

func (l leg) at(deg float64) float64 {
	d := deg - l.deg0
	if l.alpha == 0 {
		return l.t0 + d/l.w0
	}
	root := math.Sqrt(math.Max(0, l.w0*l.w0+2*l.alpha*d))
	if l.w0+root == 0 {
		return l.t0
	}
	return l.t0 + 2*d/(l.w0+root) // the root that keeps its digits
}

// drive is legs one after the other: each point is (rpm, seconds to get there).
type drive []leg

type point struct{ rpm, seconds float64 }

func legs(from float64, to ...point) (d drive, deg, seconds float64) {
	w := from * 6
	for _, p := range to {
		l := leg{deg, seconds, w, (p.rpm*6 - w) / p.seconds}
		d = append(d, l)
		deg += (w + p.rpm*6) / 2 * p.seconds
		seconds += p.seconds
		w = p.rpm * 6
	}
	return d, deg, seconds
}

func (d drive) at(deg float64) float64 {
	i := sort.Search(len(d), func(i int) bool { return d[i].deg0 > deg }) - 1
	return d[max(i, 0)].at(deg)
}

// ripple is cranking: dt/dθ = (1 + ε·cos(mθ))/ω, so t = (θ + ε·sin(mθ)/m)/ω; mθ in radians of m·θ.
type ripple struct{ rpm, eps, perDeg, phase float64 }

func (r ripple) at(deg float64) float64 {
	m := r.perDeg * math.Pi / 180
	return (deg + r.eps*math.Sin(m*deg+r.phase)/m) / (r.rpm * 6)
}

type synth struct {
	intervals  []float64 // between firings, crank degrees
	lead       float64   // in metal, BTDC
	leadSet    float64   // as the controller was told; 0: lead
	widths     []float64 // crank degrees of each vane
	off        []float64 // how late each vane stands
	enter      bool      // the active edge is the vane entering
	highInVane bool
	camAt      float64 // BTDC of cylinder 1 at which the cam vane enters
	camWidth   float64 // crank degrees
	camHigh    bool
	advance    func(rpm float64) float64
	allowance  float64 // µs
	pickup     float64 // µs from metal to crank edge
	delay      float64 // µs from command to spark
	dwell      float64 // s
	jitter     float64 // degrees, sd of each crank edge
	markJitter float64
	timeNoise  float64 // s, sd of each edge as recorded
	motion     course
	from, to   float64 // degrees, 0 is TDC firing of cylinder 1
	noSpark    bool
	seed       uint64

	// truth, filled by run
	crankT [][2]float64 // active edges: time, degrees
	sparkT []float64
	camT   []float64
}

func evenIntervals(n int) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = 720 / float64(n)
	}
	return v
}

func repeat(v float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = v
	}
	return out
}

// eight is a sound invented eight: 49° lead, vanes of 30° crank, cam vane of 80°, 9° locked.
func eight(m course, from, to float64) *synth {
	return &synth{intervals: evenIntervals(8), lead: 49, widths: repeat(30, 8), enter: true, camAt: 109, camWidth: 80,
		advance: func(float64) float64 { return 9 }, allowance: 100, pickup: 40, delay: 60, dwell: 2.2e-3, motion: m, from: from, to: to, seed: 1}
}

const (
	chCrank = iota
	chCam
	chSpark
	chMark
)

func info(names ...string) waveform.Info {
	in := waveform.Info{Name: "synth"}
	for _, n := range names {
		in.Channels = append(in.Channels, waveform.Channel{Name: n, Kind: waveform.Digital})
	}
	return in
}

func kind(rise bool) waveform.EdgeKind {
	if rise {
		return waveform.Rise
	}
	return waveform.Fall
}

// run gives all edges in order of time on channels crank, cam, spark, mark.
func (s *synth) run() []waveform.Edge {
	rng := rand.New(rand.NewPCG(s.seed, 7))
	noise := func(sd float64) float64 {
		if sd == 0 {
			return 0
		}
		return sd * rng.NormFloat64()
	}
	var out []waveform.Edge
	put := func(ch int32, t float64, rise bool) {
		out = append(out, waveform.Edge{At: waveform.Second(t + noise(s.timeNoise)), Channel: ch, Kind: kind(rise)})
	}
	n := len(s.intervals)
	tdc := make([]float64, n)
	for i := 1; i < n; i++ {
		tdc[i] = tdc[i-1] + s.intervals[i-1]
	}
	if s.leadSet == 0 {
		s.leadSet = s.lead
	}
	s.crankT, s.sparkT, s.camT = nil, nil, nil
	var prev float64
	seenCam := false
	edges := 0
	for c := math.Floor(s.from/720) - 1; c*720 < s.to+720; c++ {
		// Cam first: it enters before cylinder 1's edge in all the engines here, or by up to a cycle; order is restored
		// by sorting.
		within := func(deg float64) bool { return deg >= s.from && deg < s.to }
		if in := c*720 - s.camAt; s.camWidth > 0 {
			if within(in) {
				put(chCam, s.motion.at(in), s.camHigh)
				s.camT = append(s.camT, s.motion.at(in))
				seenCam = true
			}
			if within(in + s.camWidth) {
				put(chCam, s.motion.at(in+s.camWidth), !s.camHigh)
			}
		}
		for i := range n {
			off := 0.0
			if s.off != nil {
				off = s.off[i]
			}
			active := c*720 + tdc[i] - s.lead + off + noise(s.jitter)
			other := c*720 + tdc[i] - s.lead + off + s.widths[i] + noise(s.jitter)
			if !s.enter {
				other = c*720 + tdc[i] - s.lead + off - s.widths[i] + noise(s.jitter)
			}
			if within(other) {
				put(chCrank, s.motion.at(other)+s.pickup*1e-6, s.enter != s.highInVane)
			}
			if !within(active) {
				continue
			}
			ta := s.motion.at(active) + s.pickup*1e-6
			put(chCrank, ta, s.enter == s.highInVane)
			s.crankT = append(s.crankT, [2]float64{ta, active})
			edges++
			if edges > 1 && seenCam && !s.noSpark {
				last := ta - prev
				span := s.intervals[(i+n-1)%n]
				a := s.advance(span / last / 6)
				spark := ta + last*(s.leadSet-a)/span - s.allowance*1e-6 + s.delay*1e-6
				put(chSpark, spark-math.Min(s.dwell, 0.7*last), true) // a controller cuts the dwell where it does not fit
				put(chSpark, spark, false)
				s.sparkT = append(s.sparkT, spark)
			}
			prev = ta
		}
		for h := range 2 {
			top := c*720 + float64(h)*360 + noise(s.markJitter)
			if within(top) {
				put(chMark, s.motion.at(top), true)
			}
			if within(top + 2) {
				put(chMark, s.motion.at(top+2), false)
			}
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].At < out[j].At })
	return out
}

func only(edges []waveform.Edge, channels ...int32) []waveform.Edge {
	var out []waveform.Edge
	for _, e := range edges {
		for i, c := range channels {
			if e.Channel == c {
				e.Channel = int32(i)
				out = append(out, e)
				break
			}
		}
	}
	return out
}

var fourNames = []string{"A", "B", "C", "D"} // names that tell nothing

func analyse(t testing.TB, edges []waveform.Edge, names []string, opt Options) *Result {
	t.Helper()
	in := info(names...)
	end := 0.0
	if len(edges) > 0 {
		in.Start = edges[0].At
		end = float64(edges[len(edges)-1].At)
	}
	r, err := Run(context.Background(), Events{Info: in, Edges: edges, End: waveform.Second(end)}, opt)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func locked(deg quantity.Crank) []Command { return []Command{{Speed: 0, Advance: deg}} }
