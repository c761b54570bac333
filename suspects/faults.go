package suspects

import (
	"slices"

	"phasewright/bench"
)

// The faults: those of bench.FaultTable in its order, a test holds the two together, then those that no bench shows.
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
	deadCoil
	orderTable
	coilPolarity
	brush
	track
	wireFire
	heat
	setUp
	gap
	cylinderOne
	advance
	drop
	charging
	ballast
	camEdge
	chain
	connector
	camNoise
	plug
	plugWire
	injector
	fuel
	faultCount

	benchFaults = misread + 1
)

// Some faults move numbers along shapes of their own beside their size: reversed wires of a reluctance pickup by a
// constant and a curve. These are numbered after the faults.
const (
	polarityShift = faultCount + iota
	polarityCurve
	turnedBack // how far the housing was turned back for a tooth, which nobody measured
	lateBefore // a delay that was there before the allowance was changed for it
	acrossWave // the part of a bushing's swing a quarter of a shaft turn after that of its own size
)

// fault is one row of the table of suspects: what a technician says of it.
type fault struct {
	name, title string
	needs       func(c *bench.Config) bool // nil: any engine
	stops       bool                       // no spark at all
	one         bool                       // it sits on one cylinder
	neighbours  bool                       // or on two that follow one another in the firing order
	shows       map[string]odds            // of looks, by key: where they differ from a sound engine
	mine        map[string]odds            // the same of the cylinder that it sits on
	moves       map[string]float64         // of numbers, by key: how far for each unit of its size
	ways        []way                      // in which it shows, where there are several; a variant each
	Cure
}

// way is one of several ways in which a fault shows: what it says of a look goes before what the fault says.
type way struct {
	share float64
	stops bool // no spark at all
	shows map[string]odds
}

// wayOf is the way of a variant; the last one for all that follow it.
func (f *fault) wayOf(at int) *way { return &f.ways[min(at, len(f.ways)-1)] }

// odds are the chances of some outcomes of a look, in per cent. What is left of the hundred is shared by the others as
// on a sound engine. Of a look that takes several words each has a chance of its own.
type odds map[string]float64

// Cure is what puts a fault right and how one knows that it did.
type Cure struct {
	Do, Check string
	Mind      string // the hazard of doing it; "" where there is none beside the usual
	Same      string // faults with the same word here have one cure
}

// set is a set of faults as bits.
type set uint64

func of(ks ...int) (s set) {
	for _, k := range ks {
		s |= 1 << k
	}
	return s
}

func (s set) has(k int) bool { return k < faultCount && s>>k&1 != 0 }

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

func isStraight(k int) bool { return slices.Contains(straight[:], k) }

// wide is the size above which the uncertainty of a straight fault may change what the engine does, so that words are
// weighed at more points than one.
func wide(k int) float64 {
	switch k {
	case housing:
		return 0.4
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
	if k < benchFaults {
		return 2
	}
	return 1e9 // nothing that is said of these changes with their size
}

// small is the size of a straight fault below which it is no fault but what is left of a careful set-up within a
// tolerance, base units; our judgement.
func (e *Engine) small(k int) float64 {
	switch k {
	case housing:
		return 0.6 * e.tolerance
	case delay, allowance:
		return 3.5 * e.delayLeaves()
	case unstored:
		return 15
	case vane:
		return 0.25
	case wobble:
		return 0.4
	}
	return 1.2 * e.tolerance
}

// clampSize keeps a size within what the bench takes.
func clampSize(r *bench.Fault, v float64) float64 {
	if r.Kind == bench.Word { // a code, not an amount
		return v
	}
	return min(max(v, r.Low), r.High)
}

// steers says whether a rotor steers the spark; coils says whether the controller does, with a coil for each cylinder.
func steers(c *bench.Config) bool { return c.Distributor.Steers }
func coils(c *bench.Config) bool  { return !c.Distributor.Steers && c.Engine.Cylinders > 1 }
func withCam(c *bench.Config) bool {
	return c.CamFitted
}
func several(c *bench.Config) bool { return c.Engine.Cylinders > 1 }
