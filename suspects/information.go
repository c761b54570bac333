package suspects

import (
	"math"
	"strings"
)

// forecast holds the weighty components, grouped by explanation, ready to be asked what an observation would show.
type forecast struct {
	w       *weighed
	comps   []*component
	class   []int // of each component
	classes int
	title   []string  // of each class
	weight  []float64 // of each component, summing to 1
	entropy float64   // bits, over the classes
	points  []point   // at the fitted sizes
	bases   []point
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
		f.comps = append(f.comps, &w.comps[i])
	}
	class := map[set]int{}
	sum := []float64{}
	for _, c := range f.comps {
		core := w.cores[c.in]
		k, ok := class[core]
		if !ok {
			k = len(class)
			class[core] = k
			f.title = append(f.title, w.title(core))
			sum = append(sum, 0)
		}
		f.class = append(f.class, k)
		f.weight = append(f.weight, c.weight/total)
		sum[k] += c.weight / total
		var p, b point
		p.e, b.e = w.e, w.e
		p.reset(c.faultsAt(w.e, &c.post.theta), c.in, c.picks, c.inverted)
		b.reset(c.base, c.in, c.picks, c.inverted)
		f.points, f.bases = append(f.points, p), append(f.bases, b)
	}
	f.classes = len(sum)
	f.entropy = entropy(sum)
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
	joint := make([][]float64, f.classes)
	for k := range joint {
		joint[k] = make([]float64, len(q.outcomes))
	}
	out := make([]float64, len(q.outcomes))
	for i := range f.comps {
		q.chancesAt(&f.points[i], out)
		for j, x := range out {
			joint[f.class[i]][j] += f.weight[i] * x
		}
	}
	return joint
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

// bits is the expected information of an observation about which explanation is true.
func (f *forecast) bits(q *probe) float64 {
	if q.numeric() {
		return f.numberBits(q)
	}
	return mutual(f.joint(q))
}

// numberBits is the same for a number: each component foresees a normal one (or none at all), and the information
// ∫ Σ w·p(y|class)·log₂ p(y|class)/p(y) dy is summed over quadrature points of every component.
func (f *forecast) numberBits(q *probe) float64 {
	n := len(f.comps)
	mean, sd := make([]float64, n), make([]float64, n)
	blank := make([]bool, n)
	no := make([][]float64, f.classes) // whether there is a number at all is an outcome too
	for k := range no {
		no[k] = make([]float64, 2)
	}
	for i, c := range f.comps {
		m, s, ok := q.mean(&f.bases[i])
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
			x[nuisances+k] = q.slope(&f.bases[i], c.free[k])
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
	bits := mutual(no)
	// Gauss–Hermite in seven points for the standard normal weight (roots and weights as in Abramowitz and Stegun,
	// table 25.10, scaled by √2 and 1/√π).
	nodes := [...]float64{-3.750440, -2.366760, -1.154405, 0, 1.154405, 2.366760, 3.750440}
	weights := [...]float64{0.000548269, 0.030757124, 0.240123179, 0.457142857, 0.240123179, 0.030757124, 0.000548269}
	byClass := make([]float64, f.classes)
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
	for i := range f.comps {
		if blank[i] || f.weight[i] < 1e-4 {
			continue
		}
		for at, z := range nodes {
			y := mean[i] + z*sd[i]
			clear(byClass)
			all := 0.0
			for j := range f.comps {
				if blank[j] {
					continue
				}
				d := (y - mean[j]) / sd[j]
				if d > 6 || d < -6 {
					continue
				}
				p := f.weight[j] / sd[j] * math.Exp(-0.5*d*d)
				byClass[f.class[j]] += p
				all += p
			}
			k := f.class[i]
			bits += f.weight[i] * weights[at] * math.Log2(byClass[k]/classWeight[k]/(all/total))
		}
	}
	return max(bits, 0)
}
