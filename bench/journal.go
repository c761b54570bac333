package bench

import (
	"fmt"
	"slices"

	"phasewright/quantity"
)

// ActKind is a control of the bench.
type ActKind string

// The controls, as a Journal names them.
const (
	ActKey      ActKind = "key"
	ActStarter  ActKind = "starter"
	ActFuel     ActKind = "fuel"
	ActPower    ActKind = "power"
	ActLever    ActKind = "lever"
	ActClamp    ActKind = "clamp"
	ActHousing  ActKind = "housing"
	ActTooth    ActKind = "tooth"
	ActHalf     ActKind = "half"
	ActSwap     ActKind = "swap"
	ActCrank    ActKind = "crank"
	ActSettings ActKind = "settings"
	ActStore    ActKind = "store"
	ActLight    ActKind = "light"
	ActSecond   ActKind = "second"
	ActPlug     ActKind = "plug"
	ActStop     ActKind = "stop"
	ActThumb    ActKind = "thumb"
	ActFigure   ActKind = "figure"
	ActJudge    ActKind = "judge"
)

// Act is one working of a control, on the bench's own clock. Refused ones count too: they may have been unsafe.
type Act struct {
	AtMS     int64     `json:"at_ms"`
	What     ActKind   `json:"what"`
	To       Switch    `json:"to,omitempty"`
	N        int       `json:"n,omitempty"`  // cylinder, wire, teeth
	M        int       `json:"m,omitempty"`  // the other cylinder
	By       float64   `json:"by,omitempty"` // degrees, rpm, a figure
	Key      string    `json:"key,omitempty"`
	Settings *Settings `json:"settings,omitempty"`
	Named    []string  `json:"named,omitempty"`
}

// Do works a control: what the methods of the same names do. AtMS is set by the bench. An act that is refused gives a
// *Refused and is in the journal all the same.
func (s *Session) Do(a Act) error {
	if a.AtMS = s.ticks; a.Settings != nil {
		own := *a.Settings
		a.Settings = &own
	}
	a.Named = slices.Clone(a.Named)
	s.write(a)
	switch a.What {
	case ActKey:
		return s.turnKey(a.To)
	case ActStarter:
		return s.engage(a.To)
	case ActFuel:
		s.fuel = a.To
		s.unproven()
		return nil
	case ActPower:
		s.spark = a.To
		s.unproven()
		return nil
	case ActLever:
		return s.setLever(quantity.Speed(a.By))
	case ActClamp:
		return s.clamp(a.To)
	case ActHousing:
		return s.turnHousing(quantity.Shaft(a.By))
	case ActTooth:
		return s.step(a.N)
	case ActHalf:
		return s.turnRound()
	case ActSwap:
		return s.changeOver(a.N, a.M)
	case ActCrank:
		return s.turnCrank(quantity.Crank(a.By))
	case ActSettings:
		if a.Settings == nil {
			return &Refused{"settings", "none were given", "load the page again"}
		}
		return s.change(*a.Settings)
	case ActStore:
		return s.store()
	case ActLight:
		return s.shine(0, a.To, a.N, quantity.Crank(a.By))
	case ActSecond:
		return s.shine(1, a.To, a.N, 0)
	case ActPlug:
		return s.plug(a.N, a.To)
	case ActStop:
		return s.fitStop(a.To)
	case ActThumb:
		return s.lay(a.To)
	case ActFigure:
		return s.writeDown(a.Key, a.By)
	case ActJudge:
		s.judge(a.Named)
		return nil
	}
	return &Refused{"control", fmt.Sprintf("there is no %q", a.What), "load the page again"}
}

// write keeps an act. A lever drawn along its scale is one act for each tick.
func (s *Session) write(a Act) {
	if n := len(s.journal); n > 0 && a.What == ActLever {
		if last := s.journal[n-1]; last.What == ActLever && last.AtMS == a.AtMS {
			s.journal = s.journal[:n-1]
		}
	}
	s.journal = append(s.journal, a)
}

// Journal is all that makes a Session what it is: write it down, and Replay brings the session back. It holds the
// hidden faults: keep it from whoever looks for them.
type Journal struct {
	Model    int    `json:"model"` // how the bench reckons: see the constant of that name
	Config   Config `json:"config"`
	Hidden   Faults `json:"hidden"`
	Exercise string `json:"exercise,omitempty"`
	Seed     uint64 `json:"seed"`
	Acts     []Act  `json:"acts"`
	EndMS    int64  `json:"end_ms"` // on the bench's own clock
}

// model changes whenever the same acts would no longer bring the same state.
const model = 1

// Journal is the session as it stands; the acts belong to the caller.
func (s *Session) Journal() Journal {
	return Journal{Model: model, Config: s.c, Hidden: s.hidden, Exercise: s.exercise, Seed: s.seed,
		Acts: slices.Clone(s.journal), EndMS: s.ticks}
}

// Replay makes the session anew: same engine, same acts at the same times, and so the same state. It fails with a
// *quantity.Invalid where the journal was written by another model of the bench or is damaged.
func (j Journal) Replay() (*Session, error) {
	if j.Model != model {
		return nil, quantity.Bad("journal of the bench", "set the bench up anew",
			"was written by another version of the bench (%d, not %d)", j.Model, model)
	}
	s, err := begin(j.Exercise, j.Config, j.Hidden, j.Seed)
	if err != nil {
		return nil, err
	}
	for _, a := range j.Acts {
		if a.AtMS < s.ticks || a.AtMS > j.EndMS {
			return nil, quantity.Bad("journal of the bench", "set the bench up anew",
				"has an act at %d ms out of order", a.AtMS)
		}
		s.until(a.AtMS)
		_ = s.Do(a) // what was refused then is refused now
	}
	s.until(j.EndMS)
	s.look()
	s.events, s.notes = nil, nil
	return s, nil
}

// until lets time pass up to a tick.
func (s *Session) until(ms int64) {
	for s.ticks < ms {
		s.tick()
	}
}
