// Package number reads decimal numbers from text, bit for bit as strconv.ParseFloat does, several times as fast, and as
// instruments write them: with a decimal comma, blanks between groups of digits, a unit's power of ten.
package number

import (
	"math"
	"math/bits"
	"strconv"
)

// Decimal is a number as it was written: (-1)^neg · mant · 10^exp.
type Decimal struct {
	mant uint64
	exp  int
	neg  bool
	text string // the digits, when there are more than mant holds
}

// MaxDigits fit into mant whatever they are: 10^18 < 2^63.
const MaxDigits = 18

// pow10 holds the powers of ten that float64 holds exactly.
var pow10 = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
	1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// Float gives the number times 10^shift, rounded once.
func (d Decimal) Float(shift int) float64 {
	if d.text != "" {
		return d.slow(shift)
	}
	return Scaled(d.mant, d.exp+shift, d.neg)
}

// Scaled is mant · 10^exp, negative or not, rounded once; mant has at most 18 digits. A mantissa below 2^53 and a power
// of ten up to 10^22 are exact in float64, so one division or multiplication gives the bits of strconv.ParseFloat.
// Others go through ParseFloat.
func Scaled(mant uint64, exp int, neg bool) float64 {
	if mant >= 1<<53 || exp < -22 || exp > 22 {
		return Decimal{mant: mant, exp: exp, neg: neg}.slow(0)
	}
	f := float64(mant)
	if exp < 0 {
		f /= pow10[-exp]
	} else if exp > 0 {
		f *= pow10[exp]
	}
	if neg {
		return -f
	}
	return f
}

func (d Decimal) slow(shift int) float64 {
	var room [32]byte
	b := append(room[:0], d.text...)
	if d.text == "" {
		b = strconv.AppendUint(b, d.mant, 10)
	}
	b = strconv.AppendInt(append(b, 'e'), int64(d.exp+shift), 10)
	f, _ := strconv.ParseFloat(string(b), 64) // out of range gives ±Inf or 0, as it should
	if d.neg {
		f = -f
	}
	return f
}

// Grouping says whether blanks may stand between digits ("4.860 530").
type Grouping bool

// The two ways to take blanks between digits.
const (
	Ungrouped Grouping = false
	Grouped   Grouping = true
)

// Scan reads a number from the front of b with dec as decimal mark. n is how many bytes it took; 0: no number.
func Scan(b []byte, dec byte, group Grouping) (d Decimal, n int) {
	i := 0
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		d.neg = b[i] == '-'
		i++
	}
	digits, start, frac, seen := 0, i, false, false
scan:
	for ; i < len(b); i++ {
		c := b[i]
		switch {
		case c >= '0' && c <= '9':
			seen = true
			if d.mant != 0 || c != '0' {
				digits++
			}
			if digits <= MaxDigits {
				d.mant = d.mant*10 + uint64(c-'0')
			}
			if frac {
				d.exp--
			}
		case c == dec && !frac:
			frac = true
		default:
			w := Blank(b[i:])
			if group != Grouped || !seen || w == 0 || i+w >= len(b) || b[i+w] < '0' || b[i+w] > '9' {
				break scan
			}
			i += w - 1
		}
	}
	if !seen {
		return Decimal{}, 0
	}
	if digits > MaxDigits {
		var long []byte
		for _, c := range b[start:i] {
			if c >= '0' && c <= '9' {
				long = append(long, c)
			}
		}
		d.text = string(long)
	}
	e, n := Exponent(b[i:])
	d.exp += e
	return d, i + n
}

// Exponent reads "e-03" from the front of b; n is 0 where there is none.
func Exponent(b []byte) (e, n int) {
	if len(b) == 0 || b[0]|0x20 != 'e' {
		return 0, 0
	}
	i, neg := 1, false
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		neg = b[i] == '-'
		i++
	}
	from := i
	for ; i < len(b) && b[i] >= '0' && b[i] <= '9'; i++ {
		if e < 100000 {
			e = e*10 + int(b[i]-'0')
		}
	}
	if i == from {
		return 0, 0
	}
	if neg {
		e = -e
	}
	return e, i
}

// Float reads all of b, as strconv.ParseFloat does: "nan" and "inf" too.
func Float(b []byte) (float64, bool) {
	if d, n := Scan(b, '.', Ungrouped); n > 0 && n == len(b) {
		if f := d.Float(0); !math.IsInf(f, 0) {
			return f, true
		}
	}
	f, err := strconv.ParseFloat(string(b), 64)
	return f, err == nil
}

// Blank gives the length of the blank at the front of b: space, no-break space, narrow no-break space; 0 when there is
// none.
func Blank(b []byte) int {
	switch {
	case len(b) > 0 && b[0] == ' ':
		return 1
	case len(b) > 1 && b[0] == 0xc2 && b[1] == 0xa0:
		return 2
	case len(b) > 2 && b[0] == 0xe2 && b[1] == 0x80 && b[2] == 0xaf:
		return 3
	}
	return 0
}

// Leading reads the digits at the front of eight bytes of text, of which the first is the lowest of x: their number,
// and how many they are.
func Leading(x uint64) (value uint64, n int) {
	const each = 0x0101010101010101
	x ^= '0' * each                                    // digits are 0 to 9 now
	others := (x + (0x80-10)*each | x) & (0x80 * each) // right up to the first that is none, and that is where n stops
	n = bits.TrailingZeros64(others) / 8
	x <<= 64 - 8*n                                   // noughts in front instead of what stands behind
	x = x * (10<<8 + 1) >> 8 & 0x00ff00ff00ff00ff    // pairs of digits
	x = x * (100<<16 + 1) >> 16 & 0x0000ffff0000ffff // fours
	return x * (10_000<<32 + 1) >> 32, n
}

// Digits reads digits and a decimal mark among them from the front of b: mant · 10^exp. Beyond 18 digits mant is of no
// use. size is how many bytes it took.
func Digits(b []byte, dec byte) (mant uint64, digits, exp, size int) {
	i := 0
	for ; i < len(b) && b[i]-'0' <= 9; i++ {
		mant = mant*10 + uint64(b[i]-'0')
	}
	if i == len(b) || b[i] != dec {
		return mant, i, 0, i
	}
	mark := i
	for i++; i < len(b) && b[i]-'0' <= 9; i++ {
		mant = mant*10 + uint64(b[i]-'0')
	}
	return mant, i - 1, mark + 1 - i, i
}
