package web

import (
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"runtime"
	"strings"
	"testing"
	"time"

	"phasewright/bench"
)

// status is the answer's status of an error in words.
func status(err error) int {
	var p *plainly
	if errors.As(err, &p) {
		return p.status
	}
	return 0
}

// One pair of hands at a time: the bench says whose, lets anybody take over, and tells who lost them.
func TestControlsChangeHands(t *testing.T) {
	c := start()
	r := byHand(t, benchOrder{}, c)
	one, _ := r.watch(ada, "t1")
	two, _ := r.watch(ben, "t2")
	knows, sees := told(t, one, map[string]any{}), told(t, two, map[string]any{})
	if knows["holder"] != "" {
		t.Fatalf("held by %v before anybody did anything", knows["holder"])
	}
	act(t, r, ada, "t1", "key", "to", "on") // the first to do something has them
	knows, sees = told(t, one, knows), told(t, two, sees)
	if sees["holder"] != "Ada Reed" || sees["held"] != float64(one.number) || sees["key"] != "on" {
		t.Errorf("the other page sees holder %v, page %v, key %v", sees["holder"], sees["held"], sees["key"])
	}
	err := r.do(ben, "t2", "key", form("to", "off"))
	if status(err) != http.StatusConflict || !strings.Contains(err.Error(), "Ada Reed holds the controls") {
		t.Errorf("a second pair of hands: %v", err)
	}
	if r.state.Key != bench.On {
		t.Error("the refused control worked")
	}
	if err := r.do(ada, "another tab", "key", form("to", "off")); status(err) != http.StatusConflict {
		t.Errorf("another page of the same device: %v", err)
	}
	if err := r.do(ben, "t1", "key", form("to", "off")); status(err) != http.StatusConflict {
		t.Errorf("another device under the holder's page name: %v", err)
	}
	r.take(ben, "t2")
	knows = told(t, one, knows)
	if knows["holder"] != "Ben Hale" || knows["held"] != float64(two.number) || !strings.Contains(knows["did"].(string), "over from Ada Reed") {
		t.Errorf("the former holder is told: %v, %v, %v", knows["holder"], knows["held"], knows["did"])
	}
	act(t, r, ben, "t2", "key", "to", "off")
	r.letGo(ada, "t1") // not hers any more
	if !r.hold.by("t2", "b") {
		t.Error("somebody else let the holder's controls go")
	}
	r.letGo(ben, "t2")
	if told(t, one, knows)["holder"] != "" {
		t.Error("let go, and still held")
	}
}

// A holder whose page goes away: the starter is let go soon, the controls a little later; coming back in time keeps them.
func TestHolderGoesAway(t *testing.T) {
	c := start()
	r := byHand(t, benchOrder{}, c)
	other, _ := r.watch(ben, "t2")
	one, _ := r.watch(ada, "t1")
	act(t, r, ada, "t1", "key", "to", "on")
	act(t, r, ada, "t1", "starter", "to", "on")
	r.seconds(c, 2)
	r.leave(one)
	r.seconds(c, 2)
	if r.state.Starter != bench.On {
		t.Error("the starter was let go at once: a phone that loses the line for a moment would stop it")
	}
	r.seconds(c, 2)
	if r.state.Starter != bench.Off {
		t.Error("the starter runs on with nobody at it")
	}
	if !r.hold.held() {
		t.Error("the controls were let go too soon")
	}
	back, _ := r.watch(ada, "t1")
	r.seconds(c, 60)
	if !r.hold.by("t1", "a") || r.hold.number != back.number {
		t.Error("the holder came back and lost the controls")
	}
	r.leave(back)
	r.seconds(c, holdAway.Seconds()+1)
	if r.hold.held() {
		t.Error("held by somebody who is gone")
	}
	sees := told(t, other, map[string]any{})
	r.seconds(c, 0.1) // it was slow; now there is room
	if sees = told(t, other, sees); sees["holder"] != "" {
		t.Errorf("the others still read %v", sees["holder"])
	}
	act(t, r, ben, "t2", "key", "to", "off")
}

// Without script a device holds as a whole, and not for ever.
func TestHoldByForms(t *testing.T) {
	c := start()
	r := byHand(t, benchOrder{}, c)
	other, _ := r.watch(ben, "t2")
	act(t, r, ada, "", "key", "to", "on")
	r.seconds(c, 60)
	if err := r.do(ben, "t2", "key", form("to", "off")); status(err) != http.StatusConflict {
		t.Errorf("held for a minute: %v", err)
	}
	act(t, r, ada, "", "clamp", "to", "off")
	r.seconds(c, holdByForms.Seconds()+1)
	act(t, r, ben, "t2", "clamp", "to", "on")
	told(t, other, map[string]any{})
}

// Time passes while somebody watches and a little longer; then it stands still and nothing runs.
func TestTimeStandsStillAlone(t *testing.T) {
	c := start()
	r := byHand(t, benchOrder{}, c)
	w, _ := r.watch(ada, "t1")
	r.seconds(c, 100)
	if r.state.TimeS < 99 {
		t.Errorf("100 s with a watcher: %.1f s on the bench", r.state.TimeS)
	}
	r.leave(w)
	r.seconds(c, benchGrace.Seconds()-1)
	if !r.tick(c.now) {
		t.Error("stopped before its time")
	}
	r.seconds(c, 3)
	if r.tick(c.now) {
		t.Error("goes on alone")
	}
	at := r.state.TimeS
	c.now = c.now.Add(time.Hour)
	if again, _ := r.watch(ada, "t1"); again == nil || r.state.TimeS != at {
		t.Errorf("the bench lost %.1f s of its own time", r.state.TimeS-at)
	}
	r.seconds(c, 1)
	if gone := r.state.TimeS - at; gone > 1.3 {
		t.Errorf("an hour away came all at once: %.1f s", gone)
	}
}

// No goroutine, stream or bench is left: pages that come and go, a bench put away, a program that ends.
func TestBenchLeavesNothing(t *testing.T) {
	s := newShop(t)
	server := httptest.NewServer(s)
	defer server.Close()
	client := &http.Client{Transport: &http.Transport{}}
	before := runtime.NumGoroutine()
	for range 3 {
		path := s.bench(url.Values{})
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
		room := s.roomOf(path)
		for watching := 0; watching < 5; watching, _ = room.quiet(time.Now()) {
			time.Sleep(5 * time.Millisecond)
		}
		wantCode(t, s.post(path+"/do", url.Values{"do": {"key"}, "to": {"on"}}), http.StatusSeeOther)
		time.Sleep(3 * benchPeriod)
		wantCode(t, s.post(path+"/away", nil), http.StatusSeeOther)
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
		wantCode(t, s.get(path), http.StatusNotFound)
		wantCode(t, s.get(path+"/live"), http.StatusNotFound)
	}
	s.bench(url.Values{})
	s.Close()
	if w := s.post("/bench", nil); w.Code != http.StatusServiceUnavailable {
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
	c := start()
	s := newShop(t, func(cfg *Config) { cfg.Clock = c.Now })
	var first *room
	for range maxBenches {
		r := s.roomOf(s.bench(url.Values{}))
		if first == nil {
			first = r
		}
		if _, err := r.watch(ada, "t"); err != nil {
			t.Fatal(err)
		}
	}
	wantCode(t, s.post("/bench", url.Values{}), http.StatusServiceUnavailable)
	for w := range first.watchers {
		first.leave(w)
	}
	wantCode(t, s.post("/bench", url.Values{}), http.StatusServiceUnavailable) // left just now: its page may be loading again
	c.now = c.now.Add(benchGrace + time.Second)
	s.bench(url.Values{})
	if _, err := s.rooms.find(first.id); err == nil {
		t.Error("the bench left alone did not make room")
	}
	if n := len(s.rooms.list()); n != maxBenches {
		t.Errorf("%d benches", n)
	}
	s.Close()
}

func TestBenchSaysWhatItRefuses(t *testing.T) {
	s := newShop(t)
	b := s.bench(url.Values{})
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
		w := s.do(request("POST", b+"/do", hostAddr, c.form, func(r *http.Request) { r.Header.Set("Accept", "application/json") }))
		wantCode(t, w, c.code)
		if body := w.Body.String(); !strings.Contains(strings.ReplaceAll(strings.ToLower(body), `","do":"`, " "), strings.ToLower(c.say)) {
			t.Errorf("%v: %s, want %q", c.form, body, c.say)
		}
	}
	wantCode(t, s.get("/bench/none"), 404)
	wantCode(t, s.post("/bench", form("exercise", "none such")), 422)
	wantCode(t, s.post("/bench", form("engine", "template-none")), 422)
	wantCode(t, s.post("/bench", form("engine", "none")), 404)
	wantCode(t, s.post(b+"/hide", form("fault", "delay", "size", "a lot")), 422)
	wantCode(t, s.post(b+"/hide", form("fault", "")), 422)
	wantCode(t, s.do(request("POST", b+"/do", hostAddr, form("do", "key", "to", "on"), func(r *http.Request) { r.Header.Set("Origin", "http://elsewhere.example") })), 403)
}
