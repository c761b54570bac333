// Package plain measures how plainly a text is written: how long its sentences are, and whether a word with two
// meanings on an engine stands in the one that is left to it. Tests of the rooms that write texts ask it.
package plain

import (
	"fmt"
	"regexp"
	"strings"
	"unicode"
)

// The limits of a sentence, in words: where something is to be done, elsewhere, and on average. Assumed; readers of a
// second language lose the thread beyond about twenty (common practice of plain English).
const (
	LongestDo = 15
	Longest   = 25
	Average   = 13
)

var (
	glued = strings.NewReplacer("\u2009", "", "\u202f", "", "\u00a0", "")
	ends  = regexp.MustCompile(`[.!?][)»"]*(\s+|$)|\n+`)
	// a table as it stands on a card is no sentence, nor is a list of what goes where
	rows = regexp.MustCompile(`\[\[.*?\]\]|(tower \d+ → cylinder \d+(, )?)+`)
)

// Sentences are the sentences of a text. A full stop within a number or a field's name ends none.
func Sentences(text string) []string {
	text = rows.ReplaceAllString(glued.Replace(text), "table")
	for _, short := range []string{"No. ", "no. "} {
		text = strings.ReplaceAll(text, short, "No ")
	}
	var out []string
	for _, s := range ends.Split(text, -1) {
		if s = strings.TrimSpace(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// Words is how many words a sentence has; a number with its unit behind a thin space is one, a sign alone is none.
func Words(sentence string) int {
	n := 0
	for _, w := range strings.Fields(glued.Replace(sentence)) {
		if strings.ContainsFunc(w, func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }) {
			n++
		}
	}
	return n
}

// Long names the sentences of a text that have more words than the most.
func Long(text string, most int) []string {
	var out []string
	for _, s := range Sentences(text) {
		if n := Words(s); n > most {
			out = append(out, fmt.Sprintf("%d words: %s", n, s))
		}
	}
	return out
}

// Double is a word that has had two meanings on an engine, the one that is left to it, and what says the other.
type Double struct {
	Word, Means, Other string
	forbids            *regexp.Regexp
}

// Doubles is the list of words that are told apart.
func Doubles() []Double { return append([]Double(nil), doubles...) }

var doubles = []Double{
	{"lead", "trigger lead: the angle of the edge before TDC", "plug wire, test lead, battery cable; goes, takes",
		regexp.MustCompile(`(?i)\b(plug|spark|coil|cap|battery|negative|earth|ground|pickup|cam|meter|light's|lamp|mains|` +
			`fed|loose)('s)? leads?\b|\blead (of cylinder|extension|the|it)\b|\bled\b|\bleads\b`)},
	{"locked", "of the timing: the controller holds one advance", "wait, not open yet; rule; switched off",
		regexp.MustCompile(`(?i)\b(step|lead|housing|start|door|list)s? (is|are) (un)?locked|\b(a|the|this) lock\b|\blocks\b|` +
			`\block the (remote|housing|start)|nothing is locked`)},
	{"light", "timing light, the tool", "lamp on, lamp off; catch fire, set on fire",
		regexp.MustCompile(`(?i)\blit\b|\b(vapour|spark|it|flame|lead|wire|which) lights\b|\blights (it|fuel|up)\b|` +
			`\bto light\b|\blights\b`)},
	{"crank", "crankshaft, the part; at cranking: while the starter turns it", "turn the engine, run the starter",
		regexp.MustCompile(`(^|[.;:,] ?)[Cc]rank (for|to|it|the engine|until|again|with)\b|\bto crank\b|` +
			`\b(no|while|stop) crank\b|\bcranked\b|[Cc]rank check|\band crank (it|to|for)\b`)},
}

// told are the ways of saying that tell the two meanings apart.
var told = regexp.MustCompile(`(?i)\b((test|trigger) leads?|crank (signal|pickup))\b`)

// Faults names the double meanings in a text.
func Faults(text string) []string {
	var out []string
	for _, s := range Sentences(text) {
		for _, d := range doubles {
			if m := d.forbids.FindString(told.ReplaceAllString(s, "—")); m != "" {
				out = append(out, fmt.Sprintf("%q (%s means %s; else write %s): %s", m, d.Word, d.Means, d.Other, s))
			}
		}
	}
	return out
}
