package jobcard

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"phasewright/quantity"
	"phasewright/yamltext"
)

// Field is one row of the table that drives parser, schema, starter and documentation.
type Field struct {
	Path    string // section.key or section.key.key
	Doc     string // what it is, one sentence
	Example string // as written in the starter card
	Default string // as written; "" where there is none or where it follows from other fields (then Doc says how)
	Demand  string // why the field is demanded; "" where it is not
	Open    bool   // where left out the field counts as not given; nothing stands in for it

	Kind  Kind     // how a form asks for it
	Words []string // to choose from; nil where the field takes more
	Units []string // to choose from beside the figure; nil where it has none

	set    func(c *Card, v yamltext.Value) *yamltext.Fault
	schema func() map[string]any // only asked for by Schema: patterns are slow to make
	// doubt asks about a value that was read and is likelier a slip; nil where nothing is known of likely values
	doubt func(v yamltext.Value, u usual) (Doubt, bool)
	// a text as it stands in a form, and back; nil where it stands as it is
	apart    func(text string) Entry
	together func(e Entry) string
	plain    func(text string) string // one spelling of what people write in several; nil where there is one
}

// Fields is the whole table in the order of the card.
func Fields() []Field {
	return slices.Concat(jobFields(), engineFields(), damperFields(), distributorFields(), signalFields(),
		controllerFields(), ignitionFields(), coilFields(), proofFields())
}

// Needed says whether every card needs the field. A coil may be left out as a whole.
func (f Field) Needed() bool { return f.Demand != "" && !strings.HasPrefix(f.Path, "coil.") }

func scalar(v yamltext.Value, wanted string) (string, *yamltext.Fault) {
	if v.List {
		return "", yamltext.Wrong("is a list", "write "+wanted)
	}
	if v.Null {
		return "", yamltext.Wrong("has no value", "write "+wanted+", or leave the key out")
	}
	return v.Text, nil
}

// between are the limits beyond which a value is impossible on any engine: a slip of the unit or the pen.
type between[T quantity.Quantity] struct{ least, most T }

// check names what else the text may have meant, by the values that the field at the path usually has.
func (b between[T]) check(v T, text, path string) *yamltext.Fault {
	if v >= b.least && v <= b.most {
		return nil
	}
	low, high := b.least, b.most
	if u, ok := usualFor(path); ok {
		low, high = T(u.low), T(u.high)
	}
	meant := ""
	if list := quantity.Meant(text, low, high); len(list) > 0 {
		meant = "did you mean " + oneOf(list) + "? "
	}
	return yamltext.Wrong(fmt.Sprintf("%v is impossible here", v),
		fmt.Sprintf("%swrite a value from %v to %v", meant, b.least, b.most))
}

// plain takes the comma out of a text where it may be a thousand's or a decimal's and only one of the two is possible:
// "4,200 rpm" is no 4.2 rpm.
func (b between[T]) plain(text string) string {
	var possible []string
	for _, either := range quantity.Either(text) {
		if m, err := quantity.ParseMeasured[T](either); err == nil && m.Value >= b.least && m.Value <= b.most {
			possible = append(possible, either)
		}
	}
	if len(possible) == 1 {
		return possible[0]
	}
	return text
}

func (b between[T]) doubt(v yamltext.Value, u usual) (Doubt, bool) {
	v.Text = b.plain(v.Text)
	return doubtMeasure[T](v, u)
}

func measure[T quantity.Quantity](f Field, at func(*Card) *T, least, most T) Field {
	return bare(f, func(c *Card, q T) { *at(c) = q }, least, most)
}

// setting is a measure that may be left open.
func setting[T quantity.Quantity](f Field, at func(*Card) *Setting[T], least, most T) Field {
	f.Open = true
	return bare(f, func(c *Card, q T) { *at(c) = Set(q) }, least, most)
}

func bare[T quantity.Quantity](f Field, put func(*Card, T), least, most T) Field {
	limits := between[T]{least, most}
	f = entered[T](f, Measure)
	f.set = func(c *Card, v yamltext.Value) *yamltext.Fault {
		text, ft := scalar(v, quantity.Accepts[T]())
		if ft != nil {
			return ft
		}
		text = limits.plain(text)
		q, err := quantity.Parse[T](text)
		if err != nil {
			return faultOf(err)
		}
		put(c, q)
		return limits.check(q, text, f.Path)
	}
	f.doubt = limits.doubt
	f.schema = func() map[string]any {
		return map[string]any{"type": "string", "pattern": quantity.Pattern[T](quantity.Bare)}
	}
	return f
}

func measured[T quantity.Quantity](f Field, at func(*Card) *quantity.Measured[T], least, most T) Field {
	return limited(f, func(c *Card, q quantity.Measured[T]) *yamltext.Fault {
		*at(c) = q
		if q.Stated && (q.Limit < 0 || q.Limit > q.Value/4) {
			return yamltext.Wrong(fmt.Sprintf("± %v is impossible beside %v", q.Limit, q.Value),
				"write the half-width within which the value is known, such as ± 0.3 mm")
		}
		return nil
	}, least, most)
}

// planned is a value to plan with; its ± gives the ends of a range, which may reach down to the least possible value.
func planned[T quantity.Quantity](f Field, at func(*Card) *Range[T], least, most T) Field {
	return limited(f, func(c *Card, q quantity.Measured[T]) *yamltext.Fault {
		*at(c) = Range[T]{max(q.Value-q.Limit, least), q.Value + q.Limit}
		if q.Limit < 0 {
			return yamltext.Wrong(fmt.Sprintf("± %v is below nought", q.Limit),
				"write the half-width within which the value is known, such as ± 50 us")
		}
		return nil
	}, least, most)
}

func limited[T quantity.Quantity](f Field, put func(*Card, quantity.Measured[T]) *yamltext.Fault, least, most T) Field {
	limits := between[T]{least, most}
	f = entered[T](f, Measured)
	f.set = func(c *Card, v yamltext.Value) *yamltext.Fault {
		text, ft := scalar(v, quantity.Accepts[T]())
		if ft != nil {
			return ft
		}
		text = limits.plain(text)
		q, err := quantity.ParseMeasured[T](text)
		if err != nil {
			return faultOf(err)
		}
		if ft := put(c, q); ft != nil {
			return ft
		}
		return limits.check(q.Value, text, f.Path)
	}
	f.doubt = limits.doubt
	f.schema = func() map[string]any {
		return map[string]any{"type": "string", "pattern": quantity.Pattern[T](quantity.WithLimits)}
	}
	return f
}

func measures[T quantity.Quantity](f Field, at func(*Card) *[]T, least, most T) Field {
	limits := between[T]{least, most}
	f = ofList[T](f)
	f.set = func(c *Card, v yamltext.Value) *yamltext.Fault {
		if !v.List {
			return yamltext.Wrong(fmt.Sprintf("%q is not a list", v.Text),
				"write a list in square brackets such as "+f.Example)
		}
		var out []T
		for i, item := range v.Items {
			text, ft := scalar(item, quantity.Accepts[T]())
			if ft != nil {
				return ft
			}
			q, err := quantity.Parse[T](text)
			if err != nil {
				return faultOf(err)
			}
			if ft := limits.check(q, text, f.Path); ft != nil {
				ft.Problem = fmt.Sprintf("item %d: %s", i+1, ft.Problem)
				return ft
			}
			out = append(out, q)
		}
		if len(out) == 0 {
			return yamltext.Wrong("is an empty list", "write a list such as "+f.Example+", or leave the key out")
		}
		*at(c) = out
		return nil
	}
	f.schema = func() map[string]any {
		return map[string]any{"type": "array", "minItems": 1,
			"items": map[string]any{"type": "string", "pattern": quantity.Pattern[T](quantity.Bare)}}
	}
	return f
}

// pairs is a table of two measures a row.
func pairs[A, B quantity.Quantity](f Field, set func(c *Card, a []A, b []B) *yamltext.Fault) Field {
	wanted := "write rows such as " + f.Example
	f = ofPairs[A, B](f)
	f.set = func(c *Card, v yamltext.Value) *yamltext.Fault {
		if !v.List || len(v.Items) < 2 {
			return yamltext.Wrong("is not a table of at least two rows", wanted)
		}
		var as []A
		var bs []B
		for i, row := range v.Items {
			if !row.List || len(row.Items) != 2 {
				return yamltext.Wrong(fmt.Sprintf("row %d does not have two values", i+1), wanted)
			}
			a, err := quantity.Parse[A](row.Items[0].Text)
			if err != nil {
				return faultOf(err)
			}
			b, err := quantity.Parse[B](row.Items[1].Text)
			if err != nil {
				return faultOf(err)
			}
			if i > 0 && !(a > as[i-1]) {
				return yamltext.Wrong(fmt.Sprintf("row %d does not rise: %v after %v", i+1, a, as[i-1]),
					"sort the rows by their first value, each once")
			}
			as, bs = append(as, a), append(bs, b)
		}
		return set(c, as, bs)
	}
	f.schema = func() map[string]any {
		two := []any{map[string]any{"type": "string", "pattern": quantity.Pattern[A](quantity.Bare)},
			map[string]any{"type": "string", "pattern": quantity.Pattern[B](quantity.Bare)}}
		return map[string]any{"type": "array", "minItems": 2, "items": map[string]any{"type": "array",
			"minItems": 2, "maxItems": 2, "prefixItems": two}}
	}
	return f
}

func count(f Field, at func(*Card) *int, least, most int) Field {
	f.Kind = Count
	f.set = func(c *Card, v yamltext.Value) *yamltext.Fault {
		wanted := fmt.Sprintf("a whole number from %d to %d", least, most)
		text, ft := scalar(v, wanted)
		if ft != nil {
			return ft
		}
		n, err := strconv.Atoi(text)
		if err != nil || n < least || n > most {
			return yamltext.Wrong(fmt.Sprintf("%q is not %s", text, wanted), "write "+wanted)
		}
		*at(c) = n
		return nil
	}
	f.schema = func() map[string]any { return map[string]any{"type": "integer", "minimum": least, "maximum": most} }
	return f
}

func ratio(f Field, at func(*Card) *float64, least, most float64) Field {
	f.Kind = Ratio
	f.set = func(c *Card, v yamltext.Value) *yamltext.Fault {
		wanted := fmt.Sprintf("a plain number from %v to %v", least, most)
		text, ft := scalar(v, wanted)
		if ft != nil {
			return ft
		}
		x, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
		if err != nil || math.IsNaN(x) || x < least || x > most {
			return yamltext.Wrong(fmt.Sprintf("%q is not %s", text, wanted), "write "+wanted+", such as "+f.Example)
		}
		*at(c) = x
		return nil
	}
	f.schema = func() map[string]any {
		return map[string]any{"anyOf": []any{
			map[string]any{"type": "number", "minimum": least, "maximum": most},
			map[string]any{"type": "string", "pattern": `^[0-9]+,[0-9]+$`},
		}}
	}
	return f
}

// units is the shop's choice of the unit of length.
func units(f Field) Field {
	f = ofWords(f, []string{"mm", "inches"}, func(text string) (string, bool) {
		u, err := quantity.ParseLengthUnit(text)
		return u.String(), err == nil
	})
	f.set = func(c *Card, v yamltext.Value) *yamltext.Fault {
		s, ft := scalar(v, "mm or inches")
		if ft != nil {
			return ft
		}
		u, err := quantity.ParseLengthUnit(s)
		if err != nil {
			return yamltext.Wrong(fmt.Sprintf("%q is no unit that a shop works in", s), "write mm or inches")
		}
		c.Job.Units = u
		return nil
	}
	f.schema = func() map[string]any {
		names := map[string]string{}
		for _, n := range []string{"in", "inch", "millimetre", "millimetres", "millimeter", "millimeters", "metric",
			"imperial"} {
			names[n] = n
		}
		return wordSchema(f.Words, names)
	}
	return f
}

// longest names that a card takes; the drawings and reports lay out up to this.
const longestText = 500

func text(f Field, at func(*Card) *string) Field {
	f.set = func(c *Card, v yamltext.Value) *yamltext.Fault {
		s, ft := scalar(v, "a text")
		if ft != nil {
			return ft
		}
		if n := len([]rune(s)); n > longestText {
			return yamltext.Wrong(fmt.Sprintf("has %d characters", n), fmt.Sprintf("write at most %d", longestText))
		}
		control := func(r rune) bool { return r < 0x20 && r != '\n' && r != '\t' || r == 0x7f }
		if i := strings.IndexFunc(s, control); i >= 0 {
			return yamltext.Wrong(fmt.Sprintf("has a control character (%U)", []rune(s[i:])[0]),
				"write it again without it")
		}
		*at(c) = strings.TrimSpace(s)
		return nil
	}
	f.schema = func() map[string]any {
		return map[string]any{"type": []any{"string", "number", "boolean"}, "maxLength": longestText}
	}
	return f
}

// clauses is a field that names clauses of the closing statement.
func clauses(f Field) Field {
	f.set = func(c *Card, v yamltext.Value) *yamltext.Fault {
		s, ft := scalar(v, "clauses with commas between them")
		if ft != nil {
			return ft
		}
		for _, title := range strings.Split(s, ",") {
			if title = strings.TrimSpace(title); !slices.Contains(Clauses, title) {
				return yamltext.Wrong(fmt.Sprintf("%q is no clause of the proof", title),
					"write some of: "+strings.Join(Clauses, ", "))
			}
			c.Proof.NotClaimed = append(c.Proof.NotClaimed, title)
		}
		return nil
	}
	f.schema = func() map[string]any {
		one := " *(" + strings.Join(Clauses, "|") + ") *"
		return map[string]any{"type": "string", "pattern": "^" + one + "(," + one + ")*$"}
	}
	return f
}

// open is a field that nothing stands in for where it is left out.
func open(f Field) Field {
	f.Open = true
	return f
}

func oneOf(words []string) string {
	if len(words) == 1 {
		return words[0]
	}
	return strings.Join(words[:len(words)-1], ", ") + " or " + words[len(words)-1]
}
