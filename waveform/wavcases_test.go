package waveform

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"phasewright/waveform/wav"
)

// need finds a tool, or skips loudly; where CI is set its absence is a failure.
func need(t testing.TB, tool string) string {
	t.Helper()
	if testing.Short() {
		t.Skipf("NOT CHECKED with -short: nothing is compared with %s", tool)
	}
	p, err := exec.LookPath(tool)
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("%s is not installed", tool)
		}
		t.Skipf("NOT CHECKED: %s is not installed; nothing was compared with it", tool)
	}
	return p
}

func runTool(t testing.TB, name string, args ...string) []byte {
	t.Helper()
	var out, errs bytes.Buffer
	c := exec.Command(need(t, name), args...)
	c.Stdout, c.Stderr = &out, &errs
	if err := c.Run(); err != nil {
		t.Fatalf("%s %v: %v: %s", name, args, err, errs.String())
	}
	return out.Bytes()
}

func readPath(t testing.TB, path string, opt Options) (*Recording, error) {
	t.Helper()
	b := readFile(t, path)
	return ReadAll(context.Background(), File(filepath.Base(path), bytes.NewReader(b), int64(len(b))), opt)
}

// TestWaveAgainstSox: sox writes a 100 Hz square of every width, integer and float (16-, 18- and 40-byte formats, fact
// chunks); read back by us it has the same frames, and the same samples as sox's own conversion to 64-bit float.
func TestWaveAgainstSox(t *testing.T) {
	dir := t.TempDir()
	raw := filepath.Join(dir, "x.f64")
	for _, c := range [][]string{{"-b", "8"}, {"-b", "16"}, {"-b", "24"}, {"-b", "32"}, {"-e", "float", "-b", "32"}, {"-e", "float", "-b", "64"}} {
		for _, channels := range []string{"1", "2", "5"} {
			t.Run(strings.Join(c, "")+"x"+channels, func(t *testing.T) {
				path := filepath.Join(dir, "x.wav")
				runTool(t, "sox", append(append([]string{"-D", "-n", "-r", "44100", "-c", channels}, c...), path, "synth", "0.2", "square", "100", "gain", "-6")...)
				runTool(t, "sox", "-D", path, "-t", "f64", raw)
				want := readFile(t, raw)
				r, err := readPath(t, path, Options{})
				if err != nil {
					t.Fatal(err)
				}
				n := len(r.Channels)
				if fmt.Sprint(n) != channels || r.Rows != 8820 || len(want) != 8820*8*n || len(r.Warnings) > 0 {
					t.Fatalf("%d channels, %d rows, %d bytes by sox, warnings %v", n, r.Rows, len(want), r.Warnings)
				}
				for i := range want[:len(want)/8] {
					w := math.Float64frombits(binary.LittleEndian.Uint64(want[8*i:]))
					if got := r.Values[i%n][i/n]; math.Abs(got-w) > 1.0/(1<<31) {
						t.Fatalf("sample %d is %v, sox says %v", i, got, w)
					}
				}
				if e := edgesOf(r, 0); len(e) < 38 || len(e) > 40 {
					t.Errorf("%d edges in 20 periods", len(e))
				}
			})
		}
	}
}

// TestWaveWrongSizes: sox into a pipe writes data size 0x7FFFF000 whatever the length; read to the end, and say so.
func TestWaveWrongSizes(t *testing.T) {
	b := runTool(t, "sox", "-n", "-r", "8000", "-b", "16", "-t", "wav", "-", "synth", "1", "square", "100")
	if len(b) != 44+16000 {
		t.Fatalf("%d bytes", len(b))
	}
	for name, in := range map[string]Input{"file": File("p.wav", bytes.NewReader(b), int64(len(b))), "pipe": Stream("p.wav", bytes.NewReader(b), -1)} {
		r, err := ReadAll(context.Background(), in, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if r.Rows != 8000 || len(r.Warnings) == 0 || !strings.Contains(r.Warnings[0].Text, "read to the end") {
			t.Errorf("%s: %d rows, warnings %v", name, r.Rows, r.Warnings)
		}
	}
}

// TestRF64: written by sndfile-convert: sizes 0xFFFFFFFF with a ds64 chunk (EBU Tech 3306); BW64 (ITU-R BS.2088) is the
// same file under another name.
func TestRF64(t *testing.T) {
	need(t, "sndfile-convert")
	dir := t.TempDir()
	wav, rf := filepath.Join(dir, "a.wav"), filepath.Join(dir, "a.rf64")
	runTool(t, "sox", "-n", "-r", "48000", "-c", "2", "-b", "16", wav, "synth", "0.5", "square", "100")
	runTool(t, "sndfile-convert", wav, rf)
	a, err := readPath(t, wav, Options{})
	if err != nil {
		t.Fatal(err)
	}
	data := readFile(t, rf)
	if string(data[:4]) != "RF64" {
		t.Fatalf("sndfile-convert wrote %q", data[:4])
	}
	for _, id := range []string{"RF64", "BW64"} {
		copy(data, id)
		b, err := ReadAll(context.Background(), File("a."+id, bytes.NewReader(data), int64(len(data))), Options{})
		if err != nil {
			t.Fatal(err)
		}
		if b.Rows != 24000 || fmt.Sprint(a.Values) != fmt.Sprint(b.Values) || len(b.Warnings) > 0 {
			t.Errorf("%s: %d rows, warnings %v", id, b.Rows, b.Warnings)
		}
	}
}

// sparse is a recording of any size that takes no memory: a head, then a square of 2000 frames' period on two
// 16-bit channels.
type sparse struct {
	head []byte
	size int64
}

func (s sparse) ReadAt(p []byte, off int64) (int, error) {
	n := 0
	for n < len(p) && off < s.size {
		if off < int64(len(s.head)) {
			p[n] = s.head[off]
		} else if i := off - int64(len(s.head)); i&1 == 1 {
			p[n] = 0xe0
			if i/4%2000 < 1000 {
				p[n] = 0x20
			}
		} else {
			p[n] = 0
		}
		n++
		off++
	}
	if n < len(p) {
		return n, errEOF
	}
	return n, nil
}

// TestBeyondFourGiB: an RF64 of 4.5 GiB: frames come from ds64, and the last frames are reached. Only its ends are read
// here (the survey and an overview query), since 4.5 GiB would take seconds.
func TestBeyondFourGiB(t *testing.T) {
	const frames = int64(1_200_000_000)
	h := append([]byte("RF64\xff\xff\xff\xffWAVEds64\x1c\x00\x00\x00"), make([]byte, 28)...)
	binary.LittleEndian.PutUint64(h[20:], uint64(frames*4+72))
	binary.LittleEndian.PutUint64(h[28:], uint64(frames*4))
	binary.LittleEndian.PutUint64(h[36:], uint64(frames))
	h = append(h, wavHeader(2, 192000, 16, 0)[12:]...)
	copy(h[len(h)-4:], "\xff\xff\xff\xff")
	src, err := openSource(context.Background(), File("big.rf64", sparse{h, int64(len(h)) + frames*4}, int64(len(h))+frames*4), Options{})
	if err != nil {
		t.Fatal(err)
	}
	lay, p := wav.Head(src, src.size, maxFront)
	if p != nil {
		t.Fatal(p)
	}
	if lay.Frames != frames || len(lay.Warnings) > 0 {
		t.Fatalf("%d frames, want %d; %v", lay.Frames, frames, lay.Warnings)
	}
	o := &Overview{at: src.at, size: src.size, store: []int{0, 1}, held: make([]bool, 2), bound: make([][2]float64, 2), two: make([]bool, 2), starts: []float64{0},
		lo: [][]float32{{0}, {0}}, hi: [][]float32{{0}, {0}}, end: Second(frames-1) / 192000,
		table: &table{lay: lay, parser: func() rowParser { return lay.NewParser() }, body: lay.Body, end: src.size, unit: 4,
			interval: 1 / lay.Rate}}
	e, err := o.Query(context.Background(), 1, o.end-1, o.end, 10)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range e {
		if x != (Extent{-0.25, 0.25}) {
			t.Errorf("extents %v, want -0.25 to 0.25", e)
			break
		}
	}
}

// TestWaveCases: wav_cases.csv, files of Debian packages (python3-scipy 1.10.1, alsa-utils 1.2.8) used in place.
func TestWaveCases(t *testing.T) {
	const scipy = "/usr/lib/python3/dist-packages/scipy/io/tests/data/"
	const alsa = "/usr/share/sounds/alsa/"
	type first [][]float64
	for _, c := range []struct {
		path   string
		rows   int64
		unit   float64 // of the values in first
		first  first   // frames
		refuse string
		kind   error
		warn   string
		more   bool // the container holds more bits than are valid: the values are printed without them
	}{
		{path: scipy + "test-8000Hz-le-2ch-1byteu.wav", rows: 800, unit: 1. / 128, first: first{{136 - 128, 136 - 128}, {189 - 128, 189 - 128}, {217 - 128, 218 - 128}}},
		{path: scipy + "test-8000Hz-le-3ch-5S-24bit.wav", rows: 5, unit: 1. / (1 << 23), first: first{{-8388608, -8388607, -2}, {-4194304, -4194303, -1}}},
		{path: scipy + "test-8000Hz-le-3ch-5S-24bit-inconsistent.wav", refuse: "block alignment", kind: ErrMalformed},
		{path: scipy + "test-8000Hz-le-1ch-10S-20bit-extra.wav", rows: 10, unit: 1. / (1 << 19), first: first{{524287}, {-524287}, {262143}, {-262143}}, more: true},
		{path: scipy + "test-8000Hz-le-4ch-9S-12bit.wav", rows: 9},
		{path: scipy + "test-8000Hz-le-5ch-9S-5bit.wav", rows: 9},
		{path: scipy + "test-44100Hz-2ch-32bit-float-le.wav", rows: 441, unit: 1, first: first{{0, 0}, {0.0501186848, 0.0501186848}, {0.1000404358, 0.1000404358}}},
		{path: scipy + "test-44100Hz-2ch-32bit-float-be.wav", rows: 441, unit: 1, first: first{{0, 0}, {0.0501186848, 0.0501186848}, {0.1000404358, 0.1000404358}}},
		{path: scipy + "test-44100Hz-le-1ch-4bytes.wav", rows: 4410, unit: 1. / (1 << 31), first: first{{9538171}, {211394107}, {428130516}}},
		{path: scipy + "test-44100Hz-le-1ch-4bytes-early-eof.wav", rows: 236, warn: "read to the end"},
		{path: scipy + "test-44100Hz-le-1ch-4bytes-early-eof-no-data.wav", refuse: "before any samples", kind: ErrTruncated},
		{path: scipy + "test-44100Hz-le-1ch-4bytes-incomplete-chunk.wav", refuse: "the file ends", kind: ErrTruncated},
		{path: scipy + "test-48000Hz-2ch-64bit-float-le-wavex.wav", rows: 480},
		{path: scipy + "test-8000Hz-le-1ch-1byte-ulaw.wav", refuse: "µ-law", kind: ErrMalformed},
		{path: alsa + "Front_Center.wav", rows: 68545},
		{path: alsa + "Noise.wav", rows: 67579, warn: "no usable signal"},
	} {
		t.Run(filepath.Base(c.path), func(t *testing.T) {
			if _, err := os.Stat(c.path); err != nil {
				t.Skipf("NOT CHECKED: %s is not installed (python3-scipy, alsa-utils)", c.path)
			}
			r, err := readPath(t, c.path, Options{})
			if c.refuse != "" {
				if err == nil || !strings.Contains(err.Error(), c.refuse) || !errors.Is(err, c.kind) {
					t.Fatalf("error %v, want %q, %v", err, c.refuse, c.kind)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if r.Rows != c.rows {
				t.Errorf("%d frames, want %d", r.Rows, c.rows)
			}
			for k, frame := range c.first {
				for ch, w := range frame {
					if c.more {
						r.Values[ch][k] = math.Trunc(r.Values[ch][k]/c.unit) * c.unit
					}
					near(t, fmt.Sprintf("frame %d, channel %d", k, ch), r.Values[ch][k]/c.unit, w, 5e-11*math.Max(1, 1/c.unit)*c.unit+5e-11)
				}
			}
			if c.warn != "" && !strings.Contains(fmt.Sprint(r.Warnings), c.warn) {
				t.Errorf("warnings %v, want %q", r.Warnings, c.warn)
			}
		})
	}
}

// TestCaptureWave: a real 8-bit recording that never goes below the middle code.
func TestCaptureWave(t *testing.T) {
	const name = "square_unipolar_8bit.wav"
	want := expectedCaptures(t)[name]
	r := readCapture(t, filepath.Join(captures, name))
	if c := r.Channels[0]; r.Rows != want.Frames || c.Rises != want.Rises || c.Falls != want.Falls {
		t.Fatalf("%d frames, %d up, %d down, want %d, %d, %d", r.Rows, c.Rises, c.Falls, want.Frames, want.Rises, want.Falls)
	}
	e := edgesOf(r, 0)
	// first rise after sample 15, first fall after 31, half-way to the next sample
	near(t, "first rise, samples", float64(e[0].At)*float64(want.Rate), 15.5, 1e-9)
	near(t, "first fall, samples", float64(e[1].At)*float64(want.Rate), 31.5, 1e-9)
}
