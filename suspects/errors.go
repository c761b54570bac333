package suspects

import (
	"fmt"
	"strings"
)

// Error is one thing wrong with an evidence file, with its place.
type Error struct {
	File         string
	Line, Column int // from 1
	Path         string
	Problem      string
	Remedy       string
}

// Error gives `evidence.yaml:3:9: light.shown – "12..5" is not a number – write …`.
func (e *Error) Error() string {
	at := e.File
	if e.Line > 0 {
		at = fmt.Sprintf("%s:%d:%d", e.File, e.Line, e.Column)
	}
	if e.Path != "" {
		at += ": " + e.Path
	}
	return fmt.Sprintf("%s – %s – %s", at, e.Problem, e.Remedy)
}

// Errors is everything wrong that one reading found, in the order of the text, at most 20.
type Errors []*Error

// Error joins the messages, one a line.
func (es Errors) Error() string {
	var parts []string
	for _, e := range es {
		parts = append(parts, e.Error())
	}
	return strings.Join(parts, "\n")
}

// near is the accepted word closest to the one written, "" where none is close.
func near(w string, accepted []string) string {
	best, at := "", 3
	if len(w) > 64 {
		return ""
	}
	for _, a := range accepted {
		if d := distance(strings.ToLower(w), a); d < at {
			best, at = a, d
		}
	}
	return best
}

// distance is Levenshtein's, over bytes.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diagonal
			if a[i] != b[j] {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j+1]+1, row[j]+1)
		}
	}
	return row[len(b)]
}
