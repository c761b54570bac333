// Package trial sets ways of working against each other, and the judge against the truth, on random engines that only
// the bench knows inside.
//
// Run is the trial of methods: common practice beside a technician who does what the judge's next line says. Sweep lets
// the judge judge engines with none, one or two faults, from the evidence that a technician would have, and Sum counts
// how often it is wrong.
//
// Angles are crank degrees, early positive, unless a name says shaft. All engines, shares and sizes are invented or
// assumed; the same seed gives the same result.
package trial

import (
	"context"
	"math"
	"slices"

	"phasewright/quantity"
)

// Row is how one way of working came out over all engines.
type Row struct {
	Name      string
	Engines   int
	Outcomes  map[Outcome]int
	Restarts  Spread95
	Readings  Spread95
	HighRevs  Spread95 // minutes
	Minutes   Spread95
	Worst     Spread95 // degrees left on any cylinder, idle to redline, of engines handed over as right
	Within    float64  // share of all engines that are within the tolerance on every cylinder in the end
	FalsePass float64  // share handed over as right though a cylinder is beyond the tolerance
	WrongCure float64  // share on which a wrong cure was made
	Tolerance float64
}

// Spread95 is a mean with its 95 % point.
type Spread95 struct{ Mean, P95 float64 }

func spread(v []float64) Spread95 {
	if len(v) == 0 {
		return Spread95{math.NaN(), math.NaN()}
	}
	slices.Sort(v)
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	return Spread95{sum / float64(len(v)), v[min(len(v)*95/100, len(v)-1)]}
}

// TrialFaults are what is wrong beside housing and delay, in ShareFaulty of the engines of the trial: one each, as
// often as the next. It is what the trade knows that lets an engine run and misleads who reads the light; assumed.
var TrialFaults = []string{"damper", "edge", "tooth", "wires", "rotor", "lock", "unstored", "dial", "flashes",
	"lightdelay", "noise", "crossfire", "worn", "wobble", "lash", "clamp", "vane"}

// ShareFaulty is the share of engines with one of TrialFaults.
const ShareFaulty = 0.3

// trialJob draws one engine for the trial: the housing set by lamps and off by up to 4° of the shaft, a true signal
// delay anywhere from 20 to 260 µs under the allowance of its card, the mark proven to 0.3°, and one fault in some. All
// ranges assumed.
func trialJob(seed uint64, tolerance quantity.Crank) (*job, error) {
	for try := uint64(0); ; try++ {
		at := seed ^ try<<40
		d := roll(at, 0x7e1a1)
		var names []string
		if d.one(ShareFaulty) {
			names = append(names, pick(d, TrialFaults...))
		}
		j, err := newJob(at, Observed, names...)
		if err != nil && try < 50 {
			continue
		}
		if err != nil {
			return nil, err
		}
		j.card.Tolerance = tolerance
		j.f.Housing += quantity.Shaft(d.between(-4, 4))
		j.f.Delay = quantity.Time(d.between(20, 260)) - j.c.Controller.Allowance
		if !slices.Contains(names, "damper") {
			j.f.Damper = quantity.Crank(d.between(-0.3, 0.3))
		}
		if j.starts(d) == "starts" { // who cannot start it calls somebody else first
			return j, nil
		}
	}
}

// Run sets the judge's way against common practice, with and without a second look at idle, over random engines, on all
// processors. Each way meets the same engines with the same luck of the eye.
func Run(ctx context.Context, engines int, seed uint64, tolerance quantity.Crank) ([]Row, error) {
	who := []Technician{ByPractice{}, ByPractice{Idle: RecheckIdle}, ByJudge{}}
	type came struct {
		cost  Cost
		out   Outcome
		worst float64
		wrong int
	}
	all := make([][]came, max(engines, 0))
	err := many(ctx, engines, nil, func(i int) error {
		at := seedOf(seed, i)
		j, err := trialJob(at, tolerance)
		if err != nil {
			return err
		}
		for _, w := range who {
			s := &Shop{j: *j, d: roll(at, 0x10c)}
			out, err := w.Tune(ctx, s)
			if err != nil {
				out = Stuck
			}
			worst := min(s.j.built.truth(s.j.f).most(), ownCycle) // beyond that its charge does not fire
			all[i] = append(all[i], came{s.Cost, out, worst, s.wrong})
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	var rows []Row
	for k, w := range who {
		r := Row{Name: w.Name(), Engines: engines, Outcomes: map[Outcome]int{}, Tolerance: float64(tolerance)}
		var restarts, reads, high, minutes, worst []float64
		for _, ways := range all {
			c := ways[k]
			restarts, reads = append(restarts, float64(c.cost.Restarts)), append(reads, float64(c.cost.Readings))
			high, minutes = append(high, c.cost.HighRevs), append(minutes, c.cost.Minutes)
			r.Outcomes[c.out]++
			within := c.worst <= float64(tolerance)
			if within {
				r.Within++
			}
			if c.out == Right {
				worst = append(worst, c.worst)
				if !within {
					r.FalsePass++
				}
			}
			if c.wrong > 0 {
				r.WrongCure++
			}
		}
		for _, share := range []*float64{&r.Within, &r.FalsePass, &r.WrongCure} {
			*share /= float64(engines)
		}
		r.Restarts, r.Readings, r.HighRevs, r.Minutes, r.Worst = spread(restarts), spread(reads), spread(high),
			spread(minutes), spread(worst)
		rows = append(rows, r)
	}
	return rows, nil
}
