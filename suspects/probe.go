package suspects

// Nuisances that every hypothesis has: what is left of a careful set-up and of the model.
const (
	nConstant = iota // of the housing, crank degrees
	nZero            // of the zero mark, crank degrees
	nDelay           // of the signal delay, µs
	nCranking        // of the cranking bias, crank degrees
	nuisances
)

// probe is one thing that can be looked at: a number, or one of some outcomes.
type probe struct {
	id  string // the same look has the same id
	ask string // what to do
	saw string // how the outcome is introduced: "light on wire 1 at 750 rpm"

	// One of some outcomes.
	outcomes []string
	chances  func(p *point, out []float64)

	recorded bool // read from a recording, not by eye
	dear     bool // costs much to foresee: weighed last

	// A number.
	unit string
	// at a point; sd of what the engine adds; ok false: there is no number
	mean  func(p *point) (mean, sd float64, ok bool)
	slope func(p *point, fault int) float64 // of the mean per base unit of a fault's size
	loose [nuisances]float64                // and of the nuisances
	u     float64                           // usual standard uncertainty
	turn  float64                           // wraps after this; 0: not
	odd   float64                           // chance of a misread
	span  float64                           // a misread lies anywhere in this
	vary  func(in set) float64              // sd added where these faults are supposed; nil: none
	// a dial light on a wire that sparks every turn doubles number and slopes
	double bool
}

func (q *probe) numeric() bool { return q.outcomes == nil }

// item is a probe with what was seen.
type item struct {
	probe
	outcome int     // of outcomes
	y, v    float64 // number, variance of reading it
	shift   float64 // known change of the mean: another allowance, another commanded advance
	words   string  // "shows 11.9°"
	rpm     float64 // of a look with the light
	wire    int
}

// chance is the probability of the outcome at a point, with a little kept back for eyes and model.
func (it *item) chance(p *point, room []float64) float64 {
	out := room[:len(it.outcomes)]
	it.probe.chancesAt(p, out)
	return out[it.outcome]
}

// slip is the share of word evidence that is taken to be wrong whatever the engine does.
const (
	slip         = 0.02
	slipRecorded = 0.004 // where it was read from a recording
)

func (q *probe) chancesAt(p *point, out []float64) {
	clear(out)
	q.chances(p, out)
	sum := 0.0
	for _, x := range out {
		sum += x
	}
	kept := slip
	if q.recorded {
		kept = slipRecorded
	}
	for i := range out {
		if sum > 0 {
			out[i] = (1-kept)*out[i]/sum + kept/float64(len(out))
		} else {
			out[i] = 1 / float64(len(out))
		}
	}
}

// one puts chance c on outcome k and leaves the rest to the others, evenly.
func one(out []float64, k int, c float64) {
	for i := range out {
		out[i] = (1 - c) / float64(len(out)-1)
	}
	out[k] = c
}
