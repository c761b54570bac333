package yamltext

import (
	"cmp"
	"fmt"
	"strings"
	"unicode/utf8"
)

// The YAML library takes time that grows with the square of several things in a text. The text is therefore bounded
// here, in one walk, before the library sees it: within these bounds any text is read or refused within 50 ms of
// processor time (some 20 ms for the worst that was found), so that reading needs no way to be stopped. The example
// cards, written as JSON, weigh up to 604.
const (
	mostMarks = 2400 // weight of the signs below; 20 000 keys without values would cost several seconds
	mostBlank = 20   // empty lines in a row; the library copies a block of text once for each that ends it
	mostTabs  = 60   // in a line; the library looks through the rest of a quoted line at each

	// longestText is checked on the library's tokens: it writes the keys above a value into the path of each.
	longestText = 1000
)

// marks are the signs that can begin a token of YAML, with the weight of each: a quoted text is one token and has
// two quotes.
var marks = [256]uint8{':': 2, ',': 2, '[': 2, ']': 2, '{': 2, '}': 2, '-': 2, '?': 2, '&': 2, '*': 2, '!': 2,
	'|': 2, '>': 2, '<': 2, '%': 2, '@': 2, '`': 2, '"': 1, '\'': 1}

// bound refuses a text that would cost the YAML library too much. Lines end with \n.
func (t *Text) bound(k Kind) {
	total, open, blank := 0, 0, 0
	var indents []int // of the lines that the present one may stand below, outermost first
	for i, line := range t.lines {
		bare := strings.TrimLeft(line, " \t")
		if bare == "" {
			if blank++; blank > mostBlank {
				t.Fail("", Place{i + 1, 1}, fmt.Sprintf("more than %d empty lines follow one another", mostBlank),
					"take the empty lines away")
				return
			}
			continue
		}
		blank = 0
		if strings.Count(line, "\t") > mostTabs {
			t.Fail("", Place{i + 1, 1}, fmt.Sprintf("the line has more than %d tab characters", mostTabs),
				"write blanks instead, and indent with blanks")
			return
		}
		code := beforeComment(line)
		if strings.TrimSpace(code) == "" {
			continue
		}
		indent := len(line) - len(bare)
		for len(indents) > 0 && indents[len(indents)-1] >= indent {
			indents = indents[:len(indents)-1]
		}
		indents = append(indents, indent)
		inLine := 0 // "- - - a", "? ? a" and "!a !b c" nest as well
		for j := range len(code) {
			c := code[j]
			if marks[c] == 0 {
				continue
			}
			total += int(marks[c])
			switch c {
			case '[', '{':
				open++
			case ']', '}':
				open = max(open-1, 0)
			case '-', '?':
				if j+1 == len(code) || code[j+1] == ' ' || code[j+1] == '\t' {
					inLine++
				}
			case '!', '&':
				inLine++
			}
			at := func() Place { return Place{i + 1, utf8.RuneCountInString(code[:j]) + 1} }
			if max(open, inLine) > k.Depth || len(indents) > k.Depth+1 {
				t.Fail("", at(), "brackets, dashes or indented lines are nested too deep",
					k.Name+" needs lists of lists at most")
				return
			}
			if most := cmp.Or(k.Marks, mostMarks); total > most {
				t.Fail("", at(), fmt.Sprintf("the text has more than %d signs such as : , - and brackets", most),
					k.Name+" needs a few hundred; is this another file?")
				return
			}
		}
	}
}

// beforeComment is the line without a comment at its end. Where a quote stands behind the # the line is given whole:
// the # may be part of a quoted text, and what stands behind that text counts.
func beforeComment(line string) string {
	at := 0
	if !strings.HasPrefix(line, "#") {
		i := strings.Index(line, " #")
		if i < 0 {
			return line
		}
		at = i + 1
	}
	if strings.ContainsAny(line[at:], `"'`) {
		return line
	}
	return line[:at]
}
