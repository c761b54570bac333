package livebench_test

import (
	"context"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"phasewright/web/page"
	"phasewright/web/webtest"
)

// A bench whose loop breaks ends: whoever watches is told, with the number of the line in the log. Everything else goes
// on.
func TestABenchThatBreaksIsTheOnlyOneToEnd(t *testing.T) {
	var l webtest.Lines
	s := webtest.NewShop(t, webtest.Logged(&l))
	bad, good := s.NewBench(url.Values{}), s.NewBench(url.Values{})
	base, _ := s.Listen()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	events := webtest.ListenAt(t, ctx, base+bad+"/live?tab=a")
	rig := rigAt(s, bad)
	rig.Break()
	for end := time.After(10 * time.Second); ; {
		select {
		case e := <-events:
			if !strings.HasPrefix(e, "ended") {
				continue
			}
			if !strings.Contains(e, "went wrong inside") || !strings.Contains(e, "number") {
				t.Errorf("the page is told %q", e)
			}
		case <-end:
			t.Fatal("the page is not told that the bench ended")
		}
		break
	}
	line := l.With(t, `msg="a bench broke down"`)
	for _, what := range []string{"level=ERROR", "bench=" + strings.TrimPrefix(bad, "/bench/"), "nil pointer", "livebench/loop.go"} {
		if !strings.Contains(line, what) {
			t.Errorf("the log lacks %q: %s", what, line)
		}
	}
	w := s.Get(bad)
	webtest.WantCode(t, w, http.StatusGone)
	webtest.WantIn(t, w.Body.String(), "went wrong inside")
	_, after, _ := strings.Cut(line, "number=")
	number, _, _ := strings.Cut(after, " ")
	webtest.WantIn(t, w.Body.String(), "number "+number)
	webtest.WantIn(t, s.Get("/bench").Body.String(), "went wrong inside")
	webtest.WantCode(t, s.Get(good), 200)
	webtest.WantCode(t, s.Post(bad+"/do", url.Values{"do": {"key"}, "to": {"on"}}), http.StatusGone)
	s.Close() // and nothing of it is left to wait for
}

// The page of a bench that broke down says so in words, and so does one that the host refuses to tell of changes.
func TestPagesSayWhyTheyStandStill(t *testing.T) {
	s := webtest.NewShop(t)
	job, bad := s.NewJob(), s.NewBench(url.Values{})
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	p.Open(bad)
	rig := rigAt(s, bad)
	rig.Break()
	p.Wait(`document.querySelector("#said").innerText.includes("went wrong inside the program")`)
	p.Wait(`!document.querySelector("#again").hidden`)
	for range page.MaxStreamsHost {
		s.Access.Streams.Add("")
	}
	p.Open("/job/" + job)
	p.Wait(`document.querySelector("#line").innerText.includes("pages on this device follow along already")`)
	p.Open(s.NewBench(url.Values{}))
	p.Wait(`document.querySelector("#line").innerText.includes("pages on this device follow along already")`)
	for _, c := range p.Complaints() {
		t.Error("console: " + c)
	}
}
