package suspects

import "math"

// most is how many free sizes and nuisances a hypothesis may have at once.
const most = 7

// matrix is a small square one.
type matrix [most][most]float64

// line is one number that was seen, ready to be fitted: y − what the base of the hypothesis predicts = x·θ + noise.
type line struct {
	r    float64 // residual against the base
	v    float64 // variance of the noise
	x    [most]float64
	odd  float64 // chance that it is a misread
	flat float64 // log density of a misread
}

// posterior is the outcome of a fit.
type posterior struct {
	log   float64 // log of the marginal likelihood, misreads summed over
	theta [most]float64
	cov   matrix
	p     int
	out   lineSet // lines taken for misreads
}

// mostLines is how many lines a fit takes.
const mostLines = 256

// lineSet is a set of them.
type lineSet [mostLines / 64]uint64

func (s *lineSet) has(i int) bool { return s[i>>6]>>(i&63)&1 != 0 }
func (s *lineSet) add(i int)      { s[i>>6] |= 1 << (i & 63) }

// marginal integrates θ ~ N(0, diag(prior)) out of the lines in closed form:
//
//	ln p = −½[Σ r²/v + Σ ln 2πv + ln|A| + Σ ln prior − bᵀA⁻¹b],  A = diag(1/prior) + Σ x xᵀ/v,  b = Σ x r/v
//
// (Bishop, Pattern Recognition and Machine Learning, 2006, §3.3 and §3.5; equal to the N(0, V + XPXᵀ) density by
// Woodbury). Each line may be a misread with a flat density instead: all lines in, each one left out (closed form
// through the leverages), then the most improbable one is taken out for good and the sum goes on while that pays. At
// most mostLines lines.
func marginal(lines []line, prior []float64) posterior {
	best := posterior{p: len(prior)}
	total := math.Inf(-1)
	var out lineSet
	keep := 0.0 // log chance of the lines that are out
	for i := range lines {
		keep += math.Log1p(-lines[i].odd)
	}
	for round := 0; ; round++ {
		a, theta, l := solve(lines, prior, &out)
		l += keep
		total = logAdd(total, l)
		best.theta, best.cov, best.out = theta, a, out
		worst, gain := -1, math.Inf(-1)
		sum := math.Inf(-1)
		for i := range lines {
			if out.has(i) || lines[i].odd <= 0 {
				continue
			}
			ln := &lines[i]
			swap := ln.flat + math.Log(ln.odd) - math.Log1p(-ln.odd) - leaveOut(ln, &a, &theta, len(prior))
			sum = logAdd(sum, l+swap)
			if swap > gain {
				worst, gain = i, swap
			}
		}
		if worst < 0 || gain < 0 || round >= 1+len(lines)/3 {
			total = logAdd(total, sum)
			break
		}
		out.add(worst)
		keep += math.Log(lines[worst].odd) - math.Log1p(-lines[worst].odd) + lines[worst].flat
	}
	best.log = total
	return best
}

// leaveOut is the log density of a line predicted from all the others that are in.
func leaveOut(ln *line, cov *matrix, theta *[most]float64, p int) float64 {
	h, e := 0.0, ln.r
	for j := range p {
		e -= ln.x[j] * theta[j]
		for k := range p {
			h += ln.x[j] * cov[j][k] * ln.x[k]
		}
	}
	h = min(h/ln.v, 1-1e-9)
	return logNormal(e/(1-h), ln.v/(1-h))
}

// solve fits θ to the lines that are in and gives its covariance and the log marginal likelihood.
func solve(lines []line, prior []float64, out *lineSet) (cov matrix, theta [most]float64, log float64) {
	p := len(prior)
	var a matrix
	var b [most]float64
	for j := range p {
		a[j][j] = 1 / prior[j]
		log -= 0.5 * math.Log(prior[j])
	}
	for i := range lines {
		if out.has(i) {
			continue
		}
		ln := &lines[i]
		w := 1 / ln.v
		log -= 0.5 * (ln.r*ln.r*w + math.Log(2*math.Pi*ln.v))
		for j := range p {
			if ln.x[j] == 0 {
				continue
			}
			xw := ln.x[j] * w
			b[j] += xw * ln.r
			for k := 0; k <= j; k++ {
				a[j][k] += xw * ln.x[k]
			}
		}
	}
	// Cholesky factor l of a, in place; then its inverse.
	for j := range p {
		for k := 0; k <= j; k++ {
			s := a[j][k]
			for m := range k {
				s -= a[j][m] * a[k][m]
			}
			if j == k {
				a[j][j] = math.Sqrt(max(s, 1e-300))
			} else {
				a[j][k] = s / a[k][k]
			}
		}
		log -= math.Log(a[j][j])
	}
	var inv matrix // of the factor, lower triangle
	for j := range p {
		inv[j][j] = 1 / a[j][j]
		for k := range j {
			s := 0.0
			for m := k; m < j; m++ {
				s -= a[j][m] * inv[m][k]
			}
			inv[j][k] = s / a[j][j]
		}
	}
	for j := range p {
		for k := range p {
			s := 0.0
			for m := max(j, k); m < p; m++ {
				s += inv[m][j] * inv[m][k]
			}
			cov[j][k] = s
		}
	}
	for j := range p {
		for k := range p {
			theta[j] += cov[j][k] * b[k]
		}
		log += 0.5 * theta[j] * b[j]
	}
	return cov, theta, log
}

func logNormal(d, v float64) float64 { return -0.5 * (d*d/v + math.Log(2*math.Pi*v)) }

// logAdd is ln(eᵃ + eᵇ).
func logAdd(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if math.IsInf(a, -1) {
		return a
	}
	return a + math.Log1p(math.Exp(b-a))
}
