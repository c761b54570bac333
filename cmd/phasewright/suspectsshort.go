package main

import (
	"fmt"
	"io"
	"strings"

	"phasewright/suspects"
	"phasewright/verdict"
)

const (
	settled      = "Settled: do the cure."
	linesBelow   = 2    // the first explanation in the short form
	leastPrinted = 0.05 // share of an explanation that is printed at all
	leastCured   = 0.5  // share of what stands first whose cure is said before it is sure
	reasonsSaid  = 2
)

// writeShort prints what one reads beside the engine: the verdict, what to do now, why, and what would tell more.
func writeShort(w io.Writer, width int, says *verdict.Judgement, r *suspects.Result) error {
	var b strings.Builder
	put := func(label, text string) {
		if text != "" {
			b.WriteString(wrapped(text, fmt.Sprintf("%-10s ", label), width))
		}
	}
	put("VERDICT", string(says.Word)+": "+says.First)
	if open := len(says.Clauses.Titles(verdict.Open)); open > 0 && !strings.Contains(says.First, "open") {
		put("open", fmt.Sprintf("%d of %d clauses", open, len(says.Clauses)))
	}
	b.WriteString("\n")
	now := says.Now(r)
	switch {
	case now.Settled:
		b.WriteString(settled + "\n")
		put("CURE", now.Do)
		put("mind", now.Mind)
		put("check", now.Check)
	case len(now.Looks) > 0:
		put("DO", "do not turn anything yet: look first")
	default:
		put("DO", now.Do)
	}
	b.WriteString("\n")
	writeRanked(&b, width, r, now.Settled)
	for i, look := range now.Looks {
		if i == 0 {
			b.WriteString("\n")
			writeLook(&b, width, "LOOK       ", &look)
		} else if look.Hazard == "" || look.Hazard == now.Looks[0].Hazard { // another hazard is no mere "or"
			look.Tells, look.Hazard = "", ""
			writeLook(&b, width, "or         ", &look)
		}
	}
	b.WriteString("\nThis calculates, it does not certify. More: --long\n")
	_, err := io.WriteString(w, b.String())
	return err
}

// writeRanked prints the first explanation with its reasons, and its cure where it is likely and was not said yet;
// those that cannot be told from it with their own shares; and a few below.
func writeRanked(b *strings.Builder, width int, r *suspects.Result, cured bool) {
	const lead = "           "
	below := 0
	for i, l := range verdict.Lines(r) {
		s := l.Suspect
		beside := s == &r.Suspects[0]
		if !beside {
			if below++; below > linesBelow || s.Probability < leastPrinted {
				return
			}
		}
		name := l.Name
		if !l.First {
			name = "or " + name
		}
		b.WriteString(wrapped(name, fmt.Sprintf("%9s  ", l.Share), width))
		if i == 0 {
			why, against := verdict.Reasons(s)
			if len(why) > 0 {
				b.WriteString(wrapped("why: "+strings.Join(why[:min(len(why), reasonsSaid)], "; "), lead, width))
			}
			if len(against) > 0 {
				b.WriteString(wrapped("against: "+against[0], lead, width))
			}
			if s.Size != "" {
				b.WriteString(wrapped("size: "+s.Size, lead, width))
			}
		}
		if i == 0 && !cured && len(s.Faults) > 0 && l.Probability >= leastCured {
			b.WriteString(wrapped("cure, once sure: "+l.Cure, lead, width))
			for _, x := range [][2]string{{"mind: ", s.Mind}, {"check: ", s.Check}} {
				if x[1] != "" {
					b.WriteString(wrapped(x[0]+x[1], lead, width))
				}
			}
		}
	}
}
