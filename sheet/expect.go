package sheet

import (
	"fmt"

	"phasewright/cranking"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// expect is what the light must show if all is right: commanded at every speed, and what the planned signal delay does
// where the allowance differs. Where the controller's command is not given, nothing can be expected.
func expect(c *jobcard.Card, bias *cranking.Bias) []Expect {
	a := c.Controller.Advance
	var out []Expect
	if cranking, given := a.Cranking.Get(); given && bias != nil {
		best := cranking + bias.Best
		middle, half := crankingBand(cranking, *bias)
		out = append(out, Expect{RPM: float64(c.Engine.CrankingSpeed), Shown: float64(middle), Band: float64(half),
			Best: round(float64(best), 2),
			Why: fmt.Sprintf("cranking, %s commanded, likeliest %s. The crankshaft's own unsteadiness moves it, "+
				"not the housing",
				deg(cranking), deg(best))})
	}
	locked, given := a.Locked.Get()
	if !given {
		return out
	}
	for _, n := range checkSpeeds(c) {
		shown, why := locked, fmt.Sprintf("locked at %s", deg(locked))
		late, early, known := delayLeft(c, n)
		switch {
		case known && early == late && quantity.Abs(late) > 0.05:
			shown -= late
			why += fmt.Sprintf(". The planned delay of %v less the allowance of %v moves it by %s",
				c.Controller.SignalDelay, c.Controller.DelayAllowance, deg(-late))
		case known && late-early > 0.1:
			why += fmt.Sprintf(". Until readings have set the allowance it may show from %s to %s", deg(locked-late),
				deg(locked-early))
		}
		out = append(out, Expect{RPM: float64(n), Shown: round(float64(shown), 3), Best: round(float64(shown), 3),
			Why: why})
	}
	return out
}

// delayLeft is how late the spark may fall at the speed with the planned signal delay under the card's allowance: at
// the most and at the least, crank degrees; known is false where the allowance is not given.
func delayLeft(c *jobcard.Card, n quantity.Speed) (most, least quantity.Crank, known bool) {
	allowance, given := c.Controller.DelayAllowance.Get()
	if !given {
		return 0, 0, false
	}
	delay := c.Controller.SignalDelay
	return n.Over(delay.High - allowance), n.Over(delay.Low - allowance), true
}

// netDelay is what the controller does not take off the signal delay, for planning: nought where either is not known,
// since readings then set the allowance to the delay.
func netDelay(c *jobcard.Card) quantity.Time {
	allowance, given := c.Controller.DelayAllowance.Get()
	if !given || c.Assumed("controller.signal_delay") {
		return 0
	}
	return c.Controller.SignalDelay.Middle() - allowance
}

// checkSpeeds are the speeds at which the locked timing is read: idle, and evenly on to four fifths of the redline, in
// round numbers.
func checkSpeeds(c *jobcard.Card) []quantity.Speed {
	lo, hi := c.Engine.IdleSpeed, c.Engine.Redline*4/5
	out := []quantity.Speed{lo}
	for i := 1; i <= 3; i++ {
		n := quantity.Speed(round(float64(lo+(hi-lo)*quantity.Speed(i)/3)/100, 0) * 100)
		if n > out[len(out)-1] {
			out = append(out, n)
		}
	}
	return out
}
