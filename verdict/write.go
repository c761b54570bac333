package verdict

import (
	"fmt"
	"io"
	"strings"
)

// Write writes the lines that a technician reads first: what it is, what to do now, what is broken and what stays open.
// The word is that on the timing measured: the question of the one who read it. Without a card there are two lines.
func (j *Judgement) Write(w io.Writer) error { return j.write(w, string(j.Verdict)) }

// WriteWhole is Write with the word on the whole statement.
func (j *Judgement) WriteWhole(w io.Writer) error { return j.write(w, string(j.Word)) }

func (j *Judgement) write(w io.Writer, word string) error {
	var b strings.Builder
	line := func(label, text string) {
		if text != "" {
			fmt.Fprintf(&b, "%-10s %s\n", label, text)
		}
	}
	line("VERDICT", word+": "+j.First)
	line("NEXT", j.Next)
	for _, state := range []State{Broken, AtOdds, Open, NotClaimed} {
		line(string(state), strings.Join(j.Clauses.Titles(state), ", "))
	}
	_, err := io.WriteString(w, b.String())
	return err
}
