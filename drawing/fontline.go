package drawing

import (
	"slices"
	"unicode"
	"unicode/utf8"

	"github.com/go-text/typesetting/harfbuzz"
	"github.com/go-text/typesetting/language"
	"golang.org/x/text/unicode/bidi"
)

// glyph is one sign as it is printed; lengths in thousandths of the size.
type glyph struct {
	gid    uint16
	wide   float64 // to the next glyph
	dx, dy float64 // of a mark from the pen, dy upwards
	text   string  // the letters that it stands for
}

// faceRun is a stretch of a line in one face, its glyphs from left to right.
type faceRun struct {
	face   *face
	glyphs []glyph
}

// woven says whether text needs more than one glyph after the other: letters that join, marks over letters, a
// script that runs from right to left.
func woven(text string) bool {
	for _, r := range text {
		if r >= 0x300 && (r < 0x2000 || r >= 0x200c && r <= 0x200d) &&
			(unicode.Is(unicode.Mn, r) || unicode.In(r, unicode.Arabic, unicode.Hebrew) || r >= 0x2000 ||
				r >= 0x600 && r < 0x900) {
			return true
		}
	}
	return false
}

// lineOf sets clean text as one line of a sheet in English: it runs from left to right, and what runs the other way
// within it does so.
func lineOf(text string, bold bool) []faceRun {
	if !woven(text) {
		return plainLine(text, bold)
	}
	var out []faceRun
	runs := levelRuns(text)
	visual(runs)
	for _, run := range runs {
		out = append(out, shapedRun(run.text, bold, run.level%2 == 1)...)
	}
	return out
}

func plainLine(text string, bold bool) []faceRun {
	fs := faces()
	var out []faceRun
	for i, r := range text {
		f, l := fs.pick(r, bold)
		if f == nil {
			continue
		}
		if len(out) == 0 || out[len(out)-1].face != f {
			out = append(out, faceRun{face: f})
		}
		last := &out[len(out)-1]
		last.glyphs = append(last.glyphs, glyph{gid: l.gid, wide: l.wide, text: text[i : i+utf8.RuneLen(r)]})
	}
	return out
}

// levelRun is text of one embedding level: even runs to the right, odd to the left.
type levelRun struct {
	text  string
	level int
}

// levelRuns splits a line as the Unicode bidirectional algorithm does (UAX #9, rules up to I2) in a paragraph that
// runs to the right. The library tells left from right; a number among letters that run to the left is level 2.
func levelRuns(text string) []levelRun {
	const mark = "\u200e" // makes the paragraph run to the right
	var p bidi.Paragraph
	if _, err := p.SetString(mark + text); err != nil {
		return []levelRun{{text, 0}}
	}
	order, err := p.Order()
	if err != nil {
		return []levelRun{{text, 0}}
	}
	var out []levelRun
	for i := range order.NumRuns() {
		run := order.Run(i)
		s := run.String()
		if i == 0 {
			s = s[len(mark):]
		}
		if run.Direction() == bidi.RightToLeft {
			out = append(out, levelRun{s, 1})
			continue
		}
		if len(out) > 0 {
			if n := leadingNumber(s); n > 0 {
				out = append(out, levelRun{s[:n], 2})
				s = s[n:]
			}
		}
		if s != "" {
			out = append(out, levelRun{s, 0})
		}
	}
	return out
}

// leadingNumber is the length of the number that text begins with, its signs included (UAX #9, W4 to W6).
func leadingNumber(text string) int {
	end := 0
	for i, r := range text {
		c, _ := bidi.LookupRune(r)
		switch c.Class() {
		case bidi.EN, bidi.AN:
			end = i + utf8.RuneLen(r)
		case bidi.ET, bidi.NSM:
			if end == i {
				end = i + utf8.RuneLen(r)
			}
		case bidi.ES, bidi.CS:
		default:
			return end
		}
	}
	return end
}

// visual puts runs into the order in which they stand on the line (UAX #9, L2).
func visual(runs []levelRun) {
	for level := 2; level > 0; level-- {
		for i := 0; i < len(runs); i++ {
			from := i
			for i < len(runs) && runs[i].level >= level {
				i++
			}
			slices.Reverse(runs[from:i])
		}
	}
}

// shapedRun sets text of one direction in as few faces as hold it.
func shapedRun(text string, bold, leftwards bool) []faceRun {
	var out []faceRun
	from := 0
	var of *face
	shape := func(to int) {
		if of != nil && to > from {
			out = append(out, of.shape(text[from:to], leftwards))
		}
		from = to
	}
	for i, r := range text {
		if of != nil && (unicode.Is(unicode.Mn, r) || r == 0x200c || r == 0x200d) {
			if _, ok := of.holds(r); ok {
				continue // a mark stays with its letter
			}
		}
		f, _ := faces().pick(r, bold)
		if next := markBehind(text[i+utf8.RuneLen(r):]); next != 0 && f != nil {
			f = holdsBoth(f, r, next, bold)
		}
		if f != of {
			shape(i)
			of = f
		}
	}
	shape(len(text))
	if leftwards {
		slices.Reverse(out)
	}
	return out
}

// markBehind gives the mark that text begins with, or 0.
func markBehind(text string) rune {
	if r, _ := utf8.DecodeRuneInString(text); unicode.Is(unicode.Mn, r) {
		return r
	}
	return 0
}

// holdsBoth gives the first face with the letter and its mark, or f.
func holdsBoth(f *face, letter, mark rune, bold bool) *face {
	of := faces().regular
	if bold {
		of = faces().bold
	}
	for _, each := range of {
		_, ok := each.holds(letter)
		if _, too := each.holds(mark); ok && too {
			return each
		}
	}
	return f
}

// shape lets the font choose and place the glyphs of text: joined forms, ligatures, marks.
func (f *face) shape(text string, leftwards bool) faceRun {
	data := f.read()
	s := data.shaper.Get().(*shaper)
	defer data.shaper.Put(s)
	s.buffer.Clear()
	runes := []rune(text)
	s.buffer.AddRunes(runes, 0, -1)
	s.buffer.ClusterLevel = harfbuzz.MonotoneCharacters
	s.buffer.Props = harfbuzz.SegmentProperties{Direction: harfbuzz.LeftToRight, Script: scriptOf(runes),
		Language: "und"}
	if leftwards {
		s.buffer.Props.Direction = harfbuzz.RightToLeft
	}
	s.buffer.Shape(s.font, nil)
	p := faceRun{face: f}
	info, pos := s.buffer.Info, s.buffer.Pos
	for i := range info {
		gid := uint16(info[i].Glyph)
		p.glyphs = append(p.glyphs, glyph{gid: gid, wide: data.thousandths(float64(pos[i].XAdvance)),
			dx: float64(pos[i].XOffset) * 1000 / data.upem, dy: float64(pos[i].YOffset) * 1000 / data.upem,
			text: string(runes[info[i].Cluster:clusterEnd(info, i, len(runes))])})
	}
	return p
}

// clusterEnd is where the letters of glyph i end. Of several glyphs for one letter the first has it.
func clusterEnd(info []harfbuzz.GlyphInfo, i, end int) int {
	for k := range i {
		if info[k].Cluster == info[i].Cluster {
			return info[i].Cluster
		}
	}
	for _, other := range info {
		if other.Cluster > info[i].Cluster {
			end = min(end, other.Cluster)
		}
	}
	return end
}

// scriptOf is the script of the first letter that has one of its own.
func scriptOf(runes []rune) language.Script {
	for _, r := range runes {
		if s := language.LookupScript(r); s != language.Common && s != language.Inherited {
			return s
		}
	}
	return language.Latin
}
