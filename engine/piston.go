package engine

import (
	"fmt"
	"math"

	"phasewright/quantity"
)

// SliderCrank is the crank mechanism of one cylinder. Offset is the wrist-pin offset towards the major thrust side, 0
// on most engines:
//
//	   |  o  |      o  wrist pin, Offset to the left of the cylinder's axis
//	   |   \ |
//	    \   \       the rod leans: under gas pressure it pushes the piston to the left,
//	 +   \   o      the major thrust side; the crank pin descends on the right
//	crank  turns clockwise here
//
// With an offset the highest piston position is not exactly at crank angle 0; angles here still count from the crank
// angle at which the piston stands highest, which is what a piston stop and a dial gauge find.
type SliderCrank struct {
	Stroke, Rod, Offset quantity.Length
}

// Validate reports lengths that no engine can have: the rod must be longer than the crank radius plus the offset.
func (s SliderCrank) Validate() error {
	r := s.Stroke / 2
	if !(s.Stroke > 0) {
		return fmt.Errorf("stroke %v; it must be above 0 mm", s.Stroke)
	}
	if !(s.Rod > r+quantity.Abs(s.Offset)) {
		return fmt.Errorf("rod %v is not longer than half the stroke (%v) plus the pin offset; "+
			"measure it centre to centre", s.Rod, r)
	}
	return nil
}

// height is the pin height over the crank centre, in mm, at the crank angle th in radians from the cylinder axis.
func (s SliderCrank) height(th float64) float64 {
	r, l, d := float64(s.Stroke)/2, float64(s.Rod), float64(s.Offset)
	side := r*math.Sin(th) + d // crank pin to wrist pin, across the axis
	return r*math.Cos(th) + math.Sqrt(l*l-side*side)
}

// top is the crank angle in radians from the cylinder axis at which the piston stands highest: crank and rod in one
// line.
func (s SliderCrank) top() float64 {
	return -math.Asin(float64(s.Offset) / (float64(s.Stroke)/2 + float64(s.Rod)))
}

// Travel is how far the piston stands below its highest position at crank angle a from top dead centre:
// x = r(1−cos θ) + l(1−√(1−(r/l)²·sin²θ)) for no pin offset (textbook slider–crank). Defined for all angles.
func (s SliderCrank) Travel(a quantity.Crank) quantity.Length {
	t := s.top()
	return quantity.Length(s.height(t) - s.height(t+float64(a)*math.Pi/180))
}

// ContactAngle is the crank angle before top dead centre at which the rising piston meets a stop that reaches depth
// below the highest piston position. ok is false where the stop is not reached on the way (deeper than the stroke) or
// would never be touched (depth ≤ 0).
func (s SliderCrank) ContactAngle(depth quantity.Length) (a quantity.Crank, ok bool) {
	if depth <= 0 || depth >= s.Travel(-180) {
		return 0, false
	}
	lo, hi := 0.0, 180.0 // travel rises from 0 at TDC to the stroke half a turn before it
	for range 60 {
		mid := (lo + hi) / 2
		if s.Travel(quantity.Crank(-mid)) < depth {
			lo = mid
		} else {
			hi = mid
		}
	}
	return quantity.Crank((lo + hi) / 2), true
}

// StopDepth is how deep a piston stop must reach below the highest piston position to make contact a degrees before top
// dead centre.
func (s SliderCrank) StopDepth(a quantity.Crank) quantity.Length { return s.Travel(-a) }

// Sensitivity is how fast the piston falls with crank angle at a, in mm per degree (central difference over 0.01°):
// near TDC it vanishes, which is why the stop contacts must lie well down the bore.
func (s SliderCrank) Sensitivity(a quantity.Crank) float64 {
	const h = 0.005
	return float64(s.Travel(a+h)-s.Travel(a-h)) / (2 * h)
}

// TrueTDC is where true top dead centre lies on the damper, from the two marks made with a piston stop: the readings
// under the pointer, in degrees after the zero mark in running direction, when the piston touches turning each way.
// True TDC is midway, on the side of the shorter arc between them. The result is the pointer reading at true TDC: what
// the zero mark is wrong by (0 where the mark is right), −90 < result ≤ 90 around the nearer middle.
func TrueTDC(first, second quantity.Crank) quantity.Crank {
	d := math.Mod(float64(second-first), 360)
	if d > 180 {
		d -= 360
	}
	if d <= -180 {
		d += 360
	}
	mid := math.Mod(float64(first)+d/2, 360)
	if mid > 180 {
		mid -= 360
	}
	if mid <= -180 {
		mid += 360
	}
	return quantity.Crank(mid)
}
