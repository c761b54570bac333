package bench

import (
	"fmt"
	"math"
	"slices"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// Key powers the controller, or not. Powering up takes the stored settings into force.
func (s *Session) Key(to Switch) error { return s.Do(Act{What: ActKey, To: to}) }

func (s *Session) turnKey(to Switch) error {
	if to == s.key {
		return nil
	}
	s.key = to
	if to == On {
		s.powerUp()
	} else {
		s.starter, s.live.engaged = Off, false
		s.powerDown()
	}
	return nil
}

// Starter engages the starter. It is refused on an engine that turns already, and while anything is in the way.
func (s *Session) Starter(to Switch) error { return s.Do(Act{What: ActStarter, To: to}) }

func (s *Session) engage(to Switch) error {
	if to == Off || s.starter == On {
		s.starter, s.live.engaged = to, to == On
		return nil
	}
	const onto = "keep hands, tools and stop out of an engine that the starter can turn"
	switch {
	case s.key != On:
		return &Refused{"starter", "the key is off", "turn the key on first"}
	case s.stopIn:
		s.danger("the starter was called with the piston stop in", onto)
		return &Refused{"starter", "the piston stop is in", "take the stop out and screw the plug in first"}
	case s.thumb:
		s.danger("the starter was called with a thumb on the plug hole", onto)
		return &Refused{"starter", "a thumb is on the plug hole", "take it away and screw the plug in first"}
	case s.plugOut != 0:
		s.danger("the starter was called with a plug out", "mixture that is blown from an open plug hole burns")
		return &Refused{"starter", fmt.Sprintf("the plug of cylinder %d is out", s.plugOut), "screw it in first"}
	case len(s.live.burns) > 0 || s.rate()*(1e6/6) > overruns*float64(s.c.Engine.CrankingSpeed):
		s.note("the starter grates on the turning ring gear")
		s.danger("the starter was called on a turning engine", "pinion and ring gear throw chips")
		return &Refused{"starter", "the engine turns already", "wait until it stands"}
	}
	if s.coilLive() && !s.clampTight || !s.clampFelt && s.coilLive() {
		s.danger("the engine was cranked with the coil live and the clamp not tried",
			"a loose clamp lets the timing walk: tight before any spark")
	}
	s.starter, s.live.engaged = On, true
	s.unproven()
	return nil
}

// unproven notes a start before base timing has been shown.
func (s *Session) unproven() {
	if s.starter == On && s.fuel == On && s.coilLive() && !s.seen.base {
		s.danger("fuel was on before the light had shown base timing on the starter",
			"kickback, and a backfire into the intake")
	}
}

// Fuel lets the injectors work, or not.
func (s *Session) Fuel(to Switch) error { return s.Do(Act{What: ActFuel, To: to}) }

// SparkPower powers the coil, or not.
func (s *Session) SparkPower(to Switch) error { return s.Do(Act{What: ActPower, To: to}) }

// Lever asks for a speed.
func (s *Session) Lever(n quantity.Speed) error { return s.Do(Act{What: ActLever, By: float64(n)}) }

func (s *Session) setLever(n quantity.Speed) error {
	if !(n >= 0.5*s.c.Engine.Idle) || n > s.c.Engine.Redline {
		return &Refused{"speed lever", fmt.Sprintf("%v", n),
			fmt.Sprintf("give %v to the redline of %v", 0.5*s.c.Engine.Idle, s.c.Engine.Redline)}
	}
	s.leverAt = n
	s.live.lever(float64(n), s.c.Engine.Cylinders)
	return nil
}

// Clamp tightens the housing's clamp (On), loosens it (Off), or tries it by hand and leaves it as it is (Unfelt). Each
// of them tells how it was.
func (s *Session) Clamp(to Switch) error { return s.Do(Act{What: ActClamp, To: to}) }

func (s *Session) clamp(to Switch) error {
	if !s.clampFelt {
		if s.clampTight {
			s.note("the clamp was tight")
		} else {
			s.note("the clamp was loose: the housing moves under the hand")
		}
	} else if to == Unfelt && !s.clampTight {
		s.note("the clamp is loose")
	} else if to == Unfelt {
		s.note("the clamp is tight")
	}
	s.clampFelt = true
	if to == Unfelt {
		return nil
	}
	s.clampTight = to == On
	s.rebuild()
	return nil
}

// Housing turns the housing by shaft degrees, against the rotor (earlier) positive. Its slot ends it.
func (s *Session) Housing(by quantity.Shaft) error {
	return s.Do(Act{What: ActHousing, By: float64(by)})
}

func (s *Session) turnHousing(by quantity.Shaft) error {
	reach := s.c.Distributor.HousingTravel
	at := s.slot() + by
	switch {
	case s.clampTight:
		s.clampFelt = true
		return &Refused{"housing", "the clamp is tight", "loosen it first"}
	case math.IsNaN(float64(by)) || math.Abs(float64(by)) > 360:
		return &Refused{"housing", "that is no turn", "give shaft degrees, such as 0.5"}
	case reach > 0 && quantity.Abs(at) > reach && quantity.Abs(at) > quantity.Abs(s.slot()):
		return &Refused{"housing", fmt.Sprintf("%v more would pass the end of its slot, %v from the middle", by, reach),
			"turn it less, or lift the unit and step the gear"}
	}
	s.clampFelt = true
	var was Glow
	if lit := s.powered() && s.live.energy == 0; lit {
		was, _ = s.lamps(s.live.where(s.time))
	}
	s.housing += by
	s.rebuild()
	s.seen.changed()
	if is, _ := s.lamps(s.live.where(s.time)); was != "" && is != was {
		s.seen.lamp = true
		if s.spark == On {
			s.danger("the housing was set by the lamp with the coil live",
				"coil and box shock: unplug the feed and meter it dead")
		}
	}
	return nil
}

// slotEnd says at which end of its slot the housing stands.
func (s *Session) slotEnd() string {
	const close = 0.05
	switch reach := s.c.Distributor.HousingTravel; {
	case reach <= 0:
	case s.slot() > reach-close:
		return "against the rotor"
	case s.slot() < -reach+close:
		return "with the rotor"
	}
	return ""
}

// lifts says whether the unit may be lifted.
func (s *Session) lifts(what string) error {
	switch {
	case s.live.energy > 0:
		return &Refused{what, "the engine turns", "stop it first"}
	case s.clampTight:
		return &Refused{what, "the clamp is tight", "loosen it first"}
	case s.coilLive():
		s.danger("hands were on the unit with the coil live", shock)
		return &Refused{what, "the coil is live", "switch the key or the coil power off first"}
	}
	return nil
}

const shock = "coil or box shock: hands on coil, cap, rotor and wires only with the feed dead"

// StepGear lifts the unit and sets it back n teeth on, ahead in rotor direction positive. The housing stays where it
// is.
func (s *Session) StepGear(n int) error { return s.Do(Act{What: ActTooth, N: n}) }

func (s *Session) step(n int) error {
	if s.c.Distributor.GearTeeth == 0 {
		return &Refused{"gear", "the unit has a tongue drive", "there is no tooth to step"}
	}
	if err := s.lifts("gear"); err != nil {
		return err
	}
	s.teeth += n
	s.rebuild()
	s.seen.changed()
	return nil
}

// HalfTurn lifts the unit and sets it back in with its shaft half a turn round.
func (s *Session) HalfTurn() error { return s.Do(Act{What: ActHalf}) }

func (s *Session) turnRound() error {
	if err := s.lifts("unit"); err != nil {
		return err
	}
	s.half = !s.half
	s.rebuild()
	s.seen.changed()
	return nil
}

// SwapWires changes over the plug wires of two cylinders.
func (s *Session) SwapWires(a, b int) error { return s.Do(Act{What: ActSwap, N: a, M: b}) }

func (s *Session) changeOver(a, b int) error {
	n := s.c.Engine.Cylinders
	switch {
	case !s.c.Distributor.Steers:
		return &Refused{"wires", "this engine has coils of its own on the plugs",
			"there are no wires in a cap to change over"}
	case a < 1 || b < 1 || a > n || b > n || a == b:
		return &Refused{"wires", fmt.Sprintf("%d and %d", a, b),
			fmt.Sprintf("name two different cylinders of 1 to %d", n)}
	case s.live.energy > 0 || s.key == On:
		s.danger("hands were on the plug wires with the ignition on", shock)
		return &Refused{"wires", "the engine turns or the ignition has power",
			"stop it and switch the key off: the spark bites"}
	}
	s.swaps = append(s.swaps, [2]int{a, b})
	s.rebuild()
	s.seen.changed()
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

// TurnByHand turns the crank: forward, in running direction, and back (negative) only against a piston stop, which
// holds it on both sides of top dead centre.
func (s *Session) TurnByHand(by quantity.Crank) error {
	return s.Do(Act{What: ActCrank, By: float64(by)})
}

func (s *Session) turnCrank(by quantity.Crank) error {
	const kills = "the engine starts under the hand: spark and fuel off before the crank is turned"
	switch {
	case s.live.energy > 0:
		return &Refused{"crank", "the engine turns", "stop it first"}
	case s.starter == On, s.key == On && s.fuel == On:
		s.danger("the crank was turned by hand with starter or injectors live", kills)
		return &Refused{"crank", "starter or injectors have power",
			"switch them off: an engine with spark and fuel can start under your hand"}
	case !(by >= 0) && !s.stopIn || !(math.Abs(float64(by)) <= 720):
		return &Refused{"crank", fmt.Sprintf("%v", by), "turn forward, up to 720° at a time; past the mark and back " +
			"takes up the slack the wrong way"}
	}
	if s.coilLive() {
		s.danger("the crank was turned by hand with the coil live", kills)
	}
	m := s.live
	from := m.where(s.time)
	to := math.Round(from + float64(by)) // the bench turns by hand in whole degrees
	if s.stopIn {
		to = s.stopped(from, to)
	}
	m.at = int(to)
	m.rest = m.at
	m.nodes[m.at&(ring-1)] = node{time: s.time}
	m.time = s.time
	s.powerDown()
	s.rig.start(float64(m.at))
	s.seen.turned(s, from, to)
	s.look()
	return nil
}

// Change puts settings on the controller's screen; they take effect once stored and power-cycled.
func (s *Session) Change(to Settings) error { return s.Do(Act{What: ActSettings, Settings: &to}) }

func (s *Session) change(to Settings) error {
	switch {
	case !s.powered():
		return &Refused{"settings", "the controller has no power", "turn the key on"}
	case s.live.energy > 0:
		return &Refused{"settings", "the engine turns", "stop it first: settings are changed with the engine stopped"}
	case !(to.Allowance >= 0) || to.Allowance > 5000 || !(to.Lead > 0) || to.Lead > 360 || !(to.Dwell > 0) ||
		to.Dwell > 20000 || !(math.Abs(float64(to.Locked)) <= 60) || !(math.Abs(float64(to.Cranking)) <= 60),
		to.Edge != jobcard.Rising && to.Edge != jobcard.Falling, to.Lock != On && to.Lock != Off:
		return &Refused{"settings", "a value is out of range",
			"allowance 0 to 5 ms, lead above 0° to 360°, dwell above 0 to 20 ms, advance −60° to " +
				"60°, edge rising or falling"}
	}
	s.edited = to
	return nil
}

// Store keeps the settings on the screen; they come into force at the next power-up.
func (s *Session) Store() error { return s.Do(Act{What: ActStore}) }

func (s *Session) store() error {
	if !s.powered() {
		return &Refused{"store", "the controller has no power", "turn the key on"}
	}
	s.stored = s.edited
	return nil
}

// Light switches the timing light, clamps it on a wire (by cylinder) and sets its dial.
func (s *Session) Light(to Switch, wire int, dial quantity.Crank) error {
	return s.Do(Act{What: ActLight, To: to, N: wire, By: float64(dial)})
}

// Second switches the second light and clamps it on a wire. It is a plain one, without a dial.
func (s *Session) Second(to Switch, wire int) error {
	return s.Do(Act{What: ActSecond, To: to, N: wire})
}

func (s *Session) shine(which int, to Switch, wire int, dial quantity.Crank) error {
	if wire < 1 || wire > s.c.Engine.Cylinders {
		return &Refused{"light", fmt.Sprintf("there is no wire %d", wire),
			fmt.Sprintf("clamp it on wire 1 to %d", s.c.Engine.Cylinders)}
	}
	if !(math.Abs(float64(dial)) <= 60) {
		return &Refused{"light", fmt.Sprintf("a dial at %v", dial), "give −60° to 60°"}
	}
	l := &s.lights[which]
	l.on, l.wire = to, wire
	l.dark()
	if which == 0 {
		if s.dial != dial {
			s.seen.glimpsed()
		}
		s.dial = dial
		s.rebuild()
	}
	return nil
}

// Plug screws the plug of a cylinder out (Off), or in again (On). One is out at a time.
func (s *Session) Plug(cylinder int, to Switch) error {
	return s.Do(Act{What: ActPlug, N: cylinder, To: to})
}

func (s *Session) plug(cylinder int, to Switch) error {
	switch {
	case cylinder < 1 || cylinder > s.c.Engine.Cylinders:
		return &Refused{"plug", fmt.Sprintf("there is no cylinder %d", cylinder),
			fmt.Sprintf("name one of 1 to %d", s.c.Engine.Cylinders)}
	case s.live.energy > 0 || s.starter == On:
		return &Refused{"plug", "the engine turns", "stop it first"}
	case s.coilLive():
		s.danger("hands were on a plug with the coil live", shock)
		return &Refused{"plug", "the coil is live", "switch the key or the coil power off first"}
	case to == On && (s.stopIn || s.thumb) && cylinder == s.plugOut:
		return &Refused{"plug", "stop or thumb is in the hole", "take it out first"}
	case to == Off && s.plugOut != 0 && s.plugOut != cylinder:
		return &Refused{"plug", fmt.Sprintf("the plug of cylinder %d is out", s.plugOut), "screw that in first"}
	}
	if to == Off {
		s.plugOut = cylinder
	} else if s.plugOut == cylinder {
		s.plugOut = 0
	}
	return nil
}

// PistonStop screws the stop into the plug hole of cylinder 1, or takes it out.
func (s *Session) PistonStop(to Switch) error { return s.Do(Act{What: ActStop, To: to}) }

func (s *Session) fitStop(to Switch) error {
	switch {
	case to == Off:
		s.stopIn = false
		return nil
	case s.thumb:
		return &Refused{"piston stop", "a thumb is on the hole", "take it away first"}
	case s.plugOut != 1:
		return &Refused{"piston stop", "the plug of cylinder 1 is in", "screw it out first"}
	case s.key == On:
		s.danger("the piston stop was fitted with the key on",
			"an engine that turns against the stop breaks the piston")
		return &Refused{"piston stop", "the key is on", "turn it off first"}
	case math.Abs(wrap(s.live.where(s.time), 360)) < s.contact():
		return &Refused{"piston stop", "the piston stands in its way", "turn the crank on by a quarter turn first"}
	}
	s.stopIn = true
	return nil
}

// contact is how many crank degrees from top dead centre the piston meets the stop, in whole degrees as the bench
// turns.
func (s *Session) contact() float64 {
	e := s.c.Engine
	a, _ := engine.SliderCrank{Stroke: e.Stroke, Rod: e.Rod}.ContactAngle(stopDepth * e.Stroke)
	return math.Ceil(float64(a))
}

// stopped is how far the crank comes on its way between the two contacts about each top dead centre of cylinder 1.
func (s *Session) stopped(from, to float64) float64 {
	turn := math.Floor(from/360) * 360 // it stands between these two: a piston at the top has no stop above it
	return min(max(to, turn+s.contact()), turn+360-s.contact())
}

// stopAt says which way the piston rests against the stop.
func (s *Session) stopAt(angle float64) string {
	const close = 0.5
	switch a := wrap(angle, 360); {
	case math.Abs(a+s.contact()) < close:
		return "forward"
	case math.Abs(a-s.contact()) < close:
		return "back"
	}
	return ""
}

// Thumb lays a thumb on the open plug hole, or takes it away.
func (s *Session) Thumb(to Switch) error { return s.Do(Act{What: ActThumb, To: to}) }

func (s *Session) lay(to Switch) error {
	switch {
	case to == Off:
	case s.plugOut == 0:
		return &Refused{"thumb", "every plug is in", "screw one out first"}
	case s.stopIn:
		return &Refused{"thumb", "the piston stop is in the hole", "take it out first"}
	case s.coilLive():
		s.danger("a thumb was laid on the plug hole with the coil live", shock)
		return &Refused{"thumb", "the coil is live", "switch the key or the coil power off first"}
	}
	s.thumb, s.thumbFrom = to == On, s.live.where(s.time)
	return nil
}

// felt is what the thumb feels now: nothing can be felt of a crank that was not turned since it was laid on.
func (s *Session) felt(angle float64) string {
	if s.thumb && angle == s.thumbFrom {
		return "still"
	}
	return s.feels(angle)
}

// feels is what a thumb on the plug hole feels of the stroke on which the crank stands, turned forward.
func (s *Session) feels(angle float64) string {
	if !s.thumb {
		return ""
	}
	switch a := wrap(angle-s.rig.s.tdcOf(s.plugOut), 720); {
	case a > -180+float64(s.c.Engine.InletCloses) && a <= 0:
		return "pushes"
	case a > -360 && a <= -180:
		return "draws"
	}
	return "nothing"
}

// WriteDown keeps a figure as somebody read it, under the key of an Asked figure.
func (s *Session) WriteDown(key string, value float64) error {
	return s.Do(Act{What: ActFigure, Key: key, By: value})
}

func (s *Session) writeDown(key string, value float64) error {
	switch {
	case !slices.ContainsFunc(Figures(), func(a Asked) bool { return a.Key == key }):
		return &Refused{"figure", fmt.Sprintf("nobody asks for %q", key), "load the page again"}
	case !(math.Abs(value) <= 1e4):
		return &Refused{"figure", "that is no figure", "write a number such as 8.5"}
	case s.judged != nil:
		return &Refused{"figure", "this attempt has been judged", "begin a new attempt"}
	}
	s.figures[key] = value
	return nil
}

// Reveal names the faults that were hidden at the beginning, as they would be written.
func (s *Session) Reveal() []string { return s.hidden.List() }

// Settings in force, stored and on the screen.
func (s *Session) Settings() (active, stored, edited Settings) { return s.active, s.stored, s.edited }
