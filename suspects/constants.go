package suspects

import (
	"slices"
	"strings"

	"phasewright/bench"
	"phasewright/quantity"
)

// What a careful set-up by lamp, a proven mark and a known delay leave, one standard deviation each.
const (
	setUpLeaves   = 0.3  // of the tolerance
	tolerated     = 0.25 // of the tolerance, as a delay at the redline
	starterLeaves = 1.6  // degrees, of the foretold light while cranking
)

// where is what all of this room's numbers show on.
const where = "suspects"

// Constants are the numbers that a ranking rests on beside the evidence: the odds before anything was seen, how they
// become lines, the limits of what is measured, and the bench's limits of how an engine goes. The odds of a fault count
// against those of the other faults.
func Constants() []quantity.Constant {
	out := slices.Concat(chances(DefaultPriors()), lines(), bench.Constants(), weights(DefaultPriors()))
	for _, l := range limits() {
		out = append(out, l.Constant)
	}
	for _, w := range works {
		out = append(out, likelier(string(w.work), w.by))
	}
	return out
}

func chances(p Priors) []quantity.Constant {
	return []quantity.Constant{
		quantity.Assume("chance that nothing is wrong", p.Nothing, 0.05, 0.5, "", where),
		quantity.Assume("chance that it is none of the faults known here", p.None, 0.005, 0.1, "", where),
		quantity.Assume("chance of two faults at once", p.Pair, 0.1, 0.4, "", where),
		quantity.Assume("what a careful set-up leaves", setUpLeaves, 0.1, 0.6, "of the tolerance", where),
		quantity.Assume("what a known delay leaves at the redline", tolerated, 0.1, 0.7, "of the tolerance", where),
		quantity.Assume("what a foretold light while cranking leaves", starterLeaves, 0.5, 3, "°", where),
	}
}

// lines are the numbers by which the odds become the lines of a ranking.
func lines() []quantity.Constant {
	return []quantity.Constant{
		quantity.Assume("power of the odds, above 1, where much was looked at", mostSharper, 1.6, 3,
			"", where).From("fitted to cases written by hand"),
		quantity.Assume("looks that half of it is added at", halfSharp, 4, 12, "looks", where).
			From("fitted to cases written by hand"),
		quantity.Assume("power of the odds that the judge weighs by", careful, 1.2, 2, "", where).
			From("fitted to cases written by hand"),
		quantity.Assume("what a second fault must explain for both to be named", needed, 1.5, 4, "nats", where),
		quantity.Assume("odds within which what cannot be told apart stands together", together, 1.5, 3, "to one",
			where),
		quantity.Assume("share of the odds that settles the matter", settles, 0.9, 0.99, "", where),
	}
}

// limit is where a measured number passes from one word to the next, for the looks at some keys of the evidence.
type limit struct {
	quantity.Constant
	keys []string
}

// limits are common practice without a published source.
func limits() []limit {
	at := func(name string, value, low, high float64, unit string, keys ...string) limit {
		return limit{quantity.Assume(name, value, low, high, unit, where), keys}
	}
	return []limit{
		at("drop from battery to coil that is too high", feedDropMost, 0.3, 0.8, "V", "battery.feed_drop"),
		at("drop in the ground that is too high", groundDropMost, 0.2, 0.5, "V", "battery.ground_drop"),
		at("supply at the coil that is full", coilFullShare, 0.8, 0.93, "of the card's", "battery.coil",
			"battery.coil_running"),
		at("pulse of a pickup that is weak", weakPulse, 0.3, 1.2, "V", "pickup.crank_pulse", "pickup.cam_pulse"),
		at("gap of a pickup that is wide", wideGap, 1.2, 2, "mm", "pickup.crank_gap", "pickup.cam_gap"),
		at("idle speed lost where a cylinder that works is cut", pullsFrom, 10, 40, "rpm", "cylinders.cut_drop"),
		at("length that a good spark jumps", longJump, 4, 8, "mm", "cylinders.jump"),
		at("resistance of a plug wire that is too high", highWire, 20e3, 50e3, "Ω", "cylinders.wire"),
		at("resistance of a rotor that is too high", highRotor, 8e3, 25e3, "Ω", "rotor.resistance"),
		at("resistance of a secondary that is open", openWinding, 50e3, 500e3, "Ω", "coil.secondary"),
		at("play from crank to rotor that is some", somePlay, 2, 4, "° of the crank", "rotor.from_crank"),
		at("play from crank to rotor that is large", largePlay, 5, 10, "° of the crank", "rotor.from_crank"),
		at("cam edge too near a crank edge", nearEdge, 3, 10, "° of the crank", "capture.cam_margin"),
	}
}

func weights(p Priors) []quantity.Constant {
	out := make([]quantity.Constant, len(p.Weight))
	names := names()
	for k, w := range p.Weight {
		out[k] = quantity.Assume("odds of "+names[k], w, w/3, 3*w, "", where)
	}
	return out
}

func likelier(work string, by float64) quantity.Constant {
	return quantity.Assume("work on "+work+" makes its faults likelier by", by, by/2, 2*by, "times", where)
}

// restsOn says in words what of this a ranking rests on: of the odds, those of the faults that lead it. Odds that
// somebody wrote for his shop are his.
func (e *Engine) restsOn(r *Result, seen []item, done []string) []string {
	const leading = 4
	list := slices.Concat(chances(e.priors), lines(), bench.Constants())
	for _, l := range limits() {
		if slices.ContainsFunc(seen, func(it item) bool { return slices.Contains(l.keys, it.key) }) {
			list = append(list, l.Constant)
		}
	}
	all := weights(e.priors)
	for _, s := range r.Suspects[:min(leading, len(r.Suspects))] {
		for _, f := range s.Faults {
			if k := slices.IndexFunc(e.faults[:], func(x fault) bool { return x.name == f }); k >= 0 {
				list = append(list, all[k])
			}
		}
	}
	for _, w := range works {
		if slices.Contains(done, string(w.work)) {
			list = append(list, likelier(string(w.work), w.by))
		}
	}
	ours := Constants()
	var out []string
	for _, k := range list {
		i := slices.IndexFunc(ours, func(o quantity.Constant) bool { return o.Name == k.Name })
		if ours[i].Value != k.Value {
			k = quantity.Constant{Name: k.Name, Value: k.Value, Unit: k.Unit}.From("as this shop has it")
		}
		if said := strings.TrimSpace(k.Said()); !slices.Contains(out, said) {
			out = append(out, said)
		}
	}
	return out
}
