package readings

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"phasewright/quantity"
)

// Figures as people put them into a sheet: "850 rpm", "2,200", "2 ATDC", "0.1 ms", "No. 4".

// writtenFigure is a number with a word or a sign before it and a unit behind it.
var writtenFigure = regexp.MustCompile(`^(?:(no|nr|cyl|cylinder|wire|btdc|atdc)\.?|(#|±))?\s*` +
	`([+-]?[0-9.,](?:[0-9.,'’ \x{00a0}\x{2009}\x{202f}]*[0-9.,])?)\s*([^0-9., '’\x{00a0}\x{2009}\x{202f}].*|)$`)

// grouped is a whole number with marks between its thousands, all of one kind.
var grouped = regexp.MustCompile(`^[0-9]{1,3}(?:(?:,[0-9]{3})+|(?:\.[0-9]{3})+|(?:['’][0-9]{3})+|` +
	`(?:[ \x{00a0}\x{2009}\x{202f}][0-9]{3})+)$`)

// figure reads a cell of a column, in the unit of the column.
func (rd *reader) figure(column int, text string) (float64, fault) {
	col := columns[column]
	v, f := rd.number(text, col.remedy)
	if f.problem == "" {
		v *= float64(rd.scale[column])
	}
	thousands := column == rpmColumn && strings.ContainsAny(text, ",.") && grouped.MatchString(text)
	if f.problem != "" || thousands {
		if w, other, ok := rd.asWritten(column, text); ok {
			v, f = w, other
		}
	}
	if f.problem == "" {
		f = col.fault(v)
	}
	return v + 0, f // no minus nought
}

// asWritten reads a figure with words around it or marks in it; ok is false where it is none.
func (rd *reader) asWritten(column int, text string) (v float64, f fault, ok bool) {
	parts := writtenFigure.FindStringSubmatch(strings.ReplaceAll(strings.ToLower(text), "\u2212", "-"))
	if parts == nil {
		return 0, fault{}, false
	}
	before, digits, unit := parts[1]+parts[2], parts[3], strings.ReplaceAll(parts[4], ".", "")
	factor := rd.scale[column]
	switch {
	case before == "":
	case before == "btdc", before == "atdc":
		unit += " " + before
	case before == "±" && column != uColumn, before != "±" && column != wireColumn:
		return 0, fault{}, false
	}
	if unit = strings.NewReplacer("°", " ° ", "º", " ° ").Replace(unit); strings.TrimSpace(unit) != "" {
		if factor, ok = scaleOf(column, unit); !ok {
			return 0, fault{}, false
		}
		if factor < 0 && strings.HasPrefix(digits, "-") {
			return 0, fault{"has a minus and ATDC, which may mean either side", columns[column].remedy}, true
		}
	}
	if v, f, ok = rd.marked(column, digits); !ok || f.problem != "" {
		return 0, f, ok
	}
	return v * float64(factor), fault{}, true
}

// marked reads a number with marks in it. A comma is a decimal mark, in a speed also one of thousands: which, is told
// by what can be a speed, and asked where both can.
func (rd *reader) marked(column int, digits string) (float64, fault, bool) {
	decimal, err := strconv.ParseFloat(strings.Replace(digits, ",", ".", 1), 64)
	isDecimal := err == nil
	if column != rpmColumn || !grouped.MatchString(digits) {
		return decimal, fault{}, isDecimal
	}
	whole, _ := strconv.ParseFloat(strings.Map(func(r rune) rune { // nothing but digits is left
		if r < '0' || r > '9' {
			return -1
		}
		return r
	}, digits), 64)
	speed := func(v float64) bool { return v >= float64(SlowestReading) && v <= float64(FastestReading) }
	point := strings.Contains(digits, ".")
	switch {
	case point && !rd.decimalComma:
		return decimal, fault{}, isDecimal
	case isDecimal && speed(decimal) && speed(whole):
		return 0, fault{fmt.Sprintf("may be %s or %s", quantity.RPM(whole), quantity.Number(decimal, -1)+" rpm"),
			"write whole rpm such as 3200, without a thousands mark"}, true
	case isDecimal && speed(decimal):
		return decimal, fault{}, true
	}
	return whole, fault{}, true
}
