package record

import (
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"

	"phasewright/book"
	"phasewright/drawing"
	"phasewright/readings"
)

// A housing turn against the rotor advances, one with it retards: twice its degrees on the crank. Readings before and
// after it fit one line. (Turning the housing against the rotor makes the edge come sooner: common practice.)
func TestHousingTurnsCarryOver(t *testing.T) {
	for _, c := range []struct {
		shown     float64 // before the turn of 1.5°
		direction string
		housing   float64 // afterwards
	}{{5, readings.AgainstRotor, -1.5}, {11, readings.WithRotor, 1.5}} {
		s := carded(t)
		for i, rpm := range []float64{800, 1800, 2800, 3700} {
			s.read(string(rune('a'+i)), rpm, c.shown)
		}
		j := s.and(book.KindCorrectionMade, map[string]any{"housing_deg": 1.5, "direction": c.direction}).job()
		if res, err := j.Fit(); err != nil || !j.Pending() || math.Abs(res.Offset.Value-(c.shown-8)) > 0.01 || res.Used != 4 {
			t.Errorf("%s: before any reading tried the turn the fit is %v° through %d, %v; pending %v", c.direction, res.Offset.Value, res.Used, err, j.Pending())
		}
		j = s.read("e", 800, 8).job()
		rows := j.Table().Rows
		if len(rows) != 5 || rows[3].Housing != 0 || float64(rows[4].Housing) != c.housing || j.Pending() {
			t.Errorf("%s: housing %v then %v, pending %v", c.direction, rows[3].Housing, rows[4].Housing, j.Pending())
		}
		if res, err := j.Fit(); err != nil || math.Abs(res.Offset.Value) > 0.01 || res.Used != 5 || res.From != 0 {
			t.Errorf("%s: %v° through %d readings, %v; want 0° through 5", c.direction, res.Offset.Value, res.Used, err)
		}
		for i, rpm := range []float64{1800, 2800, 3700} {
			s.read(string(rune('f'+i)), rpm, 8)
		}
		if res, err := s.job().Fit(); err != nil || math.Abs(res.Offset.Value) > 0.01 || res.Used != 4 || res.From != 4 {
			t.Errorf("%s: %v° through %d readings from %d, %v; want 0° through the 4 new ones", c.direction, res.Offset.Value, res.Used, res.From, err)
		}
	}
}

// A withdrawn reading leaves the fit, not the record.
func TestWithdrawnReading(t *testing.T) {
	j := carded(t).read("a", 800, 9).read("b", 2000, 25).and(book.KindReadingWithdrawn, map[string]any{"id": "b"}).job()
	if len(j.Readings) != 2 || j.Readings[1].Withdrawn != "no reason given" || len(j.Counting()) != 1 || len(j.Table().Rows) != 1 {
		t.Errorf("%+v", j.Readings)
	}
}

// The allowance is the card's 85 µs until a correction sets another; a housing turn leaves it alone.
func TestAllowanceNow(t *testing.T) {
	s := carded(t)
	if a := s.job().Allowance(); a.Or(0) != 85 {
		t.Errorf("%v on the card", a)
	}
	s.and(book.KindCorrectionMade, map[string]any{"allowance_us": 160.0}).and(book.KindCorrectionMade, map[string]any{"housing_deg": 1.0, "direction": readings.WithRotor})
	if a := s.job().Allowance(); a.Or(0) != 160 {
		t.Errorf("%v after the correction", a)
	}
}

// A signature stands until something that the proof rests on moves; a note moves nothing.
func TestSignatureStandsOnItsGround(t *testing.T) {
	signed := func() *tale {
		return carded(t).read("a", 800, 8).and(book.KindProofSigned, map[string]any{"name": "A. Reed", "verdict": "pass"})
	}
	for _, c := range []struct {
		kind    book.Kind
		payload map[string]any
		stands  bool
	}{
		{book.KindNoteAdded, map[string]any{"text": "belt squeals"}, true},
		{book.KindStepDone, map[string]any{"step": "idle"}, true},
		{book.KindReadingAdded, map[string]any{"id": "z", "rpm": 900, "shown_deg": 8, "locked_deg": 8}, false},
		{book.KindReadingWithdrawn, map[string]any{"id": "a"}, false},
		{book.KindCorrectionMade, map[string]any{"allowance_us": 120}, false},
		{book.KindCardSaved, map[string]any{"yaml": "job: {name: other}"}, false},
	} {
		s := signed()
		at := s.line.Version
		j := s.and(c.kind, c.payload).job()
		if (j.Signed != nil) != c.stands || j.SameGround(at) != c.stands {
			t.Errorf("%s: signed %v, same ground %v; want both %v", c.kind, j.Signed, j.SameGround(at), c.stands)
		}
	}
	if j := signed().job(); j.Signed == nil || j.Signed.Name != "A. Reed" || j.Signed.Version != 3 || j.SameGround(0) {
		t.Errorf("signed by %+v", j.Signed)
	}
}

// Events taken in one by one come to what they come to at once, and a job once made stays as it was.
func TestFoldInParts(t *testing.T) {
	s := carded(t).read("a", 800, 9).read("b", 1500, 9.4).and(book.KindReadingWithdrawn, map[string]any{"id": "b", "reason": "dial was off"}).read("c", 3000, 10).
		and(book.KindCorrectionMade, map[string]any{"housing_deg": 0.5, "direction": readings.WithRotor}).read("d", 800, 8).and(book.KindNoteAdded, map[string]any{"text": "clamped"})
	step := new(Job)
	var third *Job
	for i, e := range s.events {
		line := s.line
		line.Version = e.Version
		step = step.Fold(line, []book.Event{e})
		if i == 2 {
			third = step
		}
	}
	tell := func(j *Job) string {
		res, err := j.Fit()
		if err != nil {
			t.Fatal(err)
		}
		text, err := json.Marshal([]any{j, j.Table().Rows, res})
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	if a, b := tell(step), tell(s.job()); a != b {
		t.Errorf("one by one\n%s\nat once\n%s", a, b)
	}
	if len(third.Events) != 3 || len(third.Readings) != 2 || third.Readings[1].Withdrawn != "" || len(third.Corrections) != 0 {
		t.Errorf("the job of three events became %+v", third)
	}
}

// The sheet is worked out once for a card, and anew for another card.
func TestSheetFollowsTheCard(t *testing.T) {
	s := carded(t)
	first := s.job()
	one, err := first.Sheet()
	if err != nil {
		t.Fatal(err)
	}
	s.read("a", 800, 9)
	read := first.Fold(s.line, s.events[1:])
	if same, err := read.Sheet(); err != nil || same != one {
		t.Error("a reading has the sheet made anew", err)
	}
	s.and(book.KindCardSaved, map[string]any{"yaml": strings.Replace(first.YAML, "diameter: 168 mm", "diameter: 200 mm", 1)})
	other, err := read.Fold(s.line, s.events[2:]).Sheet()
	if err != nil {
		t.Fatal(err)
	}
	was, is := one.Marks[1], other.Marks[1]
	if ratio := is.ArcMM / was.ArcMM; was.AngleDeg != is.AngleDeg || math.Abs(ratio-200.0/168) > 1e-4 { // an arc grows as the diameter
		t.Errorf("on the new card's damper %s stands at %v mm, before at %v mm", is.Name, is.ArcMM, was.ArcMM)
	}
}

// An event that came between the two questions counts: version, head, time and hand are those of the last event.
func TestLineOlderThanEvents(t *testing.T) {
	s := carded(t)
	line := s.line
	s.read("a", 800, 9)
	last := s.events[len(s.events)-1]
	if j := new(Job).Fold(line, s.events); j.Version != 2 || len(j.Readings) != 1 || j.Head != last.Hash || !j.LastAt.Equal(last.At) || j.LastWho != last.Who || j.LastKind != last.Kind {
		t.Errorf("version %d with %d readings, head %v, by %s at %v", j.Version, len(j.Readings), j.Head, j.LastWho, j.LastAt)
	}
}

// What this release cannot read is kept and does not count; a reading can still be withdrawn.
func TestUnreadableEvents(t *testing.T) {
	j := carded(t).and(book.KindReadingAdded, "eight hundred").and("valve.lapped", map[string]any{"valve": 3}).and(book.KindCardSaved, []int{1}).read("a", 800, 9).job()
	if len(j.Events) != 5 || len(j.Counting()) != 1 || len(j.Readings) != 2 || j.Readings[0].ID != "version 2" ||
		j.Card == nil || j.CardVersion != 1 {
		t.Errorf("%d events, %d readings, card of version %d", len(j.Events), len(j.Counting()), j.CardVersion)
	}
	for v, want := range map[book.Version]string{1: "", 2: "form", 3: "", 4: "form", 5: ""} {
		if why := j.Why(v); (why == "") != (want == "") || !strings.Contains(why, want) {
			t.Errorf("event %d does not count because %q, want %q", v, why, want)
		}
	}
}

// A correction is tried by a reading that counts, not by one that was withdrawn or cannot be.
func TestOnlyAReadingThatCountsTriesACorrection(t *testing.T) {
	s := carded(t).read("a", 800, 5).and(book.KindCorrectionMade, map[string]any{"housing_deg": 1.5,
		"direction": readings.AgainstRotor})
	if s.read("b", 800, 400); !s.job().Pending() {
		t.Error("an impossible reading tries it")
	}
	if s.read("c", 800, 8); s.job().Pending() {
		t.Error("a reading does not try it")
	}
	if s.and(book.KindReadingWithdrawn, map[string]any{"id": "c"}); !s.job().Pending() {
		t.Error("a withdrawn reading tries it")
	}
}

// A correction that cannot be does not count: neither alone, nor where it would turn the housing further than it goes
// round, counted from the first.
func TestImpossibleCorrections(t *testing.T) {
	s := carded(t).and(book.KindCorrectionMade, map[string]any{"housing_deg": 100, "direction": readings.WithRotor})
	for payload, say := range map[string]string{
		`{"housing_deg":100,"direction":"with the rotor"}`: "200° from where it stood at first",
		`{"housing_deg":-1,"direction":"with the rotor"}`:  "impossible: -1°",
		`{"housing_deg":1}`: "no direction", `{"allowance_us":-1}`: "impossible: -1 µs",
		`{"allowance_us":20001}`: "from 0 to 20000",
	} {
		one := carded(t)
		one.events, one.line = append(one.events, s.events[1:]...), s.line
		j := one.and(book.KindCorrectionMade, json.RawMessage(payload)).read("a", 800, 8).job()
		if why := j.Why(3); !strings.Contains(why, say) || len(j.Corrections) != 1 || j.Readings[0].Housing != 100 ||
			j.Turned() != 100 {
			t.Errorf("%s: %q, %d corrections, housing at %v", payload, why, len(j.Corrections), j.Turned())
		}
		if _, err := j.Fit(); err != nil {
			t.Error(err)
		}
	}
	if j := s.and(book.KindCorrectionMade, map[string]any{"housing_deg": 180, "direction": readings.AgainstRotor,
		"allowance_us": 20000}).job(); j.Turned() != -80 || j.Why(3) != "" {
		t.Errorf("housing at %v, %q", j.Turned(), j.Why(3))
	}
}

// Without a card that can be used all that follows from one is refused with the same words.
func TestNoCard(t *testing.T) {
	wrong := begin(t).and(book.KindCardSaved, map[string]any{"yaml": "engine: {bore: 98 kg}\n"}).job()
	if wrong.Card != nil || len(wrong.Mistakes) == 0 || !strings.Contains(wrong.Mistakes.Error(), "98 kg") {
		t.Errorf("mistakes %v", wrong.Mistakes)
	}
	for _, j := range []*Job{{}, begin(t).job(), wrong} {
		for name, ask := range map[string]func() error{
			"sheet": func() error { _, err := j.Sheet(); return err }, "spark": func() error { _, err := j.Spark(); return err },
			"fit": func() error { _, err := j.Fit(); return err }, "proof": func() error { _, err := j.Proof(); return err },
			"order": func() error { _, _, err := j.Order(j.LastAt); return err }, "set-up": func() error { _, err := j.SetUpPaper(drawing.A4); return err },
			"tape": func() error { _, err := j.TapePaper(drawing.A4); return err }, "spark's paper": func() error { _, err := j.SparkPaper(drawing.A4); return err },
			"steps": func() error { _, err := j.StepsPaper(drawing.A4); return err }, "proof's paper": func() error { _, err := j.ProofPaper(Files{Export: nil}, drawing.A4); return err },
		} {
			if err := ask(); !errors.Is(err, ErrNoCard) {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
}

// What a step that was done means for the readings.
func TestMeaningOfSteps(t *testing.T) {
	j := carded(t).job()
	for _, c := range []struct {
		payload string
		kind    book.Kind
		want    string
	}{
		{`{"step":"idle","proof":{"kind":"reading","value":9.5,"rpm":750}}`, book.KindReadingAdded, `{"id":"k","rpm":750,"shown_deg":9.5,"locked_deg":8,"allowance_us":85,"note":"from the order of work","step":"idle"}`},
		{`{"step":"idle","proof":{"kind":"reading","value":9.5}}`, "", ""},
		{`{"step":"housing","proof":{"kind":"number","value":1.5}}`, book.KindCorrectionMade, `{"housing_deg":1.5,"direction":"with the rotor","note":"from the order of work","step":"housing"}`},
		{`{"step":"housing","proof":{"kind":"number","value":-1.5}}`, book.KindCorrectionMade, `{"housing_deg":1.5,"direction":"against the rotor","note":"from the order of work","step":"housing"}`},
		{`{"step":"housing","proof":{"kind":"number","value":0}}`, "", ""},
		{`{"step":"allowance","proof":{"kind":"number","value":140}}`, book.KindCorrectionMade, `{"allowance_us":140,"note":"from the order of work","step":"allowance"}`},
		{`{"step":"zero","proof":{"kind":"number","value":140}}`, "", ""},
		{`{"step":"housing","proof":{"kind":"written","text":"done"}}`, "", ""},
		{`{"step":"housing"}`, "", ""},
		{`"housing"`, "", ""},
	} {
		d, ok, err := j.Meaning(book.Draft{Who: "Ada", Kind: book.KindStepDone, Key: "k",
			Payload: json.RawMessage(c.payload)}, Stamp{})
		if err != nil || ok != (c.kind != "") || d.Kind != c.kind || string(d.Payload) != c.want || ok &&
			(d.Who != "Ada" || d.Key != "k-for-readings") {
			t.Errorf("%s means %s %s (%v, %v), want %s %s", c.payload, d.Kind, d.Payload, ok, err, c.kind, c.want)
		}
	}
	back := book.Draft{Who: "Ada", Kind: book.KindStepUndone, Key: "k",
		Payload: json.RawMessage(`{"step":"housing","proof":{"value":1.5}}`)}
	if d, ok, err := j.Meaning(back, Stamp{}); ok || err != nil {
		t.Errorf("a step taken back means %s, %v", d.Payload, err)
	}
}

// A form sent twice is known by its key.
func TestRecorded(t *testing.T) {
	s := carded(t).read("a", 800, 8)
	s.events[0].Key = ""
	if j := s.job(); !j.Recorded(s.events[1].Key) || j.Recorded("another") || j.Recorded("") {
		t.Error("the key of the reading is not known, or another one is")
	}
}
