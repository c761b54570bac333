package engine

import (
	"math"

	"phasewright/quantity"
)

// Chamber is the room that is left above the piston at top dead centre, by its parts.
type Chamber struct {
	Bore, Stroke    quantity.Length
	Volume          quantity.Measured[quantity.Volume] // of the chamber in the head, plug in, filled to the face
	GasketBore      quantity.Measured[quantity.Length]
	GasketThickness quantity.Measured[quantity.Length] // compressed
	Deck            quantity.Measured[quantity.Length] // crown below the deck at the top; above it negative
	Dish            quantity.Measured[quantity.Volume] // hollow in the crown, valve pockets with it
	Dome            quantity.Measured[quantity.Volume] // raised part of the crown
}

// disc is the volume of a round disc: π/4·d²·h, from mm to cm³.
func disc(diameter, height quantity.Length) quantity.Volume {
	return quantity.Volume(math.Pi / 4 * float64(diameter) * float64(diameter) * float64(height) / 1000)
}

// Swept is the volume that the piston sweeps: π/4·bore²·stroke.
func (c Chamber) Swept() quantity.Volume { return disc(c.Bore, c.Stroke) }

// Clearance is the volume above the piston at top dead centre: chamber + gasket + deck + dish − dome. It is not above
// nought where the parts cannot belong together.
func (c Chamber) Clearance() quantity.Volume {
	return c.Volume.Value + disc(c.GasketBore.Value, c.GasketThickness.Value) + disc(c.Bore, c.Deck.Value) +
		c.Dish.Value - c.Dome.Value
}

// Ratio is the compression ratio (swept + clearance)/clearance, the definition of any textbook.
func (c Chamber) Ratio() float64 { return 1 + float64(c.Swept()/c.Clearance()) }

// RatioU is the standard uncertainty of Ratio, by the law of propagation (JCGM 100:2008, equation 10) over the parts of
// the clearance; bore and stroke are taken as exact beside them. A part without a stated ± makes it infinite.
func (c Chamber) RatioU() float64 {
	length := func(m quantity.Measured[quantity.Length]) float64 { return float64(m.Standard()) }
	volume := func(m quantity.Measured[quantity.Volume]) float64 { return float64(m.Standard()) }
	perHeight := func(diameter quantity.Length) float64 { return float64(disc(diameter, 1)) }
	perGasketBore := math.Pi / 2 * float64(c.GasketBore.Value) * float64(c.GasketThickness.Value) / 1000
	squares := 0.0
	for _, u := range []float64{volume(c.Volume), volume(c.Dish), volume(c.Dome), perGasketBore * length(c.GasketBore),
		perHeight(c.GasketBore.Value) * length(c.GasketThickness), perHeight(c.Bore) * length(c.Deck)} {
		squares += u * u
	}
	v := float64(c.Clearance())
	return float64(c.Swept()) / (v * v) * math.Sqrt(squares)
}

// RatioOfPressure is the compression ratio that a compression test points to: the charge is squeezed polytropically,
// p·vⁿ constant, from the outside pressure to that of the gauge, over the share of the stroke that is left once the
// inlet valve has closed: 1 + (((gauge + outside)/outside)^(1/n) − 1)/share. Leaks lower what the gauge shows, and with
// it the ratio. A gauge at nought or below gives 1.
func RatioOfPressure(shown quantity.Gauge, outside quantity.Pressure, index, share float64) float64 {
	squeeze := 1 + math.Max(0, float64(shown))/float64(outside)
	return 1 + (math.Pow(squeeze, 1/index)-1)/share
}
