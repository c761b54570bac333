package engine

import (
	"math"

	"phasewright/quantity"
)

// Damper is the wheel or ring on which crank angles are marked.
type Damper struct {
	Diameter quantity.Length
}

// Arc is the distance along the rim for a degrees: s = π·D·φ/360.
func (d Damper) Arc(a quantity.Crank) quantity.Length {
	return quantity.Length(math.Pi * float64(d.Diameter) * float64(a) / 360)
}

// Chord is the straight (dividers) distance for a degrees, 0 to 180: D·sin(φ/2).
func (d Damper) Chord(a quantity.Crank) quantity.Length {
	return quantity.Length(float64(d.Diameter) * math.Sin(float64(a)/2*math.Pi/180))
}

// AngleOfArc is the angle that a distance along the rim covers.
func (d Damper) AngleOfArc(s quantity.Length) quantity.Crank {
	return quantity.Crank(360 * float64(s) / (math.Pi * float64(d.Diameter)))
}

// ArcUncertainty is the standard uncertainty, in crank degrees, of a mark measured along the rim a degrees from the
// zero mark: u(φ)² = (360/(πD))²·u(s)² + (φ/D)²·u(D)² (law of propagation, JCGM 100:2008 eq. 10), us and ud being
// standard uncertainties.
func (d Damper) ArcUncertainty(a quantity.Crank, us, ud quantity.Length) quantity.Crank {
	D := float64(d.Diameter)
	return quantity.Crank(math.Hypot(360/(math.Pi*D)*float64(us), float64(a)/D*float64(ud)))
}

// MarkSide says which way from the zero mark a mark before top dead centre lies on the damper, seen from the front:
// ahead of the zero mark in the direction of rotation, since it must reach the pointer earlier.
func MarkSide(rotation Direction) Direction { return rotation }
