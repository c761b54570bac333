package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

const minus = "\u2212"

func format(s fmt.State, v float64, k *kind) {
	decimals := -1
	if p, ok := s.Precision(); ok {
		decimals = p
	}
	text := render(v, k, decimals)
	if s.Flag('+') && v > 0 {
		text = "+" + text
	}
	if w, ok := s.Width(); ok {
		if n := len([]rune(text)); n < w {
			pad := strings.Repeat(" ", w-n)
			if s.Flag('-') {
				text += pad
			} else {
				text = pad + text
			}
		}
	}
	fmt.Fprint(s, text)
}

func render(v float64, k *kind, decimals int) string {
	sc := k.scales[len(k.scales)-1]
	for _, c := range k.scales {
		if math.Abs(v) >= c.from*(1-1e-12) {
			sc = c
			break
		}
	}
	return Number(v/sc.factor, decimals) + k.glue + sc.name
}

// Number prints v for people: a true minus sign, a thin space as thousands mark, and with decimals < 0 at most four
// significant figures and no trailing zeros.
func Number(v float64, decimals int) string {
	switch {
	case math.IsNaN(v):
		return "unknown"
	case math.IsInf(v, 1):
		return "∞"
	case math.IsInf(v, -1):
		return minus + "∞"
	}
	var text string
	if decimals >= 0 {
		text = strconv.FormatFloat(v, 'f', decimals, 64)
	} else {
		text = significant(v, 4)
	}
	negative := strings.HasPrefix(text, "-")
	text = strings.TrimPrefix(text, "-")
	whole, fraction, _ := strings.Cut(text, ".")
	if strings.Trim(text, "0.") == "" {
		negative = false // "-0.0" is nought
	}
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + thin + whole[i:]
	}
	if fraction != "" {
		whole += "." + fraction
	}
	if negative {
		whole = minus + whole
	}
	return whole
}

// Signed prints v like Number, with a plus before what is above nought.
func Signed[T ~float64](v T, decimals int) string {
	if v > 0 {
		return "+" + Number(float64(v), decimals)
	}
	return Number(float64(v), decimals)
}

// Degrees prints an angle of any kind.
func Degrees[T ~float64](v T, decimals int) string { return Number(float64(v), decimals) + "°" }

// RPM prints a speed for a figure or a list; a Speed itself prints with a thin space before its unit.
func RPM[T ~float64](v T) string { return Number(float64(v), 0) + " rpm" }

// Millimetres prints a length for a figure or a list; a Length itself prints with a thin space before its unit.
func Millimetres[T ~float64](v T) string { return Number(float64(v), 1) + " mm" }

// Microseconds prints a time for a figure or a list; a Time itself changes its unit with its size.
func Microseconds[T ~float64](v T) string { return Number(float64(v), 0) + " µs" }

// PlusMinus prints an uncertainty with its unit, or that there is none yet.
func PlusMinus(u float64, decimals int, unit string) string {
	if math.IsInf(u, 0) || math.IsNaN(u) {
		return "± unknown"
	}
	return "± " + Number(u, decimals) + unit
}

// Chance prints a probability that is never quite certain.
func Chance(p float64) string {
	switch {
	case p > 0.99:
		return "over 99 %"
	case p < 0.01:
		return "under 1 %"
	}
	return Number(100*p, 0) + " %"
}

// significant prints v with at most figures significant figures, never in exponent form, and without trailing zeros
// after the point. Digits before the point are all kept: 12345 stays 12345.
func significant(v float64, figures int) string {
	if v == 0 {
		return "0"
	}
	decimals := figures - 1 - int(math.Floor(math.Log10(math.Abs(v))))
	decimals = min(max(decimals, 0), 9)
	text := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	if text == "-0" || text == "" {
		return "0"
	}
	return text
}
