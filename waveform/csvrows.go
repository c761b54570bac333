package waveform

import "bytes"

// csvRows is a chunk of a table in columns.
type csvRows struct {
	vals    []float64 // column after column, each of length room
	cols    [][]float64
	room    int
	rows    int
	lines   int64    // lines spanned, blank ones too
	gaps    []bool   // per column: it holds NaN or Inf
	problem *Problem // at the line after the rows; its Line counts from the chunk's first line
	warning string   // about the last line
	nuls    int64
	blanks  []int32 // rows before each blank line, so that a row finds its line
	ends    []int32 // where cells end, for a window of text
	places  []uint8 // decimal places that each column is expected to have
}

func (r *csvRows) reset(lay *csvLayout, bytes int) {
	n := len(lay.cols)
	room := bytes/(2*n) + 4
	if need := room * n; cap(r.vals) < need {
		r.vals = make([]float64, need)
	}
	r.vals = r.vals[:cap(r.vals)]
	r.room = room
	if len(r.cols) != n {
		r.cols = make([][]float64, n)
		r.gaps = make([]bool, n)
		r.places = make([]uint8, n)
	}
	for i := range r.cols {
		r.cols[i] = r.vals[i*room : (i+1)*room : (i+1)*room]
		r.gaps[i] = false
		for k, div := range lay.cols[i].div { // any count that one division serves, until a row shows the true one
			if div != 0 {
				r.places[i] = uint8(k)
				break
			}
		}
	}
	r.rows, r.lines, r.problem, r.warning, r.nuls = 0, 0, nil, "", 0
	r.blanks = r.blanks[:0]
}

// grow makes room for more rows; only rows of empty cells get here.
func (r *csvRows) grow() {
	n := len(r.cols)
	room := r.room * 2
	vals := make([]float64, room*n)
	for i := range r.cols {
		copy(vals[i*room:], r.cols[i][:r.rows])
		r.cols[i] = vals[i*room : (i+1)*room : (i+1)*room]
	}
	r.vals, r.room = vals, room
}

// slowRow reads one line cell by cell. ok is false when nothing after it is to be read.
func (r *csvRows) slowRow(lay *csvLayout, b []byte, p int, last bool) (next int, ok bool) {
	line := b[p:]
	end := bytes.IndexByte(line, '\n')
	whole := end >= 0
	next = len(b)
	if whole {
		next = p + end + 1
		line = line[:end]
	}
	if len(line) > 0 && line[len(line)-1] == '\r' {
		line = line[:len(line)-1]
	}
	here := r.lines + 1
	if len(line) > 0 && line[0] == 0 {
		for _, c := range b[p:] {
			if c != 0 {
				r.problem = problemAtLine(ErrMalformed, here, "the file is damaged here; what came before is used", "zero bytes stand among the rows")
				return 0, false
			}
		}
		r.nuls = int64(len(b) - p)
		return 0, false
	}
	if len(bytes.TrimSpace(line)) == 0 {
		r.lines++
		r.blanks = append(r.blanks, int32(r.rows))
		return next, true
	}
	ncol := len(lay.cols)
	at, c, rest := r.rows, 0, line
	for more := true; more; c++ {
		var cell []byte
		cell, rest, more = cutCell(rest, lay.sep)
		if c >= ncol {
			if len(bytes.TrimSpace(cell)) > 0 {
				r.problem = problemAtLine(ErrMalformed, here, "is a decimal comma used with a comma between the cells?", "the row has more than %d cells", ncol)
				return 0, false
			}
			continue
		}
		col := &lay.cols[c]
		if col.role == roleSkip {
			r.cols[c][at] = 0
			continue
		}
		v, state := r.quickCell(cell, lay.dec, col.shift)
		if state == cellBad && !(last && !whole) {
			r.problem = problemAtLine(ErrMalformed, here, "write a number, or leave the cell empty", "cell %d, %q, is not a number", c+1, clip(cell))
			return 0, false
		}
		if state == cellBad || (last && !whole && state == cellMissing && !more && c < ncol-1) {
			return r.cut(here)
		}
		if state != cellNumber {
			r.gaps[c] = true
			if col.role == roleTime && (state != cellMissing || lay.clocks == 1) {
				r.problem = problemAtLine(ErrMalformed, here, "every row needs its time", "the row has no time")
				return 0, false
			}
		}
		r.cols[c][at] = v
	}
	if c < ncol {
		if !whole && last {
			return r.cut(here)
		}
		r.problem = problemAtLine(ErrMalformed, here, "every row needs a cell for each column, if only an empty one", "the row has %d cells, the table has %d columns", c, ncol)
		return 0, false
	}
	r.rows++
	r.lines++
	if r.rows >= r.room {
		r.grow()
	}
	return next, true
}

// cut drops a last line that the recorder did not finish.
func (r *csvRows) cut(line int64) (int, bool) {
	r.warning = "the last line is short: the recording was cut off there, and the line is left out"
	r.problem = problemAtLine(ErrTruncated, line, "what came before is used", "the last line is short")
	return 0, false
}

// quickCell is cellScaled without its allowances for blanks and marks where they are not needed.
func (r *csvRows) quickCell(cell []byte, dec byte, shift int) (float64, cellState) {
	if d, n := scanDecimal(cell, dec, ungrouped); n > 0 && n == len(cell) {
		return numberCell(d, shift)
	}
	return cellScaled(cell, dec, shift)
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

func clip(b []byte) string {
	if len(b) > 24 {
		return string(b[:24]) + "…"
	}
	return string(b)
}
