package waveform

import (
	"bytes"
	"math"
	"strconv"
	"unsafe"
)

// vcdEvent is one change: of a bit (value 0, 1 or unknown), or of a real or a word whose text begins at at.
type vcdEvent struct {
	tick  uint64
	v     int32
	value uint8
	at    uint32 // offset of the value's text in the chunk, for valueText
}

const (
	valueX    = 2
	valueText = 3 // a real or a word
	never     = 4 // has no value yet
	noBit     = 5 // is no wire of one bit
)

// vcdWord is a packed vcdEvent: the variable above bit 34, the value in bits 32 and 33, the ticks since the event before below. Ticks that are too many are
// far, and stand in the word behind; behind that stands the offset of a text. A chunk's events pass from one processor to the other, and at eight bytes each
// that costs a third of what it does at twenty-four: 0.2 processor seconds a gigabyte of text.
type vcdWord uint64

const far = math.MaxUint32

// pack puts an event at the end of words.
func pack(words []vcdWord, v int32, value uint8, later uint64, at uint32) []vcdWord {
	w := vcdWord(v)<<34 | vcdWord(value)<<32
	if later < far {
		words = append(words, w|vcdWord(later))
	} else {
		words = append(words, w|far, vcdWord(later))
	}
	if value == valueText {
		words = append(words, vcdWord(at))
	}
	return words
}

// vcdWalk goes through packed events; from is the time of the last, or before the first of them.
type vcdWalk struct {
	words []vcdWord
	from  uint64
	vcdEvent
}

// walks are the events before the chunk's first time stamp, at the tick that it inherits, and those after it.
func (r *vcdEvents) walks(inherit uint64) [2]vcdWalk {
	return [2]vcdWalk{{words: r.words[:r.inherited], from: inherit}, {words: r.words[r.inherited:], from: r.first}}
}

// next unpacks an event; false when there is none.
func (k *vcdWalk) next() bool {
	if len(k.words) == 0 {
		return false
	}
	w := k.words[0]
	k.words = k.words[1:]
	later := uint64(w & far)
	if later == far {
		later = uint64(k.words[0])
		k.words = k.words[1:]
	}
	k.from += later
	k.vcdEvent = vcdEvent{tick: k.from, v: int32(w >> 34), value: uint8(w >> 32 & 3)}
	if k.value == valueText {
		k.at = uint32(k.words[0])
		k.words = k.words[1:]
	}
	return true
}

// vcdEvents is what a chunk of value changes holds.
type vcdEvents struct {
	words     []vcdWord
	inherited int    // words before the chunk's first time stamp
	first     uint64 // the chunk's first time stamp
	firstAt   int64  // and where it stands
	last      uint64
	stamps    int64
	end       vcdState
	problem   *Problem // after the events; its Byte is an offset in the chunk
	pending   []byte   // the value whose code stands in this chunk, its text in the last one
}

// vcdState is what a token depends on besides itself.
type vcdState struct {
	comment bool   // within $comment … $end or another block to be passed over
	value   []byte // a vector or real whose code is still to come
}

func (s *vcdState) plain() bool { return !s.comment && s.value == nil }

// parseVCD reads value changes from a padded chunk, beginning in state s. Times before the first stamp are left for commit.
//
// Hot loop: a 0 or 1 with a one-character code is taken first, by table; eight digits of a stamp at a time (BenchmarkVCDParse: 885 MB/s without these two,
// 1,360 with).
func (r *vcdEvents) parseVCD(l *vcdLayout, d []byte, s vcdState) {
	if likely := len(d)/8 + 1; cap(r.words) < likely {
		r.words = make([]vcdWord, 0, likely)
	}
	ev := r.words[:0]
	base := unsafe.Pointer(&d[0])
	r.inherited, r.stamps, r.problem, r.end, r.pending = -1, 0, nil, vcdState{}, s.value
	n := len(d) - chunkPad
	tick, later := uint64(0), uint64(0) // later: ticks since the last event
	p := chunkPad
	if s.comment {
		p = r.passOver(d, p, n)
	} else if s.value != nil {
		p = r.code(l, d, p, n, &ev, &later, s.value, -1)
	}
	for p < n && r.problem == nil {
		c := d[p]
		if v := l.one[d[p+1]]; c&^1 == '0' && d[p+2] <= ' ' && v >= 0 {
			if later >= far {
				ev = pack(ev, v, c-'0', later, 0)
			} else {
				ev = append(ev, vcdWord(v)<<34|vcdWord(c-'0')<<32|vcdWord(later))
			}
			later = 0
			p += 3
			continue
		}
		if c <= ' ' {
			p++
			continue
		}
		switch c {
		case '0', '1', 'x', 'X', 'z', 'Z':
			v := l.one[d[p+1]]
			q := p + 2
			if d[q] > ' ' || v < 0 {
				for q = p + 1; d[q] > ' '; q++ {
				}
				if v = l.lookup(d[p+1 : q]); v < 0 {
					r.problem = undeclared(p, d[p+1:q])
					continue
				}
			}
			value := c - '0'
			if value > 1 {
				value = valueX
			}
			ev, later = pack(ev, v, value, later, 0), 0
			p = q
		case '#':
			q := p + 1
			var t uint64
			if x := load64(base, q) ^ '0'*bytes1; (x+0x76*bytes1|x)&high1 == 0 {
				t = eightDigits(x)
				q += 8
			}
			for ; d[q]-'0' <= 9; q++ { // digit by digit: their number is foretold from the stamp before, where a mask would have to be waited for
				if t > (1<<64-10)/10 {
					r.problem = problemAtByte(ErrImpossible, int64(p), "copy the file again, or save it anew", "a time stamp beyond 2⁶⁴")
					break
				}
				t = t*10 + uint64(d[q]-'0')
			}
			if r.problem != nil {
				continue
			}
			if q == p+1 || d[q] > ' ' {
				r.problem = problemAtByte(ErrMalformed, int64(p), "write # and a whole number", "%q is no time stamp", clip(word(d[p:n])))
				continue
			}
			if r.inherited < 0 {
				r.inherited, r.first, r.firstAt, tick = len(ev), t, int64(p-chunkPad), t
			} else if t < tick {
				r.problem = problemAtByte(ErrMalformed, int64(p), "the changes are used up to there", "time falls from %d to %d ticks", tick, t)
				continue
			}
			later += t - tick
			tick = t
			r.stamps++
			p = q + 1 // what ends it is no more than a blank
		case 'b', 'B', 'r', 'R', 's', 'S':
			w := word(d[p:n])
			if len(w) > 2*maxBits {
				r.problem = problemAtByte(ErrMalformed, int64(p), "copy the file again, or save it anew", "a value of more than %d characters", 2*maxBits)
				continue
			}
			p = r.code(l, d, p+len(w), n, &ev, &later, w, p)
		case '$':
			p = r.keyword(d, p, n)
		case 'p':
			r.problem = extendedVCD(int64(p))
		default:
			r.problem = problemAtByte(ErrMalformed, int64(p), "a change begins with 0, 1, x, z, b or r, a time with #", "%q is no value change", clip(word(d[p:n])))
		}
	}
	if r.inherited < 0 {
		r.inherited = len(ev)
	}
	r.words, r.last = ev, tick
	if r.problem != nil {
		r.problem.Byte -= chunkPad
	}
}

func undeclared(at int, code []byte) *Problem {
	if len(code) == 0 {
		return problemAtByte(ErrMalformed, int64(at), "write the code directly behind the value", "a value without its code")
	}
	return problemAtByte(ErrMalformed, int64(at), "declare it with $var", "code %q was not declared", clip(code))
}

func word(b []byte) []byte {
	for i, c := range b {
		if c <= ' ' {
			return b[:i]
		}
	}
	return b
}

// code reads the code behind a vector or real; at is where the value stands in this chunk, -1 when in the one before.
func (r *vcdEvents) code(l *vcdLayout, d []byte, p, n int, ev *[]vcdWord, later *uint64, value []byte, at int) int {
	for p < n && d[p] <= ' ' {
		p++
	}
	if p >= n {
		r.end.value = append([]byte{}, value...)
		return n
	}
	w := word(d[p:n])
	v := l.lookup(w)
	if v < 0 {
		r.problem = undeclared(p, w)
		return p
	}
	x := &l.vars[v]
	as := uint8(valueText)
	kind := value[0] | 0x20
	switch {
	case (kind == 'r') != x.real() && !(kind == 's'):
		r.problem = problemAtByte(ErrMalformed, int64(p), "copy the file again, or save it anew", "value %q does not suit variable %q, a %s", clip(value), x.names[0], x.kind)
		return p
	case kind == 'b':
		if len(value) < 2 || len(bytes.Trim(value[1:], "01xXzZ")) > 0 {
			r.problem = problemAtByte(ErrMalformed, int64(p), "write b and the digits 0, 1, x, z", "%q is no vector", clip(value))
			return p
		}
		if x.bit() {
			switch value[len(value)-1] {
			case '0':
				as = 0
			case '1':
				as = 1
			default:
				as = valueX
			}
		}
	case kind == 'r':
		if _, err := strconv.ParseFloat(string(value[1:]), 64); err != nil {
			r.problem = problemAtByte(ErrMalformed, int64(p), "write r and a number", "%q is no real", clip(value))
			return p
		}
	}
	*ev, *later = pack(*ev, v, as, *later, uint32(max(at, 0))), 0
	return p + len(w)
}

// keyword handles the blocks among the changes: values inside $dump… blocks are ordinary, everything else is passed over to its $end.
func (r *vcdEvents) keyword(d []byte, p, n int) int {
	w := word(d[p:n])
	switch string(w) {
	case "$end", "$dumpvars", "$dumpall", "$dumpon", "$dumpoff":
		return p + len(w)
	case "$dumpports", "$dumpportsoff", "$dumpportson", "$dumpportsall":
		r.problem = extendedVCD(int64(p))
		return p
	case "$var", "$scope", "$upscope", "$enddefinitions", "$timescale":
		r.problem = problemAtByte(ErrMalformed, int64(p), "two recordings in one file? cut it there", "%s stands among the changes", w)
		return p
	}
	return r.passOver(d, p+len(w), n)
}

// passOver skips to behind the next $end.
func (r *vcdEvents) passOver(d []byte, p, n int) int {
	for p < n {
		if d[p] <= ' ' {
			p++
			continue
		}
		w := word(d[p:n])
		p += len(w)
		if string(w) == "$end" {
			return p
		}
	}
	r.end.comment = true
	return n
}

// extend brings a vector's digits to the variable's size: 0 and 1 by 0, x by x, z by z (IEEE 1364-2005 clause 18.2.1); of a longer one the low bits are kept.
func extend(digits []byte, size int) string {
	digits = bytes.ToLower(digits)
	if len(digits) >= size {
		return string(digits[len(digits)-size:])
	}
	fill := digits[0]
	if fill == '1' {
		fill = '0'
	}
	return string(append(bytes.Repeat([]byte{fill}, size-len(digits)), digits...))
}
