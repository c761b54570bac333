package waveform

import (
	"bytes"
	"math"
)

type cellState uint8

const (
	cellBad     cellState = iota // no number and no known mark
	cellNumber                   // a number
	cellMissing                  // nothing was recorded: NaN
	cellOver                     // beyond the range: +Inf
	cellUnder                    // -Inf
)

// cellMark reads the marks that instruments write in place of a number (common practice).
func cellMark(b []byte) cellState {
	switch string(bytes.ToLower(b)) {
	case "", "nan", "-nan", "---", "--", "-", "n/a", "na", "null", "none", "#n/a":
		return cellMissing
	case "inf", "+inf", "infinity", "+infinity", "∞", "+∞", "over", "overload", "ol", "+ol", "overflow", "clip+":
		return cellOver
	case "-inf", "-infinity", "-∞", "−∞", "under", "underflow", "-ol", "clip-":
		return cellUnder
	}
	return cellBad
}

// cellValue reads any cell: a number, also with blanks between groups of digits and with a unit, or a mark.
func cellValue(b []byte, dec byte) (float64, cellState) { return cellScaled(b, dec, 0) }

// cellScaled is cellValue with the column's power of ten; a unit in the cell itself takes its place.
func cellScaled(b []byte, dec byte, shift int) (float64, cellState) {
	b = bytes.TrimSpace(b)
	if n := len(b); n >= 2 && b[0] == '"' && b[n-1] == '"' {
		b = bytes.TrimSpace(b[1 : n-1])
	}
	if len(b) > 64 {
		return 0, cellBad
	}
	d, n := scanDecimal(b, dec, grouped)
	if n == 0 {
		switch s := cellMark(b); s {
		case cellMissing:
			return math.NaN(), s
		case cellOver:
			return math.Inf(1), s
		case cellUnder:
			return math.Inf(-1), s
		default:
			return 0, cellBad
		}
	}
	if n < len(b) {
		for w := blank(b[n:]); w > 0; w = blank(b[n:]) {
			n += w
		}
		u, ok := asUnit(string(b[n:]))
		if !ok || u.base == "#" {
			return 0, cellBad
		}
		shift = u.exp
	}
	return numberCell(d, shift)
}

// beyond is where no voltage is meant any more: instruments write 9.9E37 for plus infinity, its negative for minus infinity and 9.91E37 for "not a number" (the
// numbers of the standard for programmable instruments, from memory).
const beyond = 9.9e37

// numberCell is a number, or what one of those stands for.
func numberCell(d decimal, shift int) (float64, cellState) {
	f := d.float(shift)
	if math.Abs(f) < huge {
		return f, cellNumber
	}
	switch raw := d.float(0); {
	case math.IsInf(raw, 0) || math.IsInf(f, 0):
		return 0, cellBad
	case raw == 9.91e37:
		return math.NaN(), cellMissing
	case raw >= beyond:
		return math.Inf(1), cellOver
	case raw <= -beyond:
		return math.Inf(-1), cellUnder
	}
	return f, cellNumber
}

const huge = 1e28 // smaller numbers need no second look, whatever their unit
