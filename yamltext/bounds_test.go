package yamltext_test

import (
	"fmt"
	"runtime"
	"strings"
	"testing"
	"time"

	"phasewright/yamltext"
)

// large is a kind of file with the size and depth of a job card.
var large = yamltext.Kind{Name: "a note", Start: "write a key", Bytes: 64 << 10, Depth: 16}

// repeated is the text before, the unit as often as it goes into the size, and the text after.
func repeated(before, unit, after string, size int) string {
	if unit == "" {
		return before + after
	}
	return before + strings.Repeat(unit, max(size-len(before)-len(after), 0)/len(unit)) + after
}

// most repeats the unit as often as is read to the end or refused by the library, not by our bounds: there the
// library works hardest.
func most(before, unit, after string) string {
	text := repeated(before, unit, after, large.Bytes)
	lo, hi := 0, large.Bytes // sizes: lo is within the bounds
	for hi-lo > len(unit) {
		mid := (lo + hi) / 2
		if short := repeated(before, unit, after, mid); yamltext.WithinBounds([]byte(short), large) {
			lo, text = mid, short
		} else {
			hi = mid
		}
	}
	return text
}

// quick reads a text and says whether it took less than the limit once in five times, for the machine may be busy.
func quick(text string, limit time.Duration) (best time.Duration, ok bool) {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	best = time.Hour
	for range 5 {
		start := clock()
		yamltext.Read("n.yaml", []byte(text), large)
		if best = min(best, clock()-start); best < limit {
			return best, true
		}
	}
	return best, false
}

// hostile are units that cost a parser much when repeated: invented, and found by trying every pair of YAML's signs.
var hostile = []struct{ before, unit, after string }{
	{"", "a: 1\r", ""}, {"", "&a ", ""}, {"a: [", ",", ""}, {"", ",", ""}, {"", "[", ""}, {"", "{", ""},
	{"", "- ", ""}, {"", "? ", ""}, {"", "!!a ", ""},
	{"", "a: |\n", ""}, {"a: |\n  x\n", "\n", ""}, {"a: >\n  x\n", " \n", "b: 1\n"},
	{"a: |\n  x\n", "\r\n\r", ""}, {"", "\"", ""}, {"", "'", ""},
	{"", "\"\"", ""}, {"", "\"a\" ", ""}, {"a: \"", "x", ""}, {"a: \"", "\t", "x"}, {"a: \"", "\tx", ""},
	{"a: \"", "\tx\n ", ""}, {">a:\n", "@", ""}, {"a:\n", "%", ""},
	{"", "a:\n", ""}, {"", "a: 1\n", ""}, {"", "---\n", ""}, {"", "...\n", ""}, {"", "? a\n: b\n", ""},
	{"", "a: &b c\n", ""}, {"", "a: *b\n", ""}, {"", "<", ""},
	{"", "<<: ", ""}, {"", "a: ", ""}, {"a: {", "a: {", ""}, {"a: [", "a: [", ""}, {"a: {", "a:,", ""},
	{"a: {", "x,", ""}, {"", "\t", ""}, {"", "\n", "a"}, {"", " ", ""},
	{"", "#\n", "a: 1"}, {"", "# &a \"\n", ""}, {"", "!\t# &a &a &a\n", ""}, {"", "\"#\" &a ", ""},
	{"a: \"\n # x", "x", "\" &a &a &a"}, {"", "a: 1\u0085", ""},
	{"", "a: 1\u2028", ""}, {"", "a: 1\r\n\r\n", ""}, {"", "-\n", ""}, {"", "- a\n", ""}, {"", "a\n", ""},
	{"k: v\n", "a\n", ""}, {"", "\\", ""}, {"", "%a\n", ""},
	{"a: [" + strings.Repeat(" x", 30000), "a: ", ""},
	{"a: |\n" + strings.Repeat("  x\n", 15000), "\n", "b: 1\n"},
	{"]" + strings.Repeat(" ", 60000), "*a ", "!>!!s "},
	{"? \"\n" + strings.Repeat(" # x\n", 10000) + "\"\n: {", "a: 1,", "}"}, {"", "é: ", ""},
	{"a: '", "'a: 1\n", ""}, {"a: >\n  x\n  ", "<a:\n", ""},
}

// Nobody can make the server slow with a text: whatever it is, it is read, or refused with a place and a remedy, in
// 50 ms.
func TestHostileTextsCostLittle(t *testing.T) {
	for _, h := range hostile {
		whole, huge := repeated(h.before, h.unit, h.after, large.Bytes), repeated(h.before, h.unit, h.after, 1<<20)
		for _, text := range []string{most(h.before, h.unit, h.after), whole, huge} {
			what := fmt.Sprintf("%.40q %q %q, %d bytes", h.before, h.unit, h.after, len(text))
			if best, ok := quick(text, patience); !ok {
				t.Errorf("%s: %v", what, best)
			}
			x, root := yamltext.Read("n.yaml", []byte(text), large)
			if (root == nil) != (len(x.Faults) > 0) {
				t.Errorf("%s: neither read nor refused, or both", what)
			}
			for _, e := range x.Faults {
				if e.Line < 1 || e.Column < 1 || e.Problem == "" || e.Remedy == "" {
					t.Errorf("%s: no place or no remedy: %v", what, e)
				}
			}
		}
	}
}

// The bounds say where they were passed. The places are counted by hand.
func TestBoundsNameThePlace(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{strings.Repeat("a: 1\n", 1201), "n.yaml:1201:2: the text has more than 2400 "}, // a colon weighs two
		{"é: [" + strings.Repeat("''", 1500), "n.yaml:1:2401: "},                        // the colon and the bracket weigh 4, so the 2397th quote is one too many; it stands behind 4 characters
		{"a: 1\n" + strings.Repeat("\n", 21) + "b: 2\n", "n.yaml:22:1: more than 20 empty lines"},
		{"a: 1\nb:" + strings.Repeat("\t", 61) + "2", "n.yaml:2:1: the line has more than 60 tab"},
		{"a: " + strings.Repeat("[", 17), "n.yaml:1:20: brackets, dashes or indented lines are nested too deep"},
		{stairs(18), "n.yaml:18:19: brackets, dashes or indented lines are nested too deep"},
		{"a: " + strings.Repeat("x", 1001), "n.yaml:1:4: a text of 1001 bytes stands here"},
	} {
		x, root := yamltext.Read("n.yaml", []byte(c.text), large)
		if err := x.Err(); err == nil || root != nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%.30q: %.200v; want %q", c.text, err, c.want)
		}
	}
	for _, text := range []string{
		strings.Repeat("a: 1 # &a [[[[ ----\n", 700), "a: 1\n" + strings.Repeat("\n", 20) + "b: 2", stairs(17), "a: " + strings.Repeat("[", 16) + strings.Repeat("]", 16),
		"# " + strings.Repeat("*", 60000) + "\na: 1", "a: 1\rb: 2\r", "a: 1\r\nb: 2\r\n",
	} {
		if x, root := yamltext.Read("n.yaml", []byte(text), large); root == nil {
			t.Errorf("%.30q: %.200v", text, x.Err())
		}
	}
	if x, _ := yamltext.Read("n.yaml", []byte("a: 1\rb: {"), large); !strings.HasPrefix(x.Err().Error(), "n.yaml:2:") {
		t.Errorf("a lone CR ends no line: %v", x.Err())
	}
}

// stairs are keys, each below the one before.
func stairs(n int) string {
	var b strings.Builder
	for i := range n {
		b.WriteString(strings.Repeat(" ", i) + "a:\n")
	}
	return b.String()
}

// FuzzCost looks for a text that costs the library much: short pieces, and one of them repeated as often as the
// bounds allow.
func FuzzCost(f *testing.F) {
	for _, h := range hostile {
		if len(h.before) < 100 {
			f.Add(h.before, h.unit, h.after)
		}
	}
	f.Fuzz(func(t *testing.T, before, unit, after string) {
		if len(before)+len(unit)+len(after) > 200 {
			return
		}
		text := repeated(before, unit, after, 16<<10)
		if n := strings.Count(text, unit); n > 1 && !yamltext.WithinBounds([]byte(text), large) {
			text = most(before, unit, after)
		}
		if best, ok := quick(text, 5*patience); !ok {
			t.Errorf("%q %q %q: %v", before, unit, after, best)
		}
	})
}
