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

// Span is the range of speeds of the firings, and the step of the recording's clock.
type Span struct {
	// all but the outermost 0.1 % of the firings lie between Lo and Hi; NaN where there are none
	Lo, Hi quantity.Speed
	Tick   waveform.Second // what a time stamp counts in
}

// Standard uncertainties that scatter does not show.
const (
	// lawFloor stays in doubt of offset and line however many firings there are: rounding in a controller, motion
	// between edges that no cubic follows. Degrees (assumed).
	lawFloor = 0.004
	// edgeAssumed is by how much the line may be wrong where the active edge had to be assumed, degrees (assumed).
	edgeAssumed = 0.25
	// reversedWires is the same where the wires of a reluctance pickup are exchanged: the edge that the controller then
	// acts on does not keep its place at all speeds. Degrees (assumed).
	reversedWires = 1.5
	// rippleTold is the factor that speed must vary by for the ripple of compression, which falls with 1/n², to be told
	// from a delay, which grows with n.
	rippleTold = 3
)

// fit says how the timing error against speed is estimated from sums: which terms are used, at which speeds.
type fit struct {
	l       *wheel.Layout
	slope   bool
	byShaft bool // the angle by the shaft is used instead of S·t/T
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

// estimates are what is estimated from sums, in the order of values.
type estimates struct {
	offset, delay, lead, bend, leadSlope float64
	errors                               []float64
	cylinders                            []float64
}

func (f *fit) flat(e estimates) []float64 {
	return append(append([]float64{e.offset, e.delay, e.lead, e.bend, e.leadSlope}, e.errors...), e.cylinders...)
}

const fixed = 5 // estimates before the errors

// values makes the estimates from the sums r, which hold one stretch or several.
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

// Fit makes the result; nil where there is no mark or too few firings. run is the span of the firings at the speeds of
// the timing line, slow that of all firings, used where there are too few at those speeds. cylindersKnown says that it
// is known which vane is which cylinder's. others are, by vane, the moments of where the crank pickup's other edge
// stands after it, over x and 1/x² with x in 1000 rpm.
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
	if g.light.N >= 3 && f.hi > 2*g.lowN.Mean() { // the mark was placed at speeds of little ripple
		r.CrankingBias, r.CrankingRPM = Number(g.light.Mean()), Number(g.lowN.Mean())
	}
	return r
}

// counts is how many firings and marks the parts hold.
func counts(parts []row) (firings, marks float64) {
	for i := range parts {
		firings += parts[i].run.wait.N
		marks += parts[i].run.mark.N
	}
	return firings, marks
}

// speeds are the speeds at which the error is given, rpm: 11 over the range recorded, or its middle where it is too
// narrow for a slope.
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

// chooseLaw decides by the residuals whether this controller times by its last interval (S·t/T), as most do, or by the
// angle that the shaft truly turns.
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

// nearestSpark matters where the controller acts on the other edge of the vanes. Its spark may then come after the next
// active edge and be counted with the wrong firing: the errors are moved by whole firing intervals until the offset is
// the smallest possible.
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

// response is the standard uncertainty of the line for what is in doubt of the ripple: of its offset in degrees, of its
// slope in degrees per 1000 rpm. It is what least squares makes of an error u/x² in every mark. u is the doubt in the
// size of the ripple; where the ripple is fitted, its second-order effect at the lowest speed.
func (f *fit) response(s *set) (offset, slope float64) {
	if s.mark.N == 0 {
		return 0, 0
	}
	u := f.ripple.uncertainty()
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

// typeB is the standard uncertainty that scatter does not show, at n rpm, degrees: the root sum of squares of a ripple
// that is not fitted, the ticks of the clock, an active edge that was assumed, and lawFloor. A tick of w seconds is
// 6·n·w degrees wide and adds that divided by √12 to a mark, shared over all marks.
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

// combined adds standard uncertainties that scatter does not show to the one by scatter, as the root sum of squares,
// with the effective degrees of freedom (Welch–Satterthwaite, JCGM 100 G.4).
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

// fill writes the estimates v with the covariance cov into r; s holds the sums of the whole recording.
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
		firing := (k - f.l.First + f.l.N) % f.l.N
		r.Cylinders = append(r.Cylinders, CylinderError{f.l.Cylinder(firing), c.Value, Number(c.Expanded())})
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

// slowEnough is, where no card says how fast the engine may turn, the highest recorded speed (rpm) for which a second
// recording at three times that speed is asked for (assumed: engines of this trade reach 3600 rpm). Above it half the
// speed is asked for, which harms no engine and tells housing from delay too.
const slowEnough = 1200

// askNext chooses the speed to record next: the end of the claimed range that is missing, else the speed of the largest
// U, rounded to 50 rpm.
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

// leftOut names what the uncertainty does not include.
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

// bend tests whether the error is a curve instead of a line: a parabola c·x² is fitted to the same firings. Over a
// range of speeds of width w it departs from the nearest straight line by up to |c|·w²/8.
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

// advise gives the change of allowance that takes out the slope, and the housing turn that takes out the offset.
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

// judge compares error ± U with the tolerance, at every speed given and on every cylinder: Adjust where one is surely
// outside, Pass where all are surely inside and the speeds recorded cover the claimed ones, else ReadMore. A curve is
// NotALine.
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
