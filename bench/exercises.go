package bench

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"phasewright/engine"
	"phasewright/quantity"
)

// Exercise is a practice job: an engine with something hidden, a goal, and a judge that knows the truth.
type Exercise struct {
	Name  string
	Title string
	Brief string // what the technician is told
	Goal  string
	Asks  string // what must be answered besides the work: "" or "name the faults"
	hide  func(Config, *rand.Rand) Faults
	judge func(*Session, Truth, []string) (bool, string)
}

// Truth is how the engine really stands, whatever marks and light say.
type Truth struct {
	Housing    quantity.Shaft // off, against the rotor positive, all adjustments in
	OffsetDeg  float64        // timing error on cylinder 1 as speed goes to nought
	DelayUS    float64        // delay left over: late with speed where positive
	WorstDeg   float64        // largest |true − commanded| on cylinder 1 from idle to redline
	WorstRPM   float64
	Behaviour  Behaviour // at idle
	SparksRest bool      // every cylinder gets its own spark
}

// Outcome is the judge's word.
type Outcome struct {
	Passed  bool
	Truth   Truth
	Debrief string // what was wrong, in degrees and µs, and what is left
}

const practiceTolerance = 1.0 // degrees, from idle to redline

// Exercises lists the practice jobs, easy ones first.
func Exercises() []Exercise {
	within := func(_ *Session, t Truth, _ []string) (bool, string) {
		return t.WorstDeg <= practiceTolerance && t.SparksRest && (t.Behaviour == Runs || t.Behaviour == WeakSparks), ""
	}
	return []Exercise{
		{"lamps", "Set it by the lamps", "The unit sits in its hole and the clamp is loose in your hand. Bring the engine to the trigger lead on compression, forward only, and turn the housing until the crank lamp just changes.",
			"Housing within 0.25° of the shaft, clamp tight.", "", hideHousing(3, 8), judgeHousing(0.25)},
		{"base", "Base timing on the starter", "The housing was set by the lamps. Check the timing on the starter with the fuel off, and do what the reading asks for.",
			"Light read while cranking; clamp tight; housing where the lamps had it.", "", nothingHidden, judgeLeftAlone},
		{"falls-back", "Timing falls back with speed", "Right at idle, late at speed. Cure it and prove that the cure is in force.",
			"Within 1° from idle to redline.", "", func(_ Config, r *rand.Rand) Faults { return Faults{Delay: quantity.Time(80 + 10*r.IntN(8))} }, within},
		{"both", "A constant and a growing error", "Wrong at idle, wrong otherwise at speed: one turn of the housing and one change of the allowance.",
			"Within 1° from idle to redline.", "", func(c Config, r *rand.Rand) Faults {
				f := hideHousing(1, 3)(c, r)
				f.Delay = quantity.Time(float64(1-2*r.IntN(2)) * float64(50+10*r.IntN(4)))
				f.Delay = max(f.Delay, -c.Crank.Delay)
				return f
			}, within},
		{"not-stored", "The cure that was not", "Somebody says that the allowance was raised. The light does not agree.",
			"Within 1° from idle to redline, the setting stored and in force.", "", func(_ Config, r *rand.Rand) Faults {
				d := quantity.Time(60 + 20*r.IntN(4))
				return Faults{Delay: d, Unstored: d}
			}, within},
		{"edge", "A lamp the wrong way round", "Timing is late by tens of degrees at every speed, and the housing does not reach.",
			"Within 1° from idle to redline.", "", func(Config, *rand.Rand) Faults { return Faults{Edge: true} }, within},
		{"half-turn", "Reads right, will not start", "The light shows the right figure on the starter. With fuel on it spits back through the intake.",
			"Starts and idles; within 1° from idle to redline.", "", func(Config, *rand.Rand) Faults { return Faults{HalfTurn: true} }, within},
		{"wires", "One pair misfires", "It runs, shakes and backfires. Wire 1 reads right.",
			"Every cylinder gets its own spark.", "", func(c Config, r *rand.Rand) Faults {
				o := c.Engine.FiringOrder
				i := 1 + r.IntN(max(len(o)-2, 1))
				return Faults{Swapped: [2]int{o[i%len(o)], o[(i+1)%len(o)]}}
			}, within},
		{"slipped", "Two lights, two truths", "The light shows a constant error. Before you turn the housing: is the mark true? Name what is wrong.",
			"The fault named; the housing left where it is.", "name the faults", func(_ Config, r *rand.Rand) Faults {
				return Faults{Damper: quantity.Crank(float64(1-2*r.IntN(2)) * float64(3+r.IntN(4)))}
			}, judgeNamed(func(t Truth) bool { return t.WorstDeg <= practiceTolerance })},
		{"two-faults", "Two faults at once", "Two things are wrong. Name both and bring the timing right.",
			"Both named; within 1° from idle to redline.", "name the faults", hideTwo, judgeNamed(func(t Truth) bool { return t.WorstDeg <= practiceTolerance && t.SparksRest })},
	}
}

// FindExercise looks one up by name.
func FindExercise(name string) (Exercise, bool) {
	for _, x := range Exercises() {
		if x.Name == name {
			return x, true
		}
	}
	return Exercise{}, false
}

// Start puts the exercise on the bench with an engine. The seed decides what is hidden within the exercise.
func (x Exercise) Start(c Config, seed uint64) (*Session, error) {
	f := x.hide(c, rand.New(rand.NewPCG(seed, seedMix)))
	if f.Swapped[0] != 0 && (!c.Distributor.Steers || c.Engine.Cylinders < 3) {
		return nil, quantity.Bad("exercise "+x.Name, "choose an engine whose distributor steers the spark, with three cylinders or more", "this engine has no wires to change over")
	}
	return NewSession(c, f, seed)
}

// Judge looks at the engine as it was left, and at the faults that were named, as they are written in the table of faults.
func (x Exercise) Judge(s *Session, named []string) Outcome {
	t := s.Truth()
	ok, say := x.judge(s, t, named)
	if !s.clampTight {
		ok, say = false, strings.TrimSpace(say+" The clamp is loose.")
	}
	d := fmt.Sprintf("Hidden: %s. Left: %s constant, %+.0f µs of delay, at worst %.2f° at %.0f rpm; the engine %s.",
		orNone(s.Reveal()), signedDeg(t.OffsetDeg), t.DelayUS, t.WorstDeg, t.WorstRPM, t.Behaviour)
	return Outcome{ok, t, strings.TrimSpace(d + " " + say)}
}

func signedDeg(v float64) string { return fmt.Sprintf("%+.2f°", v+0) }

func orNone(list []string) string {
	if len(list) == 0 {
		return "nothing"
	}
	return strings.Join(list, ", ")
}

// Truth works out how the engine stands, by the closed form.
func (s *Session) Truth() Truth {
	c, f := s.effective()
	f.Clamp, f.Housing = 0, f.Housing-engine.CrankToShaft(quantity.Crank(s.rig.crept))
	m := &Model{c, s.turn}
	set := s.resolved()
	set.unlocked = false // judged at the locked advance: that is what is commanded
	e := c.Engine
	t := Truth{Housing: f.Housing, SparksRest: true}
	const points = 24
	var sn, se, snn, sne float64
	for i := 0.0; i <= points; i++ {
		n := float64(e.Idle) + (float64(e.Redline)-float64(e.Idle))*i/points
		x := m.expect(set, f, n, 1)
		err := wrap(float64(x.Truth-c.Controller.Locked), 720)
		if !x.Flashes {
			err = 360
		}
		if math.Abs(err) > t.WorstDeg {
			t.WorstDeg, t.WorstRPM = math.Abs(err), n
		}
		if i == 0 {
			t.Behaviour = x.Behaviour
		}
		sn, se, snn, sne = sn+n, se+err, snn+n*n, sne+n*err
	}
	k := float64(points + 1)
	slope := (k*sne - sn*se) / (k*snn - sn*sn)
	t.DelayUS, t.OffsetDeg = -slope/6e-6, (se-slope*sn)/k
	for j, cyl := range set.wires {
		if set.steers && cyl != set.order[j] {
			t.SparksRest = false
		}
	}
	return t
}

func nothingHidden(Config, *rand.Rand) Faults { return Faults{} }

func hideHousing(least, most float64) func(Config, *rand.Rand) Faults {
	return func(c Config, r *rand.Rand) Faults {
		h := least + (most-least)*r.Float64()
		h = min(h, 0.8*float64(c.Distributor.HousingTravel))
		return Faults{Housing: quantity.Shaft(math.Round(10*h) / 10 * float64(1-2*r.IntN(2)))}
	}
}

// hideTwo draws two faults that can be told apart and cured on the bench.
func hideTwo(c Config, r *rand.Rand) Faults {
	parts := []func(*Faults){
		func(f *Faults) { f.Housing = quantity.Shaft(float64(1-2*r.IntN(2)) * (1.5 + float64(r.IntN(4))/2)) },
		func(f *Faults) { f.Delay = quantity.Time(80 + 20*r.IntN(4)) },
		func(f *Faults) { f.Damper = quantity.Crank(float64(1-2*r.IntN(2)) * float64(3+r.IntN(3))) },
		func(f *Faults) { f.HalfTurn = true },
	}
	if c.Distributor.Steers && c.Engine.Cylinders >= 4 {
		o := c.Engine.FiringOrder
		parts = append(parts, func(f *Faults) { f.Swapped = [2]int{o[1], o[2]} })
	}
	var f Faults
	order := r.Perm(len(parts))
	parts[order[0]](&f)
	parts[order[1]](&f)
	return f
}

func judgeHousing(limit quantity.Shaft) func(*Session, Truth, []string) (bool, string) {
	return func(_ *Session, t Truth, _ []string) (bool, string) {
		if quantity.Abs(t.Housing) <= limit {
			return true, ""
		}
		return false, fmt.Sprintf("The housing stands %+.2f off, which is %+.1f of timing.", t.Housing, engine.ShaftToCrank(t.Housing))
	}
}

func judgeLeftAlone(s *Session, t Truth, _ []string) (bool, string) {
	turn := s.c.onStarter().BiasOn(s.turn)
	why := fmt.Sprintf("On the starter this engine reads %+.1f off because compression slows and speeds the crank, with nothing wrong.", turn)
	switch {
	case !s.crankedSeen:
		return false, "The light was not read on the starter with the fuel off. " + why
	case quantity.Abs(t.Housing) > 0.25:
		return false, fmt.Sprintf("%s The housing was turned for it: %+.1f of timing is now built into the running engine.", why, engine.ShaftToCrank(t.Housing))
	}
	return true, why
}

func judgeNamed(right func(Truth) bool) func(*Session, Truth, []string) (bool, string) {
	return func(s *Session, t Truth, named []string) (bool, string) {
		var want, got []string
		for _, h := range s.Reveal() {
			name, _, _ := strings.Cut(h, "=")
			want = append(want, name)
		}
		for _, n := range named {
			name, _, _ := strings.Cut(strings.TrimSpace(n), "=")
			if name != "" {
				got = append(got, name)
			}
		}
		slices.Sort(want)
		slices.Sort(got)
		switch {
		case !slices.Equal(want, slices.Compact(got)):
			return false, fmt.Sprintf("Named: %s.", orNone(got))
		case !right(t):
			return false, "Named right, but the engine was not left right."
		}
		return true, "Named right."
	}
}
