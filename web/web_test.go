package web

import (
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"phasewright/book"
)

// shop is a server over a real shop book on disk.
type shop struct {
	*Server
	t    testing.TB
	book *book.Book
}

func newShop(t testing.TB, change ...func(*Config)) *shop {
	t.Helper()
	b, err := book.Open(context.Background(), filepath.Join(t.TempDir(), "shop.book"), book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	c := Config{Book: b, Version: "test", Hosts: []string{"192.0.2.7"},
		Base: func() string { return "http://192.0.2.7:8080" }}
	for _, f := range change {
		f(&c)
	}
	s, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	return &shop{s, t, b}
}

// example is a job card that the repository ships.
func example(t testing.TB, name string) string {
	t.Helper()
	text, err := os.ReadFile("../examples/" + name + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

const (
	hostAddr  = "127.0.0.1:50000"
	phoneAddr = "192.0.2.9:50000"
)

// request is one request from somewhere, as a browser of one of our own pages would send it.
func request(method, target, from string, form url.Values, change ...func(*http.Request)) *http.Request {
	var body io.Reader
	if form != nil {
		body = strings.NewReader(form.Encode())
	}
	r := httptest.NewRequest(method, target, body)
	r.RemoteAddr = from
	r.Host = "127.0.0.1:8080"
	if from != hostAddr {
		r.Host = "192.0.2.7:8080"
	}
	if method == http.MethodPost {
		r.Header.Set("Origin", "http://"+r.Host)
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for _, f := range change {
		f(r)
	}
	return r
}

func (s *shop) do(r *http.Request) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w
}

func (s *shop) get(target string) *httptest.ResponseRecorder {
	return s.do(request("GET", target, hostAddr, nil))
}

func (s *shop) post(target string, form url.Values) *httptest.ResponseRecorder {
	return s.do(request("POST", target, hostAddr, form))
}

// job starts a job with the Sandpiper card.
func (s *shop) job() string {
	s.t.Helper()
	w := s.post("/new", url.Values{"name": {"Sandpiper"}, "from": {"paste"}, "yaml": {example(s.t, "sandpiper")}})
	if w.Code != http.StatusSeeOther {
		s.t.Fatalf("new job: %d %s", w.Code, w.Body)
	}
	return strings.TrimPrefix(w.Header().Get("Location"), "/job/")
}

func (s *shop) read(job string, rpm, shown string, more ...string) *httptest.ResponseRecorder {
	form := url.Values{"rpm": {rpm}, "shown": {shown}, "locked": {"8"}}
	for i := 0; i+1 < len(more); i += 2 {
		form.Set(more[i], more[i+1])
	}
	return s.post("/job/"+job+"/readings", form)
}

func (s *shop) kinds(job string) []book.Kind {
	events, err := s.book.Events(context.Background(), job, 0)
	if err != nil {
		s.t.Fatal(err)
	}
	var kinds []book.Kind
	for _, e := range events {
		kinds = append(kinds, e.Kind)
	}
	return kinds
}

func wantCode(t *testing.T, w *httptest.ResponseRecorder, code int) {
	t.Helper()
	if w.Code != code {
		t.Fatalf("status %d, want %d: %s", w.Code, code, w.Body)
	}
}

func wantIn(t *testing.T, body, part string) {
	t.Helper()
	if !strings.Contains(body, part) {
		t.Errorf("page lacks %q:\n%s", part, body)
	}
}

// pairPhone pairs a phone and gives its session cookie.
func (s *shop) pairPhone(role Role) *http.Cookie {
	s.t.Helper()
	i, err := s.Invite(role)
	if err != nil {
		s.t.Fatal(err)
	}
	w := s.do(request("POST", "/pair", phoneAddr, url.Values{"code": {i.Spaced()}, "name": {"Ada Reed, phone"}}))
	if w.Code != http.StatusSeeOther {
		s.t.Fatalf("pair: %d %s", w.Code, w.Body)
	}
	for _, c := range w.Result().Cookies() {
		if c.Name == cookieName {
			return c
		}
	}
	s.t.Fatal("no cookie")
	return nil
}

// clock is a clock that tests move.
type clock struct{ now time.Time }

func (c *clock) Now() time.Time { return c.now }
