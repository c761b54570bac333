package roles

import (
	"math"
	"slices"

	"phasewright/waveform"
)

const (
	spikeLonger = 6.0     // a whole state lasts at least so many times longer than a spike (assumed)
	spikeMost   = 0.25e-3 // seconds; no spike lasts longer (assumed): 15° of crank pass in that at 10,000 rpm
	spikeAmong  = 16      // so many states of one level are judged together, with half as many on either side
	spikeWhole  = 0.85    // of those, in order of length, this share may be spikes and the next one is whole
)

// state is a stretch at one level, from one edge to the next of the other kind.
type state struct {
	at    waveform.Second
	lasts float64 // seconds
	high  bool
}

// withoutSpikes leaves out the edges that crossfire and noise put into a channel: states far shorter than others of the
// same level around them. A clamp's pulses are all equally short, and stay.
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
			begun, open = s.at, true // a whole state after spikes begins where the first spike began
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

// statesBetween are the states between the edges, and how long the shortest one lasts. The last one has no end and
// lasts +Inf.
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
				continue // two edges of the same kind: the one between them dropped out
			}
			states[n-1].lasts = float64(s.at - states[n-1].at)
			shortest = math.Min(shortest, states[n-1].lasts)
		}
		states = append(states, s)
	}
	return states, shortest
}

// spikeBounds is how long a state of one level must last not to be a spike: one bound for every spikeAmong of them, a
// spikeLonger-th of the length of a whole one, spikeMost at the most.
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

// SpikeFilter leaves spikes out of a channel that rings, edge by edge. A new level counts once it has lasted longer
// than any spike; it then counts from the first edge of the ringing before it:
//
//	recorded  ____|‾|_|‾|_|‾‾‾‾‾‾‾‾‾‾‾‾
//	read      ____|‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾‾    known once the last state has lasted long enough
type SpikeFilter struct {
	level, raw, known bool
	open              bool            // edges came since the last whole state
	begun, at         waveform.Second // times of the first and the last of them
	edges             int
	wholeBegan        waveform.Second
	whole             [2]waveform.Second // by level, low first: how long its last whole state lasted; 0: none yet
}

// LevelChange is what has become certain of a channel that rings.
type LevelChange struct {
	At      waveform.Second
	High    bool // the level
	Changed bool // it differs from the level before
	Spikes  bool // spikes came before it
}

// Edge takes an edge. Call Certain with its time first.
func (q *SpikeFilter) Edge(at waveform.Second, high bool) {
	if !q.open {
		q.begun, q.open, q.edges = at, true, 0
	}
	q.raw, q.at = high, at
	q.edges++
}

// Certain gives what has become certain at the time now; false where nothing new has.
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

// bound is how long a state must last not to be a spike.
func (q *SpikeFilter) bound() waveform.Second {
	b := waveform.Second(spikeMost)
	for _, w := range q.whole {
		if w > 0 {
			b = min(b, w/spikeLonger)
		}
	}
	return b
}
