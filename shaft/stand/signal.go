package stand

import (
	"math"
	"math/rand/v2"
	"slices"

	"phasewright/waveform"
)

// span is a time for which a signal is in its active state, seconds.
type span struct{ on, off float64 }

// wire is one channel in the making: where it changes state, in order.
type wire struct {
	name, role string
	high       bool // state before the first change
	flips      []float64
	unit       string
	method     waveform.Method
	ramp       bool
	active     waveform.EdgeKind
}

// newWire lays spans on a wire; overlapping spans become one. upright: the active state is high.
func newWire(role string, upright bool, spans []span) wire {
	slices.SortFunc(spans, func(a, b span) int {
		if a.on < b.on {
			return -1
		}
		return 1
	})
	w := wire{role: role, high: !upright}
	for _, s := range spans {
		if s.off <= s.on {
			continue
		}
		if n := len(w.flips); n > 0 && s.on <= w.flips[n-1] {
			w.flips[n-1] = math.Max(w.flips[n-1], s.off)
			continue
		}
		w.flips = append(w.flips, s.on, s.off)
	}
	return w
}

// flip adds a short pulse against whatever state the wire is in.
func (w *wire) flip(at, width float64) { w.flips = append(w.flips, at, at+width) }

// cut keeps what lies from one time to another.
func (w *wire) cut(from, to float64) {
	slices.Sort(w.flips)
	i, _ := slices.BinarySearch(w.flips, from)
	j, _ := slices.BinarySearch(w.flips, to)
	if i%2 == 1 {
		w.high = !w.high
	}
	w.flips = slices.Clone(w.flips[i:max(i, j)])
}

// sampled is the wire as a recorder sees it that looks every dt seconds: each change stands at the next look, and what
// comes and goes between two looks is not seen.
func (w *wire) sampled(dt float64) {
	if dt <= 0 {
		return
	}
	var kept []float64
	for _, t := range w.flips {
		at := math.Ceil(t/dt) * dt
		if n := len(kept); n > 0 && kept[n-1] == at {
			kept = kept[:n-1]
			continue
		}
		kept = append(kept, at)
	}
	w.flips = kept
}

// edges joins wires to a recording's channels and edges in order of time, equal times in order of channel.
func edges(wires []wire, from float64) ([]waveform.Channel, []waveform.Edge) {
	var chans []waveform.Channel
	var es []waveform.Edge
	for i, w := range wires {
		c := waveform.Channel{Name: w.name, Kind: waveform.Digital, Method: waveform.ByState, Low: 0, High: 1,
			Ramp: w.ramp, Active: w.active}
		if w.unit != "" {
			c.Kind, c.Unit, c.Method, c.High = waveform.Analog, w.unit, waveform.ByLevels, 5
			if w.method != waveform.MethodAuto {
				c.Method = w.method
			}
		}
		first := waveform.FoundLow
		if w.high {
			first = waveform.FoundHigh
		}
		es = append(es, waveform.Edge{At: waveform.Second(from), Channel: int32(i), Kind: first})
		up := !w.high
		for _, t := range w.flips {
			k := waveform.Fall
			if up {
				k = waveform.Rise
				c.Rises++
			} else {
				c.Falls++
			}
			es = append(es, waveform.Edge{At: waveform.Second(t), Channel: int32(i), Kind: k})
			up = !up
		}
		chans = append(chans, c)
	}
	slices.SortStableFunc(es, func(a, b waveform.Edge) int {
		switch {
		case a.At < b.At:
			return -1
		case a.At > b.At:
			return 1
		}
		return int(a.Channel - b.Channel)
	})
	return chans, es
}

// chance gives random figures to the classes; one for each case, so that a case never depends on another.
type chance struct{ *rand.Rand }

func (r chance) between(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
func (r chance) whole(lo, hi int) int           { return lo + r.IntN(hi-lo+1) }
func (r chance) one(p float64) bool             { return r.Float64() < p }

func pick[T any](r chance, of ...T) T { return of[r.IntN(len(of))] }

// logBetween is spread evenly over the logarithm.
func (r chance) logBetween(lo, hi float64) float64 {
	return math.Exp(r.between(math.Log(lo), math.Log(hi)))
}
