package livebench_test

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"runtime"
	"strings"
	"testing"
	"time"

	"phasewright/web"
	"phasewright/web/livebench"
	"phasewright/web/page"
	"phasewright/web/webtest"
)

// No goroutine, stream or bench is left: pages that come and go, a bench put away, a program that ends.
func TestBenchLeavesNothing(t *testing.T) {
	s := webtest.NewShop(t)
	server := httptest.NewServer(s)
	defer server.Close()
	client := &http.Client{Transport: &http.Transport{}}
	before := runtime.NumGoroutine()
	for range 3 {
		path := s.NewBench(url.Values{})
		ended := make(chan string, 5)
		for range 5 {
			answer, err := client.Get(server.URL + path + "/live?tab=x")
			if err != nil {
				t.Fatal(err)
			}
			go func() {
				defer answer.Body.Close()
				var last string
				buf := make([]byte, 1<<16)
				for {
					n, err := answer.Body.Read(buf)
					if n > 0 {
						last = string(buf[:n])
					}
					if err != nil {
						ended <- last
						return
					}
				}
			}()
		}
		room := rigAt(s, path)
		for room.Watching() < 5 {
			time.Sleep(5 * time.Millisecond)
		}
		webtest.WantCode(t, s.Post(path+"/do", url.Values{"do": {"key"}, "to": {"on"}}), http.StatusSeeOther)
		time.Sleep(3 * livebench.Period)
		webtest.WantCode(t, s.Post(path+"/away", nil), http.StatusSeeOther)
		for range 5 {
			select {
			case last := <-ended:
				if !strings.Contains(last, "event: ended") {
					t.Errorf("a page was not told: %q", last)
				}
			case <-time.After(5 * time.Second):
				t.Fatal("a stream hangs on a bench that was put away")
			}
		}
		webtest.WantCode(t, s.Get(path), http.StatusNotFound)
		webtest.WantCode(t, s.Get(path+"/live"), http.StatusNotFound)
	}
	s.NewBench(url.Values{})
	s.Close()
	if w := s.Post("/bench", nil); w.Code != http.StatusServiceUnavailable {
		t.Errorf("a bench set up after the end: %d", w.Code)
	}
	client.CloseIdleConnections()
	for end := time.Now().Add(5 * time.Second); runtime.NumGoroutine() > before; time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			buf := make([]byte, 1<<20)
			t.Fatalf("%d goroutines before, %d after\n%s", before, runtime.NumGoroutine(), buf[:runtime.Stack(buf, true)])
		}
	}
}

func TestBenchesAreBounded(t *testing.T) {
	c := &webtest.Clock{At: time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)}
	s := webtest.NewShop(t, func(cfg *web.Config) { cfg.Clock = c.Now })
	var leave []func()
	var paths []string
	for range livebench.MaxBenches {
		path := s.NewBench(url.Values{})
		r := rigAt(s, path)
		_, away, err := r.Watch(webtest.Ada, "t")
		if err != nil {
			t.Fatal(err)
		}
		leave, paths = append(leave, away), append(paths, path)
	}
	webtest.WantCode(t, s.Post("/bench", url.Values{}), http.StatusServiceUnavailable)
	leave[0]()
	webtest.WantCode(t, s.Post("/bench", url.Values{}), http.StatusServiceUnavailable) // left just now: its page may be loading again
	c.At = c.At.Add(livebench.Grace + time.Second)
	s.NewBench(url.Values{})
	if _, err := s.Livebench.At(paths[0]); err == nil {
		t.Error("the bench left alone did not make room")
	}
	if n := s.Livebench.Count(); n != livebench.MaxBenches {
		t.Errorf("%d benches", n)
	}
	s.Close()
}

func TestBenchSaysWhatItRefuses(t *testing.T) {
	s := webtest.NewShop(t)
	b := s.NewBench(url.Values{})
	for _, c := range []struct {
		form url.Values
		code int
		say  string
	}{
		{form("do", "starter", "to", "on"), 409, "Starter: the key is off. Turn the key on first."},
		{form("do", "housing", "by", "1"), 409, "Housing: the clamp is tight. Loosen it first."},
		{form("do", "light", "to", "on", "wire", "99"), 409, "there is no wire 99"},
		{form("do", "settings", "allowance", "100"), 409, "controller has no power"},
		{form("do", "store"), 409, "controller has no power"},
		{form("do", "crank", "by", "-5"), 409, "turn forward"},
		{form("do", "tooth", "way", "with"), 409, "clamp is tight"},
		{form("do", "lever", "rpm", "99999"), 409, "redline"},
		{form("do", "blow up"), 422, "no such control"},
		{form("do", "key", "to", "sideways"), 422, "on or off"},
		{form("do", "housing", "by", "one"), 422, "“one” is not a number."},
		{form("do", "housing", "by", "NaN"), 422, "not a number"},
	} {
		w := s.Do(webtest.Request("POST", b+"/do", webtest.HostAddr, c.form, func(r *http.Request) { r.Header.Set("Accept", "application/json") }))
		webtest.WantCode(t, w, c.code)
		if body := w.Body.String(); !strings.Contains(strings.ReplaceAll(strings.ToLower(body), `","do":"`, " "), strings.ToLower(c.say)) {
			t.Errorf("%v: %s, want %q", c.form, body, c.say)
		}
	}
	webtest.WantCode(t, s.Get("/bench/none"), 404)
	webtest.WantCode(t, s.Post("/bench", form("exercise", "none such")), 422)
	webtest.WantCode(t, s.Post("/bench", form("engine", "template-none")), 422)
	webtest.WantCode(t, s.Post("/bench", form("engine", "none")), 404)
	webtest.WantCode(t, s.Post(b+"/hide", form("fault", "delay", "size", "a lot")), 422)
	webtest.WantCode(t, s.Post(b+"/hide", form("fault", "")), 422)
	webtest.WantCode(t, s.Do(webtest.Request("POST", b+"/do", webtest.HostAddr, form("do", "key", "to", "on"), func(r *http.Request) { r.Header.Set("Origin", "http://elsewhere.example") })), 403)
}

// form is what a page sends.
func form(pairs ...string) url.Values {
	f := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		f.Add(pairs[i], pairs[i+1])
	}
	return f
}

// rigAt finds the bench behind an address.
func rigAt(s *webtest.Shop, path string) interface {
	Break()
	Crank()
	Hidden() []string
	Watch(*page.Session, string) (func() string, func(), error)
	Watching() int
} {
	s.T.Helper()
	r, err := s.Livebench.At(path)
	if err != nil {
		s.T.Fatal(err)
	}
	return r
}
