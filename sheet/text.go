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
	o := s.InOrder()
	for _, g := range append([]Group{o.Stops, o.Cautions}, o.Areas...) {
		g.write(&b, width)
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

// write prints a group: what is wrong with the line of the card that cures it, and at the end what was assumed for all
// of its items.
func (g *Group) write(b *strings.Builder, width int) {
	if len(g.Items) == 0 {
		return
	}
	fmt.Fprintf(b, "\n%s\n", strings.ToUpper(g.Name))
	for _, it := range g.Items {
		title := it.Title
		if it.Verdict != Fine {
			title += "  [" + string(it.Verdict) + "]"
		}
		fmt.Fprintf(b, " %s %s\n", it.Verdict.symbol(), title)
		for line := range strings.Lines(it.Text) {
			b.WriteString(wrap(line, "     ", width))
		}
		if it.Because != "" {
			b.WriteString(wrap("why: "+it.Because, "     ", width))
		}
		if it.Verdict != Fine {
			b.WriteString(wrap(it.CureText(), "     ", width))
			b.WriteString(wrap("if ignored: "+it.Ignored, "     ", width))
		}
	}
	var assumed []string
	for _, in := range g.Assumed {
		assumed = append(assumed, in.Path+" "+in.Value)
	}
	if len(assumed) > 0 {
		b.WriteString(wrap(strings.Join(assumed, "; "), " assumed: ", width))
	}
}

// CureText says by which lines of the card a stop or a caution is cleared.
func (it *Item) CureText() string {
	if len(it.Cure) == 0 {
		return "on the card: no line cures this. Keep it in mind at the engine"
	}
	return "on the card: " + strings.Join(it.Cure, ", ")
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
