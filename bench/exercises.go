package bench

import (
	"math/rand/v2"

	"phasewright/quantity"
)

// Exercise is a practice job: an engine with something hidden, a goal, and a judge of the work.
type Exercise struct {
	Name  string
	Title string
	Brief string // what the technician is told
	Goal  string
	Asks  string  // what must be answered besides the work: "" or "name the faults"
	Write []Asked // figures that must be written down as they are read
	loose bool    // begins with the clamp loose in the hand
	hide  func(Config, *rand.Rand) Faults
	judge func(*job)
}

// Asked is a figure to be written down as it is read.
type Asked struct{ Key, Label, Unit string }

// The figures that exercises ask for.
var (
	onStarter  = Asked{"starter", "the light shows on the starter, fuel off", "°"}
	atIdle     = Asked{"idle", "the light shows at idle", "°"}
	atHigh     = Asked{"high", "the light shows above half the redline", "°"}
	ofZeroMark = Asked{"tdc", "zero mark before the pointer at true TDC (past it: negative)", "°"}
)

// Figures lists every figure that can be written down.
func Figures() []Asked { return []Asked{onStarter, atIdle, atHigh, ofZeroMark} }

// Outcome is the judge's word on the work. It tells nothing of what was hidden: that is for Session.Reveal and
// Session.Truth, whenever whoever teaches lets it be told.
type Outcome struct {
	Passed bool        `json:"passed"`
	Checks []Check     `json:"checks"`
	Unsafe []UnsafeAct `json:"unsafe"`
}

// Check is one thing that the work had to have.
type Check struct {
	What string `json:"what"`
	Done bool   `json:"done"`
	Say  string `json:"say,omitempty"` // what is missing
}

const practiceTolerance = 1.0 // degrees, from idle to redline

// Exercises lists the practice jobs, easy ones first.
func Exercises() []Exercise {
	readings := []Asked{atIdle, atHigh}
	return []Exercise{
		{"lamps", "Set it by the lamps", "The unit sits in its hole and the clamp is loose in your hand. Feel which " +
			"stroke cylinder 1 is on. Bring the engine to the trigger lead on compression, forward only. Turn the " +
			"housing until the crank lamp just changes.",
			"Compression felt, lamp seen to change with the coil dead, housing within 0.25° of the shaft, clamp tight.",
			"", nil, true, hideHousing(3, 8), judgeLamps},
		{"base", "Base timing on the starter", "The housing was set by the lamps. Check the timing on the starter " +
			"with the fuel off. Write down what the light shows, and do what the reading asks for.",
			"The figure written down as read; clamp tight; housing where the lamps had it.", "", []Asked{onStarter},
			false,
			nothingHidden, judgeBase},
		{"falls-back", "Timing falls back with speed",
			"Right at idle, late at speed. Cure it and prove that the cure is in force.",
			"Within 1° from idle to redline, shown by a reading at idle and a high one.", "", readings, false,
			func(_ Config, r *rand.Rand) Faults { return Faults{Delay: quantity.Time(80 + 10*r.IntN(8))} }, judgeProof},
		{"both", "A constant and a growing error", "Wrong at idle, wrong otherwise at speed: one turn of the housing " +
			"and one change of the allowance.",
			"Within 1° from idle to redline, shown by a reading at idle and a high one.", "", readings, false,
			func(c Config, r *rand.Rand) Faults {
				f := hideHousing(1, 3)(c, r)
				f.Delay = quantity.Time(float64(1-2*r.IntN(2)) * float64(50+10*r.IntN(4)))
				f.Delay = max(f.Delay, -c.Crank.Delay)
				return f
			}, judgeProof},
		{"not-stored", "The cure that was not",
			"Somebody says that the allowance was raised. The light does not agree.",
			"Within 1° from idle to redline, the setting stored and in force, shown by two readings.", "", readings,
			false, func(_ Config, r *rand.Rand) Faults {
				d := quantity.Time(60 + 20*r.IntN(4))
				return Faults{Delay: d, Unstored: d}
			}, judgeProof},
		{"edge", "A lamp the wrong way round", "Timing is late by tens of degrees at every speed, and " +
			"the housing does not reach.",
			"Within 1° from idle to redline, shown by a reading at idle and a high one.", "", readings, false,
			func(Config, *rand.Rand) Faults { return Faults{Edge: true} }, judgeProof},
		{"half-turn", "Reads right, will not start", "The light shows the right figure on the starter. With fuel on " +
			"it spits back through the intake.",
			"Compression felt at plug 1; starts and idles; within 1° from idle to redline, shown by two readings.", "",
			readings, false,
			func(Config, *rand.Rand) Faults { return Faults{HalfTurn: true} }, judgeStroke},
		{"wires", "One pair misfires", "It runs, shakes and backfires. Wire 1 reads right.",
			"Another wire read; every cylinder gets its own spark; a reading at idle.", "", []Asked{atIdle}, false,
			func(c Config, r *rand.Rand) Faults {
				o := c.Engine.FiringOrder
				i := 1 + r.IntN(max(len(o)-2, 1))
				return Faults{Swapped: [2]int{o[i%len(o)], o[(i+1)%len(o)]}}
			}, judgeWires},
		{"slipped", "Two lights, two truths", "The light shows a constant error. Before you turn the housing: is the " +
			"mark true? Prove it with the piston stop, and name what is wrong.",
			"The stop met both ways; true TDC written down within 1°; the fault named; the housing left where it is.",
			"name the faults", []Asked{ofZeroMark}, false, func(_ Config, r *rand.Rand) Faults {
				return Faults{Damper: quantity.Crank(float64(1-2*r.IntN(2)) * float64(3+r.IntN(4)))}
			}, judgeSlipped},
		{"two-faults", "Two faults at once", "Two things are wrong. Look until you can tell both, name them, and " +
			"bring the timing right.",
			"Both named and proven; within 1° from idle to redline, shown by two readings.", "name the faults",
			readings, false, hideTwo, judgeTwo},
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

// Start puts the exercise on the bench with an engine. The seed decides what is hidden within the exercise. It fails
// with a *quantity.Invalid on an engine that would not show it.
func (x Exercise) Start(c Config, seed uint64) (*Session, error) {
	rng := rand.New(rand.NewPCG(seed, seedMix))
	m, err := NewModel(c)
	if err != nil {
		return nil, err
	}
	const tries = 20
	for range tries {
		f := x.hide(c, rng)
		if f == (Faults{}) || m.Seen(f) == nil {
			return begin(x.Name, c, f, seed)
		}
	}
	return nil, quantity.Bad("exercise "+x.Name, "choose another engine or another exercise",
		"this engine would show nothing of what the exercise hides")
}

// begin puts an engine on the bench as an exercise has it; "" is none.
func begin(exercise string, c Config, f Faults, seed uint64) (*Session, error) {
	s, err := NewSession(c, f, seed)
	if err != nil || exercise == "" {
		return s, err
	}
	x, ok := FindExercise(exercise)
	if !ok {
		return nil, quantity.Bad("exercise", "choose one from the list", "there is none of the name %q", exercise)
	}
	if s.exercise = exercise; x.loose {
		s.clampTight, s.clampFelt = false, true
		s.rebuild()
		s.look()
	}
	return s, nil
}

func nothingHidden(Config, *rand.Rand) Faults { return Faults{} }

func hideHousing(least, most float64) func(Config, *rand.Rand) Faults {
	return func(c Config, r *rand.Rand) Faults {
		h := least + (most-least)*r.Float64()
		if travel := float64(c.Distributor.HousingTravel); travel > 0 {
			h = min(h, 0.8*travel)
		}
		return Faults{Housing: quantity.Shaft(float64(int(10*h+0.5)) / 10 * float64(1-2*r.IntN(2)))}
	}
}

// hideTwo draws two faults that the looks of the bench tell apart and its controls cure.
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
