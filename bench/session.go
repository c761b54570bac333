package bench

import (
	"math"

	"phasewright/cranking"
	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// Session is the bench live: controls to work, and Step to let time pass. It has no clock of its own and is not safe
// for use by several goroutines at once. Hidden faults are in it from the start; Reveal names them. Time passes in
// whole ticks of a millisecond, and controls act between two ticks: so a Journal of the controls brings the same state
// back.
type Session struct {
	c        Config
	hidden   Faults
	seed     uint64
	exercise string // "": none
	journal  []Act

	key, starter Switch
	fuel, spark  Switch
	clampTight   bool
	clampFelt    bool           // somebody has had a hand on it
	housing      quantity.Shaft // turned since the beginning, against the rotor positive
	teeth        int            // stepped since the beginning
	half         bool           // lifted and set in half a turn round
	swaps        [][2]int       // wires changed over, in order
	edited       Settings       // on the screen of the controller
	stored       Settings       // kept by it
	active       Settings       // in force since it was last powered
	lights       [2]clamped     // the light, and a plain second one
	dial         quantity.Crank // of the first
	leverAt      quantity.Speed
	plugOut      int // cylinder whose plug is out; 0: none
	stopIn       bool
	thumb        bool
	thumbFrom    float64            // where the crank stood as it was laid on
	wild         float64            // sparks of late that lit a charge far from its TDC
	figures      map[string]float64 // as somebody wrote them down

	rig    *Rig
	live   *live
	turn   *cranking.Turning
	ticks  int64   // since the beginning
	time   float64 // µs: whole ticks
	owed   float64 // µs asked for and less than a tick
	state  State
	notes  []Note
	events []StateEvent
	spat   float64 // time of the last spitting back or misfire that was told
	missed float64 // share of the last sparks on compression that lit nothing
	power  power
	seen   looks
	unsafe []UnsafeAct
	judged *Outcome
}

// tick is the step of time in µs: an engine at 3,000 rpm turns 18° in it.
const tick = 1e3

// clamped is a timing light on a wire.
type clamped struct {
	on     Switch
	wire   int
	frozen float64 // damper angle at the last flash, NaN: dark
	shown  float64
	last   glimpses
}

// Switch is the position of a two-way control.
type Switch string

// The positions. A clamp is Unfelt until somebody has tried it.
const (
	Off    Switch = "off"
	On     Switch = "on"
	Unfelt Switch = "not felt"
)

// Settings are what may be set in the controller.
type Settings struct {
	Lead      quantity.Crank
	Allowance quantity.Time
	Locked    quantity.Crank
	Cranking  quantity.Crank
	Dwell     quantity.Time
	Lock      Switch       // on: the locked advance; off: the spark map
	Edge      jobcard.Edge // that it acts on
}

func other(e jobcard.Edge) jobcard.Edge {
	if e == jobcard.Rising {
		return jobcard.Falling
	}
	return jobcard.Rising
}

// Refused is why a control did not move.
type Refused struct{ What, Why, Remedy string }

// Error gives `housing – the clamp is tight – loosen it first`.
func (e *Refused) Error() string { return e.What + " – " + e.Why + " – " + e.Remedy }

// NewSession puts an engine with hidden faults on the bench: standing at a random place, key off, the clamp as whoever
// set it left it: nobody has felt it yet.
func NewSession(c Config, hidden Faults, seed uint64) (*Session, error) {
	if err := c.Validate(); err != nil {
		return nil, err
	}
	if err := hidden.Check(c); err != nil {
		return nil, err
	}
	turn, err := c.CrankOver()
	if err != nil {
		return nil, err
	}
	// what the coil was chosen for does not change with what is set
	c.Ignition.Target = newSetup(c, Faults{}).coil.Target
	s := &Session{
		c: c, hidden: hidden, seed: seed, turn: turn, key: Off, starter: Off, fuel: Off, spark: On,
		clampTight: hidden.Clamp == 0, dial: hidden.Dial, leverAt: c.Engine.Idle, spat: math.Inf(-1),
		figures: map[string]float64{},
	}
	dark := clamped{on: Off, wire: c.Light.Wire, frozen: math.NaN()}
	s.lights = [2]clamped{dark, dark}
	s.active = c.asBuilt()
	s.active.Lead += hidden.Lead
	s.active.Allowance += hidden.Allowance
	s.active.Dwell += hidden.Dwell
	if hidden.Unlocked {
		s.active.Lock = Off
	}
	if hidden.Edge {
		s.active.Edge = other(c.Crank.ActiveEdge)
	}
	s.edited, s.stored = s.active, s.active
	start := int(seed*2654435761%720) - 720
	s.live = newLive(c, turn, start)
	s.live.lever(float64(s.leverAt), c.Engine.Cylinders)
	s.power = newPower(s.emf(), turn)
	s.rebuild()
	s.look()
	return s, nil
}

// asBuilt is what the settings should be.
func (c Config) asBuilt() Settings {
	k := c.Controller
	t := Settings{Lead: k.Lead, Allowance: k.Allowance, Locked: k.Locked, Cranking: k.Cranking, Dwell: k.Dwell,
		Lock: On, Edge: c.Crank.ActiveEdge}
	if k.Unlocked {
		t.Lock = Off
	}
	return t
}

// HandedOver is what the controller is said to be set to by whoever worked on it before: what the card asks for, and a
// change of the allowance that was believed to be stored.
func (s *Session) HandedOver() Settings {
	t := s.c.asBuilt()
	t.Allowance += s.hidden.Unstored
	return t
}

// effective is the engine as adjusted, and the faults that are left in it.
func (s *Session) effective() (Config, Faults) {
	c, f := s.c, s.hidden
	k := &c.Controller
	k.Lead, k.Allowance, k.Locked, k.Cranking, k.Dwell = s.active.Lead, s.active.Allowance, s.active.Locked,
		s.active.Cranking, s.active.Dwell
	k.Unlocked = s.active.Lock == Off
	if k.DwellOnStarter > 0 {
		k.DwellOnStarter = max(k.DwellOnStarter+k.Dwell-s.c.Controller.Dwell, 1)
	}
	f.Lead, f.Allowance, f.Dwell, f.Unlocked, f.Unstored = 0, 0, 0, false, 0
	f.Edge = s.active.Edge != c.Crank.ActiveEdge
	f.Tooth += s.teeth
	// The housing stays where it is when the gear is stepped: newSetup lets it follow, so that is taken off.
	f.Housing = s.slot() - c.Distributor.follows(f.Tooth)
	f.HalfTurn = f.HalfTurn != s.half
	if s.clampTight {
		f.Clamp = 0
	} else if f.Clamp == 0 {
		const creep = 0.6 // shaft degrees a minute that a loose housing follows the rotor; assumed
		f.Clamp = creep
	}
	c.Light.Wire, f.Dial = s.lights[0].wire, s.dial
	return c, f
}

// slot is where the housing stands in its slot, against the rotor positive; 0 is where a sound engine has it.
func (s *Session) slot() quantity.Shaft {
	return s.hidden.Housing + s.c.Distributor.follows(s.hidden.Tooth) + s.housing
}

// resolved is the engine as it stands, wires and all.
func (s *Session) resolved() *setup {
	c, f := s.effective()
	set := newSetup(c, f)
	set.middle = middleAdvance(s.c.Controller) // where rotor and cap were made to meet, whatever is set now
	for _, w := range s.swaps {
		exchange(set.wires, w[0], w[1])
	}
	return set
}

// rebuild lets a changed adjustment take effect, keeping motion, levels and what the controller has seen.
func (s *Session) rebuild() {
	if s.rig != nil && s.clampTight && s.rig.crept != 0 {
		// what a loose housing has crept stays where the clamp now holds it
		s.housing -= engine.CrankToShaft(quantity.Crank(s.rig.crept))
		s.rig.crept = 0
	}
	set := s.resolved()
	if s.rig == nil {
		s.rig = newRig(set, s.live, s.seed)
		return
	}
	r := s.rig
	r.creptAt = s.time
	r.s, r.brain.s = set, set
	r.noisy = set.worn > 0
	r.start(s.live.where(s.time))
}

// powerUp is the controller starting afresh with what it has stored.
func (s *Session) powerUp() {
	if s.active != s.stored {
		s.seen.changed()
	}
	s.active = s.stored
	s.edited = s.stored
	s.rig.brain = newBrain(s.rig.s)
	s.rebuild()
	s.rig.brain = newBrain(s.rig.s)
}

// powerDown is the controller without power: what it meant to do is not done.
func (s *Session) powerDown() {
	s.rig.q.n = 0
	s.rig.brain = newBrain(s.rig.s)
}

// powered says whether the controller works.
func (s *Session) powered() bool { return s.key == On && !s.power.out }

// live coil: a spark may jump.
func (s *Session) coilLive() bool { return s.key == On && s.spark == On }

// note is what a person at the engine would notice.
func (s *Session) note(text string) { s.notes = append(s.notes, Note{s.time / 1e6, text}) }
