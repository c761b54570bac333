package csv

import (
	"bytes"
	"math"

	"phasewright/waveform/number"
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
func cellMark(b []byte) (float64, cellState) {
	switch string(bytes.ToLower(b)) {
	case "", "nan", "-nan", "---", "--", "-", "n/a", "na", "null", "none", "#n/a":
		return math.NaN(), cellMissing
	case "inf", "+inf", "infinity", "+infinity", "∞", "+∞", "over", "overload", "ol", "+ol", "overflow", "clip+":
		return math.Inf(1), cellOver
	case "-inf", "-infinity", "-∞", "−∞", "under", "underflow", "-ol", "clip-":
		return math.Inf(-1), cellUnder
	}
	return 0, cellBad
}

// cellValue reads any cell: a number, also with blanks between groups of digits and with a unit, or a mark. shift is
// the column's power of ten; a unit in the cell itself takes its place.
func cellValue[T string | []byte](cell T, dec byte, shift int) (float64, cellState) {
	b := bytes.TrimSpace([]byte(cell))
	if n := len(b); n >= 2 && b[0] == '"' && b[n-1] == '"' {
		b = bytes.TrimSpace(b[1 : n-1])
	}
	if len(b) > 64 {
		return 0, cellBad
	}
	d, n := number.Scan(b, dec, number.Grouped)
	if n == 0 {
		return cellMark(b)
	}
	if n < len(b) {
		for w := number.Blank(b[n:]); w > 0; w = number.Blank(b[n:]) {
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

// Instruments write 9.9E37 for plus infinity, its negative for minus infinity and 9.91E37 for "not a number" (the
// numbers of the standard for programmable instruments, from memory).
const (
	overRange   = 9.9e37
	notANumber  = 9.91e37
	surelyValue = 1e28 // smaller numbers need no second look, whatever their unit
)

// numberCell is a number, or what one of those stands for.
func numberCell(d number.Decimal, shift int) (float64, cellState) {
	f := d.Float(shift)
	if math.Abs(f) < surelyValue {
		return f, cellNumber
	}
	switch raw := d.Float(0); {
	case math.IsInf(raw, 0) || math.IsInf(f, 0):
		return 0, cellBad
	case raw == notANumber:
		return math.NaN(), cellMissing
	case raw >= overRange:
		return math.Inf(1), cellOver
	case raw <= -overRange:
		return math.Inf(-1), cellUnder
	}
	return f, cellNumber
}

// isDate says whether a cell holds a date (ISO 8601: 2024-05-01, with or without a time behind it) or a time of day
// (12:34:56.789).
func isDate(cell string) bool {
	digits := func(from, to int) bool {
		for i := from; i < to; i++ {
			if i >= len(cell) || cell[i] < '0' || cell[i] > '9' {
				return false
			}
		}
		return true
	}
	date := len(cell) >= 10 && digits(0, 4) && cell[4] == '-' && digits(5, 7) && cell[7] == '-' && digits(8, 10)
	return date || len(cell) >= 8 && digits(0, 2) && cell[2] == ':' && digits(3, 5) && cell[5] == ':' && digits(6, 8)
}
