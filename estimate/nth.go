package estimate

import "slices"

// Nth puts the k-th smallest value at k, smaller ones before it, larger ones after it,
// and gives it back: Hoare's selection with the median of three, much faster than a sort. k
// must be an index of v, and v must hold no NaN.
func Nth(v []float64, k int) float64 {
	lo, hi := 0, len(v)-1
	for hi-lo > 24 {
		mid := lo + (hi-lo)/2
		a, b, c := v[lo], v[mid], v[hi]
		pivot := max(min(a, b), min(max(a, b), c))
		i, j := lo, hi
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for v[j] > pivot {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return v[k]
		}
	}
	slices.Sort(v[lo : hi+1])
	return v[k]
}
