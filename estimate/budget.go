package estimate

import (
	"fmt"
	"math"
)

// Kind says how a standard uncertainty was found.
type Kind string

const (
	// TypeA comes from the scatter of repeated readings.
	TypeA Kind = "A"
	// TypeB comes from anything else: a limit, a data sheet, experience.
	TypeB Kind = "B"
)

// BudgetLine is one line of an uncertainty budget.
type BudgetLine struct {
	Name string
	Kind Kind
	// Shape is the distribution that the input is taken to have.
	Shape Shape
	// U is the standard uncertainty of the input, in the input's own unit. +Inf: not known.
	U float64
	// Sensitivity is the change of the result per unit change of the input.
	Sensitivity float64
	// DOF is the number of degrees of freedom behind U; +Inf where U is taken as certain.
	DOF float64
	// Assumed marks a figure without a source: reports must show it as assumed.
	Assumed bool
}

// Contribution is |sensitivity|·u, in the unit of the result. A line that the result
// does not depend on adds nothing, even when its u is unknown.
func (l BudgetLine) Contribution() float64 {
	if l.Sensitivity == 0 {
		return 0
	}
	return math.Abs(l.Sensitivity) * l.U
}

// Budget is a list of independent lines: their contributions add in squares.
type Budget []BudgetLine

// Combined is what a budget comes to.
type Combined struct {
	// U is the combined standard uncertainty.
	U float64
	// DOF is the effective number of degrees of freedom, not rounded.
	DOF float64
	// K is the coverage factor and Expanded = K·U at the confidence asked for.
	K, Expanded float64
	Confidence  float64
}

// Combine adds the lines.
//
//	u² = Σ (cᵢ·uᵢ)²                          JCGM 100 eq. (10)
//	ν_eff = u⁴ / Σ ((cᵢ·uᵢ)⁴/νᵢ)             JCGM 100 eq. (G.2b), Welch–Satterthwaite
//	U = t(confidence, ν_eff)·u               JCGM 100 eq. (G.1d); ν_eff cut as in TFactor
//
// u is not rounded on the way: rounding it first gives 17.5 instead of 16.8 degrees of
// freedom in the end-gauge example. A line of unknown u makes everything +Inf. An empty
// budget knows nothing: also +Inf.
func (b Budget) Combine(confidence float64) Combined {
	c := Combined{Confidence: confidence}
	if len(b) == 0 {
		c.U, c.DOF, c.K, c.Expanded = math.Inf(1), 0, math.Inf(1), math.Inf(1)
		return c
	}
	// Scaled by the largest line, so that u⁴ neither overflows nor vanishes.
	var largest float64
	for _, l := range b {
		largest = math.Max(largest, l.Contribution())
	}
	switch {
	case math.IsInf(largest, 1) || math.IsNaN(largest):
		c.U, c.DOF, c.K, c.Expanded = math.Inf(1), 0, math.Inf(1), math.Inf(1)
		return c
	case largest == 0:
		c.DOF = math.Inf(1)
		c.K = TFactor(confidence, c.DOF)
		return c
	}
	var squares, fourths float64
	for _, l := range b {
		q := l.Contribution() / largest
		squares += q * q
		switch {
		case q == 0:
		case math.IsNaN(l.DOF) || l.DOF <= 0: // nothing stands behind the figure
			fourths = math.Inf(1)
		default:
			fourths += q * q * q * q / l.DOF
		}
	}
	c.U = largest * math.Sqrt(squares)
	c.DOF = squares * squares / fourths
	c.K = TFactor(confidence, c.DOF)
	c.Expanded = c.K * c.U
	return c
}

// Check reports the first line that cannot be used: a negative or NaN uncertainty, or a
// sensitivity that is not a number.
func (b Budget) Check() error {
	for i, l := range b {
		if math.IsNaN(l.U) || l.U < 0 {
			return fmt.Errorf("budget line %d (%s): standard uncertainty %v is not zero or more; give one "+
				"sigma in the input's unit", i+1, l.Name, l.U)
		}
		if math.IsNaN(l.Sensitivity) || math.IsInf(l.Sensitivity, 0) {
			return fmt.Errorf("budget line %d (%s): sensitivity %v is not a number; give the change of the "+
				"result per unit of the input", i+1, l.Name, l.Sensitivity)
		}
	}
	return nil
}

// RelativeDOF turns "this standard uncertainty is good to 25 %" into degrees of freedom:
// ν ≈ ½·(Δu/u)⁻², JCGM 100 eq. (G.3). 0.25 gives 8. Zero or less gives +Inf.
func RelativeDOF(relative float64) float64 {
	if !(relative > 0) {
		return math.Inf(1)
	}
	return 0.5 / (relative * relative)
}
