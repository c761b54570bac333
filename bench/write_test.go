package bench

import (
	"bytes"
	"encoding/binary"
	"encoding/csv"
	"errors"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"phasewright/jobcard"
	"phasewright/quantity"
)

// tool finds a general-purpose program or says loudly what is not checked.
func tool(t *testing.T, name, what string) string {
	t.Helper()
	if testing.Short() {
		t.Skip("NOT CHECKED with -short: " + what)
	}
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("%s is missing: %s", name, what)
		}
		t.Skipf("NOT CHECKED: %s (%s is missing)", what, name)
	}
	return path
}

// countEdges counts the edges of a run by channel and level, straight from the events.
func countEdges(t *testing.T, c Config, p Profile) (rise, fall [channels]int) {
	t.Helper()
	r, err := NewRig(c, Faults{}, p, 5)
	if err != nil {
		t.Fatal(err)
	}
	count := func(ch int, high bool) {
		if high {
			rise[ch]++
		} else {
			fall[ch]++
		}
	}
	r.Run(func(e *Event) bool {
		switch e.Kind {
		case CrankEdge:
			count(onCrank, e.High)
		case CamEdge:
			count(onCam, e.High)
		case Charge:
			count(onSpark, true)
		case Cut:
			count(onSpark, false)
		case Mark:
			count(onMark, true)
			count(onMark, false)
		}
		return true
	})
	return rise, fall
}

func write(t *testing.T, c Config, p Profile, kind string, s Sampling) []byte {
	t.Helper()
	r, err := NewRig(c, Faults{}, p, 5)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	switch kind {
	case "csv":
		err = WriteCSV(&b, r, c, s)
	case "wav":
		err = WriteWAV(&b, r, c, s)
	case "vcd":
		err = WriteVCD(&b, r)
	}
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// The dump read by an independent program holds as many edges as happened. Source: sigrok-cli's VCD reader.
func TestVCDAgainstAnIndependentReader(t *testing.T) {
	path := tool(t, "sigrok-cli", "edge counts of the written VCD against an independent reader")
	c, p := Default(), Hold(3000, quantity.Milliseconds(309))
	file := filepath.Join(t.TempDir(), "run.vcd")
	if err := os.WriteFile(file, write(t, c, p, "vcd", Sampling{}), 0o600); err != nil {
		t.Fatal(err)
	}
	// One row a tick: take every microsecond.
	out, err := exec.Command(path, "-I", "vcd:downsample=1000", "-i", file, "-O", "csv").Output()
	if err != nil {
		t.Fatalf("sigrok-cli: %v", err)
	}
	rise, fall := countEdges(t, c, p)
	var gotRise, gotFall [channels]int
	var last []string
	for _, line := range strings.Split(string(out), "\n") {
		f := strings.Split(strings.TrimSpace(line), ",")
		if len(f) != channels || f[0] != "0" && f[0] != "1" {
			continue
		}
		for i := range f {
			if last != nil && f[i] != last[i] {
				if f[i] == "1" {
					gotRise[i]++
				} else {
					gotFall[i]++
				}
			}
		}
		last = f
	}
	if gotRise != rise || math.Abs(float64(gotFall[onMark]-fall[onMark])) > 1 || gotFall[onCrank] != fall[onCrank] || gotFall[onSpark] != fall[onSpark] {
		t.Errorf("rising %v, falling %v; the events say %v and %v", gotRise, gotFall, rise, fall)
	}
}

// The recording read by sox has the length, rate and channels that were asked.
func TestWAVAgainstAnIndependentReader(t *testing.T) {
	path := tool(t, "sox", "the written WAVE file against an independent reader")
	file := filepath.Join(t.TempDir(), "run.wav")
	if err := os.WriteFile(file, write(t, Default(), Hold(1500, quantity.Seconds(1)), "wav", Sampling{Rate: 50000}), 0o600); err != nil {
		t.Fatal(err)
	}
	for flag, want := range map[string]string{"-r": "50000", "-c": "4", "-s": "50000", "-b": "16", "-e": "Signed Integer PCM"} {
		out, err := exec.Command(path, "--i", flag, file).Output()
		if err != nil || strings.TrimSpace(string(out)) != want {
			t.Errorf("sox --i %s: %q %v, want %s", flag, out, err, want)
		}
	}
}

// In the sampled file the 50 % crossings, interpolated by hand here, stand where the events stand.
func TestCSVEdgesStandWhereTheEventsStand(t *testing.T) {
	c := Default()
	c.Crank.Noise, c.Crank.Rise = 0.001, 40 // a rise of four samples, so that interpolation has something to hold
	p := Hold(1200, quantity.Milliseconds(400))
	rows, err := csv.NewReader(bytes.NewReader(write(t, c, p, "csv", Sampling{}))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 40001 {
		t.Fatalf("%d rows, want a header and 40,000", len(rows))
	}
	var got []float64
	lastT, lastV := 0.0, math.NaN()
	for _, row := range rows[1:] {
		tm, err1 := strconv.ParseFloat(row[0], 64)
		v, err2 := strconv.ParseFloat(row[1], 64)
		if err1 != nil || err2 != nil {
			t.Fatal(row)
		}
		const half = 2.6 // between 0.2 and 5 V
		if (lastV < half) != (v < half) && !math.IsNaN(lastV) {
			got = append(got, 1e6*(lastT+(tm-lastT)*(half-lastV)/(v-lastV)))
		}
		lastT, lastV = tm, v
	}
	r, err := NewRig(c, Faults{}, p, 5)
	if err != nil {
		t.Fatal(err)
	}
	var want []float64
	r.Run(func(e *Event) bool {
		if e.Kind == CrankEdge {
			want = append(want, float64(e.Time))
		}
		return true
	})
	if len(got) != len(want) {
		t.Fatalf("%d edges in the file, %d happened", len(got), len(want))
	}
	for i := range got {
		if math.Abs(got[i]-want[i]) > 0.1 {
			t.Fatalf("edge %d at %.3f µs in the file, happened at %.3f", i, got[i], want[i])
		}
	}
}

// A variable-reluctance recording grows with speed and crosses nought, falling, where the comparator's edge stands.
func TestReluctorWaveform(t *testing.T) {
	c := quiet(4)
	c.Crank.Kind, c.Crank.Noise = jobcard.Reluctor, 0
	var peaks []float64
	for _, n := range []float64{1000, 3000} {
		r, err := NewRig(c, Faults{}, Hold(quantity.Speed(n), quantity.Milliseconds(500)), 5)
		if err != nil {
			t.Fatal(err)
		}
		peak, crossings := 0.0, 0
		last := 0.0
		if err := r.Samples(c, Sampling{}, func(_ quantity.Time, b [4][]float64) error {
			for _, v := range b[0] {
				peak = max(peak, v)
				if last > 0.2 && v < last && v < 0.2 && v > -2 {
					crossings++
				}
				last = v
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		peaks = append(peaks, peak)
		if want := n / 60 * 0.5 * 2; math.Abs(float64(crossings)-want) > 2 { // two teeth pass a turn
			t.Errorf("%g rpm: %d crossings, want %g", n, crossings, want)
		}
	}
	if math.Abs(peaks[0]-8) > 0.05 || math.Abs(peaks[1]-24) > 0.5 { // the gain is 8 V at 1,000 rpm
		t.Errorf("peaks of %v V at 1,000 and 3,000 rpm", peaks)
	}
}

func TestSpareRecordings(t *testing.T) {
	c := quiet(8)
	for _, probe := range []Probe{OnWire1, OnSupply} {
		r, err := NewRig(c, Faults{}, Hold(1500, quantity.Seconds(1)), 5)
		if err != nil {
			t.Fatal(err)
		}
		top, pulses, up := 0.0, 0, false
		if err := r.Samples(c, Sampling{Spark: probe}, func(_ quantity.Time, b [4][]float64) error {
			for _, v := range b[2] {
				top = max(top, v)
				if !up && v >= 1 {
					pulses++
				}
				up = v >= 1 || up && v > 0.5
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		want := 12 // cycles in a second, less the one before sync
		if probe == OnSupply {
			want = 8 * 12
			// Charged for 2.2 ms from 12.6 V through 0.6 Ω and 5 mH: 21·(1 − e^(−0.264)) = 4.873 A, 0.25 V/A.
			if math.Abs(top-0.25*4.873) > 0.1 {
				t.Errorf("current probe reaches %.3f V", top)
			}
		}
		if math.Abs(float64(pulses-want)) > float64(want)/6+1 {
			t.Errorf("%s: %d pulses, want about %d", probe, pulses, want)
		}
	}
}

func TestWAVHeaderAndLimits(t *testing.T) {
	data := write(t, Default(), Hold(1500, quantity.Milliseconds(100)), "wav", Sampling{})
	if n := binary.LittleEndian.Uint32(data[40:]); int(n) != len(data)-44 || n != 10000*8 {
		t.Errorf("data size %d, file of %d bytes", n, len(data))
	}
	c := Default()
	r, err := NewRig(c, Faults{}, Hold(1500, quantity.Seconds(7200)), 1)
	if err != nil {
		t.Fatal(err)
	}
	var e *quantity.Invalid
	if err := WriteWAV(io.Discard, r, c, Sampling{}); !errors.As(err, &e) {
		t.Errorf("two hours at 100 kS/s: %v, want a refusal", err)
	}
	for _, rate := range []float64{3, 1e9, 44100, math.NaN(), -1} {
		if err := WriteCSV(io.Discard, r, c, Sampling{Rate: rate}); !errors.As(err, &e) {
			t.Errorf("rate %g: %v, want a refusal", rate, err)
		}
	}
}

func BenchmarkSampled(b *testing.B) {
	c := Default()
	for _, kind := range []string{"samples", "csv", "wav"} {
		b.Run(kind, func(b *testing.B) {
			const life = 20
			for b.Loop() {
				r, err := NewRig(c, Faults{}, Hold(3000, quantity.Seconds(life)), 1)
				if err != nil {
					b.Fatal(err)
				}
				switch kind {
				case "samples":
					err = r.Samples(c, Sampling{}, func(quantity.Time, [4][]float64) error { return nil })
				case "csv":
					err = WriteCSV(io.Discard, r, c, Sampling{})
				case "wav":
					err = WriteWAV(io.Discard, r, c, Sampling{})
				}
				if err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(life*float64(b.N)/b.Elapsed().Seconds(), "×life")
		})
	}
}

// On the starter the supply sags, and with it the current that a charge reaches: 10.2 V less the driver's 1.2 against
// 13.8 less 1.2 give 0.714 of it (by hand). A sound card takes the direct voltage out: what stands still for 1/(2π·20
// Hz) = 8 ms falls to 1/e.
func TestSupplyAndCouplingShowInSamples(t *testing.T) {
	top := func(p Profile) (v float64) {
		r, err := NewRig(Default(), Faults{}, p, 1)
		if err != nil {
			t.Fatal(err)
		}
		if err := r.Samples(Default(), Sampling{Spark: OnSupply}, func(_ quantity.Time, b [4][]float64) error {
			for _, x := range b[onSpark] {
				v = max(v, x)
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		return v
	}
	if share := top(Cranking(quantity.Seconds(3))) / top(Hold(1500, quantity.Seconds(1))); math.Abs(share-0.714) > 0.05 {
		t.Errorf("on the starter the current reaches %.3f of its running height", share)
	}
	r, err := NewRig(Default(), Faults{}, Hold(60, quantity.Seconds(2)), 1)
	if err != nil {
		t.Fatal(err)
	}
	var v []float64
	if err := r.Samples(Default(), Sampling{Rate: 48000, Corner: 20}, func(_ quantity.Time, b [4][]float64) error {
		v = append(v, b[onCrank]...)
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	if len(v) != 96000 {
		t.Errorf("%d samples in two seconds of 48,000", len(v))
	}
	for i := 1; i+382 < len(v); i++ { // 382 samples are 8 ms
		if step := v[i] - v[i-1]; math.Abs(step) > 4 && math.Abs(v[i+382]/v[i+1]-1/math.E) > 0.03 {
			t.Errorf("%.2f V fall to %.2f V in 8 ms", v[i+1], v[i+382])
		}
	}
}
