package coil

import "phasewright/quantity"

// Box is a spark box (capacitive discharge): it charges itself, and dwell is only the width of the pulse that triggers it. Charge, current and
// coil heat do not apply; the pulse must be wide enough to be seen and must end well before the next one. What wide enough is, only the box's maker
// can say: a limit that was not stated is nought and judges nothing.
type Box struct {
	Width    quantity.Time // trigger width that the controller is set to; 0: not known
	Shortest quantity.Time // least width that the box answers to
	Longest  quantity.Time // greatest width that its maker allows
	Rest     quantity.Time // least time between the end of a pulse and the start of the next
}

// Check reports widths that cannot be.
func (b Box) Check() error {
	if !(b.Width >= 0) || !(b.Shortest >= 0) || !(b.Longest >= 0) || !(b.Rest >= 0) || b.Longest > 0 && b.Longest < b.Shortest {
		return quantity.Bad("ignition.dwell", "for a spark box write the width of its trigger pulse, and the limits that its maker states",
			"a trigger %v wide, limits %v to %v", b.Width, b.Shortest, b.Longest)
	}
	return nil
}

// TriggerVerdict is how a trigger width stands at a speed.
type TriggerVerdict int8

// The verdicts on a trigger width.
const (
	TriggerFits    TriggerVerdict = iota
	TriggerNarrow                 // narrower than the box answers to
	TriggerWide                   // wider than the box's maker allows
	TriggerCrowded                // fits, but leaves less than the rest before the next pulse
	TriggerMerges                 // fills the whole firing interval: pulses run together and the box sees none
)

func (v TriggerVerdict) String() string {
	return [...]string{"fits", "narrower than the box answers to", "wider than the box's maker allows", "leaves too little rest before the next pulse", "fills the whole interval: pulses run together"}[v]
}

// At judges the width at speed n on an engine whose pulses stand interval apart.
func (b Box) At(s Share, n quantity.Speed) TriggerVerdict {
	switch gap := s.Interval(n) - b.Width; {
	case gap <= 0:
		return TriggerMerges
	case b.Width < b.Shortest:
		return TriggerNarrow
	case gap < b.Rest:
		return TriggerCrowded
	case b.Longest > 0 && b.Width > b.Longest:
		return TriggerWide
	}
	return TriggerFits
}

// Full is the speed at which the pulse fills the whole interval.
func (b Box) Full(s Share) quantity.Speed { return s.SpeedFor(b.Width, 0) }

// Crowds is the speed above which the rest no longer fits.
func (b Box) Crowds(s Share) quantity.Speed { return s.SpeedFor(b.Width, b.Rest) }

// inHand is by how much the width keeps the limits that are stated and the time that fits; below 1 it does not.
func (b Box) inHand(fits quantity.Time) float64 {
	ratio := float64(fits / b.Width)
	if b.Width < b.Shortest {
		ratio = min(ratio, float64(b.Width/b.Shortest))
	}
	if b.Longest > 0 && b.Width > b.Longest {
		ratio = min(ratio, float64(b.Longest/b.Width))
	}
	return ratio
}
