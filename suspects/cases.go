package suspects

import (
	"math"
	"slices"

	"phasewright/bench"
)

// variant is one way in which a fault may be there: a size, how far about it the size may lie (0: not at all), and its
// share of the fault.
type variant struct {
	size, sd, share float64
	inverted        bool
	at              int     // the cylinder that it sits on, the vane, the way that it swings; 0: none
	also            int     // a second shape that it moves numbers along
	alsoSD          float64 // and how far; 0: none
}

// variants of a fault on this engine. Straight faults have two normal widths about nought; the others a few sizes each,
// shares our judgement. hint is nil for a fault alone; for pairs it lists the cylinders that misfire, so that swapped
// wires are tried among them, and sizes are fewer.
func (e *Engine) variants(k int, hint []int) []variant {
	s := e.priors.Size[k]
	n := e.c.Engine.Cylinders
	switch k {
	case wobble: // any phase: a cosine and a sine, each of its own size; and wire 1 was set right by the light or not
		v := variant{sd: 1.1 * s, share: 0.5, also: acrossWave, alsoSD: 1.1 * s}
		set := v
		set.at = setRight
		return []variant{v, set}
	case vane: // any of them; the controller carries its error on to the next firing, or not
		var out []variant
		for at := 1; at <= n; at++ {
			out = append(out, variant{sd: 1.3 * s, share: 0.5 / float64(n), at: at},
				variant{sd: 1.3 * s, share: 0.5 / float64(n), at: alone + at})
		}
		return out
	case polarity:
		return []variant{{size: 1, sd: 1, share: 0.45}, {size: 1, sd: 6, share: 0.55, at: curved, also: polarityCurve,
			alsoSD: 4}}
	}
	if k == unstored { // somebody changed the allowance because there was a delay
		return []variant{{sd: s, share: 0.75, also: lateBefore, alsoSD: 80}, {sd: 3 * s, share: 0.25, also: lateBefore,
			alsoSD: 200}}
	}
	if isStraight(k) {
		return []variant{{sd: s, share: 0.75}, {sd: 3 * s, share: 0.25}}
	}
	if k >= benchFaults {
		return e.shopVariants(k, hint)
	}
	sizes := func(v ...float64) []variant {
		out := make([]variant, len(v))
		for i, x := range v {
			out[i] = variant{size: x, share: 1 / float64(len(v))}
		}
		return out
	}
	switch k {
	case edge:
		if e.vaneUnsure { // whether a vane stands high or low nobody wrote down: the other edge may lie either way
			return []variant{{size: 1, share: 0.35}, {size: 1, share: 0.3, inverted: true},
				{size: 1, share: 0.35, at: mirrored}}
		}
		return []variant{{size: 1, share: 0.6}, {size: 1, share: 0.4, inverted: true}}
	case tooth:
		out := make([]variant, 0, 4)
		for _, v := range []variant{{size: 1, share: 0.42}, {size: -1, share: 0.42}, {size: 2, share: 0.08},
			{size: -2, share: 0.08}} {
			v.also, v.alsoSD = turnedBack, 4
			out = append(out, v)
		}
		return out
	case wires:
		return e.wiring(hint)
	case tower:
		var out []float64
		for i := 1; i < n; i++ {
			v := i
			if v > n/2 {
				v -= n
			}
			out = append(out, float64(v))
		}
		v := sizes(out...)
		sum := 0.0
		for i := range v {
			if math.Abs(v[i].size) == 1 { // the next tower is the likeliest wrong one
				v[i].share *= 3
			}
			sum += v[i].share
		}
		for i := range v {
			v[i].share /= sum
		}
		return v
	case rotor: // what it does to the spark changes within a few degrees
		around := []variant{{size: 9, sd: 0.3 * s, share: 0.2}, {size: 12, sd: 0.3 * s, share: 0.25},
			{size: 15, sd: 0.3 * s, share: 0.2},
			{size: 18, sd: 0.3 * s, share: 0.15}, {size: 22, sd: 0.4 * s, share: 0.12},
			{size: 28, sd: 0.8 * s, share: 0.08}}
		if hint != nil {
			around = []variant{{size: 12, sd: 0.3 * s, share: 0.6}, {size: 18, sd: 0.3 * s, share: 0.4}}
		}
		var out []variant
		for _, v := range around {
			out = append(out, variant{size: v.size, sd: v.sd, share: v.share / 2},
				variant{size: -v.size, sd: v.sd, share: v.share / 2})
		}
		return out
	case dial: // a light can wait for the mark, not flash before the spark
		return []variant{{size: 5, sd: 0.6 * s, share: 0.6}, {size: 14, sd: 1.4 * s, share: 0.4}}
	case lightDelay:
		return []variant{{size: 100, sd: 0.5 * s, share: 0.6}, {size: 260, sd: s, share: 0.4}}
	case noise:
		return sizes(0.015, 0.05, 0.15)
	case crossfire:
		return sizes(0.1, 0.3, 0.6)
	case worn:
		return sizes(0.6, 1.2, 2.2)
	case lash:
		return []variant{{size: 0.5, sd: 0.25, share: 0.6}, {size: 1.2, sd: 0.6, share: 0.4}}
	case clamp:
		// it walks, and where it stood before anybody read it nobody knows
		return []variant{{size: 0.6, sd: 0.4, share: 0.53}, {size: 1.8, sd: s, share: 0.37},
			{size: 0.6, sd: 0.5, share: 0.1, also: turnedBack, alsoSD: 4}}
	case dwell:
		d := float64(e.c.Controller.Dwell)
		return []variant{{size: -0.45 * d, sd: 0.12 * d, share: 0.3}, {size: -0.7 * d, sd: 0.1 * d, share: 0.4},
			{size: d, sd: 0.4 * d, share: 0.3}}
	case supply:
		return []variant{{size: -2, sd: 0.7, share: 0.4}, {size: -4.5, sd: s, share: 0.6}}
	case misread:
		return sizes(0.15)
	}
	return sizes(1)
}

// Variants beside the cylinder or the vane of one.
const (
	alone    = 100 // a vane that moves its own spark and no other
	curved   = 1   // reversed wires move the light along another curve than the bench's
	mirrored = 1   // the other edge lies as far to the other side
)

// shopVariants are those of the faults that the bench does not have. For pairs a fault of one cylinder is tried on
// those that hint names, or on one that nobody looked at.
func (e *Engine) shopVariants(k int, hint []int) []variant {
	n := e.c.Engine.Cylinders
	if e.faults[k].one {
		share := 1 / float64(n)
		var out []variant
		left := 1.0
		try := func(share float64, at int, on ...int) {
			if hint == nil || slices.ContainsFunc(on, func(c int) bool { return slices.Contains(hint, c) }) {
				out = append(out, variant{share: share, at: at})
				left -= share
			}
		}
		if e.faults[k].neighbours && n > 2 {
			share *= 0.4
			order := e.c.Engine.FiringOrder
			for i, a := range order {
				b := order[(i+1)%n]
				try(0.6/float64(n), 100*min(a, b)+max(a, b), a, b)
			}
		}
		for at := 1; at <= n; at++ {
			try(share, at, at)
		}
		if left > 1e-9 {
			out = append(out, variant{share: left, at: n + 1})
		}
		return out
	}
	switch k {
	case heat:
		return []variant{{at: 0, sd: 0.5, share: 0.55}, {at: 1, sd: 4, share: 0.3}, {at: 2, sd: 0.5, share: 0.15}}
	case advance: // degrees at the end of the ramp, which ends at one of three shares of the redline
		return []variant{{size: 14, sd: 6, share: 0.4, at: 1}, {size: 14, sd: 6, share: 0.4, at: 2},
			{size: 14, sd: 6, share: 0.2, at: 3}}
	case chain: // stretched, or a tooth of some twenty out either way
		return []variant{{size: -4, sd: 2, share: 0.5}, {size: -18, sd: 3, share: 0.3}, {size: 18, sd: 3, share: 0.2}}
	case cylinderOne: // with its mark, which reads right then; or only the light's clamp on its wire
		out := []variant{{share: 0.6}}
		for at := 2; at <= n; at++ {
			out = append(out, variant{size: 1, share: 0.4 / float64(n-1), at: at})
		}
		return out
	case orderTable:
		if !coils(&e.c) {
			break
		}
		out := []variant{{share: 0.4}}
		for a := 1; a <= n; a++ {
			for b := a + 1; b <= n; b++ {
				out = append(out, variant{share: 0.6 / float64(n*(n-1)/2), at: 100*a + b})
			}
		}
		return out
	case charging:
		return []variant{{size: -2.6, sd: 0.8, share: 1}}
	}
	if ways := e.faults[k].ways; ways != nil {
		var out []variant
		for i := range ways {
			out = append(out, variant{size: 1, share: ways[i].share, at: i})
		}
		return out
	}
	return []variant{{size: 1, share: 1}}
}

// wiring lists wires walked the wrong way round and the pairs that may be swapped: all of them, or those among the
// cylinders that misfire.
func (e *Engine) wiring(hint []int) []variant {
	n := e.c.Engine.Cylinders
	out := []variant{{size: 1, share: 0.35}}
	var pairs []float64
	for a := 1; a <= n; a++ {
		for b := a + 1; b <= n; b++ {
			pairs = append(pairs, float64(100*a+b))
		}
	}
	in := func(c int) bool { return slices.Contains(hint, c) }
	total := float64(len(pairs))
	for _, p := range pairs {
		if hint == nil || len(hint) > 0 && len(hint) <= 4 && in(int(p)/100) && in(int(p)%100) {
			out = append(out, variant{size: p, share: 0.65 / total})
		}
	}
	if hint != nil && len(out) == 1 { // nothing points at a pair: one with wire 1 and one without stand for all
		out = append(out, variant{size: 102, share: 0.65 * 2 / float64(n)})
		if n > 3 {
			out = append(out, variant{size: 203, share: 0.65 * (1 - 2/float64(n))})
		}
	}
	if n < 3 { // walked the wrong way round changes nothing
		out = out[1:]
		if n < 2 {
			out = nil
		}
	}
	return out
}

// pick is a fault of a hypothesis with the variant of it.
type pick struct {
	k  int
	at int
	// size of a fault that the bench does not have
	size  float64
	stops bool // no spark at all, and it is not the bench's
}

// sitsOn says whether a fault of one cylinder, or of a pair (100·a + b), sits on this one.
func (p *pick) sitsOn(cylinder int) bool {
	return p.at == cylinder || p.at/100 == cylinder || p.at > 100 && p.at%100 == cylinder
}

// component is one hypothesis with one variant of each of its faults.
type component struct {
	in       set
	picks    []pick
	base     bench.Faults // sizes about which the free ones are counted
	inverted bool
	free     [mostFree]int // faults whose size is free about the base, or shapes
	sds      [mostFree]float64
	frees    int
	stops    bool       // one of its faults stops every spark, and is not the bench's
	rides    *component // the hypothesis without the faults that only words tell: its numbers are the same
	log      float64    // of the prior, then with the likelihood
	before   float64    // log of the prior
	weight   float64    // after the evidence
	num      float64    // log likelihood of the numbers
	post     *posterior // shared with those that ride on it
	nodes    []node     // of one that others ride on
	done     bool
}

// mostFree is how many sizes of a hypothesis may be free.
const mostFree = most - nuisances

// bases is a group of components with the same base: predictions of numbers are shared.
type bases struct {
	f        bench.Faults
	in       set
	picks    []pick
	inverted bool
	with     []*component
}

// single is a fault in one variant.
type single struct {
	k int
	v variant
}

// pick is the fault as a hypothesis holds it.
func (e *Engine) pick(o single) pick {
	f := &e.faults[o.k]
	return pick{o.k, o.v.at, o.v.size, o.k >= benchFaults && (f.stops || f.ways != nil && f.wayOf(o.v.at).stops)}
}

// same is what tells one variant of a fault from another, whatever its share.
func (o single) same() single {
	o.v.share = 0
	return o
}

// rides says whether only words tell of a fault, so that all numbers are as without it.
func (e *Engine) rides(k int) bool {
	switch k {
	case heat, advance, chain, cylinderOne, orderTable:
		return false
	}
	return k >= benchFaults && e.faults[k].moves == nil
}

// add puts a hypothesis into a group.
func (e *Engine) add(to *bases, log float64, os ...single) *component {
	c := &component{log: log, base: to.f, inverted: to.inverted}
	for _, o := range os {
		c.in |= of(o.k)
		c.picks = append(c.picks, e.pick(o))
		axis := o.k
		if o.k == polarity {
			axis = polarityShift
		}
		for _, x := range [...]struct {
			k  int
			sd float64
		}{{axis, o.v.sd}, {o.v.also, o.v.alsoSD}} {
			if x.sd > 0 && c.frees < mostFree {
				c.free[c.frees], c.sds[c.frees] = x.k, x.sd
				c.frees++
			}
		}
	}
	to.with = append(to.with, c)
	return c
}

// base is a group whose fixed sizes are those of some faults.
func (e *Engine) base(os ...single) bases {
	var b bases
	for _, o := range os {
		b.in |= of(o.k)
		b.picks = append(b.picks, e.pick(o))
		if o.k < benchFaults {
			e.table[o.k].Set(&b.f, clampSize(&e.table[o.k], o.v.size))
		}
		b.inverted = b.inverted || o.v.inverted
	}
	return b
}

// plan lists every hypothesis: nothing wrong, each fault, each pair. riders are those with faults that only words tell,
// beside the one that they ride on.
func (e *Engine) plan(done []string, misfire []int) (groups []bases, riders []*component) {
	w := e.priors.after(done)
	total, pairs := 0.0, 0.0
	for k := range faultCount {
		if !e.fits[k] {
			w[k] = 0
		}
		for a := range k {
			pairs += w[a] * w[k]
		}
		total += w[k]
	}
	p := e.priors
	lone := (1 - p.Nothing - p.None) * (1 - p.Pair)
	double := (1 - p.Nothing - p.None) * p.Pair
	if misfire == nil {
		misfire = []int{}
	}
	// Cases, straight ones and those that words tell; the same, fewer, for pairs.
	var fixed, few, free, freeFew, ride, rideFew []single
	for k := range faultCount {
		if w[k] == 0 {
			continue
		}
		all, some := e.variants(k, nil), e.variants(k, misfire)
		if k != wires && k != rotor && !e.faults[k].one && (e.faults[k].ways == nil || k == cylinderOne) {
			some = fewer(some)
		}
		for _, l := range []struct {
			of                []variant
			ride, free, fixed *[]single
		}{{all, &ride, &free, &fixed}, {some, &rideFew, &freeFew, &few}} {
			to := l.fixed
			if e.rides(k) {
				to = l.ride
			} else if isStraight(k) {
				to = l.free
			}
			for _, v := range l.of {
				*to = append(*to, single{k, v})
			}
		}
	}
	logS := func(a single) float64 { return math.Log(lone * w[a.k] / total * a.v.share) }
	logP := func(a, b single) float64 { return math.Log(double * w[a.k] * w[b.k] / pairs * a.v.share * b.v.share) }
	rider := func(on *component, log float64, os ...single) {
		c := &component{log: log, in: on.in, picks: slices.Clone(on.picks), base: on.base, inverted: on.inverted,
			free: on.free, sds: on.sds, frees: on.frees, rides: on}
		for _, o := range os {
			c.in |= of(o.k)
			c.picks = append(c.picks, e.pick(o))
			c.stops = c.stops || e.pick(o).stops
		}
		riders = append(riders, c)
	}
	zero := bases{}
	sound := e.add(&zero, math.Log(p.Nothing))
	for _, a := range ride {
		rider(sound, logS(a), a)
	}
	for i, a := range rideFew {
		for _, b := range rideFew[:i] {
			if a.k != b.k {
				rider(sound, logP(a, b), a, b)
			}
		}
	}
	ridden := func(on *component, a single) {
		for _, b := range rideFew {
			rider(on, logP(a, b), b)
		}
	}
	for _, a := range free {
		ridden(e.add(&zero, logS(a), a), a)
	}
	for i, a := range freeFew {
		for _, b := range freeFew[:i] {
			if a.k != b.k {
				e.add(&zero, logP(a, b), a, b)
			}
		}
	}
	groups = append(groups, zero)
	for _, a := range fixed {
		b := e.base(a)
		on := e.add(&b, logS(a), a)
		i := slices.IndexFunc(few, func(o single) bool { return o.same() == a.same() })
		if i >= 0 {
			ridden(on, few[i])
		}
		groups = append(groups, b)
	}
	for i, a := range few {
		b := e.base(a)
		for _, c := range freeFew {
			e.add(&b, logP(a, c), a, c)
		}
		groups = append(groups, b)
		for _, c := range few[:i] {
			if c.k == a.k {
				continue
			}
			bb := e.base(a, c)
			e.add(&bb, logP(a, c), a, c)
			groups = append(groups, bb)
		}
	}
	return groups, riders
}

// fewer keeps at most two variants, the likeliest, with the shares of all.
func fewer(vs []variant) []variant {
	if len(vs) <= 2 {
		return vs
	}
	out := make([]variant, 0, 2)
	for range 2 {
		best := -1
		for i, v := range vs {
			taken := false
			for _, o := range out {
				taken = taken || o == v
			}
			if !taken && (best < 0 || v.share > vs[best].share) {
				best = i
			}
		}
		out = append(out, vs[best])
	}
	sum := out[0].share + out[1].share
	for i := range out {
		out[i].share /= sum
	}
	return out
}
