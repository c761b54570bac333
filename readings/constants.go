package readings

import (
	"phasewright/jobcard"
	"phasewright/quantity"
)

// Our own half-widths of what all readings share; Constants says how far off they may be.
const (
	markLimit       = 0.3 // degrees
	zeroLimit       = 0.3 // degrees
	parallaxLimit   = 0.25
	tachometerLimit = 0.01 // share of the speed
	// assumedU is the standard uncertainty of a light reading where nobody stated one: half a degree give or take. It
	// only helps to name a misread, where few readings cannot show their own scatter; no interval rests on it.
	assumedU = 0.4
)

// Names of the causes that all readings share.
const (
	markPlacement = "mark placement"
	zeroMark      = "zero mark against true TDC"
	parallax      = "parallax at the pointer"
	tachometer    = "tachometer"
	timingLight   = "timing light"
)

// Constants are the numbers that a proof rests on and nobody states, half-widths of a rectangle. A card gives the first
// two, if only by what stands in for them.
func Constants() []quantity.Constant {
	return []quantity.Constant{
		quantity.Assume(markPlacement, markLimit, 0.1, 0.6, "°", "a proof without a card"),
		quantity.Assume(zeroMark, zeroLimit, 0.1, 3, "°", "a proof without a card"),
		quantity.Assume(parallax, parallaxLimit, 0.1, 0.5, "°", "the proof"),
		quantity.Assume(tachometer, 100*tachometerLimit, 0.2, 2, "%", "the proof"),
	}
}

// rangeOf is how far off the limit may be that stands for a cause where nobody stated it, in words.
func rangeOf(cause string) string {
	switch cause {
	case markPlacement:
		return jobcard.Within("damper.mark_placement")
	case zeroMark:
		return jobcard.Within("damper.zero_mark")
	}
	for _, k := range Constants() {
		if k.Name == cause {
			return k.String()
		}
	}
	return "unknown"
}
