package book

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"unicode/utf16"
	"unicode/utf8"
)

// Canonical gives the one form of a JSON text that is stored and hashed: RFC 8785 (JSON Canonicalization Scheme). Object keys are
// sorted by UTF-16 code units, there is no white space, numbers are written as ECMAScript writes them.
//
// It accepts only what every reader understands alike (RFC 7493, I-JSON) and refuses the rest instead of guessing: a key given twice,
// bytes that are not UTF-8, a lone surrogate, an integer that a double cannot hold digit for digit, a number too large or too small for a
// double, nesting deeper than depth. Fractions are kept to double precision (about 17 digits).
func Canonical(text []byte, depth int) ([]byte, error) {
	p := &jsonReader{in: text}
	out, err := p.value(make([]byte, 0, len(text)), depth)
	if err != nil {
		return nil, err
	}
	p.space()
	if p.at < len(p.in) {
		return nil, p.bad("text after the end of the value")
	}
	return out, nil
}

type jsonReader struct {
	in []byte
	at int
}

func (p *jsonReader) bad(format string, args ...any) error {
	return fmt.Errorf("%w: JSON, byte %d – %s", ErrBadInput, p.at+1, fmt.Sprintf(format, args...))
}

func (p *jsonReader) space() {
	for p.at < len(p.in) {
		switch p.in[p.at] {
		case ' ', '\t', '\n', '\r':
			p.at++
		default:
			return
		}
	}
}

func (p *jsonReader) next() byte {
	if p.at < len(p.in) {
		return p.in[p.at]
	}
	return 0
}

func (p *jsonReader) value(out []byte, depth int) ([]byte, error) {
	p.space()
	if p.at >= len(p.in) {
		return nil, p.bad("ends too early")
	}
	switch c := p.in[p.at]; {
	case c == '{' || c == '[':
		if depth <= 0 {
			return nil, p.bad("nested too deeply")
		}
		p.at++
		if c == '{' {
			return p.object(out, depth-1)
		}
		return p.array(out, depth-1)
	case c == '"':
		s, err := p.text()
		if err != nil {
			return nil, err
		}
		return appendText(out, s), nil
	case c == '-' || '0' <= c && c <= '9':
		return p.number(out)
	}
	for _, word := range []string{"true", "false", "null"} {
		if end := p.at + len(word); end <= len(p.in) && string(p.in[p.at:end]) == word {
			p.at = end
			return append(out, word...), nil
		}
	}
	return nil, p.bad("not a JSON value")
}

func (p *jsonReader) array(out []byte, depth int) ([]byte, error) {
	out = append(out, '[')
	p.space()
	if p.next() == ']' {
		p.at++
		return append(out, ']'), nil
	}
	for {
		var err error
		if out, err = p.value(out, depth); err != nil {
			return nil, err
		}
		p.space()
		switch p.next() {
		case ',':
			p.at++
			out = append(out, ',')
		case ']':
			p.at++
			return append(out, ']'), nil
		default:
			return nil, p.bad("a comma or ] is missing")
		}
	}
}

func (p *jsonReader) object(out []byte, depth int) ([]byte, error) {
	type member struct {
		key   string
		value []byte
	}
	var members []member
	p.space()
	if p.next() == '}' {
		p.at++
		return append(out, "{}"...), nil
	}
	for more := true; more; {
		p.space()
		if p.next() != '"' {
			return nil, p.bad("a key in quotes is missing")
		}
		key, err := p.text()
		if err != nil {
			return nil, err
		}
		p.space()
		if p.next() != ':' {
			return nil, p.bad("a colon is missing")
		}
		p.at++
		value, err := p.value(nil, depth)
		if err != nil {
			return nil, err
		}
		members = append(members, member{key, value})
		p.space()
		switch p.next() {
		case ',':
		case '}':
			more = false
		default:
			return nil, p.bad("a comma or } is missing")
		}
		p.at++
	}
	slices.SortFunc(members, func(a, b member) int { return compareUTF16(a.key, b.key) })
	out = append(out, '{')
	for i, m := range members {
		if i > 0 {
			if m.key == members[i-1].key {
				return nil, p.bad("key %q is given twice", clip(m.key, 40))
			}
			out = append(out, ',')
		}
		out = append(appendText(out, m.key), ':')
		out = append(out, m.value...)
	}
	return append(out, '}'), nil
}

// text reads a string in quotes; p stands on the opening one.
func (p *jsonReader) text() (string, error) {
	p.at++
	var s []byte
	for p.at < len(p.in) {
		switch c := p.in[p.at]; {
		case c == '"':
			p.at++
			return string(s), nil
		case c < 0x20:
			return "", p.bad("control character in a string")
		case c == '\\':
			r, err := p.escape()
			if err != nil {
				return "", err
			}
			s = utf8.AppendRune(s, r)
		case c < utf8.RuneSelf:
			s = append(s, c)
			p.at++
		default:
			r, n := utf8.DecodeRune(p.in[p.at:])
			if r == utf8.RuneError && n <= 1 {
				return "", p.bad("not UTF-8")
			}
			s = append(s, p.in[p.at:p.at+n]...)
			p.at += n
		}
	}
	return "", p.bad("string without an end")
}

func (p *jsonReader) escape() (rune, error) {
	if p.at+1 >= len(p.in) {
		return 0, p.bad("string without an end")
	}
	c := p.in[p.at+1]
	switch c {
	case '"', '\\', '/':
		p.at += 2
		return rune(c), nil
	case 'b', 'f', 'n', 'r', 't':
		p.at += 2
		return map[byte]rune{'b': '\b', 'f': '\f', 'n': '\n', 'r': '\r', 't': '\t'}[c], nil
	case 'u':
		r, ok := p.hex4(p.at)
		if ok && utf16.IsSurrogate(r) {
			low, lowOK := p.hex4(p.at + 6)
			if r = utf16.DecodeRune(r, low); !lowOK || r == utf8.RuneError {
				return 0, p.bad("half of a surrogate pair")
			}
			p.at += 6
		}
		if ok {
			p.at += 6
			return r, nil
		}
	}
	return 0, p.bad("unknown escape in a string")
}

// hex4 reads \uXXXX at position at.
func (p *jsonReader) hex4(at int) (rune, bool) {
	if at+6 > len(p.in) || p.in[at] != '\\' || p.in[at+1] != 'u' {
		return 0, false
	}
	var r rune
	for _, c := range p.in[at+2 : at+6] {
		switch {
		case '0' <= c && c <= '9':
			c -= '0'
		case 'a' <= c && c <= 'f':
			c -= 'a' - 10
		case 'A' <= c && c <= 'F':
			c -= 'A' - 10
		default:
			return 0, false
		}
		r = r<<4 | rune(c)
	}
	return r, true
}

func (p *jsonReader) digits() int {
	from := p.at
	for c := p.next(); '0' <= c && c <= '9'; c = p.next() {
		p.at++
	}
	return p.at - from
}

func (p *jsonReader) number(out []byte) ([]byte, error) {
	from, whole := p.at, true
	if p.next() == '-' {
		p.at++
	}
	if p.next() == '0' {
		p.at++
	} else if p.digits() == 0 {
		return nil, p.bad("not a number")
	}
	if p.next() == '.' {
		p.at++
		whole = false
		if p.digits() == 0 {
			return nil, p.bad("a digit is missing after the point")
		}
	}
	mantissa := p.in[from:p.at]
	if c := p.next(); c == 'e' || c == 'E' {
		p.at++
		whole = false
		if c := p.next(); c == '+' || c == '-' {
			p.at++
		}
		if p.digits() == 0 {
			return nil, p.bad("a digit is missing in the exponent")
		}
	}
	text := string(p.in[from:p.at])
	f, err := strconv.ParseFloat(text, 64)
	tiny := f == 0 && slices.ContainsFunc(mantissa, func(c byte) bool { return '1' <= c && c <= '9' })
	start := len(out)
	out = appendNumber(out, f)
	// An integer has to come back digit for digit: beyond 2^53 a double holds only some of them.
	if err != nil || tiny || whole && string(out[start:]) != text && text != "-0" {
		return nil, p.bad("number %s cannot be kept exactly; write it as a string", clip(text, 40))
	}
	return out, nil
}

// appendNumber writes f as ECMAScript's Number::toString does (RFC 8785 §3.2.2.3).
func appendNumber(out []byte, f float64) []byte {
	if f == 0 {
		return append(out, '0') // minus zero too
	}
	if a := math.Abs(f); a >= 1e-6 && a < 1e21 {
		return strconv.AppendFloat(out, f, 'f', -1, 64)
	}
	out = strconv.AppendFloat(out, f, 'e', -1, 64)
	if n := len(out); out[n-2] == '0' && (out[n-3] == '-' || out[n-3] == '+') { // e-07 is e-7 there
		out[n-2] = out[n-1]
		out = out[:n-1]
	}
	return out
}

// appendText writes s in quotes, escaping only what RFC 8785 §3.2.2.2 escapes.
func appendText(out []byte, s string) []byte {
	const hexDigits = "0123456789abcdef"
	out = append(out, '"')
	for i := range len(s) {
		switch c := s[i]; {
		case c == '"' || c == '\\':
			out = append(out, '\\', c)
		case c == '\b':
			out = append(out, '\\', 'b')
		case c == '\f':
			out = append(out, '\\', 'f')
		case c == '\n':
			out = append(out, '\\', 'n')
		case c == '\r':
			out = append(out, '\\', 'r')
		case c == '\t':
			out = append(out, '\\', 't')
		case c < 0x20:
			out = append(out, '\\', 'u', '0', '0', hexDigits[c>>4], hexDigits[c&15])
		default:
			out = append(out, c)
		}
	}
	return append(out, '"')
}

// compareUTF16 orders valid UTF-8 strings by their UTF-16 code units: characters beyond U+FFFF come before U+E000.
func compareUTF16(a, b string) int {
	for a != "" && b != "" {
		ra, na := utf8.DecodeRuneInString(a)
		rb, nb := utf8.DecodeRuneInString(b)
		if ra != rb {
			ua, ub := utf16.AppendRune(nil, ra), utf16.AppendRune(nil, rb)
			return slices.Compare(ua, ub)
		}
		a, b = a[na:], b[nb:]
	}
	return len(a) - len(b)
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
