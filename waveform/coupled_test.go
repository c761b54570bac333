package waveform

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// highPass is a first-order high-pass at fc for samples of rate fs: what a sound card's input does near 20 Hz
// (common practice).
func highPass(v []float64, fc, fs float64) []float64 {
	a := 1 / (1 + 2*math.Pi*fc/fs)
	out := make([]float64, len(v))
	y, x := 0.0, v[0]
	for i, s := range v {
		y = a * (y + s - x)
		x = s
		out[i] = y
	}
	return out
}

// TestDroopingSquare: squares from cranking (4.5 Hz, they droop to nothing between edges) to speed, through a 20 Hz
// high-pass: every edge is found, none besides, and timed within a tenth of a sample.
func TestDroopingSquare(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 32))
	const fs = 48000.0
	for _, f := range []float64{4.5, 9, 40, 300} {
		period := fs / f
		n := int(12.3 * period)
		sq := trapezoids(n, period, 4, -0.4, 0.4) // both samples beside the middle lie on the slope, so a straight line is exact
		v := highPass(sq, 20, fs)
		for i := range v {
			v[i] += 0.0005 * rng.NormFloat64()
		}
		r := readValues(t, 1/fs, v, Options{})
		e := edgesOf(r, 0)
		for len(e) > 0 && float64(e[0].At)*fs < period/4 {
			e = e[1:] // the recording begins half-way up an edge
		}
		if want := int(float64(n-3) / (period / 2)); len(e) != want {
			t.Errorf("%g Hz (%v): %d edges, want %d", f, r.Channels[0].Method, len(e), want)
			continue
		}
		for i, x := range e {
			near(t, fmt.Sprintf("%g Hz: edge %d, samples", f, i), float64(x.At)*fs, period/2*float64(i+1), 0.1)
		}
	}
}

// TestDriftingBaseline: a baseline that walks by three amplitudes does not hide edges.
func TestDriftingBaseline(t *testing.T) {
	v := trapezoids(40_000, 400, 3, 0, 5)
	for i := range v {
		v[i] += 15 * float64(i) / 40_000
	}
	r := readValues(t, 1e-5, v, Options{})
	e := edgesOf(r, 0)
	if len(e) > 0 && e[0].At < 1e-3 {
		e = e[1:] // the recording begins half-way up an edge
	}
	if len(e) != 199 {
		t.Fatalf("%d edges by %v, want 199", len(e), r.Channels[0].Method)
	}
	for i, x := range e {
		near(t, fmt.Sprintf("edge %d, samples", i), float64(x.At)*1e5, 200*float64(i+1), 0.05)
	}
}

// reluctance is an invented variable-reluctance signal: flux in a Gaussian bump a tooth, voltage its slope times speed,
// so the swing grows with speed and the voltage passes zero, falling, where the tooth stands before the pole. It
// returns the instants (samples) of the teeth.
func reluctance(n int, speed func(i int) float64) (v []float64, teeth []float64) {
	pos := 0.0
	v = make([]float64, n)
	for i := range v {
		s := speed(i)
		before := pos
		pos += s
		for k := math.Ceil(before); k < pos; k++ {
			teeth = append(teeth, float64(i)+(k-before)/s)
		}
		p := before - math.Round(before)
		v[i] = -p / 0.08 * math.Exp(-p*p/(2*0.08*0.08)) * s * 400
	}
	return v, teeth
}

// TestReluctance: teeth are timed at the falling zero crossing while the swing grows twentyfold, and the falling
// polarity is named as the steep one. With the wires changed over the rising one is.
func TestReluctance(t *testing.T) {
	rng := rand.New(rand.NewPCG(41, 42))
	v, teeth := reluctance(200_000, func(i int) float64 { return 0.0005 + 0.0095*float64(i)/200_000 })
	teeth = teeth[1:] // the first stands at the very first sample
	for _, sign := range []float64{1, -1} {
		w := make([]float64, len(v))
		for i := range v {
			w[i] = sign*v[i] + 0.002*rng.NormFloat64()
		}
		r := readValues(t, 1e-5, w, Options{})
		c := r.Channels[0]
		want := Fall
		if sign < 0 {
			want = Rise
		}
		if c.Method != ByZeroCrossing || c.Active != want {
			t.Fatalf("method %v, active %v, want zero crossings, %v", c.Method, c.Active, want)
		}
		var at []float64
		for _, e := range edgesOf(r, 0) {
			if e.Kind == want {
				at = append(at, float64(e.At)*1e5)
			}
		}
		if len(at) != len(teeth) {
			t.Fatalf("%d crossings, want %d teeth", len(at), len(teeth))
		}
		for i, x := range at {
			s := 0.0005 + 0.0095*teeth[i]/200_000
			slope := 400 / 0.08 * s * s // volts a sample at the crossing
			near(t, fmt.Sprintf("tooth %d, samples", i), x, teeth[i], 0.05+4*0.002/slope)
		}
	}
}

// TestNoUsableSignal: noise, a constant and a single sample are said to be what they are, and give no edge.
func TestNoUsableSignal(t *testing.T) {
	rng := rand.New(rand.NewPCG(51, 52))
	noise := make([]float64, 20_000)
	for i := range noise {
		noise[i] = rng.NormFloat64()
	}
	for name, v := range map[string][]float64{"noise": noise, "constant": make([]float64, 5000), "one sample": {3.3}} {
		r := readValues(t, 1e-5, v, Options{})
		if c := r.Channels[0]; c.Method != MethodNone || len(edgesOf(r, 0)) > 0 || len(r.Warnings) == 0 {
			t.Errorf("%s: method %v, %d edges, warnings %v", name, c.Method, len(edgesOf(r, 0)), r.Warnings)
		}
	}
}

// TestLateWake: a channel that was still in the survey of a large file is learnt when it wakes, no edge is lost, and
// Revise comes before its edges.
func TestLateWake(t *testing.T) {
	const n, head, line = 800_000, 9, 21
	// one pulse of 20 samples, where the survey's blocks do not reach
	stride := (n*line - surveyText/surveyParts) / (surveyParts - 1)
	wake := (n/2*line/stride*stride + stride*2/3) / line
	b := []byte("time,a,b\n")
	for i := range n {
		late := "0.0"
		if i >= wake && i < wake+20 {
			late = "5.0"
		}
		b = fmt.Appendf(b, "%07d.0e-6,%d.0,%s\n", i, i/1000%2*5, late)
	}
	if len(b) != head+n*line {
		t.Fatalf("%d bytes", len(b))
	}
	s := &reviseSink{}
	r := scanBytes(t, b, Options{}, s)
	if r.Channels[1].Rises != 1 || r.Channels[1].Falls != 1 {
		t.Errorf("late channel: %d up, %d down, want 1, 1", r.Channels[1].Rises, r.Channels[1].Falls)
	}
	if s.revised == 0 || s.early {
		t.Errorf("revised %d times, edges before that: %v", s.revised, s.early)
	}
	near(t, "late high level", r.Channels[1].High, 5, 1e-9)
	if r.Channels[0].Rises != 400 {
		t.Errorf("other channel: %d rises, want 400", r.Channels[0].Rises)
	}
}

// TestSawTooth: coil current rises slowly through the dwell and ends sharply (invented: 0 to 7 A in 3 ms of every 10):
// one pulse a firing, whose end, the spark, is timed within a sample.
func TestSawTooth(t *testing.T) {
	rng := rand.New(rand.NewPCG(81, 82))
	v := make([]float64, 100_000) // 10 µs a sample: 100 firings
	for i := range v {
		if p := i % 1000; p >= 500 && p < 800 {
			v[i] = 7 * float64(p-500) / 300
		}
		v[i] += 0.03 * rng.NormFloat64()
	}
	r := readValues(t, 1e-5, v, Options{})
	e := edgesOf(r, 0)
	if len(e) != 200 {
		t.Fatalf("%d edges by %v, want 200", len(e), r.Channels[0].Method)
	}
	for i, x := range e {
		if (x.Kind == Rise) != (i%2 == 0) {
			t.Fatalf("edge %d is %v", i, x.Kind)
		}
		if x.Kind == Fall {
			near(t, "spark, samples", float64(x.At)*1e5, float64(i/2*1000)+799.5, 0.5)
		} else {
			near(t, "half current, samples", float64(x.At)*1e5, float64(i/2*1000)+650, 12)
		}
	}
}
