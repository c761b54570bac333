package edges

import (
	"math"
	"slices"
	"sync/atomic"

	"phasewright/beside"
	"phasewright/waveform/block"
)

// Finding is what a survey says of a channel: how its edges are to be found. Values are in the channel's unit.
type Finding struct {
	Method    block.Method
	low, high float64
	noise     float64
	share     float64 // ByLevels: half the hysteresis, as a share of the amplitude
	// lesser is the height of the least pulses where the supply sags, 0 where all are alike; by levels it counts from
	// the low one up, or below nought from the high one down.
	lesser    float64
	step      float64 // ByChanges
	span      int     // ByChanges: samples over which a change counts
	zero      float64 // ByZeroCrossing: the resting value
	floor     float64 // ByZeroCrossing: least arming level
	ramp      bool    // ByLevels: a saw-tooth
	oneSided  bool    // ByChanges: the steps go one way, and the signal comes back slowly (a saw-tooth)
	uneven    float64 // ByLevels: spread of the values about their level, as a share of the amplitude
	active    block.EdgeKind
	quietLow  float64 // MethodNone: while the values stay between these there is nothing to learn
	quietHigh float64
}

// Hint says what is known of a channel beforehand.
type Hint struct {
	Method block.Method // asked for by the user
	AC     bool         // from a sound card: no DC
	Held   bool         // a value holds until the next: no slopes to time
	Logic  bool         // its values are logic states
	Start  []float64    // the recording's beginning, whole; nil: the survey has it
}

// JudgeAll judges every channel, on so many goroutines.
func JudgeAll(segs [][][]float64, Hints []Hint, workers int) []Finding {
	finds := make([]Finding, len(Hints))
	var next atomic.Int64
	beside.All(min(workers, len(Hints)), func(int) {
		for i := next.Add(1) - 1; i < int64(len(Hints)); i = next.Add(1) - 1 {
			finds[i] = judge(segs[i], Hints[i])
		}
	})
	return finds
}

const minShare = 0.2 // of the amplitude on either side of the middle

// judge chooses the method for a channel from sampled stretches of it. Two levels come first, since they tell a runt
// from a pulse; where the values about a level wander far more than neighbours differ (droop, drift), steps are the
// truer instants.
func judge(segs [][]float64, h Hint) Finding {
	hist := newHistogram(segs)
	f := Finding{Method: block.MethodNone, low: math.NaN(), high: math.NaN(), noise: math.NaN(), quietLow: hist.lo,
		quietHigh: hist.hi}
	if hist.n == 0 {
		f.quietLow, f.quietHigh = math.Inf(1), math.Inf(-1)
		return f
	}
	f.noise = roughness(segs)
	if h.Method == block.ByState || (h.Method == block.MethodAuto && h.Logic) {
		f.Method, f.low, f.high, f.noise = block.ByState, 0, 1, 0
		return f
	}
	if hist.lo == hist.hi {
		f.noise = 0
		return f.quiet()
	}
	levels, levelsOK := byHistogram(hist)
	steps, stepsOK := bySteps(segs, hist, f.noise, 0)
	swings, swingsOK := bySwings(segs, hist, f.noise)
	sags := !levelsOK || levels.dwellsBetween(hist, h.Start)
	if sags && (stepsOK || !swingsOK) { // a reluctance pickup's swings grow all the while
		if l := lesserSteps(withStart(segs, h.Start), segs, steps.span, f.noise); l > 0 {
			if low, ok := bySteps(segs, hist, f.noise, l); ok {
				steps, stepsOK = low, true
			}
		}
	}
	switch h.Method {
	case block.ByLevels:
		if !levelsOK {
			levels = spanLevels(hist, f.noise)
		}
		return levels
	case block.ByChanges:
		if h.Held {
			return spanLevels(hist, f.noise)
		}
		return steps
	case block.ByZeroCrossing:
		return swings
	case block.MethodNone:
		return f.quiet()
	}
	truer := stepsOK && !steps.oneSided && !h.Held // where levels wander
	switch {
	case stepsOK && steps.oneSided && !levelsOK:
		// a coil's current: a slow charge and a sharp end are the two edges of a pulse
		tooth := spanLevels(hist, f.noise).sag(withStart(segs, h.Start), f.noise, h.AC)
		tooth.ramp = true
		return tooth
	case h.AC && stepsOK && !steps.oneSided:
		return steps
	case levelsOK && truer && steps.lesser > 0:
		return steps // each is timed half-way between its own levels
	case levelsOK && !(truer && levels.uneven > 0.03 && levels.uneven > 3*f.noise/(levels.high-levels.low)):
		if !sags {
			return levels
		}
		return levels.sag(withStart(segs, h.Start), f.noise, false)
	case stepsOK && !h.Held:
		return steps
	case swingsOK:
		return swings
	}
	if one, ok := byOneLevel(segs, hist, f.noise); ok {
		return one
	}
	return f.quiet()
}

// withStart are the surveyed stretches, the beginning first.
func withStart(segs [][]float64, start []float64) [][]float64 {
	if start == nil {
		return segs
	}
	return append([][]float64{start}, segs...)
}

// sag lowers the levels where stretches of pulses are lower than the rest. fromZero: without direct voltage the resting
// level sinks as pulses come closer together; slow ones, which are the low ones, rest at zero.
func (f Finding) sag(segs [][]float64, noise float64, fromZero bool) Finding {
	g := f
	if fromZero && f.low < 0 && f.high > 0 {
		g.low = 0
	}
	if g.lesser = lowered(segs, g, noise); g.lesser == 0 {
		return f
	}
	return g
}

// thresholds are the levels between which edges are found.
func (f Finding) thresholds() (low, high float64) {
	switch {
	case f.lesser > 0:
		return f.low, f.low + f.lesser
	case f.lesser < 0:
		return f.high + f.lesser, f.high
	}
	return f.low, f.high
}

// quiet marks a channel as without usable signal; it is learnt anew when it leaves the range seen so far by half of
// that range, and by six times the noise.
func (f Finding) quiet() Finding {
	mid := f.quietLow + (f.quietHigh-f.quietLow)/2
	margin := max((f.quietHigh-f.quietLow)/2, 6*f.noise, 1e-9*math.Abs(mid))
	f.quietLow -= margin
	f.quietHigh += margin
	return f
}

// Bits says which of 0, 1 and other values stand in the segments.
func Bits(segs [][]float64) (zero, one, other bool) {
	for _, s := range segs {
		for _, x := range s {
			zero = zero || x == 0
			one = one || x == 1
			other = other || x != 0 && x != 1
		}
	}
	return
}

// byHistogram accepts two state levels when the signal is rarely between them: values near the middle must be three
// times rarer than near either level, and the amplitude at least six times the spread about the levels.
func byHistogram(h *histogram) (Finding, bool) {
	for _, trim := range []float64{0.002, 0} {
		low, high, ok := h.states(trim)
		if !ok {
			continue
		}
		a := high - low
		near := a / 10
		nLow, nHigh := h.between(low-near, low+near), h.between(high-near, high+near)
		nMid := h.between(low+a/2-near, low+a/2+near)
		sl, sh := h.spread(low, a), h.spread(high, a)
		s := max(sl, sh)
		if a < 6*s || nLow < 3*nMid || nHigh < 3*nMid {
			continue
		}
		return Finding{Method: block.ByLevels, low: low, high: high, noise: pooled(h, low, high, sl, sh),
			share: min(max(minShare, 4*s/a), 0.4), uneven: s / a}, true
	}
	return Finding{Method: block.MethodNone}, false
}

// pooled weighs the noise about the two levels by how long each was held.
func pooled(h *histogram, low, high, sl, sh float64) float64 {
	mid := low + (high-low)/2
	nl, nh := float64(h.between(h.lo, mid)), float64(h.between(mid, h.hi))
	return math.Sqrt((nl*sl*sl + nh*sh*sh) / (nl + nh))
}

// spanLevels takes the 1 % and 99 % quantiles as levels: for a channel on which the user insists.
func spanLevels(h *histogram, noise float64) Finding {
	lo, hi := h.quantile(0.01, 0, histogramBins-1), h.quantile(0.99, 0, histogramBins-1)
	if !(hi > lo) {
		lo, hi = h.lo, h.hi
	}
	return Finding{Method: block.ByLevels, low: lo, high: hi, noise: noise, share: minShare}
}

// bySteps accepts steps when they are quick, few and alike: the change over a few samples is either small or large,
// seldom between. lesser is the height of the least of them where the supply sags, 0 where all are alike.
func bySteps(segs [][]float64, h *histogram, noise, lesser float64) (Finding, bool) {
	f := Finding{Method: block.ByChanges, noise: noise, low: math.NaN(), high: math.NaN(), span: 4,
		step: (h.hi - h.lo) / 4}
	widest := greatestChange(segs, 32)
	quick := false
	for _, span := range []int{1, 2, 4, 8, 16} {
		// twice as long as most of the edge, so that the levels before and after it are both in the span
		if f.span = 2 * span; greatestChange(segs, span) >= 0.9*widest {
			quick = span <= 8
			break
		}
	}
	limit := greatestChange(segs, f.span) / 2
	if lesser > 0 {
		f.lesser, limit = lesser, lesser/2
	}
	peaks, ups, big, middling, total := stepPeaks(segs, f.span, limit)
	if len(peaks) == 0 {
		return f, false
	}
	f.oneSided = 4*ups < len(peaks) || 4*ups > 3*len(peaks)
	slices.Sort(peaks)
	typical := peaks[len(peaks)/2]
	f.step = typical / 2
	if f.lesser > 0 {
		f.step = min(f.step, f.lesser/2)
	}
	f.low, f.high = -typical/2, typical/2
	ok := len(peaks) >= 2 && typical >= 12*noise && typical >= 0.1*(h.hi-h.lo) && big*3 <= total && middling <= big &&
		quick
	return f, ok
}

func greatestChange(segs [][]float64, span int) (m float64) {
	for _, s := range segs {
		for i := span; i < len(s); i++ {
			if d := math.Abs(s[i] - s[i-span]); d > m && !math.IsInf(d, 0) {
				m = d
			}
		}
	}
	return m
}

// stepPeaks gives the greatest change of each run above limit, how many of them go up, and counts samples above it and
// between a half of it and it.
func stepPeaks(segs [][]float64, span int, limit float64) (peaks []float64, ups, big, middling, total int) {
	if limit <= 0 {
		return
	}
	for _, s := range segs {
		run := 0.0
		for i := span; i < len(s); i++ {
			change := s[i] - s[i-span]
			d := math.Abs(change)
			total++
			if d >= limit {
				if big++; run == 0 && change > 0 {
					ups++
				}
				run = max(run, d)
				continue
			}
			if d >= limit/2 {
				middling++
			}
			if run > 0 {
				peaks = append(peaks, run)
				run = 0
			}
		}
		if run > 0 {
			peaks = append(peaks, run)
		}
	}
	return
}

// bySwings accepts a bipolar signal that swings to both sides of its resting value, well above the noise.
func bySwings(segs [][]float64, h *histogram, noise float64) (Finding, bool) {
	zero := h.quantile(0.5, 0, histogramBins-1)
	lo, hi := h.quantile(0.002, 0, histogramBins-1), h.quantile(0.998, 0, histogramBins-1)
	f := Finding{Method: block.ByZeroCrossing, noise: noise, zero: zero, low: lo, high: hi}
	swing := min(h.hi-zero, zero-h.lo)
	f.floor = max(8*noise, 0.02*(h.hi-h.lo))
	if lo < 0 && hi > 0 && math.Abs(zero) < 0.1*(hi-lo) {
		f.zero = 0 // a pickup's own zero, not the median of an uneven wave
	}
	var up, down float64 // steepest way through zero in either direction, summed over crossings
	var ups, downs int
	for _, s := range segs {
		for i := 1; i < len(s); i++ {
			a, b := s[i-1]-f.zero, s[i]-f.zero
			switch {
			case a < 0 && b >= 0 && b-a > 4*noise:
				up += b - a
				ups++
			case a > 0 && b <= 0 && a-b > 4*noise:
				down += a - b
				downs++
			}
		}
	}
	f.active = block.Rise
	if downs > 0 && (ups == 0 || down/float64(downs) > up/float64(ups)) {
		f.active = block.Fall
	}
	ok := swing > 0.15*(h.hi-h.lo) && swing > 12*noise && ups+downs >= 2 &&
		likeness(segs, f.zero, max(6*noise, 0.02*(h.hi-h.lo))) > 0.75
	return f, ok
}

// likeness tells swings of a turning wheel from noise: the median ratio of neighbouring swings of one polarity beyond
// a floor. Teeth in a row swing alike, even while speed changes; independent swings of noise have a median ratio near
// 0.6. 1 when there are too few to tell.
func likeness(segs [][]float64, zero, floor float64) float64 {
	var ratios []float64
	for _, sign := range []float64{1, -1} {
		for _, s := range segs {
			before, peak := 0.0, 0.0
			for _, raw := range s {
				if x := sign * (raw - zero); x > 0 {
					peak = max(peak, x)
				} else if peak > 0 {
					if peak > floor {
						if before > 0 {
							ratios = append(ratios, min(before, peak)/max(before, peak))
						}
						before = peak
					}
					peak = 0
				}
			}
		}
	}
	if len(ratios) < 4 {
		return 1
	}
	slices.Sort(ratios)
	return ratios[len(ratios)/2]
}
