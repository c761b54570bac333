package bench

import (
	"math"

	"phasewright/cranking"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// power is battery, starter and what the controller has of them. A starter and a battery are both straight lines, of
// torque against speed and of voltage against current: with less voltage behind them the whole torque line shrinks in
// the same share, stall and no-load speed alike (textbook direct-current machine with a constant field).
type power struct {
	warm    float64 // K that the starter's winding is above the air
	drained float64 // V that cranking has taken from the battery
	bout    float64 // s that the starter has been on without a rest
	volts   float64 // smoothed supply: what the controller's own capacitors hold up
	out     bool    // the controller has dropped out
	line    cranking.Line
	told    bool // of the bout: too long
}

func newPower(emf float64, turn *cranking.Turning) power { return power{volts: emf, line: turn.Line()} }

// dropsOut is the supply under which the controller drops out: on a low one that a sound engine cranks at, less.
func (c Config) dropsOut() float64 { return min(dropsOut, 0.8*float64(c.Starter.Loaded)) }

// emf is the battery's voltage with nothing on it.
func (s *Session) emf() float64 {
	return max(float64(s.c.Starter.Rest+s.hidden.Supply)-s.power.drained, 0)
}

// strength is what share of its torque and speed the starter has left: by voltage, and of the torque by hot copper too.
func (s *Session) strength() (voltage, torque float64) {
	voltage = s.emf() / float64(s.c.Starter.Rest)
	return voltage, voltage / (1 + copper*s.power.warm*windingShare)
}

// pull is the starter's torque at a speed in rpm over what it gives on this engine when all is well.
func (s *Session) pull(rpm float64) float64 {
	voltage, torque := s.strength()
	free := float64(s.turn.Free)
	if voltage <= 0 {
		return 0
	}
	return torque * max(0, 1-rpm/(voltage*free)) / max(1e-3, 1-float64(s.turn.Mean)/free)
}

// supply is the voltage at the ignition: it sags with the starter's current, which goes with its torque.
func (s *Session) supply(rate float64) float64 {
	if s.starter == On {
		sag := float64(s.c.Starter.Rest - s.c.Starter.Loaded)
		return max(s.emf()-sag*s.pull(rate*(1e6/6)), 0)
	}
	if s.live.energy > 0 && rate*(1e6/6) > chargesFrom*float64(s.c.Engine.Idle) {
		return max(float64(s.c.Ignition.Supply+s.hidden.Supply), 0)
	}
	return s.emf()
}

// feed lets a tick pass for battery, starter and controller.
func (s *Session) feed() {
	p := &s.power
	const dt = tick * 1e-6
	if s.starter == On {
		p.warm += heats * dt
		p.drained += drains * dt
		p.bout += dt
		voltage, torque := s.strength()
		t := *s.turn
		t.Stall *= quantity.Torque(torque)
		t.Free *= quantity.Speed(max(voltage, 1e-3))
		s.live.line = t.Line()
		if p.bout > longest && !p.told {
			p.told = true
			s.danger("the starter was kept on for more than 15 s",
				"a starter overheats and unburnt fuel gathers in the exhaust: rest a minute or two between tries")
		}
	} else {
		p.warm -= p.warm * dt / coolsIn
		p.drained -= p.drained * dt / recoversIn
		if p.bout = max(0, p.bout-dt/restFor*longest); p.bout == 0 {
			p.told = false
		}
	}
	p.volts += (s.supply(s.rate()) - p.volts) * dt / holdsUp
	switch {
	case !p.out && p.volts < s.c.dropsOut():
		p.out = true
		if s.key == On {
			s.note("the controller drops out: its screen goes dark")
			s.powerDown()
		}
	case p.out && p.volts > s.c.dropsOut()+1:
		p.out = false
		if s.key == On {
			s.note("the controller comes back")
			s.powerUp()
		}
	}
}

// rate is the crank's speed now in °/µs, nought where it stands.
func (s *Session) rate() float64 {
	if s.live.energy == 0 {
		return 0
	}
	return s.live.speed(s.time)
}

// lightsUp says how likely a spark of a charge lights a mixture at a load, a share of a full charge. Certain from the
// charge needed on, and never at half of it. Turned by a starter, cylinders fill slowly and leak: they ask for no more
// than an idling engine does.
func (s *Session) lightsUp(dwell, load, rate float64) float64 {
	set := s.rig.s
	v := s.supply(rate)
	share := float64(set.current(dwell, v) / set.coil.Target)
	if set.coil.Output == jobcard.SparkBox {
		share = dwell / leastTrigger * leastCharge
	}
	if s.starter == On {
		load = 0
	}
	need := leastCharge * (1 + asksMore*load)
	return math.Min(math.Max((share-need/2)/(need/2), 0), 1)
}
