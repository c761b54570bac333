package record

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"phasewright/book"
	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/procedure"
	"phasewright/readings"
	"phasewright/sheet"
)

// stamped adds a reading that a screen sent which showed the given count; taken is its clock, in minutes after nine.
func (s *tale) stamped(id string, rpm, shown float64, configuration int, taken float64) *tale {
	s.t.Helper()
	at := time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC).Add(time.Duration(taken * float64(time.Minute)))
	stamp := Stamp{Configuration: &configuration, TakenAt: &at}
	payload, err := stamp.On(s.job().Reading(Reading{ID: id, RPM: rpm, Shown: shown, Locked: 8}, stamp))
	if err != nil {
		s.t.Fatal(err)
	}
	return s.and(book.KindReadingAdded, payload)
}

// onCard is the allowance on the card of the invented job.
func onCard(t testing.TB) float64 { return float64(carded(t).job().Allowance().Or(0)) }

// turned is an invented job: four readings 3° late, the housing turned by 1.5° and the allowance raised by 60 µs, one
// reading after that.
func turned(t testing.TB) *tale {
	s := carded(t)
	for i, rpm := range []float64{800, 1800, 2800, 3700} {
		s.read(string(rune('a'+i)), rpm, 5)
	}
	return s.and(book.KindCorrectionMade, map[string]any{"housing_deg": 1.5, "direction": readings.AgainstRotor,
		"allowance_us": onCard(t) + 60}).read("z", 800, 8)
}

// A reading that waited on a phone while the housing was turned belongs to the four before the turn: their housing,
// their allowance, their place in fit and proof.
func TestLateReadingBelongsToItsConfiguration(t *testing.T) {
	s := turned(t)
	was := s.job()
	before := was.Configuration() - 1
	j := s.stamped("q", 2200, 5, before, 5.5).job()
	var ids string
	for _, r := range j.Readings {
		ids += r.ID
	}
	q := j.Readings[4]
	if ids != "abcdqz" || q.Housing != 0 || *q.Allowance != onCard(t) || j.Readings[5].Housing != -1.5 {
		t.Fatalf("order %s, the late one %+v, the one after the turn %+v", ids, q, j.Readings[5])
	}
	if !q.Origin.Late || q.Origin.Configuration != before || q.Origin.ClockWrong || q.Origin.AfterAll ||
		q.Origin.Taken.Minute() != 5 || q.At.Minute() != 8 {
		t.Errorf("it is said to come from %+v", q.Origin)
	}
	if j.Pending() != was.Pending() || len(j.AfterCorrections()) != 1 || j.Corrections[0].After != 5 {
		t.Errorf("pending %v, %d after the correction, which came after %d", j.Pending(), len(j.AfterCorrections()),
			j.Corrections[0].After)
	}
	old, now := j.proofRows()
	if len(old) != 5 || len(now) != 1 {
		t.Errorf("the proof rests on %d before and %d after", len(old), len(now))
	}
	// 3° late at 2200 rpm, carried over a turn that advances by twice 1.5° and an allowance that rose by 60 µs:
	// 6·2200·60·10⁻⁶ = 0.792°.
	if res, err := j.Fit(); err != nil || res.Used != 6 || math.Abs(res.Points[4].Error-0.792) > 1e-9 {
		t.Errorf("the fit: %+v, %v", res, err)
	}
	// A correction that nothing has tried stays pending when a reading of before it comes in.
	p := carded(t).read("a", 800, 5).and(book.KindCorrectionMade, map[string]any{"housing_deg": 1.5,
		"direction": readings.AgainstRotor})
	if j := p.stamped("q", 900, 5, 1, 2.5).job(); !j.Pending() || len(j.AfterCorrections()) != 0 {
		t.Error("a reading of before the turn counts as a trial of it")
	}
}

// Without a stamp, and with one that cannot be right, a reading belongs where it arrived.
func TestReadingWithoutStampBelongsWhereItArrived(t *testing.T) {
	for name, payload := range map[string]map[string]any{
		"none": {}, "of the future": {"configuration": 99}, "negative": {"configuration": -1},
		"no number": {"configuration": "soon", "taken_at": "yesterday"},
	} {
		payload["id"], payload["rpm"], payload["shown_deg"], payload["locked_deg"] = "q", 2200, 8, 8
		j := turned(t).and(book.KindReadingAdded, payload).job()
		if q := j.Readings[5]; q.ID != "q" || q.Housing != -1.5 || q.Origin.Late ||
			q.Origin.Configuration != j.Configuration() || !q.Origin.Taken.Equal(q.At) {
			t.Errorf("%s: %+v", name, j.Readings)
		}
	}
}

// The clock of the screen is believed where it can be right: not before the job began, not after the arrival, two
// minutes of grace.
func TestClockOfTheScreen(t *testing.T) {
	for _, c := range []struct {
		taken           float64
		wrong, afterAll bool
	}{{5.5, false, false}, {7.9, false, false}, {8.1, false, true}, {9.9, false, true}, {10.1, true, false}, {-0.9,
		false, false}, {-1.1, true, false}} {
		j := turned(t).stamped("q", 2200, 5, 1,
			c.taken).job() // the job began at 9:01, the turn came at 9:06, the reading at 9:08
		o := j.Readings[4].Origin
		if !o.Late || o.ClockWrong != c.wrong || o.AfterAll != c.afterAll ||
			o.Taken.Equal(j.Readings[4].At) != c.wrong {
			t.Errorf("taken %v minutes after nine: %+v", c.taken, o)
		}
	}
}

// Late readings taken in one by one, in any order and over several changes, come to what they come to at once, and a
// job once made stays as it was.
func TestLateReadingsFoldInParts(t *testing.T) {
	s := turned(t).and(book.KindCorrectionMade, map[string]any{"allowance_us": 180.0}).read("y", 900, 8)
	s.stamped("p", 2500, 5, 1, 3).stamped("r", 1000, 8, 2, 7).stamped("q", 2200, 5, 1, 4)
	step := new(Job)
	var held []*Job
	var told []string
	tell := func(j *Job) string {
		text, err := json.Marshal([]any{j.Table().Rows, j.Readings, j.Corrections, j.AfterCorrections()})
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	for _, e := range s.events {
		step = step.Fold(s.line, []book.Event{e})
		held, told = append(held, step), append(told, tell(step))
	}
	if tell(step) != tell(s.job()) {
		t.Errorf("one by one\n%s\nat once\n%s", tell(step), tell(s.job()))
	}
	for i, j := range held {
		if tell(j) != told[i] {
			t.Errorf("the job of %d events became another", i+1)
		}
	}
	var ids string
	for _, r := range step.Readings {
		ids += r.ID
	}
	if ids != "abcdpqzry" || step.Corrections[0].After != 6 || step.Corrections[1].After != 8 {
		t.Errorf("order %s, corrections after %d and %d", ids, step.Corrections[0].After, step.Corrections[1].After)
	}
}

// The steps that begin a new configuration are those that the procedure knows to move unit, housing, settings,
// allowance or wires.
func TestMovingStepsAreThoseOfTheProcedure(t *testing.T) {
	seen := map[procedure.StepID]bool{}
	for _, c := range examples.Cards() {
		card, err := jobcard.Parse(c.Name, []byte(c.YAML))
		if err != nil {
			t.Fatal(err)
		}
		sh, err := sheet.Make(card)
		if err != nil {
			t.Fatal(err)
		}
		p, err := procedure.New(card, sh)
		if err != nil {
			t.Fatal(err)
		}
		for _, st := range p.Steps() {
			var why string
			during := slices.Concat(st.During...)
			for _, e := range slices.Concat(during, st.After, st.Undo) {
				switch {
				case e.Part == procedure.Unit && e.To != procedure.OldIn, e.Part == procedure.Phased && e.To == procedure.Yes && st.ID != procedure.StepOther,
					e.Part == procedure.Wires, e.Part == procedure.Settings:
					why = fmt.Sprint(e)
				}
			}
			seen[st.ID] = true
			if (moving[st.ID] != "") != (why != "") {
				t.Errorf("%s: step %s is moving: %v; the procedure says %q", c.Name, st.ID, moving[st.ID], why)
			}
		}
	}
	for id := range moving {
		if old := []procedure.StepID{"old-out", "lift", "slacken", "cap-off"}; !seen[id] && !slices.Contains(old, id) {
			t.Errorf("no example has the step %q", id)
		}
	}
}

// Each change of the engine moves the count by one, nothing else does.
func TestConfigurationCounts(t *testing.T) {
	s := carded(t)
	for _, c := range []struct {
		kind    book.Kind
		payload any
		moves   int
	}{
		{book.KindReadingAdded, map[string]any{"id": "a", "rpm": 800, "shown_deg": 8, "locked_deg": 8}, 0},
		{book.KindNoteAdded, map[string]any{"text": "belt squeals"}, 0},
		{book.KindStepDone, map[string]any{"step": "idle"}, 0},
		{book.KindStepDone, map[string]any{"step": "wires"}, 1},
		{book.KindStepUndone, map[string]any{"step": "settings"}, 1},
		{book.KindStepOverride, map[string]any{"step": "phase"}, 1},
		{book.KindStepDone, "wires", 0},
		{book.KindCorrectionMade, map[string]any{"allowance_us": 120}, 1},
		{book.KindCardSaved, map[string]any{"yaml": "job: {name: other}"}, 1},
		{book.KindProofSigned, map[string]any{"name": "A. Reed"}, 0},
	} {
		was := s.job().Configuration()
		if now := s.and(c.kind, c.payload).job().Configuration(); now != was+c.moves {
			t.Errorf("%s %v: %d became %d", c.kind, c.payload, was, now)
		}
	}
	j := s.job()
	for at, want := range map[int]float64{0: -1, 1: onCard(t), 4: onCard(t), 5: 120, 6: -1, 7: -1, -1: -1} {
		if a, ok := j.AllowanceAt(at); ok != (want >= 0) || ok && float64(a) != want {
			t.Errorf("configuration %d had the allowance %v (%v), want %v", at, a, ok, want)
		}
	}
}
