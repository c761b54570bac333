package web_test

import (
	"net/url"
	"regexp"
	"strings"
	"testing"

	"phasewright/examples"
	"phasewright/web/webtest"
)

// controllers are the keys of a card that only the controller, or the maker of a spark box, can tell.
var controllers = regexp.MustCompile(`(cranking|locked): [0-9.]+ deg, |, delay_(allowance|step): [0-9.]+ us|dwell: [0-9.]+ ms, |box_pulse_(least|most|rest): [0-9.]+ ms, `)

// A card that leaves the controller's settings open has all its pages, with readings too: they say what is not given,
// and no figure of ours stands in its place.
func TestOpenSettingsHaveAllTheirPages(t *testing.T) {
	s := webtest.NewShop(t)
	for _, e := range examples.Cards() {
		w := s.Post("/new", url.Values{"name": {e.Name}, "from": {"paste"}, "yaml": {controllers.ReplaceAllString(e.YAML, "")}})
		webtest.WantCode(t, w, 303)
		job := strings.TrimPrefix(w.Header().Get("Location"), "/job/")
		for _, r := range [][2]string{{"1200", "8.5"}, {"1800", "8.4"}, {"2600", "8.2"}, {"3000", "8.1"}} {
			webtest.WantCode(t, s.Read(job, r[0], r[1]), 303)
		}
		s.Stands(job, "", e.Name, func(string) bool { return true })
		page := webtest.HTMLText(s.Get("/job/" + job + "/sheet").Body.String())
		if !regexp.MustCompile("To be read in the controller: ([5-9]|1[01])").MatchString(page) {
			t.Errorf("%s: the sheet does not ask for what is open", e.Name)
		}
		webtest.WantIn(t, webtest.HTMLText(s.Get("/job/"+job+"/suspects").Body.String()), "controller.advance.locked is not given")
		webtest.WantIn(t, webtest.HTMLText(s.Get("/job/"+job+"/steps?step=settings").Body.String()), "not given")
		webtest.WantIn(t, webtest.HTMLText(s.Get(s.NewBench(url.Values{"engine": {job}})).Body.String()), "Not on the card, invented for this bench: advance on the starter")
		for _, at := range []string{"", "/sheet", "/readings", "/proof", "/steps", "/spark"} {
			if page := s.Get("/job/" + job + at).Body.String(); strings.Contains(page, "NaN") {
				t.Errorf("%s%s prints NaN", e.Name, at)
			}
		}
	}
	s.Settle()
}
