package suspects

import "math"

// view is one component looked at closely: what it foresees of each item at its fitted sizes.
type view struct {
	c         *component
	predicted []float64 // of numbers; NaN where it foresees none, or for words
	u         []float64 // standard deviation of the prediction, reading included
	piece     []float64 // log likelihood of each item, numbers given all the others
	fit       []float64 // numbers: fitted mean over the reading's sd, for comparing; words: chance of each outcome seen
}

func (w *weighed) look(c *component) view {
	s := &solver{e: w.e}
	s.p.e = w.e
	v := view{c: c, predicted: make([]float64, len(w.items)), u: make([]float64, len(w.items)),
		piece: make([]float64, len(w.items)), fit: make([]float64, len(w.items))}
	var of []int
	for i, it := range w.items {
		if it.numeric() {
			s.numbers, of = append(s.numbers, it), append(of, i)
		}
	}
	s.p.reset(c.base, c.in, c.picks, c.inverted)
	base := make([]baseLine, len(s.numbers))
	for i := range s.numbers {
		base[i] = s.baseOf(&s.numbers[i])
	}
	s.compose(c, base, func(k, i int) float64 { return s.numbers[i].slope(&s.p, c.free[k]) })
	var prior [most]float64
	n := s.priorOf(c, &prior)
	post := marginal(s.lines, prior[:n])
	for i := range v.predicted {
		v.predicted[i], v.fit[i] = math.NaN(), math.NaN()
	}
	for i := range s.numbers { // not foreseen, unless a line says otherwise
		v.piece[of[i]] = math.Log(0.3 * s.numbers[i].odd / s.numbers[i].span)
	}
	for j := range s.lines {
		ln, at := &s.lines[j], s.at[j]
		i := of[at]
		e := ln.r
		for k := range n {
			e -= ln.x[k] * post.theta[k]
		}
		v.predicted[i] = w.items[i].y - e
		v.u[i] = math.Sqrt(ln.v)
		v.fit[i] = v.predicted[i] / math.Sqrt(w.items[i].v)
		in := logNormal(e, ln.v)
		if !post.out.has(j) {
			in = leaveOut(ln, &post.cov, &post.theta, n)
		}
		v.piece[i] = logAdd(in+math.Log1p(-ln.odd), ln.flat+math.Log(ln.odd))
	}
	s.q.e = w.e
	s.q.reset(c.faultsAt(w.e, &post.theta), c.in, c.picks, c.inverted)
	for i := range w.items {
		if it := &w.items[i]; !it.numeric() {
			v.fit[i] = it.chance(&s.q, s.room[:])
			v.piece[i] = math.Log(v.fit[i])
		}
	}
	return v
}

// alike says whether what was seen tells two components apart: once their sizes are fitted they foresee every number
// within its uncertainty of each other, no piece of evidence favours one by more than a nat, and all together by no
// more than 2.5 (twelve to one).
func alike(a, b *view, items []item) bool {
	total := 0.0
	for i := range items {
		d := math.Abs(a.piece[i] - b.piece[i])
		total += d
		if d > 1 || items[i].numeric() && (math.IsNaN(a.fit[i]) != math.IsNaN(b.fit[i]) ||
			math.Abs(a.fit[i]-b.fit[i]) > 1) {
			return false
		}
	}
	return total <= 2.5
}
