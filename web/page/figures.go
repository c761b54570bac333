package page

import (
	"math"
	"strconv"
	"strings"

	"phasewright/quantity"
	"phasewright/record"
)

// Figure prints a number for people; places below nought means four significant figures.
func Figure(v float64, places int) string { return Whole(quantity.Number(v, places)) }

// Known is Figure with a dash where the number is not known.
func Known(v float64, places int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	return Figure(v, places)
}

// Whole keeps numbers on one line: a thin space as thousands mark must not break in a page.
func Whole(text string) string { return strings.ReplaceAll(text, "\u2009", "\u202f") }

// WholeAll is Whole of each text.
func WholeAll(texts []string) []string {
	var out []string
	for _, t := range texts {
		out = append(out, Whole(t))
	}
	return out
}

// Degrees prints degrees as the light and the housing are read: to a tenth.
func Degrees(v float64) string { return Figure(v, 1) + "°" }

// Signed prints with a plus where it is above nought.
func Signed(v float64, places int) string {
	text := Figure(v, places)
	if v > 0 && !math.IsInf(v, 0) && text != Figure(0, places) {
		return "+" + text
	}
	return text
}

// PlusMinus prints an uncertainty, or that there is none yet.
func PlusMinus(u float64, places int, unit string) string {
	return Whole(quantity.PlusMinus(u, places, unit))
}

// Line is a row of a table of figures: what, how much, and its uncertainty or a remark.
type Line struct{ Name, Value, U string }

// LogLine is one thing done, as a page lists it.
type LogLine struct{ At, Who, What string }

// Count says "1 reading", "3 readings".
func Count(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + one + "s"
}

// Joined puts the parts that are not empty into one line.
func Joined(sep string, parts ...string) string {
	return record.Joined(sep, parts...)
}

// Sentence gives a line a capital and a full stop.
func Sentence(s string) string {
	if s == "" {
		return ""
	}
	return strings.ToUpper(s[:1]) + strings.TrimSuffix(s[1:], ".") + "."
}
