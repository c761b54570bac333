package csv

import (
	"fmt"
	"math"
	"strings"

	"phasewright/waveform/block"
)

// heading is what stands above a column.
type heading struct {
	name   string
	unit   unit
	isTime bool
}

// headings reads name and unit of each of n columns; a unit from the row of units comes before one in the name.
func headings(names, unitCells []string, n int) []heading {
	cell := func(list []string, i int) string {
		if i < len(list) {
			return list[i]
		}
		return ""
	}
	out := make([]heading, n)
	for i := range out {
		name, u, _ := cutUnit(cell(names, i))
		if below, ok := asUnit(cell(unitCells, i)); ok {
			u = below
		}
		named := names != nil && isTimeName(name) && u.base != "V" && u.base != "A" && u.base != "#"
		out[i] = heading{strings.ToValidUTF8(name, "�"), u, named || u.base == "s"}
	}
	return out
}

// assign gives the columns their roles and scales.
func (l *Layout) assign(rows []record, names, unitCells []string, pre preamble, n int) *block.Problem {
	heads := headings(names, unitCells, n)
	if n > 1 && heads[0].unit.base == "" && !heads[0].isTime && l.Interval == 0 && !isIndexName(heads[0].name) &&
		rising(rows, 0, l.dec) {
		heads[0].isTime = true // an unnamed first column that only rises
	}
	base := ""
	if n > 1 {
		base = heads[0].unit.base
	}
	index := n > 1 && l.Interval > 0 && (base == "#" || isIndexName(heads[0].name) && base == "")
	if index {
		heads[0].isTime = false
	}
	l.cols = make([]column, n)
	taken := map[string]int{}
	alternate := allAlternate(heads)
	for i, h := range heads {
		c := &l.cols[i]
		c.shift = h.unit.exp
		another := h.isTime && i > 0 && l.Clocks > 0 && !alternate
		switch {
		case i == 0 && index:
			c.role = roleSkip
		case another && (h.unit.base == "s" || len(h.name) > 3 && rising(rows, i, l.dec)):
			c.role = roleSkip // such as absolute time beside relative
			l.warn(l.Line, "column %d, %q, looks like a second time column and is left out", i+1, h.name)
		case h.isTime && !another:
			c.role, c.index = roleTime, l.Clocks
			l.Clocks++
		case h.name == "" && names != nil && emptyColumn(rows, i):
			c.role = roleSkip
		default:
			l.value(c, h, pre, taken)
		}
	}
	if len(l.Names) == 0 {
		return block.AtLine(block.ErrImpossible, l.Line,
			"a capture needs a time column (or a sample interval in the preamble) and a value column",
			"the table has no value column beside the time")
	}
	if l.Clocks == 0 && l.Interval <= 0 {
		return block.AtLine(block.ErrImpossible, l.Line,
			`name the time column "time", or write a line "Sample Interval,0.000002,s" above the table`,
			"there is neither a time column nor a sample interval")
	}
	if l.Clocks > 0 {
		for i := range l.clockOf {
			l.clockOf[i] = max(0, l.clockOf[i])
		}
		l.compareInterval(rows, pre)
		l.Interval, l.Start = 0, 0
	}
	return nil
}

// value makes a column a channel, timed by the clock to its left.
func (l *Layout) value(c *column, h heading, pre preamble, taken map[string]int) {
	name, base := h.name, h.unit.base
	if name == "" {
		name = fmt.Sprintf("ch%d", len(l.Names)+1)
	}
	if base == "" && pre.vertical != "" {
		if u, ok := asUnit(pre.vertical); ok {
			base, c.shift = u.base, u.exp
		}
	}
	c.index = len(l.Names)
	l.Names = append(l.Names, block.Distinct(taken, name))
	l.Units = append(l.Units, base)
	l.clockOf = append(l.clockOf, l.Clocks-1)
}

// compareInterval warns where the preamble contradicts the time column.
func (l *Layout) compareInterval(rows []record, pre preamble) {
	if pre.interval <= 0 || len(rows) < 3 {
		return
	}
	t := l.firstClock()
	a, sa := cellValue(rows[0].cells[t], l.dec, 0)
	var b float64
	count := 0
	for _, r := range rows[1:] {
		if t < len(r.cells) {
			if v, s := cellValue(r.cells[t], l.dec, 0); s == cellNumber {
				b = v
				count++
			}
		}
	}
	if sa != cellNumber || count == 0 {
		return
	}
	step := (b - a) / float64(count) * math.Pow(10, float64(l.cols[t].shift))
	if math.Abs(step-pre.interval) > 0.02*pre.interval {
		l.warn(pre.line, "the preamble says %g s a sample, the time column steps by about %.4g s: the column is used",
			pre.interval, step)
	}
}

// allAlternate: time, value, time, value, ...
func allAlternate(heads []heading) bool {
	if len(heads) < 4 || len(heads)%2 != 0 {
		return false
	}
	for i, h := range heads {
		if h.isTime != (i%2 == 0) {
			return false
		}
	}
	return true
}

func emptyColumn(rows []record, i int) bool {
	for _, r := range rows {
		if i < len(r.cells) && r.cells[i] != "" {
			return false
		}
	}
	return true
}
