package waveform

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"phasewright/waveform/number"
	"phasewright/waveform/vcd"
	"phasewright/waveform/wav"
)

// Forms of tables that came up when readers were tried with everything at once. Expected values by construction.

// square is a table of two channels, 5 V for four rows, then nothing for four.
func square(head string, rows int, row func(i int, t, v float64) string) string {
	var b strings.Builder
	b.WriteString(head)
	for i := range rows {
		b.WriteString(row(i, float64(i)*1e-5, 5*float64(i/4%2)) + "\n")
	}
	return b.String()
}

func TestRareForms(t *testing.T) {
	const rows = 400
	word := func(w string) func(i int, t, v float64) string { // in place of the high level, now and then
		return func(i int, t, v float64) string {
			if a := fmt.Sprintf("%.5f,%g,%g", t, v, 5-v); i%48 != 6 {
				return a
			}
			return fmt.Sprintf("%.5f,%s,%g", t, w, 5-v)
		}
	}
	for _, c := range []struct {
		name, text    string
		missing, over int64
	}{
		{"header that begins with t0 is no preamble", square("t0,a,t1,b\n", rows, func(_ int, t, v float64) string { return fmt.Sprintf("%.5f,%g,%.5f,%g", t, v, t, 5-v) }), 0, 0},
		{"µ in Latin-1", square("time (\xb5s),a,b\n", rows, func(_ int, t, v float64) string { return fmt.Sprintf("%.0f,%g,%g", t*1e6, v, 5-v) }), 0, 0},
		{"µ in Latin-1 in a row of units", square("time,a,b\n\xb5s,V,V\n", rows, func(_ int, t, v float64) string { return fmt.Sprintf("%.0f,%g,%g", t*1e6, v, 5-v) }), 0, 0},
		{"decimal comma in quotes", square("time,a,b\n", rows, func(_ int, t, v float64) string {
			return strings.ReplaceAll(fmt.Sprintf(`"%.5f";"%.1f";"%.1f"`, t, v, 5-v), ".", ",")
		}), 0, 0},
		{"9.9E37 is beyond the range", square("time,a,b\n", rows, word("9.9E+37")), 0, 9},
		{"9.91E37 is missing", square("time,a,b\n", rows, word("+9.91E37")), 9, 0},
		{"#N/A is missing", square("time,a,b\n", rows, word("#N/A")), 9, 0},
		{"nothing is missing", square("time,a,b\n", rows, word("")), 9, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := c.text
			if strings.Contains(c.name, "quotes") {
				text = strings.ReplaceAll(text, ";", ",")
			}
			r, err := readText(t, text, Options{})
			if err != nil || r.Partial != nil {
				t.Fatal(err, r.Partial)
			}
			if len(r.Channels) != 2 {
				t.Fatalf("%d channels, want a and b", len(r.Channels))
			}
			if end := float64(r.End); math.Abs(end-(rows-1)*1e-5) > 1e-12 {
				t.Errorf("ends at %g s", end)
			}
			for _, ch := range r.Channels {
				if ch.Rises+ch.Falls != rows/4-1 || math.Abs(ch.High-5) > 0.1 || math.Abs(ch.Low) > 0.1 {
					t.Errorf("%s: %d edges between %g and %g, want %d between 0 and 5", ch.Name, ch.Rises+ch.Falls, ch.Low, ch.High, rows/4-1)
				}
			}
			if a := r.Channels[0]; a.Missing != c.missing || a.Over != c.over {
				t.Errorf("%d missing and %d beyond the range, want %d and %d", a.Missing, a.Over, c.missing, c.over)
			}
		})
	}
}

// TestEmptyCellsInPassing: an empty cell gives what the word NaN gives, which is read another way; where the only
// column is empty, there is no row.
func TestEmptyCellsInPassing(t *testing.T) {
	text := func(word string) string {
		return square("time,a,b\n", 6000, func(i int, t, v float64) string {
			a, b := fmt.Sprint(v), fmt.Sprint(5-v)
			if i%3 == 0 {
				a = word
			}
			if i%7 == 0 {
				b = word
			}
			return fmt.Sprintf("%.5f,%s,%s", t, a, b)
		})
	}
	got, err := readText(t, text(""), Options{})
	if err != nil {
		t.Fatal(err)
	}
	want, err := readText(t, text("NaN"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if fmt.Sprint(got.Edges, got.Channels) != fmt.Sprint(want.Edges, want.Channels) || got.Channels[0].Missing != 2000 {
		t.Errorf("%d edges, %d missing; with NaN %d edges, %d missing", len(got.Edges), got.Channels[0].Missing, len(want.Edges), want.Channels[0].Missing)
	}
	one, err := readText(t, "Sample Interval,1e-05,s\n\na\n0\n5\n\n5\n\n0\n", Options{})
	if err != nil || one.Rows != 4 {
		t.Errorf("%d rows of a single column with blank lines, want 4 (%v)", one.Rows, err)
	}
}

// TestLongNumbers: numbers as programs print them, with all their digits, are read to the last bit.
func TestLongNumbers(t *testing.T) {
	for i := range 2000 {
		x := float64(i) * 1.1e-5
		s := strconv.FormatFloat(x, 'g', -1, 64)
		d, n := number.Scan([]byte(s), '.', number.Ungrouped)
		if got := d.Float(0); n != len(s) || got != x {
			t.Fatalf("%s is read as %v", s, got)
		}
		ms, _ := strconv.ParseFloat(s+"e-3", 64)
		if got := d.Float(-3); !strings.Contains(s, "e") && got != ms {
			t.Fatalf("%s ms is read as %v", s, got)
		}
	}
}

// TestGzipPadding: zero bytes behind a gzip file, as tapes and some recorders leave them, and between its members are
// no damage (so does gzip(1)).
func TestGzipPadding(t *testing.T) {
	data := hardTable(3000, "\n")
	want, err := readText(t, string(data), Options{})
	if err != nil {
		t.Fatal(err)
	}
	half, pad := len(data)/2, make([]byte, 700)
	for name, z := range map[string][]byte{"behind": append(gz(t, data), pad...), "between": slices.Concat(gz(t, data[:half]), pad, gz(t, data[half:]), gz(t, nil))} {
		got, err := readText(t, string(z), Options{})
		if err != nil || got.Partial != nil || fmt.Sprint(got.Edges) != fmt.Sprint(want.Edges) {
			t.Errorf("%s: %v, %v, %d edges, want %d", name, err, got.Partial, len(got.Edges), len(want.Edges))
		}
	}
	if _, err := readText(t, string(append(gz(t, data), "no gzip member at all"...)), Options{}); !errors.Is(err, ErrMalformed) {
		t.Errorf("rubbish behind the end: %v", err)
	}
}

// TestManyChannels: many channels give the edges that they give in two halves.
func TestManyChannels(t *testing.T) {
	const channels = 44
	table := func(from, to int) string {
		head := []string{"time"}
		for c := from; c < to; c++ {
			head = append(head, fmt.Sprintf("c%02d", c))
		}
		return square(strings.Join(head, ",")+"\n", 5000, func(i int, t, _ float64) string {
			row := fmt.Sprintf("%.5f", t)
			for c := from; c < to; c++ {
				row += fmt.Sprintf(",%d.%d", 5*((i+3*c)/(9+c%4)%2), i*c%3) // some at the same instant
			}
			return row
		})
	}
	var want []string
	for _, part := range [][2]int{{0, channels / 2}, {channels / 2, channels}} {
		r, err := readText(t, table(part[0], part[1]), Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range r.Edges {
			want = append(want, fmt.Sprintf("%.12f %02d %v", e.At, int(e.Channel)+part[0], e.Kind))
		}
	}
	r, err := readText(t, table(0, channels), Options{})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for i, e := range r.Edges {
		if i > 0 && (e.At < r.Edges[i-1].At || e.At == r.Edges[i-1].At && e.Channel < r.Edges[i-1].Channel) {
			t.Fatalf("edge %d at %g s of channel %d stands behind one at %g s of channel %d", i, e.At, e.Channel, r.Edges[i-1].At, r.Edges[i-1].Channel)
		}
		got = append(got, fmt.Sprintf("%.12f %02d %v", e.At, e.Channel, e.Kind))
	}
	slices.Sort(got)
	slices.Sort(want)
	if len(got) < 20000 || !slices.Equal(got, want) {
		t.Errorf("%d edges, want the %d of both halves", len(got), len(want))
	}
}

// TestHeadsStaySmall: what a small file declares must not ask for memory without bound.
func TestHeadsStaySmall(t *testing.T) {
	var b strings.Builder
	b.WriteString("$timescale 1 ns $end\n")
	for range 900 {
		b.WriteString("$scope module a_scope_with_rather_a_long_name $end\n")
	}
	declare := func(n int, name string) {
		for i := range n {
			fmt.Fprintf(&b, "$var wire 1 %s %s%d $end\n", vcdCode(i), name, i)
		}
	}
	declare(2000, "a")
	for range 20 {
		declare(2000, "b")
	}
	text := b.String() + "$enddefinitions $end\n#0\n0!\n#5\n1!\n"
	r, err := readText(t, text, Options{})
	if err != nil {
		t.Fatal(err)
	}
	names, size := 0, 0
	for _, c := range r.Channels {
		for _, s := range append([]string{c.Name}, c.Aliases...) {
			names++
			size += len(s)
		}
	}
	if names > vcd.MaxNames || size > names*(vcd.MaxName+3) || !strings.HasSuffix(r.Channels[1999].Name, "long_name.a1999") {
		t.Errorf("%d names of %d bytes, the last %q", names, size, r.Channels[1999].Name)
	}
	b.Reset()
	b.WriteString("$timescale 1 ns $end\n")
	declare(vcd.MaxVariables+1, "a")
	if _, err := readText(t, b.String()+"$enddefinitions $end\n#0\n0!\n", Options{}); !errors.Is(err, ErrImpossible) {
		t.Errorf("%d variables: %v", vcd.MaxVariables+1, err)
	}

	wave := hardWave(t, 3000)
	list := append([]byte("LIST\x00\x00\x00\x03"), make([]byte, 48<<20)...)
	long := slices.Concat(wave[:12], list, wave[12:])
	in := File("x.wav", bytes.NewReader(long), int64(len(long)))
	src, err := openSource(context.Background(), in, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if l, p := wav.Head(src, src.size, maxFront); p != nil || l.Body != int64(len(list))+44 || len(src.head) > headSize {
		t.Errorf("samples at %+v (%v), %d bytes kept", l, p, len(src.head))
	}
	got, err := ReadAll(context.Background(), in, Options{})
	if err != nil {
		t.Fatal(err)
	}
	want, err := readText(t, string(wave), Options{})
	if err != nil || fmt.Sprint(got.Edges) != fmt.Sprint(want.Edges) || len(got.Edges) == 0 {
		t.Errorf("%d edges behind a long chunk, want %d (%v)", len(got.Edges), len(want.Edges), err)
	}
	if _, err := ReadAll(context.Background(), Stream("x.wav", bytes.NewReader(long), -1), Options{}); !errors.Is(err, ErrImpossible) {
		t.Errorf("as a stream: %v", err)
	}
}

// TestCommentWithoutEnd: what a block swallowed up to the end of the file is missing, and that is said.
func TestCommentWithoutEnd(t *testing.T) {
	r, err := readText(t, "$timescale 1 us $end $var wire 1 ! a $end $enddefinitions $end\n#0\n0!\n#5\n1!\n$comment cut off here\n#7\n0!\n", Options{})
	if err != nil || r.Partial == nil || !errors.Is(r.Partial, ErrTruncated) || len(r.Edges) != 2 {
		t.Errorf("%v, partial %v, edges %v", err, r.Partial, r.Edges)
	}
}

// TestFineTicksAreKept: pulses shorter than a nanosecond survive being written as VCD.
func TestFineTicksAreKept(t *testing.T) {
	for _, c := range []struct {
		unit string
		step int
	}{{"1 ps", 300}, {"10 fs", 40}, {"1 ns", 2}} {
		var b strings.Builder
		fmt.Fprintf(&b, "$timescale %s $end $var wire 1 ! a $end $enddefinitions $end\n", c.unit)
		for i := range 200 {
			fmt.Fprintf(&b, "#%d\n%d!\n", i*c.step, i%2)
		}
		var out bytes.Buffer
		w := NewVCDWriter(&out)
		r := scanBytes(t, []byte(b.String()), Options{}, w)
		if err := w.Close(r.End); err != nil {
			t.Fatal(err)
		}
		back, err := readText(t, out.String(), Options{})
		if err != nil {
			t.Fatal(err)
		}
		if ch := back.Channels[0]; ch.Rises != 100 || ch.Falls != 99 {
			t.Errorf("timescale %s: %d up and %d down come back, want 100 and 99", c.unit, ch.Rises, ch.Falls)
		}
	}
}

// TestNamesAreDistinct: roles are stated by name, so no two channels share one.
func TestNamesAreDistinct(t *testing.T) {
	names := func(text string) (out []string) {
		r, err := readText(t, text, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range r.Channels {
			out = append(out, c.Name)
		}
		return out
	}
	if got, want := names("time,a,a (2),a,a,b\n0,1,2,3,4,5\n1,2,3,4,5,6\n"), []string{"a", "a (2)", "a (3)", "a (4)", "b"}; !slices.Equal(got, want) {
		t.Errorf("table: %q, want %q", got, want)
	}
	var b strings.Builder
	b.WriteString("$timescale 1 ns $end\n")
	for i := range vcd.MaxVariables {
		fmt.Fprintf(&b, "$var wire 1 %s same $end\n", vcdCode(i))
	}
	got := names(b.String() + "$enddefinitions $end\n#0\n0!\n#5\n1!\n")
	if got[0] != "same" || got[vcd.MaxVariables-1] != fmt.Sprintf("same (%d)", vcd.MaxVariables) {
		t.Errorf("VCD: %q and %q", got[0], got[vcd.MaxVariables-1])
	}
}

// TestTimeStandsStill: a column that says the same in every row is no time.
func TestTimeStandsStill(t *testing.T) {
	r, err := readText(t, square("time,a,b\n", 400, func(_ int, _, v float64) string { return fmt.Sprintf("0.1,%g,%g", v, 5-v) }), Options{})
	if !errors.Is(err, ErrImpossible) || r == nil || r.Partial == nil {
		t.Errorf("%v, result %v", err, r)
	}
}
