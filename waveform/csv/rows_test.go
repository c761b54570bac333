package csv

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"phasewright/waveform/block"
)

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
