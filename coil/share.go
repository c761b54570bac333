package coil

import (
	"phasewright/engine"
	"phasewright/quantity"
)

// Share is how often one coil has to fire: the crank angle from one of its sparks to its next.
type Share struct {
	Shortest quantity.Crank // decides what dwell fits
	Mean     quantity.Crank // decides mean current and heat
	Coils    int
	Wasted   bool // each firing sparks a companion cylinder's plug in series
}

// OneCoil fires every cylinder through the rotor: on an odd-fire engine the shortest interval decides.
func OneCoil(f *engine.Firings) Share {
	return Share{Shortest: f.Smallest(), Mean: engine.CycleDegrees / quantity.Crank(f.Count()), Coils: 1}
}

// CompanionPairs gives each pair of companion cylinders a coil, which fires once a turn. It fails where a cylinder has no companion.
func CompanionPairs(f *engine.Firings) (Share, error) {
	for i := range f.Count() {
		if _, ok := f.Companion(i); !ok {
			return Share{}, quantity.Bad("ignition.coils", "use one coil with a rotor, or a coil per cylinder",
				"cylinder %d has no companion 360° away on this engine, so there are no pairs to share a coil", f.Cylinder(i))
		}
	}
	return Share{Shortest: engine.CycleDegrees / 2, Mean: engine.CycleDegrees / 2, Coils: f.Count() / 2, Wasted: true}, nil
}

// PerCylinder gives every cylinder its own coil, which fires once a cycle.
func PerCylinder(f *engine.Firings) Share {
	return Share{Shortest: engine.CycleDegrees, Mean: engine.CycleDegrees, Coils: f.Count()}
}

// Interval is the shortest time between two sparks of one coil at a speed.
func (s Share) Interval(n quantity.Speed) quantity.Time { return n.TimeFor(s.Shortest) }

// Fits is the largest dwell at a speed that leaves the off time, zero where not even that fits.
func (s Share) Fits(n quantity.Speed, off quantity.Time) quantity.Time {
	return max(s.Interval(n)-off, 0)
}

// SpeedFor is the highest speed at which dwell and off time together fit the shortest interval; 0 where they take no time at all.
func (s Share) SpeedFor(dwell, off quantity.Time) quantity.Speed {
	if !(dwell+off > 0) {
		return 0
	}
	return quantity.Speed(float64(s.Shortest) / (6 * (dwell + off).Seconds()))
}

// PerSecond is how many sparks one coil gives in a second.
func (s Share) PerSecond(n quantity.Speed) float64 { return n.DegreesPerSecond() / float64(s.Mean) }
