package waveform

import (
	"fmt"
	"math"
	"strings"
)

// preamble is what the lines before the table say, as far as it matters here.
type preamble struct {
	interval, start float64
	vertical        string
	line            int64 // of the interval
}

// preambleKey is a key that instruments write in front of a table (common practice, from memory).
func preambleKey(s string) string {
	s = strings.ToLower(strings.Trim(strings.TrimSpace(s), "#% \":="))
	s = strings.NewReplacer("_", " ", "-", " ").Replace(s)
	name, _, _ := cutUnit(s)
	switch name {
	case "sample interval", "sampling interval", "sample period", "sampling period", "interval", "increment", "x increment", "xincrement", "xincr", "time step", "time increment", "delta t", "dt", "h resolution", "seconds per sample":
		return "interval"
	case "sample rate", "sampling rate", "samplerate", "sample frequency", "sampling frequency", "samples per second", "fs":
		return "rate"
	case "start", "start time", "first sample", "first sample time", "x origin", "xorigin", "xzero", "t0", "time origin", "horizontal offset":
		return "start"
	case "vertical units", "vertical unit", "y units", "y unit", "yunit":
		return "vertical"
	}
	return ""
}

func isPreamble(cells []string) bool {
	if len(cells) == 0 {
		return false
	}
	key, value := keyValue(cells)
	switch preambleKey(key) {
	case "":
		return false
	case "vertical":
		return len(value) > 0
	}
	return len(value) > 0 && strings.ContainsAny(value[0][:1], "0123456789+-.,") // else it is a header whose first column is called "t0" or "start"
}

// keyValue splits "key,value,unit", "key: value unit" and "key=value".
func keyValue(cells []string) (key string, value []string) {
	key = cells[0]
	for _, c := range cells[1:] {
		if c != "" {
			value = append(value, c)
		}
	}
	if len(value) == 0 {
		for _, sep := range []string{",", ";", "\t", ":", "="} {
			if i := strings.Index(key, sep); i > 0 && strings.TrimSpace(key[i+1:]) != "" {
				return key[:i], []string{strings.TrimSpace(key[i+1:])}
			}
		}
	}
	return key, value
}

func preambleOf(recs []csvRecord) (p preamble) {
	for _, r := range recs {
		if len(r.cells) == 0 {
			continue
		}
		key, value := keyValue(r.cells)
		kind := preambleKey(key)
		if kind == "" || len(value) == 0 {
			continue
		}
		if kind == "vertical" {
			p.vertical = value[0]
			continue
		}
		text := strings.Join(value[:min(2, len(value))], " ")
		v, ok := withUnit(text)
		if !ok {
			if v, ok = withUnit(value[0]); !ok {
				continue
			}
		}
		if _, u, has := cutUnit(key); has && len(value) == 1 && u.base == "s" {
			v *= math.Pow(10, float64(u.exp))
		}
		switch {
		case kind == "interval" && v > 0:
			p.interval, p.line = v, r.line
		case kind == "rate" && v > 0:
			p.interval, p.line = 1/v, r.line
		case kind == "start":
			p.start = v
		}
	}
	return p
}

// withUnit reads "2e-06 s", "500 kHz", "1 MS/s", "4 us".
func withUnit(s string) (float64, bool) {
	dec := byte('.')
	if strings.Contains(s, ",") && !strings.Contains(s, ".") {
		dec = ','
	}
	d, n := scanDecimal([]byte(s), dec, ungrouped)
	if n == 0 {
		return 0, false
	}
	rest := strings.TrimSpace(s[n:])
	if rest == "" {
		return d.float(0), true
	}
	if u, ok := asUnit(rest); ok {
		return d.float(u.exp), true
	}
	for _, e := range []struct {
		text string
		exp  int
	}{{"Hz", 0}, {"kHz", 3}, {"MHz", 6}, {"GHz", 9}, {"S/s", 0}, {"kS/s", 3}, {"MS/s", 6}, {"GS/s", 9}, {"Sa/s", 0}, {"kSa/s", 3}, {"MSa/s", 6}, {"GSa/s", 9}, {"samples/s", 0}} {
		if rest == e.text {
			return d.float(e.exp), true
		}
	}
	return 0, false
}

// assign gives the columns their roles and scales.
func (l *csvLayout) assign(rows []csvRecord, names, unitCells []string, pre preamble, n int) *Problem {
	header := names != nil
	cell := func(list []string, i int) string {
		if i < len(list) {
			return list[i]
		}
		return ""
	}
	us := make([]unit, n)
	short := make([]string, n)
	for i := range n {
		name, u, ok := cutUnit(cell(names, i))
		short[i] = strings.ToValidUTF8(name, "�")
		if uu, has := asUnit(cell(unitCells, i)); has {
			u, ok = uu, true
		}
		if ok {
			us[i] = u
		}
	}
	isTime := make([]bool, n)
	for i := range n {
		isTime[i] = (header && isTimeName(short[i]) && us[i].base != "V" && us[i].base != "A" && us[i].base != "#") || us[i].base == "s"
	}
	steps := rising(rows, 0, l.dec)
	if n > 0 && !isTime[0] && n > 1 && steps && us[0].base == "" && l.interval == 0 && !isIndexName(short[0]) {
		isTime[0] = true // an unnamed first column that only rises
	}
	index := n > 1 && l.interval > 0 && (us[0].base == "#" || isIndexName(short[0]) && us[0].base == "")
	if index {
		isTime[0] = false
	}
	l.cols = make([]csvColumn, n)
	last, many := -1, 0
	taken := map[string]int{}
	alternate := allAlternate(isTime)
	for i := range n {
		c := &l.cols[i]
		c.shift, c.base = us[i].exp, us[i].base
		switch {
		case i == 0 && index:
			c.role = roleSkip
		case isTime[i] && i > 0 && last >= 0 && !alternate && (us[i].base == "s" || len(short[i]) > 3 && rising(rows, i, l.dec)):
			c.role = roleSkip // a second time column beside the first, such as absolute and relative
			l.warn(l.line, fmt.Sprintf("column %d, %q, looks like a second time column and is left out", i+1, short[i]))
		case isTime[i] && (i == 0 || last < 0 || alternate):
			c.role, last = roleTime, i
			many++
		default:
			name := short[i]
			if name == "" {
				if header && emptyColumn(rows, i) {
					c.role = roleSkip
					break
				}
				name = fmt.Sprintf("ch%d", len(l.names)+1)
			}
			base := us[i].base
			if base == "" && pre.vertical != "" {
				if u, ok := asUnit(pre.vertical); ok {
					base, c.shift = u.base, u.exp
				}
			}
			l.names = append(l.names, distinct(taken, name))
			l.chanUnit = append(l.chanUnit, base)
			l.timeOf = append(l.timeOf, last)
		}
		for k := range c.div {
			if e := k - c.shift; e >= 0 && e <= 22 {
				c.div[k] = pow10[e]
			}
		}
	}
	if len(l.names) == 0 {
		return problemAtLine(ErrImpossible, l.line, "a capture needs a time column (or a sample interval in the preamble) and a value column", "the table has no value column beside the time")
	}
	if many == 0 && l.interval <= 0 {
		return problemAtLine(ErrImpossible, l.line, `name the time column "time", or write a line "Sample Interval,0.000002,s" above the table`, "there is neither a time column nor a sample interval")
	}
	l.clocks = many
	if many > 0 {
		for i, t := range l.timeOf {
			if t < 0 {
				l.timeOf[i] = firstTime(l.cols)
			}
		}
		l.compareInterval(rows, pre)
		l.interval, l.start = 0, 0
	}
	return nil
}

// compareInterval warns where the preamble contradicts the time column.
func (l *csvLayout) compareInterval(rows []csvRecord, pre preamble) {
	if pre.interval <= 0 || len(rows) < 3 {
		return
	}
	t := firstTime(l.cols)
	a, sa := cellValue([]byte(rows[0].cells[t]), l.dec)
	var b float64
	count := 0
	for _, r := range rows[1:] {
		if t < len(r.cells) {
			if v, s := cellValue([]byte(r.cells[t]), l.dec); s == cellNumber {
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
		l.warn(pre.line, fmt.Sprintf("the preamble says %g s a sample, the time column steps by about %.4g s: the column is used", pre.interval, step))
	}
}

// distinct is a name that no channel has yet: roles are stated by name.
func distinct(taken map[string]int, name string) string {
	own, n := name, max(1, taken[name])
	for ; taken[own] > 0; own = fmt.Sprintf("%s (%d)", name, n) {
		n++
	}
	taken[name], taken[own] = n, max(1, taken[own])
	return own
}

func firstTime(cols []csvColumn) int {
	for i, c := range cols {
		if c.role == roleTime {
			return i
		}
	}
	return -1
}

// allAlternate: time, value, time, value, ...
func allAlternate(isTime []bool) bool {
	if len(isTime) < 4 || len(isTime)%2 != 0 {
		return false
	}
	for i, t := range isTime {
		if t != (i%2 == 0) {
			return false
		}
	}
	return true
}

func emptyColumn(rows []csvRecord, i int) bool {
	for _, r := range rows {
		if i < len(r.cells) && r.cells[i] != "" {
			return false
		}
	}
	return true
}

// rising says whether a column's first rows never fall and rise at least once.
func rising(rows []csvRecord, col int, dec byte) bool {
	prev, rose := math.Inf(-1), false
	for i, r := range rows {
		if col >= len(r.cells) || isBlank(r.cells) {
			continue
		}
		v, s := cellValue([]byte(r.cells[col]), dec)
		if s != cellNumber || v < prev {
			return false
		}
		rose = rose || (i > 0 && v > prev)
		prev = v
	}
	return rose
}
