package quantity

import (
	"fmt"
	"slices"
	"strings"
)

// Meant gives what a value may have been meant as whose unit looks wrong: the same figure with each other unit of its
// measure that puts it within low to high, such as "8.0 in (203.2 mm)" for "8.0 mm". It is empty for a text that
// cannot be read.
func Meant[T Quantity](text string, low, high T) []string {
	var zero T
	k := zero.kind()
	main, _, _ := strings.Cut(plainFractions(strings.TrimSpace(text)), "±")
	value, unitText, why := splitNumber(main)
	written, ok := find(k, unitText)
	if why != "" || !ok {
		return nil
	}
	var out []string
	tried := []float64{written.factor}
	for _, name := range strings.Split(k.accepts, ", ") {
		u, ok := find(k, name)
		if !ok || slices.Contains(tried, u.factor) {
			continue
		}
		tried = append(tried, u.factor)
		if v := T(value*u.factor + u.offset); v >= low && v <= high {
			figure := strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(main), unitText))
			out = append(out, fmt.Sprintf("%s %s (%v)", figure, u.name, v))
		}
	}
	return out
}
