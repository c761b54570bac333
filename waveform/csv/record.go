package csv

import (
	"bytes"
	"strings"
)

// splitRecord splits the record at the front of b (RFC 4180 quoting). It returns the bytes and lines that it spans.
func splitRecord(b []byte, sep byte, cells []string) (out []string, n int, lines int64) {
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

type record struct {
	cells []string
	at    int
	line  int64
}

// numericCells says whether a record could be a row: numbers, missing or over-range marks and blanks only, with at
// least one number.
func numericCells(cells []string) bool {
	numbers := 0
	for _, c := range cells {
		if c == "" {
			continue
		}
		ok := false
		for _, dec := range []byte{'.', ','} {
			if _, state := cellValue(c, dec, 0); state != cellBad {
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

// splitRecords cuts the head for one separator, stopping a few rows into the table. A last record that the head may
// have cut is left out.
func splitRecords(head []byte, from int, sep byte, eof bool) (recs []record, first, rows int) {
	first = -1
	line := int64(1)
	for at := from; at < len(head); {
		cells, n, lines := splitRecord(head[at:], sep, nil)
		if at+n >= len(head) && !eof && head[len(head)-1] != '\n' && len(recs) > 0 {
			break
		}
		recs = append(recs, record{cells, at, line})
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
