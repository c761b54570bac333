package sheet

import (
	"fmt"
	"strings"

	"phasewright/quantity"
)

// spell prints an input value as a person reads it, lengths in the unit of the shop.
func spell(u quantity.LengthUnit, v any) string {
	switch x := v.(type) {
	case quantity.Length:
		return u.Of(x)
	case quantity.Measured[quantity.Length]:
		return u.OfMeasured(x)
	case []int:
		return strings.Trim(strings.ReplaceAll(fmt.Sprint(x), " ", ", "), "[]")
	case string:
		return x
	}
	return strings.Trim(fmt.Sprint(v), "[]")
}
