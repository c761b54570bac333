package page

import (
	"bytes"
	"html/template"

	glossary "phasewright/words"
)

// fence stands before and after each text of a page in which words of the trade are explained, while a template is
// carried out. Nothing that a template prints by itself can hold it: a NUL in a value becomes U+FFFD.
const fence = "\x00"

// explain fences a text in. Which word of the trade stands for the first time on the page is known when it is whole.
func explain(text any) template.HTML {
	return template.HTML(fence + template.HTMLEscaper(text) + fence)
}

// lettersHere is where the layout says what the abbreviations of the page stand for that no text has written out.
const lettersHere = fence + "letters" + fence

// explained puts the links of the words of the trade into a page, each where it first stands, and writes what an
// abbreviation stands for beside its first.
func explained(out, page *bytes.Buffer) {
	seen := map[string]bool{}
	for rest, more, inside := page.Bytes(), true, false; more; inside = !inside {
		var text []byte
		text, rest, more = bytes.Cut(rest, []byte(fence))
		switch {
		case !inside:
			out.Write(text)
		case string(text) == "letters":
			writeLetters(out, seen)
		default:
			writeMarked(out, string(text), seen)
		}
	}
}

func writeMarked(out *bytes.Buffer, text string, seen map[string]bool) {
	for _, p := range glossary.Mark(text, seen) {
		if p.Entry == nil {
			out.WriteString(p.Text)
			continue
		}
		out.WriteString(`<dfn><a href="/words#` + p.Entry.ID + `">` + p.Text + `</a></dfn>`)
		if full := p.Entry.Full(); full != "" && p.Text == p.Entry.Word {
			out.WriteString(" (" + full + ")")
		}
	}
}

// writeLetters writes out the abbreviations that stand on the page so far and that no text has explained, as in the
// unit of a field.
func writeLetters(out *bytes.Buffer, seen map[string]bool) {
	for rest := out.Bytes(); ; {
		before, after, found := bytes.Cut(rest, []byte("TDC"))
		if !found {
			break
		}
		which := "TDC"
		if n := len(before); n > 0 && (before[n-1] == 'A' || before[n-1] == 'B') {
			which = string(before[n-1:n]) + which
		}
		seen[which], rest = true, after
	}
	for _, e := range glossary.Entries() {
		if full := e.Full(); full != "" && seen[e.Word] && !seen[e.ID] {
			out.WriteString(e.Word + ": " + full + ". ")
		}
	}
}
