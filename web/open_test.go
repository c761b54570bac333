package web

import (
	"net/url"
	"regexp"
	"strings"
	"testing"

	"phasewright/examples"
)

// controllers are the keys of a card that only the controller, or the maker of a spark box, can tell.
var controllers = regexp.MustCompile(`(cranking|locked): [0-9.]+ deg, |, delay_(allowance|step): [0-9.]+ us|dwell: [0-9.]+ ms, |box_pulse_(least|most|rest): [0-9.]+ ms, `)

// A card that leaves the controller's settings open has all its pages, with readings too: they say what is not given, and no figure of
// ours stands in its place.
func TestOpenSettingsHaveAllTheirPages(t *testing.T) {
	s := newShop(t)
	for _, e := range examples.Cards() {
		w := s.post("/new", url.Values{"name": {e.Name}, "from": {"paste"}, "yaml": {controllers.ReplaceAllString(e.YAML, "")}})
		wantCode(t, w, 303)
		job := strings.TrimPrefix(w.Header().Get("Location"), "/job/")
		for _, r := range [][2]string{{"1200", "8.5"}, {"1800", "8.4"}, {"2600", "8.2"}, {"3000", "8.1"}} {
			wantCode(t, s.read(job, r[0], r[1]), 303)
		}
		s.stands(job, "", e.Name, func(string) bool { return true })
		page := htmlText(s.get("/job/" + job + "/sheet").Body.String())
		wantIn(t, page, "To be read in the controller: 5")
		wantIn(t, htmlText(s.get("/job/"+job+"/suspects").Body.String()), "controller.advance.locked is not given")
		wantIn(t, htmlText(s.get("/job/"+job+"/steps?step=settings").Body.String()), "not given")
		wantIn(t, htmlText(s.get(s.bench(url.Values{"engine": {job}})).Body.String()), "Not on the card, invented for this bench: advance on the starter")
		for _, at := range []string{"", "/sheet", "/readings", "/proof", "/steps", "/spark"} {
			if page := s.get("/job/" + job + at).Body.String(); strings.Contains(page, "NaN") {
				t.Errorf("%s%s prints NaN", e.Name, at)
			}
		}
	}
	s.settle()
}
