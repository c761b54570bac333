package quantity

import (
	"regexp"
	"slices"
	"strings"
)

// Written is a measure taken apart as it stands in a form: the figure, its ± if any, and the unit of both.
type Written struct {
	Figure string // "168", "6 1/2"; the whole text where it cannot be taken apart
	Limit  string // "0.3", "5 %"; "" where none is written
	Unit   string // "mm"; "" where the text cannot be taken apart
}

// Offered are the units to choose from beside a field for T, the usual ones first. Others may be written.
func Offered[T Quantity]() []string {
	var zero T
	if k := zero.kind(); k.offered != nil {
		return k.offered
	}
	first, _, _ := strings.Cut(zero.kind().accepts, ", ")
	return []string{first}
}

// Apart takes a text such as "168 mm ± 0.3 mm" apart. A text with an unknown unit, or with two, stays whole.
func Apart[T Quantity](text string) Written {
	var zero T
	k := zero.kind()
	whole := Written{Figure: strings.TrimSpace(text)}
	main, limit, _ := strings.Cut(plusMinus.Replace(whole.Figure), "±")
	figure, name := figureAndUnit(main)
	half, halfName := figureAndUnit(limit)
	if name == "" {
		name = halfName
	}
	u, known := find(k, name)
	if !known || figure == "" || strings.Contains(limit, "±") {
		return whole
	}
	if halfName == "%" {
		half += " %"
	} else if h, ok := find(k, halfName); halfName != "" && (!ok || h.factor != u.factor || h.offset != u.offset) {
		return whole
	}
	for _, o := range Offered[T]() { // "inches" is "in"
		if other, _ := find(k, o); other.factor == u.factor && other.offset == u.offset {
			name = o
			break
		}
	}
	return Written{figure, half, name}
}

// Text puts the parts together. The unit goes only to a figure that carries none of its own; what is no figure stays as
// it was typed. Figures stay as typed too, apart from the apostrophes between thousands.
func (w Written) Text() string {
	figure := thousands.ReplaceAllString(strings.TrimSpace(w.Figure), "$1 $2")
	text, unit := figure, strings.TrimSpace(w.Unit)
	if limit := strings.TrimSpace(w.Limit); limit != "" {
		text = strings.TrimSpace(text + " ± " + limit)
	}
	main, limit, stated := strings.Cut(plusMinus.Replace(text), "±")
	number, name := figureAndUnit(main)
	half, halfName := figureAndUnit(limit)
	if number == "" || name != "" || unit == "" || halfName != "" && halfName != "%" {
		return text
	}
	text = number + " " + unit
	switch {
	case !stated:
	case halfName == "":
		text += " ± " + strings.TrimSpace(half+" "+unit)
	default:
		text += " ± " + strings.TrimSpace(limit)
	}
	return text
}

var plusMinus = strings.NewReplacer("+/-", "±", "+-", "±")

// thousands finds an apostrophe between thousands, as some countries write them: 4'200.
var thousands = regexp.MustCompile(`([0-9])['’]([0-9]{3})\b`)

// figureAndUnit cuts a text behind its number. Both parts are trimmed.
func figureAndUnit(text string) (figure, name string) {
	text = strings.TrimSpace(text)
	plain := plainFractions(text)
	_, name, _ = splitNumber(plain)
	if name == plain {
		return "", name
	}
	return strings.TrimSpace(strings.TrimSuffix(text, name)), name
}

// oneComma is a number with a comma before its last three digits, which is a thousand to some and a decimal to others.
var oneComma = regexp.MustCompile(`^\s*[+−-]?[0-9]{1,3}(,)[0-9]{3}(?:[^0-9.,].*)?$`)

// Either gives the two texts that "4,200 rpm" may mean, 4200 rpm and 4.200 rpm, and none for a text that has one
// meaning.
func Either(text string) []string {
	at := oneComma.FindStringSubmatchIndex(text)
	if at == nil {
		return nil
	}
	before, after := text[:at[2]], text[at[3]:]
	return slices.Compact([]string{before + after, before + "." + after})
}
