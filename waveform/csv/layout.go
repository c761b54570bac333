// Package csv reads tables as scopes and loggers write them: any usual separator, decimal point or comma, quotes,
// exponents, units in the head or in the cells, a preamble before the table. It gives the values by channel; what they
// mean is told elsewhere.
//
// Sources: RFC 4180 for quotes; the spellings of units, marks and preambles are common practice, from memory.
package csv

import (
	"bytes"
	"fmt"
	"math"

	"phasewright/waveform/block"
)

// role is what a column of a table holds.
type role uint8

const (
	roleValue role = iota
	roleTime
	roleSkip // a running number, or a second time column
)

type column struct {
	role  role
	shift int // the unit's power of ten
	index int // among the channels (roleValue) or the clocks (roleTime)
}

// Layout is how a table is laid out; it does not change while rows are read.
type Layout struct {
	Names    []string // of the channels, in order of their columns
	Units    []string
	Start    float64 // of the first row, where steps are even
	Interval float64 // between rows; 0: times stand in the table
	Clocks   int     // time columns
	Body     int     // byte where the rows begin
	Line     int64   // of the first row, from 1
	Warnings []block.Warning

	sep, dec byte
	cols     []column
	clockOf  []int // clock of each channel; -1: even steps
}

const (
	maxColumns = 1024
	maxQuoted  = 4096 // longest quoted cell
)

// ClockOf is the time column of a channel, counted among the time columns; -1 where steps are even.
func (l *Layout) ClockOf(channel int) int { return l.clockOf[channel] }

func (l *Layout) warn(line int64, format string, args ...any) {
	l.Warnings = append(l.Warnings, block.Warning{Line: line, Byte: -1, Channel: -1, Text: fmt.Sprintf(format,
		args...)})
}

// Split says how many bytes of b are whole lines.
func (l *Layout) Split(b []byte, last bool) int { return bytes.LastIndexByte(b, '\n') + 1 }

// Resync says where the first whole line begins in text from the middle of a table.
func (l *Layout) Resync(b []byte) int { return bytes.IndexByte(b, '\n') + 1 }

// firstClock is the column of the first clock; -1 where there is none.
func (l *Layout) firstClock() int {
	for i, c := range l.cols {
		if c.role == roleTime {
			return i
		}
	}
	return -1
}

// rising says whether a column's first rows never fall and rise at least once.
func rising(rows []record, col int, dec byte) bool {
	prev, rose := math.Inf(-1), false
	for i, r := range rows {
		if col >= len(r.cells) || isBlank(r.cells) {
			continue
		}
		v, s := cellValue(r.cells[col], dec, 0)
		if s != cellNumber || v < prev {
			return false
		}
		rose = rose || (i > 0 && v > prev)
		prev = v
	}
	return rose
}
