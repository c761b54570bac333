package job_test

import (
	"net/url"
	"strings"
	"testing"

	"phasewright/jobcard"
	"phasewright/record"
	"phasewright/web"
	"phasewright/web/job"
	"phasewright/web/shelf"
	"phasewright/web/webtest"
)

func TestFormShowsTheParsersWords(t *testing.T) {
	s := webtest.NewShop(t)
	id := s.NewJob()
	form := url.Values{"version": {"2"}}
	for path, v := range job.CardValues(webtest.Example(t, "sandpiper")) {
		form.Set(job.FormPrefix+path, v)
	}
	form.Set("card.engine.bore", "98 kg")
	form.Set("card.engine.redline", "")
	w := s.Post("/job/"+id+"/card", form)
	webtest.WantCode(t, w, 422)
	_, mistakes := record.ParseCard(job.CardText(form))
	if len(mistakes) != 2 {
		t.Fatalf("%d mistakes: %v", len(mistakes), mistakes)
	}
	body := w.Body.String()
	for _, e := range mistakes {
		if said := e.Problem + "; " + e.Remedy; e.Path == "engine.redline" {
			webtest.WantIn(t, body, "is missing: lead, dwell and delay are judged there")
		} else {
			webtest.WantIn(t, webtest.HTMLText(body), said)
		}
	}
	webtest.WantIn(t, body, `id="card.engine.bore" name="card.engine.bore" value="98 kg"`)
	if n := len(s.Kinds(id)); n != 2 {
		t.Errorf("a card with mistakes was saved unasked: %d events", n)
	}
	form.Set("as", "unfinished")
	webtest.WantCode(t, s.Post("/job/"+id+"/card", form), 303)
	webtest.WantIn(t, s.Get("/job/"+id).Body.String(), "2 mistakes")
}

func TestTwoWritersOfACardNeverOverwrite(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	card := func(version, bore string) url.Values {
		f := url.Values{"version": {version}, "yaml": {strings.Replace(webtest.Example(t, "sandpiper"), "bore: 94 mm", "bore: "+bore, 1)}}
		return f
	}
	s.Read(job, "800", "9") // version 3: no reason to refuse a card seen at version 2
	webtest.WantCode(t, s.Post("/job/"+job+"/card", card("2", "99 mm")), 303)
	w := s.Post("/job/"+job+"/card", card("2", "97 mm"))
	webtest.WantCode(t, w, 409)
	webtest.WantIn(t, w.Body.String(), "bore: 97 mm")
	webtest.WantIn(t, w.Body.String(), "host screen saved this card while you wrote")
	webtest.WantIn(t, w.Body.String(), `name="version" value="4"`)
	webtest.WantIn(t, s.Get("/job/"+job+"/card/text").Body.String(), "bore: 99 mm")
	webtest.WantCode(t, s.Post("/job/"+job+"/card", card("4", "97 mm")), 303)
	webtest.WantIn(t, s.Get("/job/"+job+"/card/text").Body.String(), "bore: 97 mm")
}

// A figure whose unit is likely wrong is asked about on the card's page and on the sheet, until it is confirmed.
func TestUnlikelyFiguresAreAskedAboutOnThePage(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	post := func(version, yaml string) {
		webtest.WantCode(t, s.Post("/job/"+job+"/card", url.Values{"version": {version}, "yaml": {yaml}}), 303)
	}
	odd := strings.Replace(webtest.Example(t, "sandpiper"), "stroke: 97 mm, rod: 158 mm", "stroke: 4.00 cm, rod: 81 mm", 1)
	post("2", odd)
	for _, page := range []string{"/card", "/card/text", "/sheet"} {
		webtest.WantIn(t, s.Get("/job/"+job+page).Body.String(), "4.00 in (101.6")
	}
	post("3", strings.Replace(odd, "job:         {", "job:         {confirmed: engine.stroke, ", 1))
	if body := s.Get("/job/" + job + "/card").Body.String(); strings.Contains(body, "To be looked at") {
		t.Error("confirmed and still asked")
	}
}

// What commas have cut between braces stands whole on the form, so that saving it again loses nothing.
func TestCommasBetweenBracesStandWholeOnTheForm(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	webtest.WantCode(t, s.Post("/job/"+job+"/card", url.Values{"version": {"2"},
		"yaml": {strings.Replace(webtest.Example(t, "sandpiper"), "[1, 5, 3, 6, 2, 4]", "1,5,3,6,2,4", 1)}}), 303)
	webtest.WantIn(t, s.Get("/job/"+job+"/card").Body.String(), `value="1-5-3-6-2-4"`)
}

func TestEveryFieldOfTheParserIsOnTheForm(t *testing.T) {
	s := webtest.NewShop(t)
	body := s.Get("/job/" + s.NewJob() + "/card").Body.String()
	for _, f := range jobcard.Fields() {
		webtest.WantIn(t, body, `name="card.`+f.Path+`"`)
	}
}

func TestNewJobFromEveryBeginning(t *testing.T) {
	s := webtest.NewShop(t, func(c *web.Config) {
		c.Templates = []shelf.Template{{ID: "pump", Name: "Mill pump", About: "invented", YAML: webtest.Example(t, "mill-pump")}}
	})
	w := s.Post("/new", url.Values{"name": {"Blank"}, "from": {"blank"}, "key": {"k1"}})
	webtest.WantCode(t, w, 303)
	if again := s.Post("/new", url.Values{"name": {"Blank"}, "from": {"blank"}, "key": {"k1"}}); again.Header().Get("Location") != w.Header().Get("Location") {
		t.Error("a form sent twice started two jobs")
	}
	w = s.Post("/new", url.Values{"name": {"Second pump"}, "from": {"template-pump"}, "key": {"k2"}})
	webtest.WantCode(t, w, 303)
	pump := strings.TrimPrefix(w.Header().Get("Location"), "/job/")
	webtest.WantIn(t, s.Get("/job/"+pump+"/card").Body.String(), `value="Second pump"`)
	w = s.Post("/new", url.Values{"name": {"Third pump"}, "from": {pump}})
	webtest.WantCode(t, w, 303)
	webtest.WantIn(t, s.Get(w.Header().Get("Location")+"/card").Body.String(), `value="Third pump"`)
	webtest.WantCode(t, s.Post("/new", url.Values{"name": {""}, "from": {"blank"}}), 422)
	w = s.Post("/new", url.Values{"name": {"X"}, "from": {"paste"}, "yaml": {"engine: {bore: 98 kg}"}})
	webtest.WantCode(t, w, 422)
	webtest.WantIn(t, w.Body.String(), "engine: {bore: 98 kg}")
	webtest.WantCode(t, s.Post("/new", url.Values{"name": {"X"}, "from": {"no-such-job"}}), 404)
}
