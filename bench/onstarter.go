package bench

import "phasewright/cranking"

// onStarter is what of the configuration decides how it cranks.
func (c Config) onStarter() cranking.Setup {
	return cranking.Setup{Engine: c.Engine.Engine, Starter: c.Starter.Starter, Lead: c.Crank.At,
		Advance: c.Controller.Cranking}
}

// CrankOver gives the steady motion on the starter.
func (c Config) CrankOver() (*cranking.Turning, error) { return c.onStarter().Turn() }

// CrankingBias predicts what the light will show while cranking, less what is commanded, with no fault.
func CrankingBias(c Config, s cranking.Spread) (cranking.Bias, error) {
	if err := c.Validate(); err != nil {
		return cranking.Bias{}, err
	}
	return c.onStarter().Bias(s)
}
