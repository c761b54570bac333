package engine

import (
	"fmt"
	"math"

	"phasewright/quantity"
)

// Firings is the firing order of an engine laid on the cycle: which cylinder fires where. Make one with NewFirings.
type Firings struct {
	order     []int
	intervals []quantity.Crank
	at        []Position
}

// NewFirings validates a firing order (a permutation of 1…N, at most 24 cylinders) and the intervals from each firing
// in it to the next, which must be positive and sum to 720 within 0.01°; nil intervals mean even fire, 720/N.
func NewFirings(order []int, intervals []quantity.Crank) (*Firings, error) {
	n := len(order)
	if n < 1 || n > 24 {
		return nil, fmt.Errorf("firing order has %d cylinders; 1 to 24 are understood", n)
	}
	seen := make(map[int]bool, n)
	for _, c := range order {
		if c < 1 || c > n || seen[c] {
			return nil, fmt.Errorf(
				"firing order %v is not a permutation of 1 to %d (cylinder %d is wrong or stands twice)", order, n, c)
		}
		seen[c] = true
	}
	if intervals == nil {
		intervals = make([]quantity.Crank, n)
		for i := range intervals {
			intervals[i] = quantity.Crank(CycleDegrees) / quantity.Crank(n)
		}
	}
	if len(intervals) != n {
		return nil, fmt.Errorf("%d intervals for %d cylinders; one is wanted from each firing to the next",
			len(intervals), n)
	}
	sum := quantity.Crank(0)
	f := &Firings{order: append([]int(nil), order...), intervals: append([]quantity.Crank(nil), intervals...)}
	for i, v := range intervals {
		if !(v > 0) {
			return nil, fmt.Errorf("interval %d is %v; every interval must be above 0°", i+1, v)
		}
		f.at = append(f.at, At(sum))
		sum += v
	}
	if math.Abs(float64(sum)-CycleDegrees) > 0.01 {
		return nil, fmt.Errorf("intervals sum to %v; a four-stroke cycle is 720°", sum)
	}
	return f, nil
}

// Count is the number of cylinders.
func (f *Firings) Count() int { return len(f.order) }

// Cylinder is the cylinder that fires i-th (from 0) in the firing order.
func (f *Firings) Cylinder(i int) int { return f.order[i] }

// TDC is the position of the top dead centre at which the i-th cylinder of the order fires; the first cylinder of the
// order is at 0.
func (f *Firings) TDC(i int) Position { return f.at[i] }

// Interval is the way from the i-th firing to the next one.
func (f *Firings) Interval(i int) quantity.Crank { return f.intervals[i] }

// Before is the interval that ends with the i-th firing: the one a controller that measures the last interval times it
// by.
func (f *Firings) Before(i int) quantity.Crank {
	return f.intervals[(i+len(f.intervals)-1)%len(f.intervals)]
}

// Smallest is the smallest interval.
func (f *Firings) Smallest() quantity.Crank {
	s := f.intervals[0]
	for _, v := range f.intervals {
		s = min(s, v)
	}
	return s
}

// Even says whether all intervals are equal within 0.01°.
func (f *Firings) Even() bool {
	for _, v := range f.intervals {
		if math.Abs(float64(v-f.intervals[0])) > 0.01 {
			return false
		}
	}
	return true
}

// Companion is the place in the firing order of the cylinder that reaches top dead centre together with the i-th, 360°
// away in the cycle, and false where no piston is within 0.5° of that (odd cylinder counts, odd-fire engines).
func (f *Firings) Companion(i int) (int, bool) {
	want := f.at[i].Add(360)
	for j, p := range f.at {
		if j != i && math.Abs(float64(p.From(want))) <= 0.5 {
			return j, true
		}
	}
	return 0, false
}

// FiringPeriod is the time between firings of n even-fire cylinders on a four-stroke engine at speed s: 120/(N·n)
// seconds.
func FiringPeriod(cylinders int, s quantity.Speed) quantity.Time {
	return quantity.Seconds(120 / (float64(cylinders) * float64(s)))
}
