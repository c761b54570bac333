package procedure

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/sheet"
)

// passing is a proof that passes, made from the demand alone.
func passing(p *Procedure, s State, id StepID) *Proof {
	i := p.at[id]
	d := p.steps[i].Demand
	f := &Proof{Kind: d.Kinds[0]}
	switch f.Kind {
	case Photo, Capture:
		f.SHA256 = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
	case Written:
		f.Text = "as it should be"
	case Number, Reading:
		if len(d.Options) > 0 {
			f.Text = d.Right
			return f
		}
		v := (d.Passes.From + d.Passes.To) / 2
		if d.Whole > 0 {
			v = d.From + math.Floor((v-d.From)/d.Whole)*d.Whole
		}
		if d.Same != "" {
			if last := s.Steps[p.at[d.Same]].Proof; last != nil && last.Value != nil {
				v = *last.Value
			}
		}
		f.Value = &v
		if f.Kind == Reading {
			n := (d.Speed.From + d.Speed.To) / 2
			f.RPM = &n
		}
	}
	return f
}

var noon = time.Date(2024, 5, 4, 12, 0, 0, 0, time.UTC)

// bench of work: a log that grows by decisions, as a shop book would keep it.
type work struct {
	p      *Procedure
	events []Event
	s      State
}

func newWork(p *Procedure) *work { return &work{p: p, s: p.Start()} }

func (w *work) record(o Outcome) bool {
	for _, d := range o.Events {
		n := int64(len(w.events) + 1)
		w.events = append(w.events, Event{Version: n, At: noon.Add(time.Duration(n) * time.Minute), By: "phone 1", Kind: d.Kind, Payload: d.Payload})
	}
	w.s = w.p.Fold(w.events)
	return len(o.Events) > 0
}

func (w *work) do(id StepID) Outcome {
	o := w.p.Decide(w.s, Request{Act: Do, Step: id, Who: "A. Example", Proof: passing(w.p, w.s, id), Seen: w.s.Version})
	w.record(o)
	return o
}

func (w *work) back(id StepID) Outcome {
	o := w.p.Decide(w.s, Request{Act: TakeBack, Step: id, Who: "A. Example", Reason: "ticked by mistake", Seen: w.s.Version})
	w.record(o)
	return o
}

func (w *work) override(id StepID) Outcome {
	o := w.p.Decide(w.s, Request{Act: Override, Step: id, Who: "A. Example", Reason: "tested on the stand before", Seen: w.s.Version})
	w.record(o)
	return o
}

// home follows Next to the end; it says how many steps it took, −1 where it does not get there.
func (w *work) home() int {
	for n := range 300 {
		now := w.p.Next(w.s)
		if now.Finished {
			return n
		}
		var o Outcome
		if now.Act == TakeBack {
			o = w.back(now.Step)
		} else if o = w.do(now.Step); len(o.Refused) > 0 && o.Refused[0].Kind == Barred {
			o = w.override(now.Step)
		}
		if len(o.Events) == 0 {
			return -1
		}
	}
	return -1
}

// Next leads through the whole job in the order of work, on every example, each step once.
func TestNextLeadsThroughTheJob(t *testing.T) {
	for name, p := range engines(t) {
		w := newWork(p)
		once := 0
		for _, st := range p.steps {
			if !st.OnDemand && !strings.HasPrefix(string(st.ID), "allowance") {
				once++
			}
		}
		if n := w.home(); n != once {
			t.Errorf("%s: %d steps to the end, want each of the %d once", name, n, once)
		}
		last := -1
		for _, l := range w.s.Log {
			if i := p.at[l.Step]; i < last {
				t.Errorf("%s: «%s» came after «%s»", name, l.Step, p.steps[last].ID)
			} else {
				last = i
			}
		}
		for _, st := range p.Standing(w.s) {
			if st.Mark != Done && st.Mark != IfNeeded && st.Mark != NotDue {
				t.Errorf("%s: at the end «%s» is %s: %s", name, st.Step, st.Mark, st.Why)
			}
		}
	}
}

// Random walks of doing, taking back and overriding: without an override nothing unsafe is ever reached, folding twice gives the same, and Next finds
// the way home from wherever the walk ends.
func TestRandomWalks(t *testing.T) {
	all := engines(t)
	var names []string
	for _, e := range examples.Cards() {
		names = append(names, e.Name)
	}
	rapid.Check(t, func(t *rapid.T) {
		p := all[rapid.SampledFrom(names).Draw(t, "engine")]
		w := newWork(p)
		over := rapid.Bool().Draw(t, "overrides")
		w.override(StepPlan)
		for range rapid.IntRange(0, 90).Draw(t, "moves") {
			switch k := rapid.IntRange(0, 9).Draw(t, "what"); {
			case k < 6:
				w.do(p.Next(w.s).Step)
			case k < 8:
				w.do(StepID(rapid.SampledFrom(p.ids()).Draw(t, "step")))
			case k < 9 || !over:
				w.back(StepID(rapid.SampledFrom(p.ids()).Draw(t, "step")))
			default:
				w.override(StepID(rapid.SampledFrom(p.ids()).Draw(t, "step")))
			}
			if d := danger(w.s.Plant); d != "" && !over {
				t.Fatalf("%s: %v", d, w.s.Plant)
			}
			if broken := p.Broken(w.s); !over && len(broken) > 0 {
				t.Fatalf("rule %s broken without an override: %v", broken[0].ID, w.s.Plant)
			}
		}
		again := p.Fold(w.events)
		if again.Plant != w.s.Plant || again.Version != w.s.Version || len(again.Log) != len(w.s.Log) {
			t.Fatalf("folding again gives %v, was %v", again.Plant, w.s.Plant)
		}
		for i := range again.Steps {
			if again.Steps[i].Done != w.s.Steps[i].Done || again.Steps[i].Redo != w.s.Steps[i].Redo {
				t.Fatalf("%s stands otherwise when folded again", p.steps[i].ID)
			}
		}
		if n := w.home(); n < 0 {
			now := p.Next(w.s)
			var left []string
			for _, st := range p.Standing(w.s) {
				if st.Mark != Done {
					left = append(left, string(st.Step)+" "+string(st.Mark))
				}
			}
			t.Fatalf("no way home from %v: next says %+v, %v; left %v", w.s.Plant, now, p.locks(w.s, &p.steps[p.at[now.Step]]), left)
		}
	})
}

// A step taken back at once and done again gives the plant that was, but for evidence that fell with it.
func TestTakenBackAndDoneAgain(t *testing.T) {
	all := engines(t)
	var names []string
	for _, e := range examples.Cards() {
		names = append(names, e.Name)
	}
	rapid.Check(t, func(t *rapid.T) {
		p := all[rapid.SampledFrom(names).Draw(t, "engine")]
		w := newWork(p)
		w.override(StepPlan)
		var last StepID
		for range rapid.IntRange(1, 45).Draw(t, "moves") {
			if now := p.Next(w.s); !now.Finished {
				last = now.Step
				w.do(last)
			}
		}
		was := w.s
		if o := w.back(last); len(o.Events) == 0 {
			return // refused: some step must not be taken back just then
		}
		if w.s.Steps[p.at[last]].Done {
			t.Fatalf("«%s» counts as done after it was taken back", last)
		}
		if n := w.p.ToDo(w.s, last); n.Step == "" {
			t.Fatalf("no way back to «%s»", last)
		}
		for range 60 {
			now := p.ToDo(w.s, last)
			if w.s.Steps[p.at[last]].Done {
				break
			}
			w.do(now.Step)
		}
		for part := range parts {
			if !part.isEvidence() && w.s.Plant.Get(part) != was.Plant.Get(part) && part != Lock && part != Crank {
				t.Fatalf("«%s» taken back and done again: %s, was %s", last, Say(part, w.s.Plant.Get(part)), Say(part, was.Plant.Get(part)))
			}
		}
	})
}

func TestNothingToMakeStepsFrom(t *testing.T) {
	if _, err := New(nil, nil); err == nil {
		t.Error("no card, no sheet, no error")
	}
	if _, err := New(&jobcard.Card{}, nil); err == nil {
		t.Error("no sheet, no error")
	}
	if _, err := New(nil, &sheet.Sheet{}); err == nil {
		t.Error("no card, no error")
	}
}
