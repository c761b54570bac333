// Package words holds what a reader needs to follow the texts of the other rooms: the words of the trade, each
// explained in a plain sentence, and how a text begins.
package words

import (
	"unicode"
	"unicode/utf8"
)

// Capital gives a text a capital letter at its head.
func Capital(text string) string {
	r, n := utf8.DecodeRuneInString(text)
	if n == 0 {
		return text
	}
	return string(unicode.ToUpper(r)) + text[n:]
}
