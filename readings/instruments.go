package readings

import (
	"phasewright/estimate"
	"phasewright/quantity"
)

// Tachometer is the error of a tachometer that is known within a share of the speed (0.01 is 1 %); it stands in place
// of our own figure.
func Tachometer(share float64) Common {
	return Common{Name: tachometer, Effect: SpeedScale, Limit: share}
}

// TimingLight is the error of a light whose dial is known within an angle.
func TimingLight(within quantity.Crank) Common {
	return Common{Name: timingLight, Effect: Constant, Limit: float64(within)}
}

// LateLight is the error of a light that flashes late by a time known to be below a limit.
func LateLight(within quantity.Time) Common {
	return Common{Name: timingLight, Effect: LateFlash, Limit: float64(within)}
}

// Certified takes the limit for the expanded uncertainty of a certificate, k = 2 (JCGM 100, 4.3.3), and not for the
// ends of a range (4.3.7).
func (c Common) Certified() Common {
	c.Shape = estimate.Normal
	return c
}

// With gives the settings with a common error in place of the one that has its name and effect, or beside the others.
// Of two that have a source the wider counts: either may have been used.
func (s Settings) With(c Common) Settings {
	s.Common = append([]Common(nil), s.Common...)
	for i, have := range s.Common {
		if have.Name != c.Name || have.Effect != c.Effect {
			continue
		}
		if have.Source == "" || have.standard() < c.standard() {
			s.Common[i] = c
		}
		return s
	}
	s.Common = append(s.Common, c)
	return s
}
