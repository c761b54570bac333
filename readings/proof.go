package readings

import (
	"fmt"
	"math"

	"phasewright/estimate"
	"phasewright/quantity"
)

// Statement is the verdict of a proof.
type Statement string

// The statements of a proof.
const (
	Proven      Statement = "pass"
	Failed      Statement = "fails"
	NotShownYet Statement = "not shown yet"
)

// Simulation says how the Monte Carlo check of the proof is run.
type Simulation struct {
	// Draws of the error at the worst speed; 0 means 200 000.
	Draws int
	// Seed makes the check repeatable.
	Seed uint64
}

// MonteCarlo is the check of the budget by simulation, JCGM 101.
type MonteCarlo struct {
	Draws int    `json:"draws"`
	Seed  uint64 `json:"seed"`
	// Lo and Hi bound the simulated 95 % interval of the error at the worst speed, Mean and SD
	// describe the draws; crank degrees.
	Lo   Number `json:"lo"`
	Hi   Number `json:"hi"`
	Mean Number `json:"mean"`
	SD   Number `json:"sd"`
	// Agrees: both ends lie within Delta of the budget's, half a unit in the second digit of u
	// (JCGM 101 clause 8). Difference is the larger distance.
	Agrees     bool   `json:"agrees"`
	Difference Number `json:"difference"`
	Delta      Number `json:"delta"`
	// Reported: they do not agree and the simulated interval is the wider one, so that U at the worst speed is its.
	Reported bool `json:"reported"`
	// SameVerdict: the simulated interval keeps within the tolerance where the budget's does,
	// and reaches beyond it where that does.
	SameVerdict bool `json:"same_verdict"`
}

// Proof is the closing statement: the timing error over the whole speed range after the
// corrections, against the tolerance, beside what it was before.
type Proof struct {
	Statement Statement `json:"statement"`
	Idle      float64   `json:"idle_rpm"`
	Redline   float64   `json:"redline_rpm"`
	Tolerance float64   `json:"tolerance_deg"`
	// Worst is where |e| + U is largest after the corrections, Before the same before them
	// (value null where there were no readings).
	Worst  ErrorAt `json:"worst"`
	Before ErrorAt `json:"worst_before"`
	// ReadHere is the speed to read where the statement is still open; 0 otherwise.
	ReadHere float64 `json:"read_here_rpm"`
	// Budget makes up U at the worst speed; Combined, Effective DOF and coverage factor follow.
	Budget   []Line `json:"budget"`
	Combined Number `json:"combined_u_deg"`
	DOF      Number `json:"effective_dof"`
	Factor   Number `json:"coverage_factor"`
	// Check is the simulation; nil where there was no interval to check.
	Check *MonteCarlo `json:"monte_carlo"`
	// Was and Is are the fits before and after; Was is nil without readings from before.
	Was *Result `json:"before"`
	Is  *Result `json:"after"`
	// Words say it for people: the first Found of them what was found, the others what it rests on.
	Words    []string `json:"words"`
	Found    int      `json:"-"`
	Warnings []string `json:"warnings"`
}

// Prove makes the closing statement from the readings taken after the corrections. before may
// be empty. was and now are the settings in force at each time: they differ in the allowance.
//
// Pass: |e| + U ≤ tolerance over the whole speed range. Fail: |e| − U > tolerance somewhere.
// Otherwise it is not shown yet, and says where to read. A line that does not fit is no proof
// either. The budget at the worst speed is checked by simulation: the coefficients as scaled
// and shifted t (JCGM 101 6.4.9), the common errors by their shapes, the tachometer as the
// product that it is.
func Prove(before, after []Row, was, now Settings, sim Simulation) (*Proof, error) {
	is, err := Fit(after, now)
	if err != nil {
		return nil, fmt.Errorf("readings after the corrections: %w", err)
	}
	p := &Proof{
		Statement: NotShownYet, Idle: float64(now.Idle), Redline: float64(now.Redline),
		Tolerance: float64(now.Tolerance),
		Worst:     is.Worst, Before: ErrorAt{Value: math.NaN(), U: math.Inf(1)}, Is: is, Budget: is.Budget,
		Combined: Number(math.Inf(1)), DOF: Number(math.NaN()), Factor: Number(math.Inf(1)), Warnings: []string{},
	}
	if len(before) > 0 {
		if p.Was, err = Fit(before, was); err != nil {
			return nil, fmt.Errorf("readings before the corrections: %w", err)
		}
		p.Before = p.Was.Worst
	}
	switch {
	case is.Verdict == Pass:
		p.Statement = Proven
	case is.Verdict == Adjust && is.beyondTolerance():
		p.Statement = Failed
	default:
		p.ReadHere = is.Next
	}
	if err := p.check(now, sim); err != nil {
		return nil, err
	}
	p.say()
	return p, nil
}

// check fills in the combined uncertainty and simulates it.
func (p *Proof) check(set Settings, sim Simulation) error {
	m := &p.Is.line
	if m.fit == nil || !m.slope || m.wild || math.IsInf(p.Worst.U, 1) {
		return nil
	}
	n := p.Worst.RPM
	c := m.budget(n).Combine(p.Is.Confidence)
	p.Combined, p.DOF, p.Factor = Number(c.U), Number(c.DOF), Number(c.K)
	if sim.Draws == 0 {
		sim.Draws = 200_000
	}
	s, err := m.simulate(n, set, sim)
	if err != nil {
		return err
	}
	mc := &MonteCarlo{Draws: sim.Draws, Seed: sim.Seed, Mean: Number(s.Mean()), SD: Number(s.SD())}
	lo, hi := s.Symmetric(p.Is.Confidence)
	mc.Lo, mc.Hi = Number(lo), Number(hi)
	agrees, difference, delta := estimate.AgreesWith(p.Worst.Value, p.Worst.U, c.U, lo, hi, 2)
	mc.Agrees, mc.Difference, mc.Delta = agrees, Number(difference), Number(delta)
	within := math.Max(math.Abs(lo), math.Abs(hi)) <= p.Tolerance
	mc.SameVerdict = within == (math.Abs(p.Worst.Value)+p.Worst.U <= p.Tolerance)
	p.Check = mc
	if agrees {
		return nil
	}
	// Where the two differ by more than the digits reported allow, the larger is reported, and judged by.
	if half := math.Max(hi-p.Worst.Value, p.Worst.Value-lo); half > p.Worst.U {
		p.Worst.U = half
		if p.Statement == Proven && math.Abs(p.Worst.Value)+half > p.Tolerance {
			p.Statement, p.ReadHere = NotShownYet, p.Is.Next
		}
		mc.Reported = true
	}
	return nil
}

// simulate draws the timing error at n rpm.
func (m *model) simulate(n float64, set Settings, sim Simulation) (*estimate.Sample, error) {
	row := m.rowOf(1, perMicrosecond*n, 0)
	value, scatter := m.fit.At(row, m.factor)
	inputs := []estimate.Input{{Name: "scatter of the readings", Shape: estimate.Student, U: scatter, DOF: m.dof}}
	if m.scale == "stated" {
		inputs[0].Shape = estimate.Normal
	}
	// A constant and a late flash add; a stretched speed axis multiplies what grows with speed.
	linear := make([]float64, 1, len(m.common)+1)
	linear[0] = 1
	for i, r := range m.common {
		c := set.Common[i]
		inputs = append(inputs, estimate.Input{Name: r.name, Shape: r.shape, U: c.standard()})
		gain := 1.0
		if c.Effect != Constant {
			gain = 0
			if c.standard() > 0 {
				gain = r.on(row) / c.standard()
			}
		}
		linear = append(linear, gain)
	}
	return estimate.Simulate(inputs, func(x []float64) float64 {
		e := value
		for i, v := range x {
			if i > 0 && set.Common[i-1].Effect == SpeedScale {
				v /= 1 + v // true speed n·(1+δ) was read as n: undoing it divides
			}
			e -= linear[i] * v
		}
		return e
	}, sim.Draws, sim.Seed)
}

// say puts the proof into words.
func (p *Proof) say() {
	line := func(format string, a ...any) { p.Words = append(p.Words, fmt.Sprintf(format, a...)) }
	span := rpm(p.Idle) + " to " + rpm(p.Redline)
	w := p.Worst
	switch {
	case p.Statement == Proven:
		line("By the light, the spark keeps within %s of the commanded advance from %s. At worst the error is %s ± "+
			"%s (95 %%), at %s.",
			quantity.Degrees(p.Tolerance, -1), span, quantity.Degrees(w.Value, 2), quantity.Degrees(w.U, 2), rpm(w.RPM))
	case p.Statement == Failed:
		line("By the light, the timing error is beyond %s somewhere from %s. At worst it is %s ± %s (95 %%), at %s.",
			quantity.Degrees(p.Tolerance, -1), span, quantity.Degrees(w.Value, 2), quantity.Degrees(w.U, 2), rpm(w.RPM))
	case p.Is.Verdict == NotALine:
		line("By the light, not shown yet. The error does not follow a line. Prove that the timing is locked. Then "+
			"read again at %s.", rpm(p.ReadHere))
	case math.IsInf(w.U, 1):
		line("By the light, not shown yet. Too few readings for an interval. Read here: %s.", rpm(p.ReadHere))
	default:
		line("By the light, not shown yet. At %s the error is %s ± %s (95 %%), against a tolerance of %s. Read "+
			"here: %s.",
			rpm(w.RPM), quantity.Degrees(w.Value, 2), quantity.Degrees(w.U, 2), quantity.Degrees(p.Tolerance, -1),
			rpm(p.ReadHere))
	}
	for _, x := range p.Is.Wires {
		if w := x.Worst; x.Cylinder != p.Is.reference() {
			line("On the wire of cylinder %d it is %s ± %s at worst, at %s.", x.Cylinder, quantity.Degrees(w.Value, 2),
				quantity.Degrees(w.U, 2), rpm(w.RPM))
		}
	}
	if p.Was != nil && !math.IsNaN(p.Before.Value) {
		line("Before the corrections it was %s%s at %s.", quantity.Degrees(p.Before.Value, 2),
			plusMinus(Interval{Value: p.Before.Value, Lo: p.Before.Value - p.Before.U,
				Hi: p.Before.Value + p.Before.U}), rpm(p.Before.RPM))
	}
	p.Found = len(p.Words)
	if p.Check != nil {
		line("Combined standard uncertainty %s. Effective degrees of freedom: %s. Coverage factor %s. A simulation "+
			"of %s draws gives %s to %s.",
			quantity.Degrees(p.Combined, 3), degreesOfFreedom(float64(p.DOF)), quantity.Number(float64(p.Factor), 2),
			quantity.Number(float64(p.Check.Draws), 0), quantity.Degrees(p.Check.Lo, 2),
			quantity.Degrees(p.Check.Hi, 2))
		if !p.Check.Agrees {
			larger := "the budget's"
			if p.Check.Reported {
				larger = "the simulation's"
			}
			line("Budget and simulation differ by %s. Two digits of the uncertainty allow %s (JCGM 101, clause 8). "+
				"± is the larger of the two, %s.",
				quantity.Degrees(p.Check.Difference, 3), quantity.Degrees(p.Check.Delta, 3), larger)
		}
		if !p.Check.SameVerdict {
			p.Warnings = append(p.Warnings, "budget and simulation do not come to the same verdict. Take more "+
				"readings before signing")
		}
	}
	for _, l := range p.Budget {
		switch {
		case !l.Assumed || l.U == 0:
		case l.Source != "":
			p.Warnings = append(p.Warnings, fmt.Sprintf("%s: %s is assumed. %s", l.Name, quantity.Degrees(l.U, 2),
				l.Source))
		default:
			p.Warnings = append(p.Warnings, fmt.Sprintf("%s: %s is assumed, since nobody stated it. Limit and "+
				"range: %s", l.Name, quantity.Degrees(l.U, 2), rangeOf(l.Name)))
		}
	}
	p.Warnings = append(p.Warnings, p.Is.Warnings...)
	line("This is a calculation from the readings given, not a certificate. The maker's instructions and local law " +
		"come first. Work on ignition and fuel is for trained people.")
}

// degreesOfFreedom in words: beyond a hundred the coverage factor no longer tells them apart.
func degreesOfFreedom(dof float64) string {
	if dof > 100 {
		return "more than 100"
	}
	return quantity.Number(dof, 1)
}
