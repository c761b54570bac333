package web_test

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"phasewright/book"
	"phasewright/web"
	"phasewright/web/page"
	"phasewright/web/webtest"
)

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
			{page.Say(503, "All benches are in use.", "Put one away."), 503, []string{"level=WARN", "in use"}},
		} {
			var l webtest.Lines
			var sick *ailing
			s := webtest.NewShop(t, webtest.Logged(&l),
				func(cfg *web.Config) { sick = &ailing{Book: cfg.Book.(*book.Book)}; cfg.Book = sick })
			job := s.NewJob()
			sick.err, sick.panic = c.err, c.err == nil
			form := url.Values{"rpm": {"800"}, "shown": {"9"}, "locked": {"8"}, "note": {"private remark"}}
			w := s.Do(webtest.Request("POST", "/job/"+job+"/readings", webtest.HostAddr, form, func(r *http.Request) {
				if asked == "script" {
					r.Header.Set("Accept", "application/json")
				}
			}))
			webtest.WantCode(t, w, c.code)
			m := regexp.MustCompile(`this is number ([0-9A-Z]{6})\.`).FindStringSubmatch(w.Body.String())
			if m == nil {
				t.Fatalf("%s: no number: %s", asked, w.Body)
			}
			line := l.With(t, "number="+m[1])
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
	var l webtest.Lines
	s := webtest.NewShop(t, webtest.Logged(&l))
	i, err := s.Invite(page.Work)
	if err != nil {
		t.Fatal(err)
	}
	wrong := "13572468" // invented
	if wrong == i.Code {
		wrong = "24681357"
	}
	try := func(code string) *http.Response {
		form := url.Values{"code": {code}, "name": {"Ada Reed, phone"}}
		return s.Do(webtest.Request("POST", "/pair?code="+code, webtest.PhoneAddr, form)).Result()
	}
	s.Do(webtest.Request("GET", "/pair?code="+i.Code, webtest.PhoneAddr, nil))
	try(wrong)
	l.With(t, `level=WARN msg="pairing refused" from=192.0.2.9`)
	cookie := try(i.Code).Cookies()[0]
	id := s.Access.Devices()[0].ID
	l.With(t, `level=INFO msg="device paired" id=`+id+" role=work from=192.0.2.9")
	s.Do(webtest.Request("GET", "/", webtest.PhoneAddr, nil, func(r *http.Request) { r.AddCookie(cookie) }))
	webtest.WantCode(t, s.Post("/devices/role", url.Values{"id": {id}, "role": {"look"}}), http.StatusSeeOther)
	l.With(t, `level=INFO msg="device has another role" id=`+id+" role=look")
	webtest.WantCode(t, s.Post("/devices/remove", url.Values{"id": {id}}), http.StatusSeeOther)
	l.With(t, `level=INFO msg="device sent away" id=`+id)
	for range 20 {
		try(wrong)
	}
	const lookedAt = 4 // three wrong tries without a wait, and the next
	hash := fmt.Sprintf("%x", sha256.Sum256([]byte(cookie.Value)))
	if n := strings.Count(l.String(), "pairing refused"); n > lookedAt { // what comes while its sender has to wait is not looked at
		t.Errorf("%d refusals in the log of one sender, looked at are at most %d:\n%s", n, lookedAt, &l)
	}
	for _, secret := range []string{i.Code, i.Spaced(), wrong, cookie.Value, hash, "Ada"} {
		if strings.Contains(l.String(), secret) {
			t.Errorf("the log holds %q:\n%s", secret, &l)
		}
	}
}

// What net/http itself says is a line like the others; handshakes that fail are told apart from what is news.
func TestConnectionTroubleIsLogged(t *testing.T) {
	var l webtest.Lines
	s := webtest.NewShop(t, webtest.Logged(&l))
	to := s.HTTP().ErrorLog
	to.Print("http: TLS handshake error from 192.0.2.9:50000: EOF")
	to.Print("http: Accept error: too many open files; retrying\nin 5 ms")
	for text, level := range map[string]string{"handshake": "DEBUG", "Accept": "WARN"} {
		if line := l.With(t, text); !strings.Contains(line, fmt.Sprint("level=", level)) {
			t.Errorf("want level %s: %s", level, line)
		}
	}
}
