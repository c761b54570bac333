package suspects

import (
	"maps"
	"math"
	"runtime"
	"slices"

	"phasewright/bench"
	"phasewright/beside"
)

// weighed is every hypothesis with its weight after the evidence.
type weighed struct {
	e     *Engine
	items []item
	comps []*component // that matter, heaviest first; weights sum to 1 with none
	none  float64
	sets  map[set]float64
	// of sets, so that sums over them come out the same to the last digit each time: a map gives them in any order
	order []set
	said  map[set]float64    // the odds of each part that the evidence speaks for, as they are said
	cores map[set]set        // of each set, the part that the evidence speaks for (fold)
	sound *component         // nothing wrong, whatever its weight
	alone map[set]*component // the likeliest component of nothing and of each single fault, whatever its weight
}

// negligible is how far in nats a hypothesis may lie behind the best before it is dropped: e⁻¹⁶.
const negligible = 16

// weigh ranks all hypotheses by the items.
func (e *Engine) weigh(items []item, done []string, misfire []int) *weighed {
	groups, riders := e.plan(done, misfire)
	var numbers, wordy []item
	for _, it := range items {
		if it.numeric() {
			numbers = append(numbers, it)
		} else {
			wordy = append(wordy, it)
		}
	}
	slices.SortStableFunc(wordy, func(a, b item) int {
		switch {
		case a.dear == b.dear:
			return 0
		case a.dear:
			return 1
		}
		return -1
	})
	workers := min(runtime.GOMAXPROCS(0), 8)
	solvers := make([]*solver, workers)
	for w := range solvers {
		solvers[w] = &solver{e: e, numbers: numbers, words: wordy}
		solvers[w].p.e, solvers[w].q.e = e, e
		solvers[w].p.kept = map[bench.Faults]*asked{}
	}
	beside.All(workers, func(w int) {
		for i := w; i < len(groups); i += workers {
			solvers[w].numbersOf(&groups[i])
		}
	})
	var all []*component
	carries := map[*component]bool{}
	for _, c := range riders {
		carries[c.rides] = true
	}
	var carriers []*component
	for i := range groups {
		for _, c := range groups[i].with {
			if carries[c] {
				carriers = append(carriers, c)
			} else {
				all = append(all, c)
			}
		}
	}
	none := math.Log(e.priors.None) + e.noneOf(items, &groups[0])
	// Words only take weight away: once the best whole hypothesis is known, those whose numbers alone lie too far
	// behind need no words.
	slices.SortStableFunc(all, func(a, b *component) int {
		switch x, y := a.log+a.num, b.log+b.num; {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	best := none
	// Those that others ride on first, and whole: what the bench's faults show is the same for all that ride on them.
	beside.All(workers, func(w int) {
		solvers[w].floor = math.Inf(-1)
		for i := w; i < len(carriers); i += workers {
			carriers[i].nodes = []node{}
			solvers[w].wordsOf(carriers[i])
		}
	})
	beside.All(workers, func(w int) {
		for i := w; i < len(riders); i += workers {
			solvers[w].ride(riders[i])
		}
	})
	for _, list := range [][]*component{carriers, riders} {
		for _, c := range list {
			best = max(best, c.log)
		}
	}
	const stride = 64 // the order of work, and so the result, does not depend on the number of workers
	for from := 0; from < len(all); from += stride {
		if all[from].log+all[from].num < best-negligible {
			break
		}
		block := all[from:min(from+stride, len(all))]
		beside.All(workers, func(w int) {
			solvers[w].floor = best - negligible - 3
			for i := w; i < len(block); i += workers {
				solvers[w].wordsOf(block[i])
			}
		})
		for _, c := range block {
			best = max(best, c.log)
		}
	}
	all = slices.Concat(carriers, riders, all)
	out := &weighed{e: e, items: items, sets: map[set]float64{}, alone: map[set]*component{}}
	total := math.Exp(none - best)
	for _, c := range all {
		if c.in == 0 {
			out.sound = c
		}
		if c.in&(c.in-1) == 0 && (out.alone[c.in] == nil || c.log > out.alone[c.in].log) {
			out.alone[c.in] = c
		}
		if c.done && c.log > best-negligible {
			total += math.Exp(c.log - best)
			out.comps = append(out.comps, c)
		}
	}
	out.none = math.Exp(none-best) / total
	for _, c := range out.comps {
		c.weight = math.Exp(c.log-best) / total
		out.sets[c.in] += c.weight
	}
	out.order = slices.Sorted(maps.Keys(out.sets))
	slices.SortStableFunc(out.comps, func(a, b *component) int {
		switch {
		case a.weight > b.weight:
			return -1
		case a.weight < b.weight:
			return 1
		}
		return 0
	})
	return out
}

// solver works on one hypothesis after the other.
type solver struct {
	e       *Engine
	numbers []item
	words   []item
	p, q    point
	lines   []line
	at      []int // item of each line
	room    [24]float64
	floor   float64 // log weight under which a hypothesis does not matter
}

// base is what a group of components shares: residual and noise of every number.
type baseLine struct {
	ok    bool
	r, sd float64
	scale float64
}

// axis is a fault's size in one variant of it.
type axis struct{ k, at int }

// numbersOf weighs the numbers for every component of a group.
func (s *solver) numbersOf(g *bases) {
	s.p.reset(g.f, g.in, g.picks, g.inverted)
	base := make([]baseLine, len(s.numbers))
	for i := range s.numbers {
		base[i] = s.baseOf(&s.numbers[i])
	}
	slopes := map[axis][]float64{}
	for j := range g.with {
		c := g.with[j]
		s.p.picks = c.picks
		for k := range c.frees {
			at := axis{c.free[k], s.p.at(c.free[k])}
			if slopes[at] == nil {
				v := make([]float64, len(s.numbers))
				for i := range s.numbers {
					if base[i].ok {
						v[i] = s.numbers[i].slope(&s.p, c.free[k])
					}
				}
				slopes[at] = v
			}
		}
		lost := s.compose(c, base, func(k, i int) float64 {
			return slopes[axis{c.free[k], s.p.at(c.free[k])}][i]
		})
		var prior [most]float64
		n := s.priorOf(c, &prior)
		post := marginal(s.lines, prior[:n])
		c.post, c.num = &post, s.notSmall(c, prior[:n], post.log)+lost
	}
}

// notSmall takes from the likelihood what small sizes of straight faults give to it: a fault that is no larger than
// what a careful set-up leaves is none. The prior of such a size is N(0, s²) times 1 − e^(−x²/2t²), t = small(k), zero
// at nought (a non-local prior: Johnson and Rossell, J. R. Statist. Soc. B 72, 2010): the difference of two normal
// ones, so the integral stays in closed form.
func (s *solver) notSmall(c *component, prior []float64, full float64) float64 {
	var which [mostFree]int
	var less [mostFree]float64 // variance of the narrow normal
	var share [mostFree]float64
	var wave [mostFree]bool // a wave is as large as both of its parts together
	n := 0
	for k := range c.frees {
		if isStraight(c.free[k]) {
			t := s.e.small(c.free[k])
			which[n], wave[n] = nuisances+k, c.across(k)
			less[n] = 1 / (1/prior[nuisances+k] + 1/(t*t))
			share[n] = math.Sqrt(less[n] / prior[nuisances+k])
			if wave[n] {
				share[n] *= share[n]
			}
			n++
		}
	}
	sum, norm := 1.0, 1.0
	for i := range n {
		norm *= 1 - share[i]
	}
	for m := 1; m < 1<<n; m++ {
		var p [most]float64
		copy(p[:], prior)
		w := 1.0
		for i := range n {
			if m>>i&1 != 0 {
				p[which[i]] = less[i]
				if wave[i] {
					p[which[i]+1] = less[i]
				}
				w *= -share[i]
			}
		}
		// The narrow normal times its share lies under the wide one everywhere, so each term is 1 at the most. marginal
		// chooses its misreads anew for each prior and may break that bound, by any factor where readings lie half a
		// turn off: without it the terms reach infinity and their sum is no number.
		term := math.Exp(marginal(s.lines, p[:len(prior)]).log - full)
		sum += math.Copysign(min(math.Abs(w)*term, 1), w)
	}
	return full + math.Log(max(sum, 1e-12)/norm)
}

// baseOf is one number against the base at s.p.
func (s *solver) baseOf(it *item) baseLine {
	m, sd, ok := it.mean(&s.p)
	b := baseLine{ok: ok, sd: sd, scale: 1}
	if it.double && s.p.f.TwoSpark {
		b.scale = 2
	}
	b.r = it.y - m - b.scale*it.shift
	turn := it.turn
	const astray = 0.15
	if turn > 0 && it.rpm > 0 && s.p.f.Rotor != 0 && s.p.expect(it.rpm, it.wire, false).Wild > astray {
		turn = s.e.least // most sparks take the next tower: the light stands whole spacings off, now and then
	}
	if turn > 0 {
		b.r = wrap(b.r, turn)
	}
	return b
}

// compose lays out the lines of a component and gives the log density of numbers that it does not foresee at all.
func (s *solver) compose(c *component, base []baseLine, slope func(k, i int) float64) (none float64) {
	s.lines, s.at = s.lines[:0], s.at[:0]
	for i := range s.numbers {
		it, b := &s.numbers[i], &base[i]
		if !b.ok {
			none += lost(it)
			continue
		}
		ln := line{r: b.r, v: it.v + b.sd*b.sd, odd: it.odd, flat: -math.Log(it.span)}
		if it.vary != nil {
			sd := it.vary(c.in)
			ln.v += sd * sd
		}
		if c.in.has(misread) && it.turn > 0 {
			ln.odd = min(max(1/float64(len(s.numbers)), 0.08), 0.3) // one of few, a few of many
			ln.flat = -math.Log(30)                                 // misread by tens of degrees at the most
		}
		for k := range nuisances {
			ln.x[k] = it.loose[k] * b.scale
		}
		for k := range c.frees {
			ln.x[nuisances+k] = slope(k, i)
		}
		s.lines, s.at = append(s.lines, ln), append(s.at, i)
	}
	return none
}

// priorOf fills in the variances of nuisances and sizes.
func (s *solver) priorOf(c *component, prior *[most]float64) int {
	of := setUpLeaves * s.e.tolerance
	late := s.e.delayLeaves()
	prior[nConstant], prior[nZero], prior[nDelay], prior[nCranking] = of*of, s.e.zero*s.e.zero, late*late,
		starterLeaves*starterLeaves
	for k := range c.frees {
		prior[nuisances+k] = c.sds[k] * c.sds[k]
	}
	return nuisances + c.frees
}

// across says whether a free size is one part of a wave and the next one the other.
func (c *component) across(k int) bool { return k+1 < c.frees && c.free[k+1] == acrossWave }

// faultsAt gives the faults of a component with its free sizes at some values.
func (c *component) faultsAt(e *Engine, theta *[most]float64) bench.Faults {
	f := c.base
	for k := range c.frees {
		if c.free[k] >= benchFaults {
			continue
		}
		r := &e.table[c.free[k]]
		size := r.Size(c.base) + theta[nuisances+k]
		if c.across(k) {
			size = math.Hypot(size, theta[nuisances+k+1])
		}
		r.Set(&f, clampSize(r, size))
	}
	return f
}

// node is one set of sizes that the words of a hypothesis are weighed at: what the bench's faults make of every look.
type node struct {
	weight float64
	by     [][]float64 // chances of the outcomes of each of the solver's words
}

// wordsOf weighs the words at the fitted sizes, or at points spread over what the numbers leave open.
func (s *solver) wordsOf(c *component) {
	c.done = true
	c.before = c.log
	c.log += c.num
	if len(s.words) == 0 {
		if c.nodes != nil {
			c.nodes = []node{{weight: 1}}
		}
		return
	}
	sum, left := 0.0, 1.0
	var open [mostFree]int
	n := 0
	for k := range c.frees {
		if math.Sqrt(c.post.cov[nuisances+k][nuisances+k]) > wide(c.free[k]) {
			open[n] = k
			n++
		}
	}
	// Along each open size: Gauss–Hermite in three points, the middle and ±√3 standard deviations with weights 2/3,
	// 1/6, 1/6. Where nought lies in the middle of a straight fault's size its prior vanishes there (notSmall), and
	// four points about the middle take its place.
	for _, k := range open[:n] {
		nodes, weights, middle := []float64{-math.Sqrt(3), math.Sqrt(3)}, []float64{1. / 6, 1. / 6}, 2./3
		sd := math.Sqrt(c.post.cov[nuisances+k][nuisances+k])
		if isStraight(c.free[k]) && math.Abs(c.post.theta[nuisances+k]) < 0.7*sd {
			nodes, weights, middle = []float64{-1.9, -0.7, 0.7, 1.9}, []float64{0.15, 0.35, 0.35, 0.15}, 0
		}
		share := 1 / float64(n)
		for i, z := range nodes {
			theta := c.post.theta
			for j := range c.frees {
				theta[nuisances+j] += z * c.post.cov[nuisances+j][nuisances+k] / sd
			}
			sum += share * weights[i] * s.wordsAt(c, &theta, share*weights[i])
		}
		left -= share * (1 - middle)
	}
	if left > 1e-9 {
		sum += left * s.wordsAt(c, &c.post.theta, left)
	}
	c.log += math.Log(max(sum, 1e-300))
}

// wordsAt is the likelihood of the words at some sizes. Of a hypothesis that others ride on it keeps what the bench's
// faults make of them, with the weight of these sizes.
func (s *solver) wordsAt(c *component, theta *[most]float64, weight float64) float64 {
	s.q.reset(c.faultsAt(s.e, theta), c.in, c.picks, c.inverted)
	product, least := 1.0, math.Exp(min(s.floor-c.before-c.num, 0))
	var keep node
	for i := range s.words {
		if product < least && c.nodes == nil {
			return 0
		}
		q := &s.words[i].probe
		out := s.room[:len(q.outcomes)]
		q.byBench(&s.q, out)
		if c.nodes != nil {
			keep.by = append(keep.by, slices.Clone(out))
		}
		q.join(c.picks, out)
		product *= out[s.words[i].outcome]
	}
	if c.nodes != nil {
		keep.weight = weight
		c.nodes = append(c.nodes, keep)
	}
	return product
}

// ride weighs a hypothesis with faults that only words tell beside the one without them.
func (s *solver) ride(c *component) {
	c.done = true
	c.before = c.log
	c.num, c.post = c.rides.num, c.rides.post
	if c.stops && slices.ContainsFunc(s.numbers, func(it item) bool { return it.rpm > 0 }) {
		s.withoutSparks(c)
	}
	sum := 0.0
	for i := range c.rides.nodes {
		at := &c.rides.nodes[i]
		product := at.weight
		for j := range s.words {
			q := &s.words[j].probe
			out := s.room[:len(q.outcomes)]
			copy(out, at.by[j])
			q.join(c.picks, out)
			product *= out[s.words[j].outcome]
		}
		sum += product
	}
	c.log += c.num + math.Log(max(sum, 1e-300))
}

// withoutSparks weighs the numbers for a hypothesis under which no light flashes.
func (s *solver) withoutSparks(c *component) {
	s.p.reset(c.base, c.in, c.picks, c.inverted)
	base := make([]baseLine, len(s.numbers))
	for i := range s.numbers {
		base[i] = s.baseOf(&s.numbers[i])
	}
	none := s.compose(c, base, func(k, i int) float64 { return s.numbers[i].slope(&s.p, c.free[k]) })
	var prior [most]float64
	n := s.priorOf(c, &prior)
	post := marginal(s.lines, prior[:n])
	c.post, c.num = &post, s.notSmall(c, prior[:n], post.log)+none
}

// lost is the log density of a number that a hypothesis does not foresee at all.
func lost(it *item) float64 { return math.Log(0.3 * it.odd / it.span) }

// noneOf is the log likelihood of the evidence where nothing is foreseen: words at even chances, numbers far and wide
// about what a sound engine shows.
func (e *Engine) noneOf(items []item, sound *bases) float64 {
	s := &solver{e: e}
	s.p.e = e
	s.p.reset(sound.f, 0, nil, false)
	log := 0.0
	for i := range items {
		it := &items[i]
		if !it.numeric() {
			log -= math.Log(float64(len(it.outcomes)))
			continue
		}
		b := s.baseOf(it)
		wide := it.span / 8
		log += logAdd(math.Log(0.7)+logNormal(b.r, it.v+wide*wide), math.Log(0.3/(3*it.span)))
	}
	return log
}
