package livebench

import (
	"strings"

	"phasewright/bench"
	"phasewright/jobcard"
	"phasewright/web/page"
)

// setting is a number on the controller's screen.
type setting struct {
	name, label string // in the form, and on the page
	unit, like  string // after the number, and what may be written
	places      int
	at          func(*bench.Settings) quantityAt
}

// quantityAt gives and sets a number of the settings, in the unit of the screen.
type quantityAt struct {
	get func() float64
	set func(float64)
}

// number is a quantity of the settings, of which the screen shows so many parts.
func number[Q ~float64](q *Q, parts float64) quantityAt {
	return quantityAt{func() float64 { return float64(*q) / parts }, func(v float64) { *q = Q(v * parts) }}
}

// settings are the numbers on the screen, in its order. Dwell is in ms there.
var settings = []setting{
	{"lead", "trigger lead", "°", "degrees such as 60", 1,
		func(s *bench.Settings) quantityAt { return number(&s.Lead, 1) }},
	{"allowance", "delay allowance", "µs", "µs such as 90", 0,
		func(s *bench.Settings) quantityAt { return number(&s.Allowance, 1) }},
	{"locked", "locked advance", "°", "degrees such as 8", 1,
		func(s *bench.Settings) quantityAt { return number(&s.Locked, 1) }},
	{"cranking", "cranking advance", "°", "degrees such as 12", 1,
		func(s *bench.Settings) quantityAt { return number(&s.Cranking, 1) }},
	{"dwell", "dwell", "ms", "ms such as 3.2", 2,
		func(s *bench.Settings) quantityAt { return number(&s.Dwell, 1000) }},
}

func (f setting) shown(s *bench.Settings) string { return page.Figure(f.at(s).get(), f.places) }

func (f setting) withUnit(s *bench.Settings) string {
	if f.unit == "°" {
		return f.shown(s) + "°"
	}
	return f.shown(s) + " " + f.unit
}

// doSettings changes what is on the controller's screen.
func doSettings(r *rig, f form) (string, error) {
	_, _, to := r.session.Settings()
	was := to
	for _, one := range settings {
		if f.Has(one.name) {
			v, err := f.number(one.name, one.like)
			if err != nil {
				return "", err
			}
			one.at(&to).set(v)
		}
	}
	if f.Has("lock") {
		to.Lock = bench.Off
		if bench.Switch(f.Get("lock")) == bench.On {
			to.Lock = bench.On
		}
	}
	if f.Has("edge") {
		to.Edge = jobcard.Edge(f.Get("edge"))
	}
	if err := r.session.Change(to); err != nil {
		return "", err
	}
	r.version++
	return "settings on the screen: " + differing(&was, &to), nil
}

// differing names the settings that were changed.
func differing(was, to *bench.Settings) string {
	var all []string
	for _, one := range settings {
		if one.at(was).get() != one.at(to).get() {
			all = append(all, one.label+" "+one.withUnit(to))
		}
	}
	if was.Lock != to.Lock {
		all = append(all, "lock "+string(to.Lock))
	}
	if was.Edge != to.Edge {
		all = append(all, "active edge "+string(to.Edge))
	}
	if len(all) == 0 {
		return "as before"
	}
	return strings.Join(all, ", ")
}

func doStore(r *rig, _ form) (string, error) {
	r.version++
	return "settings stored", r.session.Store()
}

// doCycle switches the key off and on again.
func doCycle(r *rig, _ form) (string, error) {
	if r.state.SpeedRPM > 0 {
		return "", &bench.Refused{What: "power", Why: "the engine turns",
			Remedy: "stop it first, then switch off and on"}
	}
	if err := r.session.Key(bench.Off); err != nil {
		return "", err
	}
	r.version++
	return "controller switched off and on", r.session.Key(bench.On)
}
