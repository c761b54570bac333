package csv

import (
	"bytes"

	"phasewright/waveform/block"
)

// oddRow reads the line at text[at:], whatever is in it, and gives where the next begins. What ends the table is put
// into the rows as a problem or as zero bytes. last says that nothing follows the text.
func (p *Parser) oddRow(text []byte, at int, last bool) (next int) {
	line, _, whole := bytes.Cut(text[at:], []byte{'\n'})
	next = min(at+len(line)+1, len(text))
	line = bytes.TrimSuffix(line, []byte{'\r'})
	switch {
	case len(line) > 0 && line[0] == 0:
		if len(bytes.Trim(text[at:], "\x00")) > 0 {
			p.fail(block.ErrMalformed, "the file is damaged here; what came before is used",
				"zero bytes stand among the rows")
		} else {
			p.out.Nuls = int64(len(text) - at)
		}
		return next
	case len(bytes.TrimSpace(line)) == 0:
		p.out.Lines++
		p.blanks = append(p.blanks, int32(p.n))
		return next
	}
	if p.n == len(p.cols[0].values) {
		p.grow()
	}
	cut := last && !whole // the recorder may not have finished this line
	c, rest := 0, line
	for more := true; more && p.out.Problem == nil; c++ {
		var cell []byte
		cell, rest, more = cutCell(rest, p.lay.sep)
		switch {
		case c < len(p.cols):
			p.oddCell(c, cell, cut, more)
		case len(bytes.TrimSpace(cell)) > 0:
			p.fail(block.ErrMalformed, "is a decimal comma used with a comma between the cells?",
				"the row has more than %d cells", len(p.cols))
		}
	}
	switch {
	case p.out.Problem != nil:
	case c < len(p.cols) && cut:
		p.cutOff()
	case c < len(p.cols):
		p.fail(block.ErrMalformed, "every row needs a cell for each column, if only an empty one",
			"the row has %d cells, the table has %d columns", c, len(p.cols))
	default:
		p.row()
	}
	return next
}

// oddCell reads one cell; cut says that the line may be unfinished, more that a cell follows in it.
func (p *Parser) oddCell(c int, cell []byte, cut, more bool) {
	col := &p.cols[c]
	if col.role == roleSkip {
		return
	}
	v, state := cellValue(cell, p.lay.dec, col.shift)
	switch {
	case cut && (state == cellBad || state == cellMissing && !more && c < len(p.cols)-1):
		p.cutOff()
		return
	case state == cellBad:
		p.fail(block.ErrMalformed, "write a number, or leave the cell empty",
			"cell %d, %q, is not a number", c+1, block.Clip(cell))
		return
	case state != cellNumber:
		col.gap = true
	}
	col.values[p.n] = v
	if col.role == roleTime && state != cellNumber && (state != cellMissing || p.lay.Clocks == 1) {
		p.fail(block.ErrMalformed, "every row needs its time", "the row has no time")
	}
}

// fail ends the rows with a problem in the line that is being read.
func (p *Parser) fail(kind error, remedy, format string, args ...any) {
	p.out.Problem = block.AtLine(kind, p.out.Lines+1, remedy, format, args...)
}

// cutOff leaves out a last line that the recorder did not finish.
func (p *Parser) cutOff() {
	p.fail(block.ErrTruncated, "what came before is used", "the last line is short")
}

// TimeFalls is the problem of a time column that goes back.
func TimeFalls(line int64, from, to float64) *block.Problem {
	return block.AtLine(block.ErrMalformed, line, "the rows are used up to there; was the recorder restarted?",
		"time falls from %g to %g", from, to)
}

// cutCell takes the first cell of a line; quotes hide separators.
func cutCell(b []byte, sep byte) (cell, rest []byte, more bool) {
	from := 0
	if len(b) > 0 && b[0] == '"' {
		if i := bytes.IndexByte(b[1:], '"'); i >= 0 {
			from = i + 2
		}
	}
	i := bytes.IndexByte(b[from:], sep)
	if i < 0 {
		return b, nil, false
	}
	return b[:from+i], b[from+i+1:], true
}
