package shaft

import (
	"math"
	"slices"
)

const (
	spikeLonger = 6.0     // whole pulses last so many times longer than spikes, at the least (assumed)
	spikeMost   = 0.25e-3 // no spike lasts longer (assumed): a vane of 15° of crank passes in that at 10,000 rpm
	spikeAmong  = 16      // states of one level that are judged by themselves and their neighbours, half as many on either side
	spikeWhole  = 0.85    // this share of them, in order of length, may be spikes before a whole one is met
)

// state is a stretch of one level: from one edge to the next of the other kind.
type state struct {
	at, lasts float64
	high      bool
}

// withoutSpikes leaves out what crossfire and noise put into a channel, so that its role can be told from the rest: states far shorter than others of the same level
// near by. A clamp's pulses are all short, and stay. The edges themselves go on to the tracker as they are.
func withoutSpikes(rise, fall []float64) (r, f []float64) {
	states, shortest := levels(rise, fall)
	if shortest >= spikeMost {
		return rise, fall
	}
	var bound [2][]float64 // of low, of high, for every so many states
	for k := range bound {
		bound[k] = spikeBounds(states, k == 1)
	}
	r, f = make([]float64, 0, len(rise)), make([]float64, 0, len(fall))
	var seen [2]int
	spike := func(s state) bool {
		k := 0
		if s.high {
			k = 1
		}
		seen[k]++
		return s.lasts < bound[k][(seen[k]-1)/spikeAmong]
	}
	begun, known, level := math.NaN(), false, false
	for _, s := range states {
		if math.IsNaN(begun) {
			begun = s.at // a whole state after spikes begins where the first of them did
		}
		if spike(s) {
			continue
		}
		if !known || s.high != level {
			if s.high {
				r = append(r, begun)
			} else {
				f = append(f, begun)
			}
			known, level = true, s.high
		}
		begun = math.NaN()
	}
	return r, f
}

// levels are the states between the edges, the last without an end, and how long the shortest lasts.
func levels(rise, fall []float64) (states []state, shortest float64) {
	states = make([]state, 0, len(rise)+len(fall))
	shortest = math.Inf(1)
	for i, j := 0, 0; i < len(rise) || j < len(fall); {
		s := state{high: j == len(fall) || i < len(rise) && rise[i] <= fall[j], lasts: math.Inf(1)}
		if s.high {
			s.at = rise[i]
			i++
		} else {
			s.at = fall[j]
			j++
		}
		if n := len(states); n > 0 {
			if states[n-1].high == s.high {
				continue // an edge of the other kind is not there: a dropout
			}
			states[n-1].lasts = s.at - states[n-1].at
			shortest = math.Min(shortest, states[n-1].lasts)
		}
		states = append(states, s)
	}
	return states, shortest
}

// spikeBounds is what a state of one level must last not to be a spike, for every spikeAmong of them.
func spikeBounds(states []state, high bool) []float64 {
	widths := make([]float64, 0, len(states)/2+1)
	for _, s := range states {
		if s.high == high {
			widths = append(widths, s.lasts)
		}
	}
	var bounds []float64
	var near [2 * spikeAmong]float64
	for i := 0; i < len(widths); i += spikeAmong {
		from := max(0, min(i-spikeAmong/2, len(widths)-len(near)))
		v := near[:copy(near[:], widths[from:])]
		slices.Sort(v)
		bounds = append(bounds, math.Min(spikeMost, v[int(spikeWhole*float64(len(v)-1))]/spikeLonger))
	}
	return bounds
}
