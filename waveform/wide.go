package waveform

import "unsafe"

// minmaxPlain gives, for each block of size bytes (a multiple of 64), the extremes of 16-bit samples in the processor's own order: of every fourth sample from the
// first, second, third and fourth on, the least four and then the largest four. So it serves one, two and four channels alike.
func minmaxPlain(data []byte, blocks, size int, out [][8]int16) {
	for b := range blocks {
		lo, hi := extremes8(unsafe.Slice((*int16)(unsafe.Pointer(&data[b*size])), size/2))
		for k := range 4 {
			out[b][k], out[b][4+k] = min(lo[k], lo[k+4]), max(hi[k], hi[k+4])
		}
	}
}

// at16 reads a 16-bit sample; the caller has made sure that it exists.
func at16(p unsafe.Pointer, off int) int { return int(*(*int16)(unsafe.Add(p, off))) }

// extremes8 gives the extremes of every eighth sample, eight at a time in two rounds, which is what fits into registers; the length is a multiple of eight.
func extremes8(s []int16) (lo, hi [8]int16) {
	l0, l1, l2, l3 := int(s[0]), int(s[1]), int(s[2]), int(s[3])
	h0, h1, h2, h3 := l0, l1, l2, l3
	l4, l5, l6, l7 := int(s[4]), int(s[5]), int(s[6]), int(s[7])
	h4, h5, h6, h7 := l4, l5, l6, l7
	p, n := unsafe.Pointer(&s[0]), 2*len(s)
	for i := 0; i < n; i += 16 {
		x0, x1, x2, x3 := at16(p, i), at16(p, i+2), at16(p, i+4), at16(p, i+6)
		l0, l1, l2, l3 = min(l0, x0), min(l1, x1), min(l2, x2), min(l3, x3)
		h0, h1, h2, h3 = max(h0, x0), max(h1, x1), max(h2, x2), max(h3, x3)
	}
	for i := 8; i < n; i += 16 {
		x4, x5, x6, x7 := at16(p, i), at16(p, i+2), at16(p, i+4), at16(p, i+6)
		l4, l5, l6, l7 = min(l4, x4), min(l5, x5), min(l6, x6), min(l7, x7)
		h4, h5, h6, h7 = max(h4, x4), max(h5, x5), max(h6, x6), max(h7, x7)
	}
	lo = [8]int16{int16(l0), int16(l1), int16(l2), int16(l3), int16(l4), int16(l5), int16(l6), int16(l7)}
	hi = [8]int16{int16(h0), int16(h1), int16(h2), int16(h3), int16(h4), int16(h5), int16(h6), int16(h7)}
	return lo, hi
}

// wideShapes makes the table of wideCells for one decimal mark, by decimal places.
func wideShapes(dec byte) *[maxPlaces + 1]wideCells {
	var out [maxPlaces + 1]wideCells
	for k := range out {
		out[k] = wideShape(dec, k)
	}
	return &out
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}
