package readings

import (
	"math"
	"slices"

	"phasewright/engine"
	"phasewright/estimate"
	"phasewright/quantity"
)

// A fit counts as not a line where so bad a one by luck is rarer than significance, and where
// the error strays from the line by more than strayShare of the tolerance: fine readings show
// bends that do not matter.
const (
	significance = 0.01
	strayShare   = 0.1
)

// bent says whether the readings show for certain that the error is no line, however little.
func (m *model) bent() bool { return m.lack.P < significance }

// stray is how far the true error lies from the line, root mean square, crank degrees.
func (m *model) stray() float64 {
	return m.typical * math.Sqrt(m.lack.Lack/float64(len(m.n)))
}

// report fills in what was found, before any verdict.
func (m *model) report(res *Result, set Settings) {
	res.Used = len(m.n)
	res.Scale = m.scale
	if len(m.cranking) > 0 {
		res.CrankingError = m.crankingError()
	}
	if m.fit == nil {
		return
	}
	if !math.IsInf(m.raw, 1) {
		res.ResidualSD = Number(m.raw * m.typical)
	}
	res.LackOfFit = LackOfFit{P: Number(m.lack.P), Deg: Number(math.NaN())}
	if m.lack.Made() {
		res.LackOfFit.Test, res.LackOfFit.Deg = m.lack.Name, Number(m.stray())
	}
	if m.slope && !m.wild {
		res.Offset, res.Delay = m.combine(1, 0), m.combine(0, 1)
	}
	m.reportWires(res, set)
	res.ErrorAt, res.Worst = res.Wires[0].ErrorAt, res.Wires[0].Worst
	for i, l := range m.budget(res.Worst.RPM) {
		one := Line{Name: l.Name, Kind: l.Kind, Shape: l.Shape, U: Number(l.Contribution()), DOF: Number(l.DOF),
			Assumed: l.Assumed}
		if i > 0 { // the scatter stands first
			one.Source = set.Common[i-1].Source
		}
		res.Budget = append(res.Budget, one)
	}
}

// beyond says whether |e| + U of a is larger than that of b.
func beyond(a, b ErrorAt) bool {
	if math.IsInf(a.U, 1) && math.IsInf(b.U, 1) {
		return math.Abs(a.Value) > math.Abs(b.Value)
	}
	return math.Abs(a.Value)+a.U > math.Abs(b.Value)+b.U
}

// crankingError is the mean of the readings on the starter.
func (m *model) crankingError() Interval {
	ones := make([]float64, len(m.cranking))
	for i := range ones {
		ones[i] = 1
	}
	f, err := estimate.LeastSquares([][]float64{ones}, m.cranking, nil)
	if err != nil {
		return Unknown()
	}
	v := Interval{Value: f.Coef[0], U: math.Inf(1), Lo: math.Inf(-1), Hi: math.Inf(1), DOF: float64(f.DOF)}
	if f.DOF >= 1 {
		v.U = math.Max(f.SD(), m.resolution/math.Sqrt(12)) * math.Sqrt(f.Unit[0][0])
		half := m.t.factor(v.DOF) * v.U
		v.Lo, v.Hi = v.Value-half, v.Value+half
	}
	return v
}

// judge gives the verdict and the corrections.
//
// The verdict is taken on every wire that was read, at the speeds of ErrorAt: pass when |e| + U stays within the
// tolerance at all of them, adjust when |e| − U is beyond it at one, read more between. Not a line goes before all of
// them, where the bend is certain and matters. Where marks and tachometer alone keep it open, reading more settles
// nothing; it is adjust then, too, if the corrections bring |e| + U within the tolerance. What arithmetic knows for
// another fault than housing and allowance is look elsewhere; see strange and PatternOf.
//
// The corrections cure the estimates:
//
//	allowance: changed by the whole steps nearest to τ − c, never to below nothing
//	housing:   b/2 shaft degrees, with the rotor for b > 0, against it for b < 0
//
// On a pass nothing moves. Where several cylinders were read, b is the middle between the earliest and the latest. The
// housing also stays where b is not significant (its interval
// holds nought), or uses up less than half of the tolerance with its uncertainty; but where
// the common uncertainties alone hide a b that stands clear of the scatter, and only a turn
// brings the error within the tolerance, it is turned.
func (m *model) judge(res *Result, set Settings) {
	res.Verdict = ReadMore
	if m.fit == nil {
		return
	}
	told := m.slope && !m.wild
	within := told
	for _, w := range res.Wires {
		within = within && w.Within()
	}
	bent := told && m.bent() && m.stray() > strayShare*res.Tolerance
	res.After = res.Worst
	if p := m.strange(res, set, bent); p != nil && !within {
		res.Verdict, res.pattern = LookElsewhere, p
		return
	}
	switch {
	case bent:
		res.Verdict = NotALine
	case within:
		res.Verdict = Pass
	}
	if !told || res.Verdict != ReadMore {
		return
	}
	m.correct(res, set)
	moves := res.Allowance.Changes() || res.Housing.Direction != Leave
	cures := math.Abs(res.After.Value)+res.After.U <= res.Tolerance
	if res.beyondTolerance() || moves && cures && m.commonStops(res) {
		res.Verdict = Adjust
	}
	if p := set.Steps.PatternOf(res.Offset.Value, res.Offset.Expanded()); p != nil && res.Verdict == Adjust {
		res.Verdict, res.pattern = LookElsewhere, p
	}
	if res.Verdict != Adjust { // a turn never stands beside a verdict that does not advise it
		res.Housing = Housing{Direction: Leave}
		res.Allowance = Allow(float64(res.Allowance.Now), 0, 1)
		res.After = res.Worst
	}
}

// beyondTolerance says whether |e| − U is larger than the tolerance anywhere.
func (res *Result) beyondTolerance() bool {
	return slices.ContainsFunc(res.Wires, WireError.Beyond)
}

// commonStops says whether the shared uncertainties alone would keep the verdict open, however
// many readings were taken.
func (m *model) commonStops(res *Result) bool {
	w, _ := res.worst()
	e, left := math.Abs(w.Worst.Value), m.commonOnly(w.Worst.RPM)
	return e+left > res.Tolerance && e-left <= res.Tolerance && left > w.Worst.U/2
}

// correct works out what to set and to turn.
func (m *model) correct(res *Result, set Settings) {
	step := float64(set.step())
	res.Allowance = Allow(float64(res.Allowance.Now), res.Delay.Value, step)
	left := res.Delay.Value - res.Allowance.Change // µs of delay that the whole steps leave over
	res.RoundingDeg = Number(perMicrosecond * left * float64(set.Redline))
	middle := m.middle(res)
	b, U := middle.Value, middle.Expanded()
	stay, turned := m.after(set, 0, left), m.after(set, b, left)
	turn := math.Abs(b) > U && math.Abs(b)+U > res.Tolerance/2
	if !turn && math.Abs(b) > m.scatterOnly(1, 0) {
		turn = math.Abs(stay.Value)+stay.U > res.Tolerance && math.Abs(turned.Value)+turned.U <= res.Tolerance
	}
	res.After = stay
	if turn {
		res.After = turned
		res.Housing = Housing{TurnDeg: float64(engine.CrankToShaft(quantity.Crank(math.Abs(b)))), Direction: WithRotor}
		if b < 0 {
			res.Housing.Direction = AgainstRotor
		}
	}
}

// middle is the constant error halfway between the earliest and the latest cylinder that was read: what a turn of the
// housing takes off, since it moves all of them alike.
func (m *model) middle(res *Result) Interval {
	first, last := res.Cylinders[0], res.Cylinders[0]
	for _, c := range res.Cylinders {
		if c.Offset.Value > first.Offset.Value {
			first = c
		}
		if c.Offset.Value < last.Offset.Value {
			last = c
		}
	}
	row := m.rowOf(1, 0, first.Cylinder)
	for j, x := range m.rowOf(1, 0, last.Cylinder) {
		row[j] = (row[j] + x) / 2
	}
	return m.along(row, 0)
}

// after is the worst of the range and of the cylinders once the housing has taken off b and the delay left over is d.
// The uncertainty is that of the present estimates: it carries over into the corrections.
func (m *model) after(set Settings, b, d float64) ErrorAt {
	worst := ErrorAt{Value: math.NaN(), U: math.Inf(1)}
	for _, c := range m.read {
		own := m.of(c, 0).Value - b
		for _, n := range grid(set) {
			e := ErrorAt{RPM: n, Value: own + perMicrosecond*n*d, U: m.of(c, n).Expanded()}
			if math.IsNaN(worst.Value) || beyond(e, worst) {
				worst = e
			}
		}
	}
	return worst
}
