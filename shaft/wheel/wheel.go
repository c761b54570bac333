// Package wheel says where the vanes stand: it learns the crank pickup's wheel from the first stretch of a recording,
// lays the nominal firing intervals under it, and finds where cam, mark and sparks stand on it.
//
// Angles are crank degrees in running direction, so a wheel of N vanes turns 720° of them in one turn of the
// distributor shaft. Vane 0 is the one whose active edge comes first after the cam's reference edge; places on the
// wheel count from its nominal place.
//
//	place     0            Pos[1]       Pos[2]        720
//	          ▼            ▼            ▼             ▼
//	pickup    ┌────┐       ┌────┐       ┌────┐        ┌──
//	       ───┘    └───────┘    └───────┘    └────────┘
//	          0    ▲       1    ▲       2    ▲        0    vane, by its active edge (here the rising one)
//	               Other[0]     Other[1]     Other[2]
//	          ├── Step[1] ─┼── Step[2] ─┼── Step[0] ──┤
package wheel

import (
	"cmp"
	"math"
	"slices"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/terms"
)

// Wheel is the crank pickup's vane wheel as learnt.
type Wheel struct {
	N       int
	Nominal []quantity.Crank // place of each active edge by the firing intervals
	Pos     []quantity.Crank // place of each active edge as learnt; the mean of Pos − Nominal is nought
	Step    []quantity.Crank // way from the vane before to vane k, as learnt
	NomStep []quantity.Crank
	Other   []quantity.Crank // place of the pickup's other edge that follows active edge k; NaN: not known
	Uneven  bool             // some nominal interval differs from the mean by over 8 %: intervals tell the vanes apart
	Learnt  bool             // false: Pos is Nominal, nothing could be learnt
	Firm    bool             // the other edges keep their places at all speeds, as vanes of metal do
	Rough   quantity.Crank   // scatter of single places from cycle to cycle, standard deviation
}

// New makes a wheel of learnt places and nominal intervals; intervals[k] leads from vane k to the next. Nominal places
// are laid so that learnt and nominal ones agree in the mean.
func New(pos, intervals []quantity.Crank) *Wheel {
	n := len(pos)
	w := &Wheel{N: n, Pos: slices.Clone(pos), Nominal: make([]quantity.Crank, n), Step: make([]quantity.Crank, n),
		NomStep: make([]quantity.Crank, n), Other: make([]quantity.Crank, n)}
	for k := 1; k < n; k++ {
		w.Nominal[k] = w.Nominal[k-1] + intervals[k-1]
	}
	mean := quantity.Crank(0)
	for k := range pos {
		mean += (pos[k] - w.Nominal[k]) / quantity.Crank(n)
	}
	even := motion.Cycle / quantity.Crank(n)
	for k := range pos {
		w.Pos[k] -= mean
		w.Other[k] = terms.NotStated
	}
	for k := range pos {
		before := w.Before(k)
		w.Step[k] = motion.Wrap(w.Pos[k]-w.Pos[before], motion.Cycle)
		w.NomStep[k] = motion.Wrap(w.Nominal[k]-w.Nominal[before], motion.Cycle)
		if n == 1 {
			w.Step[k], w.NomStep[k] = motion.Cycle, motion.Cycle
		}
		w.Uneven = w.Uneven || math.Abs(float64(w.NomStep[k]/even-1)) > 0.08
	}
	return w
}

// Next is the vane after k.
func (w *Wheel) Next(k int) int {
	if k++; k == w.N { // every edge asks: a remainder would take longer
		return 0
	}
	return k
}

// Before is the vane before k.
func (w *Wheel) Before(k int) int { return (k + w.N - 1) % w.N }

// Last is the vane that passes last before the place at, of vanes at the given places.
func Last(places []quantity.Crank, at quantity.Crank) int {
	k := 0
	for j := range places {
		if motion.Wrap(at-places[j], motion.Cycle) < motion.Wrap(at-places[k], motion.Cycle) {
			k = j
		}
	}
	return k
}

// Late is how far vane k stands behind its nominal place, late positive; the mean over all vanes is nought.
func (w *Wheel) Late(k int) quantity.Crank { return w.Pos[k] - w.Nominal[k] }

// OtherAfter is the way from active edge k on to the pickup's other edge; NaN where it is not known.
func (w *Wheel) OtherAfter(k int) quantity.Crank { return w.Other[k] - w.Pos[k] }

// bookIntervals guesses the nominal intervals from measured places where no card gives them. They are even where every
// measured one is within 4 % or 3°, whichever is more, of the even one (never more than 15 %); else the nearest whole
// degrees, whose sum is a cycle.
func bookIntervals(pos []quantity.Crank) (intervals []quantity.Crank, even bool) {
	n := len(pos)
	step := motion.Cycle / float64(n)
	even = true
	found := make([]float64, n)
	for k := range pos {
		next := quantity.Crank(motion.Cycle)
		if k+1 < n {
			next = pos[k+1]
		}
		found[k] = float64(next - pos[k])
		even = even && math.Abs(found[k]-step) < math.Min(0.15*step, math.Max(0.04*step, 3))
	}
	if even {
		return evenly(n), true
	}
	// Intervals that follow one another within 3° in order of size are taken for equal: their mean is rounded.
	order := make([]int, n)
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(found[i], found[j]) })
	book := make([]quantity.Crank, n)
	sum := quantity.Crank(0)
	for i := 0; i < n; {
		j, total := i, 0.0
		for j < n && (j == i || found[order[j]]-found[order[j-1]] < 3) {
			total += found[order[j]]
			j++
		}
		for _, k := range order[i:j] {
			book[k] = quantity.Crank(math.Round(total / float64(j-i)))
			sum += book[k]
		}
		i = j
	}
	book[n-1] += motion.Cycle - sum
	if slices.Min(book) < terms.Closest {
		for k := range book {
			book[k] = quantity.Crank(found[k])
		}
	}
	return book, false
}

// evenly is n equal intervals that sum to a cycle.
func evenly(n int) []quantity.Crank {
	out := make([]quantity.Crank, n)
	for k := range out {
		out[k] = motion.Cycle / quantity.Crank(n)
	}
	return out
}
