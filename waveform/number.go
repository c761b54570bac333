package waveform

import (
	"math"
	"strconv"
)

// decimal is a number as it was written: (-1)^neg · mant · 10^exp. When it has more digits than fit, text holds it for strconv.
type decimal struct {
	mant uint64
	exp  int
	neg  bool
	text string
}

// pow10 holds the powers of ten that float64 holds exactly.
var pow10 = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// float gives the number times 10^shift, rounded once: a mantissa below 2^53 and a power of ten up to 10^22 are exact in float64, so one
// division or multiplication gives the same bits as strconv.ParseFloat. Others go through ParseFloat.
func (d decimal) float(shift int) float64 {
	if d.text == "" && d.mant < 1<<53 {
		e := d.exp + shift
		f := float64(d.mant)
		switch {
		case e == 0 || d.mant == 0:
		case e < 0 && e >= -22:
			f /= pow10[-e]
		case e > 0 && e <= 22:
			f *= pow10[e]
		default:
			return d.slow(shift)
		}
		if d.neg {
			return math.Copysign(f, -1)
		}
		return f
	}
	return d.slow(shift)
}

func (d decimal) slow(shift int) float64 {
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

// scanDecimal reads a number from the front of b with dec as decimal mark. It returns how many bytes it took; 0: no number.
// Blanks between digits are taken as group separators when group is set ("4.860 530").
func scanDecimal(b []byte, dec byte, group grouping) (d decimal, n int) {
	i := 0
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		d.neg = b[i] == '-'
		i++
	}
	digits, start, frac, seen := 0, i, false, false
	var long []byte
	for ; i < len(b); i++ {
		c := b[i]
		switch {
		case c >= '0' && c <= '9':
			seen = true
			if d.mant != 0 || c != '0' {
				digits++
			}
			if digits <= 18 {
				d.mant = d.mant*10 + uint64(c-'0')
			}
			if frac {
				d.exp--
			}
			continue
		case c == dec && !frac:
			frac = true
			continue
		case group == grouped && seen:
			if w := blank(b[i:]); w > 0 && i+w < len(b) && b[i+w] >= '0' && b[i+w] <= '9' {
				i += w - 1
				continue
			}
		}
		break
	}
	if !seen {
		return decimal{}, 0
	}
	if digits > 18 {
		for _, c := range b[start:i] {
			if c >= '0' && c <= '9' {
				long = append(long, c)
			}
		}
		d.text = string(long)
	}
	if i < len(b) && (b[i] == 'e' || b[i] == 'E') {
		j, eneg := i+1, false
		if j < len(b) && (b[j] == '-' || b[j] == '+') {
			eneg = b[j] == '-'
			j++
		}
		e, k := 0, j
		for ; j < len(b) && b[j] >= '0' && b[j] <= '9'; j++ {
			if e < 100000 {
				e = e*10 + int(b[j]-'0')
			}
		}
		if j > k {
			if eneg {
				e = -e
			}
			d.exp += e
			i = j
		}
	}
	return d, i
}

type grouping uint8

const (
	ungrouped grouping = iota
	grouped
)

// blank gives the length of the blank at the front of b: space, no-break space, narrow no-break space; 0 when there is none.
func blank(b []byte) int {
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
