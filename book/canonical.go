package book

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/go-json-experiment/json/jsontext"
)

// Canonical gives the one form of a JSON text that is stored and hashed: RFC 8785 (JSON Canonicalization Scheme).
// Object keys are sorted by UTF-16 code units, there is no white space, numbers are written as ECMAScript writes them.
//
// It accepts only what every reader understands alike (RFC 7493, I-JSON) and refuses the rest instead of guessing: a
// key given twice, bytes that are not UTF-8, a lone surrogate, an integer that a double cannot hold digit for digit, a
// number too large or too small for a double, nesting deeper than depth. Fractions are kept to double precision (about
// 17 digits).
func Canonical(text []byte, depth int) ([]byte, error) {
	v := jsontext.Value(bytes.Clone(text))
	if err := v.Canonicalize(); err != nil {
		return nil, refused(text, err)
	}
	for d := jsontext.NewDecoder(bytes.NewBuffer(text)); ; {
		t, err := d.ReadToken()
		switch {
		case err == io.EOF:
			return v, nil
		case err != nil:
			return nil, refused(text, err)
		case d.StackDepth() > depth:
			return nil, badJSON(d.InputOffset()-1, "nested too deeply")
		case t.Kind() == '0' && !exact(t.String()):
			return nil, badJSON(d.InputOffset(), "number %s cannot be kept exactly; write it as a string",
				clip(t.String(), 40))
		}
	}
}

// exact says whether a double can hold the number: an integer digit for digit, for beyond 2^53 it holds only some of
// them; a fraction neither as nought nor as something without bound.
func exact(number string) bool {
	f, err := strconv.ParseFloat(number, 64)
	if strings.ContainsAny(number, ".eE") {
		mantissa, _, _ := strings.Cut(strings.ToLower(number), "e")
		return err == nil && (f != 0 || !strings.ContainsAny(mantissa, "123456789"))
	}
	same, _ := jsontext.AppendFormat(nil, []byte(number), jsontext.CanonicalizeRawInts(true))
	return err == nil && (string(same) == number || number == "-0")
}

func badJSON(at int64, format string, args ...any) error {
	return fmt.Errorf("%w: JSON, byte %d – %s", ErrBadInput, at+1, fmt.Sprintf(format, args...))
}

// plainWords say what the library's messages mean.
var plainWords = []struct{ library, plain string }{
	{"after top-level value", "text after the end of the value"},
	{"expecting ':'", "a colon is missing"},
	{"expecting ',' or ']'", "a comma or ] is missing"},
	{"expecting ',' or '}'", "a comma or } is missing"},
	{"expecting '\"'", "a key in quotes is missing"},
	{"in number", "not a number, a digit is missing"},
	{"in literal", "not a JSON value"},
	{"at start of value", "not a JSON value"},
	{"control", "control character in a string"},
	{"surrogate", "half of a surrogate pair"},
	{"escape", "unknown escape in a string"},
	{"UTF-8", "not UTF-8"},
	{"max depth", "nested too deeply"},
}

// refused says in plain words why the library does not take the text.
func refused(text []byte, err error) error {
	var s *jsontext.SyntacticError
	if errors.Is(err, io.ErrUnexpectedEOF) {
		// a byte that is wrong everywhere, put behind the text, shows what is cut short
		v := jsontext.Value(append(bytes.Clone(text), 0))
		err = v.Canonicalize()
	}
	if !errors.As(err, &s) {
		return badJSON(int64(len(text)), "%v", err)
	}
	message := s.Err.Error()
	in := func(what string) bool { return strings.Contains(message, what) }
	switch {
	case errors.Is(err, jsontext.ErrDuplicateName):
		return badJSON(s.ByteOffset, "key %q is given twice", clip(s.JSONPointer.LastToken(), 40))
	case in("in string") && s.ByteOffset >= int64(len(text))-1:
		message = "string without an end"
	case in("start of value") && s.ByteOffset == int64(len(text)):
		message = "ends too early"
	default:
		for _, w := range plainWords {
			if in(w.library) {
				message = w.plain
				break
			}
		}
	}
	return badJSON(s.ByteOffset, "%s", message)
}

// appendText writes s in quotes, escaping only what RFC 8785 §3.2.2.2 escapes.
func appendText(out []byte, s string) []byte {
	out, err := jsontext.AppendQuote(out, s)
	if err != nil { // not UTF-8, as in a damaged book: may not pass for the replacement character written for it
		out = append(out, s...)
	}
	return out
}

// clip shortens s for a message to at most n bytes, on a character boundary.
func clip(s string, n int) string {
	if len(s) <= n {
		return s
	}
	for n > 0 && !utf8.RuneStart(s[n]) {
		n--
	}
	return s[:n] + "…"
}
