package coil

import "fmt"

// Fault is a value that cannot be used: the field as the job card names it, what is wrong with it, and what is accepted.
type Fault struct {
	Field  string // "coil.resistance"
	Found  string // "-0.4 Ω is not above zero"
	Remedy string // "write the primary's resistance at 20 °C, such as 0.55 ohm"
}

// Error gives `coil.resistance – −0.4 Ω is not above zero – write …`.
func (f *Fault) Error() string { return f.Field + " – " + f.Found + " – " + f.Remedy }

func fault(field, remedy, found string, args ...any) *Fault {
	return &Fault{Field: field, Found: fmt.Sprintf(found, args...), Remedy: remedy}
}
