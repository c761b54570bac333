package estimate

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// Draws limits: fewer give no usable 95 % interval, more only cost time.
const (
	MinDraws = 1000
	MaxDraws = 20_000_000
)

// ErrDraws says that a simulation was asked for too few or too many draws.
var ErrDraws = errors.New("number of draws out of range")

// Model turns one draw of the inputs, in their order, into one draw of the result.
// It must not keep x.
type Model func(x []float64) float64

// Simulate draws the inputs and collects the model's results: the propagation of
// distributions of JCGM 101:2008 clause 7. The inputs are independent. The same seed
// gives the same sample. Inputs of unknown or NaN uncertainty are refused, and so is a
// model that gives NaN.
func Simulate(inputs []Input, model Model, draws int, seed uint64) (*Sample, error) {
	if draws < MinDraws || draws > MaxDraws {
		return nil, fmt.Errorf("simulation: %w: %d; ask for %d to %d", ErrDraws, draws, MinDraws, MaxDraws)
	}
	for i, in := range inputs {
		bad := math.IsNaN(in.Value) || math.IsInf(in.Value, 0) || math.IsNaN(in.U) || math.IsInf(in.U, 0) || in.U < 0
		if bad || in.Shape == Student && !(in.DOF > 0) {
			return nil, fmt.Errorf("simulation: input %d (%s): value %v, u %v cannot be drawn; give finite figures",
				i+1, in.Name, in.Value, in.U)
		}
	}
	// Blocks keep the random source and one shape's constants in registers; ten draws
	// at a time cost twice as long.
	const block = 512
	r := rand.New(rand.NewPCG(seed, 0x9e3779b97f4a7c15))
	columns := make([]float64, block*len(inputs))
	x := make([]float64, len(inputs))
	s := &Sample{values: make([]float64, draws)}
	for at := 0; at < draws; at += block {
		n := min(block, draws-at)
		for j, in := range inputs {
			in.fill(r, columns[j*block:j*block+n])
		}
		for i := range n {
			for j := range x {
				x[j] = columns[j*block+i]
			}
			y := model(x)
			if math.IsNaN(y) {
				return nil, fmt.Errorf("simulation: draw %d: the model gives no number", at+i+1)
			}
			s.values[at+i] = y
		}
	}
	return s, nil
}

// Simulate draws a linear budget about the value: value + Σ cᵢ·xᵢ.
func (b Budget) Simulate(value float64, draws int, seed uint64) (*Sample, error) {
	inputs := make([]Input, 0, len(b))
	for _, l := range b {
		if l.Contribution() > 0 {
			inputs = append(inputs, Input{Name: l.Name, Shape: l.Shape, U: l.Contribution(), DOF: l.DOF})
		}
	}
	return Simulate(inputs, func(x []float64) float64 {
		y := value
		for _, v := range x {
			y += v
		}
		return y
	}, draws, seed)
}

// Sample is the outcome of a simulation.
type Sample struct {
	values []float64
}

// NewSample takes over values as a sample.
func NewSample(values []float64) *Sample { return &Sample{values: values} }

// Len is the number of draws.
func (s *Sample) Len() int { return len(s.values) }

// Mean is the average of the draws, JCGM 101 eq. (16).
func (s *Sample) Mean() float64 {
	var sum float64
	for _, v := range s.values {
		sum += v
	}
	return sum / float64(len(s.values))
}

// SD is the standard deviation of the draws, JCGM 101 eq. (17).
func (s *Sample) SD() float64 {
	m := s.Mean()
	var sum float64
	for _, v := range s.values {
		sum += (v - m) * (v - m)
	}
	return math.Sqrt(sum / float64(len(s.values)-1))
}

// Symmetric is the interval that leaves the same share of draws out at each end,
// JCGM 101 7.7.2. It reorders the draws.
func (s *Sample) Symmetric(confidence float64) (lo, hi float64) {
	m := len(s.values)
	q := s.inside(confidence)
	r := (m - q) / 2
	return Nth(s.values, r), Nth(s.values, min(r+q, m-1))
}

// Shortest is the shortest interval that holds the share of draws asked for, JCGM 101
// 5.3.4 and 7.7.4. It reorders the draws.
func (s *Sample) Shortest(confidence float64) (lo, hi float64) {
	m := len(s.values)
	q := s.inside(confidence)
	// Only the lowest and the highest m−q draws can be ends: the middle stays unsorted.
	tail := m - q
	if 2*tail >= m {
		slices.Sort(s.values)
	} else {
		Nth(s.values, tail)
		Nth(s.values[tail:], m-2*tail)
		slices.Sort(s.values[:tail])
		slices.Sort(s.values[m-tail:])
	}
	best := math.Inf(1)
	for r := range tail {
		if w := s.values[r+q] - s.values[r]; w < best {
			best, lo, hi = w, s.values[r], s.values[r+q]
		}
	}
	return lo, hi
}

// inside is the number of draws between the ends of an interval.
func (s *Sample) inside(confidence float64) int {
	m := len(s.values)
	q := int(math.Floor(confidence*float64(m) + 0.5))
	return min(max(q, 1), m-1)
}

// AgreesWith is the validation of JCGM 101 clause 8: the ends of the budget's interval
// value ± U and of the simulated one differ by no more than delta, half a unit in the
// last of digits significant digits of u. It reports the larger difference and delta.
func AgreesWith(value, expanded, u, lo, hi float64, digits int) (agrees bool, difference, delta float64) {
	difference = math.Max(math.Abs(value-expanded-lo), math.Abs(value+expanded-hi))
	if !(u > 0) || math.IsInf(u, 1) {
		return false, difference, math.NaN()
	}
	// u = c × 10^l with c a whole number of `digits` digits; delta = ½·10^l.
	l := math.Floor(math.Log10(u)) - float64(digits-1)
	delta = 0.5 * math.Pow(10, l)
	return difference <= delta, difference, delta
}
