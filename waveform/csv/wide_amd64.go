package csv

import (
	"bytes"
	"math"

	"golang.org/x/sys/cpu"
)

// The processor's wide registers read most tables: a window of text is cut into cells, then each column is read down
// the window, sixteen characters of a cell at once. Measured with the whole command in turns with one without this
// file (phasewright capture, a table of 100 MB with four channels, two shared processors, five pairs): 1.8 against 4.3
// processor seconds a gigabyte, 355 against 158 MB/s. TestWideRowsAsPlain holds it against the plain loop.

// wide says that the processor has the registers.
var wide = cpu.X86.HasAVX2 && cpu.X86.HasBMI1 && cpu.X86.HasPOPCNT

const (
	window    = 16 << 10 // text cut at once: it stays in the first-level cache
	wideAhead = 64       // bytes of text that are looked at beyond a window
	wideBack  = 16       // and before a cell's end
	maxPlaces = 15
)

// endsAVX2 writes where cells end (separators, LF, CR) in text from from to to, and says how many; up to 76 places
// beyond their number are written to.
//
//go:noescape
func endsAVX2(text *byte, from, to int, sep byte, out *int32) int

// cellsAVX2 reads cells until one does not fit, and says how many did.
//
//go:noescape
func cellsAVX2(c *wideCells) int

// wideCells is what cellsAVX2 needs to know of a column; its fields are read there by their places. A cell's last
// sixteen characters lie in one register, its end behind them: against the pattern every character must be a digit, or
// the mark in its place; the bytes before the mark close up to those behind it; three multiplications make the
// integer, and one division by a power of ten gives the bits of strconv.ParseFloat.
type wideCells struct {
	text        *byte
	end         *int32 // of the first cell; the end before it stands before it
	step        int    // bytes from an end to that of the next row
	rows        int
	out         *float64
	divide      float64
	term        uint64
	least, most int // characters without the sign
	pattern     [16]byte
	limit       [16]byte // how far a character may differ from the pattern
	shut        [16]byte // where each byte comes from when the gap at the mark is closed
}

// wideShape makes the part of wideCells that depends on the mark and the decimal places alone.
func wideShape(dec byte, places int) (w wideCells) {
	w.least, w.most = places+1, 16
	if places == 0 {
		w.most = 15 // sixteen digits may be more than float64 holds
	}
	for i := range 16 {
		w.pattern[i], w.limit[i], w.shut[i] = '0', 9, byte(i)
		switch mark := 15 - places; {
		case places == 0 || i > mark:
		case i == mark:
			w.pattern[i], w.limit[i], w.shut[i] = dec, 0, byte(i-1)
		default:
			w.shut[i] = byte(i - 1) // 255 brings nought
		}
	}
	return w
}

// wideRows reads rows from text, which ends with a line, from at on, as long as their cells are plain numbers. It gives
// the beginning of the next row, and whether all rows of the last window could be read.
func (p *Parser) wideRows(text []byte, at int) (next int, whole bool) {
	stride := len(p.cols)
	if p.crlf {
		stride++
	}
	for wide && !p.narrow && at >= wideBack && at+wideAhead < len(text) {
		to := min(at+window, len(text)-wideAhead)
		if p.ends == nil {
			p.ends = make([]int32, window+80)
		}
		p.ends[0] = int32(at - 1)
		n := endsAVX2(&text[0], at, to, p.lay.sep, &p.ends[1])
		for n > 0 && int(p.ends[n]) >= to {
			n--
		}
		rows := n / stride
		for rows > 0 && p.n+rows > len(p.cols[0].values) {
			p.grow()
		}
		good := rows
		for c := 0; c < stride && good > 0; c++ {
			good = p.wideColumn(text, c, stride, good)
		}
		if good > 0 {
			at = int(p.ends[good*stride]) + 1
			p.n += good
			p.out.Lines += int64(good)
		}
		if good < rows || rows == 0 {
			return at, whole
		}
		whole = true
	}
	return at, whole
}

// wideColumn reads column c of the first rows of the window, and says how many are good. What is no plain number with
// as many decimal places as the one above is read by itself; where many are so, the rest is left to the plain loop.
func (p *Parser) wideColumn(text []byte, c, stride, rows int) (good int) {
	if c == len(p.cols) { // the LF behind a CR
		for i := range rows {
			if e := p.ends[(i+1)*stride]; e != p.ends[(i+1)*stride-1]+1 || text[e] != '\n' {
				return i
			}
		}
		return rows
	}
	col := &p.cols[c]
	term := p.lay.sep
	if c == len(p.cols)-1 {
		if term = '\n'; p.crlf {
			term = '\r'
		}
	}
	misfits := 0
	for i := 0; i < rows; i++ {
		if e := p.places10(col); col.role != roleSkip && e != 0 {
			w := wideShape(p.lay.dec, col.places)
			w.text, w.end, w.step = &text[0], &p.ends[1+i*stride+c], 4*stride
			w.rows, w.out, w.divide, w.term = rows-i, &col.values[p.n+i], e, uint64(term)
			if i += cellsAVX2(&w); i == rows {
				break
			}
		}
		from, end := int(p.ends[i*stride+c])+1, int(p.ends[1+i*stride+c])
		if misfits++; text[end] != term || misfits > 4+rows/16 && col.role != roleSkip {
			return i
		}
		if e, ok := p.cell(text, from, c, p.n+i); !ok || e != end {
			return i
		}
		if mark := bytes.IndexByte(text[from:end], p.lay.dec); mark >= 0 {
			col.places = min(end-from-mark-1, maxPlaces)
		} else {
			col.places = 0
		}
	}
	return rows
}

// places10 is what digits with the column's decimal places are divided by; 0 where division does not do.
func (p *Parser) places10(col *cells) float64 {
	if e := col.places - col.shift; e >= 0 && e <= 22 {
		return math.Pow10(e) // exact
	}
	return 0
}
