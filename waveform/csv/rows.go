package csv

import (
	"bytes"
	"math"

	"phasewright/waveform/block"
	"phasewright/waveform/number"
)

// Parser reads the rows of one stretch of a table after the other, in the same room.
type Parser struct {
	lay    *Layout
	cols   []cells
	n      int     // rows
	blanks []int32 // rows before each blank line, so that a row finds its line
	crlf   bool    // lines end with CR LF
	ends   []int32 // room for wideRows
	narrow bool    // wideRows reads nothing: for tests
	out    *block.Rows
}

// cells is a column being read.
type cells struct {
	column
	values []float64
	gap    bool // NaN or ±Inf stands among the values
	places int  // decimal places that the next cells are expected to have (wideRows)
}

// NewParser makes a Parser of the layout's rows.
func (l *Layout) NewParser() *Parser {
	p := &Parser{lay: l}
	for _, c := range l.cols {
		p.cols = append(p.cols, cells{column: c})
	}
	return p
}

// Parse reads the rows of text, which begins with a line and, unless it is the last of the table, ends with one.
func (p *Parser) Parse(text []byte, last bool, out *block.Rows) {
	first := min(max(2, bytes.IndexByte(text, '\n')+1), max(2, len(text)))
	p.room(len(text)/first*9/8 + 16) // about as many rows as the first line lets expect
	p.n, p.blanks, p.out = 0, p.blanks[:0], out
	out.Lines, out.Nuls, out.Problem = 0, 0, nil
	end := bytes.LastIndexByte(text, '\n') + 1
	p.crlf = first > 2 && text[first-2] == '\r'
	batch := 1 // rows that are read one by one before many are tried together again
	for at := 0; at < len(text) && out.Problem == nil && out.Nuls == 0; {
		odd := at >= end
		if !odd {
			whole := false
			if at, whole = p.wideRows(text[:end], at); whole {
				batch = 1
			}
			batch = min(2*batch, 1<<20)
			at, odd = p.rows(text[:end], at, batch)
		}
		if odd {
			at = p.oddRow(text, at, last)
		}
	}
	p.finish()
}

// room makes every column hold n values.
func (p *Parser) room(n int) {
	for i := range p.cols {
		c := &p.cols[i]
		if c.gap = false; cap(c.values) < n {
			c.values = make([]float64, n)
		}
		c.values = c.values[:cap(c.values)]
	}
}

// grow makes room for more rows; only those of empty or very short cells get here.
func (p *Parser) grow() {
	for i := range p.cols {
		v := p.cols[i].values
		p.cols[i].values = append(v, make([]float64, len(v)+16)...)
	}
}

// rows reads no more than most rows from text, which ends with a line, as long as they are as most are: numbers, plain
// or quoted, with or without exponent and blanks, or nothing. It gives the beginning of the next row, and whether that
// one is odd.
func (p *Parser) rows(text []byte, at, most int) (next int, odd bool) {
	sep := p.lay.sep
	for ; at < len(text) && most > 0; most-- {
		q, n := at, p.n
		for c := range p.cols {
			col := &p.cols[c]
			if n >= len(col.values) {
				p.grow()
			}
			var ok bool
			if q, ok = p.cell(text, q, c, n); !ok {
				return at, true
			}
			if c < len(p.cols)-1 {
				if text[q] != sep {
					return at, true
				}
				q++
				continue
			}
			for text[q] == sep { // empty cells past the last column
				q++
			}
			if text[q] == '\r' {
				q++
			}
			if text[q] != '\n' {
				return at, true
			}
			q++
		}
		at = q
		p.row()
	}
	return at, false
}

// cell reads any usual form of a cell of column c at text[q] into a row, and gives where it ends.
func (p *Parser) cell(text []byte, q, c, row int) (end int, ok bool) {
	sep, col := p.lay.sep, &p.cols[c]
	if col.role == roleSkip {
		for text[q] != sep && text[q] != '\n' && text[q] != '"' && text[q] != '\r' {
			q++
		}
		return q, true
	}
	for text[q] == ' ' {
		q++
	}
	if col.role == roleValue && (text[q] == sep || c > 0 && (text[q] == '\r' || text[q] == '\n')) {
		col.values[row], col.gap = math.NaN(), true
		return q, true
	}
	quoted := text[q] == '"'
	if quoted {
		q++
	}
	neg := text[q] == '-'
	if neg || text[q] == '+' {
		q++
	}
	mant, digits, exp, size := number.Digits(text[q:], p.lay.dec)
	q += size
	if text[q]|0x20 == 'e' {
		e, n := number.Exponent(text[q:])
		exp, q = exp+e, q+n
	}
	if quoted {
		if text[q] != '"' {
			return q, false
		}
		q++
	}
	for text[q] == ' ' {
		q++
	}
	f := number.Scaled(mant, exp+col.shift, neg)
	col.values[row] = f
	return q, digits > 0 && digits <= number.MaxDigits && f < surelyValue && f > -surelyValue
}

// row counts the row that was read.
func (p *Parser) row() {
	p.n++
	p.out.Lines++
}

// line gives the line of a row, from 1.
func (p *Parser) line(row int) int64 {
	n := int64(row) + 1
	for _, b := range p.blanks {
		if int(b) <= row {
			n++
		}
	}
	return n
}

// finish looks at the times and hands the columns on as channels.
func (p *Parser) finish() {
	out := p.out
	out.Clocks, out.Values, out.Times, out.Gaps = out.Clocks[:0], out.Values[:0], out.Times[:0], out.Gaps[:0]
	var clocks []*cells
	for i := range p.cols {
		if c := &p.cols[i]; c.role == roleTime {
			clocks = append(clocks, c)
			p.checkTimes(c.values[:p.n])
		}
	}
	for _, c := range clocks {
		out.Clocks = append(out.Clocks, p.span(c.values[:p.n]))
	}
	for i := range p.cols {
		c := &p.cols[i]
		if c.role != roleValue {
			continue
		}
		gap, times := c.gap, []float64(nil)
		if k := p.lay.clockOf[c.index]; k >= 0 {
			times, gap = clocks[k].values[:p.n], gap || clocks[k].gap
		}
		out.Values, out.Times = append(out.Values, c.values[:p.n]), append(out.Times, times)
		out.Gaps = append(out.Gaps, gap)
	}
	out.N = p.n
}

// checkTimes ends the rows where a time falls.
func (p *Parser) checkTimes(times []float64) {
	last := math.Inf(-1)
	for i, t := range times {
		if t < last {
			p.out.Problem, p.out.Nuls, p.n = TimeFalls(p.line(i), last, t), 0, i
			return
		}
		if t == t {
			last = t
		}
	}
}

// span is what times begin and end with.
func (p *Parser) span(times []float64) block.Span {
	s := block.Span{First: math.NaN(), Last: math.NaN()}
	for i, t := range times {
		if t == t {
			s.First, s.Row, s.Line = t, i, p.line(i)
			break
		}
	}
	for i := len(times) - 1; i >= 0 && s.Last != s.Last; i-- {
		s.Last = times[i]
	}
	return s
}
