package web

import (
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
)

func TestBookListsSearchesAndTurnsPages(t *testing.T) {
	s := newShop(t)
	wantIn(t, s.get("/").Body.String(), "The shop book is empty")
	for i := range 60 {
		s.post("/new", url.Values{"name": {fmt.Sprintf("Boat %02d", i)}, "owner": {"Harbour " + string(rune('A'+i%3))}, "from": {"blank"}})
	}
	first := s.get("/").Body.String()
	if n := strings.Count(first, "<b>Boat "); n != 50 {
		t.Errorf("%d jobs on the first page, want 50", n)
	}
	older := regexp.MustCompile(`href="(/\?[^"]*after=[^"]*)"`).FindStringSubmatch(first)
	if older == nil {
		t.Fatal("no way to the older jobs")
	}
	second := s.get(strings.ReplaceAll(older[1], "&amp;", "&")).Body.String()
	if n := strings.Count(second, "<b>Boat "); n != 10 {
		t.Errorf("%d jobs on the second page, want 10", n)
	}
	found := s.get("/?q=boat+07").Body.String()
	if strings.Count(found, "<b>Boat ") != 1 || !strings.Contains(found, "<b>Boat 07</b>") {
		t.Error("a search by name finds something else")
	}
	wantIn(t, s.get("/?q=zeppelin").Body.String(), "Nothing found for “zeppelin”")
}

func TestEveryPageStandsWithoutReadings(t *testing.T) {
	s := newShop(t)
	job := s.job()
	blank := strings.TrimSuffix(s.post("/new", url.Values{"name": {"Blank"}, "from": {"blank"}}).Header().Get("Location"), "/card")
	for _, base := range []string{"/job/" + job, blank} {
		for _, e := range index {
			wantCode(t, s.get(base+e.Path), 200)
		}
	}
	s.read(job, "30000", "180") // as far as a reading goes
	s.read(job, "20", "-180")
	for _, e := range index {
		wantCode(t, s.get("/job/"+job+e.Path), 200)
	}
}

func TestLoopbackAloneInvitesNobody(t *testing.T) {
	s := newShop(t, func(c *Config) { c.Base, c.Hosts = nil, nil })
	wantIn(t, s.get("/devices").Body.String(), "Only this computer can reach the shop book now")
	w := s.do(request("GET", "/", phoneAddr, nil))
	wantCode(t, w, http.StatusMisdirectedRequest)
}

func TestLookIsKept(t *testing.T) {
	s := newShop(t)
	w := s.post("/look", url.Values{"look": {"night"}, "back": {"/new"}})
	if w.Header().Get("Location") != "/new" || !strings.Contains(w.Header().Get("Set-Cookie"), "look=night") {
		t.Errorf("%v", w.Header())
	}
	body := s.do(request("GET", "/", hostAddr, nil, func(r *http.Request) { r.AddCookie(&http.Cookie{Name: "look", Value: "night"}) })).Body.String()
	wantIn(t, body, `data-look="night"`)
	body = s.do(request("GET", "/", hostAddr, nil, func(r *http.Request) { r.AddCookie(&http.Cookie{Name: "look", Value: `"><script>`}) })).Body.String()
	if strings.Contains(body, "data-look") {
		t.Error("any cookie becomes a look")
	}
}

func TestJobIsPutAwayAndTakenUpAgain(t *testing.T) {
	s := newShop(t)
	job := s.job()
	wantIn(t, s.get("/job/"+job).Body.String(), "Put the job away")
	wantCode(t, s.post("/job/"+job+"/shelf", url.Values{}), 303)
	if strings.Contains(s.get("/").Body.String(), "<b>Sandpiper</b>") {
		t.Error("a job put away is still in the list")
	}
	wantIn(t, s.get("/?shelf=away").Body.String(), "<b>Sandpiper</b>")
	wantIn(t, s.get("/job/"+job).Body.String(), "Take the job up again")
	wantCode(t, s.post("/job/"+job+"/shelf", url.Values{}), 303)
	wantIn(t, s.get("/").Body.String(), "<b>Sandpiper</b>")
	wantIn(t, s.get("/?shelf=away").Body.String(), "No job is put away")
}
