package quantity

import (
	"fmt"
	"math"
	"strings"
)

// LengthUnit is the unit that a shop works in. A Length is in millimetres inside, whatever it is; only what people read
// goes by it. The zero value is a shop that has not chosen: millimetres, with no other unit beside them.
type LengthUnit int8

// The units that a shop may choose.
const (
	Millimetre LengthUnit = 1
	Inch       LengthUnit = 2
)

// ParseLengthUnit reads the name of a unit as people write it, in any case.
func ParseLengthUnit(text string) (LengthUnit, error) {
	switch strings.ToLower(strings.TrimSpace(text)) {
	case "mm", "millimetre", "millimetres", "millimeter", "millimeters", "metric":
		return Millimetre, nil
	case "in", "inch", "inches", "imperial":
		return Inch, nil
	}
	return 0, fmt.Errorf("%q is no unit that a shop works in; write mm or inches", text)
}

// String is "mm" or "inches".
func (u LengthUnit) String() string {
	if u == Inch {
		return "inches"
	}
	return "mm"
}

// Short is the unit's sign behind a number: "mm" or "in".
func (u LengthUnit) Short() string {
	if u == Inch {
		return "in"
	}
	return "mm"
}

// In is the length as a plain number of this unit.
func (u LengthUnit) In(l Length) float64 {
	if u == Inch {
		return l.Inches()
	}
	return float64(l)
}

// Of prints a length in the unit, with four significant figures and a tenth of a thou at most.
func (u LengthUnit) Of(l Length) string {
	if u == Inch {
		return Number(math.Round(l.Inches()*1e4)/1e4, -1) + thin + "in"
	}
	return fmt.Sprint(l)
}

// Fixed prints a length with so many decimals of a millimetre, or two more of an inch: 0.1 mm goes with 0.001 in. Below
// nought it prints as Of does.
func (u LengthUnit) Fixed(l Length, decimals int) string {
	if decimals < 0 {
		return u.Of(l)
	}
	if u == Inch {
		decimals += 2
	}
	return Number(u.In(l), decimals) + " " + u.Short()
}

// Figure is Fixed without the unit, for a table whose head has it.
func (u LengthUnit) Figure(l Length, decimals int) string {
	return strings.TrimSuffix(u.Fixed(l, decimals), " "+u.Short())
}

// Tool prints a length that a tool is set to or reads, whose scale may be in the other unit: that one follows in
// brackets, "3.465 in (88.0 mm)", once a shop has chosen.
func (u LengthUnit) Tool(l Length, decimals int) string {
	switch u {
	case Millimetre:
		return u.Fixed(l, decimals) + " (" + Inch.Fixed(l, decimals) + ")"
	case Inch:
		return u.Fixed(l, decimals) + " (" + Millimetre.Fixed(l, decimals) + ")"
	}
	return u.Fixed(l, decimals)
}

// ToolHead is the unit over a column of ToolFigure: "mm", or "in (mm)" once a shop has chosen.
func (u LengthUnit) ToolHead() string {
	switch u {
	case Millimetre:
		return "mm (in)"
	case Inch:
		return "in (mm)"
	}
	return "mm"
}

// ToolFigure is Tool without the units: "3.463 (88.0)".
func (u LengthUnit) ToolFigure(l Length, decimals int) string {
	return strings.NewReplacer(" in", "", " mm", "").Replace(u.Tool(l, decimals))
}

// OfMeasured prints a measured length with its ±, as Measured.String does.
func (u LengthUnit) OfMeasured(m Measured[Length]) string {
	if !m.Stated {
		return u.Of(m.Value)
	}
	return u.Of(m.Value) + " ± " + u.Of(m.Limit)
}

// Constant gives a constant that is a length in the unit.
func (u LengthUnit) Constant(c Constant) Constant {
	if u == Inch && c.Unit == "mm" {
		c.Value, c.Low, c.High, c.Unit = c.Value/inch, c.Low/inch, c.High/inch, "in"
	}
	return c
}
