package access_test

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

	"phasewright/web"
	"phasewright/web/access"
	"phasewright/web/page"
	"phasewright/web/webtest"
)

func TestCodeLetsADeviceInWithItsRole(t *testing.T) {
	s := webtest.NewShop(t)
	cookie := s.PairPhone(page.Work)
	if !cookie.HttpOnly || cookie.SameSite != http.SameSiteStrictMode || cookie.Path != "/" || len(cookie.Value) < 43 {
		t.Errorf("cookie %+v", cookie)
	}
	with := func(r *http.Request) { r.AddCookie(cookie) }
	w := s.Do(webtest.Request("GET", "/", webtest.PhoneAddr, nil, with))
	webtest.WantCode(t, w, 200)
	webtest.WantIn(t, w.Body.String(), "Ada Reed, phone")
	webtest.WantCode(t, s.Do(webtest.Request("GET", "/new", webtest.PhoneAddr, nil, with)), 200)
	webtest.WantCode(t, s.Do(webtest.Request("GET", "/devices", webtest.PhoneAddr, nil, with)), http.StatusForbidden)
	if strings.Contains(fmt.Sprint(s.Access.Devices()), cookie.Value) {
		t.Error("the secret itself is kept")
	}
}

func TestLoopbackNameFromTheLANIsNotTheHost(t *testing.T) {
	s := webtest.NewShop(t)
	w := s.Do(webtest.Request("GET", "/", webtest.PhoneAddr, nil, func(r *http.Request) { r.Host = "localhost:8080" }))
	if w.Header().Get("Location") != "/pair" {
		t.Errorf("status %d: a phone that says localhost was let in", w.Code)
	}
}

func TestCodeExpires(t *testing.T) {
	c := &webtest.Clock{At: time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)}
	s := webtest.NewShop(t, func(cfg *web.Config) { cfg.Clock = c.Now })
	i, _ := s.Invite(page.Look)
	c.At = c.At.Add(access.CodeLife - time.Second)
	if _, err := s.Access.Try("a", i.Code); err != nil {
		t.Errorf("a second before the end: %v", err)
	}
	i, _ = s.Invite(page.Look)
	c.At = c.At.Add(access.CodeLife + time.Second)
	if _, err := s.Access.Try("a", i.Code); !errors.Is(err, access.ErrNoCode) {
		t.Errorf("a second after the end: %v", err)
	}
}

// wrongCode is a code that is not the invite's.
func wrongCode(i access.Invite) string {
	if strings.HasPrefix(i.Code, "A") {
		return "B" + i.Code[1:]
	}
	return "A" + i.Code[1:]
}

func TestCodeIsForOneDevice(t *testing.T) {
	s := webtest.NewShop(t)
	i, _ := s.Invite(page.Work)
	var in atomic.Int32
	var all sync.WaitGroup
	for n := range 20 { // at the same time
		all.Go(func() {
			if _, err := s.Access.Try(fmt.Sprint(n), i.Code); err == nil {
				in.Add(1)
			} else if !errors.Is(err, access.ErrCodeUsed) {
				t.Error(err)
			}
		})
	}
	all.Wait()
	if in.Load() != 1 {
		t.Errorf("%d devices came in with a code for one", in.Load())
	}
	w := pairs(s, webtest.PhoneAddr, i.Code)
	webtest.WantCode(t, w, http.StatusForbidden)
	webtest.WantIn(t, w.Body.String(), "if yours is not among them, tell whoever is at the host")
	webtest.WantIn(t, s.Get("/devices").Body.String(), "The code has been used.")
	if body := s.Get("/devices").Body.String(); strings.Contains(body, i.Spaced()) {
		t.Error("the host's screen goes on showing a code that is used up")
	}
}

func TestCodeForAClass(t *testing.T) {
	s := webtest.NewShop(t)
	webtest.WantCode(t, s.Post("/devices/code", url.Values{"role": {"look"}, "devices": {"30"}}), http.StatusSeeOther)
	i, _ := s.Access.Code()
	for n := range 30 {
		addr := fmt.Sprintf("192.0.2.%d:50000", 100+n)
		webtest.WantCode(t, pairs(s, addr, i.Code), http.StatusSeeOther)
		if n == 11 {
			webtest.WantIn(t, s.Get("/devices").Body.String(), `<b class="num">18</b> have not come yet`)
		}
	}
	webtest.WantCode(t, pairs(s, webtest.PhoneAddr, i.Code), http.StatusForbidden)
	for _, d := range s.Access.Devices() {
		if d.Role != page.Look {
			t.Errorf("%s may %v", d.Name, d.Role)
		}
	}
	webtest.WantIn(t, s.Get("/devices").Body.String(), "used by all 30 devices")
	for _, n := range []string{"0", "-1", "201", "x", "1.5"} {
		w := s.Post("/devices/code", url.Values{"role": {"look"}, "devices": {n}})
		webtest.WantCode(t, w, http.StatusUnprocessableEntity)
	}
}

// pairs sends a code from an address, as the pairing page does.
func pairs(s *webtest.Shop, addr, code string) *httptest.ResponseRecorder {
	return s.Do(webtest.Request("POST", "/pair", addr, url.Values{"code": {code}, "name": {"Ada Reed"}}))
}

func TestCodeIsNotLostOnADeviceThatCouldNotBePaired(t *testing.T) {
	s := webtest.NewShop(t, func(c *web.Config) { c.Devices = brokenStore{} })
	i, _ := s.Invite(page.Work)
	webtest.WantCode(t, pairs(s, webtest.PhoneAddr, strings.ToLower(i.Spaced())), http.StatusInternalServerError)
	if now, ok := s.Access.Code(); !ok || now.Left != 1 {
		t.Errorf("left %d", now.Left)
	}
	s.Access.GiveBack(i.Code)
	if now, _ := s.Access.Code(); now.Left != 1 {
		t.Errorf("given back more than was taken: %d", now.Left)
	}
}

// A stranger's wrong tries hold up the stranger for longer and longer, and nobody else; whoever was given the code gets
// in.
func TestGuessingSlowsTheGuesserAlone(t *testing.T) {
	c := &webtest.Clock{At: time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)}
	s := webtest.NewShop(t, func(cfg *web.Config) { cfg.Clock = c.Now })
	i, _ := s.Invite(page.Work)
	wrong := wrongCode(i)
	var waits []time.Duration
	tries := 0
	for end := c.At.Add(access.CodeLife); c.At.Before(end); tries++ {
		if _, err := s.Access.Try("a", wrong); !errors.Is(err, access.ErrWrongCode) {
			t.Fatal(err)
		}
		if tries < access.FreeTries {
			continue
		}
		// Even the right code must wait, else the wait would stop no guess.
		_, err := s.Access.Try("a", i.Code)
		wait := access.WaitOf(err)
		if wait == 0 {
			t.Fatalf("after %d wrong tries: %v", tries+1, err)
		}
		waits = append(waits, wait)
		s.Access.Try("a", wrong) // too early: counts for nothing
		c.At = c.At.Add(wait)
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

	i, _ = s.Invite(page.Work)
	wrong = wrongCode(i)
	for n := range 5 * access.MaxSenders {
		if _, err := s.Access.Try(fmt.Sprint("flood ", n), wrong); !errors.Is(err, access.ErrWrongCode) {
			t.Fatal(err)
		}
	}
	if n := s.Access.Senders(); n > access.MaxSenders {
		t.Errorf("%d senders kept", n)
	}
	s.Access.Try("b", wrong) // a slip of the finger costs nothing
	if role, err := s.Access.Try("b", i.Code); err != nil || role != page.Work {
		t.Errorf("the one who was given the code is kept out by strangers: %v %v", role, err)
	}
}

// BenchmarkGuess is a wrong code from a new address each time, without the network: what the length of the code is set
// against.
func BenchmarkGuess(b *testing.B) {
	s := webtest.NewShop(b)
	i, _ := s.Invite(page.Work)
	wrong := wrongCode(i)
	var from atomic.Uint32
	b.RunParallel(func(pb *testing.PB) {
		for pb.Next() {
			n := from.Add(1)
			pairs(s, fmt.Sprintf("10.%d.%d.%d:50000", n>>16&255, n>>8&255, n&255), wrong)
		}
	})
}

func TestRightCodeEndsTheWaits(t *testing.T) {
	c := &webtest.Clock{At: time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)}
	s := webtest.NewShop(t, func(cfg *web.Config) { cfg.Clock = c.Now })
	i, _ := s.InviteMany(page.Look, 2)
	for range access.FreeTries {
		s.Access.Try("router", wrongCode(i)) // a whole class behind one address
	}
	if _, err := s.Access.Try("router", i.Code); err != nil {
		t.Fatal(err)
	}
	s.Access.Try("router", wrongCode(i))
	if _, err := s.Access.Try("router", i.Code); err != nil {
		t.Errorf("waits on although a right code came between: %v", err)
	}
}

func TestHostsScreenShowsWrongCodes(t *testing.T) {
	c := &webtest.Clock{At: time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)}
	s := webtest.NewShop(t, func(cfg *web.Config) { cfg.Clock = c.Now })
	i, _ := s.Invite(page.Work)
	if strings.Contains(s.Get("/devices").Body.String(), "Wrong codes") {
		t.Error("shows wrong codes before there were any")
	}
	for n := range 4 {
		w := pairs(s, "192.0.2.66:50000", wrongCode(i))
		webtest.WantCode(t, w, http.StatusForbidden)
		webtest.WantCode(t, pairs(s, fmt.Sprintf("192.0.2.%d:50000", 70+n*2), wrongCode(i)), http.StatusForbidden)
	}
	w := pairs(s, "192.0.2.66:50000", wrongCode(i))
	webtest.WantCode(t, w, http.StatusTooManyRequests)
	if got := w.Header().Get("Retry-After"); got != "2" {
		t.Errorf("retry after %s s", got)
	}
	c.At = c.At.Add(2 * time.Second)
	pairs(s, "192.0.2.66:50000", wrongCode(i))
	pairs(s, "192.0.2.90:50000", wrongCode(i))
	body := s.Get("/devices").Body.String()
	webtest.WantIn(t, body, "from 192.0.2.66: 5 wrong, last")
	webtest.WantIn(t, body, "and from 1 more address")
	c.At = c.At.Add(access.SenderLife)
	if strings.Contains(s.Get("/devices").Body.String(), "192.0.2.66") {
		t.Error("shows tries of long ago")
	}
}

func TestCodesAreDifferent(t *testing.T) {
	s := webtest.NewShop(t)
	seen := map[string]bool{}
	for range 200 {
		i, err := s.Invite(page.Look)
		if err != nil {
			t.Fatal(err)
		}
		if len(i.Code) != access.CodeLength || strings.Trim(i.Code, access.CodeSigns) != "" || seen[i.Code] {
			t.Fatalf("code %q", i.Code)
		}
		seen[i.Code] = true
	}
}

func TestDeviceSentAwayIsOut(t *testing.T) {
	s := webtest.NewShop(t)
	cookie := s.PairPhone(page.Instructor)
	with := func(r *http.Request) { r.AddCookie(cookie) }
	invite, _ := s.Invite(page.Work)
	id := s.Access.Devices()[0].ID
	_, stop, _ := s.Access.Streams.Add(id)
	webtest.WantCode(t, s.Post("/devices/remove", url.Values{"id": {id}}), http.StatusSeeOther)
	if w := s.Do(webtest.Request("GET", "/", webtest.PhoneAddr, nil, with)); w.Header().Get("Location") != "/pair" {
		t.Errorf("status %d after it was sent away", w.Code)
	}
	select {
	case <-stop:
	default:
		t.Error("its event stream stays open")
	}
	if _, err := s.Access.Try("a", invite.Code); err == nil {
		t.Error("the code of before still lets it in")
	}
	webtest.WantCode(t, s.Post("/devices/remove", url.Values{"id": {id}}), http.StatusNotFound)
}

func TestRoleIsChanged(t *testing.T) {
	s := webtest.NewShop(t)
	cookie := s.PairPhone(page.Look)
	with := func(r *http.Request) { r.AddCookie(cookie) }
	webtest.WantCode(t, s.Do(webtest.Request("GET", "/new", webtest.PhoneAddr, nil, with)), http.StatusForbidden)
	webtest.WantCode(t, s.Post("/devices/role", url.Values{"id": {s.Access.Devices()[0].ID}, "role": {"work"}}), http.StatusSeeOther)
	webtest.WantCode(t, s.Do(webtest.Request("GET", "/new", webtest.PhoneAddr, nil, with)), 200)
	webtest.WantCode(t, s.Post("/devices/role", url.Values{"id": {s.Access.Devices()[0].ID}, "role": {"owner"}}), http.StatusUnprocessableEntity)
}

func TestDevicesOutliveARestart(t *testing.T) {
	store := &keptDevices{}
	c := &webtest.Clock{At: time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)}
	change := func(cfg *web.Config) { cfg.Devices, cfg.Clock = store, c.Now }
	cookie := webtest.NewShop(t, change).PairPhone(page.Work)
	get := func() *httptest.ResponseRecorder {
		return webtest.NewShop(t, change).Do(webtest.Request("GET", "/", webtest.PhoneAddr, nil, func(r *http.Request) { r.AddCookie(cookie) }))
	}
	webtest.WantCode(t, get(), 200)
	c.At = c.At.Add(access.SessionLife + time.Hour)
	if w := get(); w.Header().Get("Location") != "/pair" {
		t.Errorf("status %d: a session of %v ago still counts", w.Code, access.SessionLife)
	}
}

// A phone in daily use stays paired over months and restarts, on the host and by its own cookie, for one write a day.
func TestDailyPhoneStaysPaired(t *testing.T) {
	store := &keptDevices{}
	c := &webtest.Clock{At: time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)}
	change := func(cfg *web.Config) { cfg.Devices, cfg.Clock = store, c.Now }
	s := webtest.NewShop(t, change)
	cookie := s.PairPhone(page.Work)
	expires := c.At.Add(time.Duration(cookie.MaxAge) * time.Second)
	get := func() *httptest.ResponseRecorder {
		t.Helper()
		if !c.At.Before(expires) {
			t.Fatalf("%v: the phone has dropped its cookie", c.At)
		}
		w := s.Do(webtest.Request("GET", "/", webtest.PhoneAddr, nil, func(r *http.Request) { r.AddCookie(cookie) }))
		webtest.WantCode(t, w, 200)
		for _, again := range w.Result().Cookies() {
			if again.Value != cookie.Value || !again.HttpOnly || again.SameSite != http.SameSiteStrictMode {
				t.Errorf("the cookie given again is %+v", again)
			}
			expires = c.At.Add(time.Duration(again.MaxAge) * time.Second)
		}
		return w
	}
	const days = 70
	before := store.saves
	for range days {
		for range 5 {
			get()
			c.At = c.At.Add(5 * time.Minute)
		}
		c.At = c.At.Add(24*time.Hour - 25*time.Minute)
	}
	if n := store.saves - before; n < days-2 || n > days {
		t.Errorf("%d writes in %d days", n, days)
	}
	s = webtest.NewShop(t, change) // the host computer was started again
	get()
	store.full = errors.New("disk is full")
	c.At = c.At.Add(25 * time.Hour)
	before = store.saves
	for range 50 {
		get()
		c.At = c.At.Add(time.Second)
	}
	if n := store.saves - before; n != 1 {
		t.Errorf("%d tries to write on a full disk in 50 s", n)
	}
	store.full = nil
	c.At = c.At.Add(time.Minute)
	if get(); !store.all[0].SeenAt.Equal(c.At) {
		t.Error("it is not tried again")
	}
}

func TestPairingPageSaysWhatIsWrong(t *testing.T) {
	s := webtest.NewShop(t)
	s.Invite(page.Work)
	w := s.Do(webtest.Request("POST", "/pair", webtest.PhoneAddr, url.Values{"code": {"12"}, "name": {"Ada"}}))
	webtest.WantCode(t, w, http.StatusForbidden)
	webtest.WantIn(t, w.Body.String(), "read it again")
	webtest.WantIn(t, w.Body.String(), `value="Ada"`)
	webtest.WantCode(t, s.Do(webtest.Request("POST", "/pair", webtest.PhoneAddr, url.Values{"code": {"12"}, "name": {" \u200b "}})), http.StatusUnprocessableEntity)
}

func TestInviteAddressAndSymbols(t *testing.T) {
	s := webtest.NewShop(t)
	i, _ := s.Invite(page.Work)
	if i.URL != "http://192.0.2.7:8080/pair?code="+i.Code {
		t.Errorf("address %q", i.URL)
	}
	w := s.Get("/devices")
	webtest.WantIn(t, w.Body.String(), i.Spaced())
	webtest.WantIn(t, w.Body.String(), `<svg class="qr"`)
	text, err := access.TerminalQR(i.URL)
	if err != nil || len(strings.Split(text, "\n")) < 15 {
		t.Errorf("%v\n%s", err, text)
	}
}

// brokenStore cannot keep devices.
type brokenStore struct{}

func (brokenStore) Load() ([]access.Device, error) { return nil, nil }

func (brokenStore) Save([]access.Device) error { return errors.New("disk full") }

type keptDevices struct {
	all   []access.Device
	saves int
	full  error // why nothing can be written
}

func (k *keptDevices) Load() ([]access.Device, error) {
	return append([]access.Device(nil), k.all...), nil
}

func (k *keptDevices) Save(d []access.Device) error {
	k.saves++
	if k.full == nil {
		k.all = d
	}
	return k.full
}
