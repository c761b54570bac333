package estimate_test

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"phasewright/estimate"
)

// The k-th smallest is what a sort puts there; smaller ones stand before it and larger ones after.
func TestNthIsWhatASortGives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.SliceOfN(rapid.Float64Range(-10, 10), 1, 300).Draw(t, "v")
		k := rapid.IntRange(0, len(v)-1).Draw(t, "k")
		want := slices.Sorted(slices.Values(v))[k]
		if got := estimate.Nth(v, k); got != want || v[k] != want {
			t.Fatalf("%v, want %v", got, want)
		}
		if slices.Max(v[:k+1]) > want || slices.Min(v[k:]) < want {
			t.Fatal("not parted at k")
		}
	})
}
