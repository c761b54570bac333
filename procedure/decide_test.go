package procedure

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
)

func f(v float64) *float64 { return &v }

// upTo does the work in order until the step is next.
func upTo(t testing.TB, p *Procedure, id StepID) *work {
	t.Helper()
	w := newWork(p)
	for range 80 {
		now := p.Next(w.s)
		if now.Step == id {
			return w
		}
		o := w.do(now.Step)
		if len(o.Events) == 0 && o.Refused[0].Kind == Barred {
			w.override(now.Step)
		} else if len(o.Events) == 0 {
			t.Fatalf("«%s» is refused on the way to «%s»: %v", now.Step, id, o.Refused)
		}
	}
	t.Fatalf("«%s» is never next", id)
	return nil
}

// Bad requests are named, with what is accepted; nothing is recorded.
func TestBadRequests(t *testing.T) {
	p := orderOf(t, "sandpiper")
	w := upTo(t, p, StepBase)
	long := strings.Repeat("x", 1001)
	for _, c := range []struct {
		name string
		r    Request
		kind Cause
		says string
	}{
		{"unknown step", Request{Act: Do, Step: "polish", Who: "A"}, Input, `"polish"`},
		{"no step", Request{Act: Do, Who: "A"}, Input, "choose one of: plan"},
		{"no act", Request{Step: StepBase, Who: "A"}, Input, `one of "do"`},
		{"no name", Request{Act: Do, Step: StepBase}, Input, "write your name"},
		{"blank name", Request{Act: Do, Step: StepBase, Who: "  \t"}, Input, "write your name"},
		{"long name", Request{Act: Do, Step: StepBase, Who: long}, Input, "at most 100"},
		{"override without a reason", Request{Act: Override, Step: StepStart, Who: "A"}, Input, "a written reason"},
		{"override with a dash for a reason", Request{Act: Override, Step: StepStart, Who: "A", Reason: " -- "}, Input, "a written reason"},
		{"override with a book for a reason", Request{Act: Override, Step: StepStart, Who: "A", Reason: long}, Input, "at most 1000"},
		{"override without a name", Request{Act: Override, Step: StepStart, Reason: "tested before"}, Input, "write your name"},
		{"override of nothing", Request{Act: Override, Step: StepBase, Who: "A", Reason: "tested before", Proof: passing(p, w.s, StepBase)}, Input, "nothing is locked"},
		{"taking back without a reason", Request{Act: TakeBack, Step: StepWalk, Who: "A"}, Input, "a written reason"},
		{"taking back what is not done", Request{Act: TakeBack, Step: StepStart, Who: "A", Reason: "wrong tick"}, Input, "is not done"},
		{"taking back what was overtaken", Request{Act: TakeBack, Step: StepPlugOut, Who: "A", Reason: "wrong tick"}, Input, "Plug of cylinder 1 in"},
		{"taking back what is past", Request{Act: TakeBack, Step: StepNoted, Who: "A", Reason: "wrong tick"}, Input, "write a note"},
		{"done already", Request{Act: Do, Step: StepCoilOn, Who: "A", Proof: &Proof{Kind: Tick}}, Input, "done by A. Example"},
		{"wrong kind", Request{Act: Do, Step: StepBase, Who: "A", Proof: &Proof{Kind: Tick}}, Input, "reading or capture"},
		{"unheard-of kind", Request{Act: Do, Step: StepBase, Who: "A", Proof: &Proof{Kind: "smoke"}}, Input, `"smoke"`},
		{"impossible light reading", Request{Act: Do, Step: StepBase, Who: "A", Proof: &Proof{Kind: Reading, Value: f(200), RPM: f(180)}}, Input, "90° BTDC"},
		{"reading without a speed", Request{Act: Do, Step: StepBase, Who: "A", Proof: &Proof{Kind: Reading, Value: f(12)}}, Input, "rpm"},
		{"reading at an impossible speed", Request{Act: Do, Step: StepBase, Who: "A", Proof: &Proof{Kind: Reading, Value: f(12), RPM: f(-3)}}, Input, "1 to 20000"},
		{"reading without a figure", Request{Act: Do, Step: StepBase, Who: "A", Proof: &Proof{Kind: Reading, RPM: f(180)}}, Input, "write the figure"},
		{"not a number", Request{Act: Do, Step: StepBase, Who: "A", Proof: &Proof{Kind: Reading, RPM: f(180), Value: f(math.NaN())}}, Input, "finite"},
		{"capture without a file", Request{Act: Do, Step: StepBase, Who: "A", Proof: &Proof{Kind: Capture, SHA256: "ABC"}}, Input, "64 digits"},
		{"proof like a book", Request{Act: Do, Step: StepBase, Who: "A", Proof: &Proof{Kind: Reading, Value: f(12), RPM: f(180), Text: long}}, Input, "at most 1000"},
		{"no proof", Request{Act: Do, Step: StepBase, Who: "A"}, Unproven, "no proof"},
		{"stale", Request{Act: Do, Step: StepBase, Who: "A", Seen: 3, Proof: passing(p, w.s, StepBase)}, Stale, "look at the step again"},
		{"locked", Request{Act: Do, Step: StepStart, Who: "A", Proof: &Proof{Kind: Tick}}, Order, "base timing proven"},
	} {
		if c.r.Seen == 0 {
			c.r.Seen = w.s.Version
		}
		o := p.Decide(w.s, c.r)
		if len(o.Events) != 0 || len(o.Refused) == 0 {
			t.Errorf("%s: recorded %v", c.name, o.Events)
			continue
		}
		if got := o.Refused[0]; got.Kind != c.kind || !strings.Contains(got.Error(), c.says) {
			t.Errorf("%s: %s: %s; want %s with %q", c.name, got.Kind, got.Error(), c.kind, c.says)
		}
	}
}

// A proof that fails is no bad input: it is refused with the branch to take. Wrong edge, tooth and housing by the sums of the trade: two vane widths
// (30° on this wheel), 720/12 = 60° a tooth.
func TestFailedProofsLeadOn(t *testing.T) {
	p := orderOf(t, "sandpiper")
	base, _ := p.Step(StepBase)
	expect := (base.Demand.Passes.From + base.Demand.Passes.To) / 2
	for _, c := range []struct {
		step  StepID
		proof Proof
		to    StepID
		says  string
	}{
		{StepBase, Proof{Kind: Reading, RPM: f(180), Value: f(expect + 30)}, StepSettings, "the other edge"},
		{StepBase, Proof{Kind: Reading, RPM: f(180), Value: f(expect + 60)}, StepDrop, "tooth"},
		{StepBase, Proof{Kind: Reading, RPM: f(180), Value: f(expect - 60)}, StepDrop, "tooth"},
		{StepBase, Proof{Kind: Reading, RPM: f(180), Value: f(base.Demand.Passes.To + 1)}, StepHousing, "half the distance"},
		{StepBase, Proof{Kind: Reading, RPM: f(180), Value: f(-88)}, StepWires, "another lead"},
		{StepBase, Proof{Kind: Reading, RPM: f(900), Value: f(expect)}, "", "within it"},
		{StepMarks, Proof{Kind: Number, Value: f(84)}, StepMarks, "straight-line"},
		{StepMarks, Proof{Kind: Number, Value: f(60)}, StepMarks, "from the zero mark"},
		{StepZero, Proof{Kind: Number, Value: f(-3)}, StepZero, "slipped"},
		{StepFit, Proof{Kind: Number, Value: f(1.1)}, StepFit, "distributor.seat_gap"},
		{StepDrop, Proof{Kind: Number, Value: f(30)}, StepDrop, "next tooth"},
		{StepPhase, Proof{Kind: Number, Text: "high"}, StepPhase, "the other edge"},
		{StepReadBack, Proof{Kind: Number, Value: f(70)}, StepSettings, "not stored"},
	} {
		w := upTo(t, p, c.step)
		o := p.Decide(w.s, Request{Act: Do, Step: c.step, Who: "A", Proof: &c.proof, Seen: w.s.Version})
		if len(o.Events) > 0 || len(o.Refused) != 1 {
			t.Errorf("%s: %v %v", c.step, o.Events, o.Refused)
			continue
		}
		if r := o.Refused[0]; r.Kind != Unproven || r.Go != c.to || !strings.Contains(r.Error(), c.says) {
			t.Errorf("%s with %v %q: %s, go to %q; want %q with %q", c.step, c.proof.Value, c.proof.Text, r.Error(), r.Go, c.to, c.says)
		}
	}
}

// An override records who, why and against which lock, and stays in the state after the step was done properly.
func TestOverrideStays(t *testing.T) {
	p := orderOf(t, "sandpiper")
	w := upTo(t, p, StepCoilOn)
	w.do(StepCoilOn)
	o := p.Decide(w.s, Request{Act: Override, Step: StepFuelOn, Who: " B. Example ", Reason: " dyno booked till noon ", Seen: w.s.Version})
	if !w.record(o) {
		t.Fatalf("refused: %v", o.Refused)
	}
	var body map[string]any
	if err := json.Unmarshal(o.Events[0].Payload, &body); err != nil {
		t.Fatal(err)
	}
	if o.Events[0].Kind != "step.override" || body["step"] != "fuel-on" || body["who"] != "B. Example" || body["reason"] != "dyno booked till noon" {
		t.Errorf("recorded %s %v", o.Events[0].Kind, body)
	}
	against := fmt.Sprint(body["against"])
	for _, rule := range []string{"fuel-base", "fuel-pressure", "order: base timing proven"} {
		if !strings.Contains(against, rule) {
			t.Errorf("against %s, without %s", against, rule)
		}
	}
	if n := p.Broken(w.s); len(n) == 0 {
		t.Error("no rule stands broken")
	}
	// while it stands unsafe only what mends it is allowed, and Next says so
	if o := w.do(StepBase); len(o.Refused) == 0 {
		t.Error("cranking with live injectors was allowed after the override")
	}
	if now := p.Next(w.s); now.Step != StepFuelOff && !(now.Step == StepFuelOn && now.Act == TakeBack) {
		t.Errorf("next is %+v, want what turns the fuel off", now)
	}
	if n := w.home(); n < 0 {
		t.Fatal("no way home")
	}
	if len(w.s.Overrides) != 1 || w.s.Overrides[0].Who != "B. Example" || !w.s.Overrides[0].Mended {
		t.Errorf("overrides %+v: want the one, mended", w.s.Overrides)
	}
	if lines := p.Lines(w.s); !strings.Contains(fmt.Sprint(lines), "dyno booked till noon") {
		t.Error("the printed list does not show the override")
	}
}

// Two at once: the second to speak is told to look again; a note meanwhile does not disturb.
func TestTwoAtOnce(t *testing.T) {
	p := orderOf(t, "sandpiper")
	w := upTo(t, p, StepFuelOff)
	seen := w.s.Version
	a := p.Decide(w.s, Request{Act: Do, Step: StepFuelOff, Who: "A", Proof: &Proof{Kind: Tick}, Seen: seen})
	w.record(a)
	b := p.Decide(w.s, Request{Act: Do, Step: StepFuelOff, Who: "B", Proof: &Proof{Kind: Tick}, Seen: seen})
	if len(b.Refused) != 1 || b.Refused[0].Kind != Stale {
		t.Errorf("the second was answered %+v", b)
	}
	n := int64(len(w.events) + 1)
	w.events = append(w.events, Event{Version: n, Kind: "note.added", Payload: []byte(`{"text":"cold hands"}`)})
	if s := p.Fold(w.events); s.Version != n-1 {
		t.Errorf("a note moved the version to %d", s.Version)
	}
	w.events = append(w.events, Event{Version: n + 1, Kind: CardSaved, Payload: []byte(`{}`)})
	if s := p.Fold(w.events); s.Version != n+1 {
		t.Errorf("a saved card left the version at %d", s.Version)
	}
}

// Moving a part expires the evidence that depended on it, with the reason.
func TestGoingBackExpires(t *testing.T) {
	p := orderOf(t, "gorse-hill")
	redo := func(w *work) map[StepID]string {
		out := map[StepID]string{}
		for _, st := range p.Standing(w.s) {
			if st.Mark == Redo {
				out[st.Step] = st.Why
			}
		}
		return out
	}
	t.Run("clamp slackened after the check", func(t *testing.T) {
		w := upTo(t, p, StepFuelOn)
		for _, id := range []StepID{StepCoilOff, StepBleed, StepSlacken} {
			if o := w.do(id); len(o.Refused) > 0 {
				t.Fatal(o.Refused)
			}
		}
		got := redo(w)
		for _, id := range []StepID{StepPhase, StepClamp, StepWalk, StepBase, StepCoilOn} {
			if got[id] == "" {
				t.Errorf("«%s» still stands: %v", id, got)
			}
		}
		if !strings.Contains(got[StepBase], "clamp was loosened") {
			t.Errorf("base must be done again because %q", got[StepBase])
		}
		if got[StepDrop] != "" || got[StepZero] != "" {
			t.Errorf("what the clamp has nothing to do with must be done again: %v", got)
		}
	})
	t.Run("settings changed", func(t *testing.T) {
		w := upTo(t, p, StepClamp)
		w.do(StepSettings)
		if got := redo(w); got[StepReadBack] == "" || got[StepCycle] == "" {
			t.Errorf("power-cycle and read-back still stand: %v", got)
		}
		if now := p.Next(w.s); now.Step != StepCycle {
			t.Errorf("next is %s", now.Step)
		}
	})
	t.Run("damper removed", func(t *testing.T) {
		w := upTo(t, p, StepFuelOn)
		if o := w.back(StepZero); len(o.Refused) > 0 {
			t.Fatal(o.Refused)
		}
		got := redo(w)
		for _, id := range []StepID{StepMarks, StepLead, StepPhase, StepBase} {
			if got[id] == "" {
				t.Errorf("«%s» still stands: %v", id, got)
			}
		}
	})
	t.Run("not while it would be unsafe", func(t *testing.T) {
		w := upTo(t, p, StepStart)
		o := w.back(StepZero)
		if len(o.Refused) == 0 || o.Refused[0].Kind != Unsafe {
			t.Fatalf("base timing fell with the fuel on: %+v", o)
		}
		w.do(StepFuelOff)
		if o := w.back(StepZero); len(o.Refused) > 0 {
			t.Errorf("with the fuel off it is still refused: %v", o.Refused)
		}
	})
	t.Run("allowance changed", func(t *testing.T) {
		w := upTo(t, p, StepProve)
		for _, id := range []StepID{StepStop, StepAllowance} {
			if o := w.do(id); len(o.Refused) > 0 {
				t.Fatal(o.Refused)
			}
		}
		got := redo(w)
		if got[StepIdle] == "" || got[StepRange] == "" || got[StepBase] != "" {
			t.Errorf("again: %v; want the readings and not base timing", got)
		}
		if o := w.do(StepStart); len(o.Refused) == 0 {
			t.Error("started on an allowance that was not read back")
		}
		w.do(StepAllowanceCycle)
		if o := w.p.Decide(w.s, Request{Act: Do, Step: StepAllowanceRead, Who: "A", Seen: w.s.Version, Proof: &Proof{Kind: Number, Value: f(1)}}); len(o.Refused) != 1 || o.Refused[0].Go != StepAllowance {
			t.Errorf("another figure read back: %+v", o)
		}
	})
}

// A card that changed after a step was done by it: the step, and what rests on it, must be done again.
func TestCardChanged(t *testing.T) {
	p := orderOf(t, "sandpiper")
	w := upTo(t, p, StepFuelOn)
	yaml := exampleYAML(t, "sandpiper")
	c, s := fromYAML(t, strings.Replace(yaml, "lead: 60 deg", "lead: 55 deg", 1))
	q, err := New(c, s)
	if err != nil {
		t.Fatal(err)
	}
	st := q.Fold(w.events)
	for _, id := range []StepID{StepMarks, StepLead, StepPhase, StepSettings, StepBase} {
		if rec := st.Steps[q.at[id]]; rec.Done || rec.Redo == "" {
			t.Errorf("«%s» still stands after the lead changed on the card", id)
		}
	}
	if why := st.Steps[q.at[StepLead]].Redo; why == "" {
		t.Error("no reason")
	}
	if !strings.Contains(st.Steps[q.at[StepMarks]].Redo, "88.0 mm") || !strings.Contains(st.Steps[q.at[StepMarks]].Redo, "80.6 mm") {
		t.Errorf("marks: %s; want both distances (168 mm across, 60° and 55°: π·168·60/360 = 87.96, π·168·55/360 = 80.63)", st.Steps[q.at[StepMarks]].Redo)
	}
	if !st.Steps[q.at[StepPlugOut]].Done {
		t.Error("the plug does not care for the lead")
	}
}

// Events that cannot be read are said, and change nothing.
func TestDamagedEvents(t *testing.T) {
	p := orderOf(t, "sandpiper")
	s := p.Fold([]Event{{Version: 1, Kind: StepDone, Payload: []byte(`{"step":`)}, {Version: 2, Kind: StepDone, Payload: []byte(`{"step":"polish"}`)}, {Version: 3, Kind: StepUndone, Payload: nil}, {Version: 4, Kind: StepDone, Payload: []byte(`[]`)}})
	if len(s.Unread) != 4 || s.Plant != p.found || s.Version != 4 {
		t.Errorf("%d said, plant %v, version %d", len(s.Unread), s.Plant, s.Version)
	}
}

// Who did what when comes out as it went in.
func TestLog(t *testing.T) {
	w := upTo(t, orderOf(t, "sandpiper"), StepCoilOff)
	w.back(StepFuelOff)
	last := w.s.Log[len(w.s.Log)-1]
	if last.Act != TakeBack || last.Step != StepFuelOff || last.Who != "A. Example" || last.By != "phone 1" || last.Reason != "ticked by mistake" || !last.At.Equal(noon.Add(time.Duration(last.Version)*time.Minute)) {
		t.Errorf("%+v", last)
	}
	if rec := w.s.Steps[w.p.at[StepSecure]]; rec.Who != "A. Example" || rec.At.IsZero() || rec.Proof == nil {
		t.Errorf("%+v", rec)
	}
}
