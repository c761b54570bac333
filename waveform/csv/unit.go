package csv

import "strings"

// unit is what a written unit means: base·10^exp. base is "s", "V", "A", "" for none, "#" for a running number of
// samples.
type unit struct {
	base string
	exp  int
}

// units holds the spellings that instruments write (common practice). Case matters only where m and M differ.
var units = map[string]unit{
	"s": {"s", 0}, "S": {"s", 0}, "sec": {"s", 0}, "second": {"s", 0}, "seconds": {"s", 0}, "sekunden": {"s", 0},
	"ms": {"s", -3}, "msec": {"s", -3}, "us": {"s", -6}, "µs": {"s", -6}, "μs": {"s", -6}, "usec": {"s", -6},
	"ns": {"s", -9}, "nsec": {"s", -9}, "ps": {"s", -12},
	"V": {"V", 0}, "v": {"V", 0}, "volt": {"V", 0}, "volts": {"V", 0}, "mV": {"V", -3}, "mv": {"V", -3},
	"uV": {"V", -6}, "µV": {"V", -6}, "μV": {"V", -6}, "kV": {"V", 3}, "kv": {"V", 3},
	"A": {"A", 0}, "a": {"A", 0}, "amp": {"A", 0}, "amps": {"A", 0}, "ampere": {"A", 0}, "mA": {"A", -3},
	"ma":       {"A", -3},
	"kA":       {"A", 3},
	"sequence": {"#", 0}, "samples": {"#", 0}, "sample": {"#", 0}, "points": {"#", 0},
}

// asUnit reads a unit, also in brackets: "(ms)", "[V]".
func asUnit(s string) (unit, bool) {
	s = strings.TrimSpace(s)
	if n := len(s); n >= 2 && ((s[0] == '(' && s[n-1] == ')') || (s[0] == '[' && s[n-1] == ']')) {
		s = strings.TrimSpace(s[1 : n-1])
	}
	if u, ok := units[s]; ok {
		return u, true
	}
	u, ok := units[strings.ToLower(s)]
	if ok && len(s) <= 2 { // "MS", "MV": mega or milli cannot be told
		return unit{}, false
	}
	return u, ok
}

// cutUnit splits a header cell such as "crank (V)", "Time[us]", "time, s", "time_us", "cam_v" into its name and unit.
func cutUnit(cell string) (name string, u unit, ok bool) {
	cell = strings.TrimSpace(cell)
	for _, pair := range [][2]string{{"(", ")"}, {"[", "]"}} {
		if i := strings.LastIndex(cell, pair[0]); i > 0 && strings.HasSuffix(cell, pair[1]) {
			if u, ok := asUnit(cell[i:]); ok {
				return strings.TrimSpace(cell[:i]), u, true
			}
		}
	}
	for _, sep := range []string{",", "/", "_", " in "} {
		if i := strings.LastIndex(cell, sep); i > 0 {
			if u, ok := asUnit(cell[i+len(sep):]); ok && u.base != "#" {
				return strings.TrimSpace(cell[:i]), u, true
			}
		}
	}
	return cell, unit{}, false
}
