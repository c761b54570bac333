package quantity

import (
	"fmt"
	"math"
)

// Measured is a value with the limits within which its writer holds it to lie: "168 mm ± 0.3 mm".
//
// The half-width is read as limits of a rectangular distribution, the honest reading of a bare ± on a drawing or a shop
// note (JCGM 100:2008, 4.3.7): standard uncertainty = half-width/√3. Where no ± was written, Stated is false and the
// uncertainty is unknown, which is infinite and never zero.
type Measured[T Quantity] struct {
	Value  T
	Limit  T
	Stated bool
}

// Standard is the standard uncertainty, Limit/√3, or +Inf where none was stated.
func (m Measured[T]) Standard() T {
	if !m.Stated {
		return T(math.Inf(1))
	}
	return T(float64(m.Limit) / math.Sqrt(3))
}

// Or gives m with the half-width limit assumed where none was stated; the caller says so on what it prints.
func (m Measured[T]) Or(limit T) Measured[T] {
	if m.Stated {
		return m
	}
	return Measured[T]{Value: m.Value, Limit: limit, Stated: true}
}

// String prints "168 mm ± 0.3 mm", or the bare value where no limits were stated.
func (m Measured[T]) String() string {
	if !m.Stated {
		return fmt.Sprintf("%v", m.Value)
	}
	return fmt.Sprintf("%v ± %v", m.Value, m.Limit)
}
