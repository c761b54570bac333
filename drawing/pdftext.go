package drawing

import (
	"bytes"
	"strconv"
	"strings"
)

// pdfText reads the values in a piece of a PDF (ISO 32000-1, 7.2 and 7.3). What is no value, or not whole, is nil.
type pdfText struct {
	b     []byte
	i     int
	short bool // the piece ended before the value did
}

const pdfBlank, pdfDelimiter = "\x00\t\n\f\r ", "()<>[]{}/%"

// skip passes blanks and comments.
func (t *pdfText) skip() {
	for t.i < len(t.b) {
		switch c := t.b[t.i]; {
		case strings.IndexByte(pdfBlank, c) >= 0:
			t.i++
		case c == '%':
			for t.i < len(t.b) && t.b[t.i] != '\n' && t.b[t.i] != '\r' {
				t.i++
			}
		default:
			return
		}
	}
}

// word gives the next number, keyword or name without its slash; "" where a delimiter stands there.
func (t *pdfText) word() string {
	t.skip()
	from := t.i
	for t.i < len(t.b) && strings.IndexByte(pdfBlank+pdfDelimiter, t.b[t.i]) < 0 {
		t.i++
	}
	if t.i >= len(t.b) {
		t.short = true
	}
	return string(t.b[from:t.i])
}

// took passes the sign if it stands there.
func (t *pdfText) took(sign string) bool {
	if bytes.HasPrefix(t.b[t.i:], []byte(sign)) {
		t.i += len(sign)
		return true
	}
	return false
}

func (t *pdfText) value(depth int) any {
	t.skip()
	switch {
	case t.i >= len(t.b):
		t.short = true
		return nil
	case depth > mostPDFNesting:
		t.i = len(t.b)
		return nil
	case t.took("<<"):
		return t.dict(depth)
	case t.took("<"):
		return t.hex()
	case t.took("("):
		return t.literal()
	case t.took("/"):
		return t.name()
	case t.took("["):
		list := []any{}
		for {
			if t.skip(); t.i >= len(t.b) {
				t.short = true
				return nil
			}
			if t.took("]") {
				return list
			}
			at := t.i
			if list = append(list, t.value(depth+1)); t.i == at {
				return nil
			}
		}
	}
	n, ok := pdfInt(t.word())
	if !ok {
		return nil // true, false, null, a fraction: nothing here asks for them
	}
	if at := t.i; n >= 0 { // a number, or the begin of "12 0 R"
		if _, ok := pdfInt(t.word()); ok && t.word() == "R" {
			return pdfRef(n)
		}
		t.i = at
	}
	return n
}

func pdfInt(word string) (int64, bool) {
	n, err := strconv.ParseInt(word, 10, 64)
	return n, err == nil
}

func (t *pdfText) dict(depth int) any {
	d := pdfDict{}
	for {
		if t.skip(); t.i >= len(t.b) {
			t.short = true
			return nil
		}
		if t.took(">>") {
			return d
		}
		if !t.took("/") {
			return nil
		}
		key := t.name()
		at := t.i
		if d[key] = t.value(depth + 1); t.i == at {
			return nil
		}
	}
}

// name reads a name behind its slash, in which #2F stands for a sign.
func (t *pdfText) name() pdfName {
	word := t.word0()
	if !bytes.Contains(word, []byte("#")) {
		return pdfName(word)
	}
	var out []byte
	for i := 0; i < len(word); i++ {
		if word[i] == '#' && i+2 < len(word) {
			if c, err := strconv.ParseUint(string(word[i+1:i+3]), 16, 8); err == nil {
				out = append(out, byte(c))
				i += 2
				continue
			}
		}
		out = append(out, word[i])
	}
	return pdfName(out)
}

// word0 is the word that begins right here, which may have no letters.
func (t *pdfText) word0() []byte {
	from := t.i
	for t.i < len(t.b) && strings.IndexByte(pdfBlank+pdfDelimiter, t.b[t.i]) < 0 {
		t.i++
	}
	return t.b[from:t.i]
}

// hex reads a string of hexadecimal digits behind its <.
func (t *pdfText) hex() any {
	end := bytes.IndexByte(t.b[t.i:], '>')
	if end < 0 {
		t.i, t.short = len(t.b), true
		return nil
	}
	var digits []byte
	for _, c := range t.b[t.i : t.i+end] {
		if strings.IndexByte(pdfBlank, c) < 0 {
			digits = append(digits, c)
		}
	}
	t.i += end + 1
	if len(digits)%2 == 1 {
		digits = append(digits, '0')
	}
	out := make([]byte, len(digits)/2)
	for i := range out {
		c, err := strconv.ParseUint(string(digits[2*i:2*i+2]), 16, 8)
		if err != nil {
			return nil
		}
		out[i] = byte(c)
	}
	return pdfString(out)
}

// literal reads a string behind its bracket.
func (t *pdfText) literal() any {
	var out []byte
	for open := 1; t.i < len(t.b); t.i++ {
		c := t.b[t.i]
		switch c {
		case '(':
			open++
		case ')':
			if open--; open == 0 {
				t.i++
				return pdfString(out)
			}
		case '\\':
			if t.i++; t.i == len(t.b) {
				continue
			}
			switch c = t.b[t.i]; c {
			case 'n':
				c = '\n'
			case 'r':
				c = '\r'
			case 't':
				c = '\t'
			case 'b':
				c = '\b'
			case 'f':
				c = '\f'
			case '\r':
				if t.i+1 < len(t.b) && t.b[t.i+1] == '\n' {
					t.i++
				}
				continue
			case '\n':
				continue
			case '0', '1', '2', '3', '4', '5', '6', '7':
				n, digits := 0, 0
				for ; digits < 3 && t.i < len(t.b) && t.b[t.i] >= '0' && t.b[t.i] <= '7'; digits++ {
					n = n*8 + int(t.b[t.i]-'0')
					t.i++
				}
				t.i--
				c = byte(n)
			}
		}
		out = append(out, c)
	}
	t.i, t.short = len(t.b), true
	return nil
}
