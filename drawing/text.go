package drawing

import (
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// Anchor says which end of the text stands at its point.
type Anchor uint8

// The anchors.
const (
	Start Anchor = iota
	Middle
	End
)

// Rise says which height of the text stands at its point.
type Rise uint8

// The rises: capital letters decide, so figures line up.
const (
	Baseline Rise = iota
	Centred       // middle of a capital
	Top           // top of a capital
)

// Metrics of the text face as a share of its size (B612: capitals 1500, ascent
// and descent of drawn glyphs about 1600 and 420, of 2000 units).
const (
	capHeight = 0.75
	descent   = 0.21
	// leastText is the smallest size of words on paper: 7 points, in mm.
	leastText = 2.5
	// LineHeight is the usual distance of baselines as a share of the size.
	LineHeight = 1.35
)

// TextStyle says how words are set. The zero value is not visible: set Size.
type TextStyle struct {
	Size   float64 // mm, the size of the face
	Weight Weight
	Paint  Paint // None means Ink
	Anchor Anchor
	Rise   Rise
	Turn   float64 // degrees clockwise about the point
	Ground Paint   // laid under the words so that lines do not cross them
	Class  string  // an extra class for the page
	Tag    *Tag    // the part of the document that the words belong to
}

// Weight of the face.
type Weight bool

// The weights that are embedded.
const (
	Regular Weight = false
	Bold    Weight = true
)

// Text styles of the house; sizes in mm.
var (
	Body  = TextStyle{Size: 3}
	Note  = TextStyle{Size: 2.9, Paint: Soft}
	Label = TextStyle{Size: 3}
	Value = TextStyle{Size: 3.6, Weight: Bold}
	Head  = TextStyle{Size: 4.4, Weight: Bold}
)

// At returns t set with the anchor and rise given.
func (t TextStyle) At(a Anchor, r Rise) TextStyle { t.Anchor, t.Rise = a, r; return t }

// Sized returns t at size mm.
func (t TextStyle) Sized(size float64) TextStyle { t.Size = size; return t }

// Painted returns t in the paint p.
func (t TextStyle) Painted(p Paint) TextStyle { t.Paint = p; return t }

// Turned returns t turned by deg clockwise.
func (t TextStyle) Turned(deg float64) TextStyle { t.Turn = deg; return t }

// Heavy returns t in bold.
func (t TextStyle) Heavy() TextStyle { t.Weight = Bold; return t }

// Text sets one line at (x, y) and returns its width in mm.
func (d *Drawing) Text(x, y float64, text string, t TextStyle) float64 {
	d.Heed(text)
	clean, _ := Clean(text)
	if clean == "" {
		return 0
	}
	w := setAt(x, y, clean, t)
	if w.Paint == None {
		w.Paint = Ink
	}
	if t.Ground != None {
		c := w.box(identity()).Corners
		pad := t.Size * 0.12
		d.add(&shape{path: groundPath(c, pad), style: Area(t.Ground), ground: true})
	}
	d.add(w)
	return width(clean, t)
}

// setAt places one clean line at (x, y).
func setAt(x, y float64, clean string, t TextStyle) *words {
	w := &words{at: Point{x, y}, text: clean, TextStyle: t}
	switch t.Rise {
	case Centred:
		w.dy = t.Size * capHeight / 2
	case Top:
		w.dy = t.Size * capHeight
	}
	return w
}

// groundPath is a text box widened by pad on every side.
func groundPath(c [4]Point, pad float64) *Path {
	along, up := unit(c[0], c[1]), unit(c[3], c[0])
	out := func(p Point, a, u float64) Point {
		return Point{p.X + pad*(a*along.X+u*up.X), p.Y + pad*(a*along.Y+u*up.Y)}
	}
	return Poly(out(c[0], -1, 1), out(c[1], 1, 1), out(c[2], 1, -1), out(c[3], -1, -1)).Close()
}

// unit returns the direction from a to b at length 1, or nothing where they meet.
func unit(a, b Point) Point {
	l := math.Hypot(b.X-a.X, b.Y-a.Y)
	if l == 0 {
		return Point{}
	}
	return Point{(b.X - a.X) / l, (b.Y - a.Y) / l}
}

// On returns t with p laid under the words.
func (t TextStyle) On(p Paint) TextStyle { t.Ground = p; return t }

// Width returns the length in mm of one line of text set in t.
func Width(text string, t TextStyle) float64 {
	clean, _ := Clean(text)
	return width(clean, t)
}

func width(clean string, t TextStyle) float64 {
	fs, sum := faces(), 0.0
	if woven(clean) {
		for _, p := range lineOf(clean, bool(t.Weight)) {
			for _, g := range p.glyphs {
				sum += g.wide
			}
		}
		return sum / 1000 * t.Size
	}
	for _, r := range clean {
		_, l := fs.pick(r, bool(t.Weight))
		sum += l.wide
	}
	return sum / 1000 * t.Size
}

// Clean makes text fit to print: composed letters, line breaks and control characters as
// spaces, and each run of characters that no embedded face holds (Hangul, Indic scripts,
// emoji, broken UTF-8) as its code points in brackets. It returns the characters replaced.
func Clean(text string) (string, map[rune]int) {
	if plain(text) {
		return text, nil
	}
	text = norm.NFC.String(text)
	fs := faces()
	var b strings.Builder
	var missing map[rune]int
	open := false
	for i := 0; i < len(text); {
		r, n := utf8.DecodeRuneInString(text[i:])
		i += n
		switch {
		case unicode.IsControl(r), r == '\u2028', r == '\u2029':
			r = ' '
		case r == '\u200b', r == '\ufeff', unicode.Is(unicode.Bidi_Control, r):
			continue // marks without ink
		}
		if r != utf8.RuneError && fs.prints(r) {
			if open {
				b.WriteByte(']')
				open = false
			}
			b.WriteRune(r)
			continue
		}
		if missing == nil {
			missing = map[rune]int{}
		}
		missing[r]++
		if open {
			b.WriteByte(' ')
		} else {
			b.WriteByte('[')
			open = true
		}
		b.WriteString("U+")
		b.WriteString(hex(r))
	}
	if open {
		b.WriteByte(']')
	}
	return b.String(), missing
}

// prints says whether both weights hold r.
func (fs *faceSet) prints(r rune) bool {
	regular, _ := fs.pick(r, false)
	bold, _ := fs.pick(r, true)
	return regular != nil && bold != nil
}

func plain(text string) bool {
	for i := range len(text) {
		if text[i] < ' ' || text[i] > '~' {
			return false
		}
	}
	return true
}

func hex(r rune) string {
	const digits = "0123456789ABCDEF"
	var b []byte
	for shift := 20; shift >= 0; shift -= 4 {
		if v := r >> shift & 15; len(b) > 0 || v != 0 || shift < 16 {
			b = append(b, digits[v])
		}
	}
	return string(b)
}

func sortedRunes(m map[rune]int) []rune {
	var rs []rune
	for r := range m {
		rs = append(rs, r)
	}
	slices.Sort(rs)
	return rs
}

// Fit shortens text with an ellipsis until it is no wider than limit mm.
func Fit(text string, limit float64, t TextStyle) string {
	clean, _ := Clean(text)
	if width(clean, t) <= limit {
		return clean
	}
	room := limit - width("…", t)
	return strings.TrimRight(clean[:fitting(clean, room, t)], " ") + "…"
}

// fit is Fit that remembers what cannot be printed.
func (d *Drawing) fit(text string, limit float64, t TextStyle) string {
	d.Heed(text)
	return Fit(text, limit, t)
}

// Heed remembers the characters of text that cannot be printed, for text that is shortened or
// wrapped before it is drawn.
func (d *Drawing) Heed(text string) {
	_, missing := Clean(text)
	for r, n := range missing {
		d.note(r, n)
	}
}

// Wrap breaks text into lines no wider than limit mm, at spaces where there are
// any and inside a word where one word alone is too long. Line breaks in the text are kept.
func Wrap(text string, limit float64, t TextStyle) []string {
	var lines []string
	for part := range strings.SplitSeq(text, "\n") {
		clean, _ := Clean(part)
		line := ""
		for word := range strings.FieldsFuncSeq(clean, func(r rune) bool { return r == ' ' }) {
			joined := word
			if line != "" {
				joined = line + " " + word
			}
			if width(joined, t) <= limit {
				line = joined
				continue
			}
			if line != "" {
				lines = append(lines, line)
			}
			line = word
			for width(line, t) > limit {
				head := chop(line, limit, t)
				lines = append(lines, line[:head])
				line = line[head:]
			}
		}
		lines = append(lines, line)
	}
	return lines
}

// chop returns how many bytes of s fit into limit mm, at least one character.
func chop(s string, limit float64, t TextStyle) int {
	_, first := utf8.DecodeRuneInString(s)
	return max(fitting(s, limit, t), first)
}

// fitting returns how many bytes of clean text fit into limit mm.
func fitting(clean string, limit float64, t TextStyle) int {
	fs, sum, end, joins := faces(), 0.0, 0, woven(clean)
	for i, r := range clean {
		to := i + utf8.RuneLen(r)
		if joins { // letters are wider alone than in their word
			sum = width(clean[:to], t)
		} else {
			_, l := fs.pick(r, bool(t.Weight))
			sum += l.wide / 1000 * t.Size
		}
		if sum > limit {
			break
		}
		if markBehind(clean[to:]) == 0 { // a mark stays with its letter
			end = to
		}
	}
	return end
}

// Lines sets text wrapped into limit mm, first baseline at y, and returns the y of
// the next free baseline.
func (d *Drawing) Lines(x, y, limit float64, text string, t TextStyle) float64 {
	d.Heed(text)
	if t.Tag == nil {
		t.Tag = &Tag{Role: RoleText}
	}
	for _, line := range Wrap(text, limit, t) {
		d.Text(x, y, line, t)
		y += t.Size * LineHeight
	}
	return y
}
