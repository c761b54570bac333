package waveform

import (
	"math"
	"math/bits"
	"unsafe"
)

const (
	low7   = 0x7f7f7f7f7f7f7f7f
	high1  = 0x8080808080808080
	bytes1 = 0x0101010101010101
	gather = 0x0102040810204080 // times a word of eight 0/1 bytes: the top byte has them as bits, the first lowest

	window = 16 << 10 // text whose cell ends are found ahead of the numbers: stays in the first-level cache
)

// eightDigits turns eight digit values, most significant in the lowest byte, into their number.
func eightDigits(y uint64) uint64 {
	y = y*10 + y>>8
	return ((y&0x000000ff000000ff)*0x000f424000000064 + ((y>>16)&0x000000ff000000ff)*0x0000271000000001) >> 32
}

// shape is how the last sixteen characters of a number with a given count of decimal places look.
type shape struct {
	lo, hi       uint64 // '0' where a digit stands, the mark where the mark stands; lo is the last eight characters
	addLo, addHi uint64 // carries into the top bit of a byte that is no digit, or not the mark
	preLo, preHi uint64 // the bytes before the mark in that word
	mul          uint64 // weight of the upper word: ten to the digits in the lower
}

const maxPlaces = 15

// shapes makes the table for one decimal mark, by decimal places.
func shapes(dec byte) *[maxPlaces + 1]shape {
	var out [maxPlaces + 1]shape
	for k := range out {
		s := shape{lo: '0' * bytes1, hi: '0' * bytes1, addLo: 0x76 * bytes1, addHi: 0x76 * bytes1, mul: 100_000_000}
		mark := func(word, add, pre *uint64, at uint) {
			*word = *word&^(0xff<<(8*at)) | uint64(dec)<<(8*at)
			*add |= 0x7f << (8 * at)
			*pre = 1<<(8*at) - 1
		}
		switch {
		case k >= 1 && k <= 7:
			mark(&s.lo, &s.addLo, &s.preLo, uint(7-k))
			s.mul = 10_000_000
		case k >= 8:
			mark(&s.hi, &s.addHi, &s.preHi, uint(15-k))
		}
		out[k] = s
	}
	return &out
}

// findEnds writes where the cells of d[from:to] end (offsets of separators, CR and LF) and returns the filled part of ends.
//
// Hot loop: a fifth to a quarter of a profile of BenchmarkCSVParse, which reached 1.03 GB/s on one core. Where a table has nothing below the comma but separators and
// line ends, one subtraction a word finds them all instead of three comparisons. Eight ends are stored for each 64 bytes whether there or not (2 % better
// than two a word).
func findEnds(d []byte, from, to int, lay *csvLayout, ends []int32) []int32 {
	need := to - from + 80
	if cap(ends) < need {
		ends = make([]int32, need)
	}
	ends = ends[:need]
	if wide {
		_ = d[min(to+63, len(d)-1)]
		n := endsAVX2(&d[0], from, to, lay.sep, &ends[0])
		for n > 0 && int(ends[n-1]) >= to {
			n--
		}
		return ends[:n]
	}
	seps, lines, returns := uint64(lay.sep)*bytes1, uint64('\n')*bytes1, uint64('\r')*bytes1
	base, out := unsafe.Pointer(&d[0]), unsafe.Pointer(&ends[0])
	_ = d[min(to+63, len(d)-1)]
	n := 0
	for p := from; p < to; p += 64 {
		var m uint64
		if lay.plain {
			for i := 56; i >= 0; i -= 8 {
				w := load64(base, p+i)
				m = m<<8 | ((0xac*bytes1-w&low7)&^w&high1)>>7*gather>>56
			}
		} else {
			for i := 56; i >= 0; i -= 8 {
				w := load64(base, p+i)
				a, b, c := w^seps, w^lines, w^returns
				f := ^((((a & low7) + low7) | a) & (((b & low7) + low7) | b) & (((c & low7) + low7) | c)) & high1
				m = m<<8 | f>>7*gather>>56
			}
		}
		found := bits.OnesCount64(m)
		for k := n; k < n+8; k += 4 { // eight whether there or not: a loop over the true count mispredicts its end
			at := unsafe.Add(out, k*4)
			*(*int32)(at) = int32(p + bits.TrailingZeros64(m))
			m &= m - 1
			*(*int32)(unsafe.Add(at, 4)) = int32(p + bits.TrailingZeros64(m))
			m &= m - 1
			*(*int32)(unsafe.Add(at, 8)) = int32(p + bits.TrailingZeros64(m))
			m &= m - 1
			*(*int32)(unsafe.Add(at, 12)) = int32(p + bits.TrailingZeros64(m))
			m &= m - 1
		}
		for k := n + 8; m != 0; k++ {
			*(*int32)(unsafe.Add(out, k*4)) = int32(p + bits.TrailingZeros64(m))
			m &= m - 1
		}
		n += found
	}
	for n > 0 && int(ends[n-1]) >= to {
		n--
	}
	return ends[:n]
}

// load64 reads eight bytes, the first in the lowest byte. The caller has made sure that they exist: the hot loops have no registers to spare for bounds checks.
func load64(base unsafe.Pointer, off int) uint64 {
	return le64(*(*uint64)(unsafe.Add(base, off)))
}

// parseRows reads the lines of a padded chunk, which ends at a line end unless last is set.
//
// Text is taken in windows: findEnds cuts the cells, then each column is read down the window with its constants in registers (BenchmarkCSVParse: 915 MB/s,
// row by row 650, since the compiler spills).
func (r *csvRows) parseRows(lay *csvLayout, padded []byte, last bool) {
	d := padded
	n := len(d) - chunkPad
	r.reset(lay, n-chunkPad)
	stride := len(lay.terms)
	batch := 1 << 30
	for p := chunkPad; p < n; {
		to := min(p+window, n)
		r.ends = findEnds(d, p, to, lay, r.ends)
		ends := r.ends
		row := p
		for {
			count := min(len(ends)/stride, batch)
			good := 0
			if count > 0 {
				for r.rows+count > r.room {
					r.grow()
				}
				good = count
				for c := range stride {
					good = r.column(lay, d, ends, c, row, good)
				}
				if good > 0 {
					r.rows += good
					r.lines += int64(good)
					row = int(ends[good*stride-1]) + 1
					ends = ends[good*stride:]
				}
				if good == count {
					batch = min(batch, 1<<20) * 2
					if len(ends) >= stride {
						continue
					}
				}
			}
			if good == count && (row > p || count > 0) {
				break // the rest of the window is a part of a row
			}
			next, ok := r.slowRow(lay, d[:n], row, last)
			if !ok {
				return
			}
			row, batch = next, 1
			i := 0
			for i < len(ends) && int(ends[i]) < row {
				i++
			}
			if ends = ends[i:]; row >= to || len(ends) < stride {
				break
			}
		}
		p = row
	}
}

// column reads column c of the first rows of a window, whose cells end at ends, and says how many rows are good. A column keeps its count of
// decimal places from row to row; what does not fit goes to mediumCell (other places, exponents).
func (r *csvRows) column(lay *csvLayout, d []byte, ends []int32, c, row, rows int) int {
	stride := len(lay.terms)
	term := lay.terms[c]
	if c >= len(lay.cols) { // what stands behind the last column: nothing but CR, LF or a separator
		for i := range rows {
			j := i*stride + c
			if int(ends[j]) != int(ends[j-1])+1 || d[ends[j]] != term {
				return i
			}
		}
		return rows
	}
	col := r.cols[c][r.rows : r.rows+rows]
	for i := 0; i < rows; {
		k := int(r.places[c]) & maxPlaces
		at := cellsAt{&d[0], &ends[0], c, stride, &lay.shapes[k], k, term, lay.cols[c].div[k], r.rows + i}
		j := i*stride + c
		start := row
		if j > 0 {
			start = int(ends[j-1]) + 1
			switch {
			case wide:
				i = at.cells(col, i, lay.wide)
			case int(ends[j])-start < 8:
				i = at.short(col, i)
			default:
				i = at.long(col, i)
			}
			if i == rows {
				break
			}
			if j = i*stride + c; j > 0 {
				start = int(ends[j-1]) + 1
			}
		}
		e := int(ends[j])
		if d[e] != term {
			return i
		}
		if lay.cols[c].role != roleSkip && !r.mediumCell(lay, c, r.rows+i, d[start:e]) {
			return i
		}
		i++
	}
	return rows
}

// cellsAt is what the two hot loops below need to know of a column.
type cellsAt struct {
	text   *byte
	ends   *int32
	column int
	stride int
	shape  *shape
	places int
	term   byte
	div    float64
	first  int
}

// short reads cells of up to seven characters and a sign, from row i on, and returns the first row that does not fit.
//
// Hot loop: 45 % of a profile of BenchmarkCSVParse. The cell and its end are one word, loaded so that the end is its last byte: one comparison says that every
// character is a digit, the mark in its place or the end; three multiplications make the integer; one division by a power of
// ten gives the bits of ParseFloat.
func (a *cellsAt) short(col []float64, i int) int {
	base := unsafe.Pointer(a.text)
	k := uint(a.places)
	if k >= 7 || i >= len(col) {
		return i
	}
	s := a.shape
	pattern := s.lo>>8 | uint64(a.term)<<56
	pre := s.preLo >> 8
	var adds [8]uint64 // by size: too short a cell fails the comparison whatever it holds
	for n := range adds {
		adds[n] = high1
		if uint(n) > k {
			adds[n] = s.addLo>>8 | 0x7f<<56
		}
	}
	div, step := a.div, a.stride*4
	ends, cell := unsafe.Pointer(a.ends), (i*a.stride+a.column)*4
	out := unsafe.Pointer(&col[0])
	for n := len(col); i < n; i++ {
		e := int(*(*int32)(unsafe.Add(ends, cell)))
		start := int(*(*int32)(unsafe.Add(ends, cell-4))) + 1
		neg := 0
		if *(*byte)(unsafe.Add(base, start)) == '-' {
			neg = 1
		}
		size := uint(e - start - neg)
		if size > 7 {
			return i
		}
		x := (load64(base, e-7) ^ pattern) & lastBytes[size]
		if ((x+adds[size])|x)&high1 != 0 {
			return i
		}
		y := (x + (x&pre)*255) << 8 // closes the gap that the mark leaves
		*(*float64)(unsafe.Add(out, i*8)) = math.Float64frombits(math.Float64bits(float64(int64(eightDigits(y)))/div) | uint64(neg)<<63)
		cell += step
	}
	return len(col)
}

// lastBytes[n] keeps the last n characters and the end of a cell whose end is the word's last byte.
var lastBytes = [8]uint64{0xff << 56, 0xffff << 48, 0xffffff << 40, 0xffffffff << 32, 0xffffffffff << 24, 0xffffffffffff << 16, 0xffffffffffffff << 8, 0xffffffffffffffff}

// long is short for cells of up to sixteen characters, in two words.
func (a *cellsAt) long(col []float64, i int) int {
	base := unsafe.Pointer(a.text)
	k := a.places
	s := *a.shape
	most := 16 - b2i(k == 0) // sixteen digits may be more than float64 holds
	div, step := a.div, a.stride*4
	ends, cell := unsafe.Pointer(a.ends), (i*a.stride+a.column)*4
	for ; i < len(col); i++ {
		e := int(*(*int32)(unsafe.Add(ends, cell)))
		start := int(*(*int32)(unsafe.Add(ends, cell-4))) + 1
		cell += step
		neg := 0
		if *(*byte)(unsafe.Add(base, start)) == '-' {
			neg = 1
		}
		size := e - start - neg
		if size > most || size < 8 || size <= k || *(*byte)(unsafe.Add(base, e)) != a.term {
			return i
		}
		keep := ^uint64(0) << (uint(128-8*size) & 63)
		if size == 8 {
			keep = 0
		}
		x := load64(base, e-8) ^ s.lo
		h := (load64(base, e-16) ^ s.hi) & keep
		if ((x+s.addLo)|x|(h+s.addHi)|h)&high1 != 0 {
			return i
		}
		y := x + (x&s.preLo)*255
		z := h + (h&s.preHi)*255
		col[i] = math.Float64frombits(math.Float64bits(float64(int64(eightDigits(z)*s.mul+eightDigits(y)))/div) | uint64(neg)<<63)
	}
	return i
}

// mediumCell reads a number whose decimal places differ from the row before, or one with an exponent, or an empty cell. It remembers the places.
func (r *csvRows) mediumCell(lay *csvLayout, c, at int, b []byte) bool {
	if len(b) == 0 && len(lay.cols) > 1 && lay.cols[c].role == roleValue {
		r.gaps[c], r.cols[c][at] = true, math.NaN()
		return true
	}
	i, neg := 0, false
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		neg = b[0] == '-'
		i = 1
	}
	var mant uint64
	from, mark := i, -1
	for ; i < len(b); i++ {
		x := b[i] - '0'
		if x <= 9 {
			mant = mant*10 + uint64(x)
			continue
		}
		if b[i] != lay.dec || mark >= 0 {
			break
		}
		mark = i
	}
	digits, places := i-from, 0
	if mark >= 0 {
		digits--
		places = i - mark - 1
	}
	if digits < 1 || digits > 18 {
		return false
	}
	exp := 0
	if i < len(b) {
		if b[i]|0x20 != 'e' || i+1 >= len(b) {
			return false
		}
		i++
		eneg := false
		if b[i] == '-' || b[i] == '+' {
			eneg = b[i] == '-'
			i++
		}
		if i >= len(b) || len(b)-i > 3 {
			return false
		}
		for ; i < len(b); i++ {
			x := b[i] - '0'
			if x > 9 {
				return false
			}
			exp = exp*10 + int(x)
		}
		if eneg {
			exp = -exp
		}
	} else if places <= maxPlaces && lay.cols[c].div[places] != 0 && mark != len(b)-1 {
		r.places[c] = uint8(places)
	}
	f := decimal{mant: mant, exp: exp - places, neg: neg}.float(lay.cols[c].shift)
	if !(f < huge && f > -huge) {
		return false
	}
	r.cols[c][at] = f
	return true
}
