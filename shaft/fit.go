package shaft

import (
	"fmt"
	"math"

	"phasewright/estimate"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/trigger"
)

const perMicrosecond = -degPerRPM * 1e-6 // degrees per rpm and µs of delay left over

// line is the timing error against speed as estimated from one set of sums.
type line struct {
	set      int // row offset: 0 all speeds, runAt running
	slope    bool
	angle    bool // by the shaft's angle instead of the controller's own terms
	lead     float64
	lo, hi   float64 // rpm
	at       []float64
	mark     basis
	fire     basis
	tr       *tracker
	residual float64
}

// values are, from sums: b, τ−c, e at each speed of l.at, lead at no speed, bend coefficient, change of the lead over 1000 rpm.
func (l *line) values(sum []float64) ([]float64, bool) {
	m, _, ok := solve(sum[l.set:], l.mark)
	if !ok {
		return nil, false
	}
	f, _, ok := solve(l.fires(sum), l.fire)
	if !ok {
		return nil, false
	}
	m[0] += l.tr.moved(sum, bit(l.set == runAt))
	b := l.lead + m[0] - l.tr.p.usual - f[0]
	s := m[1] - f[1] // degrees per 1000 rpm
	out := []float64{b, s / 1000 / perMicrosecond}
	for _, n := range l.at {
		out = append(out, b+s*n/1000)
	}
	out = append(out, l.lead+m[0])
	q := math.NaN()
	if l.slope {
		bent := l.fire
		bent[2] = true
		if c, _, ok := solve(l.fires(sum), bent); ok {
			q = -c[2]
		}
	}
	return append(out, q, m[1]), true
}

// fires are the moments of the firings, in the terms in use.
func (l *line) fires(sum []float64) []float64 {
	m := sum[l.set+ownAt : l.set+ownAt+moments]
	if !l.angle {
		return m
	}
	c := append([]float64(nil), m...)
	copy(c[6:], sum[l.set+angleAt:l.set+angleAt+4])
	return c
}

// timing makes the fit; nil where there is no mark or there are no firings to fit.
func (tr *tracker) fit() *Timing {
	if !tr.p.mark.on || len(tr.p.a.sparks) == 0 {
		return nil
	}
	l := line{tr: tr, lead: tr.lead(), set: runAt}
	l.span()
	parts := tr.timing.parts(runAt, runAt+ownAt)
	if c, m := counts(parts, runAt); c < 20 || m < 6 || math.IsNaN(l.lo) {
		l.set = 0
		l.span()
		parts = tr.timing.parts(0, ownAt)
	}
	c, m := counts(parts, l.set)
	if c < 3 || m < 2 || math.IsNaN(l.lo) {
		return nil
	}
	r := &Timing{Firings: int64(c), Marks: int64(m), Groups: len(parts), FromRPM: l.lo, Commanded: len(tr.s.commanded) > 0,
		Tolerance: tr.s.tolerance, Outliers: []int{}, Verdict: readings.ReadMore, Law: "last interval", BendDeg: nan, BendP: nan, CrankingBias: nan, CrankingRPM: nan}
	r.slow = l.hi < tr.s.fitFrom
	l.slope = l.hi-l.lo > 0.15*(l.hi+l.lo)/2
	l.mark = basis{true, l.slope, l.hi > 3*l.lo && l.lo < 1500}
	l.fire = basis{true, l.slope, false}
	l.at = l.speeds()
	l.chooseLaw(parts, r)
	value, cov, ok := jackknife(parts, l.values)
	if !ok || cov == nil && l.mark[2] {
		l.mark[2] = false
		value, cov, ok = jackknife(parts, l.values)
	}
	if !ok {
		return nil
	}
	l.fill(r, value, cov)
	if tr.timing.light.n >= 3 && l.hi > 2*tr.timing.lowN.mean() { // the mark's place must come from running, not from the ripple itself
		r.CrankingBias, r.CrankingRPM = Number(tr.timing.light.mean()), Number(tr.timing.lowN.mean())
	}
	return r
}

var nan = Number(math.NaN())

func counts(parts [][]float64, set int) (firings, marks float64) {
	for _, p := range parts {
		firings += p[set+ownAt]
		marks += p[set]
	}
	return firings, marks
}

// lead is how far before cylinder 1's TDC its active edge stands on the learnt wheel, 0 ≤ lead < 360.
func (tr *tracker) lead() float64 {
	if !tr.p.mark.on {
		return math.NaN()
	}
	return wrap(tr.p.mark.at-tr.w.nominal[tr.p.first], turn)
}

// leadAt is the lead at n rpm as the recording shows it: a crank pickup that answers late brings it nearer to TDC as speed rises.
func (t *Timing) leadAt(n float64) float64 { return t.lead0 + t.lead1*n }

// span finds the speeds between which all but the outermost 0.1 % of firings of the set lie.
func (l *line) span() {
	l.lo, l.hi = math.NaN(), math.NaN()
	total, sum := int64(0), int64(0)
	from := 0.0
	if l.set == runAt {
		from = l.tr.s.fitFrom
	}
	in := func(c *speedSums) bool { return c.after.n > 0 && c.hi >= from }
	for i := range l.tr.spark.class {
		if c := &l.tr.spark.class[i]; in(c) {
			total += c.after.n
		}
	}
	edge := total / 1000
	for i := range l.tr.spark.class {
		c := &l.tr.spark.class[i]
		if !in(c) {
			continue
		}
		if sum <= edge {
			l.lo = math.Max(c.lo, from)
		}
		sum += c.after.n
		if sum >= total-edge {
			l.hi = c.hi
			return
		}
	}
}

// speeds are where the error is told: the job's whole range where a card gives it, else the range seen.
func (l *line) speeds() []float64 {
	lo, hi := l.lo, l.hi
	if !l.slope {
		return []float64{(lo + hi) / 2}
	}
	if c := l.tr.s.opt.Card; c != nil && c.Engine.Redline > c.Engine.IdleSpeed && c.Engine.IdleSpeed > 0 {
		lo, hi = float64(c.Engine.IdleSpeed), float64(c.Engine.Redline)
	}
	const points = 11
	at := make([]float64, points)
	for i := range at {
		at[i] = lo + (hi-lo)*float64(i)/(points-1)
	}
	return at
}

// chooseLaw compares how well the controller's own terms and the shaft's angle describe the firings.
func (l *line) chooseLaw(parts [][]float64, r *Timing) {
	sum := make([]float64, len(parts[0]))
	for _, p := range parts {
		for j, v := range p {
			sum[j] += v
		}
	}
	residual := func(angle bool) float64 {
		l.angle = angle
		m := l.fires(sum)
		_, rss, ok := solve(m, l.fire)
		if dof := m[0] - 2; ok && dof >= 1 {
			return math.Sqrt(rss / dof)
		}
		return math.NaN()
	}
	own, angle := residual(false), residual(true)
	l.residual, l.angle = own, false
	if angle < 0.6*own && own > 0.02 {
		l.angle, l.residual = true, angle
		r.Law = "shaft angle"
	}
	r.ResidualSD = Number(l.residual)
}

// slowEnough is the speed, rpm, up to which a second one three times as fast is asked for where no card tells how fast
// the engine may go (assumed: 3600 rpm is within the reach of the trade's engines). From there on a slower one is asked
// for: it never harms, and half the speed tells housing from delay too.
const slowEnough = 1200

func (l *line) fill(r *Timing, v []float64, cov [][]float64) {
	dof := float64(r.Groups) - 2
	place := float64(l.tr.s.opt.MarkLimit) / math.Sqrt(3)
	interval := func(i int, withPlace bool) readings.Interval {
		x := readings.Interval{Value: v[i], U: math.Inf(1), Lo: math.Inf(-1), Hi: math.Inf(1)}
		if cov == nil {
			return x
		}
		ua := math.Sqrt(cov[i][i])
		x.U, x.DOF = ua, dof
		if withPlace && place > 0 {
			x.U = math.Hypot(ua, place)
			x.DOF = math.Inf(1)
			if ua > 0 {
				x.DOF = math.Pow(x.U/ua, 4) * dof // Welch–Satterthwaite
			}
		}
		h := half(x.DOF) * x.U
		x.Lo, x.Hi = x.Value-h, x.Value+h
		return x
	}
	s := l.tr.s
	r.Allowance = readings.Allow(s.allowance, 0, 1)
	r.onCard = s.onCard
	r.Housing.Direction = readings.Leave
	r.Offset, r.Delay = readings.Unknown(), readings.Unknown()
	worst := math.Inf(-1)
	for i, n := range l.at {
		e := interval(2+i, true)
		r.ErrorAt = append(r.ErrorAt, readings.ErrorAt{RPM: n, Value: e.Value, U: e.Expanded()})
		if e.Expanded() > worst || math.IsInf(worst, -1) {
			worst, r.Next = e.Expanded(), math.Round(n/50)*50
		}
	}
	r.Lead = interval(2+len(l.at), true)
	r.lead0, r.lead1 = r.Lead.Value, v[len(v)-1]/1000
	if l.slope {
		r.Offset, r.Delay = interval(0, true), interval(1, false)
		l.bend(r, v, cov, dof)
		l.advise(r)
	} else {
		mid := (l.lo + l.hi) / 2
		if r.Next = math.Round(3*mid/50) * 50; mid > slowEnough {
			r.Next = math.Round(mid/2/50) * 50
		}
		if c := s.opt.Card; c != nil && c.Engine.Redline > 0 {
			r.Next = math.Round(float64(c.Engine.Redline)*0.9/50) * 50
			if mid > r.Next/2 {
				r.Next = math.Round(float64(c.Engine.IdleSpeed)/50) * 50
			}
		}
	}
	r.Verdict = l.judge(r)
	if place == 0 {
		r.NotInU = append(r.NotInU, "the mark's own place at TDC")
	}
	if l.tr.p.activeBecause == edgeAssumed && l.slope {
		r.NotInU = append(r.NotInU, "which crank edge the controller acts on, which is assumed: the other one moves the error by tenths of a degree while speed changes")
	}
	if q := l.tr.p.ps[l.tr.p.a.crank]; q.zero && q.relative {
		r.NotInU = append(r.NotInU, "what a sound card does to a reluctance pickup's zero crossings at low speed")
	}
	if dt := l.tr.sample; dt > 0 {
		if d := degPerRPM * l.hi * dt; d > 0.1 {
			r.NotInU = append(r.NotInU, fmt.Sprintf("one sample is %s at %s", quantity.Degrees(d, 2), quantity.Speed(math.Round(l.hi))))
		}
	}
}

// bend tests for a curve: the parabola through the same firings.
func (l *line) bend(r *Timing, v []float64, cov [][]float64, dof float64) {
	i := len(v) - 2
	if cov == nil || math.IsNaN(v[i]) || math.IsNaN(cov[i][i]) {
		return
	}
	w := (l.hi - l.lo) / 1000
	r.BendDeg = Number(math.Abs(v[i]) * w * w / 8)
	if u := math.Sqrt(cov[i][i]); u > 0 && dof > 0 {
		r.BendP = Number(estimate.StudentTail(math.Abs(v[i])/u, dof))
	}
}

// advise gives allowance and housing that take the line out.
func (l *line) advise(r *Timing) {
	step := l.tr.s.step
	if step <= 0 {
		step = 1
	}
	if r.Commanded {
		r.Allowance = readings.Allow(l.tr.s.allowance, float64(trigger.AllowanceStep(r.Delay.Value*perMicrosecond)), step)
		turn, with := trigger.HousingTurn(quantity.Crank(r.Offset.Value))
		if float64(turn) >= 0.05 {
			r.Housing = readings.Housing{TurnDeg: float64(turn), Direction: readings.AgainstRotor}
			if with {
				r.Housing.Direction = readings.WithRotor
			}
		}
	}
}

func (l *line) judge(r *Timing) readings.Verdict {
	tol := r.Tolerance
	if p := float64(r.BendP); l.slope && p < 0.01 && float64(r.BendDeg) > math.Max(0.15, 0.25*tol) {
		return readings.NotALine
	}
	if tol <= 0 || !r.Commanded || !l.slope {
		return readings.ReadMore
	}
	pass := true
	for _, e := range r.ErrorAt {
		if math.IsInf(e.U, 1) {
			return readings.ReadMore
		}
		if math.Abs(e.Value)-e.U > tol {
			return readings.Correct
		}
		pass = pass && math.Abs(e.Value)+e.U <= tol
	}
	if pass {
		return readings.Pass
	}
	return readings.ReadMore
}
