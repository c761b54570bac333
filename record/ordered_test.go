package record

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"phasewright/book"
	"phasewright/drawing"
	"phasewright/procedure"
	"phasewright/readings"
	"phasewright/report"
	"phasewright/shaft"
	"phasewright/verdict"
)

// showing is a proof that passes, made from what the step asks for.
func showing(st procedure.Step) *procedure.Proof {
	d := st.Demand
	f := &procedure.Proof{Kind: d.Kinds[0]}
	for _, a := range d.Also {
		f.Seen = append(f.Seen, a.ID)
	}
	switch {
	case f.Kind == procedure.Photo || f.Kind == procedure.Written:
		f.Kind, f.Text = procedure.Written, "as it should be"
	case d.Right != "":
		f.Text = d.Right
	case f.Kind == procedure.Reading:
		v := (d.Passes.From+d.Passes.To)/2 + 0.1 // written to a tenth, as a light with a dial is read
		f.Value = &v
	case f.Kind == procedure.Number:
		v := (d.Passes.From + d.Passes.To) / 2
		f.Value = &v
	}
	return f
}

// upTo follows the order of work until a step is next.
func (s *tale) upTo(id procedure.StepID) *tale {
	s.t.Helper()
	for range 80 {
		j := s.job()
		p, state, err := j.Order(j.LastAt)
		if err != nil {
			s.t.Fatal(err)
		}
		now := p.Next(state)
		if now.Step == id {
			return s
		}
		st, _ := p.Step(now.Step)
		f := showing(st)
		if f.Kind == procedure.Reading {
			rpm := (st.Demand.Speed.From + st.Demand.Speed.To) / 2
			if n := len(st.Demand.Rungs); n > 0 {
				rpm = st.Demand.Rungs[min(max(len(state.Ladder)-1, 0), n-1)].RPM
			}
			f.RPM = &rpm
		}
		o := p.Decide(state, procedure.Request{Act: procedure.Do, Step: st.ID, Who: "Ada", Proof: f, Seen: state.Version})
		if len(o.Refused) > 0 {
			s.t.Fatalf("«%s»: %v", st.ID, o.Refused)
		}
		s.take(Taken{Drafts: drafts(s.t, j, o)})
	}
	s.t.Fatalf("«%s» is never next", id)
	return nil
}

// proven follows the order of work until everything is shown: more readings where the judge wants them, and the light
// on the companion's wire.
func (s *tale) proven() *tale {
	s.t.Helper()
	s.upTo(procedure.StepProve)
	for i := range 8 {
		j := s.job()
		fit, err := j.Fit()
		if err != nil {
			s.t.Fatal(err)
		}
		if says, _ := j.Judge(); says.Clauses.Get(verdict.Timing).State == verdict.Shown {
			break
		}
		e := entry(procedure.LookHeld, procedure.LookEven, procedure.LookClean)
		e.Now, e.Key = j.LastAt, fmt.Sprint("more", i)
		taken, err := j.TakeReading(Reading{ID: e.Key, RPM: fit.Next, Shown: 8 + 0.2*float64(i%2), Locked: 8}, e)
		if err != nil || len(taken.Refused) > 0 {
			s.t.Fatalf("%v rpm: %+v, %v", fit.Next, taken, err)
		}
		s.take(taken)
	}
	s.did(procedure.StepStop)
	for range 8 {
		if says, _ := s.job().Judge(); says.Clauses.Get(verdict.EveryCylinder).State == verdict.Shown {
			break
		}
		s.did(procedure.StepOther)
	}
	return s
}

// did does a step beside the line, on the first of the other wires where it takes one.
func (s *tale) did(id procedure.StepID) {
	s.t.Helper()
	j := s.job()
	p, state, err := j.Order(j.LastAt)
	if err != nil {
		s.t.Fatal(err)
	}
	st, _ := p.Step(id)
	f := showing(st)
	if len(st.Demand.Wires) > 0 {
		idle, shown := float64(j.Card.Engine.IdleSpeed), float64(j.Card.Controller.Advance.Locked.Or(0))+0.1
		f.RPM, f.Value, f.Wire = &idle, &shown, st.Demand.Wires[0]
	}
	taken, err := j.DoStep(procedure.Request{Act: procedure.Do, Step: id, Who: "Ada", Proof: f, Seen: state.Version},
		Entry{Who: "Ada", Device: "phone", Key: fmt.Sprint(id, j.Version), Now: j.LastAt})
	if err != nil || len(taken.Refused) > 0 {
		s.t.Fatalf("«%s»: %+v, %v", id, taken.Refused, err)
	}
	s.take(taken)
}

func drafts(t testing.TB, j *Job, o procedure.Outcome) []book.Draft {
	t.Helper()
	taken, err := j.taken(o, Entry{Device: "phone", Key: "k"})
	if err != nil {
		t.Fatal(err)
	}
	return taken.Drafts
}

func (s *tale) take(taken Taken) *tale {
	for _, d := range taken.Drafts {
		s.and(d.Kind, d.Payload)
	}
	return s
}

func entry(looks ...procedure.Look) Entry {
	return Entry{Who: "Ada", Device: "phone", Key: "k", Looks: looks, Now: time.Date(2026, 3, 14, 11, 0, 0, 0, time.UTC)}
}

func refused(t *testing.T, taken Taken, err error, word string) {
	t.Helper()
	all := ""
	for _, r := range taken.Refused {
		all += r.Error() + "\n"
	}
	if err != nil || !strings.Contains(all, word) {
		t.Errorf("wanted a refusal that says %q, got %+v, %v", word, taken, err)
	}
}

// Finding 1: readings and corrections go through the order: with no step done they are refused with the step that is
// missing, and nothing is recorded.
func TestReadingsAskTheOrder(t *testing.T) {
	j := carded(t).job()
	for _, rpm := range []float64{150, 750, 2000, 4000, 6000} {
		taken, err := j.TakeReading(Reading{ID: "a", RPM: rpm, Shown: 8, Locked: 8}, entry(procedure.LookHeld, procedure.LookEven, procedure.LookClean))
		refused(t, taken, err, "Read the sheet")
		if len(taken.Drafts) > 0 {
			t.Errorf("%v rpm left %+v", rpm, taken.Drafts)
		}
	}
	taken, err := j.TakeReading(Reading{ID: "a", RPM: 20, Shown: 8, Locked: 8}, entry())
	if err == nil {
		refused(t, taken, err, "a speed that a step asks for")
	}
	taken, err = j.MakeCorrection(Correction{Housing: 7, Direction: readings.WithRotor}, entry())
	refused(t, taken, err, "say who is here")
	allowance := 115.0
	taken, err = j.MakeCorrection(Correction{Allowance: &allowance}, entry())
	refused(t, taken, err, "say who is here")
	taken, err = j.MakeCorrection(Correction{Housing: 1, Direction: readings.WithRotor, Allowance: &allowance}, entry())
	refused(t, taken, err, "one correction at a time")
	if no, err := j.Unsigned(entry().Now); err != nil || no == nil || no.Go != procedure.StepBegin {
		t.Errorf("signing is refused with %+v, %v", no, err)
	}
}

// In their place they are evidence: of idle, of each speed upwards; one outside the bound is kept as a reading and
// opens nothing.
func TestReadingsAreEvidenceOfTheirStep(t *testing.T) {
	s := carded(t).upTo(procedure.StepIdle)
	wild, err := s.job().TakeReading(Reading{ID: "w", RPM: 750, Shown: 38, Locked: 8}, entry(procedure.LookHeld, procedure.LookEven, procedure.LookClean))
	refused(t, wild, err, "housing")
	if len(wild.Drafts) != 2 || wild.Drafts[0].Kind != book.KindStepTried || wild.Drafts[1].Kind != book.KindReadingAdded {
		t.Errorf("38° at idle left %+v", wild.Drafts)
	}
	taken, err := s.job().TakeReading(Reading{ID: "a", RPM: 750, Shown: 8.5, Locked: 9}, entry(procedure.LookHeld, procedure.LookEven, procedure.LookClean))
	refused(t, taken, err, "as on the card")
	taken, err = s.job().TakeReading(Reading{ID: "a", RPM: 750, Shown: 8.5, Locked: 8}, entry())
	refused(t, taken, err, "not ticked")
	if len(taken.Drafts) > 0 {
		t.Errorf("without its tick it left %+v", taken.Drafts)
	}
	taken, err = s.job().TakeReading(Reading{ID: "a", RPM: 750, Shown: 8.5, Locked: 8}, entry(procedure.LookHeld, procedure.LookEven, procedure.LookClean))
	if err != nil || len(taken.Refused) > 0 || len(taken.Drafts) != 2 {
		t.Fatalf("%+v, %v", taken, err)
	}
	j := s.take(taken).job()
	p, state, _ := j.Order(j.LastAt)
	if p.Next(state).Step != procedure.StepRange || len(j.Readings) != 1 || j.Readings[0].Step != "idle" || len(j.Brought()) != 0 {
		t.Errorf("next %+v, readings %+v", p.Next(state), j.Readings)
	}
	taken, err = j.TakeReading(Reading{ID: "b", RPM: 4100, Shown: 8.5, Locked: 8}, entry(procedure.LookHeld, procedure.LookEven, procedure.LookClean))
	refused(t, taken, err, "faster than this step allows")
	j = s.proven().job()
	if no, err := j.Unsigned(j.LastAt); no != nil || err != nil {
		t.Errorf("signing is refused: %+v, %v", no, err)
	}
	// A night later the same job still stands; a correction lets base timing, idle and speeds fall, in the order too.
	s.upTo(procedure.StepProve)
	stop := procedure.Request{Act: procedure.Do, Step: procedure.StepStop, Who: "Ada", Proof: &procedure.Proof{Kind: procedure.Tick}}
	j = s.job()
	p, state, _ = j.Order(j.LastAt)
	stop.Seen = state.Version
	j = s.take(Taken{Drafts: drafts(t, j, p.Decide(state, stop))}).job()
	st, _ := p.Step(procedure.StepHousing)
	e := entry(showing(st).Seen...)
	e.Now = j.LastAt
	taken, err = j.MakeCorrection(Correction{Housing: 1.5, Direction: readings.AgainstRotor}, e)
	if err != nil || len(taken.Refused) > 0 || len(taken.Drafts) != 2 {
		t.Fatalf("%+v, %v", taken, err)
	}
	j = s.take(taken).job()
	p, state, _ = j.Order(j.LastAt)
	for _, part := range []procedure.Part{procedure.Base, procedure.Settings, procedure.Idle, procedure.Range} {
		if state.Plant.Get(part) != procedure.No {
			t.Error(procedure.Say(part, state.Plant.Get(part)))
		}
	}
	if len(j.Corrections) != 1 || math.Abs(j.Turned()+1.5) > 1e-9 || p.Next(state).Step != procedure.StepSettings {
		t.Errorf("corrections %+v, next %+v", j.Corrections, p.Next(state))
	}
}

// A correction that an earlier release recorded beside the order expires what it touched.
func TestCorrectionBesideTheOrder(t *testing.T) {
	j := carded(t).upTo(procedure.StepProve).and(book.KindCorrectionMade, map[string]any{"housing_deg": 7, "direction": readings.WithRotor}).job()
	_, state, err := j.Order(j.LastAt)
	if err != nil || state.Plant.Get(procedure.Base) != procedure.No || state.Plant.Get(procedure.Range) != procedure.No {
		t.Errorf("%v, %v", state.Plant, err)
	}
}

// Readings of work done elsewhere are kept, say so, and are no proof of the order; those of an earlier release count
// as such.
func TestBroughtReadings(t *testing.T) {
	s := carded(t)
	for i, rpm := range []float64{750, 1500, 2500, 4000} {
		e := entry()
		e.Brought = true
		taken, err := s.job().TakeReading(Reading{ID: string(rune('a' + i)), RPM: rpm, Shown: 8, Locked: 8}, e)
		if err != nil || len(taken.Refused) > 0 || len(taken.Drafts) != 1 {
			t.Fatalf("%+v, %v", taken, err)
		}
		s.take(taken)
	}
	j := s.read("old", 3000, 8).job()
	if len(j.Brought()) != 5 || !j.Readings[0].Brought {
		t.Errorf("%+v", j.Readings)
	}
	if no, err := j.Unsigned(j.LastAt); err != nil || no == nil || !strings.Contains(no.Have, "5 brought") {
		t.Errorf("%+v, %v", no, err)
	}
	p, state, _ := j.Order(j.LastAt)
	if state.Plant != p.AsFound() {
		t.Error("brought readings moved the order")
	}
}

// An override that was not shown since bars a pass, and stands on every paper, the tape too.
func TestOverrideBarsAPass(t *testing.T) {
	s := carded(t).upTo(procedure.StepFit)
	j := s.job()
	p, state, _ := j.Order(j.LastAt)
	st, _ := p.Step(procedure.StepFit)
	f := showing(st)
	*f.Value = 4
	o := p.Decide(state, procedure.Request{Act: procedure.Override, Step: st.ID, Who: "Ada", Second: "Ben", Paired: true, Reason: "gauge lent out, looked at by eye", Proof: f, Seen: state.Version})
	if len(o.Refused) > 0 {
		t.Fatal(o.Refused)
	}
	j = s.take(Taken{Drafts: drafts(t, j, o)}).proven().job()
	if no, err := j.Unsigned(j.LastAt); err != nil || no == nil || no.Step != procedure.StepFit || !strings.Contains(no.Have, "Ada with Ben") {
		t.Errorf("%+v, %v", no, err)
	}
	over := j.Overrides()
	if len(over) != 1 || !strings.Contains(over[0].Reason, "NOT SHOWN SINCE") || over[0].By != "Ada with Ben" {
		t.Errorf("%+v", over)
	}
	for name, make := range map[string]func(drawing.SheetSize) (*report.Paper, error){
		"set-up": j.SetUpPaper, "steps": j.StepsPaper, "spark": j.SparkPaper,
		"proof": func(size drawing.SheetSize) (*report.Paper, error) {
			return j.ProofPaper(Files{Export: written("the job")}, size)
		},
		"recording": func(size drawing.SheetSize) (*report.Paper, error) {
			return j.CapturePaper(&shaft.Result{Sync: shaft.SyncNone}, size)
		},
	} {
		p, err := make(drawing.A4)
		if err != nil {
			t.Fatal(name, err)
		}
		if text := words(p); !strings.Contains(text, "gauge lent out") || !strings.Contains(text, "Ada with Ben") {
			t.Errorf("the paper %q does not name the override", name)
		}
	}
	tape, err := j.TapePaper(drawing.A4)
	if err != nil {
		t.Fatal(err)
	}
	if text := words(tape); !strings.Contains(text, "rules OVERRIDDEN") || !strings.Contains(text, "1: see the proof") {
		t.Error("the tape does not show the override")
	}
	if tape, err = carded(t).job().TapePaper(drawing.A4); err != nil || strings.Contains(words(tape), "OVERRIDDEN") {
		t.Error("a tape without an override speaks of one", err)
	}
}
