package record

import (
	"math"
	"strings"
	"testing"
	"time"

	"phasewright/book"
	"phasewright/drawing"
	"phasewright/readings"
	"phasewright/report"
	"phasewright/verdict"
)

// later moves the clock of what follows.
func (s *tale) later(by time.Duration) *tale { s.slept += by; return s }

// shown is a job that was read, corrected, read again and signed, then put away.
func shown(t testing.TB) *tale {
	s := carded(t)
	for i, rpm := range []float64{800, 1800, 2800, 3700} {
		s.read(string(rune('a'+i)), rpm, 10.6)
	}
	s.and(book.KindCorrectionMade, map[string]any{"housing_deg": 1.3, "direction": readings.WithRotor})
	for i, rpm := range []float64{800, 1800, 2800, 3700} {
		s.read(string(rune('e'+i)), rpm, 8)
	}
	return s.and(book.KindProofSigned, map[string]any{"name": "A. Reed", "verdict": "pass"}).
		and(book.KindJobArchived, map[string]any{"reason": "done"})
}

// A job of years ago that is opened again is judged by what is read now: two fresh readings 2° late are two readings that
// say 2° late, not two misreads among eight good ones.
func TestOldReadingsNeverOutvoteFreshOnes(t *testing.T) {
	s := shown(t).later(4*365*24*time.Hour).and(book.KindJobReopened, map[string]any{"reason": "back in the yard"})
	j := s.job()
	if j.Signed != nil || len(j.AfterCorrections()) != 0 || len(j.Current()) != 0 {
		t.Errorf("signed %v, %d readings and %d corrections of the work of today", j.Signed, len(j.AfterCorrections()), len(j.Current()))
	}
	if says, err := j.Judge(); err != nil || says.Word != verdict.NotShownYet || len(says.Clauses.In(verdict.Shown)) != 0 {
		t.Errorf("opened again: %v, shown %v, %v", says.Word, says.Clauses.In(verdict.Shown), err)
	}
	j = s.read("y", 800, 6).read("z", 2000, 6).job()
	fit, err := j.Fit()
	if err != nil || fit.Used != 2 || math.Abs(fit.Offset.Value+2) > 0.1 {
		t.Errorf("fit %+v through %d, %v; want -2° through 2", fit.Offset.Value, fit.Used, err)
	}
	if says, err := j.Judge(); err != nil || says.Word == verdict.Pass {
		t.Errorf("%v, %v", says.Word, err)
	}
	before, after := j.proofRows()
	if len(before) != 0 || len(after) != 2 {
		t.Errorf("%d before, %d after", len(before), len(after))
	}
	for i, rpm := range []float64{800, 1800, 2800, 3700} {
		s.read("new"+string(rune('a'+i)), rpm, 6)
	}
	s.and(book.KindCorrectionMade, map[string]any{"housing_deg": 1.0, "direction": readings.AgainstRotor})
	if before, after := s.read("last", 800, 8).job().proofRows(); len(before) != 6 || len(after) != 1 || before[0].Shown != 6 {
		t.Errorf("%d before, %d after; want the 6 of today before", len(before), len(after))
	}
	if n := len(s.job().Readings); n != 15 {
		t.Errorf("%d readings on record, want all 15", n)
	}
}

// Signed and left on the list, a job is closed after a break too, and opened again begins anew.
func TestSignedAndLeftOnTheList(t *testing.T) {
	s := carded(t)
	for i, rpm := range []float64{800, 1800, 2800, 3700} {
		s.read(string(rune('a'+i)), rpm, 8)
	}
	j := s.and(book.KindProofSigned, map[string]any{"name": "A. Reed", "verdict": "pass"}).job()
	since, over := j.Closed(j.LastAt.Add(time.Hour))
	if over || !since.Equal(j.LastAt) {
		t.Errorf("an hour after the signature: closed since %v, %v", since, over)
	}
	if _, over := j.Closed(j.LastAt.Add(4 * 365 * 24 * time.Hour)); !over {
		t.Error("four years after the signature the job still takes readings")
	}
	j = s.later(4*365*24*time.Hour).and(book.KindJobReopened, map[string]any{}).job()
	if _, over := j.Closed(j.LastAt.Add(48 * time.Hour)); over || j.Signed != nil || len(j.AfterCorrections()) != 0 {
		t.Errorf("opened again: closed %v, signed %v, %d readings stand", over, j.Signed, len(j.AfterCorrections()))
	}
}

// Put away by mistake and taken up again within a break, a job is as it was.
func TestPutAwayByMistake(t *testing.T) {
	j := shown(t).later(time.Hour).and(book.KindJobReopened, map[string]any{}).job()
	if j.Signed == nil || len(j.AfterCorrections()) != 4 || len(j.Current()) != 1 {
		t.Errorf("signed %v, %d readings", j.Signed, len(j.AfterCorrections()))
	}
}

// A card of other pickups or of another engine leaves no reading of the one before standing; a new name does.
func TestAnotherUnitOrEngineBeginsAnew(t *testing.T) {
	for _, c := range []struct {
		old, new string
		stand    int
	}{
		{`name: "Sandpiper, main engine"`, `name: "Plover, main engine"`, 4},
		{"crank: {kind: hall", "crank: {kind: optical", 0},
		{"rotation: clockwise, bore", "rotation: counterclockwise, bore", 0},
	} {
		s := carded(t)
		text := s.job().YAML
		for i, rpm := range []float64{800, 1800, 2800, 3700} {
			s.read(string(rune('a'+i)), rpm, 8)
		}
		s.and(book.KindCardSaved, map[string]any{"yaml": strings.Replace(text, c.old, c.new, 1)})
		j := s.job()
		if j.Card == nil {
			t.Fatalf("%s: %v", c.new, j.Mistakes)
		}
		if n := len(j.AfterCorrections()); n != c.stand {
			t.Errorf("%s → %s: %d readings stand, want %d", c.old, c.new, n, c.stand)
		}
	}
}

func proofOf(t *testing.T, j *Job) *report.Paper {
	t.Helper()
	p, err := j.ProofPaper(Files{Export: written("the job")}, drawing.A4)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// A signed proof that no longer stands is printed as it was signed, and says that it is superseded; without a signature the
// paper says so where one would stand.
func TestSupersededProof(t *testing.T) {
	s := shown(t)
	asItWas := words(proofOf(t, s.job()))
	if strings.Contains(asItWas, "NOT SIGNED") || strings.Contains(asItWas, "SUPERSEDED") || !strings.Contains(asItWas, "A. Reed") {
		t.Errorf("signed, it says %.300s", asItWas)
	}
	j := s.read("late", 800, 6).job()
	if now := words(proofOf(t, j)); !strings.Contains(now, "NOT SIGNED") || strings.Contains(now, "A. Reed") {
		t.Errorf("after one more reading it says %.300s", now)
	}
	if len(j.Superseded) != 1 || j.Signed != nil || len(j.Signings) != 0 {
		t.Fatalf("superseded %+v, signed %v", j.Superseded, j.Signings)
	}
	then := words(proofOf(t, j.AsSigned(j.Superseded[0])))
	if !strings.Contains(then, "SUPERSEDED on 2026-03-1") || !strings.Contains(then, "A. Reed") || strings.Contains(then, "NOT SIGNED") {
		t.Errorf("as it was signed it says %.300s", then)
	}
	was, errWas := shown(t).job().Proof()
	is, errIs := j.AsSigned(j.Superseded[0]).Proof()
	if errWas != nil || errIs != nil || was.Is.Offset != is.Is.Offset || was.Is.Delay != is.Is.Delay || was.Is.Used != is.Is.Used {
		t.Errorf("it rests on %+v, and was signed on %+v (%v, %v)", is.Is.Offset, was.Is.Offset, errIs, errWas)
	}
	for _, kind := range []book.Kind{book.KindInstrumentUsed, book.KindJobReopened} {
		s := shown(t).later(48*time.Hour).and(kind, map[string]any{"id": "l1", "kind": "timing light", "name": "x"})
		if j := s.job(); len(j.Signings) != 0 || len(j.Superseded) != 1 {
			t.Errorf("%s: signed by %v, superseded %d", kind, j.Signings, len(j.Superseded))
		}
	}
}
