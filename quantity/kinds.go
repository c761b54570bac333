package quantity

import (
	"fmt"
	"math"
)

// The measures and their base units. A plain conversion such as Crank(12.5) means 12.5 of the base unit.
type (
	// Crank is a difference of crank angle in degrees; as an advance it counts degrees before top dead centre, early
	// positive.
	Crank float64
	// Shaft is a difference of distributor-shaft (camshaft) angle in degrees.
	Shaft float64
	// Angle is a plain geometric angle in degrees that belongs to neither shaft, such as a helix angle.
	Angle float64
	// Speed is crank speed in revolutions per minute; acceleration is given as rpm per second where it is needed.
	Speed float64
	// Time is a duration in microseconds.
	Time float64
	// Length is a length in millimetres.
	Length float64
	// Volume is a volume in cubic centimetres.
	Volume float64
	// Voltage is in volts.
	Voltage float64
	// Current is in amperes.
	Current float64
	// Resistance is in ohms.
	Resistance float64
	// Inductance is in henries.
	Inductance float64
	// Capacitance is in farads.
	Capacitance float64
	// Energy is in joules.
	Energy float64
	// Pressure is absolute pressure in pascals.
	Pressure float64
	// Gauge is pressure above the atmosphere in pascals, as a gauge shows it.
	Gauge float64
	// Temperature is in degrees Celsius.
	Temperature float64
	// Inertia is a moment of inertia in kilogram square metres.
	Inertia float64
	// Torque is in newton metres.
	Torque float64
	// Mass is in kilograms.
	Mass float64
	// Power is in watts.
	Power float64
)

// Quantity is the closed set of measures in this package.
type Quantity interface {
	~float64
	kind() *kind
}

// unit is one accepted way to write a unit; value in base = written·factor + offset.
type unit struct {
	name   string
	factor float64
	offset float64
}

// kind describes one measure: what it is called, how it is written and how it is printed.
type kind struct {
	name    string // as in "a length"
	accepts string // units as a person is told them
	example string // a whole value as a person may write it
	units   []unit
	scales  []scale  // print scales, largest first
	glue    string   // between number and unit
	offered []string // in a form; nil where the first of accepts is the only one
}

// scale is a print unit: used when |value| is at least from.
type scale struct {
	from   float64
	name   string
	factor float64
}

const (
	thin       = "\u2009"
	inch       = 25.4 // mm, exact by the 1959 international agreement
	cubicInch  = 2.54 * 2.54 * 2.54
	degPerTurn = 360
)

// Longer unit names stand before shorter ones that begin them only for the reader; matching is on the whole unit text.
var (
	crankKind = &kind{"a crank angle", "deg, °, degrees", "12.5 deg", crankUnits, degreeScales, "", nil}
	shaftKind = &kind{"a shaft angle", "deg, °, degrees", "15 deg", degreeUnits, degreeScales, "", nil}
	angleKind = &kind{"an angle", "deg, °, degrees", "30 deg", degreeUnits, degreeScales, "", nil}
	speedKind = &kind{"a speed", "rpm, 1/min, rev/s", "750 rpm",
		[]unit{{"rpm", 1, 0}, {"1/min", 1, 0}, {"/min", 1, 0}, {"rev/min", 1, 0}, {"rev/s", 60, 0},
			{"r/min", 1, 0}, {"min-1", 1, 0}, {"min⁻¹", 1, 0}, {"revs", 1, 0},
			{"U/min", 1, 0}, {"tr/min", 1, 0}},
		[]scale{{0, "rpm", 1}}, thin, nil}
	timeKind = &kind{"a time", "us, µs, ms, s", "100 us",
		[]unit{{"us", 1, 0}, {"µs", 1, 0}, {"μs", 1, 0}, {"ns", 1e-3, 0}, {"ms", 1e3, 0}, {"s", 1e6, 0},
			{"usec", 1, 0}, {"msec", 1e3, 0}, {"sec", 1e6, 0}},
		[]scale{{1e6, "s", 1e6}, {1e3, "ms", 1e3}, {0, "µs", 1}}, thin, []string{"us", "ms"}}
	// thou is a thousandth of an inch. A "mil" is that to some and a millimetre to others, and so no unit here.
	lengthKind = &kind{"a length", "mm, cm, m, in, \", thou", "165 mm",
		[]unit{{"mm", 1, 0}, {"cm", 10, 0}, {"m", 1000, 0}, {"um", 1e-3, 0}, {"µm", 1e-3, 0}, {"in", inch, 0},
			{"inch", inch, 0}, {"inches", inch, 0}, {"\"", inch, 0}, {"″", inch, 0}, {"”", inch, 0},
			{"''", inch, 0}, {"thou", inch / 1000, 0}},
		[]scale{{0, "mm", 1}}, thin, []string{"mm", "in", "cm", "thou"}}
	volumeKind = &kind{"a volume", "cm3, cm³, cc, ml, in3", "45 cm3",
		[]unit{{"cm3", 1, 0}, {"cm³", 1, 0}, {"cm^3", 1, 0}, {"cc", 1, 0}, {"ccm", 1, 0}, {"ml", 1, 0}, {"mL", 1, 0},
			{"l", 1e3, 0}, {"L", 1e3, 0}, {"in3", cubicInch, 0}, {"in³", cubicInch, 0}, {"cu in", cubicInch, 0}},
		[]scale{{0, "cm³", 1}}, thin, []string{"cm3", "in3"}}
	voltageKind = &kind{"a voltage", "V, mV, kV", "13.8 V",
		[]unit{{"V", 1, 0}, {"mV", 1e-3, 0}, {"kV", 1e3, 0}, {"volt", 1, 0}, {"volts", 1, 0},
			{"v", 1, 0}, {"kv", 1e3, 0}, {"KV", 1e3, 0}},
		[]scale{{1e3, "kV", 1e3}, {0.1, "V", 1}, {1e-9, "mV", 1e-3}, {0, "V", 1}}, thin, []string{"V", "kV"}}
	currentKind = &kind{"a current", "A, mA", "7 A",
		[]unit{{"A", 1, 0}, {"mA", 1e-3, 0}, {"amp", 1, 0}, {"amps", 1, 0}, {"a", 1, 0}},
		[]scale{{0.1, "A", 1}, {1e-9, "mA", 1e-3}, {0, "A", 1}}, thin, nil}
	resistanceKind = &kind{"a resistance", "ohm, Ω, mohm, kohm", "0.55 ohm",
		[]unit{{"ohm", 1, 0}, {"ohms", 1, 0}, {"Ω", 1, 0}, {"Ω", 1, 0}, {"mohm", 1e-3, 0}, {"mΩ", 1e-3, 0},
			{"kohm", 1e3, 0}, {"kΩ", 1e3, 0}},
		[]scale{{1e3, "kΩ", 1e3}, {0.1, "Ω", 1}, {1e-9, "mΩ", 1e-3}, {0, "Ω", 1}}, thin, nil}
	inductanceKind = &kind{"an inductance", "mH, uH, µH, H", "5.2 mH",
		[]unit{{"mH", 1e-3, 0}, {"uH", 1e-6, 0}, {"µH", 1e-6, 0}, {"H", 1, 0}},
		[]scale{{1, "H", 1}, {0, "mH", 1e-3}}, thin, nil}
	capacitanceKind = &kind{"a capacitance", "pF, nF, uF, µF", "50 pF",
		[]unit{{"pF", 1e-12, 0}, {"nF", 1e-9, 0}, {"uF", 1e-6, 0}, {"µF", 1e-6, 0}, {"F", 1, 0}},
		[]scale{{1e-6, "µF", 1e-6}, {1e-9, "nF", 1e-9}, {0, "pF", 1e-12}}, thin, []string{"pF", "nF"}}
	energyKind = &kind{"an energy", "mJ, J", "80 mJ", []unit{{"mJ", 1e-3, 0}, {"J", 1, 0}, {"kJ", 1e3, 0}},
		[]scale{{1, "J", 1}, {0, "mJ", 1e-3}}, thin, nil}
	pressureKind = &kind{"an absolute pressure", "bar, kPa, MPa, Pa, psi", "1.0 bar",
		[]unit{{"Pa", 1, 0}, {"kPa", 1e3, 0}, {"MPa", 1e6, 0}, {"bar", 1e5, 0}, {"mbar", 100, 0},
			{"psi", 6894.757293168361, 0}},
		[]scale{{0, "bar", 1e5}}, thin, []string{"bar", "kPa", "psi"}}
	gaugeKind = &kind{"a pressure above the atmosphere", "bar, kPa, MPa, psi, kg/cm2", "11 bar",
		[]unit{{"Pa", 1, 0}, {"kPa", 1e3, 0}, {"MPa", 1e6, 0}, {"bar", 1e5, 0}, {"psi", 6894.757293168361, 0},
			{"psig", 6894.757293168361, 0}, {"kg/cm2", 98066.5, 0}, {"kg/cm²", 98066.5, 0}},
		[]scale{{0, "bar", 1e5}}, thin, []string{"bar", "kPa", "psi", "kg/cm2"}}
	temperatureKind = &kind{"a temperature", "°C, degC, °F, K", "20 degC",
		[]unit{{"°C", 1, 0}, {"degC", 1, 0}, {"C", 1, 0}, {"°F", 5.0 / 9, -160.0 / 9}, {"degF", 5.0 / 9, -160.0 / 9},
			{"deg C", 1, 0}, {"° C", 1, 0}, {"c", 1, 0}, {"deg F", 5.0 / 9, -160.0 / 9}, {"° F", 5.0 / 9, -160.0 / 9},
			{"F", 5.0 / 9, -160.0 / 9}, {"f", 5.0 / 9, -160.0 / 9}, {"K", 1, -273.15}},
		[]scale{{0, "°C", 1}}, thin, []string{"degC", "degF"}}
	inertiaKind = &kind{"a moment of inertia", "kg.m2, kg·m², kg m^2", "0.32 kg.m2",
		[]unit{{"kg.m2", 1, 0}, {"kg·m²", 1, 0}, {"kgm2", 1, 0}, {"kgm²", 1, 0}, {"kg m2", 1, 0}, {"kg m²", 1, 0},
			{"kg m^2", 1, 0}, {"kg.m^2", 1, 0}, {"kg*m2", 1, 0}},
		[]scale{{0, "kg·m²", 1}}, thin, nil}
	torqueKind = &kind{"a torque", "N.m, N·m, Nm, lbf.ft", "120 N.m",
		[]unit{{"N.m", 1, 0}, {"N·m", 1, 0}, {"Nm", 1, 0}, {"N m", 1, 0}, {"lbf.ft", 1.3558179483314004, 0},
			{"lb-ft", 1.3558179483314004, 0}},
		[]scale{{0, "N·m", 1}}, thin, nil}
	massKind = &kind{"a mass", "kg, g", "0.55 kg", []unit{{"kg", 1, 0}, {"g", 1e-3, 0}, {"KG", 1, 0}, {"gram", 1e-3, 0},
		{"grams", 1e-3, 0}},
		[]scale{{1, "kg", 1}, {0, "g", 1e-3}}, thin, []string{"g", "kg"}}
	powerKind = &kind{"a power", "W, kW", "1.1 kW",
		[]unit{{"W", 1, 0}, {"kW", 1e3, 0}, {"w", 1, 0}, {"watt", 1, 0}, {"watts", 1, 0}},
		[]scale{{1e3, "kW", 1e3}, {0, "W", 1}}, thin, nil}

	// before top dead centre is what every crank angle of a card counts, where it counts from a place
	crankUnits = append(degreeUnits[:len(degreeUnits):len(degreeUnits)], unit{"deg BTDC", 1, 0}, unit{"° BTDC", 1, 0},
		unit{"BTDC", 1, 0})
	degreeUnits  = []unit{{"deg", 1, 0}, {"°", 1, 0}, {"degree", 1, 0}, {"degrees", 1, 0}, {"º", 1, 0}}
	degreeScales = []scale{{0, "°", 1}}
)

func (Crank) kind() *kind       { return crankKind }
func (Shaft) kind() *kind       { return shaftKind }
func (Angle) kind() *kind       { return angleKind }
func (Speed) kind() *kind       { return speedKind }
func (Time) kind() *kind        { return timeKind }
func (Length) kind() *kind      { return lengthKind }
func (Volume) kind() *kind      { return volumeKind }
func (Voltage) kind() *kind     { return voltageKind }
func (Current) kind() *kind     { return currentKind }
func (Resistance) kind() *kind  { return resistanceKind }
func (Inductance) kind() *kind  { return inductanceKind }
func (Capacitance) kind() *kind { return capacitanceKind }
func (Energy) kind() *kind      { return energyKind }
func (Pressure) kind() *kind    { return pressureKind }
func (Gauge) kind() *kind       { return gaugeKind }
func (Temperature) kind() *kind { return temperatureKind }
func (Inertia) kind() *kind     { return inertiaKind }
func (Torque) kind() *kind      { return torqueKind }
func (Mass) kind() *kind        { return massKind }
func (Power) kind() *kind       { return powerKind }

// Format prints the value with its unit whatever the verb; a precision ("%.1f") fixes the decimals, otherwise four
// significant figures at most are printed. The flag '+' prints the sign of positive values too.
func (a Crank) Format(s fmt.State, _ rune)       { format(s, float64(a), crankKind) }
func (a Shaft) Format(s fmt.State, _ rune)       { format(s, float64(a), shaftKind) }
func (a Angle) Format(s fmt.State, _ rune)       { format(s, float64(a), angleKind) }
func (n Speed) Format(s fmt.State, _ rune)       { format(s, float64(n), speedKind) }
func (t Time) Format(s fmt.State, _ rune)        { format(s, float64(t), timeKind) }
func (l Length) Format(s fmt.State, _ rune)      { format(s, float64(l), lengthKind) }
func (v Volume) Format(s fmt.State, _ rune)      { format(s, float64(v), volumeKind) }
func (v Voltage) Format(s fmt.State, _ rune)     { format(s, float64(v), voltageKind) }
func (v Current) Format(s fmt.State, _ rune)     { format(s, float64(v), currentKind) }
func (r Resistance) Format(s fmt.State, _ rune)  { format(s, float64(r), resistanceKind) }
func (v Inductance) Format(s fmt.State, _ rune)  { format(s, float64(v), inductanceKind) }
func (v Capacitance) Format(s fmt.State, _ rune) { format(s, float64(v), capacitanceKind) }
func (v Energy) Format(s fmt.State, _ rune)      { format(s, float64(v), energyKind) }
func (v Pressure) Format(s fmt.State, _ rune)    { format(s, float64(v), pressureKind) }
func (p Gauge) Format(s fmt.State, _ rune)       { format(s, float64(p), gaugeKind) }
func (v Temperature) Format(s fmt.State, _ rune) { format(s, float64(v), temperatureKind) }
func (v Inertia) Format(s fmt.State, _ rune)     { format(s, float64(v), inertiaKind) }
func (v Torque) Format(s fmt.State, _ rune)      { format(s, float64(v), torqueKind) }
func (v Mass) Format(s fmt.State, _ rune)        { format(s, float64(v), massKind) }
func (v Power) Format(s fmt.State, _ rune)       { format(s, float64(v), powerKind) }

// Abs is the size of a quantity without its sign.
func Abs[T Quantity](v T) T { return T(math.Abs(float64(v))) }
