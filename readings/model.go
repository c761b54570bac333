package readings

import (
	"math"

	"phasewright/estimate"
)

// tTable keeps the coverage factors already looked up: a fit asks for the same few again and again.
type tTable struct {
	confidence float64
	k          [40]float64
}

func (t *tTable) factor(dof float64) float64 {
	whole := math.Floor(dof + 1e-9)
	if !(whole >= 0) {
		return math.Inf(1)
	}
	at := len(t.k) - 1 // the last place is the normal's
	if whole < float64(at) {
		at = int(whole)
	} else if !math.IsInf(dof, 1) {
		return estimate.TFactor(t.confidence, dof)
	}
	if t.k[at] == 0 {
		t.k[at] = estimate.TFactor(t.confidence, dof)
	}
	return t.k[at]
}

// rowOf is p·b + q·(τ−c) for a cylinder as a row of the fit's columns.
func (m *model) rowOf(p, q float64, cylinder int) []float64 {
	row := make([]float64, len(m.fit.Coef))
	row[0] = p
	others := row[1:]
	if m.slope {
		row[1], others = q, row[2:]
	}
	for j, c := range m.read[1:] {
		if c == cylinder {
			others[j] = p
		}
	}
	return row
}

// of is the present timing error of a cylinder at n rpm, a·(b, τ−c) for a = (1, −6·10⁻⁶·n); where all were read at one
// speed, the error there.
func (m *model) of(cylinder int, n float64) Interval {
	if m.fit == nil {
		return Unknown()
	}
	return m.along(m.rowOf(1, perMicrosecond*n, cylinder), 0)
}

// combine gives p·b + q·(τ−c) with its interval.
func (m *model) combine(p, q float64) Interval {
	if m.fit == nil || !m.slope && q != 0 {
		return Unknown()
	}
	return m.along(m.rowOf(p, q, 0), 0)
}

// along gives the value of the fit along a row of its columns with its interval; more is a variance to add, of
// something that the fit does not know.
func (m *model) along(row []float64, more float64) Interval {
	var v Interval
	var scatter float64
	for i, x := range row {
		if x == 0 {
			continue
		}
		v.Value += x * m.fit.Coef[i]
		for j, y := range row {
			scatter += x * y * m.fit.Unit[i][j]
		}
	}
	a := scatter * m.factor * m.factor
	squares, fourths := a+more, a*a/m.dof
	for i := range m.common {
		c := m.common[i].on(row)
		squares += c * c
	}
	v.U = math.Sqrt(squares)
	if math.IsNaN(v.U) || math.IsInf(v.U, 1) {
		v.U, v.Lo, v.Hi = math.Inf(1), math.Inf(-1), math.Inf(1)
		return v
	}
	v.DOF = squares * squares / fourths // Welch–Satterthwaite; the common lines are taken as certain
	if fourths == 0 {
		v.DOF = math.Inf(1)
	}
	// Welch–Satterthwaite comes out short where few readings meet large common lines: one more
	// line can even narrow the interval, and in simulation it holds 88 to 94 % at one to three
	// degrees of freedom. So U never falls below √((t·u_A)² + u_B²).
	t := m.t.factor(m.dof)
	half := math.Max(m.t.factor(v.DOF)*v.U, math.Sqrt(t*t*a+squares-a))
	v.Lo, v.Hi = v.Value-half, v.Value+half
	return v
}

// on is what one standard uncertainty of a common error does along a row of the fit's columns.
func (r response) on(row []float64) float64 {
	var c float64
	for j, x := range row {
		if x != 0 {
			c += x * r.coef[j]
		}
	}
	if math.IsNaN(c) { // one unknown against another is unknown
		return math.Inf(1)
	}
	return c
}

// mean is the error where all readings sit at one speed.
func (m *model) mean() Interval { return m.combine(1, 0) }

// scatterOnly is the half-width of the interval of p·b + q·(τ−c) by the scatter of the readings alone.
func (m *model) scatterOnly(p, q float64) float64 {
	u := m.fit.Unit
	v := p*p*u[0][0] + 2*p*q*u[0][1] + q*q*u[1][1]
	return m.t.factor(m.dof) * m.factor * math.Sqrt(v)
}

// commonOnly is the half-width that would be left at n rpm after endless readings.
func (m *model) commonOnly(n float64) float64 {
	var squares float64
	row := m.rowOf(1, perMicrosecond*n, 0)
	for _, r := range m.common {
		c := r.on(row)
		squares += c * c
	}
	return m.t.factor(math.Inf(1)) * math.Sqrt(squares)
}

// budget lists what makes up the uncertainty of the error at n rpm.
func (m *model) budget(n float64) estimate.Budget {
	row := m.rowOf(1, perMicrosecond*n, 0)
	_, scatter := m.fit.At(row, m.factor)
	line := estimate.BudgetLine{Name: "scatter of the readings", Kind: estimate.TypeA, Shape: estimate.Student,
		U: scatter, Sensitivity: 1, DOF: m.dof}
	if m.scale == "stated" {
		line.Name, line.Kind, line.Shape = "readings, as stated", estimate.TypeB, estimate.Normal
	}
	b := estimate.Budget{line}
	for _, r := range m.common {
		b = append(b, estimate.BudgetLine{Name: r.name, Kind: estimate.TypeB, Shape: r.shape, U: math.Abs(r.on(row)),
			Sensitivity: 1, DOF: math.Inf(1), Assumed: r.assumed})
	}
	return b
}

// grid is the speeds at which the error is judged and printed: idle, redline and a round step
// between them.
func grid(set Settings) []float64 {
	idle, redline := float64(set.Idle), float64(set.Redline)
	step := 100.0
	for _, s := range [...]float64{100, 250, 500, 1000, 2000} {
		step = s
		if (redline-idle)/s <= 16 {
			break
		}
	}
	out := append(make([]float64, 0, 20), idle)
	for n := step * (math.Floor(idle/step) + 1); n < redline; n += step {
		out = append(out, n)
	}
	return append(out, redline)
}
