package signal

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
	case "", "nan", "-nan", "---", "--", "-", "n/a", "na", "null", "none":
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
	f := d.float(shift)
	if math.IsInf(f, 0) {
		return 0, cellBad
	}
	return f, cellNumber
}
