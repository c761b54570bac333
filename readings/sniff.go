package readings

import (
	"bufio"
	"bytes"
	"errors"
	"io"
)

var errTooLong = errors.New("file too long")

// bounded gives an error, not a quiet end, once too much was read.
type bounded struct {
	r    io.Reader
	left int
}

func (b *bounded) Read(p []byte) (int, error) {
	if b.left <= 0 {
		return 0, errTooLong
	}
	n, err := b.r.Read(p[:min(len(p), b.left)])
	b.left -= n
	return n, err
}

// sniff looks at the beginning: byte order marks, other encodings, no text at all; then it
// chooses the separator by the header line.
func (rd *reader) sniff(in *bufio.Reader) (rune, error) {
	head, err := in.Peek(4096)
	if err != nil && err != io.EOF && err != bufio.ErrBufferFull {
		return 0, rd.wrap(err, 0)
	}
	switch {
	case bytes.HasPrefix(head, []byte("\xef\xbb\xbf")):
		if _, err := in.Discard(3); err != nil {
			return 0, rd.wrap(err, 0)
		}
		head = head[3:]
	case bytes.HasPrefix(head, []byte("\xff\xfe")), bytes.HasPrefix(head, []byte("\xfe\xff")):
		return 0, rd.at(0, 0, "the text is in UTF-16", "save it as UTF-8 (in a spreadsheet: CSV UTF-8)")
	}
	if i := bytes.IndexByte(head, 0); i >= 0 {
		if everyOther(head) {
			return 0, rd.at(0, 0, "the text is in UTF-16", "save it as UTF-8 (in a spreadsheet: CSV UTF-8)")
		}
		return 0, rd.at(0, 0, "this is not a text file", "give a CSV file; "+headerRemedy)
	}
	if len(bytes.TrimSpace(head)) == 0 && err == io.EOF {
		return 0, rd.at(1, 1, "the file is empty", headerRemedy)
	}
	for {
		line, rest, more := bytes.Cut(head, []byte("\n"))
		if len(bytes.TrimSpace(line)) == 0 && more {
			head = rest
			continue
		}
		if !more && bytes.IndexByte(line, '\r') >= 0 &&
			bytes.IndexByte(line, '\r') < len(bytes.TrimRight(line, "\r\n")) {
			return 0, rd.at(1, bytes.IndexByte(line, '\r')+1, "lines end in a lone carriage return",
				"save the file with LF or CRLF line ends")
		}
		best, most := ',', bytes.Count(line, []byte(","))
		for _, c := range [...]rune{';', '\t'} {
			if k := bytes.Count(line, []byte(string(c))); k > most {
				best, most = c, k
			}
		}
		return best, nil
	}
}

// everyOther says whether the text looks like UTF-16 without its mark: every second byte nought.
func everyOther(b []byte) bool {
	b = b[:min(len(b), 64)&^1]
	var even, odd int
	for i, c := range b {
		if c == 0 {
			if i%2 == 0 {
				even++
			} else {
				odd++
			}
		}
	}
	return max(even, odd) > len(b)/3 && min(even, odd) == 0
}
