package coil

import (
	"fmt"
	"math"

	"phasewright/quantity"
)

// Iron is how a primary's flux linkage λ grows with current, λ(0) = 0. The slope L(i) = dλ/di is the inductance that counts in a
// charge. Make one with Linear, NewSaturating, NewCurve, NewFluxTable, NewFloored or Fit.
type Iron interface {
	// Inductance is L(i) = dλ/di.
	Inductance(i quantity.Current) quantity.Inductance
	// Flux is the flux linkage λ(i) in weber (V·s).
	Flux(i quantity.Current) float64
	// Stored is the energy ∫ i dλ from rest to i.
	Stored(i quantity.Current) quantity.Energy
	// Known is the highest current that the data behind the curve reach; +Inf where a formula was given outright.
	Known() quantity.Current
	// String says in words where the curve comes from.
	String() string

	// seconds is ∫ L di/(v − r·i) from i0 to i1, for 0 ≤ i0 ≤ i1 < v/r.
	seconds(i0, i1, v, r float64) float64
}

// Saturating is L(i) = L0/(1+(i/Is)²), so λ = L0·Is·atan(i/Is). Is = +Inf is a linear coil.
type Saturating struct {
	L0 quantity.Inductance
	Is quantity.Current

	known   quantity.Current
	fitted  bool
	spreads quantity.Current // rms residual of the fit
}

// Linear is a coil whose iron does not saturate.
func Linear(l quantity.Inductance) (*Saturating, error) {
	return NewSaturating(l, quantity.Current(math.Inf(1)))
}

// NewSaturating makes L(i) = L0/(1+(i/Is)²). At i = Is half of the inductance is left.
func NewSaturating(l0 quantity.Inductance, is quantity.Current) (*Saturating, error) {
	if !(l0 > 0) || math.IsInf(float64(l0), 0) {
		return nil, quantity.Bad("coil.inductance", "write the inductance of the primary at small current, such as 5.2 mH", "%v is not above zero", l0)
	}
	if !(is > 0) {
		return nil, quantity.Bad("coil.saturates_at", "write the current at which half of the inductance is left, such as 8 A", "%v is not above zero", is)
	}
	return &Saturating{L0: l0, Is: is, known: quantity.Current(math.Inf(1))}, nil
}

func (s *Saturating) linear() bool { return math.IsInf(float64(s.Is), 1) }

// Inductance is L0/(1+(i/Is)²).
func (s *Saturating) Inductance(i quantity.Current) quantity.Inductance {
	x := float64(i / s.Is)
	return s.L0 / quantity.Inductance(1+x*x)
}

// Flux is L0·Is·atan(i/Is).
func (s *Saturating) Flux(i quantity.Current) float64 {
	if s.linear() {
		return float64(s.L0) * float64(i)
	}
	return float64(s.L0) * float64(s.Is) * math.Atan(float64(i/s.Is))
}

// Stored is ∫ i·L(i) di = ½·L0·Is²·ln(1+(i/Is)²).
func (s *Saturating) Stored(i quantity.Current) quantity.Energy {
	if s.linear() {
		return quantity.Energy(float64(s.L0) * float64(i) * float64(i) / 2)
	}
	x, is := float64(i/s.Is), float64(s.Is)
	return quantity.Energy(float64(s.L0) * is * is / 2 * math.Log1p(x*x))
}

// Known is +Inf, or the highest measured current of a fit.
func (s *Saturating) Known() quantity.Current { return s.known }

func (s *Saturating) String() string {
	text := fmt.Sprintf("L(i) = %v/(1+(i/%v)²)", s.L0, s.Is)
	if s.linear() {
		text = fmt.Sprintf("L = %v, no saturation", s.L0)
	}
	if s.fitted {
		text += fmt.Sprintf(", fitted to measured points (rms %v)", s.spreads)
	}
	return text
}

// seconds, with x = i/Is and a = v/(r·Is): 1/((1+x²)(a−x)) = [1/(a−x) + (x+a)/(1+x²)]/(1+a²), so
// t = L0/(r·(1+a²))·[−ln(1−x/a) + ½·ln(1+x²) + a·atan x].
func (s *Saturating) seconds(i0, i1, v, r float64) float64 {
	l0, is := float64(s.L0), float64(s.Is)
	decay := -math.Log1p(-r * (i1 - i0) / (v - r*i0))
	if s.linear() {
		return l0 / r * decay
	}
	x0, x1, a := i0/is, i1/is, v/(r*is)
	log := (math.Log1p(x1*x1) - math.Log1p(x0*x0)) / 2
	turn := math.Atan((x1 - x0) / (1 + x0*x1)) // atan x1 − atan x0 for 0 ≤ x0 ≤ x1
	return l0 / (r * (1 + a*a)) * (decay + log + a*turn)
}
