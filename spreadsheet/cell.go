// Package spreadsheet keeps words in a CSV file from being run as a formula by the spreadsheet that somebody opens the
// file with.
//
// A cell that begins with =, +, -, @, a tab or a line end is a formula, or may become one, whoever wrote it: a note may
// come from another's book. An apostrophe in front is the usual mark for text. Cell puts it there, Text takes it away
// again: Text(Cell(s)) is s for every s. Plain numbers are left alone, so that -1.5 stays a figure. Nothing here fails.
package spreadsheet

import (
	"regexp"
	"strings"
)

// plainNumber is a figure with a sign, with decimal point or comma.
var plainNumber = regexp.MustCompile(`^[+-]([0-9]+([.,][0-9]*)?|[.,][0-9]+)([eE][+-]?[0-9]+)?$`)

// runs says whether a spreadsheet might run a cell that holds the text.
func runs(text string) bool {
	return text != "" && strings.IndexByte("=+-@\t\r\n", text[0]) >= 0 && !plainNumber.MatchString(text)
}

// Cell is what to write for a text. Apostrophes that stand before a formula already get one more, so that Text knows
// its own.
func Cell(text string) string {
	if runs(strings.TrimLeft(text, "'")) {
		return "'" + text
	}
	return text
}

// Text is what a cell says that Cell, or a person who knows the apostrophe, wrote.
func Text(cell string) string {
	if rest, marked := strings.CutPrefix(cell, "'"); marked && runs(strings.TrimLeft(rest, "'")) {
		return rest
	}
	return cell
}
