package timing

import (
	"math"

	"phasewright/estimate"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/shaft/motion"
	"phasewright/shaft/sums"
	"phasewright/shaft/wheel"
	"phasewright/trigger"
	"phasewright/waveform"
)

const slopePerMicrosecond = motion.PerMicrosecond

// Span is what the recording showed beside the firings themselves.
type Span struct {
	// speeds between which all but the outermost firings lie; of those at the speeds of the line, if there are any
	Lo, Hi quantity.Speed
	Tick   waveform.Second // what a time stamp counts in
}

// Uncertainty that no scatter shows.
const (
	// lawFloor is what is left in doubt of offset and line however many firings there are: a controller's arithmetic,
	// the motion between edges that no cubic follows. Standard uncertainty in degrees (assumed).
	lawFloor = 0.004
	// edgeAssumed is what an active edge that nothing told may move the line by while speed changes, degrees (assumed).
	edgeAssumed = 0.25
	// reversedWires is the same for a reluctance pickup with its wires the wrong way round: its edge is no line,
	// degrees (assumed).
	reversedWires = 1.5
	// rippleTold is the factor of speeds from which on the ripple can be told from a delay.
	rippleTold = 3
)

// fit is the timing error against speed as estimated from one set of sums.
type fit struct {
	l       *wheel.Layout
	slope   bool
	byShaft bool // by the shaft's angle instead of the controller's own terms
	lead    float64
	lo, hi  float64 // rpm
	at      []float64
	mark    sums.Basis
	wait    sums.Basis
	vanes   []int
	place   float64
	tick    float64
	ripple  ripple
}

// estimates are what is made of the sums, in the order of values.
type estimates struct {
	offset, delay, lead, bend, leadSlope float64
	errors                               []float64
	cylinders                            []float64
}

func (f *fit) flat(e estimates) []float64 {
	return append(append([]float64{e.offset, e.delay, e.lead, e.bend, e.leadSlope}, e.errors...), e.cylinders...)
}

const fixed = 5 // values before the errors

// values are the estimates from one stretch's sums, or from all.
func (f *fit) values(r *row) ([]float64, bool) {
	s := &r.run
	marks := s.mark
	if !f.mark[2] {
		marks = f.ripple.takenOut(marks)
	}
	m, _, ok := marks.Solve(f.mark)
	if !ok {
		return nil, false
	}
	w, _, ok := f.firings(s).Solve(f.wait)
	if !ok {
		return nil, false
	}
	m[0] += s.markShift(f.l)
	e := estimates{lead: f.lead + m[0], leadSlope: m[1], bend: nan}
	e.offset = e.lead - f.l.Usual - w[0]
	slope := m[1] - w[1] // degrees per 1000 rpm
	e.delay = slope / 1000 / slopePerMicrosecond
	for _, n := range f.at {
		e.errors = append(e.errors, e.offset+slope*n/1000)
	}
	if f.slope {
		bent := f.wait
		bent[2] = true
		if c, _, ok := f.firings(s).Solve(bent); ok {
			e.bend = -c[2]
		}
	}
	for _, k := range f.vanes {
		v := s.vane[k]
		if v.n < 1 {
			return nil, false
		}
		e.cylinders = append(e.cylinders, e.lead+m[1]*v.speed/v.n/1000-v.own/v.n)
	}
	return f.flat(e), true
}

func (f *fit) firings(s *set) *sums.Moments {
	if f.byShaft {
		return &s.shaft
	}
	return &s.wait
}

// Fit makes the result; nil where there is no mark or there are no firings to fit. told says that cylinders were told
// apart, all that the recording holds all speeds in one; others are the moments of where the crank pickup's other edges
// stand after each vane, on x and 1/x².
func (g *Gather) Fit(run, slow Span, cylindersKnown bool, others []sums.Moments) *Timing {
	if !g.l.Mark.On || !g.sparks() {
		return nil
	}
	seen, parts := run, g.parts(false)
	if c, m := counts(parts); c < 20 || m < 6 || math.IsNaN(float64(run.Lo)) {
		seen, parts = slow, g.parts(true)
	}
	c, m := counts(parts)
	if c < 3 || m < 2 || math.IsNaN(float64(seen.Lo)) {
		return nil
	}
	facts := g.l.Facts
	f := fit{l: g.l, lead: float64(g.l.Lead()), lo: float64(seen.Lo), hi: float64(seen.Hi),
		tick:  float64(seen.Tick),
		place: float64(facts.MarkLimit) / math.Sqrt(3)}
	f.ripple = newRipple(g.l, others)
	f.slope = f.hi-f.lo > 0.15*(f.hi+f.lo)/2
	f.mark = sums.Basis{true, f.slope, f.hi > rippleTold*f.lo && f.lo < 1500}
	f.wait = sums.Basis{true, f.slope, false}
	f.at = f.speeds()
	r := &Timing{Firings: int64(c), Marks: int64(m), Groups: len(parts), FromRPM: f.lo, ToRPM: f.hi,
		Commanded: len(facts.Commanded) > 0,
		ClaimFrom: Number(nan), ClaimTo: Number(nan), Tolerance: float64(facts.Tolerance), Outliers: []int{},
		Verdict: readings.ReadMore,
		Law:     "last interval", BendDeg: Number(nan), BendP: Number(nan), CrankingBias: Number(nan),
		CrankingRPM: Number(nan)}
	if facts.OnCard && facts.Redline > facts.Idle && facts.Idle > 0 {
		r.ClaimFrom, r.ClaimTo = Number(facts.Idle), Number(facts.Redline)
	}
	r.slow = f.hi < float64(facts.FitFrom)
	total := sums.Total[row, *row](g.empty, parts)
	if cylindersKnown && r.Commanded {
		f.vanes = fired(g.l, total.run.vane)
	}
	f.chooseLaw(&total.run, r)
	value, cov, ok := sums.Jackknife[row, *row](g.empty, parts, f.values)
	if !ok || cov == nil && f.mark[2] {
		f.mark[2] = false
		value, cov, ok = sums.Jackknife[row, *row](g.empty, parts, f.values)
	}
	if !ok {
		return nil
	}
	f.fill(r, value, cov, &total.run)
	if g.light.N >= 3 && f.hi > 2*g.lowN.Mean() { // the mark's place must come from running, not from the ripple itself
		r.CrankingBias, r.CrankingRPM = Number(g.light.Mean()), Number(g.lowN.Mean())
	}
	return r
}

func counts(parts []row) (firings, marks float64) {
	for i := range parts {
		firings += parts[i].run.wait.N
		marks += parts[i].run.mark.N
	}
	return firings, marks
}

// speeds are where the error is told: within the speeds recorded.
func (f *fit) speeds() []float64 {
	if !f.slope {
		return []float64{(f.lo + f.hi) / 2}
	}
	const points = 11
	at := make([]float64, points)
	for i := range at {
		at[i] = f.lo + (f.hi-f.lo)*float64(i)/(points-1)
	}
	return at
}

// chooseLaw compares how well the controller's own terms and the shaft's angle describe the firings.
func (f *fit) chooseLaw(s *set, r *Timing) {
	residual := func(m *sums.Moments) float64 {
		_, rss, ok := m.Solve(f.wait)
		if dof := m.N - 2; ok && dof >= 1 {
			return math.Sqrt(rss / dof)
		}
		return nan
	}
	own, shaft := residual(&s.wait), residual(&s.shaft)
	r.ResidualSD = Number(own)
	if shaft < 0.6*own && own > 0.02 {
		f.byShaft, r.Law, r.ResidualSD = true, "shaft angle", Number(shaft)
	}
}

// nearestSpark moves the errors by whole firing intervals to the spark nearest to its command, where the
// controller acts on the other edge of the vanes: its spark may come after the next active edge, and would be
// taken for that firing's.
func (f *fit) nearestSpark(r *Timing, v []float64) {
	if f.l.Acts != wheel.ActsOther || f.l.Uneven {
		return
	}
	step := motion.Cycle / float64(f.l.N)
	by := step * math.Round(v[0]/step)
	v[0] -= by
	r.lead0 -= by
	for i := range r.ErrorAt {
		r.ErrorAt[i].Value -= by
	}
	for i := range f.vanes {
		v[fixed+len(f.at)+i] -= by
	}
}

// response is how least squares moves the line, degrees and degrees per 1000 rpm, for what is in doubt of the ripple;
// as a standard uncertainty. Where the ripple is fitted, what its own square does at the lowest speed is left in doubt.
func (f *fit) response(s *set) (offset, slope float64) {
	if s.mark.N == 0 {
		return 0, 0
	}
	u := f.ripple.unsure()
	if f.mark[2] {
		u = f.ripple.second(f.lo / 1000)
	}
	m := s.mark
	m.Y, m.YX, m.YZ, m.YY = m.Z, m.XZ, m.ZZ, 0
	c, _, ok := m.Solve(sums.Basis{true, f.slope, false})
	if !ok {
		return 0, 0
	}
	return u * c[0], u * c[1]
}

// hidden is the standard uncertainty that scatter does not show, at n rpm: a ripple that is not fitted, the ticks of
// the clock, an active edge that was assumed, the floor.
func (f *fit) typeB(s *set, n float64) float64 {
	offset, slope := f.response(s)
	clock := 6 * n * f.tick / math.Sqrt(12*math.Max(1, s.mark.N))
	edge := 0.0
	switch reversed := f.l.Acts == wheel.ActsOther; {
	case reversed && f.l.Profiles[f.l.Assigned.Crank].Reluctance:
		edge = reversedWires
	case reversed || f.l.ActiveAssumed:
		edge = edgeAssumed
	}
	return math.Sqrt(math.Pow(offset+slope*n/1000, 2) + lawFloor*lawFloor + edge*edge + clock*clock)
}

// combined adds what scatter does not show to a standard uncertainty by scatter, with the effective degrees of freedom
// (Welch–Satterthwaite).
func combined(value, scatter, dof float64, typeB ...float64) readings.Interval {
	x := readings.Interval{Value: value, U: scatter, DOF: dof}
	for _, h := range typeB {
		x.U = math.Hypot(x.U, h)
	}
	if x.U > scatter {
		x.DOF = math.Inf(1)
		if scatter > 0 {
			x.DOF = math.Pow(x.U/scatter, 4) * dof
		}
	}
	h := sums.Half(x.DOF) * x.U
	x.Lo, x.Hi = value-h, value+h
	return x
}

func (f *fit) fill(r *Timing, v []float64, cov [][]float64, s *set) {
	dof := float64(r.Groups) - 2
	scatter := func(i int) float64 {
		if cov == nil {
			return math.Inf(1)
		}
		return math.Sqrt(cov[i][i])
	}
	r.Allowance = readings.Allow(f.l.Facts.Allowance, 0, 1)
	r.Housing.Direction = readings.Leave
	r.Offset, r.Delay = readings.Unknown(), readings.Unknown()
	for i, n := range f.at {
		e := combined(v[fixed+i], scatter(fixed+i), dof, f.typeB(s, n), f.place)
		r.ErrorAt = append(r.ErrorAt, readings.ErrorAt{RPM: n, Value: e.Value, U: e.Expanded()})
	}
	r.Lead = combined(v[2], scatter(2), dof, f.typeB(s, 0), f.place)
	r.lead0, r.lead1 = v[2], v[4]/1000
	f.nearestSpark(r, v)
	for i, k := range f.vanes {
		c := combined(v[fixed+len(f.at)+i], scatter(fixed+len(f.at)+i), dof, f.typeB(s, (f.lo+f.hi)/2), f.place)
		r.Cylinders = append(r.Cylinders, CylinderError{f.l.Cylinder((k - f.l.First + f.l.N) % f.l.N), c.Value, Number(c.Expanded())})
	}
	if f.slope {
		r.Offset = combined(v[0], scatter(0), dof, f.typeB(s, 0), f.place)
		_, slope := f.response(s)
		r.Delay = combined(v[1], scatter(1), dof, slope/1000/slopePerMicrosecond,
			lawFloor/(f.hi-f.lo)/slopePerMicrosecond)
		f.bend(r, v[3], scatter(3), dof)
		f.advise(r)
	}
	f.askNext(r)
	r.Verdict = f.judge(r)
	f.leftOut(r)
}

// slowEnough is the speed, rpm, up to which a second one three times as fast is asked for where no card tells how fast
// the engine may go (assumed: 3600 rpm is within the reach of the trade's engines). From there on a slower one is asked
// for: it never harms, and half the speed tells housing from delay too.
const slowEnough = 1200

// askNext is the speed to record next.
func (f *fit) askNext(r *Timing) {
	round := func(n float64) float64 { return math.Round(n/50) * 50 }
	mid := (f.lo + f.hi) / 2
	lo, hi := float64(r.ClaimFrom), float64(r.ClaimTo)
	switch claimed := hi > lo; {
	case f.slope && claimed && f.hi < CoverEnough*hi:
		r.Next = round(hi)
	case f.slope && claimed && f.lo > lo/CoverEnough:
		r.Next = round(lo)
	case f.slope:
		worst := math.Inf(-1)
		for _, e := range r.ErrorAt {
			if e.U > worst {
				worst, r.Next = e.U, round(e.RPM)
			}
		}
		if math.IsInf(worst, -1) {
			r.Next = round(mid)
		}
	case claimed && mid > 0.45*hi:
		r.Next = round(lo)
	case claimed:
		r.Next = round(0.9 * hi)
	case mid > slowEnough:
		r.Next = round(mid / 2)
	default:
		r.Next = round(3 * mid)
	}
}

// CoverEnough is the share of the claimed speeds that must be recorded for them to be judged.
const CoverEnough = 0.85

// leftOut names what the uncertainty leaves out.
func (f *fit) leftOut(r *Timing) {
	add := func(text string) { r.NotInU = append(r.NotInU, text) }
	if f.place == 0 {
		add("the mark's own place at TDC")
	}
	if p := f.l.Profiles[f.l.Assigned.Crank]; p.Reluctance && p.Relative {
		add("what a sound card does to a reluctance pickup's zero crossings at low speed")
	}
	if d := motion.Angle(quantity.Speed(f.hi), waveform.Second(f.tick)); d > 0.1 {
		add("one sample is " + quantity.Degrees(d, 2) + " at " + quantity.Number(math.Round(f.hi), 0) + " rpm")
	}
}

// bend tests for a curve: the parabola through the same firings.
func (f *fit) bend(r *Timing, b, u, dof float64) {
	if math.IsNaN(b) || math.IsNaN(u) || math.IsInf(u, 1) {
		return
	}
	w := (f.hi - f.lo) / 1000
	r.BendDeg = Number(math.Abs(b) * w * w / 8)
	if u > 0 && dof > 0 {
		r.BendP = Number(estimate.StudentTail(math.Abs(b)/u, dof))
	}
}

// advise gives allowance and housing that take the line out.
func (f *fit) advise(r *Timing) {
	if !r.Commanded {
		return
	}
	step := f.l.Facts.Step
	if step <= 0 {
		step = 1
	}
	r.Allowance = readings.Allow(f.l.Facts.Allowance,
		float64(trigger.AllowanceStep(r.Delay.Value*slopePerMicrosecond)), step)
	if turn, with := trigger.HousingTurn(quantity.Crank(r.Offset.Value)); float64(turn) >= 0.05 {
		r.Housing = readings.Housing{TurnDeg: float64(turn), Direction: readings.AgainstRotor}
		if with {
			r.Housing.Direction = readings.WithRotor
		}
	}
}

// judge compares the error with the tolerance: over the speeds recorded, which must cover the claim for a pass, and
// on every cylinder.
func (f *fit) judge(r *Timing) readings.Verdict {
	tol := r.Tolerance
	if p := float64(r.BendP); f.slope && p < 0.01 && float64(r.BendDeg) > math.Max(0.15, 0.25*tol) {
		return readings.NotALine
	}
	if tol <= 0 || !r.Commanded || !f.slope {
		return readings.ReadMore
	}
	pass := !(float64(r.ClaimTo) > 0) || f.hi >= CoverEnough*float64(r.ClaimTo) &&
		f.lo <= float64(r.ClaimFrom)/CoverEnough
	within := func(value, u float64) (fails bool) {
		pass = pass && math.Abs(value)+u <= tol
		return math.Abs(value)-u > tol
	}
	for _, e := range r.ErrorAt {
		if within(e.Value, e.U) {
			return readings.Adjust
		}
	}
	for _, c := range r.Cylinders {
		if within(c.Value, float64(c.U)) {
			return readings.Adjust
		}
	}
	if pass {
		return readings.Pass
	}
	return readings.ReadMore
}
