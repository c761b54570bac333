package web

import (
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strings"

	"phasewright/bench"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// control is something that the holder may do to the engine. It gives what was done, in words for the record.
type control func(r *room, f url.Values) (string, error)

// controls are all of them by the name the page sends.
func controls() map[string]control {
	return map[string]control{
		"key":      flip("key", (*bench.Session).Key),
		"starter":  flip("starter", (*bench.Session).Starter),
		"fuel":     flip("fuel", (*bench.Session).Fuel),
		"power":    flip("coil power", (*bench.Session).SparkPower),
		"clamp":    doClamp,
		"housing":  doHousing,
		"crank":    doCrank,
		"lever":    doLever,
		"light":    doLight,
		"tooth":    doTooth,
		"half":     doHalf,
		"swap":     doSwap,
		"settings": doSettings,
		"store":    doStore,
		"cycle":    doCycle,
	}
}

// do lets a visitor work a control.
func (r *room) do(v *visit, tab, what string, f url.Values) error {
	act, ok := controls()[what]
	if !ok {
		return say(http.StatusUnprocessableEntity, "There is no such control.", "Load the page again.")
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.touch()
	if err := r.mayHold(v, tab); err != nil {
		r.push()
		return err
	}
	said, err := act(r, f)
	if err != nil {
		r.push()
		return refused(err)
	}
	if what == "key" {
		r.version++ // the controller's screen comes and goes
	}
	r.refreshed()
	r.write(v.who, said)
	r.push()
	return nil
}

// write notes what was done; one turn after another of the same thing is one line.
func (r *room) write(who, said string) {
	if said == "" {
		return
	}
	if n := len(r.done); n > 0 && r.done[n-1].Who == who && alike(r.done[n-1].What, said) {
		r.done = r.done[:n-1]
	}
	r.note(who, said)
}

// alike says whether two lines tell of the same control moved on.
func alike(a, b string) bool {
	for _, head := range []string{"housing at ", "speed lever at ", "crank turned by hand"} {
		if strings.HasPrefix(a, head) && strings.HasPrefix(b, head) {
			return true
		}
	}
	return false
}

// refused puts the bench's own refusal into a page's words.
func refused(err error) error {
	var no *bench.Refused
	if errors.As(err, &no) {
		return say(http.StatusConflict, sentence(no.What+": "+no.Why), sentence(no.Remedy))
	}
	return err
}

// sentence gives a line a capital and a full stop.
func sentence(s string) string {
	if s == "" {
		return ""
	}
	return strings.ToUpper(s[:1]) + strings.TrimSuffix(s[1:], ".") + "."
}

func flip(name string, set func(*bench.Session, bench.Switch) error) control {
	return func(r *room, f url.Values) (string, error) {
		to, err := position(f)
		if err != nil {
			return "", err
		}
		return name + " " + string(to), set(r.session, to)
	}
}

func position(f url.Values) (bench.Switch, error) {
	switch to := bench.Switch(f.Get("to")); to {
	case bench.On, bench.Off:
		return to, nil
	}
	return "", say(http.StatusUnprocessableEntity, "A switch is on or off.", "Load the page again.")
}

func doClamp(r *room, f url.Values) (string, error) {
	to, err := position(f)
	if err != nil {
		return "", err
	}
	word := map[bench.Switch]string{bench.On: "clamp tightened", bench.Off: "clamp loosened"}[to]
	return word, r.session.Clamp(to)
}

func doHousing(r *room, f url.Values) (string, error) {
	by, err := amountOf(f, "by", "degrees of the shaft such as 0.5")
	if err != nil {
		return "", err
	}
	switch f.Get("way") {
	case "with":
		by = -by
	}
	if err := r.session.Housing(quantity.Shaft(by)); err != nil {
		return "", err
	}
	return "housing at " + housingWords(r.state.HousingDeg+by), nil
}

func doCrank(r *room, f url.Values) (string, error) {
	by, err := amountOf(f, "by", "whole crank degrees such as 10")
	if err != nil {
		return "", err
	}
	return "crank turned by hand", r.session.TurnByHand(quantity.Crank(math.Round(by)))
}

func doLever(r *room, f url.Values) (string, error) {
	n, err := amountOf(f, "rpm", "a speed in rpm such as 1500")
	if err != nil {
		return "", err
	}
	return "speed lever at " + figure(n, 0) + " rpm", r.session.Lever(quantity.Speed(n))
}

func doLight(r *room, f url.Values) (string, error) {
	to, wire, dial := r.state.Light, r.state.LightWire, r.state.DialDeg
	if f.Has("to") {
		at, err := position(f)
		if err != nil {
			return "", err
		}
		to = at
	}
	if f.Has("wire") {
		n, err := amountOf(f, "wire", "the number of a cylinder")
		if err != nil {
			return "", err
		}
		wire = int(n)
	}
	if f.Has("dial") {
		n, err := amountOf(f, "dial", "degrees such as 0")
		if err != nil {
			return "", err
		}
		dial = n
	}
	if wire != r.state.LightWire || dial != r.state.DialDeg {
		r.version++
	}
	return fmt.Sprintf("light %s, on wire %d, dial at %s", to, wire, deg(dial)), r.session.Light(to, wire, quantity.Crank(dial))
}

func doTooth(r *room, f url.Values) (string, error) {
	way, word := 1, "with the rotor"
	if f.Get("way") == "against" {
		way, word = -1, "against the rotor"
	}
	return "unit lifted and set back one tooth " + word, r.session.StepGear(way)
}

func doHalf(r *room, _ url.Values) (string, error) {
	return "unit lifted and set back half a turn round", r.session.HalfTurn()
}

func doSwap(r *room, f url.Values) (string, error) {
	a, err := amountOf(f, "one", "the number of a cylinder")
	if err != nil {
		return "", err
	}
	b, err := amountOf(f, "two", "the number of a cylinder")
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("wires %d and %d changed over", int(a), int(b)), r.session.SwapWires(int(a), int(b))
}

func doSettings(r *room, f url.Values) (string, error) {
	_, _, to := r.session.Settings()
	was := to
	for _, one := range []struct {
		name string
		put  func(float64)
		like string
	}{
		{"lead", func(v float64) { to.Lead = quantity.Crank(v) }, "degrees such as 60"},
		{"allowance", func(v float64) { to.Allowance = quantity.Time(v) }, "µs such as 90"},
		{"locked", func(v float64) { to.Locked = quantity.Crank(v) }, "degrees such as 8"},
		{"cranking", func(v float64) { to.Cranking = quantity.Crank(v) }, "degrees such as 12"},
		{"dwell", func(v float64) { to.Dwell = quantity.Time(1000 * v) }, "ms such as 3.2"},
	} {
		if f.Has(one.name) {
			v, err := amountOf(f, one.name, one.like)
			if err != nil {
				return "", err
			}
			one.put(v)
		}
	}
	if f.Has("lock") {
		to.Lock = bench.Switch(f.Get("lock"))
		if to.Lock != bench.On {
			to.Lock = bench.Off
		}
	}
	if f.Has("edge") {
		to.Edge = jobcard.Edge(f.Get("edge"))
	}
	if err := r.session.Change(to); err != nil {
		return "", err
	}
	r.version++
	return "settings on the screen: " + differing(was, to), nil
}

// differing names the settings that were changed.
func differing(was, to bench.Settings) string {
	var all []string
	add := func(name string, changed bool, now string) {
		if changed {
			all = append(all, name+" "+now)
		}
	}
	add("trigger lead", was.Lead != to.Lead, deg(float64(to.Lead)))
	add("delay allowance", was.Allowance != to.Allowance, figure(float64(to.Allowance), 0)+" µs")
	add("locked advance", was.Locked != to.Locked, deg(float64(to.Locked)))
	add("cranking advance", was.Cranking != to.Cranking, deg(float64(to.Cranking)))
	add("dwell", was.Dwell != to.Dwell, figure(float64(to.Dwell)/1000, 2)+" ms")
	add("lock", was.Lock != to.Lock, string(to.Lock))
	add("active edge", was.Edge != to.Edge, string(to.Edge))
	if len(all) == 0 {
		return "as before"
	}
	return strings.Join(all, ", ")
}

func doStore(r *room, _ url.Values) (string, error) {
	err := r.session.Store()
	r.version++
	return "settings stored", err
}

// doCycle switches the key off and on again.
func doCycle(r *room, _ url.Values) (string, error) {
	if r.state.SpeedRPM > 0 {
		return "", &bench.Refused{What: "power", Why: "the engine turns", Remedy: "stop it first, then switch off and on"}
	}
	if err := r.session.Key(bench.Off); err != nil {
		return "", err
	}
	r.version++
	return "controller switched off and on", r.session.Key(bench.On)
}

// amountOf reads a number of a form; a decimal comma and a true minus sign will do.
func amountOf(f url.Values, name, like string) (float64, error) {
	v, ok := plainNumber(strings.TrimSpace(f.Get(name)))
	if !ok {
		return 0, say(http.StatusUnprocessableEntity, fmt.Sprintf("“%s” is not a number.", f.Get(name)), "Write "+like+".")
	}
	return v, nil
}

// take gives the controls to a visitor.
func (r *room) take(v *visit, tab string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.touch()
	r.seize(v, tab)
	r.push()
}

// letGo frees the controls where the visitor has them.
func (r *room) letGo(v *visit, tab string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.touch()
	if !r.hold.by(tab, v.device) {
		return
	}
	if r.state.Starter == bench.On && r.session.Starter(bench.Off) == nil { // letting go is never refused
		r.refreshed()
	}
	r.hold = hold{}
	r.note(v.who, "lets the controls go")
	r.version++
	r.push()
}

// judge has the exercise judged by the engine's own truth.
func (r *room) judge(v *visit, tab string, named []string) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.touch()
	if r.exercise == nil {
		return say(http.StatusConflict, "There is no exercise on this bench.", "Set one up under Bench.")
	}
	if err := r.mayHold(v, tab); err != nil {
		return err
	}
	for _, name := range named {
		if _, ok := bench.FindFault(name); !ok {
			return say(http.StatusUnprocessableEntity, "There is no such fault.", "Choose from the list.")
		}
	}
	o := r.exercise.Judge(r.session, named)
	r.outcome, r.judgedBy, r.revealed = &o, v.who, true
	r.note(v.who, "has the work judged: "+passedWord(o.Passed))
	r.version++
	r.push()
	return nil
}

func passedWord(ok bool) string {
	if ok {
		return "goal reached"
	}
	return "goal not reached"
}

// reveal shows everybody what was hidden and what was done.
func (r *room) reveal(v *visit) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.touch()
	r.revealed = true
	r.note(v.who, "reveals what was hidden")
	r.version++
	r.push()
}

// hide puts the engine back as built, with faults that only instructors see.
func (r *room) hide(v *visit, f bench.Faults, seed uint64) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.touch()
	if err := r.reset(f, seed, v.who); err != nil {
		return err
	}
	r.note(v.who, "sets the engine up anew")
	r.push()
	return nil
}
