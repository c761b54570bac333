package bench

import (
	"maps"
	"math"
	"slices"

	"phasewright/engine"
	"phasewright/quantity"
)

// State is what a page needs to draw the bench and to carry it on by itself until the next State. Plain numbers with
// the unit in the key.
type State struct {
	TimeS      float64            `json:"time_s"`
	TurnedDeg  float64            `json:"turned_deg"` // crank degrees since the beginning, for carrying on
	CrankDeg   float64            `json:"crank_deg"`  // on the cycle, 0…720, 0 is TDC firing of cylinder 1
	SpeedRPM   float64            `json:"speed_rpm"`
	SupplyV    float64            `json:"supply_v"`
	StarterC   float64            `json:"starter_c"` // °C of its winding
	MarkDeg    float64            `json:"mark_deg"`  // degrees that the zero mark, as one sees it, stands before the pointer; −180 < d ≤ 180
	EngineC    float64            `json:"engine_c"`
	HousingDeg float64            `json:"housing_deg"` // shaft degrees turned since the beginning, against the rotor positive
	SlotDeg    float64            `json:"slot_deg"`    // where it stands in its slot, from the middle, against the rotor positive
	SlotEnd    string             `json:"slot_end"`    // "against the rotor", "with the rotor": it stands at that end; "": it has room
	RotorDeg   float64            `json:"rotor_deg"`   // shaft degrees of the rotor tip after the tower of firing 1, in rotor direction
	Tower      int                `json:"tower"`       // that the rotor stands nearest to, by firing from 1
	CrankLamp  Glow               `json:"crank_lamp"`
	CamLamp    Glow               `json:"cam_lamp"`
	VanesDeg   [][2]float64       `json:"vanes_deg"` // crank degrees on the cycle at which each crank vane enters and leaves its pickup
	CamVaneDeg [][2]float64       `json:"cam_vane_deg"`
	FrozenDeg  *float64           `json:"frozen_deg"` // damper angle at the last flash: degrees that the zero mark stands before the pointer; null: dark
	ShownDeg   *float64           `json:"shown_deg"`  // what that reads on the damper for the wire's own TDC
	Key        Switch             `json:"key"`
	Starter    Switch             `json:"starter"`
	Fuel       Switch             `json:"fuel"`
	SparkPower Switch             `json:"spark_power"`
	Clamp      Switch             `json:"clamp"` // on: tight; not felt: nobody has tried it
	Light      Switch             `json:"light"`
	LightWire  int                `json:"light_wire"`
	DialDeg    float64            `json:"dial_deg"`
	LeverRPM   float64            `json:"lever_rpm"`
	TachoRPM   float64            `json:"tacho_rpm"` // of the light; 0: dark
	MarksDeg   []float64          `json:"marks_deg"` // what an eye reads from the last flashes: one value, two, or none
	Second     SecondLight        `json:"second"`
	PlugOut    int                `json:"plug_out"` // cylinder; 0: all are in
	Stop       Switch             `json:"stop"`     // on: in the plug hole of cylinder 1
	StopAt     string             `json:"stop_at"`  // "forward", "back": the piston rests against it, turned that way
	Thumb      string             `json:"thumb"`    // what a thumb on the open plug hole feels; "": no thumb there
	Unsafe     []UnsafeAct        `json:"unsafe"`
	Figures    map[string]float64 `json:"figures"`  // as they were written down
	Runs       bool               `json:"runs"`     // turns without the starter
	Misfires   float64            `json:"misfires"` // share of the last sparks that lit nothing: it shakes
	Sync       string             `json:"sync"`     // held, lost, none
	Active     SettingsJSON       `json:"active"`
	Stored     SettingsJSON       `json:"stored"`
	Edited     SettingsJSON       `json:"edited"`
	Events     []StateEvent       `json:"events"` // since the last Step, the last 200
	Notes      []Note             `json:"notes"`  // what one would hear or smell
}

// SecondLight is a plain light of its own, without a dial.
type SecondLight struct {
	Light    Switch    `json:"light"`
	Wire     int       `json:"wire"`
	MarksDeg []float64 `json:"marks_deg"`
	TachoRPM float64   `json:"tacho_rpm"`
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
// caller. What is less than a tick is kept for the next Step.
func (s *Session) Step(dt quantity.Time) State {
	const most, hair = 250e3, 1e-6
	if v := float64(dt); v > 0 {
		s.owed += min(v, most)
	}
	for ; s.owed > tick-hair; s.owed -= tick {
		s.tick()
	}
	s.owed = max(s.owed, 0)
	s.look()
	st := s.state
	st.Events, st.Notes = append([]StateEvent{}, s.events...), append([]Note{}, s.notes...)
	s.events, s.notes = s.events[:0], s.notes[:0]
	return st
}

// tick lets a millisecond pass.
func (s *Session) tick() {
	m := s.live
	s.feed()
	next := float64(s.ticks+1) * tick
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
	s.ticks++
	s.time = next
	if m.kicked {
		m.kicked = false
		s.note("kicked back")
	}
	s.warm()
	for i := range s.lights {
		if l := &s.lights[i]; m.energy == 0 || l.on == Off {
			l.dark()
		}
	}
}

// dark forgets what a light has shown.
func (l *clamped) dark() { l.frozen, l.last.n = math.NaN(), 0 }

// see takes the rig's events: what the key and the switches let through.
func (s *Session) see(e *Event) bool {
	powered := s.powered()
	switch e.Kind {
	case Charge, Cut, Spark:
		if !powered || s.spark == Off {
			return true
		}
		if e.Kind == Spark {
			s.burn(e)
			s.second(e)
		}
	case Flash:
		l := &s.lights[0]
		if l.on == Off || s.spark == Off || !powered {
			return true
		}
		l.flash(-e.Turned+s.rig.s.damper, float64(e.Shown), float64(e.Time))
		s.seen.flash(s, float64(e.Shown), float64(e.Time))
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

func (l *clamped) flash(damper, shown, time float64) {
	l.frozen, l.shown = wrap(damper, 360), shown
	l.last.add(shown, time)
}

// second lets the second light answer a spark: plain, so it flashes at once and has no dial to be wrong.
func (s *Session) second(e *Event) {
	l := &s.lights[1]
	if l.on == Off || e.Cylinder != l.wire {
		return
	}
	set := s.rig.s
	shown := wrap(set.tdcOf(l.wire)-e.Turned+set.damper, 360)
	l.flash(-e.Turned+set.damper, shown, float64(e.Time))
	s.seen.other(s, l.wire)
}

// burn lets a spark light the charge near whose TDC it comes; far from it, it spits back or backfires.
func (s *Session) burn(e *Event) {
	if s.fuel == Off {
		return
	}
	a := float64(e.Advance)
	m := s.live
	rate := float64(e.Speed) * math.Pi / 30
	chance := s.lightsUp(float64(e.Dwell), m.charge(rate), float64(e.Speed)*6e-6)
	if e.Weak && chance == 1 && float64(e.Dwell) >= s.rig.s.least {
		chance = 0.5 // the gap to the tower takes what the coil gives; assumed
	}
	lit := chance >= 1 || chance > 0 && s.rig.rng.Float64() < chance
	s.wild *= 0.95 // an ear forgets in twenty sparks; assumed
	onPower := a > -50 && a < firesTo
	if onPower {
		const of = 40 // sparks that an ear judges by; assumed
		miss := 1.0
		if lit {
			miss = 0
		}
		s.missed += (miss - s.missed) / of
	}
	switch {
	case !lit:
		if onPower && s.missed > hearsMiss {
			s.tell(e, "misfires")
		}
	case onPower:
		tdc := int(math.Round(e.Turned + a))
		m.ignite(tdc, int(math.Ceil(e.Turned)), rate)
	case math.Abs(a) > 200:
		s.tell(e, "spits back through the intake")
	case math.Abs(a) >= firesTo:
		if s.wild++; s.wild > 1.5 { // a sound engine has one such spark as it catches: nobody calls that backfiring
			s.tell(e, "backfires")
		}
	}
}

// tell notes a noise, one at a time.
func (s *Session) tell(e *Event, noise string) {
	if float64(e.Time)-s.spat > 0.7e6 {
		s.spat = float64(e.Time)
		s.notes = append(s.notes, Note{float64(e.Time) / 1e6, noise})
	}
}

// warm lets the engine warm up and cool for a tick: towards 88 °C with four minutes' time constant while it fires,
// towards 15 °C with forty minutes; assumed.
func (s *Session) warm() {
	goal, minutes := air, 40.0
	if len(s.live.burns) > 0 {
		goal, minutes = 88, 4
	}
	s.live.warmth += (goal - s.live.warmth) * tick / (minutes * 60e6)
}

const air = 15.0 // °C

// look fills in the state.
func (s *Session) look() {
	m, r := s.live, s.rig
	angle := m.where(s.time)
	rate := s.rate()
	st := &s.state
	*st = State{
		TimeS: s.time / 1e6, TurnedDeg: angle, CrankDeg: float64(engine.At(quantity.Crank(angle))),
		SpeedRPM:   rate * (1e6 / 6),
		HousingDeg: float64(s.housing) - r.crept/2, EngineC: m.warmth, StarterC: air + s.power.warm,
		SupplyV: s.supply(rate), MarkDeg: wrap(r.s.damper-angle, 360),
		Key: s.key, Starter: s.starter, Fuel: s.fuel, SparkPower: s.spark, Clamp: Off, Light: s.lights[0].on,
		LightWire: s.lights[0].wire, DialDeg: float64(s.dial), LeverRPM: float64(s.leverAt),
		Active: s.active.json(), Stored: s.stored.json(), Edited: s.edited.json(),
		Runs: m.energy > 0 && s.starter == Off, Misfires: s.missed, CrankLamp: NoSignal, CamLamp: NoSignal,
		Sync:    "none",
		PlugOut: s.plugOut, Stop: Off, Thumb: s.felt(angle), Unsafe: slices.Clone(s.unsafe),
		Figures: maps.Clone(s.figures),
	}
	switch {
	case !s.clampFelt:
		st.Clamp = Unfelt
	case s.clampTight:
		st.Clamp = On
	}
	if s.stopIn {
		st.Stop, st.StopAt = On, s.stopAt(angle)
	}
	st.SlotDeg, st.SlotEnd = float64(s.slot())-r.crept/2, s.slotEnd()
	set := r.s
	tip := angle - r.crept + set.early + set.rotor + set.middle + set.housing
	st.RotorDeg = float64(engine.CrankToShaft(quantity.Crank(tip - 720*math.Floor(tip/720))))
	nearest, _, _ := set.tower(angle-r.crept, set.n)
	st.Tower = nearest + 1
	st.VanesDeg, st.CamVaneDeg = set.vanes(&set.crank, set.n, r.crept), nil
	if set.sync {
		st.CamVaneDeg = set.vanes(&set.cam, 1, r.crept)
	}
	if s.powered() {
		st.CrankLamp, st.CamLamp = s.lamps(angle)
		switch b := &r.brain; {
		case !set.sync:
		case b.held && rate > 0:
			st.Sync = "held"
		case b.ever:
			st.Sync = "lost"
		}
	}
	l := &s.lights[0]
	st.MarksDeg = l.last.marks(s.time)
	if !math.IsNaN(l.frozen) && rate > 0 && l.on == On {
		frozen, shown := l.frozen, l.shown
		st.FrozenDeg, st.ShownDeg = &frozen, &shown
		st.TachoRPM = tachometer(st.SpeedRPM)
		if set.doubled {
			st.TachoRPM *= 2
		}
	}
	o := &s.lights[1]
	st.Second = SecondLight{Light: o.on, Wire: o.wire, MarksDeg: o.last.marks(s.time)}
	if len(st.Second.MarksDeg) > 0 && rate > 0 {
		st.Second.TachoRPM = tachometer(st.SpeedRPM)
	}
}

func tachometer(rpm float64) float64 { return math.Round(rpm/10) * 10 }

// lamps are the two pickups' lamps with the crank at an angle.
func (s *Session) lamps(angle float64) (crank, cam Glow) {
	set := s.rig.s
	angle -= s.rig.crept
	crank, cam = set.glow(&set.crank, set.n, angle), NoSignal
	if set.sync {
		cam = set.glow(&set.cam, 1, angle)
	}
	if set.swapped {
		crank, cam = cam, crank
	}
	return crank, cam
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
