package bench

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"phasewright/cranking"
	"phasewright/engine"
	"phasewright/quantity"
)

// Technician is a way of bringing an engine's timing right with nothing but its shop.
type Technician interface {
	Name() string
	Tune(*Shop) error
}

// Shop is what a technician in a trial has of one engine: the light, the housing, the allowance. Everything costs time and is counted.
type Shop struct {
	c       Config
	f       Faults
	turn    *cranking.Turning
	seed    uint64
	draws   uint64
	running bool
	Cost    Cost
}

// Cost is what the work took.
type Cost struct {
	Restarts int     // engine starts after the first, for a change of settings or of the housing
	Readings int     // of the light with the engine running or on the starter
	HighRevs float64 // minutes above half the redline
	Minutes  float64 // at the engine, all told
}

// Minutes that things take; assumed.
const (
	minutesReading = 0.5 // bring to speed, let it settle, read
	minutesRestart = 2   // stop, change, store, power-cycle, read back, start
	minutesHousing = 2   // loosen, turn, tighten, with the engine stopped
)

// Engine is what is known of the engine to anyone: its card, without its faults.
func (s *Shop) Engine() Config { return s.c }

// Allowance is what the controller shows.
func (s *Shop) Allowance() quantity.Time { return s.c.Controller.Allowance + s.f.Allowance }

// Read brings the running engine to a speed and reads the light on wire 1 at the locked advance.
func (s *Shop) Read(n quantity.Speed) (Reading, error) {
	if n < s.c.Controller.CrankingBelow {
		return Reading{}, fmt.Errorf("reading at %v – the engine does not run so slowly – read at %v or more", n, s.c.Engine.Idle)
	}
	s.running = true
	s.Cost.Minutes += minutesReading
	if n > s.c.Engine.Redline/2 {
		s.Cost.HighRevs += minutesReading
	}
	return s.read(n)
}

// ReadCranking reads the light on the starter, fuel off.
func (s *Shop) ReadCranking() (Reading, error) {
	s.stop()
	s.Cost.Minutes += minutesReading
	return s.read(s.c.Engine.CrankingSpeed)
}

func (s *Shop) read(n quantity.Speed) (Reading, error) {
	s.draws++
	s.Cost.Readings++
	r, ok, err := takeReading(s.c, s.f, n, 1, 0, s.turn, s.seed+s.draws*seedMix)
	if err != nil {
		return r, err
	}
	if !ok {
		return r, fmt.Errorf("reading at %v – the light does not flash – look at spark and light", n)
	}
	return r, nil
}

func (s *Shop) stop() {
	if s.running {
		s.Cost.Restarts++
		s.running = false
	}
}

// TurnHousing turns the housing with the engine stopped, against the rotor positive, as finely as hands and a scale do: to a tenth of a
// degree either way.
func (s *Shop) TurnHousing(by quantity.Shaft) {
	s.stop()
	s.Cost.Minutes += minutesHousing
	s.draws++
	rng := rand.New(rand.NewPCG(s.seed, s.draws))
	const hand = 0.1
	s.f.Housing += by + quantity.Shaft(hand*(2*rng.Float64()-1))
}

// NudgeHousing turns the housing on the starter while the light is watched: no change of the engine's state, a smaller cost.
func (s *Shop) NudgeHousing(by quantity.Shaft) {
	s.Cost.Minutes += minutesReading
	s.f.Housing += by
}

// SetAllowance stops the engine, changes the delay allowance, stores it and power-cycles. It takes whole steps.
func (s *Shop) SetAllowance(c quantity.Time) {
	s.stop()
	s.Cost.Minutes += minutesRestart
	step := max(s.c.Controller.Step, 1)
	c = quantity.Time(math.Round(float64(c/step))) * step
	s.f.Allowance = max(c, 0) - s.c.Controller.Allowance
}

// WorstLeft is the largest error of the true timing from idle to redline: the bench's own truth, which no technician sees.
func (s *Shop) WorstLeft() quantity.Crank {
	m := Model{s.c, s.turn}
	worst := quantity.Crank(0)
	const points = 16
	for i := 0.0; i <= points; i++ {
		n := s.c.Engine.Idle + (s.c.Engine.Redline-s.c.Engine.Idle)*quantity.Speed(i/points)
		x := m.Expect(s.f, n, 1)
		worst = max(worst, quantity.Abs(x.Truth-s.c.Controller.Locked))
	}
	return worst
}

// ByPractice is the technician who works by looking (common practice): the housing by the light on the starter, then the allowance step by step until
// a locked reading high up is the same as at idle, each step with its stop and power-cycle. With Idle he then sets the housing once more by the
// locked reading at idle.
type ByPractice struct{ Idle Recheck }

// Recheck says whether the housing is set again at idle.
type Recheck string

// Whether it is.
const (
	NoRecheck   Recheck = ""
	RecheckIdle Recheck = "at idle"
)

// Name says which.
func (p ByPractice) Name() string {
	if p.Idle == RecheckIdle {
		return "common practice, housing again at idle"
	}
	return "common practice"
}

// Tune works as described.
func (p ByPractice) Tune(s *Shop) error {
	const (
		same    = 0.5 // degrees that he takes for equal
		most    = 20  // rounds before he gives up
		turning = 8
	)
	c := s.Engine()
	for i := 0; i < turning; i++ {
		r, err := s.ReadCranking()
		if err != nil {
			return err
		}
		off := r.Shown - c.Controller.Cranking
		if quantity.Abs(off) < same {
			break
		}
		s.NudgeHousing(engine.CrankToShaft(-off))
	}
	high := 0.7 * c.Engine.Redline
	for i := 0; i < most; i++ {
		low, err := s.Read(c.Engine.Idle)
		if err != nil {
			return err
		}
		up, err := s.Read(high)
		if err != nil {
			return err
		}
		change := up.Shown - low.Shown
		if quantity.Abs(change) <= same {
			break
		}
		step := c.Controller.Step
		if change > 0 {
			step = -step
		}
		if s.Allowance()+step < 0 {
			break
		}
		s.SetAllowance(s.Allowance() + step)
	}
	if p.Idle == RecheckIdle {
		for i := 0; i < 4; i++ {
			r, err := s.Read(c.Engine.Idle)
			if err != nil {
				return err
			}
			off := r.Shown - r.Locked
			if quantity.Abs(off) < same {
				break
			}
			s.TurnHousing(engine.CrankToShaft(-off))
		}
	}
	return nil
}

// TrialRow is how one way of working came out over all engines.
type TrialRow struct {
	Name      string
	Engines   int
	Failed    int // could not be finished
	Restarts  Spread95
	Readings  Spread95
	HighRevs  Spread95 // minutes
	Minutes   Spread95
	Worst     Spread95 // degrees left, idle to redline
	Within    float64  // share of engines within the tolerance
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

// TrialEngine draws one engine for the trial with what is wrong with it: the housing set by lamps and off by up to 4° of the shaft, a true signal
// delay anywhere from 20 to 260 µs under an allowance left at 85, damper mark proven to 0.3°. All ranges assumed.
func TrialEngine(seed uint64) (Config, Faults) {
	c := RandomConfig(seed)
	c.Controller.Allowance, c.Controller.Step = 85, 15
	rng := rand.New(rand.NewPCG(seed, 0xa0761d6478bd642f))
	c.Crank.Delay = quantity.Time(20 + 240*rng.Float64())
	c.Light.Resolution, c.Light.Eye, c.Light.Flashes = 0.5, 0.3, 24
	f := Faults{Housing: quantity.Shaft(4 * (2*rng.Float64() - 1)), Damper: quantity.Crank(0.3 * (2*rng.Float64() - 1))}
	return c, f
}

// RunTrial has every technician bring the same random engines right, each with the same luck of the eye, and judges by the truth.
func RunTrial(engines int, seed uint64, tolerance quantity.Crank, who ...Technician) ([]TrialRow, error) {
	if engines < 1 {
		return nil, quantity.Bad("trial", "give 1 or more", "%d engines", engines)
	}
	rows := make([]TrialRow, len(who))
	type lists struct{ restarts, readings, high, minutes, worst []float64 }
	all := make([]lists, len(who))
	for k := 0; k < engines; k++ {
		c, f := TrialEngine(seed + uint64(k))
		turn, err := c.CrankOver()
		if err != nil {
			continue // no starter that fits turns this one over: not an engine
		}
		for i, w := range who {
			s := &Shop{c: c, f: f, turn: turn, seed: seed ^ uint64(k)*seedMix}
			rows[i].Engines++
			if err := w.Tune(s); err != nil {
				rows[i].Failed++
			}
			left := float64(s.WorstLeft())
			l := &all[i]
			l.restarts = append(l.restarts, float64(s.Cost.Restarts))
			l.readings = append(l.readings, float64(s.Cost.Readings))
			l.high = append(l.high, s.Cost.HighRevs)
			l.minutes = append(l.minutes, s.Cost.Minutes)
			l.worst = append(l.worst, left)
			if left <= float64(tolerance) {
				rows[i].Within++
			}
		}
	}
	for i, w := range who {
		r, l := &rows[i], all[i]
		r.Name, r.Tolerance = w.Name(), float64(tolerance)
		r.Within /= math.Max(float64(r.Engines), 1)
		r.Restarts, r.Readings, r.HighRevs, r.Minutes, r.Worst = spread(l.restarts), spread(l.readings), spread(l.high), spread(l.minutes), spread(l.worst)
	}
	return rows, nil
}
