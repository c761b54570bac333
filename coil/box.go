package coil

import "phasewright/quantity"

// Box is a spark box (capacitive discharge): it charges itself, and dwell is only the width of the pulse that triggers it. Charge, current and
// coil heat do not apply; the pulse must be wide enough to be seen and must end well before the next one.
type Box struct {
	Width    quantity.Time // trigger width that the controller is set to
	Shortest quantity.Time // least width the box answers to
	Longest  quantity.Time // where more gains nothing
	Rest     quantity.Time // least time between the end of a pulse and the start of the next
}

// UsualBox is 1.8–2.0 ms wide, common practice of the trade without a published source; the box maker's figure wins. The rest of 0.2 ms is assumed.
func UsualBox(width quantity.Time) Box {
	return Box{Width: width, Shortest: 1800, Longest: 2000, Rest: 200}
}

// Check reports widths that cannot be.
func (b Box) Check() error {
	if !(b.Width > 0) || !(b.Shortest > 0) || !(b.Longest >= b.Shortest) || !(b.Rest >= 0) {
		return fault("ignition.dwell", "for a spark box write the trigger width, 1.8 to 2.0 ms in common practice", "a trigger %v wide, limits %v to %v", b.Width, b.Shortest, b.Longest)
	}
	return nil
}

// TriggerVerdict is how a trigger width stands at a speed.
type TriggerVerdict int8

// The verdicts on a trigger width.
const (
	TriggerFits    TriggerVerdict = iota
	TriggerNarrow                 // narrower than the box answers to
	TriggerWide                   // wider than common practice; harmless while it fits
	TriggerCrowded                // fits, but leaves less than the rest before the next pulse
	TriggerMerges                 // fills the whole firing interval: pulses run together and the box sees none
)

func (v TriggerVerdict) String() string {
	return [...]string{"fits", "narrower than the box answers to", "wider than usual", "leaves too little rest before the next pulse", "fills the whole interval: pulses run together"}[v]
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
	case b.Width > b.Longest:
		return TriggerWide
	}
	return TriggerFits
}

// Full is the speed at which the pulse fills the whole interval: 2.0 ms on an eight at 7500 rpm.
func (b Box) Full(s Share) quantity.Speed { return s.SpeedFor(b.Width, 0) }

// Crowds is the speed above which the rest no longer fits.
func (b Box) Crowds(s Share) quantity.Speed { return s.SpeedFor(b.Width, b.Rest) }
