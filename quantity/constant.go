package quantity

import "strings"

// Constant is a number of ours that a verdict or a printed figure rests on. No card holds it, so that it is shown with
// its range or its source wherever something rests on it. Each room lists its own in a function Constants; docs/sums.md
// has them all.
type Constant struct {
	Name      string // in plain words, as it is shown
	Value     float64
	Low, High float64 // the range it may as well lie in; both nought where only the source is given
	Unit      string
	Source    string   // where it comes from; empty: assumed
	Where     []string // what rests on it: items of the sheet, fields of the card, or other surfaces by name
}

// Assume is a constant without a source.
func Assume(name string, value, low, high float64, unit string, where ...string) Constant {
	return Constant{Name: name, Value: value, Low: low, High: high, Unit: unit, Where: where}
}

// From is the constant with its source.
func (c Constant) From(source string) Constant {
	c.Source = source
	return c
}

// Assumed says whether nothing but our judgement stands behind the value.
func (c Constant) Assumed() bool { return c.Source == "" }

// Range is "low to high" without the unit; empty where none is given.
func (c Constant) Range() string {
	if c.Low == 0 && c.High == 0 {
		return ""
	}
	return Number(c.Low, -1) + " to " + Number(c.High, -1)
}

// String is the value with its range, its unit and its source, such as "1.2 (1.1 to 1.5) times".
func (c Constant) String() string {
	text := Number(c.Value, -1)
	if r := c.Range(); r != "" {
		text += " (" + r + ")"
	}
	if c.Unit != "" && !strings.HasPrefix(c.Unit, "°") {
		text += " "
	}
	text += c.Unit
	if !c.Assumed() {
		text += ", " + c.Source
	}
	return text
}

// Said is the constant with its name, and that it is assumed where it is.
func (c Constant) Said() string {
	if c.Assumed() {
		return c.Name + " " + c.String() + ", assumed"
	}
	return c.Name + " " + c.String()
}
