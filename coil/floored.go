package coil

import (
	"fmt"
	"math"

	"phasewright/quantity"
)

// Floored is L(i) = Ls + (L0−Ls)/cosh²(i/Is), so λ = Ls·i + (L0−Ls)·Is·tanh(i/Is): iron that saturates down to the inductance Ls that
// the winding would have in air.
type Floored struct {
	L0, Ls quantity.Inductance
	Is     quantity.Current

	known   quantity.Current
	fitted  bool
	spreads quantity.Current
}

// NewFloored makes the curve; 0 < Ls ≤ L0 and Is above zero.
func NewFloored(l0, ls quantity.Inductance, is quantity.Current) (*Floored, error) {
	if !(ls > 0) || !(l0 >= ls) || math.IsInf(float64(l0), 0) {
		return nil, quantity.Bad("coil.inductance", "the saturated inductance lies above zero and not above the unsaturated one", "%v saturating to %v", l0, ls)
	}
	if !(is > 0) || math.IsInf(float64(is), 0) {
		return nil, quantity.Bad("coil.saturates_at", "write the current scale of saturation, such as 7 A", "%v is not above zero", is)
	}
	return &Floored{L0: l0, Ls: ls, Is: is, known: quantity.Current(math.Inf(1))}, nil
}

// Inductance is Ls + (L0−Ls)/cosh²(i/Is).
func (f *Floored) Inductance(i quantity.Current) quantity.Inductance {
	return quantity.Inductance(f.slope(float64(i)))
}

func (f *Floored) slope(i float64) float64 {
	c := math.Cosh(min(i/float64(f.Is), 350)) // cosh² stays finite
	return float64(f.Ls) + float64(f.L0-f.Ls)/(c*c)
}

// Flux is Ls·i + (L0−Ls)·Is·tanh(i/Is).
func (f *Floored) Flux(i quantity.Current) float64 {
	return float64(f.Ls)*float64(i) + float64(f.L0-f.Ls)*float64(f.Is)*math.Tanh(float64(i/f.Is))
}

// Stored is ½·Ls·i² + (L0−Ls)·Is²·(x·tanh x − ln cosh x) with x = i/Is.
func (f *Floored) Stored(i quantity.Current) quantity.Energy {
	x, is := float64(i/f.Is), float64(f.Is)
	lnCosh := x + math.Log1p(math.Exp(-2*x)) - math.Ln2
	if x < 1e-3 {
		lnCosh = x * x / 2 * (1 - x*x/6) // the difference below would cancel
	}
	return quantity.Energy(float64(f.Ls)*float64(i)*float64(i)/2 + float64(f.L0-f.Ls)*is*is*(x*math.Tanh(x)-lnCosh))
}

// Known is +Inf, or the highest measured current of a fit.
func (f *Floored) Known() quantity.Current { return f.known }

func (f *Floored) String() string {
	text := fmt.Sprintf("L(i) from %v down to %v, current scale %v", f.L0, f.Ls, f.Is)
	if f.fitted {
		text += fmt.Sprintf(", fitted to measured points (rms %v)", f.spreads)
	}
	return text
}

// Nodes and weights of Gauss–Legendre quadrature with eight points on −1…1 (Abramowitz and Stegun, table 25.4).
var (
	gaussNode   = [4]float64{0.1834346424956498, 0.5255324099163290, 0.7966664774136267, 0.9602898564975363}
	gaussWeight = [4]float64{0.3626837833783620, 0.3137066458778873, 0.2223810344533745, 0.1012285362903763}
)

// seconds has no closed form here. With u = −ln(1−r·i/v), dt = L(i(u))/r du is smooth up to the final current; panels are at most 1 wide in u
// and Is/2 in i.
func (f *Floored) seconds(i0, i1, v, r float64) float64 {
	end := v / r
	rest0 := (v - r*i0) / v // 1 − r·i/v
	width := -math.Log1p(-r * (i1 - i0) / (v - r*i0))
	panels := int(math.Ceil(max(width, 2*(i1-i0)/float64(f.Is)))) + 1
	sum, i := 0.0, i0
	rest := rest0
	for k := 1; k <= panels; k++ {
		next := i0 + (i1-i0)*float64(k)/float64(panels)
		if width > 1 { // equal panels in u when the charge runs far up
			next = end * (1 - rest0*math.Exp(-width*float64(k)/float64(panels)))
		}
		w := -math.Log1p(-(next-i)/(end*rest)) / 2
		for g, node := range gaussNode {
			for _, s := range [2]float64{1 - node, 1 + node} {
				sum += gaussWeight[g] * w * f.slope(end*(1-rest*math.Exp(-w*s)))
			}
		}
		i, rest = next, 1-next/end
	}
	return sum / r
}
