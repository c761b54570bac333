package suspects_test

import (
	"math"
	"math/rand/v2"

	"phasewright/bench"
)

// frequencies of faults in the drawn shop: how often each comes; invented, near what a shop meets.
var often = map[string]float64{"housing": 14, "lead": 6, "allowance": 6, "delay": 12, "damper": 6, "edge": 3, "stroke": 4, "tooth": 3, "wires": 5, "tower": 2, "rotor": 3, "lock": 5,
	"unstored": 4, "dial": 3, "flashes": 2, "lightdelay": 1.5, "polarity": 2, "leads": 2, "pickup": 3, "campickup": 2, "noise": 3, "crossfire": 2, "worn": 3, "wobble": 1.5,
	"lash": 2, "clamp": 3, "dwell": 2, "supply": 3, "vane": 1, "misread": 4}

// drawSize draws a size that matters on the engine.
func drawSize(name string, c bench.Config, rng *rand.Rand) float64 {
	between := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	either := func(a, b float64) float64 { return between(a, b) * float64(1-2*rng.IntN(2)) }
	switch name {
	case "housing":
		return either(1, 6)
	case "lead":
		return either(2, 10)
	case "allowance":
		v := either(50, 200)
		return math.Max(v, -float64(c.Controller.Allowance))
	case "delay":
		return between(60, 250)
	case "damper":
		return either(2, 8)
	case "tooth":
		return either(1, 1)
	case "wires":
		n := c.Engine.Cylinders
		if rng.IntN(3) == 0 {
			return 1
		}
		a := 1 + rng.IntN(n)
		b := 1 + (a+rng.IntN(n-1))%n
		return float64(100*min(a, b) + max(a, b))
	case "tower":
		return either(1, 1)
	case "rotor":
		return either(11, 24)
	case "unstored":
		return 20 * math.Round(either(2, 6))
	case "dial":
		return between(3, 15) // towards late only: a light cannot flash before its spark
	case "lightdelay":
		return between(80, 300)
	case "noise":
		return between(0.02, 0.15)
	case "crossfire":
		return between(0.15, 0.6)
	case "worn":
		return between(0.7, 2.5)
	case "wobble":
		return between(1, 3)
	case "lash":
		return between(0.5, 1.5)
	case "clamp":
		return between(0.5, 2)
	case "dwell":
		return -float64(c.Controller.Dwell) * between(0.5, 0.8)
	case "supply":
		return -between(2.5, 6)
	case "vane":
		return either(0.8, 1.5)
	case "misread":
		return 0.2
	}
	return 1
}

// drawn is an engine with what is wrong with it.
type sampleEngine struct {
	c     bench.Config
	f     bench.Faults
	names []string
	seed  uint64
}

// draw an engine with the named faults; false where they cannot be.
func drawEngine(seed uint64, names ...string) (sampleEngine, bool) {
	rng := rand.New(rand.NewPCG(seed, 4711))
	vr := rng.IntN(6) == 0
	for _, n := range names {
		vr = vr || n == "polarity"
	}
	d := sampleEngine{c: engineFor(seed, vr), names: names, seed: seed}
	for _, n := range names {
		r, _ := bench.FindFault(n)
		if !r.Fits(d.c) {
			return d, false
		}
		r.Set(&d.f, drawSize(n, d.c, rng))
	}
	return d, d.f.Check(d.c) == nil
}

// pickFault draws a name by frequency.
func pickFault(rng *rand.Rand) string {
	total := 0.0
	table := bench.FaultTable()
	for _, r := range table {
		total += often[r.Name]
	}
	u := rng.Float64() * total
	for _, r := range table {
		if u -= often[r.Name]; u < 0 {
			return r.Name
		}
	}
	return table[0].Name
}
