package roles

import (
	"math"
	"slices"

	"phasewright/waveform"
)

const (
	spikeLonger = 6.0     // whole pulses last so many times longer than spikes, at the least (assumed)
	spikeMost   = 0.25e-3 // seconds; no spike lasts longer (assumed): 15° of crank pass in that at 10,000 rpm
	spikeAmong  = 16      // states of one level that are judged together with half as many on either side
	spikeWhole  = 0.85    // this share of them, in order of length, may be spikes before a whole one is met
)

// state is a stretch of one level: from one edge to the next of the other kind.
type state struct {
	at    waveform.Second
	lasts float64 // seconds
	high  bool
}

// withoutSpikes leaves out what crossfire and noise put into a channel: states far shorter than others of the same
// level near by. A clamp's pulses are all short, and stay.
func withoutSpikes(rise, fall []waveform.Second) (r, f []waveform.Second) {
	states, shortest := statesBetween(rise, fall)
	if shortest >= spikeMost {
		return rise, fall
	}
	bound := map[bool][]float64{false: spikeBounds(states, false), true: spikeBounds(states, true)}
	seen := map[bool]int{}
	spike := func(s state) bool {
		seen[s.high]++
		return s.lasts < bound[s.high][(seen[s.high]-1)/spikeAmong]
	}
	var begun waveform.Second
	open, known, level := false, false, false
	for _, s := range states {
		if !open {
			begun, open = s.at, true // a whole state after spikes begins where the first of them did
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
		open = false
	}
	return r, f
}

// statesBetween are the states between the edges, the last without an end, and how long the shortest lasts.
func statesBetween(rise, fall []waveform.Second) (states []state, shortest float64) {
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
			states[n-1].lasts = float64(s.at - states[n-1].at)
			shortest = math.Min(shortest, states[n-1].lasts)
		}
		states = append(states, s)
	}
	return states, shortest
}

// spikeBounds is what a state of one level must last not to be a spike, for every spikeAmong of them.
func spikeBounds(states []state, high bool) []float64 {
	var widths []float64
	for _, s := range states {
		if s.high == high {
			widths = append(widths, s.lasts)
		}
	}
	var bounds []float64
	for i := 0; i < len(widths); i += spikeAmong {
		from := max(0, min(i-spikeAmong/2, len(widths)-2*spikeAmong))
		v := slices.Clone(widths[from:min(from+2*spikeAmong, len(widths))])
		slices.Sort(v)
		bounds = append(bounds, math.Min(spikeMost, v[int(spikeWhole*float64(len(v)-1))]/spikeLonger))
	}
	return bounds
}

// Quiet leaves spikes out of a channel that rings, as its edges come: a change of level counts where it lasts at least
// as long as no spike does, and then from the first edge of the ringing before it.
type SpikeFilter struct {
	level, raw, known bool
	open              bool            // edges since the last whole state
	begun, at         waveform.Second // the first and the last of them
	edges             int
	wholeBegan        waveform.Second
	whole             [2]waveform.Second // how long the last whole low and high state lasted; 0: none yet
}

// LevelChange is what a channel that rings has come to.
type LevelChange struct {
	At      waveform.Second
	High    bool // the level
	Changed bool // it is another one than before
	Spikes  bool // spikes came with it
}

// Edge takes an edge, after Settle was asked up to its time.
func (q *SpikeFilter) Edge(at waveform.Second, high bool) {
	if !q.open {
		q.begun, q.open, q.edges = at, true, 0
	}
	q.raw, q.at = high, at
	q.edges++
}

// Settle gives what has become certain by now; false where nothing has.
func (q *SpikeFilter) Certain(now waveform.Second) (s LevelChange, ok bool) {
	if !q.open || now-q.at < q.bound() {
		return s, false
	}
	q.open = false
	s = LevelChange{At: q.begun, High: q.raw, Changed: !q.known || q.raw != q.level, Spikes: q.edges > 1}
	if s.Changed {
		if q.known {
			i := 0
			if q.level {
				i = 1
			}
			q.whole[i] = q.begun - q.wholeBegan
		}
		q.level, q.known, q.wholeBegan = q.raw, true, q.begun
	}
	return s, true
}

// bound is how long a state must last to be no spike.
func (q *SpikeFilter) bound() waveform.Second {
	b := waveform.Second(spikeMost)
	for _, w := range q.whole {
		if w > 0 {
			b = min(b, w/spikeLonger)
		}
	}
	return b
}
