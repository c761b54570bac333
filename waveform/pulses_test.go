package waveform

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"
)

func near(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s is %.12g, want %.12g ± %g", what, got, want, tol)
	}
}

func readFile(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestPulseExample: the worked example in the terms of IEEE Std 181-2011 and IEC 60469:2013 (testdata/pulse.json,
// pulse_example.csv): state levels by histogram, 50 % instants by linear interpolation, pulse duration and period. The
// instants are of the sampled waveform, computed twice independently.
func TestPulseExample(t *testing.T) {
	var x struct {
		Example struct {
			Continuous struct {
				Low  float64 `json:"low_V"`
				High float64 `json:"high_V"`
			}
			Sampled struct {
				Instants map[string][]float64 `json:"instants_us"`
				Duration float64              `json:"pulse_duration_us"`
				Period   float64              `json:"period_us"`
			} `json:"sampled_linear_interpolation"`
		}
	}
	if err := json.Unmarshal(readFile(t, "testdata/pulse.json"), &x); err != nil {
		t.Fatal(err)
	}
	data := readFile(t, "testdata/pulse_example.csv")
	r, err := ReadAll(context.Background(), File("pulse_example.csv", bytes.NewReader(data), int64(len(data))), Options{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "low level", r.Channels[0].Low, x.Example.Continuous.Low, 1e-12)
	near(t, "high level", r.Channels[0].High, x.Example.Continuous.High, 1e-12)
	e := edgesOf(r, 0)
	want := x.Example.Sampled.Instants["50%"]
	if len(e) != 4 || len(want) != 4 {
		t.Fatalf("%d edges, want %d", len(e), len(want))
	}
	const tol = 7e-5 // the table's values are printed to 5 µV, and the slope is 0.0767 V/µs
	for i, w := range want {
		near(t, fmt.Sprintf("50 %% instant %d, µs", i), float64(e[i].At)*1e6, w, tol)
	}
	near(t, "pulse duration, µs", float64(e[1].At-e[0].At)*1e6, x.Example.Sampled.Duration, 2*tol)
	near(t, "period, µs", float64(e[2].At-e[0].At)*1e6, x.Example.Sampled.Period, 2*tol)
}

// TestTrapezoid: testdata/pulse_trapezoid.csv with closed-form answers (pulse_expected.json): 0.2 and 4.8 V, 50 % at
// 103.5 and 301.5 µs.
func TestTrapezoid(t *testing.T) {
	data := readFile(t, "testdata/pulse_trapezoid.csv")
	r, err := ReadAll(context.Background(), File("pulse_trapezoid.csv", bytes.NewReader(data), int64(len(data))), Options{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "low level", r.Channels[0].Low, 0.2, 1e-12)
	near(t, "high level", r.Channels[0].High, 4.8, 1e-12)
	e := edgesOf(r, 0)
	if len(e) != 2 || e[0].Kind != Rise || e[1].Kind != Fall {
		t.Fatalf("edges %v", e)
	}
	near(t, "rise, µs", float64(e[0].At)*1e6, 103.5, 1e-9)
	near(t, "fall, µs", float64(e[1].At)*1e6, 301.5, 1e-9)
}

// tableOf prints one channel as a table with even steps.
func tableOf(dt float64, v []float64) []byte {
	b := []byte("time_s,x\n")
	for i, x := range v {
		b = fmt.Appendf(b, "%.9f,%.6f\n", float64(i)*dt, x)
	}
	return b
}

func readValues(t testing.TB, dt float64, v []float64, opt Options) *Recording {
	t.Helper()
	data := tableOf(dt, v)
	r, err := ReadAll(context.Background(), File("x.csv", bytes.NewReader(data), int64(len(data))), opt)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// trapezoids is an invented square with straight edges of the given width (samples), rising half-way at period·k and
// falling half-way at period·(k+1/2).
func trapezoids(n int, period, edge, low, high float64) []float64 {
	v := make([]float64, n)
	for i := range v {
		p := math.Mod(float64(i), period)
		up := func(x float64) float64 { return min(max(x/edge+0.5, 0), 1) }
		s := up(p) - up(p-period/2) + up(p-period)
		v[i] = low + (high-low)*s
	}
	return v
}

// TestNoiseAndHysteresis: noise of a known standard deviation is measured within 5 %, levels within a hundredth
// of the amplitude, and gives no false edge; edges come where they were put, within what the noise allows (6 σ
// of noise/slope).
func TestNoiseAndHysteresis(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 22))
	for _, sigma := range []float64{0.02, 0.2, 0.4} {
		v := trapezoids(50_000, 500, 8, 0, 5)
		for i := range v {
			v[i] += sigma * rng.NormFloat64()
		}
		r := readValues(t, 1e-6, v, Options{})
		c := r.Channels[0]
		near(t, "noise", c.Noise, sigma, 0.05*sigma+0.01)
		near(t, "low", c.Low, 0, 0.05)
		near(t, "high", c.High, 5, 0.05)
		e := edgesOf(r, 0)
		if len(e) != 199 {
			t.Fatalf("σ %g: %d edges, want 199", sigma, len(e))
		}
		for i, x := range e {
			near(t, "edge, samples", float64(x.At)*1e6, 250*float64(i+1), 6*sigma/(5.0/8)+0.01)
		}
	}
}

// TestFewSamplesAPeriod: a square of four samples a period, where most neighbours differ, still has two levels.
func TestFewSamplesAPeriod(t *testing.T) {
	v := make([]float64, 400)
	for i := range v {
		v[i] = float64(i / 2 % 2 * 5)
	}
	r := readValues(t, 1e-6, v, Options{})
	e := edgesOf(r, 0)
	if len(e) != 199 || r.Channels[0].Low != 0 || r.Channels[0].High != 5 {
		t.Fatalf("%d edges by %v, levels %v and %v, want 199, 0 and 5", len(e), r.Channels[0].Method, r.Channels[0].Low, r.Channels[0].High)
	}
	for i, x := range e {
		near(t, "edge, samples", float64(x.At)*1e6, float64(2*i)+1.5, 1e-9)
	}
}

// TestRunts: a pulse that does not leave its state is no pulse (IEEE 181: a runt), one that does is, and one that stays
// within the thresholds is timed at its last crossing of the middle.
func TestRunts(t *testing.T) {
	v := trapezoids(4000, 400, 2, 0, 5)
	for i := range 5 {
		v[1450+i] = 3.2 // 64 % from the low state: a runt
		v[1850+i] = 4.5
	}
	r := readValues(t, 1e-6, v, Options{})
	if n := len(edgesOf(r, 0)); n != 19+2 {
		t.Errorf("%d edges, want 21: a runt of 64 %% counts for nothing, a pulse of 90 %% for two", n)
	}
}

// TestGlitchWidth: pulses shorter than Options.Glitch are reported as short pulses with their width, longer ones are
// kept, and the counts say so.
func TestGlitchWidth(t *testing.T) {
	v := trapezoids(4000, 400, 2, 0, 5)
	for i := range 4 {
		v[1460+i] = 5 // high for 4 samples within a low
	}
	for i := range 20 {
		v[1840+i] = 5
	}
	for i := range 3 {
		v[2090+i] = 0 // low for 3 samples within a high
	}
	r := readValues(t, 1e-6, v, Options{Glitch: 10e-6})
	if c := r.Channels[0]; c.Shorts != 2 || c.Rises != 10 || c.Falls != 11 {
		t.Errorf("%d rises, %d falls, %d short, want 10, 11, 2", c.Rises, c.Falls, c.Shorts)
	}
	var got []Edge
	for _, e := range r.Edges {
		if e.Kind == ShortHigh || e.Kind == ShortLow {
			got = append(got, e)
		}
	}
	if len(got) != 2 || got[0].Kind != ShortHigh || got[1].Kind != ShortLow {
		t.Fatalf("short pulses %v", got)
	}
	near(t, "short high at, µs", float64(got[0].At)*1e6, 1459.5, 1e-6)
	near(t, "short high width, µs", float64(got[0].Width)*1e6, 4, 1e-6)
	near(t, "short low at, µs", float64(got[1].At)*1e6, 2089.5, 1e-6)
	near(t, "short low width, µs", float64(got[1].Width)*1e6, 3, 1e-6)
}

// TestSlowTransitionsAndOrder: a ramp of 200,000 samples holds nobody up: edges stay in order of time and the slow one
// is counted.
func TestSlowTransitionsAndOrder(t *testing.T) {
	n := 460_000
	b := []byte("time,slow,quick\n")
	for i := range n {
		slow := min(max(float64(i-100_000)/200_000, 0), 1) * 5
		b = fmt.Appendf(b, "%d.0e-6,%.6f,%d.1\n", i, slow, i/1000%2*5)
	}
	r, err := ReadAll(context.Background(), File("x.csv", bytes.NewReader(b), int64(len(b))), Options{Methods: map[string]Method{"slow": ByLevels}})
	if err != nil {
		t.Fatal(err)
	}
	for i := 1; i < len(r.Edges); i++ {
		if r.Edges[i].At < r.Edges[i-1].At {
			t.Fatalf("edge %d at %v after %v", i, r.Edges[i].At, r.Edges[i-1].At)
		}
	}
	if r.Channels[0].Slow != 0 || r.Channels[0].Rises != 1 {
		// from the middle (sample 200,000) to the threshold at 70 % (240,000) are 40,000 samples: within the bound
		t.Errorf("slow %d, rises %d", r.Channels[0].Slow, r.Channels[0].Rises)
	}
	if e := edgesOf(r, 0); len(e) == 1 {
		near(t, "slow edge, s", float64(e[0].At), 0.2, 1e-6)
	}
	if r.Channels[1].Rises != 230 {
		t.Errorf("quick: %d rises, want 230", r.Channels[1].Rises)
	}
}
