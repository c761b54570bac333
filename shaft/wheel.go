package shaft

import (
	"math"
	"sort"

	"phasewright/estimate"
)

// wheel is the crank pickup's vane wheel as learnt. Vane 0 is the one whose active edge comes first after the cam's reference edge;
// angles count crank degrees from its nominal place, in running direction.
type wheel struct {
	n         int
	nominal   []float64 // place of each active edge by the book
	pos       []float64 // as learnt, so that the mean of pos − nominal is nought
	step      []float64 // pos[k] less that of the vane before
	lnStep    []float64
	nomStep   []float64
	other     []float64 // place of the pickup's other edge, after active edge k; NaN: not known
	thin      []float64 // pulses that end at vane k and last less than this share of its interval are too narrow for a vane
	thinAfter []float64 // the same for the pulse that begins at vane k
	reach     []float64 // degrees from vane k that mostBridged missing vanes still explain
	uneven    bool      // the intervals differ so much that they tell the vanes apart
	learnt    bool      // false: by the book alone
	firm      bool      // the other edges keep their places at all speeds
	rough     float64   // spread of the learnt places, degrees
}

func (w *wheel) next(k int32) int32 {
	if k++; int(k) == w.n {
		return 0
	}
	return k
}

// newWheel lays nominal intervals under the learnt places. starts[k] is the interval from vane k to the next.
func newWheel(pos, intervals []float64) *wheel {
	w := &wheel{n: len(pos), pos: append([]float64(nil), pos...)}
	w.nominal = make([]float64, w.n)
	for k := 1; k < w.n; k++ {
		w.nominal[k] = w.nominal[k-1] + intervals[k-1]
	}
	mean := 0.0
	for k := range pos {
		mean += (pos[k] - w.nominal[k]) / float64(w.n)
	}
	for k := range pos {
		w.pos[k] -= mean
	}
	w.step, w.nomStep, w.lnStep = make([]float64, w.n), make([]float64, w.n), make([]float64, w.n)
	w.other, w.thin, w.thinAfter, w.reach = make([]float64, w.n), make([]float64, w.n), make([]float64, w.n), make([]float64, w.n)
	even := cycle / float64(w.n)
	for k := range w.pos {
		before := (k + w.n - 1) % w.n
		w.step[k] = wrap(w.pos[k]-w.pos[before], cycle)
		w.nomStep[k] = wrap(w.nominal[k]-w.nominal[before], cycle)
		if w.n == 1 {
			w.step[k], w.nomStep[k] = cycle, cycle
		}
		w.lnStep[k] = math.Log(w.step[k])
		w.other[k] = math.NaN()
		if math.Abs(w.nomStep[k]/even-1) > 0.08 {
			w.uneven = true
		}
	}
	for k := range w.reach {
		for m := range mostBridged + 1 {
			w.reach[k] += overreach * w.step[(k+1+m)%w.n]
		}
	}
	return w
}

// setOther takes the places of the pickup's other edges.
func (w *wheel) setOther(other []float64) {
	copy(w.other, other)
	for k := range w.thin {
		before := (k + w.n - 1) % w.n
		if o := other[before]; !math.IsNaN(o) {
			width := w.step[k] - (o - w.pos[before])
			share := math.Max(0, math.Min(1, width/w.step[k]))
			w.thin[k], w.thinAfter[before] = thinShare*share, thinShare*(1-share)
		}
	}
}

// closest is the least way between vanes, degrees: nothing nearer can be metal.
const closest = 0.5

// lesson holds the stretches of one cycle from which places are learnt.
type lesson struct {
	active []float64
	n      int
	first  []int // index into active of vane 0, one a reference edge
	good   []bool
	limit  float64 // longest cycle that counts: the slower half is left out, where the speed ripple is large
	wide   float64 // longest cycle where the change with speed is sought: a fifth of the greatest speed
}

// newLesson cuts the active edges at the reference edges: those between two references that hold exactly n active edges are good.
func newLesson(active, refs []float64, n int) *lesson {
	l := &lesson{active: active, n: n}
	for _, r := range refs {
		j := sort.SearchFloat64s(active, r)
		if j < len(active) && (len(l.first) == 0 || j > l.first[len(l.first)-1]) {
			l.first = append(l.first, j)
		}
	}
	l.good = make([]bool, len(l.first))
	var lengths []float64
	for i := 0; i+1 < len(l.first); i++ {
		l.good[i] = l.first[i+1]-l.first[i] == n
		if l.good[i] {
			lengths = append(lengths, l.length(i))
		}
	}
	l.limit = median(lengths) * (1 + 1e-9)
	if len(lengths) > 0 {
		l.wide = math.Max(l.limit, 5*estimate.Nth(lengths, len(lengths)/20))
	}
	return l
}

func (l *lesson) length(i int) float64 { return l.active[l.first[i+1]] - l.active[l.first[i]] }

// curve is θ(t) over good stretch i through vane 0 alone, one cycle apart, so no other vane's error enters. ok is false where i is no use.
func (l *lesson) curve(i int, limit float64) (curve, bool) {
	if !l.good[i] || l.length(i) > limit {
		return curve{}, false
	}
	t := [4]float64{l.active[l.first[i]], l.active[l.first[i+1]]}
	a := [4]float64{0, cycle}
	m := 2
	if i > 0 && l.good[i-1] {
		t[m], a[m] = l.active[l.first[i-1]], -cycle
		m++
	}
	if i+2 < len(l.first) && l.good[i+1] {
		t[m], a[m] = l.active[l.first[i+2]], 2*cycle
		m++
	}
	if m == 2 && len(l.first) > 3 {
		return curve{}, false
	}
	return newCurve(&t, &a, m), true
}

// vanes are the middle places of the n active edges, vane 0 at nought, and their spread; nil where there is no good stretch.
func (l *lesson) vanes() (pos []float64, rough float64) {
	at := make([][]float64, l.n)
	for i := range l.first {
		c, ok := l.curve(i, l.limit)
		if !ok {
			continue
		}
		for k := range at {
			at[k] = append(at[k], c.at(l.active[l.first[i]+k]))
		}
	}
	if len(at[0]) == 0 {
		return nil, math.NaN()
	}
	pos = make([]float64, l.n)
	for k := 1; k < l.n; k++ {
		m, sd := spread(at[k])
		pos[k], rough = m, math.Max(rough, sd)
		if !(pos[k] > pos[k-1]+closest) || !(pos[k] < cycle-closest) {
			return nil, math.NaN()
		}
	}
	return pos, rough
}

// places are the angles of times t that fall into good stretches of at most limit seconds, with the vane before each and the speed of the cycle, rpm.
func (l *lesson) places(t []float64, limit float64) (angle []float64, vane []int, n []float64) {
	i := 0
	var c curve
	have := -1
	ok := false
	for _, x := range t {
		for i+1 < len(l.first) && l.active[l.first[i+1]] <= x {
			i++
		}
		if i+1 >= len(l.first) || x < l.active[l.first[i]] {
			continue
		}
		if have != i {
			c, ok = l.curve(i, limit)
			have = i
		}
		if !ok {
			continue
		}
		k := 0
		for k+1 < l.n && l.active[l.first[i]+k+1] <= x {
			k++
		}
		angle = append(angle, c.at(x))
		vane = append(vane, k)
		n = append(n, cycle/l.length(i)/degPerRPM)
	}
	return angle, vane, n
}

// middlePlace is the middle of angles on a circle of the given period; NaN of none.
func middlePlace(angle []float64, period float64) float64 {
	if len(angle) == 0 {
		return math.NaN()
	}
	base := angle[len(angle)/2]
	d := make([]float64, len(angle))
	for i, a := range angle {
		d[i] = near(a-base, period)
	}
	return wrap(base+median(d), period)
}

// placeAtRest is the place that angles on a circle tend to at no speed, and how it moves with speed, degrees per rpm: a pickup that answers late moves it.
// Where speed hardly varied it is the middle place, not moving.
func placeAtRest(angle, n []float64, period float64) (at, slope float64) {
	at = middlePlace(angle, period)
	if len(angle) < 20 {
		return at, 0
	}
	var m [moments]float64
	lo, hi := math.Inf(1), 0.0
	for i, a := range angle {
		if d := near(a-at, period); math.Abs(d) < 10 {
			x := n[i] / 1000
			addMoments(m[:], x, 1/(x*x), d)
		}
		lo, hi = math.Min(lo, n[i]), math.Max(hi, n[i])
	}
	if c, _, ok := solve(m[:], basis{true, true, hi > 3*lo}); ok && hi > 1.3*lo {
		return wrap(at+c[0], period), c[1] / 1000
	}
	return at, 0
}

// bookIntervals are nominal intervals for measured places where no card gives them: even where every interval is within 3° or 4 % of
// it, else the nearest whole degrees that sum to 720.
func bookIntervals(pos []float64) (intervals []float64, even bool) {
	n := len(pos)
	step := cycle / float64(n)
	even = true
	intervals = make([]float64, n)
	for k := range pos {
		next := cycle
		if k+1 < n {
			next = pos[k+1]
		}
		intervals[k] = next - pos[k]
		even = even && math.Abs(intervals[k]-step) < math.Min(0.15*step, math.Max(0.04*step, 3))
	}
	if even {
		for k := range intervals {
			intervals[k] = step
		}
		return intervals, true
	}
	// Intervals within 3° of the next larger one are alike: their mean is rounded.
	order := make([]int, n)
	for k := range order {
		order[k] = k
	}
	sort.SliceStable(order, func(i, j int) bool { return intervals[order[i]] < intervals[order[j]] })
	book := make([]float64, n)
	sum := 0.0
	for i := 0; i < n; {
		j, total := i, 0.0
		for j < n && (j == i || intervals[order[j]]-intervals[order[j-1]] < 3) {
			total += intervals[order[j]]
			j++
		}
		for _, k := range order[i:j] {
			book[k] = math.Round(total / float64(j-i))
			sum += book[k]
		}
		i = j
	}
	book[n-1] += cycle - sum
	for _, v := range book {
		if v < closest {
			return intervals, false
		}
	}
	return book, false
}
