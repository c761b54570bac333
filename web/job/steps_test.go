package job_test

import (
	"encoding/json"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"phasewright/book"
	"phasewright/procedure"
	"phasewright/web/webtest"
)

// The whole order of work can be ticked through the pages without script, and the readings taken on the way stand on the readings page.
func TestOrderOfWorkWithoutScript(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	for n := 0; ; n++ {
		p, state := s.Ordered(job)
		now := p.Next(state)
		page := s.Get("/job/" + job + "/steps")
		webtest.WantCode(t, page, 200)
		if now.Finished {
			webtest.WantIn(t, webtest.HTMLText(page.Body.String()), "The whole order of work is done.")
			break
		}
		st, _ := p.Step(now.Step)
		webtest.WantIn(t, webtest.HTMLText(page.Body.String()), st.Title)
		if st.Hazard != "" {
			webtest.WantIn(t, webtest.HTMLText(page.Body.String()), st.Hazard)
		}
		if n > 60 {
			t.Fatalf("no end; now at «%s»", now.Step)
		}
		s.Step(job)
	}
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(j.Readings); n != 2 {
		t.Errorf("%d readings from the order of work, want those of idle and range", n)
	}
	webtest.WantIn(t, s.Get("/job/"+job).Body.String(), "step done")
	pdf := s.Get("/job/" + job + "/steps.pdf")
	webtest.WantCode(t, pdf, 200)
	if !strings.HasPrefix(pdf.Body.String(), "%PDF") {
		t.Error("no PDF")
	}
}

// What is locked is refused in words with the step to go to; an override needs name and reason, and stays on the page.
func TestStepRefusedAndOverridden(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	s.UpTo(job, procedure.StepTurnOver)
	at := "/job/" + job + "/steps"
	post := func(form url.Values) *http.Response {
		_, state := s.Ordered(job)
		if form.Get("version") == "" {
			form.Set("version", strconv.FormatInt(state.Version, 10))
		}
		return s.Post(at, form).Result()
	}
	before := len(s.Kinds(job))
	for _, c := range []struct {
		name string
		form url.Values
		code int
	}{
		{"locked", url.Values{"act": {"done"}, "step": {"start"}, "who": {"Ada"}}, 422},
		{"no name", url.Values{"act": {"done"}, "step": {"walk"}}, 422},
		{"no act", url.Values{"step": {"walk"}, "who": {"Ada"}}, 422},
		{"unknown step", url.Values{"act": {"done"}, "step": {"polish"}, "who": {"Ada"}}, 404},
		{"stale", url.Values{"act": {"done"}, "step": {"walk"}, "who": {"Ada"}, "version": {"2"}}, 409},
		{"no version", url.Values{"act": {"done"}, "step": {"walk"}, "who": {"Ada"}, "version": {"x"}}, 409},
		{"override without a reason", url.Values{"act": {"override"}, "step": {"start"}, "who": {"Ada"}, "reason": {" - "}}, 422},
		{"override of what is open", url.Values{"act": {"override"}, "step": {"start"}, "reason": {"because I can"}}, 422},
		{"back without a reason", url.Values{"act": {"back"}, "step": {"clamp"}, "who": {"Ada"}}, 422},
		{"back of what is not done", url.Values{"act": {"back"}, "step": {"start"}, "who": {"Ada"}, "reason": {"wrong tick"}}, 422},
	} {
		if r := post(c.form); r.StatusCode != c.code {
			t.Errorf("%s: %d, want %d", c.name, r.StatusCode, c.code)
		}
	}
	if n := len(s.Kinds(job)); n != before {
		t.Fatalf("%d events came of refused requests", n-before)
	}
	page := webtest.HTMLText(s.Get(at + "?step=start").Body.String())
	webtest.WantIn(t, page, "Locked")
	webtest.WantIn(t, page, "base timing proven")
	if r := post(url.Values{"act": {"override"}, "step": {"coil-on"}, "who": {"Ben Foreman"}, "reason": {"walked round with the owner"}}); r.StatusCode != 303 {
		t.Fatalf("override: %d", r.StatusCode)
	}
	webtest.WantIn(t, webtest.HTMLText(s.Get(at).Body.String()), "overridden by Ben Foreman")
	webtest.WantIn(t, webtest.HTMLText(s.Get(at).Body.String()), "walked round with the owner")
	if r := post(url.Values{"act": {"back"}, "step": {"coil-on"}, "who": {"Ada"}, "reason": {"too early after all"}}); r.StatusCode != 303 {
		t.Fatalf("back: %d", r.StatusCode)
	}
	page = webtest.HTMLText(s.Get(at).Body.String())
	webtest.WantIn(t, page, "too early after all")
	webtest.WantIn(t, page, "overridden by Ben Foreman") // it stays
}

// A wrong figure is refused with the branch to take and what was typed still there; the same form sent twice counts once.
func TestStepFiguresAndDoubleSending(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	s.UpTo(job, procedure.StepMarks)
	at := "/job/" + job + "/steps"
	_, state := s.Ordered(job)
	form := url.Values{"act": {"done"}, "step": {"marks"}, "who": {"Ada"}, "version": {strconv.FormatInt(state.Version, 10)}, "value": {"84,0"}, "key": {"k1"}}
	w := s.Post(at, form)
	webtest.WantCode(t, w, 422)
	page := w.Body.String()
	webtest.WantIn(t, webtest.HTMLText(page), "straight-line distance")
	if !regexp.MustCompile(`name="value" value="84,0"`).MatchString(page) {
		t.Error("what was typed is gone")
	}
	form.Set("value", "two hands")
	webtest.WantIn(t, webtest.HTMLText(s.Post(at, form).Body.String()), "two hands")
	form.Set("value", "88,0 ")
	before := len(s.Kinds(job))
	webtest.WantCode(t, s.Post(at, form), 303)
	webtest.WantCode(t, s.Post(at, form), 303)
	if n := len(s.Kinds(job)); n != before+1 {
		t.Errorf("sent twice, recorded %d times", n-before)
	}
}

// Somebody who may only look sees the step and no form; a job without a usable card says what is missing.
func TestStepsForLookersAndWithoutCard(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	blank := strings.TrimSuffix(s.Post("/new", url.Values{"name": {"Blank"}, "from": {"blank"}}).Header().Get("Location"), "/card")
	webtest.WantIn(t, webtest.HTMLText(s.Get(blank+"/steps").Body.String()), "needs a job card")
	webtest.WantCode(t, s.Get("/job/"+job+"/steps?step=polish"), 404)
	webtest.WantCode(t, s.Post(blank+"/steps", url.Values{"act": {"done"}, "step": {"plan"}}), 409)
}

// A housing turned and an allowance changed in the order of work count for the readings.
func TestStepsCountForTheReadings(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	s.UpTo(job, procedure.StepProve)
	do := func(id procedure.StepID, value string) {
		t.Helper()
		_, state := s.Ordered(job)
		webtest.WantCode(t, s.Post("/job/"+job+"/steps", url.Values{"act": {"done"}, "step": {string(id)}, "who": {"Ada"}, "version": {strconv.FormatInt(state.Version, 10)}, "value": {value}, "key": {"do-" + string(id)}}), 303)
	}
	do(procedure.StepStop, "")
	do(procedure.StepAllowance, "145")
	do(procedure.StepHousing, "-1.5")
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(j.Corrections); n != 2 || *j.Corrections[0].Allowance != 145 || j.Corrections[1].Housing != 1.5 || j.Corrections[1].Direction != "against the rotor" {
		t.Errorf("corrections %+v", j.Corrections)
	}
	var last book.Event
	for _, e := range j.Events {
		if e.Kind == book.KindStepDone {
			last = e
		}
	}
	var body struct{ Step, Who string }
	if err := json.Unmarshal(last.Payload, &body); err != nil || body.Step != "housing" || body.Who != "Ada" {
		t.Errorf("%s %v", last.Payload, err)
	}
}

// On a phone: one step a screen, nothing wider than the screen, big targets; another phone's tick arrives by itself. STEPS=folder keeps pictures.
func TestStepsOnAPhone(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	b := webtest.Browser(t)
	job := s.NewJob()
	at := "/job/" + job + "/steps"
	phone, other := s.Screen(b, base, 360, 740), s.Screen(b, base, 360, 740)
	dir := os.Getenv("STEPS")
	snap := func(name string) {
		if dir == "" {
			return
		}
		for _, look := range []string{"light", "dark"} {
			phone.Scheme(look)
			png, err := chromedp.Run(phone.Ctx, chromedp.FullScreenshot(100))
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(dir, name+"-"+look+".png"), png, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		phone.Scheme("light")
	}
	phone.Open(at)
	other.Open(at)
	other.Wait(`document.documentElement.dataset.script == "on"`)
	snap("plan")
	phone.Do(chromedp.SetValue(chromedp.CSS("#who"), "Ada Reed"))
	phone.Click("#step button.primary")
	other.Wait(`document.querySelector("#step h2").innerText == "Secure vehicle and place"`)
	phone.Wait(`document.querySelector("#step h2").innerText == "Secure vehicle and place"`)
	for _, id := range []procedure.StepID{procedure.StepZero, procedure.StepMarks, procedure.StepLead,
		procedure.StepOpen, procedure.StepDrop, procedure.StepPhase, procedure.StepWires, procedure.StepBase,
		procedure.StepIdle, procedure.StepProve} {
		s.UpTo(job, id)
		phone.Open(at)
		if w := webtest.Eval[float64](phone, `document.documentElement.scrollWidth`); w > 360 {
			t.Errorf("«%s» is %v px wide on a screen of 360", id, w)
		}
		small := webtest.Eval[string](phone, `[...document.querySelectorAll("#step button, #step .button, #step input:not([type=hidden]):not([type=radio]), #step summary, #step select")].filter(e => e.getClientRects().length && e.getBoundingClientRect().height < 47.5).map(e => e.outerHTML.slice(0, 80)).join("; ")`)
		if small != "" {
			t.Errorf("«%s»: smaller than 48 px: %s", id, small)
		}
		if n := webtest.Eval[float64](phone, `document.querySelectorAll("#step .primary").length`); n != 1 {
			t.Errorf("«%s» has %v primary actions", id, n)
		}
		snap(string(id))
	}
	phone.Open(at + "?step=sign-off")
	snap("locked")
	phone.Open(at + "?step=walk")
	phone.Do(chromedp.Evaluate[chromedp.Void](`document.querySelectorAll("details").forEach(d => d.open = true)`))
	snap("all-open")
	if bad := append(phone.Complaints(), other.Complaints()...); len(bad) > 0 {
		t.Errorf("console: %v", bad)
	}
}

// The step that marks the damper shows it, with the distance of the trigger lead beside the arc (work boat, invented: π·168·60/360 = 88.0 mm).
func TestMarkStepShowsTheDamper(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	body := s.Get("/job/" + job + "/steps?step=marks").Body.String()
	webtest.WantIn(t, body, "<svg")
	webtest.WantIn(t, body, "88.0 mm")
}
