package waveform

import (
	"bytes"
	"math"
	"strings"
	"unicode/utf8"
)

// role is what a column of a table holds.
type role uint8

const (
	roleValue role = iota
	roleTime
	roleSkip // a running number, or a column past the table
)

type csvColumn struct {
	role  role
	shift int                    // the unit's power of ten
	div   [maxPlaces + 1]float64 // 10^(places-shift); 0 where one division does not do
	base  string
}

// csvLayout is how a table is laid out; it does not change while rows are read.
type csvLayout struct {
	sep, dec byte
	cols     []csvColumn
	names    []string // of the value columns, in order
	chanUnit []string
	timeOf   []int // column of the time of each value column; -1: even steps
	start    float64
	interval float64
	clocks   int   // time columns
	body     int   // where the rows begin in the head
	line     int64 // line of the first row, from 1
	warnings []Warning
	shapes   *[maxPlaces + 1]shape
	wide     *[maxPlaces + 1]wideCells
	terms    []byte // how the cells of a usual row end; those past the columns are empty
	plain    bool   // nothing below the comma but separators and line ends is expected
}

const (
	maxColumns = 1024
	maxQuoted  = 4096 // longest quoted cell
)

// csvCells splits the record at the front of b (RFC 4180 quoting). It returns the bytes and lines that it spans.
func csvCells(b []byte, sep byte, cells []string) (out []string, n int, lines int64) {
	i := 0
	for {
		// one cell
		if i < len(b) && b[i] == '"' {
			if text, end := quoted(b[i:]); end > 0 {
				lines += int64(bytes.Count(b[i:i+end], []byte{'\n'}))
				i += end
				for i < len(b) && b[i] != sep && b[i] != '\n' {
					i++ // what follows a closing quote within the cell is blank in practice
				}
				cells = append(cells, text)
				goto ended
			}
		}
		{
			j := i
			for j < len(b) && b[j] != sep && b[j] != '\n' {
				j++
			}
			cells = append(cells, strings.TrimSpace(strings.TrimSuffix(string(b[i:j]), "\r")))
			i = j
		}
	ended:
		if i >= len(b) {
			return cells, i, lines + 1
		}
		if b[i] == '\n' {
			return cells, i + 1, lines + 1
		}
		i++
	}
}

// quoted reads a quoted cell; end is 0 when the quote is not closed within reason.
func quoted(b []byte) (text string, end int) {
	var s []byte
	for i := 1; i < len(b) && i < maxQuoted; i++ {
		if b[i] != '"' {
			s = append(s, b[i])
			continue
		}
		if i+1 < len(b) && b[i+1] == '"' {
			s = append(s, '"')
			i++
			continue
		}
		return string(s), i + 1
	}
	return "", 0
}

type csvRecord struct {
	cells []string
	at    int
	line  int64
}

// numericCells says whether a record could be a row: numbers, missing or over-range marks and blanks only, with a number or mark in front or right after.
func numericCells(cells []string) bool {
	numbers := 0
	for _, c := range cells {
		if c == "" {
			continue
		}
		ok := false
		for _, dec := range []byte{'.', ','} {
			if _, state := cellValue([]byte(c), dec); state != cellBad {
				ok = true
				if state == cellNumber {
					numbers++
				}
				break
			}
		}
		if !ok {
			return false
		}
	}
	return numbers > 0
}

func isBlank(cells []string) bool {
	for _, c := range cells {
		if c != "" {
			return false
		}
	}
	return true
}

// records cuts the head for one separator, stopping a few rows into the table. A last record that the head may have cut is left out.
func csvRecords(head []byte, from int, sep byte, eof bool) (recs []csvRecord, first, rows int) {
	first = -1
	line := int64(1)
	for at := from; at < len(head); {
		cells, n, lines := csvCells(head[at:], sep, nil)
		if at+n >= len(head) && !eof && head[len(head)-1] != '\n' && len(recs) > 0 {
			break
		}
		recs = append(recs, csvRecord{cells, at, line})
		at += n
		line += lines
		switch {
		case isBlank(cells):
		case numericCells(cells):
			if first < 0 {
				first = len(recs) - 1
			}
			rows++
		case first >= 0 && rows == 1 && at < len(head):
			first, rows = -1, 0 // one line of numbers inside the preamble
		case first >= 0:
			return recs, first, rows
		}
		if rows >= 64 {
			break
		}
	}
	return recs, first, rows
}

// csvHead finds separator, decimal mark, preamble, header, units and columns in the first bytes of a table.
func csvHead(head []byte, eof bool) (*csvLayout, *Problem) {
	from := 0
	if bytes.HasPrefix(head, []byte{0xef, 0xbb, 0xbf}) {
		from = 3
	}
	lay := &csvLayout{}
	var best []csvRecord
	bestFirst, bestScore := -1, 0
	for _, sep := range []byte{',', ';', '\t'} {
		recs, first, rows := csvRecords(head, from, sep, eof)
		if first < 0 {
			continue
		}
		score := min(rows, 64)*16 + min(len(recs[first].cells), 8)
		if score > bestScore {
			best, bestFirst, bestScore, lay.sep = recs, first, score, sep
		}
	}
	if bestFirst < 0 {
		return nil, problemAtLine(ErrMalformed, 1, "it must be a table of numbers (CSV), a VCD or a WAVE file", "no rows of numbers are found in the first %d bytes", len(head))
	}
	row := best[bestFirst]
	lay.body, lay.line = row.at, row.line
	if p := lay.decimalMark(best[bestFirst:]); p != nil {
		return nil, p
	}
	if !utf8.Valid(head[:row.at]) {
		latin1(best[:bestFirst])
		lay.warn(1, "the header is not UTF-8 and was read as Latin-1: look at the names and units; save the file as UTF-8")
	}
	lay.shapes, lay.wide = shapes(lay.dec), wideShapes(lay.dec)
	if p := lay.columns(best, bestFirst); p != nil {
		return nil, p
	}
	lay.usualRow(head[row.at:])
	return lay, nil
}

// latin1 reads header cells byte by byte: a time in µs must not pass for one in seconds.
func latin1(recs []csvRecord) {
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

func (l *csvLayout) warn(line int64, text string) {
	l.warnings = append(l.warnings, Warning{Line: line, Byte: -1, Channel: -1, Text: text})
}

// decimalMark is the comma when cells hold commas, which takes another separator or quotes.
func (l *csvLayout) decimalMark(rows []csvRecord) *Problem {
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
			return problemAtLine(ErrMalformed, max(dots, commas), "write numbers without group separators", "both comma and point stand in the numbers")
		}
	}
	return nil
}

// columns gives each column its role, from the header, the units row, the preamble and the first rows.
func (l *csvLayout) columns(recs []csvRecord, first int) *Problem {
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
			what := problemAtLine(ErrMalformed, recs[first].line, "decimal comma needs another separator; or give every column a name", "more cells than headers; decimal comma needs another separator (%d cells, %d headers in line %d)", n, have, recs[nameAt].line)
			return what
		}
		n = have
	}
	if n > maxColumns {
		return problemAtLine(ErrImpossible, recs[first].line, "split the file", "%d columns are more than the %d that are read", n, maxColumns)
	}
	if l.interval == 0 {
		l.interval, l.start = pre.interval, pre.start
	}
	return l.assign(rows, names, unitCells, pre, n)
}

// startIncrement takes "Start" and "Increment" from two extra header cells with their values in the row below.
func (l *csvLayout) startIncrement(names *[]string, below []string, n int) int {
	for i := 1; i+1 < len(*names) && i+1 < len(below); i++ {
		a, b := strings.ToLower((*names)[i]), strings.ToLower((*names)[i+1])
		if a != "start" || (b != "increment" && b != "interval") {
			continue
		}
		s, sa := cellValue([]byte(below[i]), l.dec)
		d, sb := cellValue([]byte(below[i+1]), l.dec)
		if sa == cellNumber && sb == cellNumber && d > 0 {
			l.start, l.interval = s, d
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
	case "t", "time", "times", "zeit", "temps", "tiempo", "tempo", "tid", "aika", "second", "seconds", "sec", "x", "x-axis", "xaxis", "timestamp", "time base", "timebase":
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

func finite(f float64) bool { return !math.IsNaN(f) && !math.IsInf(f, 0) }

// usualRow notes how the cells of the first row end and whether odd characters are about, for the quick path.
func (l *csvLayout) usualRow(b []byte) {
	l.terms = l.terms[:0]
	l.plain = l.sep == ',' || l.sep == '\t'
	for i, c := range b {
		if c == l.sep || c == '\r' || c == '\n' {
			l.terms = append(l.terms, c)
		} else if c < ',' {
			l.plain = false
		}
		if c == '\n' {
			b = b[:min(len(b), i+4096)]
			break
		}
	}
	for _, c := range b {
		if c < ',' && c != l.sep && c != '\r' && c != '\n' {
			l.plain = false
		}
	}
	if n := len(l.cols); len(l.terms) < n || l.terms[len(l.terms)-1] != '\n' || len(l.terms) > n+3 {
		l.terms = l.terms[:0]
		for range n - 1 {
			l.terms = append(l.terms, l.sep)
		}
		l.terms = append(l.terms, '\n')
	}
}
