package book

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// unparted are letters that Unicode does not take apart, or not into the letters that a person types for them.
var unparted = map[rune]string{
	'æ': "a", 'ǣ': "a", 'ǽ': "a", 'ƀ': "b", 'ð': "d", 'đ': "d", 'ħ': "h", 'ı': "i", 'ƙ': "k", 'ł': "l", 'ŀ': "l",
	'ŋ': "n", 'ŉ': "n",
	'ø': "o", 'ǿ': "o", 'œ': "o", 'ß': "ss", 'þ': "th", 'ŧ': "t", 'ƴ': "y", 'ς': "σ", 'ϲ': "σ", 'ϒ': "υ", 'ϓ': "υ",
	'ϔ':      "υ",
	'\u0374': "\u02b9", // the Greek numeral sign
}

// plainLetter gives the letters that search takes a lower-case letter for: those of Latin, Greek and Cyrillic without
// accents, ligatures and strokes, others as they are. A change here changes the stored text of every book and takes a
// step of the schema.
func plainLetter(r rune) string {
	if plain, ok := unparted[r]; ok {
		return plain
	}
	if r <= unicode.MaxASCII || !unicode.IsLower(r) || !unicode.In(r, unicode.Latin, unicode.Greek, unicode.Cyrillic) {
		return string(r)
	}
	return strings.Map(func(r rune) rune {
		if accent(r) {
			return -1
		}
		return r
	}, norm.NFKD.String(string(r)))
}

// accent says whether r is a combining accent.
func accent(r rune) bool { return r >= 0x300 && r <= 0x36f }

// apostrophe says whether r stands inside a word as in O'Hara, which some write without.
func apostrophe(r rune) bool {
	switch r {
	case '\'', '`', '´', '‘', '’', 'ʻ', 'ʼ', 'ʹ', '＇':
		return true
	}
	return false
}
