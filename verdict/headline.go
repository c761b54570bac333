package verdict

import (
	"strconv"
	"strings"
)

// Headline says in one sentence how the statement stands: "Fails on spark; two clauses open."
func (j *Judgement) Headline() string {
	broken, open, odds := j.Clauses.Titles(Broken), len(j.Clauses.In(Open)), j.Clauses.Titles(AtOdds)
	var parts []string
	switch {
	case len(broken) > 0:
		parts = append(parts, "Fails on "+listed(broken))
	case open+len(odds) > 0:
		parts = append(parts, "Not shown yet")
	case len(j.Clauses.In(NotClaimed)) > 0:
		parts = append(parts, "Passes in all that is claimed")
	default:
		parts = append(parts, "Passes: all nine clauses are shown")
	}
	if len(odds) > 0 {
		parts = append(parts, "at odds: "+listed(odds))
	}
	switch {
	case open == 1:
		parts = append(parts, "one clause open")
	case open > 1:
		parts = append(parts, inWords(open)+" clauses open")
	}
	return strings.Join(parts, "; ") + "."
}

// listed joins titles as a sentence does.
func listed(titles []string) string {
	if n := len(titles); n > 1 {
		return strings.Join(titles[:n-1], ", ") + " and " + titles[n-1]
	}
	return titles[0]
}

// inWords is a number of clauses in words.
func inWords(n int) string {
	words := []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"}
	if n < len(words) {
		return words[n]
	}
	return strconv.Itoa(n)
}
