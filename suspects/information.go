package suspects

import (
	"math"
	"strings"
)

// forecast holds the weighty components, grouped by what puts them right, ready to be asked what an observation would
// show.
type forecast struct {
	w       *weighed
	comps   []*component
	class   []int // of each component
	classes int
	title   []string  // of each class, by its likeliest explanation
	weight  []float64 // of each component, summing to 1
	entropy float64   // bits, over the classes
	settled float64   // how near the odds are to settling the matter
	points  []*point  // at the fitted sizes
	bases   []*point
}

// forecast takes the components that make up nearly all of the weight.
func (w *weighed) forecast() *forecast {
	f := &forecast{w: w}
	const enough, atMost = 0.995, 90
	total := 0.0
	for i := range w.comps {
		if total > enough || len(f.comps) == atMost {
			break
		}
		total += w.comps[i].weight
		f.comps = append(f.comps, w.comps[i])
	}
	class := map[string]int{}
	sum := []float64{}
	for _, c := range f.comps {
		core := w.cores[c.in]
		cure := w.cureOf(core)
		k, ok := class[cure]
		if !ok {
			k = len(class)
			class[cure] = k
			f.title = append(f.title, w.title(core))
			sum = append(sum, 0)
		}
		f.class = append(f.class, k)
		f.weight = append(f.weight, c.weight/total)
		sum[k] += c.weight / total
		p, b := &point{e: w.e}, &point{e: w.e}
		p.reset(c.faultsAt(w.e, &c.post.theta), c.in, c.picks, c.inverted)
		b.reset(c.base, c.in, c.picks, c.inverted)
		f.points, f.bases = append(f.points, p), append(f.bases, b)
	}
	f.classes = len(sum)
	f.entropy, f.settled = entropy(sum), nearly(sum)
	return f
}

// tells says in words which explanation each outcome would point to, the likelier outcomes first.
func (f *forecast) tells(q *probe) string {
	if q.numeric() {
		return ""
	}
	by := f.joint(q)
	var text []string
	for j, w := range q.outcomes {
		best, sum := 0, 0.0
		for k := range by {
			sum += by[k][j]
			if by[k][j] > by[best][j] {
				best = k
			}
		}
		if sum > 0.05 && by[best][j] > 0.3*sum {
			text = append(text, w+": "+f.title[best])
		}
	}
	const shown = 3
	return strings.Join(text[:min(len(text), shown)], "; ")
}

// joint is the chance of each explanation with each outcome.
func (f *forecast) joint(q *probe) [][]float64 {
	joint, _ := f.foreseen(q)
	return joint
}

// foreseen is the joint chance of explanations and outcomes, and the odds of the explanations as they would be said
// after each outcome.
func (f *forecast) foreseen(q *probe) (joint, said [][]float64) {
	joint, said = make([][]float64, f.classes), make([][]float64, f.classes)
	for k := range joint {
		joint[k], said[k] = make([]float64, len(q.outcomes)), make([]float64, len(q.outcomes))
	}
	out, sharp := make([]float64, len(q.outcomes)), sharper(looked(f.w.items)+1)
	for i := range f.comps {
		q.chancesAt(f.points[i], out)
		for j, x := range out {
			joint[f.class[i]][j] += f.weight[i] * x
			said[f.class[i]][j] += f.weight[i] * math.Pow(x, sharp)
		}
	}
	return joint, said
}

// nearly is how near odds come to settling the matter: from nought well below the share that does, to one.
func nearly(odds []float64) float64 {
	const from, to = 0.85, 0.96
	top, sum := 0.0, 0.0
	for _, x := range odds {
		top = max(top, x)
		sum += x
	}
	if sum == 0 {
		return 0
	}
	return min(max((top/sum-from)/(to-from), 0), 1)
}

// settling is how much nearer to settled an observation with some outcomes is expected to bring the matter.
func (f *forecast) settling(joint, said [][]float64) float64 {
	after := 0.0
	odds := make([]float64, f.classes)
	for j := range joint[0] {
		chance := 0.0
		for k := range joint {
			chance += joint[k][j]
			odds[k] = said[k][j]
		}
		after += chance * nearly(odds)
	}
	return max(after-f.settled, 0)
}

// entropy of a distribution in bits.
func entropy(p []float64) float64 {
	h := 0.0
	for _, x := range p {
		if x > 0 {
			h -= x * math.Log2(x)
		}
	}
	return h
}

// mutual is the information in bits that the outcome carries about the class: joint[class][outcome] sums to 1.
func mutual(joint [][]float64) float64 {
	if len(joint) == 0 {
		return 0
	}
	rows := make([]float64, len(joint))
	columns := make([]float64, len(joint[0]))
	var cells []float64
	for i, row := range joint {
		for j, x := range row {
			rows[i] += x
			columns[j] += x
			cells = append(cells, x)
		}
	}
	return max(entropy(rows)+entropy(columns)-entropy(cells), 0)
}

// worth is the expected information of an observation about which cure is right, in bits, and how much nearer to
// settled it is expected to bring the matter.
func (f *forecast) worth(q *probe) (bits, settling float64) {
	if f.classes == 0 {
		return 0, 0
	}
	if q.numeric() {
		return f.worthOfNumber(q)
	}
	joint, said := f.foreseen(q)
	return mutual(joint), f.settling(joint, said)
}

// worthOfNumber is the same for a number: each component foresees a normal one (or none at all), and the information
// ∫ Σ w·p(y|class)·log₂ p(y|class)/p(y) dy is summed over quadrature points of every component.
func (f *forecast) worthOfNumber(q *probe) (bits, settling float64) {
	n := len(f.comps)
	mean, sd := make([]float64, n), make([]float64, n)
	blank := make([]bool, n)
	no := make([][]float64, f.classes) // whether there is a number at all is an outcome too
	for k := range no {
		no[k] = make([]float64, 2)
	}
	for i, c := range f.comps {
		m, s, ok := q.mean(f.bases[i])
		if !ok {
			blank[i] = true
			no[f.class[i]][1] += f.weight[i]
			continue
		}
		no[f.class[i]][0] += f.weight[i]
		var x [most]float64
		scale := 1.0
		if q.double && c.base.TwoSpark {
			scale = 2
		}
		for k := range nuisances {
			x[k] = q.loose[k] * scale
		}
		for k := range c.frees {
			x[nuisances+k] = q.slope(f.bases[i], c.free[k])
		}
		v := q.u*q.u + s*s
		for a := range c.post.p {
			m += x[a] * c.post.theta[a]
			for b := range c.post.p {
				v += x[a] * c.post.cov[a][b] * x[b]
			}
		}
		mean[i], sd[i] = m, math.Sqrt(v)
	}
	bits = mutual(no)
	// Gauss–Hermite in seven points for the standard normal weight (roots and weights as in Abramowitz and Stegun,
	// table 25.10, scaled by √2 and 1/√π).
	nodes := [...]float64{-3.750440, -2.366760, -1.154405, 0, 1.154405, 2.366760, 3.750440}
	weights := [...]float64{0.000548269, 0.030757124, 0.240123179, 0.457142857, 0.240123179, 0.030757124, 0.000548269}
	classWeight := make([]float64, f.classes)
	for i := range f.comps {
		if !blank[i] {
			classWeight[f.class[i]] += f.weight[i]
		}
	}
	total := 0.0
	for _, x := range classWeight {
		total += x
	}
	// those that only words tell apart foresee the same number: it is worked out for the first of them
	same := make([]int, n)
	for i := range same {
		for blank[same[i]] || mean[same[i]] != mean[i] || sd[same[i]] != sd[i] {
			if same[i]++; same[i] >= i {
				same[i] = i
				break
			}
		}
	}
	bell := make([]float64, n)
	seen := make([][len(nodes)]struct {
		all, settled float64
		by           []float64
	}, n)
	for i := range f.comps {
		if blank[i] || f.weight[i] < 1e-4 {
			continue
		}
		for at, z := range nodes {
			s := &seen[same[i]][at]
			if s.by == nil {
				s.by = make([]float64, f.classes)
				y := mean[i] + z*sd[i]
				for j := range f.comps {
					if blank[j] {
						continue
					}
					d := (y - mean[j]) / sd[j]
					if d > 6 || d < -6 {
						continue
					}
					if same[j] == j {
						bell[j] = math.Exp(-0.5 * d * d)
					}
					p := f.weight[j] / sd[j] * bell[same[j]]
					s.by[f.class[j]] += p
					s.all += p
				}
				s.settled = nearly(s.by)
			}
			k := f.class[i]
			bits += f.weight[i] * weights[at] * math.Log2(s.by[k]/classWeight[k]/(s.all/total))
			settling += f.weight[i] * weights[at] * s.settled
		}
	}
	return max(bits, 0), max(settling-f.settled, 0)
}
