package job_test

import (
	"encoding/json"
	"fmt"
	"net/url"
	"slices"
	"testing"
	"time"

	"phasewright/book"
	"phasewright/procedure"
	"phasewright/record"
	"phasewright/web/webtest"
)

// does does a step beside the line through the page.
func does(s *webtest.Shop, job string, id procedure.StepID) {
	s.T.Helper()
	p, state := s.Ordered(job)
	st, _ := p.Step(id)
	form := webtest.ProofForm(st.Demand)
	for name, value := range map[string]string{"act": "done", "step": string(id), "who": "Ada Reed",
		"version": fmt.Sprint(state.Version), "key": "does " + string(id)} {
		form.Set(name, value)
	}
	if w := s.Post("/job/"+job+"/steps", form); w.Code != 303 {
		s.T.Fatalf("«%s»: %d\n%s", id, w.Code, webtest.HTMLText(w.Body.String()))
	}
}

// A turn of the housing that is entered among the readings is the step of the order that makes it: refused while the
// engine runs, refused without its ticks, then taken with both events stamped; what it touches falls.
func TestCorrectionFromTheReadingsGoesThroughTheOrder(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	s.UpTo(job, procedure.StepProve)
	at := "/job/" + job + "/readings"
	count, sent := shown(s, at), time.Now()
	turn := url.Values{"housing": {"1.5"}, "direction": {"against the rotor"}, "configuration": {count}, "key": {"turn"},
		"taken": {millis(sent)}, "seen": s.Looks(job, procedure.StepHousing)}
	was := len(s.Kinds(job))
	w := s.Post(at+"/correction", turn)
	webtest.WantCode(t, w, 422)
	webtest.WantIn(t, webtest.HTMLText(w.Body.String()), "engine stopped")
	does(s, job, procedure.StepStop)
	bare := url.Values{"housing": {"1.5"}, "direction": {"against the rotor"}, "configuration": {count}, "key": {"bare"}}
	w = s.Post(at+"/correction", bare)
	webtest.WantCode(t, w, 422)
	body := webtest.HTMLText(w.Body.String())
	webtest.WantIn(t, body, "look, then tick it")
	webtest.WantIn(t, body, `name="seen" value="clamp"`)
	webtest.WantIn(t, body, `name="housing" value="1.5"`) // what was typed is kept
	if kinds := s.Kinds(job)[was:]; len(kinds) != 1 {
		t.Fatalf("refused, it left %v", kinds[1:])
	}
	for range 2 { // sent twice it is one turn
		webtest.WantCode(t, s.Post(at+"/correction", turn), 303)
	}
	kinds := s.Kinds(job)[was+1:]
	if !slices.Equal(kinds, []book.Kind{book.KindStepDone, book.KindCorrectionMade}) {
		t.Fatalf("it left %v", kinds)
	}
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	for i, e := range j.Events[was+1:] {
		var stamp record.Stamp
		if err := json.Unmarshal(e.Payload, &stamp); err != nil || stamp.Configuration == nil || stamp.TakenAt == nil ||
			fmt.Sprint(*stamp.Configuration-i) != count || stamp.TakenAt.UnixMilli() != sent.UnixMilli() {
			t.Errorf("%s bears the stamp %+v, want count %s and its clock", e.Kind, stamp, count)
		}
		if o := j.Origin(e); o.Late || o.ClockWrong {
			t.Errorf("%s is said to come late: %+v", e.Kind, o)
		}
	}
	if j.Turned() != -1.5 || len(j.Corrections) != 1 || j.Corrections[0].Step != string(procedure.StepHousing) {
		t.Errorf("turned by %v, %+v", j.Turned(), j.Corrections)
	}
	p, state := s.Ordered(job)
	for _, part := range []procedure.Part{procedure.Settings, procedure.Base, procedure.Idle, procedure.Range} {
		if state.Plant.Get(part) != procedure.No {
			t.Error(procedure.Say(part, state.Plant.Get(part)))
		}
	}
	if next := p.Next(state); next.Step != procedure.StepSettings {
		t.Errorf("next is %+v", next)
	}
	webtest.WantIn(t, webtest.HTMLText(s.Get(at).Body.String()), "housing turned 1.5° against the rotor")
}

// A correction that is entered where the job is not worked by the order here bears the stamp too.
func TestBroughtCorrectionIsStamped(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	at := "/job/" + job + "/readings"
	sent := time.Now()
	webtest.WantCode(t, s.Post(at+"/correction", url.Values{"allowance": {"140"}, "configuration": {shown(s, at)},
		"taken": {millis(sent)}}), 303)
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	var stamp record.Stamp
	last := j.Events[len(j.Events)-1]
	if err := json.Unmarshal(last.Payload, &stamp); err != nil || stamp.Configuration == nil || *stamp.Configuration != 1 ||
		stamp.TakenAt == nil || stamp.TakenAt.UnixMilli() != sent.UnixMilli() {
		t.Errorf("%s %s", last.Kind, last.Payload)
	}
}

// In a browser the form takes the clock of the screen along.
func TestCorrectionTakesTheClockOfTheScreen(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 900, 740)
	job := s.NewJob()
	for _, rpm := range []string{"800", "1800", "2800", "3700"} {
		s.Read(job, rpm, "5")
	}
	p.Open("/job/" + job + "/readings")
	p.Wait(`document.documentElement.dataset.script == "on"`)
	p.Click("#fix button")
	p.Wait(`document.querySelector("#done")?.innerText.includes("housing turned")`)
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	var stamp record.Stamp
	last := j.Events[len(j.Events)-1]
	if err := json.Unmarshal(last.Payload, &stamp); err != nil || stamp.TakenAt == nil ||
		time.Since(*stamp.TakenAt).Abs() > time.Minute {
		t.Errorf("%s %s", last.Kind, last.Payload)
	}
	for _, c := range p.Complaints() {
		t.Error("console: " + c)
	}
}

// Another wire is read through its step: the form asks for the figure, the speed and whose wire it was, the companion
// first, and what was read stands in the record.
func TestAnotherWireIsReadThroughItsStep(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	s.UpTo(job, procedure.StepProve)
	does(s, job, procedure.StepStop)
	p, state := s.Ordered(job)
	st, _ := p.Step(procedure.StepOther)
	first := fmt.Sprint(st.Demand.Wires[0])
	body := webtest.HTMLText(s.Get("/job/" + job + "/steps?step=other-wires").Body.String())
	webtest.WantIn(t, body, `<select id="wire" name="wire"><option>`+first+`</option>`)
	form := webtest.ProofForm(st.Demand)
	for name, value := range map[string]string{"act": "done", "step": "other-wires", "who": "Ada Reed", "key": "wire",
		"version": fmt.Sprint(state.Version), "value": "9.5", "rpm": "760", "wire": "99"} {
		form.Set(name, value)
	}
	w := s.Post("/job/"+job+"/steps", form)
	webtest.WantCode(t, w, 422)
	webtest.WantIn(t, webtest.HTMLText(w.Body.String()), "choose the cylinder whose wire")
	form.Set("wire", first)
	webtest.WantCode(t, s.Post("/job/"+job+"/steps", form), 303)
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	step, read := j.Events[len(j.Events)-2], j.Events[len(j.Events)-1]
	webtest.WantIn(t, string(step.Payload), `"wire":`+first)
	webtest.WantIn(t, string(step.Payload), `"value":9.5`)
	webtest.WantIn(t, string(read.Payload), `"wire":`+first)
	webtest.WantIn(t, string(read.Payload), `"shown_deg":9.5`)
	webtest.WantIn(t, webtest.HTMLText(s.Get("/job/"+job+"/steps").Body.String()),
		"light shows 9.5° at 760 rpm on the wire of cylinder "+first)
}
