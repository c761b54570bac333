package recording_test

import (
	"net/url"
	"strings"
	"testing"

	"phasewright/book"
	"phasewright/procedure"
	"phasewright/web/webtest"
)

// primary counts the primary actions of a page.
func primary(body string) int { return strings.Count(body, `class="primary wide"`) }

// A recording made in its place is taken as evidence from its page: its figures, a tick each, one primary action; then
// the page says of which step, and the reading stands with its uncertainty.
func TestRecordingIsTakenAsEvidence(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	s.UpTo(job, procedure.StepIdle)
	at := sent(s, job, "idle.vcd", benchRun(t, "hold 750 rpm for 8 s"), nil)
	body := webtest.HTMLText(s.Get(at).Body.String())
	for _, part := range []string{"belongs to: ", "The recording shows 8.0", "at 750 rpm", "Take as evidence",
		"it stayed while the throttle moved"} {
		webtest.WantIn(t, body, part)
	}
	if n := primary(body); n != 1 {
		t.Errorf("%d primary actions", n)
	}
	if strings.Contains(body, "Enter it as brought") {
		t.Error("it is offered as brought too")
	}
	was := len(s.Kinds(job))
	w := s.Post(at+"/evidence", url.Values{"key": {"k"}})
	webtest.WantCode(t, w, 422)
	webtest.WantIn(t, webtest.HTMLText(w.Body.String()), "look, then tick it")
	if len(s.Kinds(job)) != was {
		t.Error("without its tick it left something")
	}
	form := url.Values{"key": {"k"}, "seen": s.Looks(job, procedure.StepIdle), "rpm": {"900"}, "value": {"3"}}
	for range 2 { // sent twice it counts once
		webtest.WantCode(t, s.Post(at+"/evidence", form), 303)
	}
	kinds := s.Kinds(job)[was:]
	if len(kinds) != 2 || kinds[0] != book.KindStepDone || kinds[1] != book.KindReadingAdded {
		t.Fatalf("it left %v", kinds)
	}
	body = webtest.HTMLText(s.Get(at).Body.String())
	webtest.WantIn(t, body, "taken as evidence, by ")
	if strings.Contains(body, "Take as evidence") || primary(body) != 0 {
		t.Error("it is offered again")
	}
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	if r := j.Readings[0]; r.RPM < 740 || r.RPM > 760 || r.Shown < 7.9 || r.Shown > 8.1 || r.U == nil || len(j.Brought()) != 0 {
		t.Errorf("the reading is %+v", r)
	}
	webtest.WantIn(t, webtest.HTMLText(s.Get("/job/"+job+"/steps?step=idle").Body.String()), "recording shows 8.0° ± 0.3° at 750 rpm")
}

// A recording that comes before its step is stored and read all the same; its page says which step is missing, with the
// way there.
func TestRecordingBeforeItsStepSaysWhatIsMissing(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	s.UpTo(job, procedure.StepPlace)
	at := sent(s, job, "early.vcd", benchRun(t, "hold 750 rpm for 8 s"), nil)
	page := s.Get(at).Body.String()
	body := webtest.HTMLText(page)
	for _, part := range []string{"Not taken as evidence", "Moor it, gearbox in neutral", "Enter it as brought"} {
		webtest.WantIn(t, body, part)
	}
	webtest.WantIn(t, page, `/steps?step=place"`)
	if strings.Contains(body, "Take as evidence") {
		t.Error("it is offered as evidence")
	}
	w := s.Post(at+"/evidence", url.Values{"key": {"k"}, "seen": s.Looks(job, procedure.StepIdle)})
	webtest.WantCode(t, w, 422)
	webtest.WantIn(t, webtest.HTMLText(w.Body.String()), "Moor it, gearbox in neutral")
	for _, kind := range s.Kinds(job) {
		if kind == book.KindStepTried || kind == book.KindReadingAdded {
			t.Errorf("it left %s", kind)
		}
	}
}

// Where the job is not worked by the order here, a recording can be entered as brought; it says so, and stays unsigned.
func TestRecordingBroughtFromElsewhere(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	at := sent(s, job, "there.vcd", benchRun(t, "hold 750 rpm for 8 s"), nil)
	body := webtest.HTMLText(s.Get(at).Body.String())
	webtest.WantIn(t, body, "the order of work is not begun here")
	if primary(body) != 1 || strings.Contains(body, "Take as evidence") {
		t.Error(body)
	}
	webtest.WantCode(t, s.Post(at+"/evidence", url.Values{"key": {"k"}, "brought": {"1"}}), 303)
	webtest.WantIn(t, webtest.HTMLText(s.Get(at).Body.String()), "no proof of this order of work")
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil || len(j.Readings) != 1 || !j.Readings[0].Brought || len(j.Brought()) != 1 {
		t.Fatalf("%+v, %v", j.Readings, err)
	}
	if no, err := j.Unsigned(j.LastAt); err != nil || no == nil {
		t.Error("it can be signed as a proof of the order", err)
	}
}

// A recording whose signals are not clean says what to do about them and is offered in no way.
func TestUncleanRecordingIsNoEvidence(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	s.UpTo(job, procedure.StepIdle)
	at := sent(s, job, "crossfire.vcd", benchRun(t, "hold 750 rpm for 8 s", "crossfire=30%"), nil)
	body := webtest.HTMLText(s.Get(at).Body.String())
	webtest.WantIn(t, body, "a whole recording with clean signals")
	if strings.Contains(body, "Take as evidence") || strings.Contains(body, "Enter it as brought") {
		t.Error("it is offered")
	}
}
