package procedure

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
)

// Every step is complete, every branch leads somewhere, every rule has reason, evidence and source.
func TestTablesAreComplete(t *testing.T) {
	if len(rules) > 64 {
		t.Fatalf("%d rules do not fit the set of 64", len(rules))
	}
	ids := map[string]bool{}
	for _, r := range Rules() {
		if r.ID == "" || ids[r.ID] || r.Reason == "" || r.Evidence == "" || r.Source == "" || len(r.Forbids) == 0 {
			t.Errorf("rule %+v is incomplete or there twice", r)
		}
		ids[r.ID] = true
	}
	for name, p := range engines(t) {
		seen := map[StepID]bool{}
		part, parted := "", map[string]bool{}
		for _, st := range p.Steps() {
			if st.ID == "" || seen[st.ID] || st.Title == "" || st.Text == "" || st.Why == "" || len(st.Demand.Kinds) == 0 || st.Demand.Ask == "" || len(st.After) == 0 {
				t.Errorf("%s: «%s» is incomplete or there twice", name, st.ID)
			}
			seen[st.ID] = true
			if st.Part != part && parted[st.Part] {
				t.Errorf("%s: the part %q comes twice", name, st.Part)
			}
			part, parted[st.Part] = st.Part, true
			for _, b := range st.Branches {
				if _, ok := p.Step(b.Go); !ok || b.If == "" || b.Why == "" || b.Do == "" {
					t.Errorf("%s: «%s» branches to %q: %+v", name, st.ID, b.Go, b)
				}
			}
			for _, e := range st.During {
				if e.Part == Hands && st.Hazard == "" {
					t.Errorf("%s: hands are in «%s» and no hazard is named", name, st.ID)
				}
			}
			d := st.Demand
			number := d.Kinds[0] == Reading || d.Kinds[0] == Number && len(d.Options) == 0
			if number && (!d.Possible.Set() || d.Same == "" && !d.Passes.Set() || d.Unit == "") {
				t.Errorf("%s: «%s» asks for a number without unit or limits", name, st.ID)
			}
			if number && (d.Passes.From < d.Possible.From || d.Passes.To > d.Possible.To) {
				t.Errorf("%s: «%s» passes %v outside the possible %v", name, st.ID, d.Passes, d.Possible)
			}
		}
	}
}

// Each engine gets the steps that it needs, and only those; the numbers are those of the card or worked out by hand.
func TestStepsFollowTheCard(t *testing.T) {
	for _, c := range []struct {
		engine   string
		has, not []StepID
		say      map[StepID][]string
	}{
		{"sandpiper", []StepID{StepCapOff, StepCapOn}, []StepID{StepBleed, StepShims, StepCam}, map[StepID][]string{
			// π·168·60/360 = 87.96 mm; 168·sin 30° = 84.0 mm
			StepMarks: {"88.0 mm along the rim (dividers 84.0 mm), clockwise, seen from the front"},
			StepLead:  {"60.0° BTDC on compression", "clockwise, seen from the front"},
			StepDrop:  {"hold it 29.9° counterclockwise of the mark", "one tooth is 30.0° of the shaft, 60.0° of the crank"},
			StepPhase: {"high → low", "against the rotor: clockwise, seen from above the cap"},
			StepWires: {"tower 4 → cylinder 1", "Rotor counterclockwise"},
		}},
		{"gorse-hill", []StepID{StepBleed, StepShims, StepCapOn}, []StepID{StepCam}, map[StepID][]string{
			// π·168.275·57/360 = 83.70 mm; 11 teeth: 32.7° and 65.5°
			StepMarks: {"83.7 mm along the rim"}, StepDrop: {"32.7° of the shaft, 65.5° of the crank"}, StepShims: {"Lay 2 shims"}, StepBleed: {"spark box"}, StepCoilOff: {"feed off the spark box"},
		}},
		{"tern-single", []StepID{StepWires}, []StepID{StepCapOff, StepCapOn, StepBleed, StepCam}, map[StepID][]string{
			StepOldOut: {"the new unit needs none"}, StepWires: {"Coils to their cylinders"}, StepLead: {"counterclockwise, seen from the front"}, StepPhase: {"low → high"},
		}},
		{"mill-pump", []StepID{StepCapOn}, []StepID{StepBleed, StepCam}, map[StepID][]string{
			StepPhase: {"Line up reluctor tip"}, StepDrop: {"half a turn away"}, StepPlan: {"eats it"},
		}},
		{"heron-ferry", []StepID{StepCapOn}, []StepID{StepBleed},
			map[StepID][]string{StepOldOut: {"which way the rotor turned"}}},
		{"wide cam", []StepID{StepCam}, []StepID{StepBleed}, map[StepID][]string{
			// vane enters at 90° BTDC and covers 300° of crank: at 60° BTDC it stands in the pickup (high), a turn later it has left 90° ago
			StepCam: {"must be high; on the exhaust stroke it would be low"},
		}},
	} {
		p := orderOf(t, c.engine)
		for _, id := range c.has {
			if _, ok := p.Step(id); !ok {
				t.Errorf("%s: no step «%s»", c.engine, id)
			}
		}
		for _, id := range c.not {
			if _, ok := p.Step(id); ok {
				t.Errorf("%s: has no need of «%s»", c.engine, id)
			}
		}
		for id, says := range c.say {
			st, _ := p.Step(id)
			all := fmt.Sprint(st.Title, st.Text, st.Show, st.Expect, st.Branches, st.Demand, st.Bar)
			for _, want := range says {
				if !strings.Contains(all, want) {
					t.Errorf("%s: «%s» does not say %q:\n%s", c.engine, id, want, all)
				}
			}
		}
	}
}

// A card whose sheet holds a stop gets no further than its first step without an override.
func TestStopBars(t *testing.T) {
	p := orderOf(t, "mill-pump")
	w := newWork(p)
	o := w.do(StepPlan)
	if len(o.Refused) != 1 || o.Refused[0].Kind != Barred || !strings.Contains(o.Refused[0].Have, "Gear on cam") {
		t.Fatalf("%+v", o)
	}
	if o := w.do(StepSecure); len(o.Refused) == 0 {
		t.Error("work began on a sheet with a stop")
	}
	w.override(StepPlan)
	if o := w.do(StepSecure); len(o.Refused) > 0 {
		t.Errorf("after the override: %v", o.Refused)
	}
}

// Whatever the test's own predicates call dangerous, some rule forbids, in any plant at all, reachable or not; and no rule can be missed.
func TestRulesCoverEveryDanger(t *testing.T) {
	p := orderOf(t, "gorse-hill")
	boxed = true
	defer func() { boxed = false }()
	rnd := rand.New(rand.NewPCG(1, 2))
	any := func() Plant {
		var s Plant
		for part := range parts {
			if rnd.IntN(3) == 0 {
				s = s.With(part, Value(rnd.IntN(len(words[part]))))
			}
		}
		return s
	}
	for range 300000 {
		s := any()
		if s.Get(Engine) == Stopped && s.Get(Key) == KeyCrank {
			continue // no step turns the key to crank without the engine turning
		}
		if d := danger(s); d != "" && p.broken(s) == 0 {
			t.Fatalf("%s: no rule forbids %v", d, s)
		}
	}
	// each rule alone: in a sound plant that is put into the state it forbids, is it needed?
	sound := (&search{p: p, keep: true}).run().all
	for i, r := range rules {
		needed, danger1 := false, false
		for _, s := range sound {
			for _, c := range r.Forbids {
				for v := range words[c.Part] {
					if c.In>>v&1 != 0 {
						s = s.With(c.Part, Value(v))
						break
					}
				}
			}
			danger1 = danger1 || danger(s) != ""
			needed = needed || p.broken(s) == 1<<i
		}
		if !danger1 {
			t.Errorf("rule %s forbids what the test calls no danger", r.ID)
		}
		if !needed && spare[r.ID] == "" {
			t.Errorf("rule %s never stands alone: another always forbids the same", r.ID)
		}
		if needed && spare[r.ID] != "" {
			t.Errorf("rule %s is called spare and is not", r.ID)
		}
	}
}

// spare are the rules that another always covers, with the reason why they stay.
var spare = map[string]string{
	"tools-starter": "tools-battery and tools-key forbid what comes before it; it stays as the plainest of the trade's rules",
	"stop-starter":  "stop-battery forbids what comes before it; it stays as the plainest of the trade's rules",
}

func TestPlantPacks(t *testing.T) {
	for part := range parts {
		for v := range words[part] {
			for _, base := range []Plant{0, ^Plant(0)} {
				s := base.With(part, Value(v))
				if s.Get(part) != Value(v) {
					t.Fatalf("%s: put %d, got %d", words[part][0], v, s.Get(part))
				}
				for other := range parts {
					if other != part && s.Get(other) != base.Get(other) {
						t.Fatalf("%s moved %s", words[part][0], words[other][0])
					}
				}
			}
		}
	}
	if Say(parts, 0) != Say(Key, 9) {
		t.Error("what is no state has no words")
	}
}

// The step list prints with the words that the page shows.
func TestLines(t *testing.T) {
	p := orderOf(t, "sandpiper")
	lines := p.Lines(p.Start())
	if len(lines) != len(p.steps) {
		t.Fatalf("%d lines for %d steps", len(lines), len(p.steps))
	}
	for i, l := range lines {
		if l.Part == "" || l.Proof == "" || !strings.Contains(l.Title, p.steps[i].Title) {
			t.Errorf("%+v", l)
		}
	}
}

func BenchmarkSearch(b *testing.B) {
	p := orderOf(b, "sandpiper")
	for range b.N {
		s := (&search{p: p, back: true, forget: sinks}).run()
		b.ReportMetric(float64(s.states), "plants")
	}
}

func BenchmarkFold(b *testing.B) {
	w := newWork(orderOf(b, "sandpiper"))
	w.home()
	for b.Loop() {
		w.p.Fold(w.events)
	}
}

func BenchmarkNext(b *testing.B) {
	w := newWork(orderOf(b, "sandpiper"))
	for b.Loop() {
		w.p.Next(w.s)
	}
}
