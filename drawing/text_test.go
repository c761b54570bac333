package drawing

import (
	"fmt"
	"hash/crc32"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// printed are the characters that our words use beside ASCII.
const printed = "±°µμΩθτφπΔσε−→←↑↓≤≥≈×÷·…–—‘’“”√²³⁻¹½¼£€§©  ÄÖÜäöüßéèêàçñøåæœŁłŻżšžČčŘřĐđőűţşİı" +
	"\u2009\u202f\u2007\u00a0" + "αβγδλωΣ" + "АБВГДабвгджя"

// TestGlyphs: every character that we print is in an embedded face, in both weights.
func TestGlyphs(t *testing.T) {
	for r := rune(' '); r <= '~'; r++ {
		if f, _ := faces().pick(r, false); f == nil || f.name != "B612-Regular" {
			t.Errorf("%q is not in the text face", r)
		}
	}
	for _, r := range printed {
		if !faces().prints(r) {
			t.Errorf("%q U+%04X is in no embedded face", r, r)
		}
	}
}

// TestTabularFigures: digits are all one width, so columns stand.
func TestTabularFigures(t *testing.T) {
	for _, w := range []Weight{Regular, Bold} {
		st := TextStyle{Size: 10, Weight: w}
		for d := '1'; d <= '9'; d++ {
			if Width(string(d), st) != Width("0", st) {
				t.Errorf("%c is %.3f mm wide, 0 is %.3f", d, Width(string(d), st), Width("0", st))
			}
		}
	}
}

// TestWidths compares our table of widths with another reader of the same files
// (golang.org/x/image/font/sfnt).
func TestWidths(t *testing.T) {
	for _, name := range []string{"B612-Regular", "B612-Bold", "NotoSans-Regular", "NotoSans-Bold", "NotoSansArabic-Bold", "DroidSansFallback-Regular"} {
		f, err := sfnt.Parse(fontBytes(name))
		if err != nil {
			t.Fatal(err)
		}
		var b sfnt.Buffer
		ours := readFont(name).glyphs
		upem := fixed.Int26_6(f.UnitsPerEm()) << 6
		n := 0
		for r := rune(32); r < 0xfff0; r++ {
			gid, err := f.GlyphIndex(&b, r)
			l, ok := ours[r]
			if err != nil || (gid != 0) != ok {
				t.Fatalf("%s: U+%04X: glyph %d (%v), in our table: %v", name, r, gid, err, ok)
			}
			if gid == 0 {
				continue
			}
			adv, err := f.GlyphAdvance(&b, gid, upem, font.HintingNone)
			if err != nil {
				t.Fatal(err)
			}
			n++
			if want := float64(adv) / float64(upem) * 1000; math.Abs(l.wide-want) > 0.51 {
				t.Errorf("%s: U+%04X is %.1f thousandths wide, want %.1f", name, r, l.wide, want)
			}
		}
		if n < 200 {
			t.Errorf("%s: only %d glyphs", name, n)
		}
	}
}

// TestPrintedWidth measures words in the PDF with another program.
func TestPrintedWidth(t *testing.T) {
	d := New(200, 100, "", "")
	words := []string{"distributor", "3200", "Öl-Prüfung", "WAVE", "±0.25°"}
	for i, w := range words {
		d.Text(10, 10+float64(i)*15, w, TextStyle{Size: 8, Weight: Weight(i%2 == 1)})
	}
	box := regexp.MustCompile(`xMin="([\d.]+)" yMin="[\d.]+" xMax="([\d.]+)" yMax="[\d.]+">(.*)</word>`)
	found := box.FindAllStringSubmatch(run(t, "pdftotext", "-bbox", pdfFile(t, d), "-"), -1)
	if len(found) != len(words) {
		t.Fatalf("pdftotext found %d words, want %d", len(found), len(words))
	}
	for i, m := range found {
		var x0, x1 float64
		fmt.Sscan(m[1], &x0)
		fmt.Sscan(m[2], &x1)
		got := (x1 - x0) * 25.4 / 72
		if want := Width(words[i], TextStyle{Size: 8, Weight: Weight(i%2 == 1)}); math.Abs(got-want) > 0.05 || m[3] != words[i] {
			t.Errorf("%q: printed %.3f mm wide as %q, measured %.3f", words[i], got, m[3], want)
		}
	}
}

func TestClean(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"plain", "plain"},
		{"1° ± 0.3 µs, Ω θ − → ≤", "1° ± 0.3 µs, Ω θ − → ≤"},
		{"tab\tand\nline\x00", "tab and line "},
		{"Zoe\u0308", "Zo\u00eb"}, // letters typed in two parts are composed (Unicode NFC)
		{"船 سفينة אבג ᾥδή Щука", "船 سفينة אבג ᾥδή Щука"},
		{"배 हिन्दी", "[U+BC30] [U+0939 U+093F U+0928 U+094D U+0926 U+0940]"},
		{"private \ue000", "private [U+E000]"},
		{"go 🚤!", "go [U+1F6A4]!"},
		{"bad \xff\xfe end", "bad [U+FFFD U+FFFD] end"},
		{"left\u202eright\u200b", "leftright"},
	} {
		if got, _ := Clean(c.in); got != c.want {
			t.Errorf("Clean(%q) = %q, want %q", c.in, got, c.want)
		}
	}
}

// TestWarnings: what cannot be printed is named to the caller.
func TestWarnings(t *testing.T) {
	d := New(100, 20, "", "")
	d.Text(5, 10, "배배 ok", Body)
	outer := New(100, 40, "", "")
	outer.Place(d, 0, 10)
	ws := outer.Warnings()
	if len(ws) != 1 || !strings.Contains(string(ws[0]), "U+BC30 (2 times)") {
		t.Errorf("warnings: %v", ws)
	}
}

func TestFitAndWrap(t *testing.T) {
	long := strings.Repeat("Sandpiper ", 1000)
	if got := Fit(long, 40, Body); Width(got, Body) > 40 || !strings.HasSuffix(got, "…") || len(got) < 20 {
		t.Errorf("Fit gave %q, %.1f mm", got, Width(got, Body))
	}
	if got := Fit("short", 40, Body); got != "short" {
		t.Errorf("Fit changed a short name to %q", got)
	}
	word := strings.Repeat("x", 500)
	lines := Wrap("a word of "+word+"\n\nand more", 30, Body)
	for _, l := range lines {
		if Width(l, Body) > 30 {
			t.Errorf("a line of %.1f mm: %q", Width(l, Body), l)
		}
	}
	if got := strings.ReplaceAll(strings.Join(lines, ""), " ", ""); got != "awordof"+word+"andmore" {
		t.Errorf("Wrap lost letters: %q", got)
	}
}

func TestNumber(t *testing.T) {
	for _, c := range []struct {
		v      float64
		places int
		want   string
	}{
		{0, 0, "0"}, {999, 0, "999"}, {1000, 0, "1\u2009000"}, {4200, 0, "4\u2009200"}, {1234567.25, 1, "1\u2009234\u2009567.2"},
		{-2, 0, "−2"}, {-0.04, 1, "0.0"}, {0.5, 2, "0.50"}, {-1000.5, 1, "−1\u2009000.5"},
	} {
		if got := Number(c.v, c.places); got != c.want {
			t.Errorf("Number(%g, %d) = %q, want %q", c.v, c.places, got, c.want)
		}
	}
	if got := Signed(1.9, 1) + Signed(0, 1) + Signed(-1, 0); got != "+1.90.0−1" {
		t.Errorf("Signed: %q", got)
	}
}

// TestTicksAreRound: steps are 1, 2 or 5 times a power of ten, inside the range, at most as many as asked.
func TestTicksAreRound(t *testing.T) {
	for _, c := range []struct {
		lo, hi float64
		most   int
		want   []float64
	}{
		{0, 4000, 6, []float64{0, 1000, 2000, 3000, 4000}},
		{-2.2, 2.2, 6, []float64{-2, -1, 0, 1, 2}},
		{0, 0.35, 5, []float64{0, 0.1, 0.2, 0.3}},
		{180, 182, 3, []float64{180, 181, 182}},
	} {
		if got := Ticks(c.lo, c.hi, c.most); fmt.Sprint(got) != fmt.Sprint(c.want) {
			t.Errorf("Ticks(%g, %g, %d) = %v, want %v", c.lo, c.hi, c.most, got, c.want)
		}
	}
	if got := LogTicks(2, 200, 10); fmt.Sprint(got) != "[2 5 10 20 50 100 200]" {
		t.Errorf("LogTicks: %v", got)
	}
}

// FuzzText: whatever a name holds, it can be measured, cleaned, drawn and printed.
func FuzzText(f *testing.F) {
	seeds := []string{"Sandpiper", "船 🚤 سفينة", "\xff\xf0\x9f", "e\u0301\u200d\u202e", "a\x00b\r\n", "\\()<>&\"'", strings.Repeat("W", 300)}
	for _, s := range seeds {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		clean, _ := Clean(s)
		if !utf8.ValidString(clean) {
			t.Fatalf("Clean(%q) is not valid UTF-8", s)
		}
		for _, r := range clean {
			if r > 0xFFFF || !faces().prints(r) {
				t.Fatalf("Clean(%q) keeps U+%04X", s, r)
			}
		}
		if again, missing := Clean(clean); again != clean || len(missing) != 0 {
			t.Fatalf("Clean is not stable: %q, then %q", clean, again)
		}
		d := New(100, 50, s, s)
		w := d.Text(5, 20, s, Body.On(Sheet))
		if math.Abs(w-Width(s, Body)) > 1e-9 || !(w >= 0) {
			t.Fatalf("width %g, measured %g", w, Width(s, Body))
		}
		d.Lines(5, 30, 40, s, Note)
		d.TitleBlock(2, 38, 96, []Cell{{s, s, 1}, {s, s, 2}})
		if got := Fit(s, 20, Body); Width(got, Body) > 20+1e-9 {
			t.Fatalf("Fit(%q) is %.2f mm", s, Width(got, Body))
		}
		wellFormed(t, d.SVG(InPage))
		// the PDF library reads its fonts anew each time, in 7 ms: one text in sixteen is printed
		if !slices.Contains(seeds, s) && crc32.ChecksumIEEE([]byte(s))%16 != 0 {
			return
		}
		if _, err := PDF(Document{Title: s, Author: s, Subject: s, Keywords: s, Date: someDay, Pages: []*Drawing{d}, Attachments: []Attachment{{Name: s, Desc: s, Data: []byte(s)}}}); err != nil {
			t.Fatal(err)
		}
	})
}
