package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/readings"
)

// writeFit prints what a fit found, for a terminal of the width.
func writeFit(w io.Writer, width int, card *jobcard.Card, rows []readings.Row, r *readings.Result) error {
	var b strings.Builder
	fmt.Fprintf(&b, "\nREADINGS  %s\n", card.Job.Name)
	writeRows(&b, rows, r)
	fmt.Fprintf(&b, "\nFIT  %s (tolerance ± %s°, %s %% coverage)\n", r.Verdict, num(r.Tolerance, 1),
		num(100*r.Confidence, 0))
	fmt.Fprintf(&b, "  housing, constant error   %s\n", interval(r.Offset, "°", 1))
	fmt.Fprintf(&b, "  delay left over           %s\n", interval(r.Delay, " µs", 0))
	fmt.Fprintf(&b, "  allowance now -> set      %s\n", strings.ReplaceAll(r.Allowance.String(), "→", "->"))
	fmt.Fprintf(&b, "  housing turn              %s\n", turn(r.Housing))
	if r.Next > 0 {
		fmt.Fprintf(&b, "  read next at              %s rpm\n", num(r.Next, 0))
	}
	if len(r.ErrorAt) > 0 {
		b.WriteString("\n  speed rpm   error °      U °\n")
		for _, e := range atMost(r.ErrorAt, 7) {
			fmt.Fprintf(&b, "  %9s  %8s  %7s\n", num(e.RPM, 0), quantity.Signed(e.Value, 2), num(e.U, 2))
		}
	}
	writeWires(&b, r)
	writeWords(&b, width, "\nDO THIS", r.Advice)
	writeWords(&b, width, "\nBE CAREFUL", r.Warnings)
	_, err := io.WriteString(w, b.String())
	return err
}

// writeWires prints how the cylinders that were read stand, where there is more than one.
func writeWires(b *strings.Builder, r *readings.Result) {
	if len(r.Wires) < 2 {
		return
	}
	b.WriteString("\n  wire  readings  offset °     U °   worst error °     U °  at rpm\n")
	for i, w := range r.Wires {
		c := r.Cylinders[i]
		fmt.Fprintf(b, "  %4d  %8d  %8s  %6s  %14s  %6s  %6s\n", w.Cylinder, c.Readings,
			quantity.Signed(c.Offset.Value, 2), num(c.Offset.Expanded(), 2), quantity.Signed(w.Worst.Value, 2),
			num(w.Worst.U, 2), num(w.Worst.RPM, 0))
	}
}

func writeRows(b *strings.Builder, rows []readings.Row, r *readings.Result) {
	b.WriteString("  no   rpm    shown   locked   error   allowance\n")
	for i, row := range rows {
		note := row.Note
		for _, o := range r.Outliers {
			if o == i+1 {
				note = strings.TrimPrefix(note+"; does not fit, not used", "; ")
			}
		}
		for _, d := range r.Asked {
			if d.Row == i+1 && !d.Counts {
				note = strings.TrimPrefix(note+"; not counted", "; ")
			}
		}
		if k := row.Cylinder(); k > 1 {
			note = strings.TrimSuffix(fmt.Sprintf("wire %d; %s", k, note), "; ")
		}
		allowance := "-"
		if row.AllowanceStated {
			allowance = quantity.Microseconds(row.Allowance)
		}
		line := fmt.Sprintf("  %2d %6s  %6s°  %6s°  %6s°  %9s  %s", i+1, num(float64(row.Speed), 0),
			num(float64(row.Shown), 2), num(float64(row.Locked), 1), quantity.Signed(row.TimingError(), 2),
			allowance, note)
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
}

func writeWords(b *strings.Builder, width int, title string, words []string) {
	if len(words) == 0 {
		return
	}
	b.WriteString(title + "\n")
	for _, l := range words {
		b.WriteString(wrapped(l, "  - ", width))
	}
}

func num(v float64, decimals int) string { return quantity.Number(v, decimals) }

// interval prints a value with half its 95 % interval, or says what is not known.
func interval(v readings.Interval, unit string, decimals int) string {
	switch {
	case !v.Known():
		return "not known yet"
	case math.IsInf(v.Expanded(), 1):
		return quantity.Signed(v.Value, decimals) + unit + " (no interval yet)"
	}
	return fmt.Sprintf("%s%s ± %s", quantity.Signed(v.Value, decimals), unit, num(v.Expanded(), decimals))
}

func turn(h readings.Housing) string {
	if h.TurnDeg == 0 {
		return "leave it"
	}
	return quantity.Degrees(h.TurnDeg, 1) + " of the housing, " + h.Direction
}

// turned is a turn of the housing, shaft degrees, with the rotor positive.
func turned(h readings.Housing) float64 {
	switch h.Direction {
	case readings.WithRotor:
		return h.TurnDeg
	case readings.AgainstRotor:
		return -h.TurnDeg
	}
	return 0
}

// atMost keeps n of the points, the first and last among them.
func atMost(es []readings.ErrorAt, n int) []readings.ErrorAt {
	if len(es) <= n {
		return es
	}
	var out []readings.ErrorAt
	for i := range n {
		out = append(out, es[i*(len(es)-1)/(n-1)])
	}
	return out
}

// wrapped folds text at blanks; the first line begins with lead, the others are indented as far.
func wrapped(text, lead string, width int) string {
	width = min(max(width, 50), 100)
	var b strings.Builder
	line, indent := lead, strings.Repeat(" ", len([]rune(lead)))
	fresh := true
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == '\n' }) {
		if !fresh && len([]rune(line))+1+len([]rune(word)) > width {
			b.WriteString(line + "\n")
			line, fresh = indent, true
		}
		if !fresh {
			line += " "
		}
		line, fresh = line+word, false
	}
	return b.String() + line + "\n"
}
