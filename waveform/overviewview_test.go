package waveform

import (
	"bytes"
	"context"
	"math"
	"math/rand/v2"
	"testing"
)

// Recordings, faults and numbers here are invented, unless a test says where one comes from.

// TestViewGivesTheSamples: at deep zooms a view of several channels gives just the samples that ReadAll has there, with
// the one before and the one after, and the same columns as one channel at a time.
func TestViewGivesTheSamples(t *testing.T) {
	rng := rand.New(rand.NewPCG(71, 72))
	for name, data := range map[string][]byte{"csv": hardTable(60_000, "\n"), "vcd": hardVCD(30_000), "wav": hardWave(t, 150_000)} {
		all, err := readText(t, string(data), Options{})
		if err != nil {
			t.Fatal(err)
		}
		r := scanBytes(t, data, Options{Overview: true}, &counter{})
		if !r.Overview.Again() {
			t.Fatalf("%s: a file cannot be read again", name)
		}
		var channels []int
		for i := range r.Channels {
			if r.Overview.Keeps(i) {
				channels = append(channels, i)
			}
		}
		given := 0
		for range looks(60) {
			width := r.Duration() * Second(math.Pow(10, -1-4*rng.Float64()))
			t0 := r.Start + Second(rng.Float64())*(r.Duration()-width)
			n := 50 + rng.IntN(300)
			looks, err := r.Overview.View(context.Background(), channels, t0, t0+width, n)
			if err != nil {
				t.Fatal(err)
			}
			for i, ch := range channels {
				one, err := r.Overview.Query(context.Background(), ch, t0, t0+width, n)
				if err != nil {
					t.Fatal(err)
				}
				for k := range one {
					if !sameExtent(one[k], looks[i].Columns[k]) {
						t.Fatalf("%s, channel %d, column %d: %v alone, %v with others", name, ch, k, one[k], looks[i].Columns[k])
					}
				}
				if looks[i].Times == nil {
					if inside := countIn(all.Times[ch], t0, t0+width); inside > 0 && inside <= n && r.Overview.Grain(t0, t0+width) > width/Second(n) {
						t.Errorf("%s, channel %d: %d samples in %d columns are not given", name, ch, inside, n)
					}
					continue
				}
				given++
				checkSamples(t, name, all, ch, t0, t0+width, looks[i])
			}
			if t.Failed() {
				return
			}
		}
		if given < looks(30) {
			t.Errorf("%s: samples were given %d times only", name, given)
		}
	}
}

func countIn(times []Second, t0, t1 Second) (n int) {
	for _, at := range times {
		if at >= t0 && at < t1 {
			n++
		}
	}
	return n
}

func sameExtent(a, b Extent) bool {
	same := func(x, y float64) bool { return x == y || x != x && y != y }
	return same(a.Min, b.Min) && same(a.Max, b.Max)
}

// checkSamples holds a look's samples against the recording's.
func checkSamples(t *testing.T, what string, all *Recording, ch int, t0, t1 Second, got Look) {
	t.Helper()
	times, values := all.Times[ch], all.Values[ch]
	first := 0
	for first < len(times) && !(times[first] >= t0) {
		first++
	}
	end := first
	for end < len(times) && times[end] < t1 {
		end++
	}
	k := 0
	for k < len(got.Times) && got.Times[k] < t0 {
		k++
	}
	if first > 0 && k != 1 {
		t.Errorf("%s, channel %d: %d samples before the view, want the last one", what, ch, k)
	}
	held := all.Format == FormatVCD
	if first > 0 && k == 1 && !held && (math.Abs(float64(got.Times[0]-times[first-1])) > 1e-12 || got.Values[0] != values[first-1] && values[first-1] == values[first-1]) {
		t.Errorf("%s, channel %d: %v %v before the view, want %v %v", what, ch, got.Times[0], got.Values[0], times[first-1], values[first-1])
	}
	if first > 0 && k == 1 && held && got.Values[0] != values[first-1] && values[first-1] == values[first-1] { // since the mark, or since its change
		t.Errorf("%s, channel %d: state %v before the view, want %v", what, ch, got.Values[0], values[first-1])
	}
	inside := 0
	for ; k < len(got.Times) && got.Times[k] < t1; k, inside = k+1, inside+1 {
		i := first + inside
		if i >= end {
			break
		}
		x, y := got.Values[k], values[i]
		if math.Abs(float64(got.Times[k]-times[i])) > 1e-12 || x != y && (x == x || y == y) {
			t.Errorf("%s, channel %d, sample %d of the view: %v %v, want %v %v", what, ch, inside, got.Times[k], x, times[i], y)
			return
		}
	}
	if inside != end-first {
		t.Errorf("%s, channel %d, from %v to %v: %d samples, the recording has %d", what, ch, t0, t1, inside, end-first)
	}
	if !held && end < len(times) && (k >= len(got.Times) || math.Abs(float64(got.Times[k]-times[end])) > 1e-12) {
		t.Errorf("%s, channel %d: the sample after the view is not given", what, ch)
	}
}

// TestSpikeIsSeenAtAnyZoom: one sample out of a million stands at its time and height in the whole view, in the middle
// and at the deepest, in a table, a WAVE file and, as a change and back, in a dump of value changes; from a pipe in
// what memory keeps.
func TestSpikeIsSeenAtAnyZoom(t *testing.T) {
	const rows, at, rate = 1_000_000, 617_283, 1e6
	table := []byte("time_s,a,b\n")
	for i := range rows {
		v := byte('0')
		if i == at {
			v = '9'
		}
		table = append(append(appendTime(table, i), ',', v, '.', '5', ',', '1'), '\n')
	}
	wave := wavHeader(1, rate, 16, rows)
	dump := []byte("$timescale 1 us $end\n$var wire 1 ! a $end\n$enddefinitions $end\n#0\n0!\n")
	for i := range rows {
		v := int16(1000)
		if i == at {
			v = 30000
		}
		wave = append(wave, byte(v), byte(v>>8))
	}
	for i := 0; i < rows; i += 50 {
		dump = append(appendInt(append(dump, '#'), i), '\n')
		if i+50 > at && i <= at {
			dump = append(appendInt(append(dump, '#'), at), "\n1!\n#"...)
			dump = append(appendInt(dump, at+1), "\n0!\n"...)
		}
	}
	for name, data := range map[string][]byte{"csv": table, "wav": wave, "vcd": dump} {
		least := map[string]float64{"csv": 9.5, "wav": 30000.0 / 32768, "vcd": 1}[name]
		for _, pipe := range []bool{false, true} {
			in := File("x", bytes.NewReader(data), int64(len(data)))
			if pipe {
				in = Stream("x", bytes.NewReader(data), int64(len(data)))
			}
			r, err := Scan(context.Background(), in, Options{Overview: true}, &counter{})
			if err != nil {
				t.Fatal(err)
			}
			for _, width := range []Second{1, 0.1, 3e-3, 4e-4, 2e-5} {
				if pipe && width < 1e-3 {
					continue
				}
				const n = 500
				t0 := max(0, Second(at)/rate-width/3)
				looks, err := r.Overview.View(context.Background(), []int{0}, t0, t0+width, n)
				if err != nil {
					t.Fatal(err)
				}
				step := width / n
				seen := false
				for i, e := range looks[0].Columns {
					if e.Max < least*0.99 || e.Max != e.Max {
						continue
					}
					seen = true
					a, b := t0+Second(i)*step, t0+Second(i+1)*step
					if off := max(a-Second(at+1)/rate, Second(at)/rate-b); off > max(step, r.Overview.Grain(a, b))+1e-9 {
						t.Errorf("%s, %v s wide, pipe %v: the spike stands in %v to %v, it is at %v", name, width, pipe, a, b, Second(at)/rate)
					}
				}
				if !seen {
					t.Errorf("%s, %v s wide, pipe %v: the spike is not seen", name, width, pipe)
				}
				if pipe || width > 1e-4 {
					continue
				}
				found := false
				for k, x := range looks[0].Values {
					found = found || x > least*0.99 && math.Abs(float64(looks[0].Times[k]-Second(at)/rate)) < 1e-9
				}
				if !found {
					t.Errorf("%s, %v s wide: its sample is not among %v", name, width, looks[0].Times)
				}
			}
		}
	}
}

func appendInt(b []byte, i int) []byte {
	if i >= 10 {
		b = appendInt(b, i/10)
	}
	return append(b, byte('0'+i%10))
}

// appendTime writes i microseconds in seconds.
func appendTime(b []byte, i int) []byte {
	b = append(appendInt(b, i/1_000_000), '.')
	for d := 100_000; d > 0; d /= 10 {
		b = append(b, byte('0'+i/d%10))
	}
	return b
}

// TestHeldValueFillsItsColumns: in a table of one row a change, a value stands in every column until the next change,
// in a view read from the rows again.
func TestHeldValueFillsItsColumns(t *testing.T) {
	table := []byte("time_s,a\n")
	changes := 0
	for ms := 0; ms < 4_000_000; ms += 1 + ms*7919%40 { // uneven; 0, 1, 0, …
		table = append(append(appendInt(table, ms/1000), '.'), byte('0'+ms/100%10), byte('0'+ms/10%10), byte('0'+ms%10), ',', byte('0'+changes%2), '\n')
		changes++
	}
	r := scanBytes(t, table, Options{Overview: true}, &counter{})
	if !r.Channels[0].Held {
		t.Fatalf("not held: %+v", r.Channels[0])
	}
	all, err := readText(t, string(table), Options{})
	if err != nil {
		t.Fatal(err)
	}
	const t0, t1, n = 1000.0, 1000.5, 400 // columns of 1.25 ms
	looks, err := r.Overview.View(context.Background(), []int{0}, t0, t1, n)
	if err != nil {
		t.Fatal(err)
	}
	k := 0
	for i, e := range looks[0].Columns {
		a, b := t0+Second(i)*(t1-t0)/n, t0+Second(i+1)*(t1-t0)/n
		for k+1 < len(all.Times[0]) && all.Times[0][k+1] <= a {
			k++
		}
		if want := all.Values[0][k]; all.Times[0][k+1] > b && (e.Min != want || e.Max != want) { // no change within the column
			t.Fatalf("column %d, %v to %v: %v, the value is %v since %v", i, a, b, e, want, all.Times[0][k])
		}
	}
}
