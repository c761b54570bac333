package readings

import (
	"slices"
	"strings"
)

// Columns go by the names that Write gives them. In a file where one of those is not there, a heading as people put it
// over such a column stands for it: "Engine speed (rpm)", "Timing light / °BTDC", "Delay allowance [ms]".

// headings are those names by column, in lower case, without their unit. Words that could head two of the columns,
// such as timing or advance, are none of them.
var headings = [len(columns)][]string{
	rpmColumn: {"rpm", "speed", "engine speed", "engine rpm", "crank speed", "revs", "engine revs", "revolutions", "n"},
	shownColumn: {"shown", "light", "timing light", "light shows", "light reading", "reading", "read", "observed",
		"actual", "measured", "shown timing", "shown advance", "timing shown", "advance shown", "measured timing",
		"measured advance", "actual timing", "actual advance", "observed timing", "observed advance"},
	lockedColumn: {"locked", "commanded", "command", "set", "target", "controller", "locked timing", "locked advance",
		"timing locked", "advance locked", "commanded timing", "commanded advance", "target timing", "target advance",
		"set timing", "set advance", "controller timing", "controller advance"},
	uColumn:         {"u", "uncertainty", "standard uncertainty", "u shown"},
	allowanceColumn: {"allowance", "delay allowance", "delay"},
	housingColumn:   {"housing", "housing turn", "housing turned"},
	wireColumn:      {"wire", "wire no", "cylinder", "cylinder no", "cyl", "plug wire"},
	confirmedColumn: {"confirmed", "confirm"},
	noteColumn:      {"note", "notes", "comment", "comments", "remark", "remarks"},
}

// scale turns a figure as the heading's unit has it into the column's: ATDC counts the other way round, ms are a
// thousand µs.
type scale float64

// unitWords are the words of a unit that may stand in a heading or behind a figure, by column.
var unitWords = [len(columns)]map[string]scale{
	rpmColumn: {"rpm": 1, "r/min": 1, "rev/min": 1, "revs/min": 1, "1/min": 1, "min-1": 1, "min⁻¹": 1, "/min": 1},
	shownColumn: {"deg": 1, "degs": 1, "degree": 1, "degrees": 1, "°": 1, "º": 1, "crank": 1, "btdc": 1, "°btdc": 1,
		"before": 1, "tdc": 1, "atdc": -1, "°atdc": -1, "after": -1},
	uColumn:         {"deg": 1, "degs": 1, "degree": 1, "degrees": 1, "°": 1, "º": 1, "crank": 1, "±": 1},
	allowanceColumn: {"us": 1, "µs": 1, "μs": 1, "microseconds": 1, "ms": 1000, "milliseconds": 1000},
	housingColumn:   {"deg": 1, "degs": 1, "degree": 1, "degrees": 1, "°": 1, "º": 1, "shaft": 1},
}

// wordsOf are the unit words of a column; shown and locked share theirs.
func wordsOf(column int) map[string]scale {
	if column == lockedColumn {
		return unitWords[shownColumn]
	}
	return unitWords[column]
}

// scaleOf reads a unit, and whether it is one of the column.
func scaleOf(column int, unit string) (scale, bool) {
	factor := scale(1)
	for _, w := range strings.Fields(unit) {
		f, ok := wordsOf(column)[w]
		if !ok {
			return 0, false
		}
		factor *= f
	}
	return factor, true
}

// split takes a heading apart into its name and its unit, which stands in brackets, behind a comma or a stroke, or at
// the end.
func split(column int, title string) (name, unit string) {
	text := strings.ToLower(strings.TrimSpace(title))
	if before, rest, ok := cutAny(text, "([{"); ok {
		inside, after, _ := cutAny(rest, ")]}")
		text, unit = before+" "+after, inside
	} else if before, after, ok := cutAny(text, ",/"); ok {
		text, unit = before, after
	}
	words := strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(" \t_-.:#\u00a0", r) })
	for len(words) > 1 {
		last := words[len(words)-1]
		if _, ok := wordsOf(column)[last]; !ok || slices.Contains(headings[column], strings.Join(words, " ")) {
			break
		}
		words, unit = words[:len(words)-1], last+" "+unit
	}
	return strings.Join(words, " "), strings.NewReplacer(".", "", "_", " ").Replace(unit)
}

func cutAny(s, chars string) (before, after string, found bool) {
	i := strings.IndexAny(s, chars)
	if i < 0 {
		return s, "", false
	}
	return s[:i], s[i+1:], true
}

// named reports whether a heading is one that people put over a column.
func named(column int, title string) (unit string, ok bool) {
	name, unit := split(column, title)
	return unit, slices.Contains(headings[column], name)
}

// place finds the heading that stands for a column whose own name is not there. Where it cannot be told, the fault says
// why.
func place(column int, titles []string, taken []bool) (at int, factor scale, f fault) {
	at = -1
	wrong := ""
	for i, title := range titles {
		unit, ok := named(column, title)
		if !ok || taken[i] {
			continue
		}
		s, known := scaleOf(column, unit)
		switch {
		case !known:
			wrong = title
		case at >= 0:
			return i, 0, fault{"may be " + columns[column].name + ", and so may " + quoted(titles[at]),
				"write " + columns[column].name + " over the one that is meant"}
		default:
			at, factor = i, s
		}
	}
	if at < 0 && wrong != "" {
		return slices.Index(titles, wrong), 0, fault{"has a unit that is not one of " + columns[column].name,
			columns[column].remedy + ", under the heading " + columns[column].name}
	}
	return at, factor, fault{}
}
