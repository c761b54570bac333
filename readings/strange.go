package readings

import (
	"fmt"
	"math"
	"strings"

	"phasewright/estimate"
	"phasewright/quantity"
)

// mostEye is the largest standard uncertainty that eye and light make at a steady speed, crank degrees, where nobody
// stated one: assumed, 0.5 to 1.5. Readings that scatter more show an engine, or a light, that does.
const mostEye = 1.0

const (
	// leastChange is the least difference between commanded advances that shows whether the error follows them.
	leastChange = 2.0
	// nearWhole is how near the error's change for each degree commanded must lie to 1 or −1 to be called so.
	nearWhole = 0.25
)

// strange gives what arithmetic alone knows for another fault than housing or allowance make; nil where it sees none.
// Of what explains the same misfit (the command, the order of time, a bend) the likeliest counts.
func (m *model) strange(res *Result, set Settings, bent bool) *Pattern {
	if p := m.crossed(res, set); p != nil {
		return p
	}
	if p := m.apart(res); p != nil {
		return p
	}
	least := significance
	if bent {
		least = math.Min(least, m.lack.P)
	}
	var found *Pattern
	for _, look := range []func(set Settings, res *Result) (*Pattern, float64){m.followsCommand, m.followsTime} {
		if p, chance := look(set, res); p != nil && chance < least {
			found, least = p, chance
		}
	}
	switch {
	case found != nil || bent:
		return found
	case m.scatters():
		return &Pattern{fmt.Sprintf("the readings scatter by %s, more than eye and light do",
			quantity.Degrees(m.raw*m.typical, 1)),
			"make a capture, or read the light at one speed three times. A worn drive, noise and crossfire scatter " +
				"so"}
	}
	return nil
}

// walks says whether all readings together follow the command or the order of time for certain.
func (m *model) walks(set Settings, res *Result) bool {
	_, byCommand := m.followsCommand(set, res)
	_, byTime := m.followsTime(set, res)
	return math.Min(byCommand, byTime) < significance
}

// crossed sees a wire whose spark comes when another cylinder's is due.
//
// A spark a degrees before the top dead centre of cylinder j, which comes at p(j), shows as a + p(k) − p(j) on the
// wire of cylinder k: the error is the difference of the two places.
func (m *model) crossed(res *Result, set Settings) *Pattern {
	for _, w := range res.Wires {
		e := w.Surest
		if w.Cylinder > len(set.Places) || math.IsInf(e.U, 1) || !w.Beyond() {
			continue
		}
		var due []string
		for c := 1; c <= len(set.Places); c++ {
			step := wrap(float64(set.Places[w.Cylinder-1] - set.Places[c-1]))
			if math.Abs(step) > 0.5 && math.Abs(wrap(e.Value-step)) <= math.Max(nearPattern, e.U) {
				due = append(due, fmt.Sprint(c))
			}
		}
		if len(due) == 0 || w.Cylinder == 1 && len(res.Wires) == 1 {
			continue // one wire alone may as well be a tooth or a tower out: PatternOf says so
		}
		return &Pattern{fmt.Sprintf("the wire of cylinder %d sparks when cylinder %s is due, %s away. Wires are "+
			"crossed", w.Cylinder, strings.Join(due, " or "), quantity.Degrees(math.Abs(e.Value), 1)),
			"check the wires against the map"}
	}
	return nil
}

// apart sees cylinders so unlike that no turn of the housing, which moves them alike, brings all within the tolerance.
func (m *model) apart(res *Result) *Pattern {
	for i, a := range res.Cylinders {
		for _, b := range res.Cylinders[:i] {
			between := m.rowOf(1, 0, a.Cylinder)
			for j, x := range m.rowOf(1, 0, b.Cylinder) {
				between[j] -= x
			}
			var marks float64
			for _, r := range m.common {
				marks += 2 * r.ownMark * r.ownMark
			}
			d := m.along(between, marks)
			if math.Abs(d.Value)-d.Expanded() > 2*res.Tolerance {
				return &Pattern{fmt.Sprintf("cylinders %d and %d fire %s ± %s apart. No turn of the housing brings "+
					"both within %s", b.Cylinder, a.Cylinder, quantity.Degrees(math.Abs(d.Value), 1),
					quantity.Degrees(d.Expanded(), 1), quantity.Degrees(res.Tolerance, -1)),
					"make a capture of all cylinders. It may be a bent vane, a worn bushing or a swinging shaft"}
			}
		}
	}
	return nil
}

// scatters says whether the readings lie further from the line than eye and light can put them: chi-square of the
// residuals against mostEye, or twice what was stated where that is more.
func (m *model) scatters() bool {
	if m.fit.DOF < 1 {
		return false
	}
	var sum float64
	for i, r := range m.fit.Residual {
		u := math.Hypot(math.Max(mostEye, 2*m.u[i]), m.resolution/math.Sqrt(12))
		sum += r * r / (u * u)
	}
	return estimate.ChiSquareTail(sum, float64(m.fit.DOF)) < significance
}

// followsCommand sees an error that changes with the commanded advance, where that changed.
func (m *model) followsCommand(set Settings, res *Result) (*Pattern, float64) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, a := range m.locked {
		low, high = math.Min(low, a), math.Max(high, a)
	}
	if high-low < leastChange {
		return m.twiceTheCommand(set, res)
	}
	slope, half, chance := m.trend(m.locked)
	if math.Abs(slope) <= half || math.Abs(slope)*(high-low) <= res.Tolerance/2 {
		return nil, 1
	}
	by := fmt.Sprintf("%s ± %s for each degree commanded", quantity.Degrees(slope, 2), quantity.Degrees(half, 2))
	switch {
	case math.Abs(slope-1) <= nearWhole:
		return &Pattern{"the light moves twice as far as was commanded. The error grows by " + by +
			". Most likely it counts two sparks a cycle",
			"set the light for two sparks a cycle, or read another wire"}, chance
	case math.Abs(slope+1) <= nearWhole:
		return &Pattern{"the light shows the same whatever is commanded. The error changes by " + by +
			". Most likely the timing is not locked at what was written down",
			"read the command back from the controller while the light is on"}, chance
	}
	return &Pattern{"the error follows the command (" + by + "). Most likely the timing is not locked",
		"prove that the timing is locked. Read the command back"}, chance
}

// twiceTheCommand sees a constant error as large as the one advance commanded, on the engine of a card.
func (m *model) twiceTheCommand(set Settings, res *Result) (*Pattern, float64) {
	b := res.Offset
	if !set.Steps.known() || !b.Known() || len(m.locked) == 0 {
		return nil, 1
	}
	a := m.locked[0]
	if a <= float64(2*PhasingLeaves) || math.IsInf(b.Expanded(), 1) || b.Expanded() > a/2 ||
		math.Abs(b.Value-a) > math.Max(nearPattern, b.Expanded()) {
		return nil, 1
	}
	return &Pattern{fmt.Sprintf("the light shows about twice the commanded %s. Most likely it counts two sparks a "+
		"cycle", quantity.Degrees(a, 1)),
		"set the light for two sparks a cycle, or read the marks without its dial"}, 0
}

// followsTime sees readings that walk in the order in which they were taken. Only a first speed that was read again
// tells that from what the speed does.
func (m *model) followsTime(_ Settings, res *Result) (*Pattern, float64) {
	again := false
	for i := 2; i < len(m.n); i++ {
		again = again || m.wire[i] == m.wire[0] && math.Abs(m.n[i]-m.n[0]) <= sameSpeed*m.n[0]
	}
	if !again {
		return nil, 1
	}
	order := make([]float64, len(m.row))
	for i, r := range m.row {
		order[i] = float64(r)
	}
	slope, half, chance := m.trend(order)
	walked := slope * (order[len(order)-1] - order[0])
	if math.Abs(slope) <= half || math.Abs(walked) <= res.Tolerance/2 {
		return nil, 1
	}
	return &Pattern{fmt.Sprintf("the readings walk by %s from the first to the last. The clamp is loose, or the "+
		"timing is not locked", quantity.Degrees(walked, 1)),
		"tighten the clamp. Read the command back. Repeat the first speed"}, chance
}

// trend fits one more column and gives its coefficient with the half-width of its interval and the chance of so large a
// one by luck (two-sided t test on the scatter of the readings). Where it cannot be told, the chance is 1.
func (m *model) trend(extra []float64) (slope, half, chance float64) {
	all := append(m.columns[:len(m.columns):len(m.columns)], extra)
	f, err := estimate.LeastSquares(all, m.y, m.u)
	if err != nil || f.DOF < 1 {
		return 0, math.Inf(1), 1
	}
	last := len(f.Coef) - 1
	u := math.Max(f.SD(), m.resolution/math.Sqrt(12)/m.typical) * math.Sqrt(f.Unit[last][last])
	if u == 0 {
		return f.Coef[last], 0, 0
	}
	t := f.Coef[last] / u
	return f.Coef[last], m.t.factor(float64(f.DOF)) * u, estimate.FTail(t*t, 1, float64(f.DOF))
}
