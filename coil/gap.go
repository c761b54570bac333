package coil

import (
	"fmt"
	"math"

	"phasewright/quantity"
)

// Law is Paschen's law V = B·pd/(ln(A·pd) − ln(ln(1+1/γ))) with pd the pressure at 20 °C times the gap.
type Law struct {
	A     float64 // 1/(Pa·m)
	B     float64 // V/(Pa·m)
	Gamma float64 // electrons freed from the metal for each ion that strikes it
}

// Air is Paschen's law for air with A = 112.50/(kPa·cm), B = 2737.50 V/(kPa·cm), γ = 0.01, the constants quoted in
// plasma textbooks (15/(Torr·cm), 365 V/(Torr·cm)), said to hold for E/p of 100 to 800 V/(cm·Torr). Its minimum is
// 305.3 V at 1.115 Pa·m; the measured minimum of air, 327 V, is another matter.
var Air = Law{A: 11.25, B: 273.75, Gamma: 0.01}

func (l Law) floor() float64 { return math.Log1p(1 / l.Gamma) }

// Volts is the law at pd in Pa·m. It is +Inf at and left of the pole A·pd = ln(1+1/γ), where the law says nothing.
func (l Law) Volts(pd float64) quantity.Voltage {
	d := math.Log(l.A*pd) - math.Log(l.floor())
	if !(d > 0) {
		return quantity.Voltage(math.Inf(1))
	}
	return quantity.Voltage(l.B * pd / d)
}

// Minimum is the lowest breakdown voltage and where it stands: e·(B/A)·ln(1+1/γ) at pd = (e/A)·ln(1+1/γ).
func (l Law) Minimum() (v quantity.Voltage, pd float64) {
	pd = math.E / l.A * l.floor()
	return quantity.Voltage(l.B * pd), pd
}

// FieldKnown says whether E/p at pd lies in the 100 to 800 V/(cm·Torr) for which the constants are quoted (range from
// memory of the textbooks).
func (l Law) FieldKnown(pd float64) bool {
	const perTorrCm = 1.33322368 // Pa·m in one Torr·cm
	e := float64(l.Volts(pd)) / pd * perTorrCm
	return e >= 100 && e <= 800
}

const (
	atmosphere quantity.Pressure = 101325
	kelvin                       = 273.15
	room                         = 20 + kelvin // K, the temperature that gap formulas are referred to
)

// The reduced gaps, as millimetres at one atmosphere and 20 °C, for which published tables are at hand: formulas side
// by side from 0.05 mm, sphere gaps up to 10 mm. Outside of these a breakdown voltage is an extrapolation and is
// marked.
const (
	leastKnown   quantity.Length = 0.05
	mostKnown    quantity.Length = 10
	highestKnown                 = 20 * atmosphere // above this rough metal spoils the law of p·d; from memory
)

// Breakdown is what a gap needs to break down.
type Breakdown struct {
	Volts   Band[quantity.Voltage]
	Outside Outside // why the formulas are not known to hold; 0 where they are
}

// Outside says in what way a gap lies outside what is known.
type Outside uint8

// The ways, which may come together.
const (
	TooShort Outside = 1 << iota // p·d below the published tables
	TooLong                      // p·d above them
	TooDense                     // pressure above that for which p·d alone decides
)

func (o Outside) String() string {
	var text string
	for _, w := range []struct {
		bit  Outside
		text string
	}{{TooShort, "shorter than 0.05 mm at one atmosphere"}, {TooLong, "longer than 10 mm at one atmosphere"},
		{TooDense, "denser than 20 atmospheres"}} {
		if o&w.bit == 0 {
			continue
		}
		if text != "" {
			text += ", "
		}
		text += w.text
	}
	return text
}

// Reduced is the pressure at 20 °C that has the density of p at temperature t: p·293.15 K/T. Gap formulas want it,
// because density and not pressure decides.
func Reduced(p quantity.Pressure, t quantity.Temperature) quantity.Pressure {
	return p * quantity.Pressure(room/(float64(t)+kelvin))
}

// UniformField is the breakdown voltage of a gap d between smooth, wide electrodes at reduced pressure p, by the lowest
// and the highest of: Paschen's law (Air); 6.72·√pd + 24.36·pd kV, pd in bar·cm; 24.22·x + 6.08·√x kV, x in cm times
// relative density; and, from 0.5 to 5 mm at one atmosphere only, 30·pd + 1.35 kV, pd in atm·cm. The second and third
// are from memory of high-voltage textbooks; published sphere gaps lie between. Below the minimum of Paschen's law the
// result is what it is at the minimum, as a longer path nearby breaks down first.
func UniformField(d quantity.Length, p quantity.Pressure) Breakdown {
	pd := float64(d) * 1e-3 * float64(p) // Pa·m
	mm := pd / float64(atmosphere) * 1e3 // millimetres at one atmosphere
	var out Breakdown
	switch at := quantity.Length(mm); {
	case at < leastKnown:
		out.Outside |= TooShort
	case at > mostKnown:
		out.Outside |= TooLong
	}
	if p > highestKnown {
		out.Outside |= TooDense
	}
	if _, least := Air.Minimum(); pd < least {
		pd, mm = least, least/float64(atmosphere)*1e3
	}
	out.Volts = Band[quantity.Voltage]{quantity.Voltage(math.Inf(1)), 0}
	for _, v := range formulas(pd) {
		out.Volts = out.Volts.cover(Exactly(v))
	}
	if mm >= 0.5 && mm <= 5 {
		out.Volts = out.Volts.cover(Exactly(quantity.Voltage(1e3 * (shortLine*mm/10 + shortFoot))))
	}
	return out
}

// Of the formulas beside Paschen's law, kV.
const (
	rootOfBarCm, lineOfBarCm = 6.72, 24.36
	rootOfCm, lineOfCm       = 6.08, 24.22
	shortLine, shortFoot     = 30.0, 1.35
)

// formulas are the three that hold over the whole range, at pd in Pa·m not below the minimum of Paschen's law.
func formulas(pd float64) [3]quantity.Voltage {
	cm, barCm := pd/float64(atmosphere)*100, pd/1e3
	return [3]quantity.Voltage{
		Air.Volts(pd),
		quantity.Voltage(1e3 * (rootOfBarCm*math.Sqrt(barCm) + lineOfBarCm*barCm)),
		quantity.Voltage(1e3 * (lineOfCm*cm + rootOfCm*math.Sqrt(cm))),
	}
}

// smooth is formulas for a gap d at reduced pressure p.
func smooth(d quantity.Length, p quantity.Pressure) [3]quantity.Voltage {
	_, least := Air.Minimum()
	return formulas(max(float64(d)*1e-3*float64(p), least))
}

// edged is how much of a smooth gap's voltage an edged one may break down at: plug electrodes, rotor tips and terminals
// have edges. Assumed, 0.7.
const edged = 0.7

// Edged is a gap between electrodes with edges, as on plugs and in caps: from 0.7 (assumed) of the lowest formula to
// the highest formula.
func Edged(d quantity.Length, p quantity.Pressure) Breakdown {
	b := UniformField(d, p)
	b.Volts.Low *= edged
	return b
}

// capWarm is how warm the air in a distributor cap may be; assumed. It is taken from 20 °C, which needs most, to this,
// which needs least.
const capWarm quantity.Temperature = 80

// InCap is a gap in the air of a distributor cap at one atmosphere, 20 to 80 °C.
func InCap(d quantity.Length) Breakdown {
	cold, warm := Edged(d, atmosphere), Edged(d, Reduced(atmosphere, capWarm))
	return Breakdown{Volts: Band[quantity.Voltage]{warm.Volts.Low, cold.Volts.High},
		Outside: cold.Outside | warm.Outside}
}

// CheckGap reports a gap that no plug or rotor has: it must lie from 0.1 to 5 mm.
func CheckGap(field string, d quantity.Length) error {
	if !(d >= 0.1 && d <= 5) {
		return quantity.Bad(field, "write a gap from 0.1 mm to 5 mm, such as 0.8 mm",
			"%v is no gap that can be reckoned with", d)
	}
	return nil
}

func (b Breakdown) String() string {
	text := fmt.Sprintf("%.1f to %.1f", b.Volts.Low, b.Volts.High)
	if b.Outside != 0 {
		text += " (outside what is known: " + b.Outside.String() + ")"
	}
	return text
}
