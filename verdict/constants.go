package verdict

import "phasewright/quantity"

// Numbers of the judge's own. Constants says how far off each may be.
const (
	// sure is the share of the odds that the explanations which a cure cures must hold together before it is advised.
	// It is a choice: one wrong turn in ten costs more than a look.
	sure = 0.9
	// enoughPulses is how many crank pulses without a fault show that there is none: where none of a thousand was
	// disturbed, fewer than three in a thousand are, at 95 % (the rule of three).
	enoughPulses = 1000
	// Of single sparks about their mean, as shares of the tolerance, one standard deviation. At half the tolerance one
	// spark in twenty falls farther off than that, however right the mean; to be shown, it must lie clearly below.
	mostScatter   = 0.5
	wellScattered = 0.4
	// onStarter is how much faster than the card's cranking speed the slow part of a recording may have turned to be
	// one on the starter: what was recorded while the engine ran up says nothing of the first crank.
	onStarter = 1.15
	// enoughVanes is how many vanes a wheel needs to tell where the crank stands between them on the starter:
	// compression bends its motion within each interval, and with few the spark falls far from any edge.
	enoughVanes = 4
	// eye is the standard uncertainty of one look with the light on the starter, degrees.
	eye = 0.35
	// stopContact is the standard uncertainty of one contact of the piston stop, degrees, where none was written.
	stopContact = 0.25
	// provenMark is the half-width within which a zero mark counts as right where the card states none, degrees.
	provenMark = 0.3
	// sameDwell is the share within which a dwell that is read back, or driven, is the one on the card.
	sameDwell = 0.1
	// sameLead is how far a lead that is read back may lie from the card's, degrees: half a step of most settings.
	sameLead = 0.25
	// apart is how many times the U of their difference light and recording must differ by to contradict each other:
	// at once, of a hundred sound pairs almost five would.
	apart = 1.5
	// wideRange is how many times its lowest speed a recording must reach where no speeds are claimed.
	wideRange = 1.5
	// leastU keeps a figure of a recording from weighing as if it were exact in the ranking, degrees.
	leastU = 0.1
)

// Constants are the numbers that a judgement rests on and nobody states.
func Constants() []quantity.Constant {
	const all = "the judgement"
	return []quantity.Constant{
		quantity.Assume("odds that a cure needs", 100*sure, 80, 97, "%", all),
		quantity.Assume("clean pulses that show the signals", enoughPulses, 300, 3000, "", all),
		quantity.Assume("scatter of single sparks that breaks", mostScatter, 0.4, 0.6, "of the tolerance", all),
		quantity.Assume("scatter of single sparks that is shown", wellScattered, 0.3, 0.45, "of the tolerance", all),
		quantity.Assume("fastest recording on the starter", onStarter, 1.05, 1.3, "of the cranking speed", all),
		quantity.Assume("vanes that tell the crank on the starter", enoughVanes, 3, 6, "", all),
		quantity.Assume("one look with the light on the starter", eye, 0.2, 0.7, "°", all).From("common practice"),
		quantity.Assume("one contact of the piston stop", stopContact, 0.1, 0.5, "°", all).From("common practice"),
		quantity.Assume("zero mark that counts as right", provenMark, 0.2, 0.5, "°", all),
		quantity.Assume("dwell that counts as the one set", 100*sameDwell, 5, 20, "%", all),
		quantity.Assume("lead that counts as the one set", sameLead, 0.1, 0.5, "°", all),
		quantity.Assume("light and recording contradict each other", apart, 1.2, 2, "U of their difference", all),
		quantity.Assume("range of speeds where none is claimed", wideRange, 1.3, 3, "times the lowest", all),
		quantity.Assume("least doubt of a recording's figure among the suspects", leastU, 0.05, 0.3, "°", all),
	}
}

// restsOn says all of them.
func restsOn() []string {
	var out []string
	for _, k := range Constants() {
		out = append(out, k.Said())
	}
	return out
}
