package waveform

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// saggedWave is an invented pickup: pulses of two fifths of the period between a level that holds and one that is only
// share of its height, from the beginning until a fifth of the recording, as on the starter; then at once, or by and
// by, full. edge is how many samples an edge lasts.
type saggedWave struct {
	share, edge, noise float64
	slowly             bool // the height recovers through the whole recording
	down               bool // pulses go down from a high level that holds
	tooth              bool // a coil's current: climbs from nought and ends sharply
}

const (
	sagPeriod = 400
	sagPulses = 200
)

func (w saggedWave) height(pulse int) float64 {
	switch {
	case w.slowly:
		return w.share + (1-w.share)*float64(pulse)/sagPulses
	case pulse < sagPulses/5:
		return w.share
	}
	return 1
}

// samples gives the wave and the true places of its edges, in samples.
func (w saggedWave) samples(rng *rand.Rand) (v, edges []float64) {
	v = make([]float64, sagPeriod*sagPulses)
	for p := range sagPulses {
		on := float64(p*sagPeriod) + 200 + rng.Float64()
		off := on + 0.4*sagPeriod
		edges = append(edges, on, off)
		for i := p * sagPeriod; i < (p+1)*sagPeriod; i++ {
			t := float64(i)
			x := min(max((t-on)/w.edge+0.5, 0), 1) - min(max((t-off)/w.edge+0.5, 0), 1)
			if w.tooth {
				x = 0
				if t > on && t < off {
					x = (t - on) / (off - on)
				}
				x = min(x, max(0, (off+w.edge/2-t)/w.edge))
			}
			v[i] = 5 * w.height(p) * x
			if w.down {
				v[i] = 5 - v[i]
			}
		}
	}
	for i := range v {
		v[i] += w.noise * rng.NormFloat64()
	}
	return v, edges
}

// TestSaggingSupply: pulses of 40 to 100 % of the usual height at the beginning are all found, none besides, and timed
// as well as full ones: where edges are quick, half-way between their own levels; slow ones where they cross a middle
// that is low for full pulses, at the worst by two fifths of the edge too soon or too late.
func TestSaggingSupply(t *testing.T) {
	rng := rand.New(rand.NewPCG(91, 92))
	step, edges := 0.1, []float64{0.5, 4, 60}
	if testing.Short() {
		step, edges = 0.3, edges[1:2]
	}
	for _, slowly := range []bool{false, true} {
		for _, down := range []bool{false, true} {
			for _, edge := range edges {
				for share := 0.4; share < 1.01; share += step {
					w := saggedWave{share: share, edge: edge, noise: 0.02, slowly: slowly, down: down}
					v, want := w.samples(rng)
					r := readValues(t, 1e-5, v, Options{})
					e := edgesOf(r, 0)
					if len(e) != len(want) {
						t.Errorf("%+v by %v: %d edges, want %d", w, r.Channels[0].Method, len(e), len(want))
						continue
					}
					most := max(0.6, 0.4*edge)
					for i, x := range e {
						near(t, fmt.Sprintf("%+v: edge %d, samples", w, i), float64(x.At)*1e5, want[i], most)
					}
				}
			}
		}
	}
}

// TestSaggingCurrent: the same for a coil's current. The end of each charge, the spark, is found and timed within
// a sample.
func TestSaggingCurrent(t *testing.T) {
	rng := rand.New(rand.NewPCG(93, 94))
	for _, slowly := range []bool{false, true} {
		for share := 0.4; share < 1.01; share += 0.1 {
			w := saggedWave{share: share, edge: 0.2, noise: 0.03, slowly: slowly, tooth: true}
			v, want := w.samples(rng)
			r := readValues(t, 1e-5, v, Options{})
			e := edgesOf(r, 0)
			if len(e) != len(want) {
				t.Errorf("%+v by %v: %d edges, want %d", w, r.Channels[0].Method, len(e), len(want))
				continue
			}
			for i := 1; i < len(e); i += 2 {
				near(t, fmt.Sprintf("%+v: spark %d, samples", w, i/2), float64(e[i].At)*1e5, want[i], 1)
			}
		}
	}
}

// TestSaggingSameBytes: what is learnt of a sagging supply does not depend on chunks and workers.
func TestSaggingSameBytes(t *testing.T) {
	rng := rand.New(rand.NewPCG(95, 96))
	a, _ := saggedWave{share: 0.45, edge: 3, noise: 0.02}.samples(rng)
	b, _ := saggedWave{share: 0.5, edge: 0.2, noise: 0.03, tooth: true}.samples(rng)
	data := wavHeader(2, 48000, 16, len(a))
	for i := range a {
		x, y := int16(a[i]*3000), int16(b[i]*3000)
		data = append(data, byte(x), byte(x>>8), byte(y), byte(y>>8))
	}
	want := printed(t, File("x", bytes.NewReader(data), int64(len(data))), Options{Workers: 1})
	for _, workers := range []int{1, 2, 7} {
		for _, chunk := range []int{1009, 65537, 0} {
			if got := printed(t, File("x", bytes.NewReader(data), int64(len(data))), Options{Workers: workers, Chunk: chunk}); got != want {
				t.Fatalf("%d workers, chunk %d: %s", workers, chunk, firstDifference(got, want))
			}
		}
	}
}

// TestRuntsStayRunts: single runts, and crosstalk between pulses, alike and as high as 45 %, are no sagging supply:
// they give no edges.
func TestRuntsStayRunts(t *testing.T) {
	rng := rand.New(rand.NewPCG(97, 98))
	for name, spike := range map[string]func(pulse int) (height float64, lasts int){
		"crosstalk seven to a pulse": func(p int) (float64, int) { return 0.45, 5 },
		"a runt in ten":              func(p int) (float64, int) { return 0.6 * math.Floor(float64(p%10)/9), 60 },
		"crosstalk before it starts": func(p int) (float64, int) { return 0.45, 12 },
		"noise bursts, no two alike": func(p int) (float64, int) { return 0.6 * rng.Float64() * rng.Float64(), 30 },
	} {
		w := saggedWave{share: 1, edge: 2, noise: 0.02}
		v, want := w.samples(rng)
		for p := range sagPulses {
			if name == "crosstalk before it starts" && p < sagPulses/5 {
				for i := p * sagPeriod; i < (p+1)*sagPeriod; i++ {
					v[i] = 0.02 * rng.NormFloat64()
				}
			}
			every := 180
			if name == "crosstalk seven to a pulse" {
				every = 25
			}
			for at := 5; at < 180; at += every {
				h, n := spike(p)
				for i := range n {
					v[p*sagPeriod+at+i] += 5 * h
				}
			}
		}
		if name == "crosstalk before it starts" {
			want = want[2*sagPulses/5:]
		}
		r := readValues(t, 1e-5, v, Options{})
		if e := edgesOf(r, 0); len(e) != len(want) {
			t.Errorf("%s by %v: %d edges, want %d; %v", name, r.Channels[0].Method, len(e), len(want), r.Warnings)
		}
	}
}
