package web

import (
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"
)

func TestCodeLetsADeviceInWithItsRole(t *testing.T) {
	s := newShop(t)
	cookie := s.pairPhone(Work)
	if !cookie.HttpOnly || cookie.SameSite != http.SameSiteStrictMode || cookie.Path != "/" || len(cookie.Value) < 43 {
		t.Errorf("cookie %+v", cookie)
	}
	with := func(r *http.Request) { r.AddCookie(cookie) }
	w := s.do(request("GET", "/", phoneAddr, nil, with))
	wantCode(t, w, 200)
	wantIn(t, w.Body.String(), "Ada Reed, phone")
	wantCode(t, s.do(request("GET", "/new", phoneAddr, nil, with)), 200)
	wantCode(t, s.do(request("GET", "/devices", phoneAddr, nil, with)), http.StatusForbidden)
	if strings.Contains(fmt.Sprint(s.devices.list()), cookie.Value) {
		t.Error("the secret itself is kept")
	}
}

func TestLoopbackNameFromTheLANIsNotTheHost(t *testing.T) {
	s := newShop(t)
	w := s.do(request("GET", "/", phoneAddr, nil, func(r *http.Request) { r.Host = "localhost:8080" }))
	if w.Header().Get("Location") != "/pair" {
		t.Errorf("status %d: a phone that says localhost was let in", w.Code)
	}
}

func TestCodeExpires(t *testing.T) {
	c := &clock{time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)}
	s := newShop(t, func(cfg *Config) { cfg.Clock = c.Now })
	i, _ := s.Invite(Look)
	c.now = c.now.Add(codeLife - time.Second)
	if _, err := s.pairing.try("a", i.Code); err != nil {
		t.Errorf("a second before the end: %v", err)
	}
	c.now = c.now.Add(2 * time.Second)
	if _, err := s.pairing.try("a", i.Code); !errors.Is(err, errNoCode) {
		t.Errorf("a second after the end: %v", err)
	}
}

func TestGuessingIsSlowedAndStopped(t *testing.T) {
	c := &clock{time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)}
	s := newShop(t, func(cfg *Config) { cfg.Clock = c.Now })
	i, _ := s.Invite(Work)
	wrong := "00000000"
	if wrong == i.Code {
		wrong = "11111111"
	}
	for range triesPerTurn {
		if _, err := s.pairing.try("a", wrong); !errors.Is(err, errWrongCode) {
			t.Fatal(err)
		}
	}
	if _, err := s.pairing.try("a", i.Code); !errors.Is(err, errTooOften) {
		t.Errorf("after %d wrong tries even the right code must wait: %v", triesPerTurn, err)
	}
	if role, err := s.pairing.try("b", i.Code); err != nil || role != Work {
		t.Errorf("another sender is not held up: %v %v", role, err)
	}
	c.now = c.now.Add(triesTurn)
	if _, err := s.pairing.try("a", i.Code); err != nil {
		t.Errorf("after a minute: %v", err)
	}
	for n := triesPerTurn; n < triesInAll; n++ { // many senders together
		s.pairing.try(fmt.Sprint("sender ", n), wrong)
	}
	if _, err := s.pairing.try("c", i.Code); !errors.Is(err, errNoCode) {
		t.Errorf("after %d wrong tries the code must be void: %v", triesInAll, err)
	}
	for n := range 5 * maxSenders {
		s.pairing.try(fmt.Sprint("flood ", n), wrong)
	}
	if len(s.pairing.tries) > maxSenders {
		t.Errorf("%d senders kept", len(s.pairing.tries))
	}
}

func TestOneDeviceWithManyAddressesIsOneSender(t *testing.T) {
	of := func(addr string) string { return remote(&http.Request{RemoteAddr: addr}) }
	if of("[2001:db8::1]:1") != of("[2001:db8::2:3]:9") {
		t.Error("two addresses of one /64 count apart")
	}
	if of("192.0.2.1:1") == of("192.0.2.2:1") || of("[::ffff:192.0.2.1]:1") != of("192.0.2.1:5") {
		t.Error("IPv4 senders are told apart wrongly")
	}
}

func TestCodesAreDifferent(t *testing.T) {
	s := newShop(t)
	seen := map[string]bool{}
	for range 200 {
		i, err := s.Invite(Look)
		if err != nil {
			t.Fatal(err)
		}
		if len(i.Code) != codeDigits || seen[i.Code] {
			t.Fatalf("code %q", i.Code)
		}
		seen[i.Code] = true
	}
}

func TestDeviceSentAwayIsOut(t *testing.T) {
	s := newShop(t)
	cookie := s.pairPhone(Instructor)
	with := func(r *http.Request) { r.AddCookie(cookie) }
	invite, _ := s.Invite(Work)
	id := s.devices.list()[0].ID
	_, stop, _ := s.live.add(id)
	wantCode(t, s.post("/devices/remove", url.Values{"id": {id}}), http.StatusSeeOther)
	if w := s.do(request("GET", "/", phoneAddr, nil, with)); w.Header().Get("Location") != "/pair" {
		t.Errorf("status %d after it was sent away", w.Code)
	}
	select {
	case <-stop:
	default:
		t.Error("its event stream stays open")
	}
	if _, err := s.pairing.try("a", invite.Code); err == nil {
		t.Error("the code of before still lets it in")
	}
	wantCode(t, s.post("/devices/remove", url.Values{"id": {id}}), http.StatusNotFound)
}

func TestRoleIsChanged(t *testing.T) {
	s := newShop(t)
	cookie := s.pairPhone(Look)
	with := func(r *http.Request) { r.AddCookie(cookie) }
	wantCode(t, s.do(request("GET", "/new", phoneAddr, nil, with)), http.StatusForbidden)
	wantCode(t, s.post("/devices/role", url.Values{"id": {s.devices.list()[0].ID}, "role": {"work"}}), http.StatusSeeOther)
	wantCode(t, s.do(request("GET", "/new", phoneAddr, nil, with)), 200)
	wantCode(t, s.post("/devices/role", url.Values{"id": {s.devices.list()[0].ID}, "role": {"owner"}}), http.StatusUnprocessableEntity)
}

type keptDevices struct {
	all   []Device
	saves int
	full  error // why nothing can be written
}

func (k *keptDevices) Load() ([]Device, error) { return append([]Device(nil), k.all...), nil }
func (k *keptDevices) Save(d []Device) error {
	k.saves++
	if k.full == nil {
		k.all = d
	}
	return k.full
}

func TestDevicesOutliveARestart(t *testing.T) {
	store := &keptDevices{}
	c := &clock{time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)}
	change := func(cfg *Config) { cfg.Devices, cfg.Clock = store, c.Now }
	cookie := newShop(t, change).pairPhone(Work)
	get := func() *httptest.ResponseRecorder {
		return newShop(t, change).do(request("GET", "/", phoneAddr, nil, func(r *http.Request) { r.AddCookie(cookie) }))
	}
	wantCode(t, get(), 200)
	c.now = c.now.Add(sessionLife + time.Hour)
	if w := get(); w.Header().Get("Location") != "/pair" {
		t.Errorf("status %d: a session of %v ago still counts", w.Code, sessionLife)
	}
}

// A phone in daily use stays paired over months and restarts, on the host and by its own cookie, for one write a day.
func TestDailyPhoneStaysPaired(t *testing.T) {
	store := &keptDevices{}
	c := &clock{time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)}
	change := func(cfg *Config) { cfg.Devices, cfg.Clock = store, c.Now }
	s := newShop(t, change)
	cookie := s.pairPhone(Work)
	expires := c.now.Add(time.Duration(cookie.MaxAge) * time.Second)
	get := func() *httptest.ResponseRecorder {
		t.Helper()
		if !c.now.Before(expires) {
			t.Fatalf("%v: the phone has dropped its cookie", c.now)
		}
		w := s.do(request("GET", "/", phoneAddr, nil, func(r *http.Request) { r.AddCookie(cookie) }))
		wantCode(t, w, 200)
		for _, again := range w.Result().Cookies() {
			if again.Value != cookie.Value || !again.HttpOnly || again.SameSite != http.SameSiteStrictMode {
				t.Errorf("the cookie given again is %+v", again)
			}
			expires = c.now.Add(time.Duration(again.MaxAge) * time.Second)
		}
		return w
	}
	const days = 70
	before := store.saves
	for range days {
		for range 5 {
			get()
			c.now = c.now.Add(5 * time.Minute)
		}
		c.now = c.now.Add(24*time.Hour - 25*time.Minute)
	}
	if n := store.saves - before; n < days-2 || n > days {
		t.Errorf("%d writes in %d days", n, days)
	}
	s = newShop(t, change) // the host computer was started again
	get()
	store.full = errors.New("disk is full")
	c.now = c.now.Add(25 * time.Hour)
	before = store.saves
	for range 50 {
		get()
		c.now = c.now.Add(time.Second)
	}
	if n := store.saves - before; n != 1 {
		t.Errorf("%d tries to write on a full disk in 50 s", n)
	}
	store.full = nil
	c.now = c.now.Add(time.Minute)
	if get(); !store.all[0].SeenAt.Equal(c.now) {
		t.Error("it is not tried again")
	}
}

func TestPairingPageSaysWhatIsWrong(t *testing.T) {
	s := newShop(t)
	s.Invite(Work)
	w := s.do(request("POST", "/pair", phoneAddr, url.Values{"code": {"12"}, "name": {"Ada"}}))
	wantCode(t, w, http.StatusForbidden)
	wantIn(t, w.Body.String(), "read it again")
	wantIn(t, w.Body.String(), `value="Ada"`)
	wantCode(t, s.do(request("POST", "/pair", phoneAddr, url.Values{"code": {"12"}, "name": {" \u200b "}})), http.StatusUnprocessableEntity)
}

func TestInviteAddressAndSymbols(t *testing.T) {
	s := newShop(t)
	i, _ := s.Invite(Work)
	if i.URL != "http://192.0.2.7:8080/pair?code="+i.Code {
		t.Errorf("address %q", i.URL)
	}
	w := s.get("/devices")
	wantIn(t, w.Body.String(), i.Spaced())
	wantIn(t, w.Body.String(), `<svg class="qr"`)
	text, err := TerminalQR(i.URL)
	if err != nil || len(strings.Split(text, "\n")) < 15 {
		t.Errorf("%v\n%s", err, text)
	}
}
