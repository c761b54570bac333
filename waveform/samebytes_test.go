package waveform

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// printed is everything that a scan gives, as text: head, edges, counts, warnings, faults, and two views of
// every channel.
func printed(t testing.TB, in Input, opt Options) string {
	t.Helper()
	var b bytes.Buffer
	w := NewCSVWriter(&b)
	opt.Overview = true
	r, err := Scan(context.Background(), in, opt, w)
	if e := w.Close(); e != nil {
		t.Fatal(e)
	}
	fmt.Fprintln(&b, err)
	if r == nil {
		return b.String()
	}
	o := r.Overview
	r.Overview = nil
	if r.Partial != nil {
		r.Bytes = 0 // up to the end of the chunk in which the fault lies
	}
	fmt.Fprintf(&b, "%+v\n", *r)
	fmt.Fprintln(&b, r.Partial)
	for ch := range r.Channels {
		for _, part := range [][2]Second{{r.Start, r.End + 1e-9}, {r.Start + r.Duration()/3, r.Start + r.Duration()/2.9}} {
			if part[1] <= part[0] {
				continue
			}
			e, err := o.Query(context.Background(), ch, part[0], part[1], 50)
			fmt.Fprintln(&b, ch, e, err)
		}
	}
	return b.String()
}

// hardTable is an invented table with what could tell one cut from another: noise, slow ramps that rest between the
// thresholds, gaps, over-range marks, blank lines, changing decimal places, a channel that wakes late, pulses of
// one sample.
func hardTable(rows int, end string) []byte {
	rng := rand.New(rand.NewPCG(7, 8))
	b := []byte("time,square,ramp,gaps,late,bits\n")
	for i := range rows {
		sq := 0.05 * rng.NormFloat64()
		if i/37%2 == 1 || i%501 == 7 {
			sq += 5
		}
		ramp := 2.5 - 2.5*math.Cos(float64(i)/150)
		gap := fmt.Sprintf("%.3g", 3*math.Abs(float64(i/90%2))+0.01*rng.Float64())
		switch i % 67 {
		case 3:
			gap = ""
		case 9:
			gap = "inf"
		case 11:
			gap = "1.5e-3"
		}
		late := 0.01 * rng.Float64()
		if i > rows*9/10 && i/20%2 == 0 {
			late += 8
		}
		b = fmt.Appendf(b, "%.6f,%.4f,%.5f,%s,%.3f,%d%s", float64(i)*1e-5, sq, ramp, gap, late, i/11%2, end)
		if i%211 == 5 {
			b = append(b, end...)
		}
	}
	return b
}

// TestSameWhateverTheChunks: byte-identical results for 1, 2 and 7 workers and odd chunk sizes, in all formats.
func TestSameWhateverTheChunks(t *testing.T) {
	table := hardTable(9000, "\n")
	backwards := append(append([]byte{}, hardTable(3000, "\r\n")...), "0.00001,1,1,1,1,1\r\n0.4,1,1,1,1,1\r\n"...)
	broken := append(append([]byte{}, hardTable(3000, "\n")...), "0.04,1,x1,1,1,1\n0.4,1,1,1,1,1\n"...)
	short := append(append([]byte{}, hardTable(3000, "\n")...), "0.04,1,2"...)
	vcd := hardVCD(4000)
	wave := hardWave(t, 30000)
	for _, c := range []struct {
		name string
		data []byte
		opt  Options
	}{
		{"table", table, Options{}}, {"table, glitches", table, Options{Glitch: 3e-5}}, {"time falls", backwards, Options{}}, {"bad cell", broken, Options{}}, {"short line", short, Options{}},
		{"vcd", vcd, Options{}}, {"vcd, glitches", vcd, Options{Glitch: 4e-6}}, {"vcd falls", append(append([]byte{}, vcd...), "#3\n1!\n"...), Options{}},
		{"wave", wave, Options{}}, {"wave by levels", wave, Options{Methods: map[string]Method{"ch1": ByLevels, "ch2": ByZeroCrossing}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.opt.Workers = 1
			want := printed(t, File("x", bytes.NewReader(c.data), int64(len(c.data))), c.opt)
			if len(want) < 2000 {
				t.Fatalf("too little to compare: %s", want)
			}
			for _, workers := range workersTried() {
				for _, chunk := range chunksTried(61, 1009, 4099, 65537, 0) {
					c.opt.Workers, c.opt.Chunk = workers, chunk
					got := printed(t, File("x", bytes.NewReader(c.data), int64(len(c.data))), c.opt)
					if got != want {
						t.Fatalf("%d workers, chunk %d: differs from one worker: %s", workers, chunk, firstDifference(got, want))
					}
				}
			}
		})
	}
}

func firstDifference(a, b string) string {
	n := min(len(a), len(b))
	for i := range n {
		if a[i] != b[i] {
			return fmt.Sprintf("at %d: %q against %q", i, a[max(0, i-80):min(len(a), i+80)], b[max(0, i-80):min(len(b), i+80)])
		}
	}
	return fmt.Sprintf("lengths %d, %d; then %q", len(a), len(b), (a + b)[n:min(n+80, len(a+b))])
}

// hardVCD is an invented dump: bits, a real, vectors, blocks that span lines, x and z, repeated stamps and values,
// comments among the changes.
func hardVCD(n int) []byte {
	rng := rand.New(rand.NewPCG(9, 10))
	b := []byte("$timescale 1 us $end $scope module m $end $var wire 1 ! a $end $var wire 1 ab b $end $var wire 1 abc c $end $var real 64 r u $end $var reg 4 v n [3:0] $end $upscope $end $enddefinitions $end\n$dumpvars x! 0ab 0abc r0.5 r b0 v $end\n")
	tick := 0
	for i := range n {
		tick += rng.IntN(9)
		b = fmt.Appendf(b, "#%d\n", tick)
		for range rng.IntN(4) {
			switch rng.IntN(7) {
			case 0:
				b = fmt.Appendf(b, "%c!\n", "01xZ"[rng.IntN(4)])
			case 1:
				b = fmt.Appendf(b, "%dab ", rng.IntN(2))
			case 2:
				b = fmt.Appendf(b, "b%d abc\n", rng.IntN(2))
			case 3:
				b = fmt.Appendf(b, "r%g\nr\n", float64(i/5%2)*4+rng.Float64()*0.1)
			case 4:
				b = fmt.Appendf(b, "b%03b v\n", rng.IntN(8))
			case 5:
				if i%17 == 0 {
					b = append(b, "$comment #5 1! not a change\n b0 v $end\n"...)
				}
			case 6:
				b = append(b, "1!\n0!\n"...)
			}
		}
	}
	return fmt.Appendf(b, "#%d\n", tick+100)
}

// hardWave is an invented stereo recording: a high-passed square with noise, and a swing that grows.
func hardWave(t testing.TB, frames int) []byte {
	rng := rand.New(rand.NewPCG(11, 12))
	b := wavHeader(2, 48000, 16, frames)
	base := 0.0
	for i := range frames {
		sq := 1.0
		if i/211%2 == 1 {
			sq = -1
		}
		base += (sq - base) * 0.0026 // 20 Hz
		x := int16(9000*(sq-base)) + int16(100*rng.NormFloat64())
		y := int16(float64(i) / float64(frames) * 12000 * math.Sin(float64(i)*float64(i)/3e5))
		b = append(b, byte(x), byte(x>>8), byte(y), byte(y>>8))
	}
	return b
}

// TestStreamAndFileAgree: a pipe gives the edges that a file gives (small inputs are surveyed whole either way).
func TestStreamAndFileAgree(t *testing.T) {
	for _, data := range [][]byte{hardTable(5000, "\n"), hardVCD(2000), hardWave(t, 20000)} {
		a, err := ReadAll(context.Background(), File("x", bytes.NewReader(data), int64(len(data))), Options{})
		if err != nil {
			t.Fatal(err)
		}
		b, err := ReadAll(context.Background(), Stream("x", oneByte{bytes.NewReader(data)}, -1), Options{})
		if err != nil {
			t.Fatal(err)
		}
		if fmt.Sprint(a.Edges) != fmt.Sprint(b.Edges) || len(a.Edges) < 100 {
			t.Errorf("%d edges from a file, %d from a stream", len(a.Edges), len(b.Edges))
		}
	}
}

// oneByte gives one byte a call.
type oneByte struct{ r *bytes.Reader }

func (o oneByte) Read(p []byte) (int, error) {
	if len(p) == 0 {
		return 0, errors.New("empty read")
	}
	return o.r.Read(p[:1])
}

// workersTried are the numbers of goroutines whose results must agree; with -short the largest alone.
func workersTried() []int {
	if testing.Short() {
		return []int{7}
	}
	return []int{1, 2, 7}
}

// chunksTried are the sizes of the pieces that must give the same result; with -short the first, which is the smallest,
// and the last, the usual one.
func chunksTried(sizes ...int) []int {
	if testing.Short() {
		return []int{sizes[0], sizes[len(sizes)-1]}
	}
	return sizes
}
