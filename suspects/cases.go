package suspects

import (
	"math"

	"phasewright/bench"
)

// variant is one way in which a fault may be there: a size, how far about it the size may lie (0: not at all), and its
// share of the fault.
type variant struct {
	size, sd, share float64
	inverted        bool
}

// variants of a fault on this engine. Straight faults have two normal widths about nought; the others a few sizes each,
// shares our judgement. hint is nil for a fault alone; for pairs it lists the cylinders that misfire, so that swapped
// wires are tried among them, and sizes are fewer.
func (e *Engine) variants(k int, hint []int) []variant {
	s := e.priors.Size[k]
	if isStraight(k) {
		return []variant{{0, s, 0.75, false}, {0, 3 * s, 0.25, false}}
	}
	sizes := func(v ...float64) []variant {
		out := make([]variant, len(v))
		for i, x := range v {
			out[i] = variant{size: x, share: 1 / float64(len(v))}
		}
		return out
	}
	n := e.c.Engine.Cylinders
	switch k {
	case edge:
		return []variant{{1, 0, 0.6, false}, {1, 0, 0.4, true}}
	case tooth:
		return []variant{{1, 0, 0.42, false}, {-1, 0, 0.42, false}, {2, 0, 0.08, false}, {-2, 0, 0.08, false}}
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
		around := []variant{{9, 0.3 * s, 0.2, false}, {12, 0.3 * s, 0.25, false}, {15, 0.3 * s, 0.2, false},
			{18, 0.3 * s, 0.15, false}, {22, 0.4 * s, 0.12, false}, {28, 0.8 * s, 0.08, false}}
		if hint != nil {
			around = []variant{{11, 0.5 * s, 0.6, false}, {19, 0.7 * s, 0.4, false}}
		}
		var out []variant
		for _, v := range around {
			out = append(out, variant{v.size, v.sd, v.share / 2, false}, variant{-v.size, v.sd, v.share / 2, false})
		}
		return out
	case dial: // a light can wait for the mark, not flash before the spark
		return []variant{{5, 0.6 * s, 0.6, false}, {14, 1.4 * s, 0.4, false}}
	case lightDelay:
		return []variant{{100, 0.5 * s, 0.6, false}, {260, s, 0.4, false}}
	case noise:
		return sizes(0.015, 0.05, 0.15)
	case crossfire:
		return sizes(0.1, 0.3, 0.6)
	case worn:
		return sizes(0.6, 1.2, 2.2)
	case lash:
		return []variant{{0.5, 0.25, 0.6, false}, {1.2, 0.6, 0.4, false}}
	case clamp:
		return []variant{{0.6, 0.4, 0.6, false}, {1.8, s, 0.4, false}}
	case dwell:
		d := float64(e.c.Controller.Dwell)
		return []variant{{-0.45 * d, 0.12 * d, 0.3, false}, {-0.7 * d, 0.1 * d, 0.4, false}, {d, 0.4 * d, 0.3, false}}
	case supply:
		return []variant{{-2, 0.7, 0.4, false}, {-4.5, s, 0.6, false}}
	case misread:
		return sizes(0.15)
	}
	return sizes(1)
}

// wiring lists wires walked the wrong way round and the pairs that may be swapped: all of them, or those among the
// cylinders that misfire.
func (e *Engine) wiring(hint []int) []variant {
	n := e.c.Engine.Cylinders
	out := []variant{{1, 0, 0.35, false}}
	var pairs []float64
	for a := 1; a <= n; a++ {
		for b := a + 1; b <= n; b++ {
			pairs = append(pairs, float64(100*a+b))
		}
	}
	in := func(c int) bool {
		for _, h := range hint {
			if h == c {
				return true
			}
		}
		return false
	}
	total := float64(len(pairs))
	for _, p := range pairs {
		if hint == nil || len(hint) > 0 && len(hint) <= 4 && in(int(p)/100) && in(int(p)%100) {
			out = append(out, variant{size: p, share: 0.65 / total})
		}
	}
	if hint != nil && len(out) == 1 { // nothing points at a pair: one with wire 1 and one without stand for all
		out = append(out, variant{102, 0, 0.65 * 2 / float64(n), false})
		if n > 3 {
			out = append(out, variant{203, 0, 0.65 * (1 - 2/float64(n)), false})
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

// component is one hypothesis with one variant of each of its faults.
type component struct {
	in       set
	base     bench.Faults // sizes about which the free ones are counted
	inverted bool
	free     [2]int // faults whose size is free about the base
	sds      [2]float64
	frees    int
	log      float64 // of the prior, then with the likelihood
	before   float64 // log of the prior
	weight   float64 // after the evidence
	num      float64 // log likelihood of the numbers
	post     posterior
	done     bool
}

// bases is a group of components with the same base: predictions of numbers are shared.
type bases struct {
	in       set
	f        bench.Faults
	inverted bool
	with     []component
}

// plan lists every component: nothing wrong, each fault, each pair.
func (e *Engine) plan(done []string, misfire []int) []bases {
	w := e.priors.after(done)
	total := 0.0
	for k := range faultCount {
		if !e.fits[k] {
			w[k] = 0
		}
		total += w[k]
	}
	p := e.priors
	single := (1 - p.Nothing - p.None) * (1 - p.Pair)
	double := (1 - p.Nothing - p.None) * p.Pair
	pairs := 0.0
	for a := range faultCount {
		for b := range a {
			pairs += w[a] * w[b]
		}
	}
	zero := bases{}
	zero.with = append(zero.with, component{log: math.Log(p.Nothing)})
	type one struct {
		k int
		v variant
	}
	var fixed, few, free []one // cases; the same, fewer for pairs; straight ones
	if misfire == nil {
		misfire = []int{}
	}
	for k := range faultCount {
		if w[k] == 0 {
			continue
		}
		for _, v := range e.variants(k, nil) {
			if isStraight(k) {
				free = append(free, one{k, v})
			} else {
				fixed = append(fixed, one{k, v})
			}
		}
		if !isStraight(k) {
			vs := e.variants(k, misfire)
			if k != wires && k != rotor {
				vs = fewer(vs)
			}
			for _, v := range vs {
				few = append(few, one{k, v})
			}
		}
	}
	logS := func(a one) float64 { return math.Log(single * w[a.k] / total * a.v.share) }
	logP := func(a, b one) float64 { return math.Log(double * w[a.k] * w[b.k] / pairs * a.v.share * b.v.share) }
	add := func(to *bases, c component, os ...one) {
		for _, o := range os {
			c.in |= of(o.k)
			if o.v.sd > 0 {
				c.free[c.frees], c.sds[c.frees] = o.k, o.v.sd
				c.frees++
			}
		}
		c.base, c.inverted = to.f, to.inverted
		to.with = append(to.with, c)
	}
	for i, a := range free {
		add(&zero, component{log: logS(a)}, a)
		for _, b := range free[:i] {
			if a.k != b.k {
				add(&zero, component{log: logP(a, b)}, a, b)
			}
		}
	}
	out := []bases{zero}
	base := func(os ...one) bases {
		var b bases
		for _, o := range os {
			b.in |= of(o.k)
			e.table[o.k].Set(&b.f, clampSize(&e.table[o.k], o.v.size))
			b.inverted = b.inverted || o.v.inverted
		}
		return b
	}
	for _, a := range fixed {
		b := base(a)
		add(&b, component{log: logS(a)}, a)
		out = append(out, b)
	}
	for i, a := range few {
		b := base(a)
		for _, c := range free {
			add(&b, component{log: logP(a, c)}, a, c)
		}
		out = append(out, b)
		for _, c := range few[:i] {
			if c.k == a.k {
				continue
			}
			bb := base(a, c)
			add(&bb, component{log: logP(a, c)}, a, c)
			out = append(out, bb)
		}
	}
	return out
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
