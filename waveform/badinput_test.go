package waveform

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/klauspost/compress/zstd"
)

func gz(t testing.TB, parts ...[]byte) []byte {
	t.Helper()
	var b bytes.Buffer
	for _, p := range parts {
		w := gzip.NewWriter(&b)
		if _, err := w.Write(p); err != nil {
			t.Fatal(err)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
	}
	return b.Bytes()
}

func zst(t testing.TB, p []byte) []byte {
	t.Helper()
	w, err := zstd.NewWriter(nil)
	if err != nil {
		t.Fatal(err)
	}
	return w.EncodeAll(p, nil)
}

// TestCompressed: gzip (also of several members) and zstd of each format give the edges of the plain file.
func TestCompressed(t *testing.T) {
	for name, data := range map[string][]byte{"csv": hardTable(3000, "\n"), "vcd": hardVCD(1500), "wav": hardWave(t, 9000)} {
		want, err := readText(t, string(data), Options{})
		if err != nil {
			t.Fatal(err)
		}
		half := len(data) / 3
		for kind, z := range map[string][]byte{"gzip": gz(t, data), "members": gz(t, data[:half], data[half:]), "zstd": zst(t, data), "frames": append(zst(t, data[:half]), zst(t, data[half:])...)} {
			got, err := readText(t, string(z), Options{})
			if err != nil {
				t.Fatalf("%s %s: %v", name, kind, err)
			}
			if fmt.Sprint(got.Edges) != fmt.Sprint(want.Edges) || len(got.Edges) == 0 {
				t.Errorf("%s %s: %d edges, want %d", name, kind, len(got.Edges), len(want.Edges))
			}
		}
	}
}

// TestBadInput: one clear message with its place and the right one of three kinds; what came before the fault is given
// and labelled.
func TestBadInput(t *testing.T) {
	table := string(hardTable(2000, "\n"))
	vcd := string(hardVCD(500))
	wave := string(hardWave(t, 4000))
	z := string(gz(t, []byte(table)))
	broken := []byte(z)
	broken[len(broken)-6] ^= 0x55 // in its checksum
	wrong := zst(t, []byte(table))
	wrong[len(wrong)-1] ^= 0x55 // in its checksum
	utf16 := "\xff\xfet\x00i\x00m\x00e\x00,\x00v\x00\n\x00"
	for _, c := range []struct {
		name, data string
		kind       error
		says       string
		line       int64 // 0: not checked
		partial    bool  // some edges are given all the same
		fine       bool  // no error: Partial alone says it
	}{
		{"empty", "", ErrTruncated, "empty", 0, false, false},
		{"junk", "\x7fELF\x02\x01\x01\x00\x00\x03", ErrMalformed, "no recording", 0, false, false},
		{"words", "once upon a time\nthere was no table\n", ErrMalformed, "no rows of numbers", 1, false, false},
		{"dates", "time,v\n2024-05-01T12:00:00.001,0\n2024-05-01T12:00:00.002,5\n", ErrMalformed, "is a date", 2, false, false},
		{"times of day", "t;v\n12:00:00,1;0,5\n12:00:00,2;0,6\n", ErrMalformed, "is a date or a time of day", 2, false, false},
		{"utf-16 without its mark", utf16[2:] + utf16[2:], ErrMalformed, "UTF-16", 0, false, false},
		{"header only", "time,v\n", ErrMalformed, "no rows of numbers", 1, false, false},
		{"no time", "a,b\n5,1\n3,2\n4,9\n", ErrImpossible, "neither a time column nor a sample interval", 2, false, false},
		{"only time", "time\n0\n1\n2\n", ErrImpossible, "no value column", 2, false, false},
		{"bad cell", table + "0.05,1,2,oops,4,5\n0.06,1,1,1,1,1\n", ErrMalformed, `"oops", is not a number`, 2012, true, false},
		{"short row", table + "0.05,1\n0.06,1,1,1,1,1\n", ErrMalformed, "has 2 cells", 2012, true, false},
		{"long row", table + "0.05,1,1,1,1,1,7\n", ErrMalformed, "more than 6 cells", 2012, true, false},
		{"no time in a row", table + ",1,1,1,1,1\n0.06,1,1,1,1,1\n", ErrMalformed, "has no time", 2012, true, false},
		{"time falls", table + "0.001,1,1,1,1,1\n", ErrMalformed, "time falls from 0.01999 to 0.001", 2012, true, false},
		{"cut line", table + "0.05,1", ErrTruncated, "last line is short", 2012, true, true},
		{"zeros within", table + strings.Repeat("\x00", 50) + "\n0.05,1,1,1,1,1\n", ErrMalformed, "zero bytes", 2012, true, false},
		{"endless line", table + strings.Repeat("1", 3<<20), ErrMalformed, "without a line end", 0, true, false},
		{"vcd without end of head", vcd[:60], ErrTruncated, "ends within", 0, false, false},
		{"vcd without variables", "$timescale 1 ns $end $enddefinitions $end\n#0\n", ErrImpossible, "no variable", 0, false, false},
		{"vcd timescale", "$timescale 7 ns $end\n", ErrMalformed, "timescale", 0, false, false},
		{"vcd unknown code", vcd + "1?\n", ErrMalformed, `code "?" was not declared`, 0, true, false},
		{"vcd junk", vcd + "hello\n", ErrMalformed, `"hello" is no value change`, 0, true, false},
		{"vcd falls", vcd + "#1\n0!\n", ErrMalformed, "time falls", 0, true, false},
		{"vcd extended", "$date x $end $scope module m $end $var port 1 <0 a $end", ErrMalformed, "extended VCD", 0, false, false},
		{"vcd cut in a vector", vcd + "b01", ErrTruncated, "middle of a value change", 0, true, true},
		{"vcd cut in a time", vcd + "#1", ErrTruncated, "middle of a value change", 0, true, true},
		{"vcd cut in a change", vcd + "1", ErrTruncated, "middle of a value change", 0, true, true},
		{"vcd code for two", "$scope module m $end $var wire 1 ! a $end $var wire 4 ! b $end", ErrMalformed, "stands for", 0, false, false},
		{"wave header", wave[:30], ErrTruncated, "ends in its format chunk", 0, false, false},
		{"wave without samples", wave[:44], ErrTruncated, "no samples", 0, false, false},
		{"riff of another form", "RIFF\x10\x00\x00\x00AVI LIST", ErrMalformed, "no recording", 0, false, false},
		{"gzip cut", z[:len(z)*2/3], ErrTruncated, "end too soon", 0, true, true},
		{"gzip damaged", string(broken), ErrMalformed, "damaged", 0, true, false},
		{"gzip head", "\x1f\x8b\x08", ErrTruncated, "end too soon", 0, false, false},
		{"zstd damaged", string(wrong), ErrMalformed, "damaged", 0, false, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := readText(t, c.data, Options{})
			var p *Problem
			if c.fine {
				if err != nil {
					t.Fatal(err)
				}
				p = r.Partial
			} else if !errors.As(err, &p) {
				t.Fatalf("error %v, want a Problem", err)
			}
			if p == nil || !errors.Is(p, c.kind) || !strings.Contains(p.Error(), c.says) {
				t.Fatalf("%v (%v), want %v: %q", p, p.Unwrap(), c.kind, c.says)
			}
			if !strings.HasPrefix(p.Error(), "t.csv") || p.Line <= 0 && p.Byte < 0 {
				t.Errorf("%v has no place", p)
			}
			if c.line > 0 && p.Line != c.line {
				t.Errorf("line %d, want %d", p.Line, c.line)
			}
			if c.partial && (r == nil || len(r.Edges) < 50 || r.Partial == nil) {
				t.Errorf("no partial result: %v", r)
			}
			if strings.ToLower(p.What[:1]) != p.What[:1] {
				t.Errorf("message %q begins with a capital", p.What)
			}
		})
	}
}

// zeros gives n bytes of the same value.
type endless struct{ n int64 }

func (e *endless) Read(p []byte) (int, error) {
	if e.n <= 0 {
		return 0, io.EOF
	}
	n := int(min(int64(len(p)), e.n))
	for i := range n {
		p[i] = "0\n"[i&1]
	}
	e.n -= int64(n)
	return n, nil
}

// TestBomb: 300 MB of the same line under 300 kB of gzip stop at the limit, with a message that names it, in
// bounded time.
func TestBomb(t *testing.T) {
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	io.WriteString(w, "Sample Interval,1e-6\nv\n")
	if _, err := io.Copy(w, &endless{40 << 20}); err != nil {
		t.Fatal(err)
	}
	w.Close()
	begin := time.Now()
	r, err := Scan(context.Background(), File("bomb.gz", bytes.NewReader(b.Bytes()), int64(b.Len())), Options{MaxDecompressed: 8 << 20}, &counter{})
	if !errors.Is(err, ErrImpossible) || !strings.Contains(err.Error(), "beyond the limit") || r == nil || r.Partial == nil {
		t.Fatalf("error %v", err)
	}
	if r.Bytes > 9<<20 {
		t.Errorf("%d bytes were read", r.Bytes)
	}
	t.Logf("%d kB of gzip, %v", b.Len()>>10, time.Since(begin))
}

// TestLies: headers that claim 10⁹ lines, channels or bytes cost nothing.
func TestLies(t *testing.T) {
	for name, data := range map[string]string{
		"csv":  "Record Length,1000000000,Points\nSample Interval,1e-6,s\n\nCH1\n0.0\n5.0\n0.0\n",
		"wave": string(wavHeader(2, 48000, 16, 500_000_000)) + strings.Repeat("\x00\x20\x00\x20\x00\xe0\x00\xe0", 100),
	} {
		r, err := readText(t, data, Options{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
		} else if r.Rows > 1000 {
			t.Errorf("%s: %d rows", name, r.Rows)
		}
	}
}

// TestCancel: a cancelled context stops the scan; what came before is labelled partial.
func TestCancel(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	data := hardTable(60_000, "\n")
	calls := 0
	r, err := Scan(ctx, File("x", bytes.NewReader(data), int64(len(data))), Options{Chunk: 10_000, Progress: func(done, total int64) {
		if total != int64(len(data)) || done > total {
			t.Errorf("progress %d of %d", done, total)
		}
		if calls++; calls == 5 {
			stop()
		}
	}}, &counter{})
	if !errors.Is(err, context.Canceled) || r == nil || r.Partial == nil || r.Rows == 0 || r.Rows > 30_000 {
		t.Errorf("error %v, result %v", err, r)
	}
}

// blocked never gives a byte after the first line.
type blocked struct {
	first io.Reader
	ctx   context.Context
}

func (b blocked) Read(p []byte) (int, error) {
	if n, err := b.first.Read(p); err == nil {
		return n, nil
	}
	<-b.ctx.Done()
	time.Sleep(time.Hour)
	return 0, io.EOF
}

// TestCancelBlockedPipe: a pipe that gives nothing more does not keep a cancelled scan.
func TestCancelBlockedPipe(t *testing.T) {
	ctx, stop := context.WithTimeout(context.Background(), 50*time.Millisecond)
	defer stop()
	data := hardTable(400_000, "\n")
	done := make(chan error, 1)
	go func() {
		_, err := Scan(ctx, Stream("x", blocked{bytes.NewReader(data), ctx}, -1), Options{}, &counter{})
		done <- err
	}()
	select {
	case err := <-done:
		if !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("error %v", err)
		}
	case <-time.After(10 * time.Second):
		t.Error("the scan hangs")
	}
}
