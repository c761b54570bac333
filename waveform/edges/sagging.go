package edges

import (
	"math"
	"slices"
)

const (
	sagLeast = 0.3  // of the usual height: what is lower is crosstalk (assumed)
	sagNear  = 1.15 // pulses that reach the threshold by no more than this are taken with those that do not
	sagRuns  = 4    // low pulses in a row, at the least
)

// A supply that sags on the starter lowers a whole stretch of pulses: pulled-up pickups, a driver, and most of all a
// coil's current. Levels learnt from the whole recording would call them runts (IEEE 181) and drop them. They are told
// from true runts, noise and crosstalk by coming many in a row, alike, with no full pulse among them, each lasting
// about as long as a full one or longer.

// pulseSeen is one way up and back, whole.
type pulseSeen struct {
	height float64
	lasts  int // samples
}

// sagging is the height of the least pulses that belong to a sagging stretch, 0 for none. seen are the pulses of all
// surveyed stretches; those lower than bound are lost now.
func sagging(seen []pulseSeen, bound, full float64) float64 {
	var low, alike []float64
	var lowLasts, fullLasts []int
	changes, longest, run := 0, 0, 0
	for i, p := range seen {
		lost := p.height < bound
		if i > 0 && lost != (seen[i-1].height < bound) {
			changes++
		}
		if !lost {
			run = 0
			fullLasts = append(fullLasts, p.lasts)
			continue
		}
		if run++; run > 1 {
			before := seen[i-1].height
			alike = append(alike, min(before, p.height)/max(before, p.height))
		}
		longest = max(longest, run)
		low, lowLasts = append(low, p.height), append(lowLasts, p.lasts)
	}
	if longest < sagRuns || changes*sagRuns/2 > len(low) || len(fullLasts) == 0 {
		return 0
	}
	slices.Sort(low)
	slices.Sort(alike)
	slices.Sort(lowLasts)
	slices.Sort(fullLasts)
	if alike[len(alike)/2] < 0.85 || 2*lowLasts[len(lowLasts)/2] < fullLasts[len(fullLasts)/2] {
		return 0
	}
	return max(low[len(low)/20], sagLeast*full)
}

// dwellsBetween says whether values stand between two levels for longer than edges last, so that it is worth looking
// for sagging pulses: a quick look, as most channels hold none.
func (f Finding) dwellsBetween(h *histogram, start []float64) bool {
	const often = 500 // one in so many
	a := f.high - f.low
	lo, hi := f.low+a/4, f.high-a/4
	if h.between(lo, hi)*often > h.n {
		return true
	}
	n := 0
	for _, x := range start {
		if x > lo && x < hi {
			n++
		}
	}
	return n*often > len(start)
}

// lowered looks for sagging pulses between two levels, which a detector with the usual share of hysteresis loses, and
// says how far from the level that holds they go. It is above nought where the low level holds, below where the high
// one does.
func lowered(segs [][]float64, f Finding, noise float64) float64 {
	a := f.high - f.low
	least := max(sagLeast*a, 8*noise)
	if least >= a/2 {
		return 0
	}
	for _, up := range []bool{true, false} {
		var seen []pulseSeen
		for _, s := range segs {
			seen = pulsesSeen(seen, s, f, least, up)
		}
		if h := sagging(seen, min(sagNear*(0.5+f.share), 0.95)*a, a); h > 0 {
			if up {
				return h
			}
			return -h
		}
	}
	return 0
}

// byOneLevel accepts pulses whose height changes all the while, so that there are no two levels, where one level holds
// between them and each is as high as the one before, nearly.
func byOneLevel(segs [][]float64, h *histogram, noise float64) (Finding, bool) {
	f := spanLevels(h, noise)
	a := f.high - f.low
	least := max(sagLeast*a, 8*noise)
	for _, up := range []bool{true, false} {
		level := f.low
		if !up {
			level = f.high
		}
		if least >= a/2 || 10*h.between(level-a/12, level+a/12) < 3*h.n {
			continue
		}
		var seen []pulseSeen
		for _, s := range segs {
			seen = pulsesSeen(seen, s, f, least, up)
		}
		if len(seen) < 2*sagRuns {
			continue
		}
		var heights, alike []float64
		for i, p := range seen {
			heights = append(heights, p.height)
			if i > 0 {
				alike = append(alike, min(p.height, seen[i-1].height)/max(p.height, seen[i-1].height))
			}
		}
		slices.Sort(heights)
		slices.Sort(alike)
		if alike[len(alike)/10] < 0.85 {
			continue
		}
		f.lesser = heights[len(heights)/20]
		if !up {
			f.lesser = -f.lesser
		}
		return f, true
	}
	return f, false
}

// pulsesSeen adds the whole pulses that leave the low level, or with up false the high one, by more than least.
func pulsesSeen(seen []pulseSeen, v []float64, f Finding, least float64, up bool) []pulseSeen {
	sign, from := 1.0, f.low
	if !up {
		sign, from = -1, f.high
	}
	at, peak := -1, 0.0
	whole := false // the stretch begins at rest
	for i, x := range v {
		h := sign * (x - from)
		switch {
		case at < 0 && h > least/2:
			at, peak = i, h
		case at >= 0 && h < least/4:
			if whole && peak >= least {
				seen = append(seen, pulseSeen{peak, i - at})
			}
			at, whole = -1, true
		case at >= 0:
			peak = max(peak, h)
		default:
			whole = true
		}
	}
	return seen
}

// lesserSteps looks for sagging pulses by their steps, and says how high the least are, 0 for none. surveyed is where
// the greatest step is taken from.
func lesserSteps(segs, surveyed [][]float64, span int, noise float64) float64 {
	full := greatestChange(surveyed, span)
	limit := 0.9 * max(sagLeast*full, 12*noise)
	if limit >= full/2 {
		return 0
	}
	var seen []pulseSeen
	for _, s := range segs {
		run, sign, lasts := 0.0, 0.0, 0
		for i := span; i < len(s); i++ {
			change := s[i] - s[i-span]
			d := math.Abs(change)
			if math.IsInf(d, 0) {
				continue
			}
			if run > 0 && (d < limit || change*sign < 0) { // straight back: a spike
				seen = append(seen, pulseSeen{run, lasts})
				run, lasts = 0, 0
			}
			if d >= limit {
				run, sign = max(run, d), change
			} else {
				lasts++
			}
		}
	}
	return sagging(seen, 0.75*full, full)
}
