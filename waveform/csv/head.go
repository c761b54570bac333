package csv

import (
	"bytes"
	"strings"
	"unicode/utf8"

	"phasewright/waveform/block"
)

const notARecording = "it must be a table of numbers (CSV), a VCD or a WAVE file, plain or as gzip or zstd"

// Head finds separator, decimal mark, preamble, header, units and columns in the first bytes of a table; eof says that
// they are all of it.
func Head(head []byte, eof bool) (*Layout, *block.Problem) {
	if p := refuse(head); p != nil {
		return nil, p
	}
	from := 0
	if bytes.HasPrefix(head, []byte{0xef, 0xbb, 0xbf}) {
		from = 3
	}
	lay := &Layout{}
	var best []record
	bestFirst, bestScore := -1, 0
	for _, sep := range []byte{',', ';', '\t'} {
		recs, first, rows := splitRecords(head, from, sep, eof)
		if first < 0 {
			if p := datesIn(recs); p != nil {
				return nil, p
			}
			continue
		}
		score := min(rows, 64)*16 + min(len(recs[first].cells), 8)
		if score > bestScore {
			best, bestFirst, bestScore, lay.sep = recs, first, score, sep
		}
	}
	if bestFirst < 0 {
		return nil, block.AtLine(block.ErrMalformed, 1, notARecording,
			"no rows of numbers are found in the first %d bytes", len(head))
	}
	row := best[bestFirst]
	lay.Body, lay.Line = row.at, row.line
	if p := lay.decimalMark(best[bestFirst:]); p != nil {
		return nil, p
	}
	if !utf8.Valid(head[:row.at]) {
		latin1(best[:bestFirst])
		lay.warn(1, "the header is not UTF-8 and was read as Latin-1: look at the names and units; save the "+
			"file as UTF-8")
	}
	if p := lay.columns(best, bestFirst); p != nil {
		return nil, p
	}
	return lay, nil
}

// datesIn finds rows that are no rows of numbers because their time is a date: a cell of a date beside one of a number.
func datesIn(recs []record) *block.Problem {
	for _, r := range recs {
		for i, c := range r.cells {
			rest := append(append([]string{}, r.cells[:i]...), r.cells[i+1:]...)
			if isDate(c) && numericCells(rest) {
				return block.AtLine(block.ErrMalformed, r.line,
					"write the time in seconds from the start of the recording, or leave that column out and give the "+
						`interval in a line "Sample Interval,0.000002,s" above the table`,
					"cell %d, %q, is a date or a time of day, which is too coarse to time edges by", i+1, block.Clip(c))
			}
		}
	}
	return nil
}

// refuse says what is wrong with text that cannot be a table.
func refuse(head []byte) *block.Problem {
	first := head[:min(len(head), 4096)]
	if looksUTF16(first) {
		return block.AtByte(block.ErrMalformed, 0, "save it with a byte-order mark, or as UTF-8",
			"the text is UTF-16 without the mark that says so")
	}
	if bytes.HasPrefix(first, []byte("$")) {
		word, _, _ := bytes.Cut(first, []byte(" "))
		return block.AtByte(block.ErrMalformed, 0,
			"a VCD begins with $date, $version, $comment, $timescale, $scope or $var",
			"the file begins with %q, which no format here does", block.Clip(bytes.TrimSpace(word)))
	}
	for i, c := range first {
		if c == 0 && len(bytes.Trim(head[i:], "\x00")) == 0 && i > 0 {
			break // padding at the end
		}
		if c < ' ' && c != '\t' && c != '\r' && c != '\n' && c != '\f' {
			return block.AtByte(block.ErrMalformed, int64(i), notARecording,
				"byte 0x%02x: this is no recording that can be read here", c)
		}
	}
	bad := 0
	for i := 0; i < len(first); {
		r, n := utf8.DecodeRune(first[i:])
		if r == utf8.RuneError && n == 1 {
			bad++
		}
		i += n
	}
	if bad*4 > len(first) {
		return block.AtByte(block.ErrMalformed, 0, notARecording,
			"this is no text and no recording that can be read here")
	}
	return nil
}

// looksUTF16: every other byte is zero.
func looksUTF16(b []byte) bool {
	b = b[:min(len(b), 512)]
	if len(b) < 8 {
		return false
	}
	var zero [2]int
	for i, c := range b {
		if c == 0 {
			zero[i&1]++
		}
	}
	most := len(b) / 2 * 3 / 4
	return zero[0] > most && zero[1] == 0 || zero[1] > most && zero[0] == 0
}

// latin1 reads header cells byte by byte: a time in µs must not pass for one in seconds.
func latin1(recs []record) {
	for _, r := range recs {
		for i, c := range r.cells {
			if !utf8.ValidString(c) {
				var b strings.Builder
				for k := range len(c) {
					b.WriteRune(rune(c[k]))
				}
				r.cells[i] = b.String()
			}
		}
	}
}

// decimalMark is the comma when cells hold commas, which takes another separator or quotes.
func (l *Layout) decimalMark(rows []record) *block.Problem {
	l.dec = '.'
	dots, commas := int64(0), int64(0)
	for _, r := range rows {
		for _, c := range r.cells {
			if strings.Contains(c, ".") {
				dots = r.line
			}
			if strings.Contains(c, ",") {
				commas = r.line
			}
		}
	}
	if commas > 0 {
		l.dec = ','
		if dots > 0 {
			return block.AtLine(block.ErrMalformed, max(dots, commas), "write numbers without group separators",
				"both comma and point stand in the numbers")
		}
	}
	return nil
}

// columns gives each column its role, from the header, the units row, the preamble and the first rows.
func (l *Layout) columns(recs []record, first int) *block.Problem {
	rows := recs[first:]
	n := 0 // columns that hold anything in the first rows
	for _, r := range rows {
		for i, c := range r.cells {
			if c != "" {
				n = max(n, i+1)
			}
		}
	}
	i := first - 1
	back := func() {
		for i >= 0 && isBlank(recs[i].cells) {
			i--
		}
	}
	back()
	var unitCells, names []string
	nameAt := -1
	if i >= 0 && isUnitsRow(recs[i].cells) && (len(recs[i].cells) > 1 || n == 1) {
		unitCells = recs[i].cells
		i--
		back()
	}
	if i >= 0 && !isPreamble(recs[i].cells) {
		names, nameAt = recs[i].cells, i
		i--
	}
	pre := preambleOf(recs[:i+1])
	if names != nil {
		n = l.startIncrement(&names, unitCells, n)
		have := len(names)
		for have > 0 && names[have-1] == "" {
			have--
		}
		if n > have {
			return block.AtLine(block.ErrMalformed, recs[first].line,
				"decimal comma needs another separator; or give every column a name",
				"more cells than headers; decimal comma needs another separator (%d cells, %d headers in line %d)",
				n, have, recs[nameAt].line)
		}
		n = have
	}
	if n > maxColumns {
		return block.AtLine(block.ErrImpossible, recs[first].line, "split the file",
			"%d columns are more than the %d that are read", n, maxColumns)
	}
	if l.Interval == 0 {
		l.Interval, l.Start = pre.interval, pre.start
	}
	return l.assign(rows, names, unitCells, pre, n)
}

// startIncrement takes "Start" and "Increment" from two extra header cells with their values in the row below.
func (l *Layout) startIncrement(names *[]string, below []string, n int) int {
	for i := 1; i+1 < len(*names) && i+1 < len(below); i++ {
		a, b := strings.ToLower((*names)[i]), strings.ToLower((*names)[i+1])
		if a != "start" || (b != "increment" && b != "interval") {
			continue
		}
		s, sa := cellValue(below[i], l.dec, 0)
		d, sb := cellValue(below[i+1], l.dec, 0)
		if sa == cellNumber && sb == cellNumber && d > 0 {
			l.Start, l.Interval = s, d
			*names = (*names)[:i]
			return min(n, i)
		}
	}
	return n
}

func isUnitsRow(cells []string) bool {
	found := 0
	for _, c := range cells {
		if c == "" {
			continue
		}
		if _, ok := asUnit(c); ok {
			found++
		} else if !numericCells([]string{c}) {
			return false
		}
	}
	return found > 0
}

func isTimeName(s string) bool {
	s = strings.ToLower(strings.TrimSpace(s))
	s = strings.TrimRight(s, "0123456789 #.")
	switch s {
	case "t", "time", "times", "zeit", "temps", "tiempo", "tempo", "tid", "aika", "second", "seconds", "sec", "x",
		"x-axis", "xaxis", "timestamp", "time base", "timebase":
		return true
	}
	return strings.HasPrefix(s, "time ") || strings.HasPrefix(s, "time(") || strings.HasPrefix(s, "time,")
}

func isIndexName(s string) bool {
	switch strings.ToLower(strings.TrimSpace(s)) {
	case "x", "#", "n", "no", "no.", "nr", "nr.", "index", "sample", "samples", "sequence", "point", "points":
		return true
	}
	return false
}
