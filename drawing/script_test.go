package drawing

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode"

	"golang.org/x/text/unicode/bidi"
)

// names are invented, in scripts that the text face lacks.
var names = []string{"سفينة الميناء", "ספינת הנמל", "Ἀθηνᾶ, ὑδραυλική ΆΈΉ", "Щука, Їжак", "汽艇一号", "渡し船カモメ", "漁船(港)", "Nguyễn Văn Đức, Łódź",
	"m\u0304 x\u030c"}

// mixed are names that pdftotext (22.12) reads letter by letter as they are, but puts into an order of its own: it
// takes the letters of a ligature from left to right, and a number within Arabic as one of English.
var mixed = []string{"مركب 12 لا", "Sandpiper سفينة 12 kg", "قایق ماهی\u200cگیری", "(قارب)"}

// Names come out of the file as they were written, each letter once, whatever the order in which they stand on the
// sheet.
func TestNamesComeOutOfThePDF(t *testing.T) {
	d := New(150, 200, "names", "")
	d.Reads = true
	for i, n := range append(slices.Clone(names), mixed...) {
		st := TextStyle{Size: 5, Weight: Weight(i%2 == 1)}
		if _, missing := Clean(n); len(missing) > 0 {
			t.Errorf("%s: not printed: %v", n, missing)
		}
		d.Text(10, 10+float64(i)*12, n, st)
		d.Text(80, 10+float64(i)*12, n, st.Sized(3).Heavy())
	}
	file := pdfFile(t, d)
	if dir := os.Getenv("LOOK"); dir != "" {
		data, _ := os.ReadFile(file)
		os.WriteFile(filepath.Join(dir, "names.pdf"), data, 0o644)
	}
	text := run(t, "pdftotext", "-layout", file, "-")
	lines := strings.Split(text, "\n")
	for _, n := range mixed {
		if !slices.ContainsFunc(lines, func(line string) bool { return sorted(line) == sorted(n+n) }) {
			t.Errorf("no line has the letters of %q twice", n)
		}
	}
	for _, n := range names {
		if got := strings.Count(text, n); got != 2 {
			t.Errorf("pdftotext finds %q %d times, want 2", n, got)
		}
	}
}

// sorted are the letters of a line without spaces and marks of direction.
func sorted(line string) string {
	var out []rune
	for _, r := range line {
		if !unicode.IsSpace(r) && !unicode.Is(unicode.Bidi_Control, r) {
			out = append(out, r)
		}
	}
	slices.Sort(out)
	return string(out)
}

// What stands on the line from left to right, worked out by hand from the rules of UAX #9 named.
func TestVisualOrder(t *testing.T) {
	for _, c := range []struct{ text, want, rule string }{
		{"abc אבג def", "abc |גבא| def", "N1, L2"},
		{"אבג 12 דהו", "והד |12| גבא", "I1, L2: a number runs to the right within what runs to the left"},
		{"אבג 12 def", "12| גבא| def", "W7 does not take the number for one of English"},
		{"abc 12 אבג", "abc 12 |גבא", "W7 takes it for one of English"},
		{"אבג 1,234% דהו", "והד |1,234%| גבא", "W4, W5"},
		{"no. 5: אבג-7, ok", "no. 5: |7|-גבא|, ok", "N1, N2"},
		{"plain 12", "plain 12", ""},
	} {
		runs := levelRuns(c.text)
		visual(runs)
		var got []string
		for _, r := range runs {
			s := r.text
			if r.level%2 == 1 {
				s = bidi.ReverseString(s)
			}
			got = append(got, s)
		}
		if shown := strings.Join(got, "|"); shown != c.want {
			t.Errorf("%q stands as %q, want %q (%s)", c.text, shown, c.want, c.rule)
		}
	}
}

// Arabic letters join: the forms of initial, middle and final letters differ from the letter alone, and lam with alef
// is one sign (Unicode 16, 9.2).
func TestArabicJoins(t *testing.T) {
	gids := func(text string) (out []uint16) {
		for _, p := range lineOf(text, false) {
			for _, g := range p.glyphs {
				out = append(out, g.gid)
			}
		}
		return out
	}
	alone, joined := gids("س"), gids("سسس")
	if len(joined) != 3 || joined[0] == joined[1] || joined[1] == joined[2] || slices.Contains(joined, alone[0]) {
		t.Errorf("alone %v, joined from left to right %v", alone, joined)
	}
	if got := gids("لا"); len(got) != 1 {
		t.Errorf("lam and alef are %d signs", len(got))
	}
	if a, b := gids("ی\u200cی"), gids("یی"); a[len(a)-1] == b[len(b)-1] {
		t.Error("the mark against joining does not keep letters apart")
	}
	if w := Width("سسس", Body); w >= 3*Width("س", Body) {
		t.Errorf("joined letters are %.2f mm wide, not less than three alone", w)
	}
}

// Text of 10 000 letters that join is shortened and wrapped as any other, without splitting a letter from its marks.
func TestLongNamesThatJoin(t *testing.T) {
	long := strings.Repeat("سَفينَة الميناء ", 600)
	if got := Fit(long, 40, Body); Width(got, Body) > 40 || !strings.HasSuffix(got, "…") {
		t.Errorf("Fit gave %q, %.1f mm", got, Width(got, Body))
	}
	for _, line := range Wrap(strings.Repeat("سَ", 500), 30, Body) {
		if Width(line, Body) > 30.01 || strings.HasPrefix(line, "\u064e") {
			t.Errorf("a line of %.1f mm: %q", Width(line, Body), line)
		}
	}
}
