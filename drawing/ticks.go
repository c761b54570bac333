package drawing

import (
	"math"
	"strconv"
	"strings"
)

// Ticks returns round numbers from lo to hi, at most most of them: steps of 1, 2 or
// 5 times a power of ten.
func Ticks(lo, hi float64, most int) []float64 { return stepTicks(lo, hi, niceStep(hi-lo, most)) }

// stepTicks returns the multiples of step from lo to hi.
func stepTicks(lo, hi, step float64) []float64 {
	var out []float64
	first := math.Ceil(lo/step - 1e-9)
	for i := 0.0; ; i++ {
		v := (first + i) * step
		if v > hi+step*1e-9 {
			return out
		}
		out = append(out, tidy(v, step))
	}
}

// niceStep returns the smallest round step that cuts span into at most most-1 parts.
func niceStep(span float64, most int) float64 {
	raw := span / float64(max(most-1, 1))
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5, 10} {
		if raw <= m*power*(1+1e-9) {
			return m * power
		}
	}
	return 10 * power
}

// tidy drops the last bits of v that came from multiplying.
func tidy(v, step float64) float64 {
	d := decimals(step)
	out, err := strconv.ParseFloat(strconv.FormatFloat(v, 'f', d+2, 64), 64)
	if err != nil || out == 0 {
		return 0
	}
	return out
}

// decimals returns how many decimals show a multiple of step in full.
func decimals(step float64) int {
	return int(math.Max(0, math.Ceil(-math.Log10(math.Abs(step))-1e-9)))
}

// LogTicks returns 1, 2 and 5 times the powers of ten between lo and hi, or the powers alone
// where those are more than most.
func LogTicks(lo, hi float64, most int) []float64 {
	for _, steps := range [][]float64{{1, 2, 5}, {1}} {
		var out []float64
		for p := math.Floor(math.Log10(lo)); p <= math.Ceil(math.Log10(hi)); p++ {
			for _, m := range steps {
				if v := m * math.Pow(10, p); v >= lo*(1-1e-9) && v <= hi*(1+1e-9) {
					out = append(out, v)
				}
			}
		}
		if len(out) <= most || len(steps) == 1 {
			return out
		}
	}
	return nil
}

// Number prints v with the given decimals as the house does: a true minus sign and
// thin spaces between thousands.
func Number(v float64, places int) string {
	s := strconv.FormatFloat(math.Abs(v), 'f', max(places, 0), 64)
	whole, part, _ := strings.Cut(s, ".")
	var b strings.Builder
	if v < 0 && strings.Trim(s, "0.") != "" {
		b.WriteString("−")
	}
	for i, c := range whole {
		if i > 0 && (len(whole)-i)%3 == 0 {
			b.WriteString("\u2009")
		}
		b.WriteRune(c)
	}
	if part != "" {
		b.WriteString("." + part)
	}
	return b.String()
}

// Signed prints v like Number with a plus sign before positive values.
func Signed(v float64, places int) string {
	s := Number(v, places)
	if v > 0 && strings.Trim(s, "0.") != "" {
		return "+" + s
	}
	return s
}
