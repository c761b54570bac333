package vcd

import (
	"bytes"
	"encoding/binary"
	"strconv"

	"phasewright/waveform/block"
	"phasewright/waveform/number"
)

// Change is one change of a variable.
type Change struct {
	Tick uint64
	// Zero, One or Unknown; with Text: index into Changes.Reals or Changes.Words, by the variable's sort
	Value    uint32
	Variable uint16 // index into Layout.Variables
	Text     bool   // a real or a word
}

// Values of a change that is no text.
const (
	Zero uint32 = iota
	One
	Unknown // x or z
)

// Changes is what a stretch of the body holds. It is filled anew, in the same room, for one stretch after the other.
type Changes struct {
	All       []Change
	Inherited int    // changes before the first time stamp: they stand at the last one of the stretch before
	Stamps    int64  // time stamps
	First     uint64 // tick of the first
	FirstAt   int64  // byte of the first
	Last      uint64 // tick of the last
	Reals     []float64
	Words     [][]byte       // in small letters, as many digits as the variable has
	End       State          // behind the stretch
	Problem   *block.Problem // after the changes; its Byte counts from the stretch's first
	digits    []byte         // room for words
}

// State is what a word depends on besides itself. Its zero value stands between two changes.
type State struct {
	Comment bool   // within $comment … $end or another block to be passed over
	Value   []byte // a vector or real whose code is still to come
}

// Between says that the next word begins a change.
func (s *State) Between() bool { return !s.Comment && s.Value == nil }

// Split says how many bytes of b are whole words; whole lines, if more follows.
func Split(b []byte, last bool) int {
	if i := bytes.LastIndexByte(b, '\n'); i >= 0 && !last {
		return i + 1
	}
	for i := len(b) - 1; i >= 0; i-- {
		if b[i] <= ' ' {
			return i + 1
		}
	}
	return 0
}

// parser is a stretch being read.
type parser struct {
	*Changes
	l *Layout
	b []byte
}

// Parse reads the changes of a stretch that begins in state s.
func (l *Layout) Parse(b []byte, s State, out *Changes) {
	*out = Changes{All: out.All[:0], Reals: out.Reals[:0], Words: out.Words[:0], digits: out.digits[:0], Inherited: -1}
	p := &parser{out, l, b}
	at := 0
	switch {
	case s.Comment:
		at = p.passOver(0)
	case s.Value != nil:
		at = p.code(0, 0, s.Value)
	}
	for at < len(b) && out.Problem == nil {
		c := b[at]
		if c&^1 == '0' && len(b)-at > 2 && b[at+2] <= ' ' { // 0 or 1 with a code of one character: most changes are
			if v := l.one[b[at+1]]; v >= 0 {
				out.All = append(out.All, Change{Tick: out.Last, Value: uint32(c - '0'), Variable: uint16(v)})
				at += 3
				continue
			}
		}
		switch c {
		case '0', '1', 'x', 'X', 'z', 'Z':
			at = p.scalar(at)
		case '#':
			at = p.stamp(at)
		case 'b', 'B', 'r', 'R', 's', 'S':
			w := word(b[at:])
			if len(w) > 2*maxBits {
				p.malformed(at, saveAnew, "a value of more than %d characters", 2*maxBits)
				break
			}
			at = p.code(at, at+len(w), w)
		case '$':
			at = p.keyword(at)
		case 'p':
			p.Problem = extended(int64(at))
		default:
			if c <= ' ' {
				at++
				continue
			}
			p.malformed(at, "a change begins with 0, 1, x, z, b or r, a time with #", "%q is no value change",
				block.Clip(word(b[at:])))
		}
	}
	if out.Inherited < 0 {
		out.Inherited = len(out.All)
	}
}

func (p *parser) malformed(at int, remedy, format string, args ...any) {
	p.Problem = block.AtByte(block.ErrMalformed, int64(at), remedy, format, args...)
}

// word is the word at the front of b.
func word(b []byte) []byte {
	for i, c := range b {
		if c <= ' ' {
			return b[:i]
		}
	}
	return b
}

// variable finds the variable of a code at a place; -1, and a problem, when there is none.
func (p *parser) variable(code []byte, at int) int32 {
	v := p.l.lookup(code)
	switch {
	case v >= 0:
	case len(code) == 0:
		p.malformed(at, "write the code directly behind the value", "a value without its code")
	default:
		p.malformed(at, "declare it with $var", "code %q was not declared", block.Clip(code))
	}
	return v
}

// scalar reads a value of one character with its code.
func (p *parser) scalar(at int) (next int) {
	b := p.b[at:]
	code := word(b[1:])
	if v := p.variable(code, at); v >= 0 {
		p.All = append(p.All, Change{Tick: p.Last, Value: min(uint32(b[0]-'0'), Unknown), Variable: uint16(v)})
	}
	return at + 1 + len(code)
}

// tens are the powers of ten.
var tens = [...]uint64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8}

// stamp reads a time.
func (p *parser) stamp(at int) (next int) {
	const sure = 19 // digits that 64 bits hold whatever they are
	var t uint64
	b, q := p.b, at+1
	for n := 8; n == 8 && q+8 <= len(b); q += n {
		var digits uint64
		digits, n = number.Leading(binary.LittleEndian.Uint64(b[q:]))
		t = t*tens[n] + digits
	}
	for q < len(b) && b[q]-'0' <= 9 {
		t = t*10 + uint64(b[q]-'0')
		q++
	}
	n := q - at - 1
	if n > sure {
		var err error
		if t, err = strconv.ParseUint(string(b[at+1:q]), 10, 64); err != nil {
			p.Problem = block.AtByte(block.ErrImpossible, int64(at), saveAnew, "a time stamp beyond 2⁶⁴")
			return at
		}
	}
	switch {
	case n == 0 || q < len(b) && b[q] > ' ':
		p.malformed(at, "write # and a whole number", "%q is no time stamp", block.Clip(word(b[at:])))
		return at
	case p.Inherited < 0:
		p.Inherited, p.First, p.FirstAt = len(p.All), t, int64(at)
	case t < p.Last:
		p.Problem = TimeFalls(int64(at), p.Last, t)
		return at
	}
	p.Last = t
	p.Stamps++
	return q + 1 // the blank behind it, if there is one
}

// TimeFalls is the problem of a time stamp that goes back.
func TimeFalls(at int64, from, to uint64) *block.Problem {
	return block.AtByte(block.ErrMalformed, at, "the changes are used up to there",
		"time falls from %d to %d ticks", from, to)
}

// code reads the code at or behind b[from:] of a vector, real or string that stands at b[at:], or in the stretch
// before.
func (p *parser) code(at, from int, value []byte) (next int) {
	for from < len(p.b) && p.b[from] <= ' ' {
		from++
	}
	if from == len(p.b) {
		p.End.Value = bytes.Clone(value)
		return from
	}
	code := word(p.b[from:])
	v := p.variable(code, from)
	if v < 0 {
		return from
	}
	c := Change{Tick: p.Last, Variable: uint16(v), Text: true}
	x := &p.l.Variables[v]
	kind := value[0] | 0x20
	switch {
	case (kind == 'r') != (x.Sort == Real) || kind == 's' && x.Sort != Word:
		p.malformed(from, saveAnew, "value %q does not suit variable %q, a %s", block.Clip(value), x.Names[0], x.kind)
		return from
	case kind == 'b':
		if len(value) < 2 || len(bytes.Trim(value[1:], "01xXzZ")) > 0 {
			p.malformed(from, "write b and the digits 0, 1, x, z", "%q is no vector", block.Clip(value))
			return from
		}
		if x.Sort == Bit {
			c.Text = false
			if c.Value = uint32(value[len(value)-1] - '0'); c.Value > One {
				c.Value = Unknown
			}
		} else {
			c.Value = p.word(value[1:], max(1, x.size))
		}
	case kind == 'r':
		f, ok := number.Float(value[1:])
		if !ok {
			p.malformed(from, "write r and a number", "%q is no real", block.Clip(value))
			return from
		}
		c.Value = uint32(len(p.Reals))
		p.Reals = append(p.Reals, f)
	default:
		c.Value = uint32(len(p.Words))
		p.Words = append(p.Words, value[1:])
	}
	p.All = append(p.All, c)
	return from + len(code)
}

// word keeps a vector's digits, brought to the variable's size: 0 and 1 by 0, x by x, z by z (clause 18.2.1); of a
// longer one the low bits are kept.
func (p *parser) word(digits []byte, size int) (index uint32) {
	from := len(p.digits)
	if fill := digits[0] | 0x20; len(digits) < size {
		if digits[0] == '0' || digits[0] == '1' {
			fill = '0'
		}
		for range size - len(digits) {
			p.digits = append(p.digits, fill)
		}
	}
	for _, c := range digits[max(0, len(digits)-size):] {
		if c >= 'A' {
			c |= 0x20
		}
		p.digits = append(p.digits, c)
	}
	p.Words = append(p.Words, p.digits[from:])
	return uint32(len(p.Words) - 1)
}

// keyword handles the blocks among the changes: values inside $dump… blocks are ordinary, everything else is passed
// over to its $end.
func (p *parser) keyword(at int) (next int) {
	w := word(p.b[at:])
	switch string(w) {
	case "$end", "$dumpvars", "$dumpall", "$dumpon", "$dumpoff":
		return at + len(w)
	case "$dumpports", "$dumpportsoff", "$dumpportson", "$dumpportsall":
		p.Problem = extended(int64(at))
		return at
	case "$var", "$scope", "$upscope", "$enddefinitions", "$timescale":
		p.malformed(at, "two recordings in one file? cut it there", "%s stands among the changes", w)
		return at
	}
	return p.passOver(at + len(w))
}

// passOver skips to behind the next $end.
func (p *parser) passOver(at int) (next int) {
	for at < len(p.b) {
		if p.b[at] <= ' ' {
			at++
			continue
		}
		w := word(p.b[at:])
		at += len(w)
		if string(w) == "$end" {
			return at
		}
	}
	p.End.Comment = true
	return len(p.b)
}
