package verdict

import (
	"fmt"
	"io"
	"strings"
)

// Write writes the three lines that a technician reads first: what it is, what to do now, what stays open. Without a
// card there are two.
func (j *Judgement) Write(w io.Writer) error {
	var b strings.Builder
	line := func(label, text string) { fmt.Fprintf(&b, "%-10s %s\n", label, text) }
	line("VERDICT", string(j.Verdict)+": "+j.First)
	line("NEXT", j.Next)
	if broken := j.Clauses.Titles(Broken); len(broken) > 0 {
		line("broken", strings.Join(broken, ", "))
	}
	if open := append(j.Clauses.Titles(Open), j.Clauses.Titles(AtOdds)...); len(open) > 0 {
		line("open", strings.Join(open, ", "))
	}
	_, err := io.WriteString(w, b.String())
	return err
}
