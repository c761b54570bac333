package job_test

import (
	"bytes"
	"fmt"
	"net/url"
	"strings"
	"testing"

	"phasewright/bench"
	"phasewright/book"
	"phasewright/procedure"
	"phasewright/web/webtest"
)

// held is a recording of the bench running the Sandpiper card, sent to a job and read.
func held(s *webtest.Shop, job, name string, rpm float64) book.Hash {
	s.T.Helper()
	c := webtest.SandpiperBench(s.T)
	run, err := bench.ParseProfile(fmt.Sprintf("hold %.0f rpm for 6 s", rpm))
	if err != nil {
		s.T.Fatal(err)
	}
	rig, err := bench.NewRig(c, bench.Faults{}, run, 1)
	if err != nil {
		s.T.Fatal(err)
	}
	var b bytes.Buffer
	if err := bench.WriteVCD(&b, rig); err != nil {
		s.T.Fatal(err)
	}
	if w := s.Do(webtest.UploadKeyed("/job/"+job+"/captures", webtest.HostAddr, "key of "+name, name, &b)); w.Code != 303 {
		s.T.Fatal(w.Code, w.Body)
	}
	s.Settle()
	files, err := s.Book.Attachments(s.T.Context(), job)
	if err != nil {
		s.T.Fatal(err)
	}
	for _, f := range files {
		if f.Name == name {
			return f.SHA256
		}
	}
	s.T.Fatal("not stored")
	return book.Hash{}
}

// A step that a recording can show offers those that fit, with their figures, and takes the figures from the one chosen.
func TestStepOffersRecordingsThatFit(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	s.UpTo(job, procedure.StepIdle)
	idle := held(s, job, "slow.vcd", 750)
	held(s, job, "fast.vcd", 1500)
	body := webtest.HTMLText(s.Get("/job/" + job + "/steps").Body.String())
	webtest.WantIn(t, body, "slow.vcd: 8.0° ± 0.3° at 750 rpm")
	if strings.Contains(body, "fast.vcd") {
		t.Error("a recording of another speed is offered")
	}
	_, state := s.Ordered(job)
	form := url.Values{"act": {"done"}, "step": {"idle"}, "who": {"Ada"}, "version": {fmt.Sprint(state.Version)}, "key": {"k"},
		"file": {idle.String()}, "value": {"12"}, "rpm": {"900"}, "seen": s.Looks(job, procedure.StepIdle)}
	webtest.WantCode(t, s.Post("/job/"+job+"/steps", form), 303)
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil || len(j.Readings) != 1 || j.Readings[0].Recording != idle.String() || j.Readings[0].Shown > 8.2 {
		t.Fatalf("%+v, %v", j.Readings, err)
	}
	body = webtest.HTMLText(s.Get("/job/" + job + "/steps").Body.String())
	if strings.Contains(body, "slow.vcd") { // it is no evidence of the next speed, nor is the fast one of 1500 rpm unless asked for
		t.Error("a recording that was taken is offered again")
	}
	// a file that is no recording is refused with what to do
	_, state = s.Ordered(job)
	form.Set("version", fmt.Sprint(state.Version))
	form.Set("key", "other")
	form.Set("step", "range")
	form.Set("file", strings.Repeat("0", 64))
	form["seen"] = s.Looks(job, procedure.StepRange)
	w := s.Post("/job/"+job+"/steps", form)
	webtest.WantCode(t, w, 422)
	webtest.WantIn(t, webtest.HTMLText(w.Body.String()), "read it first")
}
