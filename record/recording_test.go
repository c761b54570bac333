package record

import (
	"bytes"
	"crypto/sha256"
	"math"
	"strings"
	"testing"

	"phasewright/bench"
	"phasewright/book"
	"phasewright/jobcard"
	"phasewright/procedure"
	"phasewright/quantity"
	"phasewright/shaft"
	"phasewright/waveform"
)

// recorded is a run of the bench of the Sandpiper card, read as the pages read it.
func recorded(t testing.TB, card *jobcard.Card, run bench.Profile, change func(*bench.Config)) (book.Hash, *shaft.Result) {
	t.Helper()
	c, err := bench.FromCard(card)
	if err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(&c)
	}
	rig, err := bench.NewRig(c, bench.Faults{}, run, 1)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := bench.WriteVCD(&b, rig); err != nil {
		t.Fatal(err)
	}
	in := waveform.File("run.vcd", bytes.NewReader(b.Bytes()), int64(b.Len()))
	res, err := shaft.Run(t.Context(), &shaft.Recording{Input: in}, shaft.Options{Card: card})
	if err != nil {
		t.Fatal(err)
	}
	return book.Hash(sha256.Sum256(b.Bytes())), res
}

// sent adds a recording to the job: stored, then read.
func (s *tale) sent(sha book.Hash, res *shaft.Result) *tale {
	s.t.Helper()
	return s.and(book.KindAttachmentAdded, map[string]any{"sha256": sha.String(), "name": "run.vcd", "media_type": "", "size": 1}).
		and(book.KindCaptureRead, map[string]any{"sha256": sha.String(), "summary": res})
}

func (s *tale) ran(run bench.Profile, change func(*bench.Config)) book.Hash {
	s.t.Helper()
	sha, res := recorded(s.t, s.job().Card, run, change)
	s.sent(sha, res)
	return sha
}

// looksOf are all ticks of a step.
func (s *tale) looksOf(id procedure.StepID) Entry {
	s.t.Helper()
	j := s.job()
	p, _, err := j.Order(j.LastAt)
	if err != nil {
		s.t.Fatal(err)
	}
	st, _ := p.Step(id)
	e := entry(showing(st).Seen...)
	e.Now = j.LastAt
	return e
}

const second = quantity.Time(1e6)

// advanced sets the light's distance from the command: the housing of the bench stands so many crank degrees early.
func advanced(by quantity.Crank) func(*bench.Config) {
	return func(c *bench.Config) { c.Controller.Locked += by }
}

// A recording is evidence of the crank check, of idle and of each speed, with its own figures and their uncertainty; the
// bench, which shares no code with the reader, was told what it must show.
func TestRecordingIsEvidenceOfItsStep(t *testing.T) {
	s := carded(t).upTo(procedure.StepBase)
	p, _, _ := s.job().Order(s.job().LastAt)
	rungs, _ := p.Step(procedure.StepRange)
	runs := []struct {
		step procedure.StepID
		run  bench.Profile
		rpm  float64
	}{{procedure.StepBase, bench.Cranking(8 * second), 180}, {procedure.StepIdle, bench.Hold(750, 8*second), 750}}
	for _, r := range rungs.Demand.Rungs {
		runs = append(runs, struct {
			step procedure.StepID
			run  bench.Profile
			rpm  float64
		}{procedure.StepRange, bench.Hold(quantity.Speed(r.RPM), 5*second), r.RPM})
	}
	if len(runs) < 4 {
		t.Fatalf("only %d speeds", len(runs))
	}
	for _, c := range runs {
		s.upTo(c.step)
		sha := s.ran(c.run, nil)
		j := s.job()
		now, err := j.Recording(sha, j.LastAt)
		if err != nil || now.Step.ID != c.step || !now.Takes || len(now.Refused) > 0 || now.Taken != nil {
			t.Fatalf("%.0f rpm: %+v, %v", c.rpm, now, err)
		}
		taken, err := j.TakeRecording(sha, entry())
		refused(t, taken, err, "not ticked")
		if len(taken.Drafts) > 0 {
			t.Errorf("without its ticks it left %+v", taken.Drafts)
		}
		taken, err = j.TakeRecording(sha, s.looksOf(c.step))
		if err != nil || len(taken.Refused) > 0 {
			t.Fatalf("%.0f rpm: %+v, %v", c.rpm, taken, err)
		}
		j = s.take(taken).job()
		if now, err = j.Recording(sha, j.LastAt); err != nil || now.Taken == nil || now.Taken.Step != c.step || now.Takes {
			t.Errorf("%.0f rpm, taken: %+v, %v", c.rpm, now, err)
		}
		if c.step == procedure.StepBase {
			continue
		}
		r := j.Readings[len(j.Readings)-1]
		if math.Abs(r.RPM-c.rpm) > 0.01*c.rpm || math.Abs(r.Shown-8) > 0.1 || r.Recording != sha.String() || r.U == nil ||
			math.Abs(*r.U-now.Shown.U/2) > 1e-12 || *r.U < 0.05 || *r.U > 0.5 || r.Step != string(c.step) {
			t.Errorf("%.0f rpm: the reading is %+v, U %v", c.rpm, r, r.U)
		}
	}
	j := s.upTo(procedure.StepProve).job()
	if no, err := j.Unsigned(j.LastAt); no != nil || err != nil {
		t.Errorf("signing is refused: %+v, %v", no, err)
	}
}

// The figures are those of the recording, whatever was typed beside it.
func TestFiguresOfARecordingAreNotTyped(t *testing.T) {
	s := carded(t).upTo(procedure.StepIdle)
	sha := s.ran(bench.Hold(750, 8*second), advanced(3))
	j := s.job()
	_, state, _ := j.Order(j.LastAt)
	e := s.looksOf(procedure.StepIdle)
	eight, rpm := 8.0, 800.0
	taken, err := j.DoStep(procedure.Request{Act: procedure.Do, Step: procedure.StepIdle, Who: "Ada", Seen: state.Version,
		Proof: &procedure.Proof{Kind: procedure.Capture, SHA256: sha.String(), Value: &eight, RPM: &rpm, Seen: e.Looks}}, e)
	if err != nil || len(taken.Refused) > 0 {
		t.Fatalf("%+v, %v", taken, err)
	}
	r := s.take(taken).job().Readings[0]
	if math.Abs(r.Shown-11) > 0.1 || math.Abs(r.RPM-750) > 5 {
		t.Errorf("the reading is %+v, want 11° at 750 rpm", r)
	}
}

// A recording is refused with the step that is missing, and moves nothing.
func TestRecordingBeforeItsStep(t *testing.T) {
	s := carded(t)
	sha := s.ran(bench.Hold(750, 8*second), nil)
	taken, err := s.job().TakeRecording(sha, s.looksOf(procedure.StepIdle))
	refused(t, taken, err, "Read the sheet")
	s.upTo(procedure.StepBase)
	taken, err = s.job().TakeRecording(sha, s.looksOf(procedure.StepIdle))
	refused(t, taken, err, "start the engine")
	if len(taken.Drafts) > 0 {
		t.Errorf("it left %+v", taken.Drafts)
	}
	// once its step may be done it still tells of another engine: housing and settings were changed since
	s.upTo(procedure.StepIdle)
	taken, err = s.job().TakeRecording(sha, s.looksOf(procedure.StepIdle))
	refused(t, taken, err, "before the engine or its card was changed")
	// and one that came after the last change, but before the start, tells of a run that the order knows nothing of
	s = carded(t).upTo(procedure.StepStart)
	sha = s.ran(bench.Hold(750, 8*second), nil)
	s.upTo(procedure.StepIdle)
	now, err := s.job().Recording(sha, s.job().LastAt)
	if err != nil || now.Takes || len(now.Refused) == 0 || now.Refused[0].Remedy != "record again" {
		t.Errorf("%+v, %v", now, err)
	}
}

// The gates are those of the light: idle inside ± 5°, each speed only where the slower ones foretell it inside, and never
// faster than named.
func TestRecordingsPassTheGates(t *testing.T) {
	s := carded(t).upTo(procedure.StepIdle)
	fast := s.ran(bench.Hold(1500, 5*second), nil)
	taken, err := s.job().TakeRecording(fast, s.looksOf(procedure.StepRange))
	refused(t, taken, err, "read the light at idle, timing locked")
	up := s.ran(bench.Sweep(700, 1000, 8*second), nil)
	taken, err = s.job().TakeRecording(up, s.looksOf(procedure.StepIdle))
	refused(t, taken, err, "no faster than named")
	wild := s.ran(bench.Hold(750, 8*second), advanced(6))
	now, err := s.job().Recording(wild, s.job().LastAt)
	if err != nil || !now.Takes || len(now.Refused) != 1 || now.Refused[0].Go != procedure.StepHousing {
		t.Errorf("6° early at idle: %+v, %v", now, err)
	}
	taken, err = s.job().TakeRecording(wild, s.looksOf(procedure.StepIdle))
	refused(t, taken, err, "housing")
	if len(taken.Drafts) != 2 || taken.Drafts[0].Kind != book.KindStepTried {
		t.Fatalf("6° early at idle left %+v", taken.Drafts)
	}
	j := s.take(taken).job()
	p, state, _ := j.Order(j.LastAt)
	if next := p.Next(state); next.For != procedure.StepHousing || state.Plant.Get(procedure.Idle) == procedure.Yes {
		t.Errorf("the advice is %+v", next)
	}
	taken, err = j.TakeRecording(wild, s.looksOf(procedure.StepIdle))
	refused(t, taken, err, "taken already")
}

// A recording that is a part of one, lost sync, has a wrong pulse, was not locked, shows no mark or was read by another
// card shows nothing, and says what to do.
func TestRecordingThatShowsNothing(t *testing.T) {
	s := carded(t).upTo(procedure.StepIdle)
	sha, good := recorded(t, s.job().Card, bench.Hold(750, 8*second), nil)
	for name, c := range map[string]struct {
		spoil func(*shaft.Result)
		say   string
	}{
		"part":  {func(r *shaft.Result) { r.Partial = "the file ends in a row" }, "whole file"},
		"lost":  {func(r *shaft.Result) { r.Sync = shaft.SyncLost }, "pickups on its waveform"},
		"pulse": {func(r *shaft.Result) { r.AnomalyCount = map[string]int64{"extra_pulse": 1} }, "wrong pulses, 1 of them"},
		"unlock": {func(r *shaft.Result) {
			r.Findings = []shaft.Finding{{ID: shaft.FoundNotLocked, Text: "not locked", Remedy: "lock it"}}
		}, "lock it"},
		"mark":    {func(r *shaft.Result) { r.Timing = nil }, "mark channel together"},
		"command": {func(r *shaft.Result) { r.Timing.Commanded = false }, "locked advance on the card"},
		"short":   {func(r *shaft.Result) { r.Timing.ErrorAt[0].U = math.Inf(1) }, "for longer"},
		"unsure":  {func(r *shaft.Result) { r.Timing.ErrorAt[0].U = 6 }, "for longer"},
	} {
		res, timing := *good, *good.Timing
		timing.ErrorAt = append(timing.ErrorAt[:0:0], timing.ErrorAt...)
		res.Timing = &timing
		c.spoil(&res)
		one := &tale{t: t, line: s.line, events: append(s.events[:0:0], s.events...)}
		one.sent(sha, &res)
		taken, err := one.job().TakeRecording(sha, one.looksOf(procedure.StepIdle))
		t.Run(name, func(t *testing.T) { refused(t, taken, err, c.say) })
		if len(taken.Drafts) > 0 {
			t.Errorf("%s left %+v", name, taken.Drafts)
		}
	}
	var none book.Hash
	taken, err := s.job().TakeRecording(none, s.looksOf(procedure.StepIdle))
	refused(t, taken, err, "read it first")
	s.sent(sha, good)
	s.and(book.KindCardSaved, map[string]any{"yaml": strings.Replace(s.job().YAML, "locked: 8 deg", "locked: 9 deg", 1)})
	taken, err = s.job().TakeRecording(sha, s.looksOf(procedure.StepIdle))
	refused(t, taken, err, "read it again")
}

// A recording of work done elsewhere is entered once, says so, moves nothing, and cannot be signed as a proof of the order.
func TestBroughtRecording(t *testing.T) {
	s := carded(t)
	sha := s.ran(bench.Hold(750, 8*second), advanced(2))
	e := entry()
	e.Brought = true
	taken, err := s.job().TakeRecording(sha, e)
	if err != nil || len(taken.Refused) > 0 || len(taken.Drafts) != 1 {
		t.Fatalf("%+v, %v", taken, err)
	}
	j := s.take(taken).job()
	r := j.Readings[0]
	if !r.Brought || r.Step != "" || math.Abs(r.Shown-10) > 0.1 || r.Locked != 8 || r.Recording != sha.String() || r.U == nil {
		t.Errorf("%+v", r)
	}
	if no, err := j.Unsigned(j.LastAt); err != nil || no == nil || !strings.Contains(no.Have, "1 brought") {
		t.Errorf("%+v, %v", no, err)
	}
	p, state, _ := j.Order(j.LastAt)
	if state.Plant != p.AsFound() {
		t.Error("it moved the order")
	}
	now, err := j.Recording(sha, j.LastAt)
	if err != nil || !now.Brought {
		t.Errorf("%+v, %v", now, err)
	}
	taken, err = j.TakeRecording(sha, e)
	refused(t, taken, err, "among the readings")
}
