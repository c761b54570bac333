package quantity

import "fmt"

// Invalid is a value, or several together, that cannot be used: where it stands, as the card or the command names it,
// what was found there, and what is accepted. The text of a measure that cannot be read is a *ParseError.
type Invalid struct {
	Field  string // "coil.resistance"
	Found  string // "−0.4 Ω is not above zero"
	Remedy string // "write the primary's resistance at 20 °C, such as 0.55 ohm"
}

// Error gives `coil.resistance – −0.4 Ω is not above zero – write …`.
func (e *Invalid) Error() string { return e.Field + " – " + e.Found + " – " + e.Remedy }

// Bad is an *Invalid whose found part is formatted.
func Bad(field, remedy, found string, args ...any) error {
	return &Invalid{Field: field, Found: fmt.Sprintf(found, args...), Remedy: remedy}
}
