package yamltext

import (
	"fmt"
	"strings"
)

// Error is one thing wrong with a file, with the place where it stands.
type Error struct {
	File         string
	Line, Column int    // from 1; 0 where the fault has no place of its own
	Path         string // dotted path of the field, such as engine.bore; empty for faults of the text
	Problem      string // what was found
	Remedy       string // what to write instead
	Source       string // the source line
}

// Error gives `card.yaml:14:9: engine.bore: "98 kg" has the unit "kg", which is not one of a length; write …`.
func (e *Error) Error() string {
	var b strings.Builder
	if e.File != "" {
		fmt.Fprintf(&b, "%s:", e.File)
	}
	if e.Line > 0 {
		fmt.Fprintf(&b, "%d:%d:", e.Line, e.Column)
	}
	if b.Len() > 0 {
		b.WriteByte(' ')
	}
	if e.Path != "" {
		fmt.Fprintf(&b, "%s: ", e.Path)
	}
	b.WriteString(e.Problem)
	if e.Remedy != "" {
		b.WriteString("; " + e.Remedy)
	}
	return b.String()
}

// Excerpt is the source line with a caret under the place, for a terminal; empty where there is none.
func (e *Error) Excerpt() string {
	if e.Line == 0 || e.Source == "" {
		return ""
	}
	source := []rune(strings.ReplaceAll(e.Source, "\t", " "))
	at := min(max(e.Column-1, 0), len(source))
	from := 0
	const widest = 140
	if len(source) > widest && at > widest/2 { // a very long line: show the part around the place
		from = at - widest/2
	}
	to := min(len(source), from+widest)
	margin := fmt.Sprintf("%5d | ", e.Line)
	return margin + string(source[from:to]) + "\n" + strings.Repeat(" ", len(margin)+at-from) + "^"
}

// Errors is everything wrong that could be found in one reading, in the order of the text, at most Most.
type Errors []*Error

// Error joins the messages, each with its excerpt.
func (es Errors) Error() string {
	var parts []string
	for _, e := range es {
		text := e.Error()
		if x := e.Excerpt(); x != "" {
			text += "\n" + x
		}
		parts = append(parts, text)
	}
	return strings.Join(parts, "\n")
}

// Nearest is the accepted word closest to the one written, or "" where none is close.
func Nearest(word string, accepted []string) string {
	best, at := "", 3
	if len(word) > 64 {
		return ""
	}
	for _, a := range accepted {
		if d := editDistance(strings.ToLower(word), a); d < at || (d == at && strings.HasPrefix(a, word)) {
			best, at = a, d
		}
	}
	return best
}

// editDistance is Levenshtein's, over bytes.
func editDistance(a, b string) int {
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
