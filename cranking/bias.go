package cranking

import (
	"math"
	"slices"

	"phasewright/quantity"
)

// Bias is what cranking does to the timing shown on wire 1 when every setting is right: shown − commanded, early
// positive.
type Bias struct {
	Mean quantity.Crank // middle of the band; not the likeliest value
	Half quantity.Crank // half-width of the band that holds nine in ten of the sets of unknowns
	Best quantity.Crank // with the values as stated or assumed, the likeliest
	Runs int            // sets of unknowns that turned the engine
	Lost int            // sets with which it would not turn over compression
}

// Spread is how far the quantities that nobody measures may lie from what the Setup says. Factors are relative, the
// rest absolute.
type Spread struct {
	Inertia   float64 // factor either way, as likely above as below: 2 is half to double
	Friction  float64 // ± share: cold and thick, or warm and thin
	Speed     float64 // ± share of the mean cranking speed: battery and temperature
	Index     float64 // ± of both polytropic indices: leaking or tight
	Inlet     float64 // ± share of inlet pressure
	Stiffest  float64 // starter: no-load speed over mean cranking speed, least
	Softest   float64 // and most
	Reflected float64 // armature inertia through the gear: from nought to this many kg·m²
	Leak      float64 // past rings and valves: from nought to this many mm² at a bore of 100 mm, as the bore grows
}

// DefaultSpread is assumed: no source gives it (Constants has the values). Ranges are meant as limits, wide enough for
// an engine nobody has measured.
func DefaultSpread() Spread {
	return Spread{Inertia: inertiaUnknown, Friction: frictionSpread, Speed: speedSpread, Index: indexSpread,
		Inlet: inletSpread, Stiffest: stiffest, Softest: softest, Reflected: reflectedMost, Leak: leakMost}
}

// Bias predicts from the torque balance what the light will show while cranking, less what is commanded, and how far
// that may be off for the things that nobody measures.
//
// The band holds the middle nine tenths of 128 sets of unknowns spread evenly through the ranges (Halton points), of
// those that turn. It fails where the starter would not turn the engine with the values
// as stated.
func (s Setup) Bias(spread Spread) (Bias, error) {
	if err := s.Validate(); err != nil {
		return Bias{}, err
	}
	form := newShape(s.Engine)
	crank := func(v *Setup, like *steadyState) (steadyState, *Turning, error) {
		t := form.train(v.Engine, v.Starter.Reflected)
		m, err := t.findSteady(v.Engine, v.Starter.Stiffness, like)
		if err != nil {
			return m, nil, err
		}
		return m, t.record(m, t.Period), nil
	}
	first, turn, err := crank(&s, nil)
	if err != nil {
		return Bias{}, err
	}
	b := Bias{Best: s.BiasOn(turn), Runs: 1}
	const sets = 128
	all := make([]quantity.Crank, 0, sets)
	for i := 1; i <= sets; i++ {
		v := s
		share := func(base int, half float64) float64 { return 1 + half*(2*halton(i, base)-1) }
		v.Engine.Inertia *= quantity.Inertia(math.Pow(max(spread.Inertia, 1), 2*halton(i, 2)-1))
		rough := share(3, spread.Friction)
		v.Engine.Friction *= quantity.Pressure(rough)
		v.Engine.FrictionSlope *= rough
		v.Engine.CrankingSpeed *= quantity.Speed(share(5, spread.Speed))
		index := spread.Index * (2*halton(i, 7) - 1)
		v.Engine.CompressionIndex += index
		v.Engine.ExpansionIndex += index
		v.Engine.InletPressure *= quantity.Pressure(share(11, spread.Inlet))
		v.Starter.Stiffness = spread.Stiffest + (spread.Softest-spread.Stiffest)*halton(i, 13)
		v.Starter.Reflected = quantity.Inertia(spread.Reflected * halton(i, 17))
		v.Engine.Leak = spread.Leak * halton(i, 19) * float64(s.Engine.Bore) / 100
		_, turn, err := crank(&v, &first)
		if err != nil {
			b.Lost++
			continue
		}
		b.Runs++
		all = append(all, v.BiasOn(turn))
	}
	low, high := b.Best, b.Best
	if n := len(all); n > 0 {
		slices.Sort(all)
		low, high = min(low, quantile(all, 0.05)), max(high, quantile(all, 0.95))
	}
	b.Mean, b.Half = (low+high)/2, (high-low)/2
	return b, nil
}

// quantile is the value below which a share of sorted values lies, between neighbours in a straight line.
func quantile(sorted []quantity.Crank, share float64) quantity.Crank {
	at := min(max(share*float64(len(sorted)+1)-1, 0), float64(len(sorted)-1))
	i := min(int(at), len(sorted)-1)
	j := min(i+1, len(sorted)-1)
	return sorted[i] + (sorted[j]-sorted[i])*quantity.Crank(at-float64(i))
}

// BiasOn is the timing error of cylinder 1 on a steady turning when delay and allowance cancel: the spark comes
// T·(L−a)/spacing after the active edge, T being the last interval.
func (s Setup) BiasOn(t *Turning) quantity.Crank {
	lead, a := float64(s.Lead), float64(s.Advance)
	spacing := float64(s.Engine.Intervals[s.Engine.Cylinders-1]) // from the last firing to cylinder 1's
	edge := t.When(-lead)
	last := edge - t.When(-lead-spacing)
	at := t.Where(edge + last*(lead-a)/spacing)
	return quantity.Crank(-at - a)
}

// halton is the i-th point of the radical-inverse sequence in a prime base, 0 ≤ h < 1 (Halton 1960).
func halton(i, base int) float64 {
	h, f := 0.0, 1.0
	for ; i > 0; i /= base {
		f /= float64(base)
		h += f * float64(i%base)
	}
	return math.Min(h, 1)
}
