package bench

import (
	"fmt"
	"math"
	"slices"

	"phasewright/jobcard"
	"phasewright/quantity"
)

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
		return &Refused{"speed lever", fmt.Sprintf("%v", n),
			fmt.Sprintf("give %v to the redline of %v", 0.5*s.c.Engine.Idle, s.c.Engine.Redline)}
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
		return &Refused{"housing", fmt.Sprintf("%v more would pass its travel of %v each way", by, reach),
			"turn it less, or lift the unit and step the gear"}
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

// HalfTurn lifts the unit and sets it back in with its shaft half a turn round.
func (s *Session) HalfTurn() error {
	switch {
	case s.live.energy > 0:
		return &Refused{"unit", "the engine turns", "stop it first"}
	case s.clampTight:
		return &Refused{"unit", "the clamp is tight", "loosen it first"}
	}
	s.half = !s.half
	s.rebuild()
	return nil
}

// SwapWires changes over the plug wires of two cylinders.
func (s *Session) SwapWires(a, b int) error {
	n := s.c.Engine.Cylinders
	switch {
	case !s.c.Distributor.Steers:
		return &Refused{"wires", "this engine has coils of its own on the plugs",
			"there are no wires in a cap to change over"}
	case a < 1 || b < 1 || a > n || b > n || a == b:
		return &Refused{"wires", fmt.Sprintf("%d and %d", a, b),
			fmt.Sprintf("name two different cylinders of 1 to %d", n)}
	case s.live.energy > 0 || s.key == On:
		return &Refused{"wires", "the engine turns or the ignition has power",
			"stop it and switch the key off: the spark bites"}
	}
	s.swaps = append(s.swaps, [2]int{a, b})
	s.rebuild()
	return nil
}

// Wires gives the cylinder at the far end of each tower's wire, towers in firing order by the cap's map; nil without a
// cap.
func (s *Session) Wires() []int {
	if !s.c.Distributor.Steers {
		return nil
	}
	return slices.Clone(s.rig.s.wires)
}

// TurnByHand turns the crank forward, in running direction only.
func (s *Session) TurnByHand(by quantity.Crank) error {
	switch {
	case s.live.energy > 0:
		return &Refused{"crank", "the engine turns", "stop it first"}
	case s.starter == On, s.key == On && s.fuel == On:
		return &Refused{"crank", "starter or injectors have power",
			"switch them off: an engine with spark and fuel can start under your hand"}
	case !(by >= 0) || by > 720:
		return &Refused{"crank", fmt.Sprintf("%v", by), "turn forward, up to 720° at a time; past the mark and back " +
			"takes up the slack the wrong way"}
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
	case !(to.Allowance >= 0) || to.Allowance > 5000 || !(to.Lead > 0) || to.Lead > 360 || !(to.Dwell > 0) ||
		to.Dwell > 20000 || math.Abs(float64(to.Locked)) > 60 || math.Abs(float64(to.Cranking)) > 60,
		to.Edge != jobcard.Rising && to.Edge != jobcard.Falling:
		return &Refused{"settings", "a value is out of range",
			"allowance 0 to 5 ms, lead above 0° to 360°, dwell above 0 to 20 ms, advance −60° to " +
				"60°, edge rising or falling"}
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
		return &Refused{"light", fmt.Sprintf("there is no wire %d", wire),
			fmt.Sprintf("clamp it on wire 1 to %d", s.c.Engine.Cylinders)}
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
