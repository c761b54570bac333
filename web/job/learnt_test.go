package job_test

import (
	"net/url"
	"strings"
	"testing"

	"phasewright/web/webtest"
)

// A card that begins with that of an earlier job shows beside it what that job found, and takes none of it by itself.
func TestACardFromAnEarlierJobShowsWhatWasLearnt(t *testing.T) {
	s := webtest.NewShop(t)
	old := s.NewJob()
	for _, r := range []string{"800", "1500", "2200", "3000", "3700"} {
		s.Read(old, r, "6.0")
	}
	webtest.WantCode(t, s.Post("/job/"+old+"/suspects", url.Values{"key": {"seen"}, "engine.starting": {"nothing"},
		"engine.running": {"does not run"}, "spark": {"none"}, "cap.brush": {"broken"}}), 303)
	webtest.WantCode(t, s.Post("/job/"+old+"/shelf", url.Values{"key": {"away"}}), 303)
	w := s.Post("/new", url.Values{"name": {"Dipper, port engine"}, "from": {old}, "key": {"dipper"}})
	webtest.WantCode(t, w, 303)
	job := w.Header().Get("Location")
	page := s.Get(job + "/card").Body.String()
	webtest.WantIn(t, page, `Learnt on <a href="/job/`+old+`">`)
	webtest.WantIn(t, page, "Found 2.0 ±")
	webtest.WantIn(t, page, ", late.")
	webtest.WantIn(t, page, "Signal delay found:")
	webtest.WantIn(t, page, "Fault found: ")
	webtest.WantIn(t, s.Get(job+"/card.yaml").Body.String(), "delay_allowance: 85 us")
	blank := s.Post("/new", url.Values{"name": {"Blank"}, "from": {"blank"}, "key": {"blank"}}).Header().Get("Location")
	if strings.Contains(s.Get(strings.TrimSuffix(blank, "/card")+"/card").Body.String(), "Learnt on") {
		t.Error("a blank card has learnt something")
	}
}
