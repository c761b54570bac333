package words

import "strings"

// form is a way in which an entry stands in a text.
type form struct {
	text  string
	entry int
	exact bool // capitals count: an abbreviation
}

// forms are all ways of all entries by the first word, in small letters.
var forms = func() map[string][]form {
	out := map[string][]form{}
	for i, e := range entries {
		for _, text := range append([]string{e.Word}, e.also...) {
			first := strings.ToLower(text[:wordEnd(text, 0)])
			out[first] = append(out[first], form{text, i, text == strings.ToUpper(text)})
		}
	}
	return out
}()

// inWord says whether a letter belongs to a word; signs such as ° and thin spaces part them.
func inWord(c byte) bool {
	return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '_'
}

// wordEnd is where the word that begins at i ends.
func wordEnd(text string, i int) int {
	for i < len(text) && inWord(text[i]) {
		i++
	}
	return i
}

// Piece is a part of a text; Entry is what explains it, nil for the text between.
type Piece struct {
	Text  string
	Entry *Entry
}

// Mark cuts a text where a word of the trade stands for the first time on a page. seen holds the IDs that the page has
// marked already, and takes up those that are marked now.
func Mark(text string, seen map[string]bool) []Piece {
	var out []Piece
	from := 0
	var small [24]byte
	for i := 0; i < len(text); {
		if !inWord(text[i]) {
			i++
			continue
		}
		end := wordEnd(text, i)
		if end-i > len(small) {
			i = end
			continue
		}
		n := copy(small[:], text[i:end])
		for k := range n {
			if c := small[k]; c >= 'A' && c <= 'Z' {
				small[k] = c + 'a' - 'A'
			}
		}
		best, to := -1, end
		for _, f := range forms[string(small[:n])] {
			stop := i + len(f.text)
			if seen[entries[f.entry].ID] || stop > len(text) || stop < len(text) && inWord(text[stop]) ||
				best >= 0 && stop <= to {
				continue
			}
			if has := text[i:stop]; has == f.text || !f.exact && strings.EqualFold(has, f.text) {
				best, to = f.entry, stop
			}
		}
		if best >= 0 {
			seen[entries[best].ID] = true
			if from < i {
				out = append(out, Piece{Text: text[from:i]})
			}
			out = append(out, Piece{Text: text[i:to], Entry: &entries[best]})
			from = to
		}
		i = to
	}
	if from < len(text) {
		out = append(out, Piece{Text: text[from:]})
	}
	return out
}
