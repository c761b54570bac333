package job_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"phasewright/book"
	"phasewright/procedure"
	"phasewright/web/page"
	"phasewright/web/webtest"
)

// The whole order of work can be ticked through the pages without script, and the readings taken on the way stand on
// the readings page.
func TestOrderOfWorkWithoutScript(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	var steps []procedure.Step
	for n := 0; ; n++ {
		p, state := s.Ordered(job)
		steps = p.Steps()
		now := p.Next(state)
		page := s.Get("/job/" + job + "/steps")
		webtest.WantCode(t, page, 200)
		if now.Finished {
			webtest.WantIn(t, webtest.HTMLText(page.Body.String()), "The whole order of work is done.")
			break
		}
		st, _ := p.Step(now.Step)
		webtest.WantIn(t, webtest.HTMLText(page.Body.String()), st.Title)
		text := webtest.HTMLText(page.Body.String())
		if hazard, do := strings.Index(text, st.Hazard), strings.Index(text, st.Do[0]); hazard < 0 || do < hazard {
			t.Errorf("«%s»: the hazard stands at %d, the text at %d", st.ID, hazard, do)
		}
		_, list, _ := strings.Cut(page.Body.String(), `id="list"`)
		for _, one := range p.Standing(state) {
			if listed := strings.Contains(list, `?step=`+string(one.Step)+`"`); listed == one.Hidden {
				t.Errorf("«%s»: «%s» is listed: %v; nothing asks for it: %v", st.ID, one.Step, listed, one.Hidden)
			}
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
	if n := len(j.Readings); n < 5 || j.Signed == nil || j.Signed.Verdict != "pass" || len(j.Brought()) > 0 {
		t.Errorf("%d readings, signed %+v; want those of idle, three speeds and another wire, and a pass", n, j.Signed)
	}
	line := len(slices.DeleteFunc(slices.Clone(steps), func(st procedure.Step) bool { return st.OnDemand }))
	webtest.WantIn(t, s.Get("/job/"+job).Body.String(), fmt.Sprintf("%d of %d steps done", line, line))
	webtest.WantIn(t, s.Get("/job/"+job+"/steps").Body.String(), fmt.Sprintf("All steps: %d of %d done", line, line))
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
		{"no name", url.Values{"act": {"done"}, "step": {"turn-over"}}, 422},
		{"no act", url.Values{"step": {"turn-over"}, "who": {"Ada"}}, 422},
		{"unknown step", url.Values{"act": {"done"}, "step": {"polish"}, "who": {"Ada"}}, 404},
		{"stale", url.Values{"act": {"done"}, "step": {"turn-over"}, "who": {"Ada"}, "version": {"2"}}, 409},
		{"no version", url.Values{"act": {"done"}, "step": {"turn-over"}, "who": {"Ada"}, "version": {"x"}}, 409},
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
	webtest.WantIn(t, page, "Not open yet")
	webtest.WantIn(t, page, "ase timing")
	p, _ := s.Ordered(job)
	st, _ := p.Step(procedure.StepTurnOver)
	form := webtest.ProofForm(st.Demand)
	for name, value := range map[string]string{"act": "override", "step": "turn-over", "who": "Ben Foreman",
		"reason": "walked round with the owner, gauge is broken", "text": "not shown"} {
		form.Set(name, value)
	}
	if r := post(form); r.StatusCode != 303 {
		t.Fatalf("override: %d", r.StatusCode)
	}
	webtest.WantIn(t, webtest.HTMLText(s.Get(at).Body.String()), "overridden by Ben Foreman")
	webtest.WantIn(t, webtest.HTMLText(s.Get(at).Body.String()), "walked round with the owner")
	if r := post(url.Values{"act": {"back"}, "step": {"turn-over"}, "who": {"Ada"}, "reason": {"too early after all"}}); r.StatusCode != 303 {
		t.Fatalf("back: %d", r.StatusCode)
	}
	page = webtest.HTMLText(s.Get(at).Body.String())
	webtest.WantIn(t, page, "too early after all")
	webtest.WantIn(t, page, "overridden by Ben Foreman") // it stays
}

// A wrong figure is refused with the branch to take and what was typed still there; the same form sent twice
// counts once.
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
	webtest.WantCode(t, s.Post(blank+"/steps", url.Values{"act": {"done"}, "step": {"begin"}}), 409)
}

// A housing turned and an allowance changed in the order of work count for the readings.
func TestStepsCountForTheReadings(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	s.UpTo(job, procedure.StepProve)
	do := func(id procedure.StepID, value string) {
		t.Helper()
		_, state := s.Ordered(job)
		webtest.WantCode(t, s.Post("/job/"+job+"/steps", url.Values{"act": {"done"}, "step": {string(id)}, "who": {"Ada"}, "version": {strconv.FormatInt(state.Version, 10)}, "value": {value}, "key": {"do-" + string(id)}, "seen": s.Looks(job, id)}), 303)
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

// On a phone: one step a screen, nothing wider than the screen, big targets; another phone's tick arrives by itself.
// STEPS=folder keeps pictures.
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
	phone.Do(chromedp.SetValue(chromedp.CSS("#text"), "Ada alone"))
	phone.Do(chromedp.Evaluate[chromedp.Void](`document.querySelectorAll("#step form.entry input[name=seen]").forEach(b => b.checked = true)`))
	phone.Click("#step button.primary")
	other.Wait(`document.querySelector("#step h2").innerText == "Moor it, gearbox in neutral, bilge blown out"`)
	phone.Wait(`document.querySelector("#step h2").innerText == "Moor it, gearbox in neutral, bilge blown out"`)
	for _, id := range []procedure.StepID{procedure.StepOpen, procedure.StepZero, procedure.StepMarks,
		procedure.StepLead, procedure.StepDrop, procedure.StepPhase, procedure.StepWires, procedure.StepBase,
		procedure.StepIdle, procedure.StepProve} {
		s.UpTo(job, id)
		phone.Open(at)
		if w := webtest.Eval[float64](phone, `document.documentElement.scrollWidth`); w > 360 {
			t.Errorf("«%s» is %v px wide on a screen of 360", id, w)
		}
		small := webtest.Eval[string](phone, `[...document.querySelectorAll("#step button, #step .button, #step input:not([type=hidden]):not([type=radio]):not([type=checkbox]), #step label.choice, #step summary, #step select")].filter(e => e.getClientRects().length && e.getBoundingClientRect().height < 47.5).map(e => e.outerHTML.slice(0, 80)).join("; ")`)
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
	phone.Open(at + "?step=turn-over")
	phone.Do(chromedp.Evaluate[chromedp.Void](`document.querySelectorAll("details").forEach(d => d.open = true)`))
	snap("all-open")
	if bad := append(phone.Complaints(), other.Complaints()...); len(bad) > 0 {
		t.Errorf("console: %v", bad)
	}
}

// The step that marks the damper shows it, with the distance of the trigger lead beside the arc (work boat, invented:
// π·168·60/360 = 88.0 mm).
func TestMarkStepShowsTheDamper(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	body := s.Get("/job/" + job + "/steps?step=marks").Body.String()
	webtest.WantIn(t, body, "<svg")
	webtest.WantIn(t, body, "88.0 mm")
}

// The steps that look at a pickup's level show how a lamp is wired to it, and the one that looks at the rotor shows where
// the tip must stand.
func TestLampAndRotorAreDrawnAtTheirSteps(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	for step, part := range map[string]string{"power": `id="lamp-p-circuit-1"`, "phase": `id="lamp-d-circuit-1"`,
		"rotor": `id="step-p-window"`} {
		webtest.WantIn(t, s.Get("/job/"+job+"/steps?step="+step).Body.String(), part)
	}
}

// Once the order of work is begun, readings, corrections and the signature ask it: refused with the step that is
// missing, or kept as brought, which cannot be signed as a proof of the order.
func TestPagesAskTheOrder(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	s.Step(job)
	before := len(s.Kinds(job))
	refused := func(path string, form url.Values, words string) {
		t.Helper()
		w := s.Post("/job/"+job+path, form)
		webtest.WantCode(t, w, 422)
		webtest.WantIn(t, webtest.HTMLText(w.Body.String()), words)
	}
	reading := url.Values{"rpm": {"2000"}, "shown": {"8"}, "locked": {"8"}}
	turned := url.Values{"housing": {"7"}, "direction": {"with the rotor"}}
	sign := func() url.Values {
		j, err := s.Shelf.Job(t.Context(), job)
		if err != nil {
			t.Fatal(err)
		}
		return url.Values{"name": {"Ada"}, "version": {strconv.FormatInt(int64(j.Version), 10)}}
	}
	refused("/readings", reading, "Moor it")
	refused("/readings/correction", turned, "the order of work does not take it")
	refused("/proof/sign", sign(), "the order of work stands at")
	if n := len(s.Kinds(job)); n != before {
		t.Errorf("%d events came of it", n-before)
	}
	s.UpTo(job, procedure.StepProve)
	reading.Set("brought", "1")
	webtest.WantCode(t, s.Post("/job/"+job+"/readings", reading), 303)
	refused("/proof/sign", sign(), "1 brought from elsewhere")
}

// A check that failed is kept as tried, and the page leads to what puts it right: a few degrees are the housing's.
func TestFailedCheckIsKept(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	s.UpTo(job, procedure.StepBase)
	p, state := s.Ordered(job)
	st, _ := p.Step(procedure.StepBase)
	form := webtest.ProofForm(st.Demand)
	for name, value := range map[string]string{"act": "done", "step": string(st.ID), "who": "Ada", "key": "base-1",
		"version": strconv.FormatInt(state.Version, 10), "value": strconv.FormatFloat(st.Demand.Passes.To+1, 'f', 1, 64)} {
		form.Set(name, value)
	}
	before := len(s.Kinds(job))
	w := s.Post("/job/"+job+"/steps", form)
	webtest.WantCode(t, w, 422)
	webtest.WantIn(t, webtest.HTMLText(w.Body.String()), "tried and failed: "+st.Title)
	if k := s.Kinds(job)[before:]; len(k) == 0 || k[0] != book.KindStepTried {
		t.Fatalf("a failed check left %v", k)
	}
	webtest.WantIn(t, w.Body.String(), `class="button primary" href="/job/`+job+`/steps?step=housing"`)
}

// Where another device is paired, an override takes the name of a second person.
func TestOverrideTakesASecondPerson(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	s.UpTo(job, procedure.StepTurnOver)
	s.PairPhone(page.Work)
	p, state := s.Ordered(job)
	st, _ := p.Step(procedure.StepTurnOver)
	form := webtest.ProofForm(st.Demand)
	for name, value := range map[string]string{"act": "override", "step": string(st.ID), "who": "Ben Foreman",
		"reason": "walked round with the owner, gauge is broken", "text": "not shown",
		"version": strconv.FormatInt(state.Version, 10)} {
		form.Set(name, value)
	}
	w := s.Post("/job/"+job+"/steps", form)
	webtest.WantCode(t, w, 422)
	webtest.WantIn(t, w.Body.String(), `name="second"`)
	form.Set("second", "Cy Marsh")
	webtest.WantCode(t, s.Post("/job/"+job+"/steps", form), 303)
	webtest.WantIn(t, webtest.HTMLText(s.Get("/job/"+job+"/steps").Body.String()), "Cy Marsh")
}

// Readings sent by script carry their ticks, and the ticks are fresh for the next one.
func TestTicksOfReadingsSentByScript(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	job := s.NewJob()
	s.UpTo(job, procedure.StepIdle)
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	p.Open("/job/" + job + "/readings")
	p.Wait(`document.documentElement.dataset.script == "on"`)
	form, state := s.Ordered(job)
	ladder, _ := form.Step(procedure.StepRange)
	second := form.Speed(state, procedure.StepRange)
	if len(ladder.Demand.Rungs) > 0 {
		second = procedure.Band{From: ladder.Demand.Rungs[0].RPM, To: ladder.Demand.Rungs[0].RPM}
	}
	for i, rpm := range []string{"750", strconv.FormatFloat((second.From+second.To)/2, 'f', 0, 64)} {
		if n := webtest.Eval[int](p, `document.querySelectorAll("input[name=seen]:checked").length`); n != 0 {
			t.Errorf("%d looks are ticked before reading %d", n, i+1)
		}
		p.Do(chromedp.Evaluate[chromedp.Void](`document.querySelectorAll("form[data-queue] input[name=seen]").forEach(b => b.checked = true)`))
		p.TypeIn("#rpm", rpm)
		p.TypeIn("#shown", "8")
		p.Click("form[data-queue] button.primary")
		p.Wait(`document.querySelectorAll("#rows tbody tr").length == ` + strconv.Itoa(i+1))
	}
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(j.Brought()); n != 0 || len(j.Readings) != 2 {
		t.Errorf("%d readings, %d of them brought; want 2 of the order of work", len(j.Readings), n)
	}
}
