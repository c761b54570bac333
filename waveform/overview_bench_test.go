package waveform

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// twoGigabytes writes an invented recording of 2 GB: crank, cam and spark at a microsecond's step, as a table or as
// value changes.
func twoGigabytes(b *testing.B, format string) *os.File {
	b.Helper()
	f, err := os.Create(filepath.Join(b.TempDir(), "long."+format))
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { f.Close() })
	w := bufio.NewWriterSize(f, 1<<20)
	const size = 2_000_000_000
	line := make([]byte, 0, 128)
	if format == "csv" {
		w.WriteString("time_s,crank,cam,spark\n")
		levels := [2]string{",0.02", ",4.97"}
		for i, n := 0, 23; n < size; i++ {
			line = appendTime(line[:0], i)
			line = append(append(append(append(line, levels[i/1250%2]...), levels[i/9000%2]...), levels[max(0, 60-i%2500)/max(1, 60-i%2500)]...), '\n')
			k, _ := w.Write(line)
			n += k
		}
	} else {
		w.WriteString("$timescale 1 us $end\n$var wire 1 ! crank $end\n$var wire 1 \" cam $end\n$enddefinitions $end\n")
		for i, n := 0, 90; n < size; i++ {
			line = append(appendInt(append(line[:0], '#'), i*137), '\n', byte('0'+i&1), '!', '\n')
			if i%6 == 0 {
				line = append(line, byte('0'+i/6&1), '"', '\n')
			}
			k, _ := w.Write(line)
			n += k
		}
	}
	if err := w.Flush(); err != nil {
		b.Fatal(err)
	}
	return f
}

// BenchmarkView is what a view of a recording of 2 GB costs at the whole, at deep zoom, and at the worst one between:
// just too fine for what memory keeps, so that most has to be read again. The file is in the computer's page cache.
func BenchmarkView(b *testing.B) {
	for _, format := range []string{"csv", "vcd"} {
		f := twoGigabytes(b, format)
		st, err := f.Stat()
		if err != nil {
			b.Fatal(err)
		}
		began := time.Now()
		r, err := Scan(context.Background(), File("x", f, st.Size()), Options{Overview: true}, &counter{})
		if err != nil {
			b.Fatal(err)
		}
		b.Logf("%s: %d MB read in %v, %d rows, %d marks, stretches of %v s", format, st.Size()/1e6, time.Since(began), r.Rows, len(r.Overview.marks), r.Overview.Grain(r.Start, r.End))
		const n = 600
		channels := []int{0, 1, 2}[:len(r.Channels)]
		for name, width := range map[string]Second{"whole": r.Duration(), "worst": r.Overview.Grain(r.Start, r.End) * n * 0.999, "tenth-of-worst": r.Overview.Grain(r.Start, r.End) * n / 10, "deep": 500e-6} {
			b.Run(fmt.Sprintf("%s/%s", format, name), func(b *testing.B) {
				rng := rand.New(rand.NewPCG(1, 2))
				b.ReportAllocs()
				for b.Loop() {
					t0 := r.Start + Second(rng.Float64())*max(0, r.Duration()-width)
					if _, err := r.Overview.View(context.Background(), channels, t0, t0+width, n); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}
