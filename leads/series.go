package leads

import (
	"math"

	"phasewright/quantity"
)

// e24 is one decade of the series E24 of IEC 60063; every second value is E12.
var e24 = [24]float64{1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6,
	6.2, 6.8, 7.5, 8.2, 9.1}

// Series is a series of preferred values: every nth value of E24.
type Series int

// The two series that shops stock.
const (
	E24 Series = 1
	E12 Series = 2
)

// Least is the smallest value of the series that is not below r; r is above zero.
func (s Series) Least(r quantity.Resistance) quantity.Resistance {
	decade := math.Pow(10, math.Floor(math.Log10(float64(r))))
	const same = 1 - 1e-9 // a value of the series is its own least one, whatever the digits
	for range 2 {
		for k := 0; k < len(e24); k += int(s) {
			if v := e24[k] * decade; v >= float64(r)*same {
				return quantity.Resistance(v)
			}
		}
		decade *= 10
	}
	return quantity.Resistance(decade)
}

// Most is the largest value of the series that is not above r; r is above zero.
func (s Series) Most(r quantity.Resistance) quantity.Resistance {
	decade := math.Pow(10, math.Floor(math.Log10(float64(r))))
	const same = 1 + 1e-9
	for k := len(e24) - int(s); k >= 0; k -= int(s) {
		if v := e24[k] * decade; v <= float64(r)*same {
			return quantity.Resistance(v)
		}
	}
	return quantity.Resistance(e24[len(e24)-int(s)] * decade / 10)
}
