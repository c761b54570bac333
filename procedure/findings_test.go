package procedure

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"phasewright/quantity"
)

// These are the ten findings of somebody who searched the order of work by another reading of it than ours. The pages'
// half of finding 1 stands in package record (readings, corrections, recordings, signature), and so does the papers' half
// of finding 9.

func (w *work) refused(t *testing.T, o Outcome, words ...string) {
	t.Helper()
	if len(o.Refused) == 0 {
		t.Fatal("it was taken")
	}
	all := ""
	for _, r := range o.Refused {
		all += r.Error() + "\n"
	}
	for _, word := range words {
		if !strings.Contains(all, word) {
			t.Errorf("the refusal does not say %q: %s", word, all)
		}
	}
}

func plant(t *testing.T, w *work, part Part, v Value) {
	t.Helper()
	if got := w.s.Plant.Get(part); got != v {
		t.Errorf("%s, want %s", Say(part, got), Say(part, v))
	}
}

// Finding 1, second half: a correction made beside the order lets fall what it touches, and what is dead counts as live
// until shown.
func TestCorrectionBesideTheOrderExpires(t *testing.T) {
	w := newWork(orderOf(t, "sandpiper"))
	w.upTo(t, StepProve)
	w.events = append(w.events, Event{Version: int64(len(w.events) + 1), At: w.now, Kind: CorrectionMade, Payload: []byte(`{"housing_deg":7,"direction":"with the rotor"}`)})
	w.s = w.p.Fold(w.events, w.now)
	for _, part := range []Part{Base, Settings, Idle, Range} {
		plant(t, w, part, No)
	}
	plant(t, w, Starter, Able)
	if now := w.p.Next(w.s); now.Step != StepStop {
		t.Errorf("next is «%s», want the engine stopped first", now.Step)
	}
	if _, ok := w.home(); !ok {
		t.Error("no way home")
	}
}

// Finding 2: a carburettor's bowl is emptied before anything turns, a boat's bilge is sniffed before each spark, the
// arrester stands before the starter.
func TestCarburettorBoat(t *testing.T) {
	w := newWork(orderOf(t, "carburettor boat"))
	fuel, _ := w.p.Step(StepFuelDown)
	if !strings.Contains(fuel.Text, "Drain the bowl") || !strings.Contains(fuel.Text, "Shut the tap") {
		t.Errorf("fuel down says %q", fuel.Text)
	}
	for _, id := range []StepID{StepPlace, StepFuelDown, StepPower, StepTurnOver, StepBase, StepPrime, StepStart} {
		if st, _ := w.p.Step(id); !slices.ContainsFunc(st.Demand.Also, func(a Also) bool { return a.ID == LookBilge }) {
			t.Errorf("«%s» does not ask for the bilge", id)
		}
	}
	if st, _ := w.p.Step(StepClose); !strings.Contains(fmt.Sprint(st.Demand.Also), "flame arrester on") {
		t.Error("nobody asks for the flame arrester")
	}
	w.upTo(t, StepBase)
	full := w.s
	full.Plant = full.Plant.With(FuelLine, Full)
	w.refused(t, w.p.Decide(full, Request{Act: Do, Step: StepBase, Who: "A", Proof: passing(w.p, full, StepBase), Seen: full.Version}), "let the fuel line down", "A full bowl starts the engine")
	o := w.p.Decide(full, Request{Act: Override, Step: StepBase, Who: "A", Reason: sound, Proof: passing(w.p, full, StepBase), Seen: full.Version})
	w.refused(t, o, "base-bowl")
	// after a run the bowl is run dry before the next crank check
	w.upTo(t, StepProve)
	w.refused(t, w.do(StepHousing), "run dry")
	if o := w.do(StepRunDry); len(o.Refused) > 0 {
		t.Fatal(o.Refused)
	}
	plant(t, w, FuelLine, Empty)
	if o := w.do(StepHousing); len(o.Refused) > 0 {
		t.Error(o.Refused)
	}
}

// Finding 3: the gates grow. The starter's band holds what is foreseen and what phasing leaves; idle stands within 5°
// before anything faster; each speed only where the slower ones foretell it inside; never faster than named.
func TestGatesGrow(t *testing.T) {
	for name, p := range kinds(t) {
		base, _ := p.Step(StepBase)
		idle, _ := p.Step(StepIdle)
		if half := (base.Demand.Passes.To - base.Demand.Passes.From) / 2; half < 2.9 || half > 12 {
			t.Errorf("%s: the starter reading must lie within ± %.1f°", name, half)
		}
		if half := (idle.Demand.Passes.To - idle.Demand.Passes.From) / 2; half != 5 {
			t.Errorf("%s: the idle reading must lie within ± %.1f°", name, half)
		}
	}
	w := newWork(orderOf(t, "sandpiper")) // locked 8°, idle 750, redline 4200 rpm
	w.upTo(t, StepIdle)
	at := func(rpm, shown float64) func(*Proof) { return func(f *Proof) { *f.RPM, *f.Value = rpm, shown } }
	w.refused(t, w.show(StepIdle, at(750, 38)), "housing")
	if now := w.p.Next(w.s); now.For != StepHousing || now.Step != StepStop {
		t.Errorf("after 38° at idle the advice is %+v, want to stop and turn the housing", now)
	}
	w.refused(t, w.do(StepRange), "read the light at idle, timing locked")
	if o := w.show(StepIdle, at(750, 10)); len(o.Refused) > 0 {
		t.Fatal(o.Refused)
	}
	rungs := w.p.steps[w.p.at[StepRange]].Demand.Rungs
	if len(rungs) < 2 || rungs[len(rungs)-1].RPM > 4200 {
		t.Fatalf("rungs %v", rungs)
	}
	w.refused(t, w.show(StepRange, at(rungs[1].RPM, 8)), "faster than this step allows")
	w.refused(t, w.show(StepRange, at(6000, 8)), "faster than this step allows")
	if o := w.show(StepRange, at(rungs[0].RPM, 4)); len(o.Refused) > 0 { // −4°, fell by 6° since idle
		t.Fatal(o.Refused)
	}
	w.refused(t, w.show(StepRange, at(rungs[1].RPM, 4)), "foretell")
	if now := w.p.Next(w.s); now.For != StepAllowance {
		t.Errorf("the advice is %+v, want the allowance", now)
	}
}

// A simulated engine whose housing stands 7° early and whose delay takes 9° by the redline is brought home by the
// advice and its gates alone, with the corrections that the readings ask for.
func TestWrongEngineIsBroughtHome(t *testing.T) {
	w := newWork(orderOf(t, "heron-ferry"))
	off, tau := 7.0, 400e-6 // degrees, seconds beyond the allowance of the card; invented
	shows := func(rpm float64) float64 { return 11 + off - 6*rpm*tau }
	corrected := 0
	for range 120 {
		now := w.p.Next(w.s)
		if now.Finished {
			if corrected < 2 {
				t.Errorf("home after %d corrections", corrected)
			}
			return
		}
		f := passing(w.p, w.s, now.Step)
		switch now.Step {
		case StepIdle, StepRange:
			*f.Value = shows(*f.RPM)
		case StepHousing:
			e := shows(680) - 11
			*f.Value = float64(quantity.Shaft(e / 2))
			off -= e
			corrected++
		case StepAllowance:
			steps := math.Round(tau * 1e6 / 8)
			*f.Value = w.p.allowanceNow(w.s) + 8*steps
			tau -= 8 * steps * 1e-6
			corrected++
		}
		w.ask(Request{Act: Do, Step: now.Step, Proof: f})
	}
	for _, e := range w.s.Log[max(0, len(w.s.Log)-40):] {
		t.Log(e.Step, e.Act, e.Proof)
	}
	t.Fatalf("never home: %+v %+v, %.1f° and %.0f µs left", w.p.Next(w.s), w.s.Gate, off, tau*1e6)
}

// Finding 4: the scribing comes with the cap off and all dead; the starter is disabled while hands are in; fuel is
// primed and let down with the coil dead.
func TestHandsOnlyInWhatIsDead(t *testing.T) {
	for name, p := range kinds(t) {
		for _, id := range []StepID{StepOpen, StepPhase, StepClamp, StepWires, StepUnitOut} {
			st, _ := p.Step(id)
			if !slices.ContainsFunc(st.During, func(m []Effect) bool { return slices.Contains(m, to(Hands, AtIgnition)) }) {
				t.Errorf("%s: nobody's hands are in «%s»", name, id)
			}
		}
		w := newWork(p)
		if unsearched[name] {
			continue
		}
		for range 60 {
			now := p.Next(w.s)
			st, _ := p.Step(now.Step)
			during, _ := p.through(w.s.Plant, st.During, nil)
			for _, at := range during {
				if h := at.Get(Hands); h == AtFuel && at.Get(Feed) == Live || (h == AtIgnition || h == Turning) && (at.Get(Starter) == Able || at.Get(Feed) == Live || at.Get(Box) == Charged) {
					t.Errorf("%s: «%s»: %v", name, st.ID, at)
				}
			}
			if !w.step(now) || now.Finished {
				break
			}
		}
	}
	p := orderOf(t, "sandpiper")
	if p.at[StepFeed] > p.at[StepFuelDown] {
		t.Error("fuel is let down before the coil is dead")
	}
	open, _ := p.Step(StepOpen)
	if cap, scribe := strings.Index(open.Text, "Take cap"), strings.Index(open.Text, "Scribe rotor"); cap < 0 || scribe < cap {
		t.Errorf("the rotor is scribed under its cap: %s", open.Text)
	}
	w := newWork(p)
	w.refused(t, w.do(StepOpen), "rule hands-feed", "rule hands-starter")
	// after a run: stopped, dead and cold before fuel is let down again
	w.upTo(t, StepProve)
	w.refused(t, w.do(StepFuelDown), "stop the engine")
	w.do(StepStop)
	w.refused(t, w.do(StepFuelDown), "meter it dead")
	w.do(StepFeed)
	hot := func(f *Proof) { f.Seen = slices.DeleteFunc(f.Seen, func(l Look) bool { return l == LookCold }) }
	w.refused(t, w.show(StepFuelDown, hot), "manifold cold")
	if o := w.do(StepFuelDown); len(o.Refused) > 0 {
		t.Error(o.Refused)
	}
}

// Finding 5: after stop, all off and the housing turned, a card whose cam edge tells the stroke is not sent round
// for ever.
func TestCamCardGoesHome(t *testing.T) {
	w := newWork(orderOf(t, "cam tells stroke"))
	w.upTo(t, StepProve)
	for _, id := range []StepID{StepStop, StepFeed, StepFuelDown, StepHousing} {
		w.do(id)
	}
	took, ok := w.home()
	if !ok || len(took) > 12 {
		t.Errorf("home %v after %v", ok, took)
	}
	w = newWork(orderOf(t, "cam tells stroke"))
	w.upTo(t, StepClamp)
	w.back(StepLead)
	if took, ok := w.home(); !ok {
		t.Errorf("stuck after %v", took)
	}
}

// Finding 6: the stroke rests on two signs, and neither can be left out or overridden.
func TestTwoSignsOfTheStroke(t *testing.T) {
	for name, p := range kinds(t) {
		if unsearched[name] {
			continue
		}
		w := newWork(p)
		w.upTo(t, StepLead)
		for _, look := range []Look{LookCompression, LookSecondSign} {
			without := func(f *Proof) { f.Seen = slices.DeleteFunc(f.Seen, func(l Look) bool { return l == look }) }
			w.refused(t, w.show(StepLead, without), "not ticked")
			f := passing(p, w.s, StepLead)
			without(f)
			if o := w.ask(Request{Act: Override, Step: StepLead, Reason: sound, Proof: f}); len(o.Events) > 0 {
				t.Errorf("%s: %s overridden", name, look)
			}
		}
	}
}

// Finding 7: walked round before every starter, each time anew; nothing is signed with a tool in or on, a plug out or
// a battery off; opening expires the signature; a bar turns nothing once the place is not safe; nothing dead stays
// dead overnight.
func TestConditionsHaveAnAge(t *testing.T) {
	p := orderOf(t, "gorse-hill")
	for _, id := range []StepID{StepAsFound, StepTurnOver, StepBase, StepStart} {
		st, _ := p.Step(id)
		for _, look := range []Look{LookWalk, LookDrive, LookHeld} {
			if !slices.ContainsFunc(st.Demand.Also, func(a Also) bool { return a.ID == look }) {
				t.Errorf("«%s» does not ask for %q", id, look)
			}
		}
	}
	w := newWork(p)
	for _, c := range []struct {
		id     StepID
		brings Effect
	}{{StepTurnOver, to(Turned, Yes)}, {StepBase, to(Base, Yes)}, {StepStart, to(Engine, Running)}} { // each time anew
		w.upTo(t, c.id)
		stood := func(f *Proof) { f.Seen = slices.DeleteFunc(f.Seen, func(l Look) bool { return l == LookWalk }) }
		w.refused(t, w.show(c.id, stood), "walked round")
		if w.s.Plant.Get(c.brings.Part) == c.brings.To {
			t.Errorf("«%s» was done without a walk round", c.id)
		}
	}
	w = newWork(p)
	w.upTo(t, StepMarks)
	w.back(StepPlace)
	w.refused(t, w.do(StepMarks), "place")
	if now := p.Next(w.s); now.Step != StepPlace {
		t.Errorf("next %+v", now)
	}
	w = newWork(p)
	w.upTo(t, StepLead)
	w.wait(time.Hour) // a meal
	plant(t, w, People, Yes)
	plant(t, w, Feed, Dead)
	w.wait(4 * time.Hour) // an afternoon
	for part, v := range map[Part]Value{People: No, Secured: No, Feed: Live, Box: Charged, FuelLine: Full, Starter: Able, Battery: Connected} {
		plant(t, w, part, v)
	}
	// the break is recorded with the times that it was judged by, and that they are assumed
	i := slices.IndexFunc(w.s.Log, func(e Entry) bool { return e.Act == Break })
	if i < 0 || !strings.Contains(w.s.Log[i].Reason, "still stand 3 (1 to 6) h, assumed; longest shift after which conditions still stand 12 (8 to 16) h, assumed") {
		t.Errorf("the log of the break: %+v", w.s.Log)
	}
	var asked []StepID
	for range 8 {
		now := p.Next(w.s)
		asked = append(asked, now.Step)
		w.do(now.Step)
	}
	if got := fmt.Sprint(asked); got != "[begin place feed-dead fuel-down starts-off bleed lead unit-out]" {
		t.Errorf("next morning it asks for %s", got)
	}
	// busy the whole time, it is still not the next day's
	w = newWork(p)
	w.upTo(t, StepLead)
	for range 13 {
		w.wait(time.Hour)
		w.back(StepMarks)
		w.do(StepMarks)
	}
	plant(t, w, People, No)
	// the end
	w = newWork(p)
	w.upTo(t, StepSignOff)
	sign := func(s State) Outcome {
		return p.Decide(s, Request{Act: Do, Step: StepSignOff, Who: "A", Proof: passing(p, s, StepSignOff), Seen: s.Version})
	}
	if o := sign(w.s); len(o.Refused) > 0 {
		t.Fatal("it cannot be signed at all: ", o.Refused)
	}
	for part, v := range map[Part]Value{Bar: OnCrank, StopTool: InPlace, Plugs: Out, Wires: Off, Clamp: Loose, Battery: Removed, Cap: Off, Starter: Disabled, Feed: Dead} {
		s := w.s
		s.Plant = s.Plant.With(part, v)
		if o := sign(s); len(o.Events) > 0 {
			t.Errorf("signed with %s", Say(part, v))
		}
		over := Request{Act: Override, Step: StepSignOff, Who: "A", Reason: sound, Proof: passing(p, s, StepSignOff), Seen: s.Version}
		if o := p.Decide(s, over); len(o.Events) > 0 {
			t.Errorf("signed by an override with %s", Say(part, v))
		}
	}
	w.home()
	plant(t, w, Signed, Yes)
	reopened := newWork(p)
	reopened.events, reopened.now = slices.Clone(w.events), w.now
	reopened.wait(0)
	if o := reopened.do(StepReopen); len(o.Refused) > 0 {
		t.Fatal(o.Refused)
	}
	plant(t, reopened, Signed, No)
	if now := p.Next(reopened.s); now.Finished {
		t.Error("opened after the signature, the job is finished all the same")
	}
	reopened.events, reopened.now = slices.Clone(w.events), w.now
	reopened.wait(0)
	besides := Event{Version: int64(len(w.events) + 1), At: w.now, Kind: CorrectionMade, Payload: []byte(`{"housing_deg":1,"direction":"with the rotor"}`)}
	reopened.s = p.Fold(append(reopened.events, besides), w.now)
	plant(t, reopened, Signed, No)
	for _, e := range []Effect{to(Bar, OnCrank), to(Plugs, Out), to(Cap, Off), to(Wires, Off), to(Clamp, Loose), to(Unit, NoneIn), to(Feed, Dead), to(Starter, Disabled), to(FuelLine, Empty)} {
		if p.move(w.s.Plant, []Effect{e}, nil).Get(Signed) == Yes {
			t.Errorf("%s after the signature expires nothing", Say(e.Part, e.To))
		}
	}
	w.wait(48 * time.Hour)
	if now := p.Next(w.s); !now.Finished {
		t.Errorf("a signed job asks for %+v two days later", now)
	}
}

// Finding 8: the pump's drive is looked at as the unit drops, pressure is shown on the starter with the coil dead, and
// again at the start; dead is metered, not ticked.
func TestOilAndMeter(t *testing.T) {
	for name, p := range kinds(t) {
		for id, look := range map[StepID]Look{StepDrop: LookTang, StepStart: LookOil, StepUnitOut: LookShaft} {
			if st, _ := p.Step(id); !slices.ContainsFunc(st.Demand.Also, func(a Also) bool { return a.ID == look }) {
				t.Errorf("%s: «%s» does not ask for %q", name, id, look)
			}
		}
		feed, _ := p.Step(StepFeed)
		if feed.Demand.Unit != "V" || !feed.Demand.Never || feed.Demand.Passes.Has(12) {
			t.Errorf("%s: dead is shown by %+v", name, feed.Demand)
		}
	}
	w := newWork(orderOf(t, "mill-pump"))
	w.upTo(t, StepTurnOver)
	w.refused(t, w.show(StepTurnOver, func(f *Proof) { f.Text = "not shown" }), "drive")
	plant(t, w, Turned, No)
	plant(t, w, Starter, Able) // the starter was put on: that happened
	w.refused(t, w.do(StepBase), "oil pressure")
	w.back(StepWires)
	w.refused(t, w.do(StepWires), "coil feed")
}

// Finding 9: what nobody may override, who must stand beside it, what is a reason, and what an override leaves behind.
func TestOverrides(t *testing.T) {
	w := newWork(orderOf(t, "sandpiper"))
	w.upTo(t, StepFit)
	wide := func(r *Request) {
		r.Act, r.Step, r.Proof = Override, StepFit, passing(w.p, w.s, StepFit)
		*r.Proof.Value = 3
	}
	for _, c := range []struct {
		name string
		r    Request
		want string
	}{
		{"three letters", Request{Reason: "abc"}, "sentence"},
		{"a phrase", Request{Reason: "it is fine"}, "sentence"},
		{"alone where a second device is paired", Request{Reason: sound, Paired: true}, "second person"},
		{"twice the same", Request{Reason: sound, Paired: true, Second: "a. example"}, "somebody else"},
	} {
		r := c.r
		wide(&r)
		w.refused(t, w.ask(r), c.want)
	}
	r := Request{Reason: sound, Paired: true, Second: "B. Other"}
	wide(&r)
	if o := w.ask(r); len(o.Events) != 1 {
		t.Fatal(o.Refused)
	}
	if got := w.s.Passed(); len(got) != 1 || got[0].Names() != "A. Example with B. Other" {
		t.Errorf("passed %+v", got)
	}
	w.back(StepFit)
	w.upTo(t, StepOil)
	if len(w.s.Passed()) != 0 || len(w.s.Overrides) != 1 || !w.s.Overrides[0].Mended {
		t.Errorf("shown properly since: %+v", w.s.Overrides)
	}
	for _, id := range []StepID{StepStart, StepBase, StepSignOff, StepUnlock, StepRange, StepHousing} { // nobody jumps ahead
		if o := w.override(id); len(o.Events) > 0 {
			t.Errorf("«%s» overridden out of the line", id)
		}
	}
	// the locks that nobody overrides
	never := map[string]bool{}
	for _, r := range Rules() {
		never[r.ID] = r.Never
	}
	for _, id := range []string{"hands-feed", "hands-box", "hands-starter", "hands-turning", "bar-turning", "bar-key", "stop-turning", "turn-fuel", "turn-injectors", "base-running", "base-injectors", "base-bowl"} {
		if !never[id] {
			t.Errorf("%s can be overridden", id)
		}
	}
}

// Finding 10: every step has a caution, above the text; no step speaks of what the engine lacks.
func TestWordsFitTheEngine(t *testing.T) {
	for name, p := range kinds(t) {
		for _, st := range p.Steps() {
			if st.Hazard == "" {
				t.Errorf("%s: «%s» has no caution", name, st.ID)
			}
			all := strings.ToLower(fmt.Sprint(st.Title, st.Hazard, st.Text, st.Why, st.Demand, st.Branches))
			for engine, words := range map[string][]string{
				"tern-single": {"other plugs", "every plug", "rotor home", "tower"}, "mill-pump": {"which tooth", "next tooth", "a tooth of", "edge still"}, "tongue drive": {"tooth"},
				"sandpiper": {"spark box", "box's"}, "reluctor, geared": {"edge still", "look at the signal"},
			} {
				for _, word := range words {
					if name == engine && strings.Contains(all, word) {
						t.Errorf("%s: «%s» speaks of %q: %s", name, st.ID, word, all)
					}
				}
			}
		}
		for _, l := range p.Lines(p.Start()) {
			if l.Hazard == "" || len(l.Do) == 0 || len(l.Asks) == 0 {
				t.Errorf("%s: on paper «%s» lacks something: %+v", name, l.Title, l)
			}
		}
	}
}

// A correction asks again for six steps at most, whatever the engine.
func TestCorrectionCostsSix(t *testing.T) {
	for name, p := range kinds(t) {
		if unsearched[name] {
			continue
		}
		for _, id := range []StepID{StepHousing, StepAllowance} {
			w := newWork(p)
			w.upTo(t, StepProve)
			if _, dry := p.Step(StepRunDry); dry {
				w.do(StepRunDry)
			} else {
				w.do(StepStop)
			}
			if o := w.do(id); len(o.Refused) > 0 {
				t.Errorf("%s: %v", name, o.Refused)
				continue
			}
			var again []StepID
			for range 40 {
				now := p.Next(w.s)
				if now.Step == StepProve {
					break
				}
				if !slices.Contains(again, now.Step) {
					again = append(again, now.Step)
				}
				w.step(now)
			}
			if len(again) > 6 || !slices.Contains(again, StepSettings) || !slices.Contains(again, StepBase) || !slices.Contains(again, StepIdle) || !slices.Contains(again, StepRange) {
				t.Errorf("%s: after «%s» it asks for %v", name, id, again)
			}
		}
	}
}

// Ticks of an earlier release fold without an error, stand in the log as history, and show nothing.
func TestEarlierTicksAreHistory(t *testing.T) {
	p := orderOf(t, "sandpiper")
	w := newWork(p)
	for i, id := range []string{"plan", "secure", "battery-off", "fuel-off", "coil-off", "marks", "zero", "lead", "wires", "walk", "base", "start", "idle", "range", "prove", "sign-off"} {
		payload, _ := json.Marshal(map[string]any{"step": id, "who": "A", "proof": map[string]any{"kind": "tick"}})
		w.events = append(w.events, Event{Version: int64(i + 1), At: noon, Kind: StepDone, Payload: payload})
	}
	w.events = append(w.events, Event{Version: 17, At: noon, Kind: StepUndone, Payload: []byte(`{"step":"walk","who":"A","reason":"tools left"}`)},
		Event{Version: 18, At: noon, Kind: StepOverride, Payload: []byte(`{"step":"start","who":"A","reason":"abc"}`)})
	s := p.Fold(w.events, noon)
	if s.Plant != p.AsFound() || len(s.Unread) > 0 || s.Earlier != 18 || len(s.Log) != 18 || s.Version != 18 {
		t.Errorf("plant %v, unread %v, earlier %d, log %d, version %d", s.Plant, s.Unread, s.Earlier, len(s.Log), s.Version)
	}
	if now := p.Next(s); now.Step != StepBegin {
		t.Errorf("next %+v", now)
	}
	for _, e := range s.Log {
		if e.Act != History || !strings.Contains(e.Title, "history") {
			t.Errorf("the log says %+v", e)
		}
	}
}

// What the card leaves open bars the order, and nobody overrides that.
func TestOpenCardBars(t *testing.T) {
	for name, id := range map[string]StepID{"fuel not given": StepBegin, "lead not yet known": StepSettings} {
		w := newWork(orderOf(t, name))
		w.upTo(t, id)
		w.refused(t, w.do(id), "not given")
		if o := w.override(id); len(o.Events) > 0 {
			t.Errorf("%s: overridden", name)
		}
	}
}

// A card changed later lets fall what was done by the old figures.
func TestCardChangedLater(t *testing.T) {
	w := newWork(orderOf(t, "sandpiper"))
	w.upTo(t, StepProve)
	p := fromYAML(t, strings.Replace(yamlOf(t, "sandpiper"), "lead: 60 deg", "lead: 58 deg", 1))
	w.p = p
	w.events = append(w.events, Event{Version: int64(len(w.events) + 1), At: w.now, Kind: CardSaved})
	w.wait(0)
	plant(t, w, Marks, No)
	plant(t, w, Base, No)
	if took, ok := w.home(); !ok || !slices.Contains(took, StepMarks) || !slices.Contains(took, StepPhase) {
		t.Errorf("home %v by %v", ok, took)
	}
}
