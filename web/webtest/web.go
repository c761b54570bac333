package webtest

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
	"phasewright/web"
	"phasewright/web/page"
)

// Shop is a server over a real shop book on disk.
type Shop struct {
	*web.Server
	T      testing.TB
	Config web.Config
	Book   *book.Book

	odd bool
}

func NewShop(t testing.TB, change ...func(*web.Config)) *Shop {
	t.Helper()
	b, err := book.Open(context.Background(), filepath.Join(t.TempDir(), "shop.book"), book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	c := web.Config{Book: b, Version: "test", Hosts: []string{"192.0.2.7"},
		Base: func() string { return "http://192.0.2.7:8080" }}
	for _, f := range change {
		f(&c)
	}
	s, err := web.New(c)
	if err != nil {
		t.Fatal(err)
	}
	shop := &Shop{Server: s, T: t, Book: b, Config: c}
	t.Cleanup(func() {
		if !shop.odd && !t.Failed() {
			shop.eventsFit()
		}
	})
	return shop
}

// Example is a job card that the repository ships.
func Example(t testing.TB, name string) string {
	t.Helper()
	text, err := os.ReadFile(InRepository("examples", name+".yaml"))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

const (
	HostAddr  = "127.0.0.1:50000"
	PhoneAddr = "192.0.2.9:50000"
)

// Request is one request from somewhere, as a browser of one of our own pages would send it.
func Request(method, target, from string, form url.Values, change ...func(*http.Request)) *http.Request {
	var body io.Reader
	if form != nil {
		body = strings.NewReader(form.Encode())
	}
	r := httptest.NewRequest(method, target, body)
	r.RemoteAddr = from
	r.Host = "127.0.0.1:8080"
	if from != HostAddr {
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

func (s *Shop) Do(r *http.Request) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w
}

func (s *Shop) Get(target string) *httptest.ResponseRecorder {
	return s.Do(Request("GET", target, HostAddr, nil))
}

func (s *Shop) Post(target string, form url.Values) *httptest.ResponseRecorder {
	return s.Do(Request("POST", target, HostAddr, form))
}

// NewJob starts a job with the Sandpiper card.
func (s *Shop) NewJob() string {
	s.T.Helper()
	w := s.Post("/new", url.Values{"name": {"Sandpiper"}, "from": {"paste"}, "yaml": {Example(s.T, "sandpiper")}})
	if w.Code != http.StatusSeeOther {
		s.T.Fatalf("new job: %d %s", w.Code, w.Body)
	}
	return strings.TrimPrefix(w.Header().Get("Location"), "/job/")
}

func (s *Shop) Read(job string, rpm, shown string, more ...string) *httptest.ResponseRecorder {
	form := url.Values{"rpm": {rpm}, "shown": {shown}, "locked": {"8"}}
	for i := 0; i+1 < len(more); i += 2 {
		form.Set(more[i], more[i+1])
	}
	return s.Post("/job/"+job+"/readings", form)
}

func (s *Shop) Kinds(job string) []book.Kind {
	events, err := s.Book.Events(context.Background(), job, 0)
	if err != nil {
		s.T.Fatal(err)
	}
	var kinds []book.Kind
	for _, e := range events {
		kinds = append(kinds, e.Kind)
	}
	return kinds
}

func WantCode(t *testing.T, w *httptest.ResponseRecorder, code int) {
	t.Helper()
	if w.Code != code {
		t.Fatalf("status %d, want %d: %s", w.Code, code, w.Body)
	}
}

// WantIn wants a part in a page, whether or not a word of the trade is explained in it.
func WantIn(t *testing.T, body, part string) {
	t.Helper()
	if !strings.Contains(body, part) && !strings.Contains(Unexplained(body), part) {
		t.Errorf("page lacks %q:\n%s", part, body)
	}
}

// PairPhone pairs a phone and gives its session cookie.
func (s *Shop) PairPhone(role page.Role) *http.Cookie {
	s.T.Helper()
	i, err := s.Invite(role)
	if err != nil {
		s.T.Fatal(err)
	}
	w := s.Do(Request("POST", "/pair", PhoneAddr, url.Values{"code": {i.Spaced()}, "name": {"Ada Reed, phone"}}))
	if w.Code != http.StatusSeeOther {
		s.T.Fatalf("pair: %d %s", w.Code, w.Body)
	}
	for _, c := range w.Result().Cookies() {
		if strings.HasSuffix(c.Name, "phasewright") {
			return c
		}
	}
	s.T.Fatal("no cookie")
	return nil
}

// Clock is a clock that tests move.
type Clock struct{ At time.Time }

func (c *Clock) Now() time.Time { return c.At }

// InRepository is the path of a file of the repository, wherever in it a test runs.
func InRepository(parts ...string) string {
	root := "."
	for range 4 {
		if _, err := os.Stat(filepath.Join(root, "go.mod")); err == nil {
			break
		}
		root = filepath.Join(root, "..")
	}
	return filepath.Join(append([]string{root}, parts...)...)
}
