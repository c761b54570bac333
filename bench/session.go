package bench

import (
	"math"

	"phasewright/cranking"
	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// Session is the bench live: controls to work, and Step to let time pass. It has no clock of its own and is not safe
// for use by several goroutines at once. Hidden faults are in it from the start; Reveal names them.
type Session struct {
	c      Config
	hidden Faults
	seed   uint64

	key, starter Switch
	fuel, spark  Switch
	clampTight   bool
	housing      quantity.Shaft // turned since the beginning, against the rotor positive
	teeth        int            // stepped since the beginning
	half         bool           // lifted and set in half a turn round
	swaps        [][2]int       // wires changed over, in order
	crankedSeen  bool           // the light flashed while cranking with the fuel off
	edited       Settings       // on the screen of the controller
	stored       Settings       // kept by it
	active       Settings       // in force since it was last powered
	lightOn      Switch
	lightWire    int
	dial         quantity.Crank
	leverAt      quantity.Speed

	rig    *Rig
	live   *live
	turn   *cranking.Turning
	time   float64 // µs
	state  State
	notes  []Note
	events []StateEvent
	frozen float64 // damper angle at the last flash, NaN: none
	spat   float64 // time of the last spitting back
}

// Switch is the position of a two-way control.
type Switch string

// The positions.
const (
	Off Switch = "off"
	On  Switch = "on"
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

// NewSession puts an engine with hidden faults on the bench: standing at a random place, key off, clamp tight.
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
	s := &Session{
		c: c, hidden: hidden, seed: seed, turn: turn, key: Off, starter: Off, fuel: Off, spark: On, clampTight: true,
		lightOn: Off, lightWire: c.Light.Wire,
		frozen: math.NaN(), leverAt: c.Engine.Idle, spat: math.Inf(-1),
	}
	k := c.Controller
	s.active = Settings{
		Lead: k.Lead + hidden.Lead, Allowance: k.Allowance + hidden.Allowance, Locked: k.Locked, Cranking: k.Cranking,
		Dwell: k.Dwell + hidden.Dwell, Lock: On, Edge: c.Crank.ActiveEdge,
	}
	if hidden.Unlocked || k.Unlocked {
		s.active.Lock = Off
	}
	if hidden.Edge {
		s.active.Edge = other(c.Crank.ActiveEdge)
	}
	s.edited, s.stored = s.active, s.active
	s.edited.Allowance += hidden.Unstored // changed by somebody, and left there
	start := int(seed*2654435761%720) - 720
	s.live = newLive(c, turn, start)
	s.live.lever(float64(s.leverAt), c.Engine.Cylinders)
	s.rebuild()
	s.look()
	return s, nil
}

// effective is the engine as adjusted, and the faults that are left in it.
func (s *Session) effective() (Config, Faults) {
	c, f := s.c, s.hidden
	k := &c.Controller
	k.Lead, k.Allowance, k.Locked, k.Cranking, k.Dwell = s.active.Lead, s.active.Allowance, s.active.Locked,
		s.active.Cranking, s.active.Dwell
	k.Unlocked = s.active.Lock == Off
	f.Lead, f.Allowance, f.Dwell, f.Unlocked, f.Unstored = 0, 0, 0, false, 0
	f.Edge = s.active.Edge != c.Crank.ActiveEdge
	f.Housing += s.housing
	f.Tooth += s.teeth
	f.HalfTurn = f.HalfTurn != s.half
	if s.clampTight {
		f.Clamp = 0
	} else if f.Clamp == 0 {
		const creep = 0.6 // shaft degrees a minute that a loose housing follows the rotor; assumed
		f.Clamp = creep
	}
	c.Light.Wire = s.lightWire
	if s.dial != 0 {
		f.Dial += s.dial
	}
	return c, f
}

// resolved is the engine as it stands, wires and all.
func (s *Session) resolved() *setup {
	c, f := s.effective()
	set := newSetup(c, f)
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
	s.active = s.stored
	s.edited = s.stored
	s.rig.brain = newBrain(s.rig.s)
	s.rebuild()
	s.rig.brain = newBrain(s.rig.s)
}
