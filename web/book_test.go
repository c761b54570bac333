package web_test

import (
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"phasewright/web"
	"phasewright/web/page"
	"phasewright/web/webtest"
)

func TestBookListsSearchesAndTurnsPages(t *testing.T) {
	s := webtest.NewShop(t)
	webtest.WantIn(t, s.Get("/").Body.String(), "The shop book is empty")
	for i := range 60 {
		s.Post("/new", url.Values{"name": {fmt.Sprintf("Boat %02d", i)}, "owner": {"Harbour " + string(rune('A'+i%3))}, "from": {"blank"}})
	}
	first := s.Get("/").Body.String()
	if n := strings.Count(first, "<b>Boat "); n != 50 {
		t.Errorf("%d jobs on the first page, want 50", n)
	}
	older := regexp.MustCompile(`href="(/\?[^"]*after=[^"]*)"`).FindStringSubmatch(first)
	if older == nil {
		t.Fatal("no way to the older jobs")
	}
	second := s.Get(strings.ReplaceAll(older[1], "&amp;", "&")).Body.String()
	if n := strings.Count(second, "<b>Boat "); n != 10 {
		t.Errorf("%d jobs on the second page, want 10", n)
	}
	found := s.Get("/?q=boat+07").Body.String()
	if strings.Count(found, "<b>Boat ") != 1 || !strings.Contains(found, "<b>Boat 07</b>") {
		t.Error("a search by name finds something else")
	}
	webtest.WantIn(t, s.Get("/?q=zeppelin").Body.String(), "Nothing found for “zeppelin”")
}

func TestEveryPageStandsWithoutReadings(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	blank := strings.TrimSuffix(s.Post("/new", url.Values{"name": {"Blank"}, "from": {"blank"}}).Header().Get("Location"), "/card")
	for _, base := range []string{"/job/" + job, blank} {
		for _, e := range new(page.Page).Index() {
			webtest.WantCode(t, s.Get(base+e.Path), 200)
		}
	}
	s.Read(job, "30000", "180") // as far as a reading goes
	s.Read(job, "20", "-180")
	for _, e := range new(page.Page).Index() {
		webtest.WantCode(t, s.Get("/job/"+job+e.Path), 200)
	}
}

func TestLoopbackAloneInvitesNobody(t *testing.T) {
	s := webtest.NewShop(t, func(c *web.Config) { c.Base, c.Hosts = nil, nil })
	webtest.WantIn(t, s.Get("/devices").Body.String(), "Only this computer can reach the shop book now")
	w := s.Do(webtest.Request("GET", "/", webtest.PhoneAddr, nil))
	webtest.WantCode(t, w, http.StatusMisdirectedRequest)
}

func TestLookIsKept(t *testing.T) {
	s := webtest.NewShop(t)
	w := s.Post("/look", url.Values{"look": {"night"}, "back": {"/new"}})
	if w.Header().Get("Location") != "/new" || !strings.Contains(w.Header().Get("Set-Cookie"), "look=night") {
		t.Errorf("%v", w.Header())
	}
	body := s.Do(webtest.Request("GET", "/", webtest.HostAddr, nil, func(r *http.Request) { r.AddCookie(&http.Cookie{Name: "look", Value: "night"}) })).Body.String()
	webtest.WantIn(t, body, `data-look="night"`)
	body = s.Do(webtest.Request("GET", "/", webtest.HostAddr, nil, func(r *http.Request) { r.AddCookie(&http.Cookie{Name: "look", Value: `"><script>`}) })).Body.String()
	if strings.Contains(body, "data-look") {
		t.Error("any cookie becomes a look")
	}
}

func TestJobIsPutAwayAndTakenUpAgain(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	webtest.WantIn(t, s.Get("/job/"+job).Body.String(), "Put the job away")
	webtest.WantCode(t, s.Post("/job/"+job+"/shelf", url.Values{}), 303)
	if strings.Contains(s.Get("/").Body.String(), "<b>Sandpiper</b>") {
		t.Error("a job put away is still in the list")
	}
	webtest.WantIn(t, s.Get("/?shelf=away").Body.String(), "<b>Sandpiper</b>")
	webtest.WantIn(t, s.Get("/job/"+job).Body.String(), "Take the job up again")
	webtest.WantCode(t, s.Post("/job/"+job+"/shelf", url.Values{}), 303)
	webtest.WantIn(t, s.Get("/").Body.String(), "<b>Sandpiper</b>")
	webtest.WantIn(t, s.Get("/?shelf=away").Body.String(), "No job is put away")
}
