package web

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"phasewright/bench"
	"phasewright/drawing"
)

func (s *shop) bench(form url.Values) string {
	s.t.Helper()
	w := s.post("/bench", form)
	if w.Code != http.StatusSeeOther {
		s.t.Fatalf("bench: %d %s", w.Code, w.Body)
	}
	return w.Header().Get("Location")
}

func frameOf(t testing.TB, text string) benchFrame {
	t.Helper()
	var f benchFrame
	if err := json.Unmarshal([]byte(text), &f); err != nil {
		t.Fatal(err, text)
	}
	return f
}

func TestBenchSaysWhatItRefuses(t *testing.T) {
	s := newShop(t)
	b := s.bench(url.Values{})
	for _, c := range []struct {
		form url.Values
		say  string
	}{
		{url.Values{"do": {"starter"}, "to": {"on"}}, "the key is off"},
		{url.Values{"do": {"housing"}, "by": {"1"}}, "clamp"},
		{url.Values{"do": {"light"}, "to": {"on"}, "wire": {"99"}}, "there is no wire 99"},
		{url.Values{"do": {"blow up"}}, "no such control"},
		{url.Values{"do": {"housing"}, "by": {"one"}}, "no such control or figure"},
		{url.Values{"do": {"hand"}, "by": {"-5"}}, ""},
	} {
		w := s.post(b+"/do", c.form)
		wantCode(t, w, http.StatusConflict)
		wantIn(t, w.Body.String(), c.say)
	}
	wantCode(t, s.get("/bench/none"), 404)
	wantCode(t, s.post("/bench", url.Values{"exercise": {"none such"}}), 422)
	wantCode(t, s.post("/bench", url.Values{"fault": {"delay"}, "size": {"a lot"}}), 422)
}

// A class on phones sees the same bench; what is hidden is in no page until it is revealed.
func TestClassLooksOnAndNothingLeaks(t *testing.T) {
	s := newShop(t)
	table := bench.FaultTable()
	b := s.bench(url.Values{"fault": {table[0].Name}})
	look := s.pairPhone(Look)
	with := func(r *http.Request) { r.AddCookie(look) }
	page := s.do(request("GET", b, phoneAddr, nil, with))
	wantCode(t, page, 200)
	for _, f := range table {
		if strings.Contains(page.Body.String(), f.Title) {
			t.Errorf("the page names the fault %q", f.Title)
		}
	}
	wantCode(t, s.do(request("POST", b+"/do", phoneAddr, url.Values{"do": {"key"}, "to": {"on"}}, with)), 403)
	work := s.pairPhone(Work)
	withWork := func(r *http.Request) { r.AddCookie(work) }
	wantCode(t, s.do(request("POST", "/bench", phoneAddr, url.Values{"fault": {table[0].Name}}, withWork)), 403)
	wantCode(t, s.do(request("POST", b+"/judge", phoneAddr, url.Values{}, withWork)), 403)
	wantCode(t, s.post(b+"/judge", url.Values{}), 303)
	wantIn(t, s.do(request("GET", b, phoneAddr, nil, with)).Body.String(), table[0].Name)
}

// The motor starts, and every screen that watches sees it turn.
func TestBenchRunsForAllWhoWatch(t *testing.T) {
	s := newShop(t)
	b := s.bench(url.Values{})
	server := httptest.NewServer(s)
	defer server.Close()
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	var screens []<-chan string
	for range 2 {
		screens = append(screens, listenAt(t, ctx, server.URL+b+"/live"))
	}
	for _, f := range []url.Values{{"do": {"key"}, "to": {"on"}}, {"do": {"fuel"}, "to": {"on"}}, {"do": {"starter"}, "to": {"on"}}} {
		wantCode(t, s.post(b+"/do", f), 303)
	}
	for _, e := range screens {
		end := time.After(20 * time.Second)
		for turning := false; !turning; {
			select {
			case text := <-e:
				if json, ok := strings.CutPrefix(text, "frame "); ok {
					f := frameOf(t, json)
					turning = f.Spin != 0 && f.On["starter"] && f.Sparks > 0
				}
			case <-end:
				t.Fatal("no screen saw it turn and spark")
			}
		}
	}
	cancel()
	room, _ := s.rooms.get(strings.TrimPrefix(b, "/bench/"))
	for end := time.Now().Add(5 * time.Second); ; time.Sleep(10 * time.Millisecond) {
		room.mu.Lock()
		running := room.running
		room.mu.Unlock()
		if !running {
			break
		}
		if time.Now().After(end) {
			t.Fatal("the bench runs on with nobody watching")
		}
	}
}

func TestBenchesAreBounded(t *testing.T) {
	c := &clock{time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)}
	s := newShop(t, func(cfg *Config) { cfg.Clock = c.Now })
	for range maxRooms {
		s.bench(url.Values{})
	}
	wantCode(t, s.post("/bench", url.Values{}), http.StatusServiceUnavailable)
	c.now = c.now.Add(roomIdle + time.Minute)
	s.bench(url.Values{}) // those left alone make room
	if n := len(s.rooms.list()); n != 1 {
		t.Errorf("%d benches", n)
	}
}

// The vane stands in its pickup exactly between the crank angles at which the bench says it does.
func TestVanesPassTheirPickup(t *testing.T) {
	for _, turn := range []int{1, -1} {
		c := bench.Default()
		d := drawBench(c)
		d.turn = drawing.Turn(turn)
		vane := [2]float64{100, 130}
		path := d.vanePath([][2]float64{vane}, 0, vaneInner, vaneOuter)
		var x, y float64
		if _, err := fmt.Sscanf(path, "M%f %fA", &x, &y); err != nil {
			t.Fatal(path, err)
		}
		wheel := float64(turn) * vane[0] / 2 // the wheel as the vane enters
		sin, cos := math.Sincos(wheel * math.Pi / 180)
		gx, gy := x*cos-y*sin, x*sin+y*cos // clockwise on a page whose y points down
		if d := (gx-0)*(gx-0) + (gy+vaneOuter)*(gy+vaneOuter); d > 0.001 {
			t.Errorf("rotor turn %d: as it enters, the vane's edge stands at %.2f, %.2f, not under the pickup at the top", turn, gx, gy)
		}
	}
}

// On the bench by clicks: key, light, starter; the page shows it turn, and a second screen too.
func TestBenchInABrowser(t *testing.T) {
	s := newShop(t)
	base, _ := s.serve()
	b := browser(t)
	one, two := s.screen(b, base, 360, 740), s.screen(b, base, 1280, 800)
	one.open("/bench")
	one.click(`input[value=lamps]`)
	one.click("button.primary")
	one.wait(`document.querySelector("#bench")`)
	path := eval[string](one, "location.pathname")
	two.open(path)
	one.click(`[data-switch=starter]`)
	one.wait(`document.querySelector("#refused").innerText.includes("the key is off")`)
	one.click(`[data-switch=key]`)
	one.wait(`document.querySelector("[data-switch=key]").getAttribute("aria-pressed") == "true" && document.querySelector("#refused").innerText == ""`)
	two.wait(`document.querySelector("[data-switch=key]").getAttribute("aria-pressed") == "true"`)
	one.click(`[data-switch=starter]`)
	two.wait(`Number(document.querySelector("[data-show=rpm]").innerText) > 50`)
	first := eval[string](two, `document.querySelector("#bench-rotor").getAttribute("transform")`)
	two.wait(`document.querySelector("#bench-rotor").getAttribute("transform") != "` + first + `"`)
	one.click(`[data-switch=starter]`)
	one.click(`main button.primary`)
	two.wait(`document.querySelector("#asked").innerText != ""`)
	for _, c := range append(one.complaints(), two.complaints()...) {
		t.Error("console: " + c)
	}
}
