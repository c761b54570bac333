package spreadsheet

import (
	"testing"

	"pgregory.net/rapid"
)

// The cells are invented; which first letters make a formula is common practice among spreadsheets.
func TestCell(t *testing.T) {
	for text, want := range map[string]string{
		"=1+1": "'=1+1", "+1+1": "'+1+1", "-2+3": "'-2+3", "@sum(a1)": "'@sum(a1)", "\t=1": "'\t=1", "\r=1": "'\r=1",
		"\n=1": "'\n=1", "=": "'=", "-": "'-", "- wet belt": "'- wet belt",
		"'=1": "''=1", "''-x": "'''-x",
		"-1.5": "-1.5", "+3": "+3", "-1,5": "-1,5", "-.5": "-.5", "-1e-3": "-1e-3", "-1-1": "'-1-1",
		"-1.5.2": "'-1.5.2", "-e": "'-e", "-1.5\n": "'-1.5\n",
		"": "", "'": "'", "belt = slack": "belt = slack", "'quoted'": "'quoted'", "'-1.5": "'-1.5", " =1": " =1",
		"1-2": "1-2",
	} {
		if got := Cell(text); got != want {
			t.Errorf("%q is written %q, want %q", text, got, want)
		}
		if got := Text(want); got != text {
			t.Errorf("%q is read %q, want %q", want, got, text)
		}
	}
}

// Whatever a text holds, its cell is nothing to run and gives the text back.
func TestCellRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.StringMatching(`['=+@\t\r\n,.0-9eE-]{0,6}`), rapid.String()).Draw(t, "text")
		cell := Cell(text)
		if runs(cell) {
			t.Errorf("%q is written %q, which runs", text, cell)
		}
		if got := Text(cell); got != text {
			t.Errorf("%q is written %q and read %q", text, cell, got)
		}
	})
}
