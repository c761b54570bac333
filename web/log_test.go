package web

import (
	"bytes"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"testing"

	"phasewright/book"
)

// lines is a log that several goroutines may write into.
type lines struct {
	mu  sync.Mutex
	all bytes.Buffer
}

func (l *lines) Write(b []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.all.Write(b)
}

func (l *lines) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.all.String()
}

// with gives the one line that holds a text.
func (l *lines) with(t testing.TB, text string) string {
	t.Helper()
	var found []string
	for line := range strings.Lines(l.String()) {
		if strings.Contains(line, text) {
			found = append(found, line)
		}
	}
	if len(found) != 1 {
		t.Fatalf("%d lines hold %q:\n%s", len(found), text, l)
	}
	return found[0]
}

// logged lets a server write everything that it has to say.
func logged(to *lines) func(*Config) {
	return func(c *Config) {
		c.Log = slog.New(slog.NewTextHandler(to, &slog.HandlerOptions{Level: slog.LevelDebug}))
	}
}

// A page that answers 500 shows the number of its line in the log; the line says what the page does not.
func TestTroubleIsFoundInTheLogByItsNumber(t *testing.T) {
	for _, asked := range []string{"page", "script"} {
		for _, c := range []struct {
			err  error // nil: a panic
			code int
			want []string
		}{
			{errors.New("the spring is off"), 500, []string{"level=ERROR", "the spring is off"}},
			{nil, 500, []string{"level=ERROR", "a nut in the works", "trouble_test.go"}},
			{book.ErrFull, 507, []string{"level=ERROR", "status=507"}},
			{say(503, "All benches are in use.", "Put one away."), 503, []string{"level=WARN", "in use"}},
		} {
			var l lines
			var sick *ailing
			s := newShop(t, logged(&l),
				func(cfg *Config) { sick = &ailing{Book: cfg.Book.(*book.Book)}; cfg.Book = sick })
			job := s.job()
			sick.err, sick.panic = c.err, c.err == nil
			form := url.Values{"rpm": {"800"}, "shown": {"9"}, "locked": {"8"}, "note": {"private remark"}}
			w := s.do(request("POST", "/job/"+job+"/readings", hostAddr, form, func(r *http.Request) {
				if asked == "script" {
					r.Header.Set("Accept", "application/json")
				}
			}))
			wantCode(t, w, c.code)
			m := regexp.MustCompile(`this is number ([0-9A-Z]{6})\.`).FindStringSubmatch(w.Body.String())
			if m == nil {
				t.Fatalf("%s: no number: %s", asked, w.Body)
			}
			line := l.with(t, "number="+m[1])
			for _, part := range c.want {
				if !strings.Contains(line, part) {
					t.Errorf("%s, %v: the line lacks %q: %s", asked, c.err, part, line)
				}
			}
			if strings.Contains(l.String(), "private remark") {
				t.Errorf("what was typed is in the log:\n%s", &l)
			}
		}
	}
}

// Who pairs, fails to, changes roles and is sent away stands in the log, at every level of detail without code, cookie
// or anything typed.
func TestPairingIsLoggedWithoutSecrets(t *testing.T) {
	var l lines
	s := newShop(t, logged(&l))
	i, err := s.Invite(Work)
	if err != nil {
		t.Fatal(err)
	}
	wrong := "13572468" // invented
	if wrong == i.Code {
		wrong = "24681357"
	}
	try := func(code string) *http.Response {
		form := url.Values{"code": {code}, "name": {"Ada Reed, phone"}}
		return s.do(request("POST", "/pair?code="+code, phoneAddr, form)).Result()
	}
	s.do(request("GET", "/pair?code="+i.Code, phoneAddr, nil))
	try(wrong)
	l.with(t, `level=WARN msg="pairing refused" from=192.0.2.9`)
	cookie := try(i.Code).Cookies()[0]
	id := s.devices.list()[0].ID
	l.with(t, `level=INFO msg="device paired" id=`+id+" role=work from=192.0.2.9")
	s.do(request("GET", "/", phoneAddr, nil, func(r *http.Request) { r.AddCookie(cookie) }))
	wantCode(t, s.post("/devices/role", url.Values{"id": {id}, "role": {"look"}}), http.StatusSeeOther)
	l.with(t, `level=INFO msg="device has another role" id=`+id+" role=look")
	wantCode(t, s.post("/devices/remove", url.Values{"id": {id}}), http.StatusSeeOther)
	l.with(t, `level=INFO msg="device sent away" id=`+id)
	for range 20 {
		try(wrong)
	}
	if n := strings.Count(l.String(), "pairing refused"); n > freeTries+1 { // what comes while its sender has to wait is not looked at
		t.Errorf("%d refusals in the log of one sender, looked at are at most %d:\n%s", n, freeTries+1, &l)
	}
	for _, secret := range []string{i.Code, i.Spaced(), wrong, cookie.Value, hashOf(cookie.Value), "Ada"} {
		if strings.Contains(l.String(), secret) {
			t.Errorf("the log holds %q:\n%s", secret, &l)
		}
	}
}

// What net/http itself says is a line like the others; handshakes that fail are told apart from what is news.
func TestConnectionTroubleIsLogged(t *testing.T) {
	var l lines
	s := newShop(t, logged(&l))
	to := s.HTTP().ErrorLog
	to.Print("http: TLS handshake error from 192.0.2.9:50000: EOF")
	to.Print("http: Accept error: too many open files; retrying\nin 5 ms")
	for text, level := range map[string]string{"handshake": "DEBUG", "Accept": "WARN"} {
		if line := l.with(t, text); !strings.Contains(line, fmt.Sprint("level=", level)) {
			t.Errorf("want level %s: %s", level, line)
		}
	}
}
