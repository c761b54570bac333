package sheet

import (
	"fmt"

	"phasewright/cranking"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// expect is what the light must show if all is right: commanded at every speed, and what the planned signal delay does where the allowance differs.
func expect(c *jobcard.Card, bias *cranking.Bias) []Expect {
	a := c.Controller.Advance
	law := c.Law()
	var out []Expect
	if bias != nil {
		out = append(out, Expect{RPM: float64(c.Engine.CrankingSpeed), Shown: round(float64(a.Cranking+bias.Mean), 2), Band: round(float64(bias.Half), 2),
			Why: fmt.Sprintf("cranking, %s commanded: the crank's own unsteadiness, not the housing", deg(a.Cranking))})
	}
	for _, n := range checkSpeeds(c) {
		e := law.Error(0, c.Controller.SignalDelay, n)
		why := fmt.Sprintf("locked at %s", deg(a.Locked))
		if quantity.Abs(e) > 0.05 {
			why += fmt.Sprintf("; the planned delay of %v less the allowance of %v moves it by %s", c.Controller.SignalDelay, c.Controller.DelayAllowance, deg(e))
		}
		out = append(out, Expect{RPM: float64(n), Shown: round(float64(a.Locked+e), 3), Why: why})
	}
	return out
}

// checkSpeeds are the speeds at which the locked timing is read: idle, and evenly on to four fifths of the redline, in round numbers.
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
