package cranking

import (
	"math"

	"phasewright/engine"
	"phasewright/quantity"
)

// slider is one cylinder's slider–crank in metres and radians.
type slider struct {
	r, l, offset float64 // crank radius, rod, wrist pin offset
	zero         float64 // crank angle from the bore's centre line to TDC
	top          float64 // pin height at TDC
	area, clear  float64 // piston area, clearance volume
}

func newSlider(e Engine) slider {
	s := slider{r: e.Stroke.Metres() / 2, l: e.Rod.Metres(), offset: e.PinOffset.Metres()}
	s.zero = -math.Asin(s.offset / (s.r + s.l))
	s.top = math.Sqrt((s.r+s.l)*(s.r+s.l) - s.offset*s.offset)
	s.area = math.Pi / 4 * e.Bore.Metres() * e.Bore.Metres()
	s.clear = s.area * s.travel(math.Pi) / (e.CompressionRatio - 1)
	return s
}

// travel is the piston's way down from TDC at crank angle a radians after TDC: r(1−cos a) + l(1−√(1−(r/l)²sin²a))
// without pin offset (textbook slider–crank).
func (s slider) travel(a float64) float64 {
	sin, cos := math.Sincos(a + s.zero)
	y := s.r*sin + s.offset
	return s.top - s.r*cos - math.Sqrt(s.l*s.l-y*y)
}

// slope is d(travel)/da in m/rad: force on the piston times slope is torque on the crank.
func (s slider) slope(a float64) float64 {
	sin, cos := math.Sincos(a + s.zero)
	y := s.r*sin + s.offset
	return s.r*sin + y*s.r*cos/math.Sqrt(s.l*s.l-y*y)
}

func (s slider) volume(a float64) float64 { return s.clear + s.area*s.travel(a) }

// pressure is the gas pressure in a cylinder that does not fire, at a degrees after its TDC of compression: inlet
// pressure to the closing of the inlet valve, then pVᵏ constant to TDC with the compression index and on with the
// expansion index until the exhaust valve opens; then it blows down to the outside.
func (e Engine) pressure(s slider, a float64) float64 {
	closes := -180 + float64(e.InletCloses)
	opens := 180 - float64(e.ExhaustOpens)
	inlet, out := float64(e.InletPressure), float64(e.Ambient)
	closed := func(a float64) float64 {
		start := s.volume(radians(closes))
		if a <= 0 {
			return inlet * math.Pow(start/s.volume(radians(a)), e.CompressionIndex)
		}
		peak := inlet * math.Pow(start/s.clear, e.CompressionIndex)
		return peak * math.Pow(s.clear/s.volume(radians(a)), e.ExpansionIndex)
	}
	switch {
	case a < closes:
		return inlet
	case a <= opens:
		return closed(a)
	case a < opens+blowdown:
		share := (a - opens) / blowdown
		return out + (closed(opens)-out)*0.5*(1+math.Cos(math.Pi*share))
	}
	return out
}

// GasTorque is the torque of one unfired cylinder's gas on the crank at p on its own cycle (0: TDC of compression) over
// a pressure under the piston, positive in running direction.
func (e Engine) GasTorque(p engine.Position, under quantity.Pressure) quantity.Torque {
	s := newSlider(e)
	a := float64(p.From(0))
	return quantity.Torque((e.pressure(s, a) - float64(under)) * s.area * s.slope(radians(a)))
}

func radians(deg float64) float64 { return deg * (math.Pi / 180) }
