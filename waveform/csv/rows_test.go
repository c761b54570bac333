package csv

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"phasewright/waveform/block"
)

// mixed is an invented table whose columns change their form now and then: places, signs, exponents, quotes, gaps,
// blank lines, lines with empty cells behind them.
func mixed(rng *rand.Rand, sep, end string, rows int) []byte {
	text := []byte("time" + sep + "a" + sep + "b" + sep + "c" + end)
	forms := []string{"%.4f", "%.2f", "%.0f", "%.9f", "%.15f", "%.5E", `"%.3f"`, " %.1f ", "%.20f"}
	usual := [3]int{rng.IntN(6), rng.IntN(6), rng.IntN(6)}
	for i := range rows {
		text = fmt.Appendf(text, "%.6f", float64(i)*1e-6)
		for _, k := range usual {
			switch rng.IntN(200) {
			case 0:
				text = append(text, sep...)
				continue
			case 1, 2:
				k = rng.IntN(len(forms))
			}
			text = fmt.Appendf(text, sep+forms[k], 20*rng.NormFloat64())
		}
		if rng.IntN(300) == 0 {
			text = append(text, sep...)
		}
		if text = append(text, end...); rng.IntN(300) == 0 {
			text = append(text, end...)
		}
	}
	return text
}

// TestWideRowsAsPlain: the wide loop reads what the plain one reads, bit for bit, and ends where it ends.
func TestWideRowsAsPlain(t *testing.T) {
	if !wide {
		t.Skip("NOT CHECKED: this processor has no wide registers for it")
	}
	rng := rand.New(rand.NewPCG(21, 22))
	read := 0
	for trial := range 300 {
		text := mixed(rng, []string{",", ";", "\t"}[trial%3], []string{"\n", "\r\n"}[trial/3%2], 40+rng.IntN(1200))
		if trial%4 == 0 { // something that is no number, anywhere
			text[len(text)/3+rng.IntN(len(text)/2)] = byte(33 + rng.IntN(90))
		}
		lay, p := Head(text, true)
		if p != nil {
			continue
		}
		body := text[lay.Body:]
		parser, plain := lay.NewParser(), lay.NewParser()
		plain.narrow = true
		var got, want block.Rows
		parser.Parse(body, true, &got)
		plain.Parse(body, true, &want)
		if fmt.Sprint(got.N, got.Lines, got.Clocks, got.Problem) != fmt.Sprint(want.N, want.Lines, want.Clocks, want.Problem) {
			t.Fatalf("trial %d: %d rows, %v; plainly %d, %v", trial, got.N, got.Problem, want.N, want.Problem)
		}
		for ch := range want.Values {
			if want.Gaps[ch] && !got.Gaps[ch] { // one more than needed does no harm
				t.Fatalf("trial %d, channel %d: a gap is not told of", trial, ch)
			}
			for i, x := range want.Values[ch] {
				y := got.Values[ch][i]
				if math.Float64bits(x) != math.Float64bits(y) && (x == x || y == y) {
					t.Fatalf("trial %d, channel %d, row %d: %v, plainly %v", trial, ch, i, y, x)
				}
			}
		}
		read += got.N
	}
	if read < 50_000 {
		t.Errorf("%d rows: too few to tell", read)
	}
}

// BenchmarkParse reads an invented table of five columns, 41 bytes a row, in the dialects of instruments.
func BenchmarkParse(b *testing.B) {
	for _, d := range []struct{ name, number, sep string }{
		{"plain", "%.4f", ","}, {"exponents", "%.5E", ","}, {"quoted", `"%.4f"`, ","}, {"semicolons", "%.4f", ";"},
	} {
		b.Run(d.name, func(b *testing.B) {
			rng := rand.New(rand.NewPCG(1, 2))
			text := fmt.Appendf(nil, "time%scrank%[1]scam%[1]sspark%[1]smark\n", d.sep)
			for i := range 10_000 {
				text = fmt.Appendf(text, "%.6f", float64(i)*1e-6)
				for c := range 4 {
					text = fmt.Appendf(text, d.sep+d.number, 0.02*rng.NormFloat64()+float64(i/500%2*(c+3)))
				}
				text = append(text, '\n')
			}
			lay, p := Head(text, true)
			if p != nil {
				b.Fatal(p)
			}
			parser := lay.NewParser()
			var rows block.Rows
			b.SetBytes(int64(len(text)))
			for b.Loop() {
				parser.Parse(text[lay.Body:], true, &rows)
			}
			if rows.N != 10_000 || rows.Problem != nil {
				b.Fatal(rows.N, rows.Problem)
			}
		})
	}
}
