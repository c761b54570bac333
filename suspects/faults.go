package suspects

import "phasewright/bench"

// The faults in the order of bench.FaultTable; a test holds the two together.
const (
	housing = iota
	lead
	allowance
	delay
	damper
	edge
	stroke
	tooth
	wires
	tower
	rotor
	lock
	unstored
	dial
	flashes
	lightDelay
	polarity
	leads
	pickup
	camPickup
	noise
	crossfire
	worn
	wobble
	lash
	clamp
	dwell
	supply
	vane
	misread
	faultCount
)

// names of the faults as bench and the priors file write them.
var names = [faultCount]string{"housing", "lead", "allowance", "delay", "damper", "edge", "stroke", "tooth", "wires",
	"tower", "rotor", "lock", "unstored", "dial", "flashes",
	"lightdelay", "polarity", "leads", "pickup", "campickup", "noise", "crossfire", "worn", "wobble", "lash", "clamp",
	"dwell", "supply", "vane", "misread"}

// set is a set of faults as bits.
type set uint32

func of(ks ...int) (s set) {
	for _, k := range ks {
		s |= 1 << k
	}
	return s
}

func (s set) has(k int) bool { return s>>k&1 != 0 }

func (s set) list() []int {
	var out []int
	for k := range faultCount {
		if s.has(k) {
			out = append(out, k)
		}
	}
	return out
}

// straight are the faults whose size moves every number in a straight line from nought, either way: integrated in
// closed form.
var straight = [...]int{housing, lead, allowance, delay, damper, unstored, wobble, vane}

func isStraight(k int) bool {
	for _, s := range straight {
		if s == k {
			return true
		}
	}
	return false
}

// wide is the size above which the uncertainty of a straight fault may change what the engine does, so that words are
// weighed at more points than one.
func wide(k int) float64 {
	switch k {
	case housing:
		return 1
	case delay, allowance, unstored, lightDelay:
		return 80
	case dial:
		return 6
	case clamp, supply:
		return 2
	case dwell:
		return 1e4
	case rotor:
		return 4
	case wobble, vane:
		return 0.4
	}
	return 2
}

// small is the size of a straight fault below which it is no fault but what is left of a careful set-up within the
// usual degree, base units; our judgement.
func small(k int) float64 {
	switch k {
	case housing:
		return 0.6
	case delay, allowance:
		return 35
	case unstored:
		return 15
	case vane:
		return 0.25
	case wobble:
		return 0.4
	}
	return 1.2
}

// clampSize keeps a size within what the bench takes.
func clampSize(r *bench.Fault, v float64) float64 {
	if r.Kind == bench.Word { // a code, not an amount
		return v
	}
	return min(max(v, r.Low), r.High)
}

// Cure is what puts a fault right and how one knows that it did.
type Cure struct{ Do, Check string }

// cures of every fault: common practice, with the check that closes it.
var cures = [faultCount]Cure{
	housing: {"engine stopped, loosen the clamp, turn the housing by half the constant error (with the rotor " +
		"where the light is early, against it where late), tighten",
		"locked reading at idle equals the commanded advance"},
	lead: {"measure where the active edge really arrives and set the trigger lead to it, store, power-cycle",
		"read the setting back; locked reading at idle equals the commanded advance"},
	allowance: {"set the delay allowance from the slope of the readings, a whole number of steps, store, power-cycle",
		"read it back; locked readings at idle and high speed agree"},
	delay: {"raise the delay allowance by the missing time (lower it where timing runs ahead), store, power-cycle",
		"read it back; locked readings at idle and high speed agree"},
	damper: {"find true TDC with a piston stop, mark it afresh; replace a damper whose ring has slipped",
		"piston stop marks lie evenly about the new mark"},
	edge: {"choose the other active edge, or put the inverted signal right, store, power-cycle",
		"lamp at rest changes as the sheet says; the reading moves by two vane widths"},
	stroke: {"lift the unit and set it in half a turn round, with cylinder 1 coming up on compression",
		"compression is felt as the rotor comes to No. 1"},
	tooth: {"lift the unit and set it back by the teeth that the gear step says, with the housing in " +
		"the middle of its travel", "rotor at No. 1 with the mark at the trigger lead and the housing near the middle"},
	wires: {"follow each wire from its tower to its plug in firing order and rotor direction, change over the " +
		"wrong ones, ignition off", "the light reads right on every wire"},
	tower: {"move all wires round the cap so that No. 1 is where the rotor points at the mark",
		"the light reads right on wire 1 and the engine runs even"},
	rotor: {"put rotor, cap and pickup plate in their right places so that the tip is centred on the " +
		"terminal over the advance range", "marks in the cap are centred; no misfire at either " +
		"end of the advance range"},
	lock: {"lock the timing, every correction switched off", "the reading stays put when load and speed change"},
	unstored: {"set the change again, store it, switch the key off and on",
		"read the allowance back; the slope has changed"},
	dial: {"turn the light's dial to zero", "the reading equals that of a plain light"},
	flashes: {"set the light for a spark every turn, or clamp it on a wire that sparks once in two turns",
		"its tachometer agrees with the controller's"},
	lightDelay: {"use another light, or take this one's delay into account", "two lights agree at high speed"},
	polarity: {"change over the two wires of the variable-reluctance pickup, key off",
		"readings lie on a line through the speed range; the signal falls steeply through zero"},
	leads: {"change over the crank and cam leads, key off", "one edge per firing on the crank input; sync held"},
	pickup: {"find why the crank pickup has no power or gives nothing: fuse, connector, ground, pickup",
		"supply at the pickup; the lamp changes as a vane passes"},
	camPickup: {"find why the cam pickup has no power or gives nothing: fuse, connector, ground, pickup",
		"supply at the pickup; sync held"},
	noise: {"put the pickup's screen and ground right, keep its cable away from coil and alternator",
		"a capture without extra edges; flashes stand still"},
	crossfire: {"keep the pickup cable away from plug wires, renew wires, cap and rotor, suppress",
		"no extra edges at the sparks; flashes stand still at the speed that was worst"},
	worn:   {"look at gear, chain and drive, renew what is worn", "scatter of the flashes has gone"},
	wobble: {"renew the shaft's bushing", "every wire reads the same"},
	lash: {"look at gear mesh and end play, renew what is worn",
		"flashes fall in one place; little play at the rotor"},
	clamp: {"tighten the clamp after setting the housing again, renew a clamp that slips",
		"the same reading twice, ten minutes apart"},
	dwell: {"set the dwell from the coil's charging current",
		"current reaches its target without flattening; strong spark"},
	supply: {"charge or renew the battery, clean terminals and grounds, look at the feed of the coil",
		"supply at the coil, resting and while cranking"},
	vane:    {"straighten or renew the vane wheel", "vane spacing in a capture; every wire reads the same"},
	misread: {"take the odd reading again, twice, at a steady speed", "all readings lie on one line"},
}
