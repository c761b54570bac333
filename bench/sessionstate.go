package bench

import (
	"math"

	"phasewright/engine"
	"phasewright/quantity"
)

// State is what a page needs to draw the bench and to carry it on by itself until the next State. Plain numbers with
// the unit in the key.
type State struct {
	TimeS      float64      `json:"time_s"`
	TurnedDeg  float64      `json:"turned_deg"` // crank degrees since the beginning, for carrying on
	CrankDeg   float64      `json:"crank_deg"`  // on the cycle, 0…720, 0 is TDC firing of cylinder 1
	SpeedRPM   float64      `json:"speed_rpm"`
	SupplyV    float64      `json:"supply_v"`
	EngineC    float64      `json:"engine_c"`
	HousingDeg float64      `json:"housing_deg"` // shaft degrees turned since the beginning, against the rotor positive
	RotorDeg   float64      `json:"rotor_deg"`   // shaft degrees of the rotor tip after the tower of firing 1, in rotor direction
	Tower      int          `json:"tower"`       // that the rotor stands nearest to, by firing from 1
	CrankLamp  Glow         `json:"crank_lamp"`
	CamLamp    Glow         `json:"cam_lamp"`
	VanesDeg   [][2]float64 `json:"vanes_deg"` // crank degrees on the cycle at which each crank vane enters and leaves its pickup
	CamVaneDeg [][2]float64 `json:"cam_vane_deg"`
	FrozenDeg  *float64     `json:"frozen_deg"` // damper angle at the last flash: degrees that the zero mark stands before the pointer; null: dark
	ShownDeg   *float64     `json:"shown_deg"`  // what that reads on the damper for the wire's own TDC
	Key        Switch       `json:"key"`
	Starter    Switch       `json:"starter"`
	Fuel       Switch       `json:"fuel"`
	SparkPower Switch       `json:"spark_power"`
	Clamp      Switch       `json:"clamp"` // on: tight
	Light      Switch       `json:"light"`
	LightWire  int          `json:"light_wire"`
	DialDeg    float64      `json:"dial_deg"`
	LeverRPM   float64      `json:"lever_rpm"`
	TachoRPM   float64      `json:"tacho_rpm"` // of the light; 0: dark
	Runs       bool         `json:"runs"`      // turns without the starter
	Sync       string       `json:"sync"`      // held, lost, none
	Active     SettingsJSON `json:"active"`
	Stored     SettingsJSON `json:"stored"`
	Edited     SettingsJSON `json:"edited"`
	Events     []StateEvent `json:"events"` // since the last Step, the last 200
	Notes      []Note       `json:"notes"`  // what one would hear or smell
}

// SettingsJSON is Settings with its units in the keys.
type SettingsJSON struct {
	LeadDeg     float64 `json:"lead_deg"`
	AllowanceUS float64 `json:"allowance_us"`
	LockedDeg   float64 `json:"locked_deg"`
	CrankingDeg float64 `json:"cranking_deg"`
	DwellUS     float64 `json:"dwell_us"`
	Lock        Switch  `json:"lock"`
	Edge        string  `json:"edge"`
}

func (t Settings) json() SettingsJSON {
	return SettingsJSON{float64(t.Lead), float64(t.Allowance), float64(t.Locked), float64(t.Cranking), float64(t.Dwell),
		t.Lock, string(t.Edge)}
}

// StateEvent is one event for the page.
type StateEvent struct {
	Kind     string  `json:"kind"`
	TimeS    float64 `json:"time_s"`
	CrankDeg float64 `json:"crank_deg"`
	High     bool    `json:"high,omitempty"`
	Cylinder int     `json:"cylinder,omitempty"`
}

// Note is something a person at the engine would notice.
type Note struct {
	TimeS float64 `json:"time_s"`
	Text  string  `json:"text"`
}

const mostEvents = 200 // kept for one State

// Step lets time pass, at most a quarter of a second at once, and gives the new state. The State's slices belong to the
// caller.
func (s *Session) Step(dt quantity.Time) State {
	const most = 250e3
	step := min(max(float64(dt), 0), most)
	if math.IsNaN(step) {
		step = 0
	}
	s.events, s.notes = []StateEvent{}, []Note{}
	m := s.live
	until := s.time + step
	for s.time < until {
		next := min(until, s.time+5e3) // coarse enough to be cheap, fine enough for switches on a standing engine
		m.limit = next
		if m.energy == 0 {
			m.time = max(m.time, s.time)
			m.nodes[m.at&(ring-1)].time = m.time
			m.before(next) // the starter may take hold
			m.wait(next)
		}
		s.rig.advance(next, s.see)
		if m.energy == 0 {
			m.wait(next)
		}
		s.time = next
	}
	if m.kicked {
		m.kicked = false
		s.note("kicked back")
	}
	s.warm(step)
	s.look()
	return s.state
}

func (s *Session) note(text string) { s.notes = append(s.notes, Note{s.time / 1e6, text}) }

// see takes the rig's events: what the key and the switches let through.
func (s *Session) see(e *Event) bool {
	powered := s.key == On
	switch e.Kind {
	case Charge, Cut, Spark:
		if !powered || s.spark == Off {
			return true
		}
		if e.Kind == Spark {
			s.burn(e)
		}
	case Flash:
		if s.lightOn == Off || s.spark == Off || !powered {
			return true
		}
		if s.starter == On && s.fuel == Off {
			s.crankedSeen = true
		}
		s.frozen = wrap(-e.Turned+s.rig.s.damper, 360)
		shown := float64(e.Shown)
		s.state.ShownDeg = &shown
	case CrankEdge, CamEdge:
		if !powered {
			return true
		}
	}
	if len(s.events) == mostEvents {
		copy(s.events, s.events[1:])
		s.events = s.events[:mostEvents-1]
	}
	s.events = append(s.events,
		StateEvent{e.Kind.String(), float64(e.Time) / 1e6, float64(e.Position()), e.High, e.Cylinder})
	return true
}

// burn lets a spark light the charge near whose TDC it comes; far from it, it spits back or backfires.
func (s *Session) burn(e *Event) {
	if s.fuel == Off {
		return
	}
	a := float64(e.Advance)
	switch {
	case e.Weak && s.rig.rng.Float64() < 0.5: // a weak spark lights half of its charges; assumed
	case a > -50 && a < 60:
		tdc := int(math.Round(e.Turned + a))
		s.live.ignite(tdc, int(math.Ceil(e.Turned)), float64(e.Speed)*math.Pi/30)
	case math.Abs(a) > 200 && float64(e.Time)-s.spat > 0.7e6:
		s.spat = float64(e.Time)
		s.notes = append(s.notes, Note{float64(e.Time) / 1e6, "spits back through the intake"})
	case math.Abs(a) >= 60 && math.Abs(a) <= 200 && float64(e.Time)-s.spat > 0.7e6:
		s.spat = float64(e.Time)
		s.notes = append(s.notes, Note{float64(e.Time) / 1e6, "backfires"})
	}
}

// warm lets the engine warm up and cool: towards 88 °C with four minutes' time constant while it fires, towards 15 °C
// with forty minutes; assumed.
func (s *Session) warm(step float64) {
	goal, minutes := 15.0, 40.0
	if len(s.live.burns) > 0 {
		goal, minutes = 88, 4
	}
	s.live.warmth += (goal - s.live.warmth) * (1 - math.Exp(-step/(minutes*60e6)))
}

// look fills in the state.
func (s *Session) look() {
	m, r := s.live, s.rig
	angle := m.where(s.time)
	rate := m.speed(s.time)
	if m.energy == 0 {
		rate = 0
	}
	st := &s.state
	shown := st.ShownDeg
	*st = State{
		TimeS: s.time / 1e6, TurnedDeg: angle, CrankDeg: float64(engine.At(quantity.Crank(angle))),
		SpeedRPM:   rate * (1e6 / 6),
		HousingDeg: float64(s.housing) - r.crept/2, EngineC: m.warmth,
		Key: s.key, Starter: s.starter, Fuel: s.fuel, SparkPower: s.spark, Clamp: Off, Light: s.lightOn,
		LightWire: s.lightWire, DialDeg: float64(s.dial), LeverRPM: float64(s.leverAt),
		Active: s.active.json(), Stored: s.stored.json(), Edited: s.edited.json(), Events: s.events, Notes: s.notes,
		Runs: m.energy > 0 && s.starter == Off, CrankLamp: NoSignal, CamLamp: NoSignal, Sync: "none",
	}
	if s.clampTight {
		st.Clamp = On
	}
	set := r.s
	tip := angle - r.crept + set.early + set.rotor + set.middle + set.housing
	st.RotorDeg = float64(engine.CrankToShaft(quantity.Crank(tip - 720*math.Floor(tip/720))))
	nearest, _, _ := set.tower(angle-r.crept, set.n)
	st.Tower = nearest + 1
	st.VanesDeg, st.CamVaneDeg = set.vanes(&set.crank, set.n, r.crept), nil
	if set.sync {
		st.CamVaneDeg = set.vanes(&set.cam, 1, r.crept)
	}
	st.SupplyV = s.supply(rate)
	if s.key == On {
		st.CrankLamp = set.glow(&set.crank, set.n, angle-r.crept)
		if set.sync {
			st.CamLamp = set.glow(&set.cam, 1, angle-r.crept)
		}
		if set.swapped {
			st.CrankLamp, st.CamLamp = st.CamLamp, st.CrankLamp
		}
		switch b := &r.brain; {
		case !set.sync:
		case b.held && rate > 0:
			st.Sync = "held"
		case b.ever:
			st.Sync = "lost"
		}
	}
	if !math.IsNaN(s.frozen) && rate > 0 && s.lightOn == On {
		v := s.frozen
		st.FrozenDeg, st.ShownDeg = &v, shown
		st.TachoRPM = math.Round(st.SpeedRPM/10) * 10
		if set.doubled {
			st.TachoRPM *= 2
		}
	} else {
		s.frozen = math.NaN()
	}
}

// supply sags with the starter's torque, which falls in a line with speed.
func (s *Session) supply(rate float64) float64 {
	c := s.c
	v := float64(c.Starter.Rest + s.hidden.Supply)
	if s.starter == On {
		share := max(0, 1-rate*(1e6/6)/float64(s.turn.Free))
		mean := max(1e-3, 1-float64(s.turn.Mean/s.turn.Free))
		return v - float64(c.Starter.Rest-c.Starter.Loaded)*share/mean
	}
	if s.live.energy > 0 {
		return float64(c.Ignition.Supply + s.hidden.Supply)
	}
	return v
}

// vanes lists where each vane enters and leaves its pickup on the cycle.
func (s *setup) vanes(w *wheel, n int, crept float64) [][2]float64 {
	out := make([][2]float64, n)
	for k := range out {
		a := s.shift + crept
		if n > 1 {
			a += s.tdc[k]
		}
		out[k] = [2]float64{float64(engine.At(quantity.Crank(w.enter[k] + a))),
			float64(engine.At(quantity.Crank(w.leave[k] + a)))}
	}
	return out
}
