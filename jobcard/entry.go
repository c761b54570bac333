package jobcard

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"phasewright/engine"
	"phasewright/quantity"
	"phasewright/yamltext"
)

// Kind says how a field is asked for in a form.
type Kind int

// The kinds of fields.
const (
	FreeText Kind = iota
	Word          // one of Field.Words
	Count         // a whole number
	Ratio         // a number without a unit
	Measure       // a figure with a unit
	Measured      // a figure with a unit, and a ± that may be left out
	List          // figures with one unit
	Table         // rows of two figures, each column with its own unit
	Order         // cylinders in the order they fire
)

// Entry is how a field stands in a form: the figure or words as typed, a ± beside it, and the unit that is shown.
type Entry = quantity.Written

// Entry takes the text of a card's field apart for a form. An empty text gets the unit that a bare figure will have:
// the field's usual one, and of lengths the unit that the shop works in.
func (f Field) Entry(text string, shop quantity.LengthUnit) Entry {
	text = strings.TrimSpace(text)
	e := Entry{Figure: text}
	switch {
	case text == "":
	case f.apart != nil:
		e = f.apart(text)
	case f.plain != nil:
		e.Figure = f.plain(text)
	}
	if e.Unit == "" && len(f.Units) > 0 {
		e.Unit = f.apart(f.Example).Unit
		if e.Unit == "mm" && shop == quantity.Inch {
			e.Unit = shop.Short()
		}
	}
	return e
}

// Text is what a form's entry says as the text of a card's field. A bare figure takes the entry's unit; nothing else is
// added or changed but separators, so that what cannot be read is refused as it was typed.
func (f Field) Text(e Entry) string {
	switch e.Figure = strings.TrimSpace(e.Figure); {
	case e.Figure == "" && strings.TrimSpace(e.Limit) == "": // a ± alone is refused, not dropped
		return ""
	case f.together != nil:
		return f.together(e)
	case f.plain != nil:
		return f.plain(e.Figure)
	}
	return e.Figure
}

// Same says whether two texts of the field say the same.
func (f Field) Same(a, b string) bool {
	plain := func(text string) string { return f.Text(f.Entry(text, 0)) }
	return a == b || plain(a) == plain(b)
}

// entered makes f a field whose text is a measure.
func entered[T quantity.Quantity](f Field, kind Kind) Field {
	f.Kind, f.Units = kind, quantity.Offered[T]()
	f.apart, f.together = quantity.Apart[T], Entry.Text
	return f
}

// ofWords makes f a field that takes words; read gives the accepted word for what people write, and false for others.
func ofWords(f Field, words []string, read func(string) (string, bool)) Field {
	f.Kind, f.Words = Word, words
	f.plain = func(text string) string {
		if w, ok := read(text); ok {
			return w
		}
		return text
	}
	return f
}

// plainOrder writes a firing order as lists stand in a card. What is none stays.
func plainOrder(text string) string {
	order, err := engine.ParseOrder(strings.NewReplacer(".", "-", ":", "-").Replace(strings.Trim(text, "[] ")))
	if err != nil {
		return text
	}
	return "[" + strings.Join(strings.Fields(strings.Trim(fmt.Sprint(order), "[]")), ", ") + "]"
}

// orderApart writes a firing order as people say it.
func orderApart(text string) Entry {
	return Entry{Figure: strings.ReplaceAll(strings.Trim(plainOrder(text), "[]"), ", ", "-")}
}

// ofList makes f a field of several figures with one unit.
func ofList[T quantity.Quantity](f Field) Field {
	f.Kind, f.Units = List, quantity.Offered[T]()
	f.apart = func(text string) Entry {
		var figures []string
		unit := ""
		for _, item := range items(strings.Trim(text, "[] ")) {
			w := quantity.Apart[T](item)
			if w.Unit == "" || unit != "" && w.Unit != unit {
				return Entry{Figure: text}
			}
			unit = w.Unit
			figures = append(figures, w.Figure)
		}
		return Entry{Figure: strings.Join(figures, "; "), Unit: unit}
	}
	f.together = func(e Entry) string {
		if strings.HasPrefix(e.Figure, "[") {
			return e.Figure
		}
		var out []string
		for _, item := range items(e.Figure) {
			out = append(out, Entry{Figure: item, Unit: e.Unit}.Text())
		}
		return "[" + strings.Join(out, ", ") + "]"
	}
	return f
}

// ofPairs makes f a table whose columns have a usual unit each.
func ofPairs[A, B quantity.Quantity](f Field) Field {
	f.Kind = Table
	usual := rows(f.Example)[0]
	unitA, unitB := quantity.Apart[A](usual[0]).Unit, quantity.Apart[B](usual[1]).Unit
	f.Units = []string{unitA + ", " + unitB}
	f.apart = func(text string) Entry {
		var out []string
		for _, row := range rows(text) {
			if len(row) != 2 {
				return Entry{Figure: text, Unit: f.Units[0]}
			}
			out = append(out, row[0]+", "+row[1])
		}
		return Entry{Figure: strings.Join(out, "; "), Unit: f.Units[0]}
	}
	f.together = func(e Entry) string {
		if strings.HasPrefix(e.Figure, "[") {
			return e.Figure
		}
		var out []string
		for _, row := range rows(e.Figure) {
			if len(row) != 2 {
				return e.Figure
			}
			out = append(out, "["+Entry{Figure: row[0], Unit: unitA}.Text()+", "+
				Entry{Figure: row[1], Unit: unitB}.Text()+"]")
		}
		return "[" + strings.Join(out, ", ") + "]"
	}
	return f
}

// betweenFigures are the blanks before another figure, and betweenRows what ends a row of a table.
var (
	betweenFigures = regexp.MustCompile(`\s+(?:[-–]\s+)?([+−-]?[0-9.])`)
	betweenRows    = regexp.MustCompile(`\]\s*,\s*\[|[;\n]`)
)

// items cuts a list at semicolons, else at commas with a blank behind, else at blanks before figures, else at commas.
func items(text string) []string {
	var out []string
	switch {
	case strings.Contains(text, ";"):
		out = strings.Split(text, ";")
	case strings.Contains(text, ", "):
		out = strings.Split(text, ", ")
	case betweenFigures.MatchString(strings.TrimSpace(text)):
		out = strings.Split(betweenFigures.ReplaceAllString(strings.TrimSpace(text), ";$1"), ";")
	default:
		out = strings.Split(text, ",")
	}
	for i := range out {
		out[i] = strings.TrimSpace(out[i])
	}
	return slices.DeleteFunc(out, func(s string) bool { return s == "" })
}

// rows takes a table apart: rows end at semicolons or brackets.
func rows(text string) [][]string {
	var out [][]string
	for _, row := range betweenRows.Split(text, -1) {
		if row = strings.Trim(row, "[] \t\r"); row != "" {
			out = append(out, items(strings.NewReplacer(":", ", ", "=", ", ", "→", ", ").Replace(row)))
		}
	}
	return out
}

// faultOf is what is wrong with a text that is no measure.
func faultOf(err error) *yamltext.Fault {
	if pe, ok := err.(*quantity.ParseError); ok {
		return yamltext.Wrong(fmt.Sprintf("%q %s", pe.Text, pe.Problem), pe.Remedy)
	}
	return &yamltext.Fault{Problem: err.Error()}
}
