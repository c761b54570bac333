package edges

import (
	"math"

	"phasewright/estimate"
	"phasewright/waveform/block"
)

// histogramBins is how finely state levels are told apart: 1/4096 of the range.
const histogramBins = 4096

// histogram counts values by height. Each bin keeps its own extremes, so that a level is read off the values
// themselves, not off a bin's centre.
type histogram struct {
	lo, hi float64
	n      int64
	bins   [histogramBins]bin
}

type bin struct {
	n              int64
	least, largest float64
}

// newHistogram counts the finite values of the segments.
func newHistogram(segs [][]float64) *histogram {
	h := &histogram{lo: math.Inf(1), hi: math.Inf(-1)}
	for _, s := range segs {
		for _, x := range s {
			if !block.Finite(x) {
				continue
			}
			if x < h.lo { // less work than min and max, which also put NaN and -0 in their places
				h.lo = x
			}
			if x > h.hi {
				h.hi = x
			}
		}
	}
	if h.lo > h.hi {
		return h
	}
	scale := 0.0
	if r := h.hi - h.lo; r > 0 {
		scale = (histogramBins - 1e-6) / r
	}
	for _, s := range segs {
		for _, x := range s {
			if !block.Finite(x) {
				continue
			}
			b := &h.bins[min(max(int((x-h.lo)*scale), 0), histogramBins-1)]
			if b.n == 0 {
				b.least, b.largest = x, x
			}
			if x < b.least {
				b.least = x
			} else if x > b.largest {
				b.largest = x
			}
			b.n++
			h.n++
		}
	}
	return h
}

// at gives the bin of a value.
func (h *histogram) at(x float64) int {
	if h.hi <= h.lo {
		return 0
	}
	return min(max(int((x-h.lo)/(h.hi-h.lo)*histogramBins), 0), histogramBins-1)
}

// between counts values from a to b, bins whole.
func (h *histogram) between(a, b float64) (n int64) {
	if b < h.lo || a > h.hi {
		return 0
	}
	for i := h.at(a); i <= h.at(b); i++ {
		n += h.bins[i].n
	}
	return n
}

// quantile gives the value below which a share q of the counts lies, among bins from..to.
func (h *histogram) quantile(q float64, from, to int) float64 {
	var total int64
	for i := from; i <= to; i++ {
		total += h.bins[i].n
	}
	if total == 0 {
		return math.NaN()
	}
	want := int64(q * float64(total-1))
	for i := from; i <= to; i++ {
		b := &h.bins[i]
		if want < b.n {
			if b.n == 1 {
				return b.least
			}
			return b.least + (b.largest-b.least)*float64(want)/float64(b.n-1)
		}
		want -= b.n
	}
	return h.hi
}

// mode is the fullest stretch of bins of the given width among from..to, lowest first among equals; its middle value
// (median) is the state level.
func (h *histogram) mode(from, to, width int) (level float64, count int64) {
	width = max(1, min(width, to-from+1))
	var sum, best int64
	at := from
	for i := from; i <= to; i++ {
		sum += h.bins[i].n
		if i-from >= width {
			sum -= h.bins[i-width].n
		}
		if i-from >= width-1 && sum > best {
			best, at = sum, i-width+1
		}
	}
	return h.quantile(0.5, at, at+width-1), best
}

// states finds the two state levels by IEEE 181's histogram method: the range between the outermost values is split in
// halves, and the mode of each half is a level. trim leaves out that share of the values at either end first, against
// single spikes.
func (h *histogram) states(trim float64) (low, high float64, ok bool) {
	lo, hi := h.lo, h.hi
	if trim > 0 {
		lo, hi = h.quantile(trim, 0, histogramBins-1), h.quantile(1-trim, 0, histogramBins-1)
	}
	if !(hi > lo) {
		return 0, 0, false
	}
	a, b := h.at(lo), h.at(hi)
	if b-a < 3 {
		return h.quantile(0.5, a, (a+b)/2), h.quantile(0.5, (a+b)/2+1, b),
			h.bins[a].n > 0 && h.bins[b].n > 0
	}
	m := (a + b) / 2
	width := max(1, (b-a)/24)
	low, nl := h.mode(a, m, width)
	high, nh := h.mode(m+1, b, width)
	return low, high, nl > 0 && nh > 0 && high > low
}

// spread is half the distance between the 16 % and 84 % quantiles of the values within a quarter amplitude of a level:
// the standard deviation, for normal noise.
func (h *histogram) spread(level, amplitude float64) float64 {
	a, b := h.at(level-amplitude/4), h.at(level+amplitude/4)
	return (h.quantile(0.84135, a, b) - h.quantile(0.15865, a, b)) / 2
}

// roughness is the standard deviation of white noise that would give the typical bend between three neighbours: the
// median of |a - 2b + c| over 0.6745·√6. Slopes do not count, and steps are too few to matter.
func roughness(segs [][]float64) float64 {
	total := 0
	for _, s := range segs {
		total += len(s)
	}
	skip := max(1, total/65536)
	d := make([]float64, 0, total/skip+len(segs))
	for _, s := range segs {
		for i := 2; i < len(s); i += skip {
			if x := math.Abs(s[i] - 2*s[i-1] + s[i-2]); block.Finite(x) {
				d = append(d, x)
			}
		}
	}
	if len(d) == 0 {
		return 0
	}
	return estimate.Nth(d, len(d)/2) / (0.6745 * math.Sqrt(6))
}
