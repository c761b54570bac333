package csv

import (
	"math"
	"strings"

	"phasewright/waveform/number"
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
	case "sample interval", "sampling interval", "sample period", "sampling period", "interval", "increment",
		"x increment", "xincrement", "xincr", "time step", "time increment", "delta t",
		"dt", "h resolution", "seconds per sample":
		return "interval"
	case "sample rate", "sampling rate", "samplerate", "sample frequency", "sampling frequency", "samples per second",
		"fs":
		return "rate"
	case "start", "start time", "first sample", "first sample time", "x origin", "xorigin", "xzero", "t0",
		"time origin",
		"horizontal offset":
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
	// without a number it is a header whose first column is called "t0" or "start"
	return len(value) > 0 && strings.ContainsAny(value[0][:1], "0123456789+-.,")
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

func preambleOf(recs []record) (p preamble) {
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

// rates are the powers of ten of the units that a sample rate is written in.
var rates = map[string]int{
	"Hz": 0, "kHz": 3, "MHz": 6, "GHz": 9, "S/s": 0, "kS/s": 3, "MS/s": 6, "GS/s": 9,
	"Sa/s": 0, "kSa/s": 3, "MSa/s": 6, "GSa/s": 9, "samples/s": 0,
}

// withUnit reads "2e-06 s", "500 kHz", "1 MS/s", "4 us".
func withUnit(s string) (float64, bool) {
	dec := byte('.')
	if strings.Contains(s, ",") && !strings.Contains(s, ".") {
		dec = ','
	}
	d, n := number.Scan([]byte(s), dec, number.Ungrouped)
	if n == 0 {
		return 0, false
	}
	rest := strings.TrimSpace(s[n:])
	if rest == "" {
		return d.Float(0), true
	}
	if u, ok := asUnit(rest); ok {
		return d.Float(u.exp), true
	}
	if exp, ok := rates[rest]; ok {
		return d.Float(exp), true
	}
	return 0, false
}
