package waveform

import (
	"unsafe"

	"golang.org/x/sys/cpu"
)

// The processor's wide registers, where it has them, take over four loops that see every byte or sample. Each does what its plain counterpart does, and tests
// hold the two against each other; BenchmarkWide has both speeds.

// minmaxAVX2 is minmaxPlain for blocks of 64·pairs bytes.
//
//go:noescape
func minmaxAVX2(data *byte, blocks, pairs int, out *[8]int16)

// endsAVX2 writes where the cells of text from from to to end, as findEnds does, up to 76 places beyond their number.
//
//go:noescape
func endsAVX2(text *byte, from, to int, sep byte, out *int32) int

// cellsAVX2 reads cells until one does not fit, and says how many did.
//
//go:noescape
func cellsAVX2(c *wideCells) int

// extremesAVX2 gives the extremes of n values, a multiple of 8.
//
//go:noescape
func extremesAVX2(v *float64, n int) (least, largest float64)

var wide = cpu.X86.HasAVX2 && cpu.X86.HasBMI1 && cpu.X86.HasPOPCNT

func minmax(data []byte, blocks, size int, out [][8]int16) {
	if wide && blocks > 0 {
		_, _ = data[blocks*size-1], out[blocks-1]
		minmaxAVX2(&data[0], blocks, size/64, &out[0])
		return
	}
	minmaxPlain(data, blocks, size, out)
}

// extremes gives the least and largest of finite values.
func extremes(v []float64) (least, largest float64) {
	n := len(v) &^ 7
	if !wide || n == 0 {
		return extremesPlain(v)
	}
	least, largest = extremesAVX2(&v[0], n)
	for _, x := range v[n:] {
		least, largest = min(least, x), max(largest, x)
	}
	return least, largest
}

// wideCells is what cellsAVX2 needs to know of a column. A cell's last sixteen characters lie in one register, its end behind them: against the pattern every
// character must be a digit, or the mark in its place; the bytes before the mark close up to those behind it; three multiplications make the integer, and one
// division by a power of ten gives the bits of ParseFloat.
type wideCells struct {
	text        *byte
	end         *int32 // of the first cell
	step        int    // bytes from an end to that of the next row
	rows        int
	out         *float64
	div         float64
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

// cells reads a column from row i on, and gives the first row that does not fit.
func (a *cellsAt) cells(col []float64, i int, shapes *[maxPlaces + 1]wideCells) int {
	if i >= len(col) {
		return i
	}
	w := shapes[a.places]
	w.text, w.end = a.text, (*int32)(unsafe.Add(unsafe.Pointer(a.ends), (i*a.stride+a.column)*4))
	w.step, w.rows, w.out, w.div, w.term = 4*a.stride, len(col)-i, &col[i], a.div, uint64(a.term)
	return i + cellsAVX2(&w)
}
