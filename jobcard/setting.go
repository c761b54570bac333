package jobcard

import (
	"fmt"

	"phasewright/quantity"
)

// Setting is a value that belongs to the controller or to the spark box: only they, or their makers' papers, can tell
// it. A card may leave it open. There is no default, since every controller has its own; whoever needs the value asks
// with Get and says what cannot be told without it.
type Setting[T quantity.Quantity] struct {
	value T
	given bool
}

// Set is a setting that was read or stated.
func Set[T quantity.Quantity](v T) Setting[T] { return Setting[T]{v, true} }

// Get is the value, and whether the card gives one.
func (s Setting[T]) Get() (value T, given bool) { return s.value, s.given }

// Given says whether the card gives a value.
func (s Setting[T]) Given() bool { return s.given }

// Or is the value, or other where the card leaves it open.
func (s Setting[T]) Or(other T) T {
	if s.given {
		return s.value
	}
	return other
}

// NotGiven stands on every output where a setting is left open.
const NotGiven = "not given"

// String prints the value with its unit, or that it is not given.
func (s Setting[T]) String() string {
	if s.given {
		return fmt.Sprint(s.value)
	}
	return NotGiven
}

// Range is a planning value that lies somewhere between two ends.
type Range[T quantity.Quantity] struct{ Low, High T }

// Middle is halfway between the ends.
func (r Range[T]) Middle() T { return (r.Low + r.High) / 2 }

// Wide says whether the ends differ.
func (r Range[T]) Wide() bool { return r.High > r.Low }

// String prints "80 µs", or "0 µs to 400 µs".
func (r Range[T]) String() string {
	if r.Wide() {
		return fmt.Sprintf("%v to %v", r.Low, r.High)
	}
	return fmt.Sprint(r.Low)
}
