package quantity

// Over is the crank angle passed in t at a steady speed n: 6·n·t·10⁻⁶ degrees for n in rpm and t in µs (by definition,
// 1 rpm = 6 °/s).
func (n Speed) Over(t Time) Crank { return Crank(6 * float64(n) * float64(t) * 1e-6) }

// TimeFor is the time in which a steady speed n passes the crank angle a; +Inf or NaN at standstill.
func (n Speed) TimeFor(a Crank) Time { return Time(float64(a) / (6 * float64(n)) * 1e6) }

// DegreesPerSecond is 6·n.
func (n Speed) DegreesPerSecond() float64 { return 6 * float64(n) }

// RPM is the number of revolutions per minute.
func (n Speed) RPM() float64 { return float64(n) }

// Degrees is the number of crank degrees.
func (a Crank) Degrees() float64 { return float64(a) }

// Degrees is the number of shaft degrees.
func (a Shaft) Degrees() float64 { return float64(a) }

// Degrees is the number of degrees.
func (a Angle) Degrees() float64 { return float64(a) }

// Microseconds gives the time in µs.
func (t Time) Microseconds() float64 { return float64(t) }

// Milliseconds gives the time in ms.
func (t Time) Milliseconds() float64 { return float64(t) / 1e3 }

// Seconds gives the time in s.
func (t Time) Seconds() float64 { return float64(t) / 1e6 }

// Milliseconds makes a Time of ms.
func Milliseconds(ms float64) Time { return Time(ms * 1e3) }

// Seconds makes a Time of s.
func Seconds(s float64) Time { return Time(s * 1e6) }

// Millimetres is the number of mm.
func (l Length) Millimetres() float64 { return float64(l) }

// Metres is the length in m, the unit the physics of the crank train is written in.
func (l Length) Metres() float64 { return float64(l) / 1e3 }

// Inches is the length in inches of 25.4 mm.
func (l Length) Inches() float64 { return float64(l) / inch }

// PSI is the pressure in pounds-force per square inch of 6894.757 Pa (NIST SP 811, appendix B.8).
func (p Gauge) PSI() float64 { return float64(p) / 6894.757293168361 }

// Drop is the voltage across r at current i (Ohm's law).
func (r Resistance) Drop(i Current) Voltage { return Voltage(float64(r) * float64(i)) }

// Heat is the power turned to heat in r by a current whose mean square is i² (Joule's law).
func (r Resistance) Heat(i Current) Power { return Power(float64(r) * float64(i) * float64(i)) }
