package bench

import (
	"fmt"
	"math"

	"phasewright/quantity"
)

// Session is the bench live: controls to work, and Step to let time pass. It has no clock of its own and is not safe for use by
// several goroutines at once. Hidden faults are in it from the start; Reveal names them.
type Session struct {
	c      Config
	hidden Faults
	seed   uint64

	key, starter Switch
	fuel, spark  Switch
	clampTight   bool
	housing      quantity.Shaft // turned since the beginning, against the rotor positive
	teeth        int            // stepped since the beginning
	edited       Settings       // on the screen of the controller
	stored       Settings       // kept by it
	active       Settings       // in force since it was last powered
	lightOn      Switch
	lightWire    int
	dial         quantity.Crank
	leverAt      quantity.Speed

	rig    *Rig
	live   *live
	turn   *Turning
	time   float64 // µs
	state  State
	notes  []Note
	events []StateEvent
	frozen float64 // damper angle at the last flash, NaN: none
	tower  int
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
	Lock      Switch // on: the locked advance; off: the spark map
	Edge      Edging
}

// Edging says which edge the controller acts on, against what the engine's configuration says.
type Edging string

// The two.
const (
	EdgeAsBuilt  Edging = "as built"
	EdgeInverted Edging = "other"
)

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
		c: c, hidden: hidden, seed: seed, turn: turn, key: Off, starter: Off, fuel: Off, spark: On, clampTight: true, lightOn: Off, lightWire: c.Light.Wire,
		frozen: math.NaN(), leverAt: c.Engine.Idle, spat: math.Inf(-1),
	}
	k := c.Controller
	s.active = Settings{
		Lead: k.Lead + hidden.Lead, Allowance: k.Allowance + hidden.Allowance, Locked: k.Locked, Cranking: k.Cranking, Dwell: k.Dwell + hidden.Dwell, Lock: On, Edge: EdgeAsBuilt,
	}
	if hidden.Unlocked || k.Unlocked {
		s.active.Lock = Off
	}
	if hidden.Edge {
		s.active.Edge = EdgeInverted
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
	k.Lead, k.Allowance, k.Locked, k.Cranking, k.Dwell = s.active.Lead, s.active.Allowance, s.active.Locked, s.active.Cranking, s.active.Dwell
	k.Unlocked = s.active.Lock == Off
	f.Lead, f.Allowance, f.Dwell, f.Unlocked, f.Unstored = 0, 0, 0, false, 0
	f.Edge = s.active.Edge == EdgeInverted
	f.Housing += s.housing
	f.Tooth += s.teeth
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

// rebuild lets a changed adjustment take effect, keeping motion, levels and what the controller has seen.
func (s *Session) rebuild() {
	c, f := s.effective()
	set := newSetup(c, f)
	if s.rig == nil {
		s.rig = newRig(set, s.live, s.seed)
		return
	}
	r := s.rig
	if f.Clamp == 0 { // what a loose housing has crept stays where the clamp now holds it
		s.housing -= quantity.Shaft(r.crept / 2)
		r.crept = 0
		c, f = s.effective()
		set = newSetup(c, f)
	}
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

// Key powers the controller, or not. Powering up takes the stored settings into force.
func (s *Session) Key(to Switch) error {
	if to == s.key {
		return nil
	}
	s.key = to
	if to == On {
		s.powerUp()
	} else {
		s.starter, s.live.engaged = Off, false
		s.rig.q.n = 0
		s.rig.brain = newBrain(s.rig.s)
	}
	return nil
}

// Starter engages the starter.
func (s *Session) Starter(to Switch) error {
	if to == On && s.key != On {
		return &Refused{"starter", "the key is off", "turn the key on first"}
	}
	s.starter, s.live.engaged = to, to == On
	return nil
}

// Fuel lets the injectors work, or not.
func (s *Session) Fuel(to Switch) error {
	s.fuel = to
	return nil
}

// SparkPower powers the coil, or not.
func (s *Session) SparkPower(to Switch) error {
	s.spark = to
	return nil
}

// Lever asks for a speed.
func (s *Session) Lever(n quantity.Speed) error {
	if !(n >= 0.5*s.c.Engine.Idle) || n > s.c.Engine.Redline {
		return &Refused{"speed lever", fmt.Sprintf("%v", n), fmt.Sprintf("give %v to the redline of %v", 0.5*s.c.Engine.Idle, s.c.Engine.Redline)}
	}
	s.leverAt = n
	s.live.lever(float64(n), s.c.Engine.Cylinders)
	return nil
}

// Clamp tightens the housing's clamp (On) or loosens it (Off).
func (s *Session) Clamp(to Switch) error {
	s.clampTight = to == On
	s.rebuild()
	return nil
}

// Housing turns the housing by shaft degrees, against the rotor (earlier) positive.
func (s *Session) Housing(by quantity.Shaft) error {
	reach := s.c.Distributor.HousingTravel
	switch {
	case s.clampTight:
		return &Refused{"housing", "the clamp is tight", "loosen it first"}
	case math.IsNaN(float64(by)) || reach > 0 && quantity.Abs(s.housing+by) > reach:
		return &Refused{"housing", fmt.Sprintf("%v more would pass its travel of %v each way", by, reach), "turn it less, or lift the unit and step the gear"}
	}
	s.housing += by
	s.rebuild()
	return nil
}

// StepGear lifts the unit and sets it back n teeth on, ahead in rotor direction positive.
func (s *Session) StepGear(n int) error {
	switch {
	case s.c.Distributor.GearTeeth == 0:
		return &Refused{"gear", "the unit has a tongue drive", "there is no tooth to step"}
	case s.live.energy > 0:
		return &Refused{"gear", "the engine turns", "stop it first"}
	case s.clampTight:
		return &Refused{"gear", "the clamp is tight", "loosen it first"}
	}
	s.teeth += n
	s.rebuild()
	return nil
}

// TurnByHand turns the crank forward, in running direction only.
func (s *Session) TurnByHand(by quantity.Crank) error {
	switch {
	case s.live.energy > 0:
		return &Refused{"crank", "the engine turns", "stop it first"}
	case s.starter == On, s.key == On && s.fuel == On:
		return &Refused{"crank", "starter or injectors have power", "switch them off: an engine with spark and fuel can start under your hand"}
	case !(by >= 0) || by > 720:
		return &Refused{"crank", fmt.Sprintf("%v", by), "turn forward, up to 720° at a time; past the mark and back takes up the slack the wrong way"}
	}
	m := s.live
	angle := m.where(s.time) + float64(by)
	m.at = int(math.Round(angle)) // the bench turns by hand in whole degrees
	m.rest = m.at
	m.nodes[m.at&(ring-1)] = node{time: s.time}
	m.time = s.time
	s.rig.q.n = 0
	s.rig.brain = newBrain(s.rig.s)
	s.rig.start(float64(m.at))
	s.look()
	return nil
}

// Change puts settings on the controller's screen; they take effect once stored and power-cycled.
func (s *Session) Change(to Settings) error {
	switch {
	case s.key != On:
		return &Refused{"settings", "the controller has no power", "turn the key on"}
	case s.live.energy > 0:
		return &Refused{"settings", "the engine turns", "stop it first: settings are changed with the engine stopped"}
	case !(to.Allowance >= 0) || to.Allowance > 5000 || !(to.Lead > 0) || to.Lead > 360 || !(to.Dwell > 0) || to.Dwell > 20000 || math.Abs(float64(to.Locked)) > 60 || math.Abs(float64(to.Cranking)) > 60:
		return &Refused{"settings", "a value is out of range", "allowance 0 to 5 ms, lead above 0° to 360°, dwell above 0 to 20 ms, advance −60° to 60°"}
	}
	s.edited = to
	return nil
}

// Store keeps the settings on the screen; they come into force at the next power-up.
func (s *Session) Store() error {
	if s.key != On {
		return &Refused{"store", "the controller has no power", "turn the key on"}
	}
	s.stored = s.edited
	return nil
}

// Light switches the timing light, clamps it on a wire (by cylinder) and sets its dial.
func (s *Session) Light(to Switch, wire int, dial quantity.Crank) error {
	if wire < 1 || wire > s.c.Engine.Cylinders {
		return &Refused{"light", fmt.Sprintf("there is no wire %d", wire), fmt.Sprintf("clamp it on wire 1 to %d", s.c.Engine.Cylinders)}
	}
	if !(math.Abs(float64(dial)) <= 60) {
		return &Refused{"light", fmt.Sprintf("a dial at %v", dial), "give −60° to 60°"}
	}
	s.lightOn, s.lightWire, s.dial = to, wire, dial
	s.frozen = math.NaN()
	s.rebuild()
	return nil
}

// Reveal names the faults that were hidden at the beginning, as they would be written.
func (s *Session) Reveal() []string { return s.hidden.List() }

// Settings in force, stored and on the screen.
func (s *Session) Settings() (active, stored, edited Settings) { return s.active, s.stored, s.edited }
