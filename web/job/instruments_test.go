package job_test

import (
	"net/http"
	"net/url"
	"os"
	"strings"
	"testing"

	"phasewright/book"
	"phasewright/web/page"
	"phasewright/web/webtest"
)

// Lamp and tacho are invented.
func lamp(more ...string) url.Values {
	v := url.Values{"kind": {"timing light"}, "name": {"Bow lamp"}, "number": {"L-2"}, "u": {"0.4 deg"},
		"known": {"certificate"}, "checked": {"2026-02-01"}, "key": {"lamp"}}
	for i := 0; i < len(more); i += 2 {
		v.Set(more[i], more[i+1])
	}
	return v
}

// What cannot be an instrument is refused beside its field and nothing is kept; one sent twice is listed once; changed
// or gone, the record keeps what it was.
func TestInstrumentsAreListed(t *testing.T) {
	s := webtest.NewShop(t)
	for _, c := range []struct{ field, value, says string }{
		{"name", " ", "what the shop calls it"}, {"kind", "hammer", "choose what it is"}, {"u", "0.4", "with its unit"},
		{"u", "", "is empty"}, {"known", "", "choose how"}, {"checked", "2099-01-01", "yet to come"},
		{"checked", "last week", "is no day"},
	} {
		w := s.Post("/instruments", lamp(c.field, c.value))
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), c.says) {
			t.Errorf("%s %q: %d, without %q", c.field, c.value, w.Code, c.says)
		}
	}
	if _, err := s.Book.Events(t.Context(), book.ShopList, 0); err == nil {
		t.Error("a refused instrument was kept")
	}
	for range 2 {
		webtest.WantCode(t, s.Post("/instruments", lamp()), http.StatusSeeOther)
	}
	body := s.Get("/instruments").Body.String()
	if n := strings.Count(body, "<b>Bow lamp, L-2</b>"); n != 1 {
		t.Errorf("listed %d times", n)
	}
	webtest.WantCode(t, s.Post("/instruments", lamp("id", "lamp", "u", "0,3 deg", "key", "again")), http.StatusSeeOther)
	webtest.WantCode(t, s.Post("/instruments", url.Values{"id": {"lamp"}, "gone": {"yes"}}), http.StatusSeeOther)
	webtest.WantCode(t, s.Post("/instruments", url.Values{"id": {"none"}, "gone": {"yes"}}), http.StatusNotFound)
	body = s.Get("/instruments").Body.String()
	if !strings.Contains(body, "± 0.3°") || !strings.Contains(body, "1 off the list") {
		t.Error("the change or the absence does not show")
	}
	events, err := s.Book.Events(t.Context(), book.ShopList, 0)
	if err != nil || len(events) != 4 {
		t.Errorf("%d events, %v", len(events), err)
	}
	if body := s.Get("/").Body.String(); strings.Contains(body, book.ShopList) || !strings.Contains(body, `href="/instruments"`) {
		t.Error("the shop stands among its jobs, or its list is not to be found")
	}
	webtest.WantCode(t, s.Get("/job/"+book.ShopList), http.StatusNotFound)
}

// Who may look only sees the list and the job's instruments, and changes neither.
func TestInstrumentsAreNotForLookers(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	webtest.WantCode(t, s.Post("/instruments", lamp()), http.StatusSeeOther)
	cookie := s.PairPhone(page.Look)
	for path, form := range map[string]url.Values{"/instruments": lamp("key", "x"), "/job/" + job + "/instruments": {"use": {"lamp"}}} {
		w := s.Do(webtest.Request("POST", path, webtest.PhoneAddr, form, func(r *http.Request) { r.AddCookie(cookie) }))
		webtest.WantCode(t, w, http.StatusForbidden)
	}
}

// On a phone: from a job to the list, an instrument listed, back, picked with one tap; the proof's budget has it, and no
// longer assumes. On the next job those used last stand first. Put back, the budget assumes again.
func TestInstrumentIsListedAndPickedOnAPhone(t *testing.T) {
	s := webtest.NewShop(t)
	first, job := s.NewJob(), s.NewJob()
	for _, r := range []string{"800", "1500", "2200", "3000", "3700"} {
		s.Read(job, r, "8.1")
	}
	webtest.WantCode(t, s.Post("/instruments", lamp("name", "Old lamp", "number", "L-1", "key", "old")), http.StatusSeeOther)
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	p.Open("/job/" + job + "/instruments")
	p.Click(`a[href^="/instruments?for="]`)
	p.Wait(`document.documentElement.dataset.script == "on" && document.querySelector("h2")?.innerText.includes("List an instrument")`)
	p.Click(`input[value="tachometer"]`)
	p.TypeIn("#name", "Bench tacho")
	p.TypeIn("#number", "T-1")
	p.TypeIn("#u", "0.2 %")
	p.Click(`input[value="certificate"]`)
	p.TypeIn("#checked", "2026-01-15")
	p.Click("button.primary")
	p.Wait(`location.pathname == "/job/` + job + `/instruments" && document.querySelectorAll(".pickone").length == 2`)
	if small := webtest.Eval[float64](p, `Math.min(...[...document.querySelectorAll(".pickone, main .button")].map(b => b.getBoundingClientRect().height))`); small < 48 {
		t.Errorf("a target is %v px high", small)
	}
	if wide := webtest.Eval[float64](p, `document.documentElement.scrollWidth`); wide > 360 {
		t.Errorf("the page is %v px wide", wide)
	}
	for n := 1; n <= 2; n++ {
		p.Click(`.pickone[aria-pressed="false"]`)
		p.Wait(`document.querySelectorAll('.pickone[aria-pressed="true"]').length == ` + string(rune('0'+n)))
	}
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil || len(j.Instruments) != 2 {
		t.Fatalf("%+v, %v", j.Instruments, err)
	}
	proof := s.Get("/job/" + job + "/proof").Body.String()
	if !strings.Contains(proof, "timing light") {
		t.Error("the proof's budget does not have the light")
	}
	if strings.Contains(proof, "tachometer: ") {
		t.Error("the proof still assumes a tachometer")
	}
	p.Open("/job/" + first + "/instruments")
	if last := webtest.Eval[string](p, `document.querySelector("#measured").innerText`); !strings.Contains(last, "used last") {
		t.Errorf("those of the other job are not offered: %s", last)
	}
	p.Open("/job/" + job + "/instruments")
	p.Click(`.pickone[aria-pressed="true"]`)
	p.Wait(`document.querySelectorAll('.pickone[aria-pressed="true"]').length == 1`)
	for _, c := range p.Complaints() {
		t.Error("console: " + c)
	}
}

// A job keeps an instrument as it was picked; where the list has newer figures, one tap takes them.
func TestNewerFiguresAreOffered(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	s.Post("/instruments", lamp())
	webtest.WantCode(t, s.Post("/job/"+job+"/instruments", url.Values{"use": {"lamp"}, "key": {"a"}}), http.StatusSeeOther)
	s.Post("/instruments", lamp("id", "lamp", "u", "0.2 deg", "key", "b"))
	body := s.Get("/job/" + job + "/instruments").Body.String()
	if !strings.Contains(body, "± 0.4°") || !strings.Contains(body, "newer figures") {
		t.Error("what was picked has changed, or the change is not offered")
	}
	webtest.WantCode(t, s.Post("/job/"+job+"/instruments", url.Values{"use": {"lamp"}, "key": {"c"}}), http.StatusSeeOther)
	if body := s.Get("/job/" + job + "/instruments").Body.String(); strings.Contains(body, "± 0.4°") ||
		strings.Contains(body, "newer figures") {
		t.Error("the newer figures were not taken")
	}
	webtest.WantCode(t, s.Post("/job/"+job+"/instruments", url.Values{"use": {"none"}}), http.StatusNotFound)
}

// Pictures of the pages; somebody has to look at them.
func TestInstrumentScreens(t *testing.T) {
	dir := os.Getenv("SCREENS")
	if dir == "" {
		t.Skip("no pictures asked for")
	}
	s := webtest.NewShop(t)
	first, job := s.NewJob(), s.NewJob()
	s.Post("/instruments", lamp())
	s.Post("/instruments", lamp("kind", "tachometer", "name", "Bench tacho of the long name by the window", "number", "T-1", "u", "0.2 %", "key", "t"))
	s.Post("/instruments", lamp("kind", "piston stop", "name", "Stop", "number", "", "u", "0.1 mm", "known", "shop's comparison", "key", "s"))
	s.Post("/instruments", lamp("kind", "dividers", "name", "Dividers", "number", "D-1", "u", "", "known", "assumed", "checked", "", "key", "d"))
	s.Post("/job/"+first+"/instruments", url.Values{"use": {"lamp"}, "key": {"a"}})
	s.Post("/job/"+first+"/instruments", url.Values{"use": {"t"}, "key": {"b"}})
	s.Post("/job/"+job+"/instruments", url.Values{"use": {"s"}, "key": {"c"}})
	s.Post("/instruments", lamp("id", "s", "kind", "piston stop", "name", "Stop", "number", "", "u", "0.2 mm", "known", "shop's comparison", "key", "s2"))
	s.Photograph(t, webtest.ScreensFolder(t), map[string]string{"instruments": "/instruments",
		"instruments-change": "/instruments?change=lamp", "measured": "/job/" + job + "/instruments",
		"front": "/job/" + first, "readings-with": "/job/" + first + "/readings"}, nil)
}
