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

// Number prints v for people: a true minus sign, a thin space as thousands mark, and with decimals < 0 at most four significant
// figures and no trailing zeros.
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

// significant prints v with at most figures significant figures, never in exponent form, and without trailing zeros after the point.
// Digits before the point are all kept: 12345 stays 12345.
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
