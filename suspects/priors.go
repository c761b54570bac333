package suspects

import (
	"fmt"
	"math"
)

// Priors are the odds before anything was seen. All figures in DefaultPriors are our judgement, without a published
// source.
type Priors struct {
	Nothing float64             // chance that nothing is wrong though somebody asks
	None    float64             // chance that it is none of our faults
	Pair    float64             // chance of two faults at once, of what is left
	Weight  [faultCount]float64 // how common each is among single faults, relative
	// standard deviation of the free size of a fault, base units; a large straight fault has three times that
	Size [faultCount]float64
}

// DefaultPriors are our judgement of what a shop meets after an ignition was fitted: what is set by hand is most often
// wrong.
func DefaultPriors() Priors {
	p := Priors{Nothing: 0.2, None: 0.01, Pair: 0.22}
	p.Weight = [faultCount]float64{
		housing: 14, lead: 6, allowance: 6, delay: 12, damper: 6, edge: 3, stroke: 4, tooth: 3, wires: 5, tower: 2,
		rotor: 3, lock: 5, unstored: 4, dial: 3, flashes: 2,
		lightDelay: 2, polarity: 2, leads: 2, pickup: 3, camPickup: 2, noise: 3, crossfire: 2, worn: 3, wobble: 1.5,
		lash: 2, clamp: 3, dwell: 2, supply: 3, vane: 1, misread: 4,
		deadCoil: 4, orderTable: 1.5, coilPolarity: 1.5, brush: 2.5, track: 2.5, wireFire: 2.5, heat: 3, setUp: 3,
		gap:         2,
		cylinderOne: 2, advance: 1.5, drop: 3, charging: 2.5, ballast: 1.5, camEdge: 2, chain: 1.5, connector: 4,
		camNoise: 1.5, plug: 4, plugWire: 3, injector: 3, fuel: 5}
	p.Size = [faultCount]float64{
		housing: 2, lead: 4, allowance: 70, delay: 110, damper: 6, unstored: 50, dial: 5, lightDelay: 100, wobble: 1.5,
		vane: 1, clamp: 0.8, supply: 1.5, dwell: 500, rotor: 6}
	return p
}

// Work is what was just worked on: it makes some faults likelier.
type Work string

// works says which faults each kind of work brings and how much likelier they become; our judgement.
var works = []struct {
	work  Work
	by    float64
	bring []int
}{
	{"unit", 3, []int{housing, tooth, stroke, rotor, leads, clamp, camEdge, advance, gap}},
	{"housing", 6, []int{housing, clamp}},
	{"wires", 5, []int{wires, tower, crossfire, wireFire, plugWire, cylinderOne}},
	{"settings", 3, []int{lead, allowance, unstored, edge, lock, dwell, setUp, orderTable, camEdge}},
	{"light", 3, []int{dial, flashes, misread, lightDelay}},
	{"pickups", 3, []int{polarity, leads, pickup, camPickup, edge, noise, gap, setUp, camEdge, connector, camNoise}},
	{"damper", 4, []int{damper}},
	{"cap", 3, []int{rotor, tower, crossfire, wires, brush, track}},
	{"coil", 3, []int{dwell, supply, noise, deadCoil, coilPolarity, ballast, drop}},
	{"drive", 3, []int{worn, wobble, lash, tooth, stroke, vane, chain}},
	{"plugs", 4, []int{plug, plugWire, wires}},
	{"wiring", 3, []int{connector, drop, leads, pickup, camPickup, noise, camNoise, coilPolarity, ballast,
		polarity}},
	{"fuel", 5, []int{fuel, injector}},
	{"chain", 5, []int{chain, tooth, stroke, camEdge}},
	{"battery", 4, []int{supply, drop, charging}},
}

func workWords() []string {
	var out []string
	for _, w := range works {
		out = append(out, string(w.work))
	}
	return out
}

// after gives the weights once work was done.
func (p Priors) after(done []string) [faultCount]float64 {
	w := p.Weight
	for _, d := range done {
		for _, row := range works {
			if string(row.work) == d {
				for _, k := range row.bring {
					w[k] *= row.by
				}
			}
		}
	}
	return w
}

// check says what cannot be in priors that somebody wrote.
func (p Priors) check() error {
	for k, w := range p.Weight {
		if !(w >= 0) || math.IsInf(w, 0) {
			return fmt.Errorf("priors: weight of %s – %g is no weight – write a number from 0 up", names()[k], w)
		}
	}
	if !(p.Nothing >= 0) || !(p.None > 0) || !(p.Pair >= 0) || p.Nothing+p.None >= 1 || p.Pair >= 1 {
		return fmt.Errorf("priors: nothing %g, none %g, pair %g – are no chances – write shares of 1, none above 0, "+
			"nothing and none together below 1", p.Nothing, p.None, p.Pair)
	}
	return nil
}
