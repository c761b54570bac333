package web

import (
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"sync/atomic"
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
	i, _ = s.Invite(Look)
	c.now = c.now.Add(codeLife + time.Second)
	if _, err := s.pairing.try("a", i.Code); !errors.Is(err, errNoCode) {
		t.Errorf("a second after the end: %v", err)
	}
}

// wrongCode is a code that is not the invite's.
func wrongCode(i Invite) string {
	if strings.HasPrefix(i.Code, "A") {
		return "B" + i.Code[1:]
	}
	return "A" + i.Code[1:]
}

func TestCodeIsForOneDevice(t *testing.T) {
	s := newShop(t)
	i, _ := s.Invite(Work)
	var in atomic.Int32
	var all sync.WaitGroup
	for n := range 20 { // at the same time
		all.Go(func() {
			if _, err := s.pairing.try(fmt.Sprint(n), i.Code); err == nil {
				in.Add(1)
			} else if !errors.Is(err, errCodeUsed) {
				t.Error(err)
			}
		})
	}
	all.Wait()
	if in.Load() != 1 {
		t.Errorf("%d devices came in with a code for one", in.Load())
	}
	w := s.pairs(phoneAddr, i.Code)
	wantCode(t, w, http.StatusForbidden)
	wantIn(t, w.Body.String(), "if yours is not among them, tell whoever is at the host")
	wantIn(t, s.get("/devices").Body.String(), "The code has been used.")
	if body := s.get("/devices").Body.String(); strings.Contains(body, i.Spaced()) {
		t.Error("the host's screen goes on showing a code that is used up")
	}
}

func TestCodeForAClass(t *testing.T) {
	s := newShop(t)
	wantCode(t, s.post("/devices/code", url.Values{"role": {"look"}, "devices": {"30"}}), http.StatusSeeOther)
	i, _ := s.pairing.now()
	for n := range 30 {
		addr := fmt.Sprintf("192.0.2.%d:50000", 100+n)
		wantCode(t, s.pairs(addr, i.Code), http.StatusSeeOther)
		if n == 11 {
			wantIn(t, s.get("/devices").Body.String(), `<b class="num">18</b> have not come yet`)
		}
	}
	wantCode(t, s.pairs(phoneAddr, i.Code), http.StatusForbidden)
	for _, d := range s.devices.list() {
		if d.Role != Look {
			t.Errorf("%s may %v", d.Name, d.Role)
		}
	}
	wantIn(t, s.get("/devices").Body.String(), "used by all 30 devices")
	for _, n := range []string{"0", "-1", "201", "x", "1.5"} {
		w := s.post("/devices/code", url.Values{"role": {"look"}, "devices": {n}})
		wantCode(t, w, http.StatusUnprocessableEntity)
	}
}

// pairs sends a code from an address, as the pairing page does.
func (s *shop) pairs(addr, code string) *httptest.ResponseRecorder {
	return s.do(request("POST", "/pair", addr, url.Values{"code": {code}, "name": {"Ada Reed"}}))
}

// brokenStore cannot keep devices.
type brokenStore struct{}

func (brokenStore) Load() ([]Device, error) { return nil, nil }
func (brokenStore) Save([]Device) error     { return errors.New("disk full") }

func TestCodeIsNotLostOnADeviceThatCouldNotBePaired(t *testing.T) {
	s := newShop(t, func(c *Config) { c.Devices = brokenStore{} })
	i, _ := s.Invite(Work)
	wantCode(t, s.pairs(phoneAddr, strings.ToLower(i.Spaced())), http.StatusInternalServerError)
	if now, ok := s.pairing.now(); !ok || now.Left != 1 {
		t.Errorf("left %d", now.Left)
	}
	s.pairing.giveBack(i.Code)
	if now, _ := s.pairing.now(); now.Left != 1 {
		t.Errorf("given back more than was taken: %d", now.Left)
	}
}

// A stranger's wrong tries hold up the stranger for longer and longer, and nobody else; whoever was given the code gets
// in.
func TestGuessingSlowsTheGuesserAlone(t *testing.T) {
	c := &clock{time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)}
	s := newShop(t, func(cfg *Config) { cfg.Clock = c.Now })
	i, _ := s.Invite(Work)
	wrong := wrongCode(i)
	var waits []time.Duration
	tries := 0
	for end := c.now.Add(codeLife); c.now.Before(end); tries++ {
		if _, err := s.pairing.try("a", wrong); !errors.Is(err, errWrongCode) {
			t.Fatal(err)
		}
		if tries < freeTries {
			continue
		}
		wait := waitFirst{}
		// Even the right code must wait, else the wait would stop no guess.
		if _, err := s.pairing.try("a", i.Code); !errors.As(err, &wait) {
			t.Fatalf("after %d wrong tries: %v", tries+1, err)
		}
		waits = append(waits, wait.left)
		s.pairing.try("a", wrong) // too early: counts for nothing
		c.now = c.now.Add(wait.left)
	}
	want := []time.Duration{2, 4, 8, 16, 32, 60, 60} // seconds; twice as long each time, at most a minute
	for n := range want {
		if waits[n] != want[n]*time.Second {
			t.Errorf("waits %v, want %v s first", waits, want)
			break
		}
	}
	if tries > 20 { // the figure that the length of the code rests on
		t.Errorf("%d tries in the life of a code", tries)
	}

	i, _ = s.Invite(Work)
	wrong = wrongCode(i)
	for n := range 5 * maxSenders {
		if _, err := s.pairing.try(fmt.Sprint("flood ", n), wrong); !errors.Is(err, errWrongCode) {
			t.Fatal(err)
		}
	}
	if n := len(s.pairing.senders); n > maxSenders {
		t.Errorf("%d senders kept", n)
	}
	s.pairing.try("b", wrong) // a slip of the finger costs nothing
	if role, err := s.pairing.try("b", i.Code); err != nil || role != Work {
		t.Errorf("the one who was given the code is kept out by strangers: %v %v", role, err)
	}
}

// BenchmarkGuess is a wrong code from a new address each time, without the network: what the length of the code is set
// against.
func BenchmarkGuess(b *testing.B) {
	s := newShop(b)
	i, _ := s.Invite(Work)
	wrong := wrongCode(i)
	var from atomic.Uint32
	b.RunParallel(func(pb *testing.PB) {
		for pb.Next() {
			n := from.Add(1)
			s.pairs(fmt.Sprintf("10.%d.%d.%d:50000", n>>16&255, n>>8&255, n&255), wrong)
		}
	})
}

func TestRightCodeEndsTheWaits(t *testing.T) {
	c := &clock{time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)}
	s := newShop(t, func(cfg *Config) { cfg.Clock = c.Now })
	i, _ := s.InviteMany(Look, 2)
	for range freeTries {
		s.pairing.try("router", wrongCode(i)) // a whole class behind one address
	}
	if _, err := s.pairing.try("router", i.Code); err != nil {
		t.Fatal(err)
	}
	s.pairing.try("router", wrongCode(i))
	if _, err := s.pairing.try("router", i.Code); err != nil {
		t.Errorf("waits on although a right code came between: %v", err)
	}
}

func TestHostsScreenShowsWrongCodes(t *testing.T) {
	c := &clock{time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)}
	s := newShop(t, func(cfg *Config) { cfg.Clock = c.Now })
	i, _ := s.Invite(Work)
	if strings.Contains(s.get("/devices").Body.String(), "Wrong codes") {
		t.Error("shows wrong codes before there were any")
	}
	for n := range 4 {
		w := s.pairs("192.0.2.66:50000", wrongCode(i))
		wantCode(t, w, http.StatusForbidden)
		wantCode(t, s.pairs(fmt.Sprintf("192.0.2.%d:50000", 70+n*2), wrongCode(i)), http.StatusForbidden)
	}
	w := s.pairs("192.0.2.66:50000", wrongCode(i))
	wantCode(t, w, http.StatusTooManyRequests)
	if got := w.Header().Get("Retry-After"); got != "2" {
		t.Errorf("retry after %s s", got)
	}
	c.now = c.now.Add(2 * time.Second)
	s.pairs("192.0.2.66:50000", wrongCode(i))
	s.pairs("192.0.2.90:50000", wrongCode(i))
	body := s.get("/devices").Body.String()
	wantIn(t, body, "from 192.0.2.66: 5 wrong, last")
	wantIn(t, body, "and from 1 more address")
	c.now = c.now.Add(senderLife)
	if strings.Contains(s.get("/devices").Body.String(), "192.0.2.66") {
		t.Error("shows tries of long ago")
	}
}

// People type codes in small letters and with what separates groups on the screen.
func TestCodeAsTyped(t *testing.T) {
	for in, want := range map[string]string{"abcde fghjk": "ABCDEFGHJK", " ABCDE-FGHJK\t": "ABCDEFGHJK",
		"abcde\u00a0fghjk": "ABCDEFGHJK", "": "", "ABCDE0": "ABCDE0"} {
		if got := signsOf(in); got != want {
			t.Errorf("%q read as %q, want %q", in, got, want)
		}
	}
	if n := len(codeSigns); n != 30 { // the figure that the length of the code rests on
		t.Errorf("%d signs", n)
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
		if len(i.Code) != codeLength || strings.Trim(i.Code, codeSigns) != "" || seen[i.Code] {
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
