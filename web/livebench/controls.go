package livebench

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"net/http"
	"net/url"
	"strings"

	"phasewright/bench"
	"phasewright/quantity"
	"phasewright/web/page"
)

// control is something that the holder may do to the engine. It gives what was done, in words for the log.
type control func(r *rig, f form) (string, error)

// controls are all of them by the name the page sends.
func controls() map[string]control {
	all := map[string]control{
		"key":      flip("key on", "key off", (*bench.Session).Key),
		"starter":  flip("starter on", "starter off", (*bench.Session).Starter),
		"fuel":     flip("fuel on", "fuel off", (*bench.Session).Fuel),
		"power":    flip("coil power on", "coil power off", (*bench.Session).SparkPower),
		"clamp":    flip("clamp tightened", "clamp loosened", (*bench.Session).Clamp),
		"housing":  doHousing,
		"crank":    doCrank,
		"lever":    doLever,
		"light":    doLight,
		"tooth":    doTooth,
		"half":     doHalf,
		"swap":     doSwap,
		"follow":   doFollow,
		"settings": doSettings,
		"store":    doStore,
		"cycle":    doCycle,
	}
	maps.Copy(all, meansControls())
	return all
}

// do lets somebody work a control.
func (r *rig) do(by *page.Session, tab, what string, f url.Values) error {
	if controls()[what] == nil {
		return page.Refuse("There is no such control.", "Load the page again.")
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.touch()
	if err := r.mayHold(by, tab); err != nil {
		r.push()
		return err
	}
	defer r.push()
	return r.apply(by.Who, what, f)
}

// apply works a control and keeps what was done, with the step of the bench's time: everything that changes an engine
// goes through here, and the same acts at the same steps come to the same bench. What the bench refused is kept too: it
// was tried, and may have been unsafe.
func (r *rig) apply(who, what string, f url.Values) error {
	d := did{Step: r.steps, Who: who, Do: what}
	for name := range f {
		if name != "do" && name != "tab" {
			if d.With == nil {
				d.With = map[string]string{}
			}
			d.With[name] = f.Get(name)
		}
	}
	said, err := controls()[what](r, form{f})
	no := (*bench.Refused)(nil)
	switch {
	case errors.As(err, &no):
		r.refreshed()
		r.keep(d)
		return refused(err)
	case err != nil:
		return err
	}
	if what == "key" {
		r.version++ // the controller's screen comes and goes
	}
	r.refreshed()
	d.Say = said
	r.keep(d)
	r.write(who, said)
	return nil
}

// write notes what was done; one turn after another of the same thing is one line.
func (r *rig) write(who, said string) {
	if said == "" {
		return
	}
	if n := len(r.done); n > 0 && r.done[n-1].Who == who && alike(r.done[n-1].What, said) {
		r.done = r.done[:n-1]
	}
	r.tell(who, said)
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
		return page.Say(http.StatusConflict, page.Sentence(no.What+": "+no.Why), page.Sentence(no.Remedy))
	}
	return err
}

// form is what was sent with a control.
type form struct{ url.Values }

// number reads a number as people type it.
func (f form) number(name, like string) (float64, error) {
	v, ok := page.Number(strings.TrimSpace(f.Get(name)))
	if !ok {
		return 0, page.Refuse(fmt.Sprintf("“%s” is not a number.", f.Get(name)), "Write "+like+".")
	}
	return v, nil
}

// position reads which way a switch goes.
func (f form) position() (bench.Switch, error) {
	switch to := bench.Switch(f.Get("to")); to {
	case bench.On, bench.Off:
		return to, nil
	}
	return "", page.Refuse("A switch is on or off.", "Load the page again.")
}

func flip(on, off string, set func(*bench.Session, bench.Switch) error) control {
	return func(r *rig, f form) (string, error) {
		to, err := f.position()
		if err != nil {
			return "", err
		}
		if to == bench.On {
			return on, set(r.session, to)
		}
		return off, set(r.session, to)
	}
}

func doHousing(r *rig, f form) (string, error) {
	by, err := f.number("by", "degrees of the shaft such as 0.5")
	if err != nil {
		return "", err
	}
	if f.Get("way") == "with" {
		by = -by
	}
	return "housing at " + housingWords(r.state.HousingDeg+by), r.session.Housing(quantity.Shaft(by))
}

func doCrank(r *rig, f form) (string, error) {
	by, err := f.number("by", "whole crank degrees such as 10")
	if err != nil {
		return "", err
	}
	return "crank turned by hand", r.session.TurnByHand(quantity.Crank(math.Round(by)))
}

func doLever(r *rig, f form) (string, error) {
	n, err := f.number("rpm", "a speed in rpm such as 1500")
	if err != nil {
		return "", err
	}
	return "speed lever at " + page.Figure(n, 0) + " rpm", r.session.Lever(quantity.Speed(n))
}

func doLight(r *rig, f form) (string, error) {
	to, wire, dial := r.state.Light, float64(r.state.LightWire), r.state.DialDeg
	var err error
	if f.Has("to") {
		to, err = f.position()
	}
	if f.Has("wire") && err == nil {
		wire, err = f.number("wire", "the number of a cylinder")
	}
	if f.Has("dial") && err == nil {
		dial, err = f.number("dial", "degrees such as 0")
	}
	if err != nil {
		return "", err
	}
	if int(wire) != r.state.LightWire || dial != r.state.DialDeg {
		r.version++
	}
	return fmt.Sprintf("light %s, on wire %d, dial at %s", to, int(wire), page.Degrees(dial)),
		r.session.Light(to, int(wire), quantity.Crank(dial))
}

func doTooth(r *rig, f form) (string, error) {
	if f.Get("way") == "against" {
		return "unit lifted and set back one tooth against the rotor", r.session.StepGear(-1)
	}
	return "unit lifted and set back one tooth with the rotor", r.session.StepGear(1)
}

func doHalf(r *rig, _ form) (string, error) {
	return "unit lifted and set back half a turn round", r.session.HalfTurn()
}

// doSwap changes over the wires on two towers, by their places in firing order.
func doSwap(r *rig, f form) (string, error) {
	wires, names := r.session.Wires(), r.towerNames()
	var at [2]int
	for i, name := range []string{"one", "two"} {
		n, err := f.number(name, "the place of a tower")
		if err != nil {
			return "", err
		}
		if at[i] = int(n); at[i] < 0 || at[i] >= len(wires) {
			return "", r.session.SwapWires(0, 0) // says what stands against it
		}
	}
	r.version++
	return fmt.Sprintf("wires %s and %s changed over", names[at[0]], names[at[1]]),
		r.session.SwapWires(wires[at[0]], wires[at[1]])
}
