package sheet

import (
	"fmt"
	"strings"
)

// spell prints an input value as a person reads it.
func spell(v any) string {
	switch x := v.(type) {
	case []int:
		return strings.Trim(strings.ReplaceAll(fmt.Sprint(x), " ", ", "), "[]")
	case string:
		return x
	}
	return strings.Trim(fmt.Sprint(v), "[]")
}
