package roles

import (
	"math"
	"slices"

	"phasewright/shaft/sums"
	"phasewright/waveform"
)

// Train describes trains: several pulses close together for one firing, from a controller that gives several sparks, or
// from a clamp whose wire rings. The first pulse is the one that was timed.
//
//	──|─|─|────────────────|─|─|─────────▸ time    trains of three pulses
//	  ├─┤ spacing          │
//	  ├──── one firing ────┤
type Train struct {
	Gap     waveform.Second // a pulse that begins sooner after another belongs to its train; 0: no trains
	Pulses  float64         // mean number of pulses in a train; firings with one pulse do not count
	Spacing waveform.Second // median time between them
	Share   float64         // share of the firings that are trains
}

const (
	trainLongest = 4e-3 // seconds; the pulses of a train are no farther apart (assumed: usual are 0.2 to 2 ms)
	trainApart   = 2.5  // firings are at least so many times farther apart than the pulses of a train
	trainClear   = 6.0  // with so many times, the pulses need not be evenly spaced: a wire that rings
	trainFewest  = 6    // fewer trains are not believed
)

// withoutTrains finds trains and leaves out all but the first pulse of each.
//
// Where there are trains, the times between pulses fall into two groups with nothing between them; the shorter ones are
// at most trainLongest and about equally long at any speed.
func withoutTrains(rise, fall []waveform.Second) (r, f []waveform.Second, t Train) {
	states, _ := statesBetween(rise, fall)
	if len(states) < 4*trainFewest {
		return rise, fall, t
	}
	high := shorterHigh(states)
	var starts []waveform.Second
	for _, s := range states {
		if s.high == high {
			starts = append(starts, s.at)
		}
	}
	gaps := make([]float64, 0, len(starts))
	for i := 1; i < len(starts); i++ {
		gaps = append(gaps, float64(starts[i]-starts[i-1]))
	}
	cut := trainCut(gaps)
	if cut == 0 {
		return rise, fall, t
	}
	trains, pulses, firings := 0, 0, 1
	var within []float64
	run := 1
	for i, g := range append(gaps, math.Inf(1)) {
		if g < cut {
			run++
			within = append(within, g)
			continue
		}
		if run > 1 {
			trains++
			pulses += run
		}
		if run = 1; i < len(gaps) {
			firings++
		}
	}
	if trains < trainFewest || float64(trains) < 0.05*float64(firings) {
		return rise, fall, t
	}
	t = Train{Gap: waveform.Second(cut), Pulses: float64(pulses) / float64(trains),
		Spacing: waveform.Second(sums.Median(within)),
		Share:   float64(trains) / float64(firings)}
	last := waveform.Second(math.Inf(-1))
	drop := false
	for i, s := range states {
		if s.high == high {
			drop = float64(s.at-last) < cut
			last = s.at
		} else if i == 0 {
			drop = false
		}
		if drop {
			continue
		}
		if s.high {
			r = append(r, s.at)
		} else {
			f = append(f, s.at)
		}
	}
	return r, f, t
}

// shorterHigh says whether the high states are the pulses: in more places than not they are shorter than the low state
// after them.
func shorterHigh(states []state) bool {
	votes := 0
	for i := 0; i+2 < len(states); i++ {
		if states[i].lasts < states[i+1].lasts == states[i].high {
			votes++
		} else {
			votes--
		}
	}
	return votes >= 0
}

// trainCut is a time that lies between the gaps within trains and those between firings, their geometric mean; 0 where
// there are no two such groups.
func trainCut(gaps []float64) float64 {
	v := slices.Clone(gaps)
	slices.Sort(v)
	for i := len(v) - 2; i >= 0; i-- {
		if v[i] > trainLongest || v[i+1] < trainApart*v[i] {
			continue
		}
		short := v[:i+1]
		middle, sd := sums.Spread(short)
		even := v[i] < 2.5*middle && sd < 0.35*middle
		if len(short) < trainFewest || !even && v[i+1] < trainClear*v[i] {
			return 0
		}
		return math.Sqrt(v[i] * v[i+1])
	}
	return 0
}
