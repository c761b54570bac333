package suspects

import "math"

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
	key string // of the evidence that it fills, and of what faults say of it
	cyl int    // cylinder that it is of; 0: the engine
	ask string // what to do
	saw string // how the outcome is introduced: "light on wire 1 at 750 rpm"

	// One of some outcomes.
	outcomes []string
	chances  func(p *point, out []float64) // by the bench's faults
	// how much of its odds each look counts with, of several that are not independent: by what faults do to the
	// engine, and to a cylinder; 0: all
	share, mine float64
	rows        *[faultCount]shown // by all faults that say something of it (Engine.prepare)
	sound       []float64

	recorded bool // read from a recording, or a plain look at one thing: less is taken to be wrong
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

// shown is what a fault makes of a look: the chances of its outcomes, those on the cylinder that the fault sits on, and
// whether they stand whatever else is wrong.
type shown struct {
	all, mine []float64
	alone     bool
	ways      [][]float64 // in the ways of the fault, where these differ
}

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
	slipRecorded = 0.008 // where it was read from a recording, or is a plain look at one thing
)

// prepare works out what each fault makes of a look, against a sound engine.
func (e *Engine) prepare(q *probe) {
	if q.numeric() || q.key == "" || q.rows != nil {
		return
	}
	p := point{e: e}
	q.sound = make([]float64, len(q.outcomes))
	q.chances(&p, q.sound)
	toOne(q.sound)
	q.rows = &[faultCount]shown{}
	for k := range e.faults {
		f := &e.faults[k]
		if row := f.shows[q.key]; row != nil {
			q.rows[k].all = q.temper(row.over(q), q.share)
			q.rows[k].alone = f.stops
		}
		if row := f.mine[q.key]; row != nil && q.cyl > 0 {
			q.rows[k].mine = q.temper(row.over(q), q.mine)
		}
		for i := range f.ways {
			by := q.rows[k].all
			if row := f.ways[i].shows[q.key]; row != nil {
				by = q.temper(row.over(q), q.share)
			}
			q.rows[k].ways = append(q.rows[k].ways, by)
		}
	}
}

// temper brings chances towards those of a sound engine, so that what a fault makes of looks that are not independent
// counts less than each look would alone. A share of nought leaves them as they are.
func (q *probe) temper(by []float64, share float64) []float64 {
	if share == 0 || share == 1 {
		return by
	}
	for i := range by {
		by[i] = q.sound[i] * math.Pow(by[i]/max(q.sound[i], 1e-6), share)
	}
	toOne(by)
	return by
}

// over spreads a row over the outcomes of a look: what it does not name shares the rest as on a sound engine.
func (o odds) over(q *probe) []float64 {
	out := make([]float64, len(q.outcomes))
	left, rest := 100.0, 0.0
	named := 0
	for i, w := range q.outcomes {
		if x, ok := o[w]; ok {
			out[i] = x / 100
			left -= x
			named++
		} else {
			rest += q.sound[i]
		}
	}
	if named == 0 { // it speaks of outcomes that this look does not have
		return nil
	}
	for i, w := range q.outcomes {
		if _, ok := o[w]; !ok && rest > 0 {
			out[i] = max(left, 0.5) / 100 * q.sound[i] / rest
		}
	}
	toOne(out)
	return out
}

// toOne makes a sum of one; what has no sum becomes even.
func toOne(out []float64) {
	sum := 0.0
	for _, x := range out {
		sum += x
	}
	for i := range out {
		if sum > 0 {
			out[i] /= sum
		} else {
			out[i] = 1 / float64(len(out))
		}
	}
}

// chancesAt are the chances of the outcomes at a point.
func (q *probe) chancesAt(p *point, out []float64) {
	q.byBench(p, out)
	q.join(p.picks, out)
}

// byBench are the chances as the bench's faults have them.
func (q *probe) byBench(p *point, out []float64) {
	clear(out)
	q.chances(p, out)
	toOne(out)
}

// join lays what the faults of the table say over the chances by the bench, and keeps a little back. Two faults that
// speak of the same look each multiply the odds against a sound engine; one that stops every spark stands alone.
func (q *probe) join(picks []pick, out []float64) {
	if q.rows != nil {
		for i := range picks {
			k := picks[i].k
			row := &q.rows[k]
			by, alone := row.all, row.alone
			if row.ways != nil {
				by, alone = row.ways[min(picks[i].at, len(row.ways)-1)], picks[i].stops
			}
			if q.cyl > 0 && row.mine != nil && picks[i].sitsOn(q.cyl) {
				by = row.mine
			}
			if by == nil {
				continue
			}
			if alone {
				copy(out, by)
				break
			}
			for j := range out {
				out[j] *= by[j] / max(q.sound[j], 1e-6)
			}
			toOne(out)
		}
	}
	kept := slip
	if q.recorded {
		kept = slipRecorded
	}
	for i := range out {
		out[i] = (1-kept)*out[i] + kept/float64(len(out))
	}
}

// one puts chance c on outcome k and leaves the rest to the others, evenly.
func one(out []float64, k int, c float64) {
	for i := range out {
		out[i] = (1 - c) / float64(len(out)-1)
	}
	out[k] = c
}
