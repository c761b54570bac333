package engine

import (
	"fmt"
	"strconv"
	"strings"
)

// ParseOrder reads a firing order as people write it: numbers with hyphens, commas, slashes, arrows or blanks between
// them, "1-5-3-6-2-4", or a run of digits, "153624", where each digit is a cylinder. Whether it is a whole order is
// NewFirings' business.
func ParseOrder(text string) ([]int, error) {
	const remedy = "write the cylinder numbers in the order they fire, such as 1-5-3-6-2-4"
	between := func(r rune) bool { return strings.ContainsRune("-–—,;/>→ \t", r) }
	parts := strings.FieldsFunc(text, between)
	if len(parts) == 1 && len(parts[0]) > 1 {
		if len(parts[0]) > 9 {
			return nil, fmt.Errorf("%q runs on for more than nine digits; put hyphens between the numbers", text)
		}
		parts = strings.Split(parts[0], "")
	}
	if len(parts) == 0 || between([]rune(text)[0]) {
		return nil, fmt.Errorf("%q is no firing order; %s", text, remedy)
	}
	var out []int
	for _, p := range parts {
		n, err := strconv.ParseUint(p, 10, 8)
		if err != nil || n < 1 {
			return nil, fmt.Errorf("%q in %q is no cylinder number; %s", p, text, remedy)
		}
		out = append(out, int(n))
	}
	return out, nil
}
