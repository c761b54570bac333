package job_test

import (
	"net/url"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"phasewright/web/webtest"
)

// twice changes an example's card as somebody else does, in the text.
func twice(t *testing.T, changes ...string) string {
	t.Helper()
	text := webtest.Example(t, "sandpiper")
	for i := 0; i < len(changes); i += 2 {
		if !strings.Contains(text, changes[i]) {
			t.Fatalf("%q does not stand in the card", changes[i])
		}
		text = strings.Replace(text, changes[i], changes[i+1], 1)
	}
	return text
}

// Two screens change one card. What does not touch is merged and nobody is asked; what touches shows both values and
// what was there, and is chosen by field; what is left open is asked again.
func TestTwoScreensOnOneCard(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	base, _ := s.Listen()
	b := webtest.Browser(t)
	one, two := s.Screen(b, base, 360, 740), s.Screen(b, base, 1280, 800)
	field := func(path string) string { return `[id="card.` + path + `"]` }
	change := func(p *webtest.Screen, path, value string) {
		p.Do(chromedp.SetValue(chromedp.CSS(field(path)), value))
	}
	open := func() {
		for _, p := range []*webtest.Screen{one, two} {
			p.Open("/job/" + job + "/card")
			p.Wait(`document.querySelector(".cylinders")`)
		}
	}
	saved := func(p *webtest.Screen) {
		t.Helper()
		p.Click("[data-save]")
		p.Wait(`document.querySelector("h1").innerText == "Set-up sheet" && document.readyState == "complete"`)
	}
	card := func(lines ...string) {
		t.Helper()
		j, err := s.Shelf.Job(t.Context(), job)
		if err != nil || j.Card == nil {
			t.Fatal(err, j.Mistakes)
		}
		for _, line := range lines {
			if !strings.Contains(j.YAML, line+"\n") {
				t.Errorf("the card lacks %q:\n%s", line, j.YAML)
			}
		}
	}

	open()
	change(one, "engine.bore", "97")
	saved(one)
	change(two, "engine.stroke", "98")
	change(two, "engine.bore", "94.0") // as it was but for the writing; still two texts
	change(two, "engine.bore", "94")
	saved(two)
	card("bore: 97 mm", "stroke: 98 mm", "rod: 158 mm")

	open()
	change(one, "engine.bore", "95")
	change(one, "engine.redline", "4300")
	saved(one)
	change(two, "engine.bore", "96")
	change(two, "engine.rod", "160")
	two.Click("[data-save]")
	two.Wait(`document.querySelector("#both") && document.readyState == "complete"`)
	says := two.Text(".both")
	for _, part := range []string{"engine, bore", "96 mm", "yours", "95 mm", "saved by host screen", "It was 97 mm."} {
		if !strings.Contains(says, part) {
			t.Errorf("the choice lacks %q: %s", part, says)
		}
	}
	if n := webtest.Eval[int](two, `document.querySelectorAll(".both fieldset").length`); n != 1 {
		t.Errorf("%d fields to choose, want 1: %s", n, says)
	}
	if title := webtest.Eval[string](two, `document.title`); !strings.Contains(title, "to correct") {
		t.Error(title)
	}
	for path, want := range map[string]string{"engine.rod": "160", "engine.redline": "4300"} {
		if got := webtest.Eval[string](two, `document.querySelector('`+field(path)+`').value`); got != want {
			t.Errorf("%s is %q in the card below, want %q", path, got, want)
		}
	}
	if filled := two.Text("button.primary"); strings.Contains(filled, "over") || filled != "Save with these choices" {
		t.Errorf("the filled button says %q", filled)
	}
	two.Click("[data-save]") // nothing chosen
	two.Wait(`document.querySelector("#both") && document.readyState == "complete" && document.activeElement?.type == "radio"`)
	card("bore: 95 mm", "rod: 158 mm")
	two.Click(`.both label:nth-of-type(2)`) // theirs
	saved(two)
	card("bore: 95 mm", "rod: 160 mm", "redline: 4300 rpm", "stroke: 98 mm")
	for _, p := range []*webtest.Screen{one, two} {
		for _, c := range p.Complaints() {
			t.Error("console: " + c)
		}
	}
}

// The same of texts. Remarks stay where lines do not touch; what touches leads to the choice by field, or, where the
// text holds remarks that the form would lose, shows what differs beside the text.
func TestTwoTextsOfOneCard(t *testing.T) {
	save := func(s *webtest.Shop, job, version, yaml string) (int, string) {
		w := s.Post("/job/"+job+"/card", url.Values{"version": {version}, "yaml": {yaml}, "as": {"unfinished"}})
		return w.Code, webtest.HTMLText(w.Body.String())
	}
	lines := func(changes ...string) string { // a text of one field a line, with remarks
		text := twice(t)
		text = strings.NewReplacer(", stroke:", ",\n  stroke:", ", rod:", ",\n  rod:", "tolerance:", "# as agreed\ntolerance:").Replace(text)
		return strings.NewReplacer(changes...).Replace(text)
	}
	for _, c := range []struct {
		name, was, mine, theirs string
		code                    int
		want                    []string // on the page, or in the saved card
	}{
		{"apart, remarks", lines(), lines("bore: 94 mm", "bore: 95 mm"), lines("tolerance:   1 deg", "tolerance:   2 deg"), 303,
			[]string{"bore: 95 mm,\n", "# as agreed\ntolerance:   2 deg"}},
		{"apart on one line, no remarks", strings.SplitN(twice(t), "\n", 2)[1], strings.SplitN(twice(t, "bore: 94 mm", "bore: 95 mm"), "\n", 2)[1],
			strings.SplitN(twice(t, "rod: 158 mm", "rod: 160 mm"), "\n", 2)[1], 303, []string{"bore: 95 mm\n", "rod: 160 mm\n"}},
		{"touching, no remarks", strings.SplitN(twice(t), "\n", 2)[1], strings.SplitN(twice(t, "bore: 94 mm", "bore: 95 mm"), "\n", 2)[1],
			strings.SplitN(twice(t, "bore: 94 mm", "bore: 96 mm"), "\n", 2)[1], 409, []string{`name="card.engine.bore" value="95 mm"`, `name="card.engine.bore" value="96 mm"`,
				"It was 94 mm.", "Save with these choices"}},
		{"touching, remarks", lines(), lines("bore: 94 mm", "bore: 95 mm"), lines("bore: 94 mm", "bore: 96 mm"), 409,
			[]string{"<th>engine, bore</th>", "95 mm</td>", "96 mm</td>", "94 mm</td>", "bore: 95 mm,\n", "<button data-save>Save my text as it stands"}},
		{"no YAML", lines(), "engine: {bore: 95 mm\n", lines("bore: 94 mm", "bore: 96 mm"), 409,
			[]string{"engine: {bore: 95 mm", "tolerance:   1 deg", "<button data-save>Save my text as it stands"}},
		{"theirs no YAML", lines(), lines("bore: 94 mm", "bore: 95 mm"), "no: [card", 409, []string{"no: [card", "bore: 95 mm,"}},
	} {
		s := webtest.NewShop(t)
		job := s.NewJob()
		if code, _ := save(s, job, "2", c.was); code != 303 {
			t.Fatalf("%s: %d", c.name, code)
		}
		if code, _ := save(s, job, "3", c.theirs); code != 303 {
			t.Fatalf("%s: %d", c.name, code)
		}
		code, page := save(s, job, "3", c.mine)
		if code != c.code {
			t.Errorf("%s: %d, want %d: %s", c.name, code, c.code, page)
			continue
		}
		j, err := s.Shelf.Job(t.Context(), job)
		if err != nil {
			t.Fatal(err)
		}
		if code == 303 {
			page = j.YAML
		} else if j.YAML != c.theirs {
			t.Errorf("%s: theirs was overwritten", c.name)
		} else if !strings.Contains(page, `name="version" value="4"`) || strings.Contains(page, "over theirs") {
			t.Errorf("%s: %s", c.name, page)
		}
		for _, want := range c.want {
			if !strings.Contains(page, want) {
				t.Errorf("%s: lacks %q:\n%s", c.name, want, page)
			}
		}
	}
}

// Each half is sound and both together are not: nothing is saved, and the mistakes stand in the merged form.
func TestMergedCardIsJudged(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	form := func(change map[string]string) url.Values {
		f := url.Values{"version": {"2"}, "card.job.name": {"Sandpiper, main engine"}}
		for path, v := range map[string]string{"engine.cylinders": "6", "engine.firing_order": "153624", "engine.rotation": "clockwise", "engine.bore": "94 mm", "engine.stroke": "97 mm", "engine.rod": "158 mm",
			"engine.redline": "4200 rpm", "damper.diameter": "168 mm", "distributor.rotation": "cw", "signals.crank.vane_width": "15 deg", "signals.crank.active_edge": "falling", "signals.crank.lead": "60 deg", "controller.advance.max": "34 deg"} {
			f.Set("card."+path, v)
		}
		for path, v := range change {
			f.Set("card."+path, v)
		}
		return f
	}
	webtest.WantCode(t, s.Post("/job/"+job+"/card", form(nil)), 303)
	first := form(map[string]string{"controller.advance.max": "50 deg"})
	first.Set("version", "3")
	webtest.WantCode(t, s.Post("/job/"+job+"/card", first), 303)
	second := form(map[string]string{"signals.crank.lead": "45 deg"})
	second.Set("version", "3")
	w := s.Post("/job/"+job+"/card", second)
	webtest.WantCode(t, w, 422)
	webtest.WantIn(t, w.Body.String(), "is not below the trigger lead of 45°")
	webtest.WantIn(t, w.Body.String(), `name="card.controller.advance.max" value="50"`)
	webtest.WantIn(t, w.Body.String(), `name="version" value="4"`)
	if n := len(s.Kinds(job)); n != 4 {
		t.Errorf("%d events, want 4", n)
	}
}

// On the way to a new job an earlier one is found by its engine or its people, put away or not.
func TestSimilarJobsAreFound(t *testing.T) {
	s := webtest.NewShop(t)
	six := s.NewJob()
	four := strings.TrimPrefix(s.Post("/new", url.Values{"name": {"Mill Lane"}, "owner": {"Drainage board"}, "from": {"paste"}, "yaml": {webtest.Example(t, "mill-pump")}}).Header().Get("Location"), "/job/")
	s.Post("/new", url.Values{"name": {"No card yet"}, "from": {"blank"}})
	webtest.WantCode(t, s.Post("/job/"+four+"/shelf", url.Values{"away": {"1"}, "reason": {"done"}, "to": {"away"}}), 303)
	for find, want := range map[string][2]bool{"": {true, true}, "6 cylinders": {true, false}, "4 cylinders": {false, true}, "drainage": {false, true}, "1-5-3-6-2-4": {true, false}, "83": {false, true}, "zeppelin": {false, false}} {
		page := s.Get("/new?" + url.Values{"q": {find}}.Encode()).Body.String()
		for i, id := range []string{six, four} {
			if got := strings.Contains(page, `value="`+id+`"`); got != want[i] {
				t.Errorf("%q: job %d found %v", find, i, got)
			}
		}
		if strings.Contains(page, "as for No card yet") {
			t.Errorf("%q: offers a job without a card", find)
		}
	}
	// a choice outlives a refusal, whatever was looked for
	w := s.Post("/new", url.Values{"name": {""}, "from": {four}})
	webtest.WantCode(t, w, 422)
	webtest.WantIn(t, w.Body.String(), `value="`+four+`" checked`)

	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	p.Open("/new")
	p.Wait(`document.documentElement.dataset.script == "on"`)
	p.TypeIn("#name", "Third pump")
	p.TypeIn("#q", "4 cyl")
	p.Wait(`document.querySelectorAll("#similar label").length == 1 && document.querySelector("#similar").innerText.includes("Mill Lane")`)
	p.Click("#similar label")
	p.Click("button.primary")
	p.Wait(`location.pathname.startsWith("/job/") && document.querySelector(".strip .job").innerText == "Third pump"`)
}

// What is asked about is ticked on the form, and then stands confirmed.
func TestDoubtIsTicked(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	odd := twice(t, "plug_gap: 0.8 mm", "plug_gap: 0.25 mm")
	webtest.WantCode(t, s.Post("/job/"+job+"/card", url.Values{"version": {"2"}, "yaml": {odd}}), 303)
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	p.Open("/job/" + job + "/card")
	p.Wait(`document.querySelector(".cylinders")`)
	p.Click(`label:has([name="confirm"])`)
	p.Click("[data-save]")
	p.Wait(`document.querySelector("h1").innerText == "Set-up sheet"`)
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil || j.Card == nil || len(j.Card.Doubts()) > 0 || !strings.Contains(j.YAML, `confirmed: "ignition.plug_gap"`) {
		t.Errorf("%v\n%s", err, j.YAML)
	}
}
