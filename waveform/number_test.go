package waveform

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
)

// TestNumbersLikeParseFloat: every way of writing a number gives the bits of strconv.ParseFloat, through the quick, the
// middle and the slow path: fixed places 0 to 20, exponents, signs, long mantissas, in columns that change their form
// from row to row.
func TestNumbersLikeParseFloat(t *testing.T) {
	rng := rand.New(rand.NewPCG(71, 72))
	forms := []func(x float64) string{
		func(x float64) string { return strconv.FormatFloat(x, 'f', 3, 64) },
		func(x float64) string { return strconv.FormatFloat(x, 'f', rng.IntN(12), 64) },
		func(x float64) string { return strconv.FormatFloat(x, 'f', rng.IntN(21), 64) },
		func(x float64) string { return strconv.FormatFloat(x, 'e', rng.IntN(17), 64) },
		func(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) },
		func(x float64) string { return strconv.FormatInt(int64(x*1000), 10) },
		func(x float64) string { return fmt.Sprintf("%+.4E", x) },
	}
	for _, dec := range []string{".", ","} {
		for trial := range 14 {
			var b strings.Builder
			b.WriteString("time;a;b\n")
			var want [][2]float64
			for i := range 300 {
				var cells [2]string
				for k := range cells {
					f := forms[(trial+k)%len(forms)]
					if rng.IntN(20) == 0 {
						f = forms[rng.IntN(len(forms))]
					}
					cells[k] = f((rng.Float64() - 0.5) * math.Pow(10, float64(rng.IntN(9)-4)))
				}
				var w [2]float64
				for k, s := range cells {
					x, err := strconv.ParseFloat(s, 64)
					if err != nil {
						t.Fatal(err)
					}
					w[k] = x
				}
				want = append(want, w)
				row := fmt.Sprintf("%d;%s;%s\n", i, cells[0], cells[1])
				b.WriteString(strings.ReplaceAll(row, ".", dec))
			}
			r, err := readText(t, b.String(), Options{})
			if err != nil {
				t.Fatal(err)
			}
			for i, w := range want {
				for k := range w {
					if got := r.Values[k][i]; math.Float64bits(got) != math.Float64bits(w[k]) && !(got == 0 && w[k] == 0) {
						t.Fatalf("trial %d, row %d: %v, want %v (%s)", trial, i, got, w[k], strings.Split(b.String(), "\n")[i+1])
					}
				}
			}
		}
	}
}

// TestQuickPathRefusesWhatIsNoNumber: one character of a cell that the quick path would take is changed at each place
// to each byte; the cell must then be read as encoding would (ParseFloat), or refused.
func TestQuickPathRefusesWhatIsNoNumber(t *testing.T) {
	cells := []string{"1.2345", "-12.50", "3", "1234567", "0.12345678", "-1234.567890123", "12345678", "0.1234567"}
	if testing.Short() {
		cells = cells[:3]
	}
	for _, cell := range cells {
		for i := range len(cell) {
			for c := byte(33); c < 127; c++ {
				if c == ',' || c == '"' || c == ';' {
					continue
				}
				bad := cell[:i] + string(c) + cell[i+1:]
				text := "time,v\n0," + cell + "\n1," + cell + "\n2," + cell + "\n3," + bad + "\n4," + cell + "\n"
				r, err := readText(t, text, Options{})
				x, perr := strconv.ParseFloat(bad, 64)
				if perr != nil || strings.ContainsAny(bad, "_xXpP") {
					if err == nil && len(r.Values[0]) == 5 && !math.IsNaN(r.Values[0][3]) {
						if !strings.Contains("VvAasS", string(c)) { // units
							t.Fatalf("%q is taken for %v", bad, r.Values[0][3])
						}
					}
					continue
				}
				if math.Abs(x) >= 9.9e37 {
					x = math.Inf(int(math.Copysign(1, x)))
				}
				if err != nil || r.Values[0][3] != x {
					t.Fatalf("%q: %v, want %v", bad, err, x)
				}
			}
		}
	}
}
