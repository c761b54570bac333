package sheet

import (
	"fmt"
	"io"
	"strings"

	"phasewright/quantity"
)

// symbol is the verdict as a shape, the same on every output.
func (v Verdict) symbol() string {
	switch v {
	case Fine:
		return "○"
	case Caution:
		return "▨"
	}
	return "■"
}

// WriteText prints the sheet for a terminal of the width, in columns.
func (s *Sheet) WriteText(w io.Writer, width int) error {
	width = min(max(width, 50), 100)
	var b strings.Builder
	if halt := s.Halt(); halt != "" {
		b.WriteString(wrap(halt, "STOP  ", width))
	}
	b.WriteString(wrap(s.Job, "SET-UP SHEET  ", width))
	b.WriteString(wrap(s.Kind, "This engine: ", width))
	b.WriteString(wrap(s.Served, "", width))
	b.WriteString(wrap("crank "+s.Rotation+"; rotor "+s.Rotor, "", width))
	fmt.Fprintf(&b, "○ fine %d   ▨ caution %d   ■ stop %d\n", s.Count(Fine), s.Count(Caution), s.Count(Stop))
	area := ""
	for _, it := range s.Items {
		if it.Area != area {
			area = it.Area
			fmt.Fprintf(&b, "\n%s\n", strings.ToUpper(area))
		}
		title := it.Title
		if it.Verdict != Fine {
			title += "  [" + string(it.Verdict) + "]"
		}
		fmt.Fprintf(&b, " %s %s\n", it.Verdict.symbol(), title)
		b.WriteString(wrap(it.Text, "     ", width))
		b.WriteString(wrap("because "+it.Because, "     ", width))
		var assumed []string
		for _, in := range it.Inputs {
			if in.Assumed {
				assumed = append(assumed, in.Path+" "+in.Value)
			}
		}
		if len(assumed) > 0 {
			b.WriteString(wrap("assumed: "+strings.Join(assumed, ", "), "     ", width))
		}
		if it.Verdict != Fine {
			b.WriteString(wrap("if ignored: "+it.Ignored, "     ", width))
		}
	}
	if len(s.Expect) > 0 { // else the timing items say what is not given
		b.WriteString("\nWHAT THE LIGHT MUST SHOW IF ALL IS RIGHT\n")
	}
	for _, e := range s.Expect {
		band := ""
		if e.Band > 0 {
			band = " ± " + deg(e.Band)
		}
		b.WriteString(wrap(e.Why, fmt.Sprintf(" %6s rpm  %5s°%-8s ", quantity.Number(e.RPM, 0),
			quantity.Number(e.Shown, 1), band), width))
	}
	b.WriteString("\nCAUTIONS\n")
	for _, c := range s.Cautions {
		b.WriteString(wrap(c, "  - ", width))
	}
	if halt := s.Halt(); halt != "" {
		b.WriteString(wrap(halt, "\nSTOP  ", width))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// wrap folds text at blanks; the first line begins with lead, the others are indented as far.
func wrap(text, lead string, width int) string {
	var b strings.Builder
	indent := strings.Repeat(" ", len([]rune(lead)))
	line := lead
	empty := true
	for _, word := range strings.Fields(strings.ReplaceAll(text, "\u2009", "\u00a0")) {
		n := len([]rune(line)) + len([]rune(word))
		if !empty {
			n++
		}
		if n > width && !empty {
			b.WriteString(line + "\n")
			line, empty = indent, true
		}
		if !empty {
			line += " "
		}
		line, empty = line+word, false
	}
	b.WriteString(line + "\n")
	return strings.ReplaceAll(b.String(), "\u00a0", "\u2009")
}
