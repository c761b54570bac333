package job_test

import (
	"net/url"
	"testing"

	"phasewright/web/webtest"
)

// Pictures to be looked at, where SCREENS names a folder.
func TestSuspectsScreens(t *testing.T) {
	dir := webtest.ScreensFolder(t)
	s := webtest.NewShop(t)
	job := "/job/" + s.NewJob() + "/suspects"
	light := s.NewJob()
	for _, r := range [][2]string{{"750", "12"}, {"1800", "12"}, {"3200", "12"}} {
		s.Read(light, r[0], r[1])
	}
	with := func(pairs ...string) string {
		q := url.Values{}
		for i := 0; i < len(pairs); i += 2 {
			q.Add(pairs[i], pairs[i+1])
		}
		return job + "?" + q.Encode()
	}
	dead := []string{"engine.starting", "nothing", "spark", "none", "battery.cranking", "10.1", "controller.speed",
		"steady"}
	s.Photograph(t, dir, map[string]string{
		"suspects-empty": job, "suspects-light": "/job/" + light + "/suspects",
		"suspects-dead": with(append(dead, "at", "lamps")...),
		"suspects-settled": with(append(dead, "at", "starter", "coil.spark", "none", "coil.trigger", "pulses",
			"capture.sync", "held", "battery.coil", "12.3")...),
		"suspects-cylinder": with("at", "cylinder", "engine.misfire", "3", "cylinders 3.plug", "wet"),
		"suspects-running":  with("at", "running", "engine.misfire", "3", "engine.worse", "hot"),
		"suspects-rest":     with("at", "rest", "worked_on", "unit"),
		"suspects-wrong":    with("at", "starter", "battery.cranking", "ten"),
	}, webtest.Enlivened)
}
