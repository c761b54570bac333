package shaft

import (
	"math"

	"phasewright/shaft/roles"
	"phasewright/shaft/sums"
	"phasewright/shaft/terms"
	"phasewright/waveform"
)

// describeAlone says what a single wire with spark pulses shows where there is no crank signal: speed, how even it is,
// missing sparks, dwell. nil where there are pulses on no channel, or on several.
func describeAlone(facts *terms.Facts, ps []*roles.Profile, channels []waveform.Channel) *Alone {
	only := -1
	for i, p := range ps {
		if p.Usable {
			if only >= 0 {
				return nil
			}
			only = i
		}
	}
	if only < 0 {
		return nil
	}
	p := ps[only]
	pulse := p.Edges(p.NarrowHigh)
	if len(pulse) < 6 {
		return nil
	}
	width := 1e3 * math.Min(p.High, p.Low) // ms
	a := &Alone{Channel: p.Name, PerCycle: 1, Because: "a clamp on one wire gives one pulse in two turns", DwellMS: nan}
	if width >= 0.3 && width < 20 && p.GrowthKnown && p.Growth < 0.5 {
		a.DwellMS = Number(width)
		if facts.Cylinders > 0 {
			a.PerCycle, a.Because = float64(facts.Cylinders),
				"a coil driver gives a pulse for each cylinder in two turns"
		}
	}
	var gaps []float64
	for i := 1; i < len(pulse); i++ {
		gaps = append(gaps, float64(pulse[i]-pulse[i-1]))
	}
	lo, hi, time, turned := math.Inf(1), 0.0, 0.0, 0.0
	var change []float64
	for i, g := range gaps {
		near := sums.Median(gaps[max(0, i-3):min(len(gaps), i+4)])
		if !(g > 0) || !(near > 0) {
			continue // two pulses at the same time
		}
		k := math.Max(1, math.Round(g/near)) // the gap is k intervals long: k−1 sparks did not come
		a.Lost += int64(k) - 1
		time += g
		turned += k
		n := 120 * k / (a.PerCycle * g)
		lo, hi = math.Min(lo, n), math.Max(hi, n)
		if i > 0 && k == 1 && gaps[i-1] > 0 {
			change = append(change, math.Abs(g/gaps[i-1]-1))
		}
	}
	if turned == 0 || hi > mostRPM {
		return nil
	}
	a.Speed = Speeds{lo, 120 * turned / (a.PerCycle * time), hi}
	if a.Uneven = 100 * sums.Median(change); math.IsNaN(a.Uneven) {
		a.Uneven = 0
	}
	return a
}
