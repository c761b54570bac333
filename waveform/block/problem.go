package block

import (
	"errors"
	"fmt"
)

// The three ways in which a recording fails; errors.Is tells them apart.
var (
	ErrTruncated  = errors.New("truncated")  // it ends too soon; what is there is sound
	ErrMalformed  = errors.New("malformed")  // it breaks its format's rules
	ErrImpossible = errors.New("impossible") // well formed, but it cannot be true or cannot be used
)

// Problem is an error with its place. Text reads "where – what – remedy".
type Problem struct {
	Kind   error  // ErrTruncated, ErrMalformed or ErrImpossible
	Name   string // of the input
	Line   int64  // from 1; 0: not a matter of lines
	Byte   int64  // from 0 in the decompressed data; -1: not a matter of bytes
	What   string
	Remedy string
}

func (p *Problem) Error() string {
	where := p.Name
	switch {
	case p.Line > 0:
		where += fmt.Sprintf(":%d", p.Line)
	case p.Byte >= 0:
		where += fmt.Sprintf(": byte %d", p.Byte)
	}
	s := where + " – " + p.What
	if p.Remedy != "" {
		s += " – " + p.Remedy
	}
	return s
}

// Unwrap gives the kind.
func (p *Problem) Unwrap() error { return p.Kind }

// AtLine is a problem in a line of text.
func AtLine(kind error, line int64, remedy, format string, args ...any) *Problem {
	return &Problem{Kind: kind, Line: line, Byte: -1, What: fmt.Sprintf(format, args...), Remedy: remedy}
}

// AtByte is a problem at a byte of the decompressed data; -1: not a matter of bytes.
func AtByte(kind error, at int64, remedy, format string, args ...any) *Problem {
	return &Problem{Kind: kind, Byte: at, What: fmt.Sprintf(format, args...), Remedy: remedy}
}

// Clip shortens text from a file for a message.
func Clip[T string | []byte](b T) string {
	if len(b) > 24 {
		return string(b[:24]) + "…"
	}
	return string(b)
}
