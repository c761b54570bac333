package signal

import (
	"bytes"
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
	never     = 4
)

// vcdEvents is what a chunk of value changes holds.
type vcdEvents struct {
	events    []vcdEvent
	inherited int    // events before the chunk's first time stamp
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
	if likely := len(d)/8 + 1; cap(r.events) < likely {
		r.events = make([]vcdEvent, 0, likely)
	}
	ev := r.events[:0]
	base := unsafe.Pointer(&d[0])
	r.inherited, r.stamps, r.problem, r.end, r.pending = -1, 0, nil, vcdState{}, s.value
	n := len(d) - chunkPad
	tick := uint64(0)
	p := chunkPad
	if s.comment {
		p = r.passOver(d, p, n)
	} else if s.value != nil {
		p = r.code(l, d, p, n, &ev, tick, s.value, -1)
	}
	for p < n && r.problem == nil {
		c := d[p]
		if v := l.one[d[p+1]]; c&^1 == '0' && d[p+2] <= ' ' && v >= 0 {
			ev = append(ev, vcdEvent{tick: tick, v: v, value: c - '0', at: uint32(p)})
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
			ev = append(ev, vcdEvent{tick: tick, v: v, value: value, at: uint32(p)})
			p = q
		case '#':
			q := p + 1
			var t uint64
			if x := load64(base, q) ^ '0'*bytes1; (x+0x76*bytes1|x)&high1 == 0 {
				t = eightDigits(x)
				q += 8
			}
			for ; d[q]-'0' <= 9; q++ {
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
				r.inherited, r.first, r.firstAt = len(ev), t, int64(p-chunkPad)
			} else if t < tick {
				r.problem = problemAtByte(ErrMalformed, int64(p), "the changes are used up to there", "time falls from %d to %d ticks", tick, t)
				continue
			}
			tick = t
			r.stamps++
			p = q + 1 // what ends it is no more than a blank
		case 'b', 'B', 'r', 'R', 's', 'S':
			w := word(d[p:n])
			if len(w) > 2*maxBits {
				r.problem = problemAtByte(ErrMalformed, int64(p), "copy the file again, or save it anew", "a value of more than %d characters", 2*maxBits)
				continue
			}
			p = r.code(l, d, p+len(w), n, &ev, tick, w, p)
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
	r.events, r.last = ev, tick
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
func (r *vcdEvents) code(l *vcdLayout, d []byte, p, n int, ev *[]vcdEvent, tick uint64, value []byte, at int) int {
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
	e := vcdEvent{tick: tick, v: v, value: valueText, at: uint32(max(at, 0))}
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
				e.value = 0
			case '1':
				e.value = 1
			default:
				e.value = valueX
			}
		}
	case kind == 'r':
		if _, err := strconv.ParseFloat(string(value[1:]), 64); err != nil {
			r.problem = problemAtByte(ErrMalformed, int64(p), "write r and a number", "%q is no real", clip(value))
			return p
		}
	}
	*ev = append(*ev, e)
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
