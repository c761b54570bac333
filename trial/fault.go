package trial

import (
	"math"
	"slices"

	"phasewright/bench"
	"phasewright/quantity"
)

// sizes are the least and the largest of each fault that is drawn, in base units; drawn evenly over the logarithm, so
// that small ones come as often as large ones. Either way where both is set. Assumed: from what hardly matters to what
// nobody overlooks. What stands in no row has one size.
var sizes = map[string]struct {
	least, most float64
	both        bool
}{
	"housing": {0.3, 9, true}, "lead": {0.5, 14, true}, "allowance": {20, 300, true}, "delay": {20, 300, true},
	"damper": {0.6, 10, true}, "dial": {1, 20, false}, "lightdelay": {30, 400, false}, "rotor": {7, 30, true},
	"unstored": {20, 200, true}, "noise": {0.005, 0.3, false}, "crossfire": {0.02, 0.7, false}, "worn": {0.4, 4, false},
	"wobble": {0.4, 5, false}, "lash": {0.2, 2, false}, "clamp": {0.2, 4, false}, "vane": {0.4, 2.5, true},
	"misread": {0.1, 0.4, false}, "supply": {1, 6, false}, "tooth": {1, 2, true}, "tower": {1, 2, true},
}

// size draws the size of a fault on an engine.
func (d dice) size(name string, c bench.Config) float64 {
	s, drawn := sizes[name]
	v := d.logBetween(s.least, s.most)
	if s.both {
		v *= d.sign()
	}
	switch name {
	case "allowance", "unstored":
		v = max(v, -float64(c.Controller.Allowance))
		return float64(c.Controller.Step) * math.Round(v/float64(c.Controller.Step))
	case "delay":
		return max(v, 5-float64(c.Crank.Delay))
	case "tooth", "tower":
		return math.Round(v)
	case "supply":
		return -v
	case "dwell":
		return d.between(-0.8, 0.4) * float64(c.Controller.Dwell)
	case "wires":
		n := c.Engine.Cylinders
		if n < 3 || d.one(0.3) {
			return 1
		}
		a := 1 + d.IntN(n)
		b := 1 + (a+d.IntN(n-1))%n
		return float64(100*min(a, b) + max(a, b))
	}
	if !drawn {
		return 1
	}
	return v
}

// job is one engine as it came into the shop.
type job struct {
	*built
	seed   uint64
	f      bench.Faults // what is wrong, and what a careful set-up leaves
	faults []string     // names of what is wrong
	truth  truth
}

// newJob draws an engine with the faults of these names; none is sound but for what a careful set-up leaves: housing
// within 0.1°, allowance within half a step, the mark within half of what the card states. Who looked at everything has
// proven the mark within 0.2° and written it on the card, unless it slipped; of the others, one in three within 0.4°.
// His engine has a cam pickup: without one, no recording tells its cylinders apart. All assumed.
func newJob(seed uint64, kind Kind, names ...string) (*job, error) {
	var want []bench.Fault
	for _, n := range names {
		r, _ := bench.FindFault(n)
		want = append(want, r)
	}
	d := roll(seed, 0xfa17)
	need := needs{cam: kind == Full}
	switch stated := d.one(0.33); {
	case slices.Contains(names, "damper"):
	case kind == Full:
		need.zero = 0.2
	case stated:
		need.zero = 0.4
	}
	b, err := build(seed, need, want...)
	if err != nil {
		return nil, err
	}
	j := &job{built: b, seed: seed, faults: names}
	f := &j.f
	f.Housing = quantity.Shaft(d.between(-0.1, 0.1))
	f.Delay = quantity.Time(d.between(-0.5, 0.5)) * b.c.Controller.Step
	f.Damper = quantity.Crank(d.between(-0.5, 0.5)) * b.card.Damper.ZeroMark
	for _, r := range want {
		v := d.size(r.Name, b.c)
		if slices.Contains([]string{"housing", "delay", "damper"}, r.Name) {
			v += r.Size(*f)
		}
		r.Set(f, v)
	}
	if err := f.Check(b.c); err != nil {
		return nil, err
	}
	// Who checked light and mark and wrote it on the card did so before this fault came, or there is none.
	if slices.ContainsFunc(names, func(n string) bool { return n == "dial" || n == "flashes" || n == "lightdelay" }) {
		b.card.Light.Checked = "no"
	}
	j.truth = b.truth(*f)
	return j, nil
}
