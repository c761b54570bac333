package page

import (
	"context"
	"fmt"
	"io/fs"
	"log/slog"
	"net/http"
	"runtime/debug"
	"strings"
	"sync/atomic"
	"time"
)

// Site answers requests with the pages that the rooms hand it.
type Site struct {
	Clock   func() time.Time
	Log     *slog.Logger
	Release string       // for the foot of the page
	Damage  func() error // what hurts the shop book; nil while it is sound
	Streams *Streams
	// Patterns are the addresses that the rooms answer, as "GET /job/{job}".
	Patterns []string

	mux    *http.ServeMux
	assets *assets
	views  views
	making atomic.Int32 // answers being made, without streams and files that come in
}

// New makes ready the folders static and templates of files. It fails where a template is broken.
func New(files fs.FS, clock func() time.Time, log *slog.Logger, release string, damage func() error) (*Site, error) {
	s := &Site{Clock: clock, Log: log, Release: release, Damage: damage, Streams: newStreams(), mux: http.NewServeMux()}
	var err error
	if s.assets, err = newAssets(files); err != nil {
		return nil, err
	}
	if s.views, err = newViews(files, s.assets); err != nil {
		return nil, err
	}
	s.mux.Handle("GET /static/{tree}/{name}", s.assets)
	s.mux.HandleFunc("GET /sw.js", s.assets.serveWorker)
	return s, nil
}

// Asset is the address of an embedded file.
func (s *Site) Asset(name string) string { return s.assets.url(name) }

// Request is one request with its sender and all it takes to answer.
type Request struct {
	*http.Request
	W    http.ResponseWriter
	By   *Session
	site *Site
}

// Handler answers one request of a sender whose role suffices. An error becomes a page in words.
type Handler func(*Request) error

type sessionKey struct{}

// Handle ties a pattern to a handler and the least role that may use it. A form that is sent has been read when the
// handler begins; a file stays unread.
func (s *Site) Handle(pattern string, need Role, h Handler) {
	s.Patterns = append(s.Patterns, pattern)
	s.mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
		q := &Request{r, w, r.Context().Value(sessionKey{}).(*Session), s}
		if q.By.Role < need {
			q.turnAway(need)
			return
		}
		if !IsUpload(r) {
			s.making.Add(1)
			defer s.making.Add(-1)
		}
		err := error(nil)
		if !Safe(r) {
			err = r.ParseForm()
		}
		if err == nil {
			err = h(q)
		}
		if err != nil {
			q.trouble(err)
		}
	})
}

// maxForm bounds a form in bytes: a job card is a few kilobytes.
const maxForm = 512 << 10

// Serve answers a request of a sender with the handler of its address.
func (s *Site) Serve(w http.ResponseWriter, r *http.Request, by *Session) {
	r = r.WithContext(context.WithValue(r.Context(), sessionKey{}, by))
	defer s.catch(&Request{r, w, by, s})
	if !Safe(r) && !IsUpload(r) {
		r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	}
	s.mux.ServeHTTP(w, r)
}

// GiveWay waits while pages are being made, though no longer than 10 ms. What works in the background calls it between
// its parts, so that people do not wait for it.
func (s *Site) GiveWay() {
	for range 10 {
		if s.making.Load() == 0 {
			return
		}
		time.Sleep(time.Millisecond)
	}
}

// catch turns a panic into a page; the details go to the log only.
func (s *Site) catch(q *Request) {
	switch p := recover(); p {
	case nil:
	case http.ErrAbortHandler:
		panic(p)
	default:
		q.trouble(fmt.Errorf("panic: %v\n%s", p, debug.Stack()))
	}
}

// Safe says whether the method only reads.
func Safe(r *http.Request) bool { return r.Method == http.MethodGet || r.Method == http.MethodHead }

// IsUpload says whether the request carries a file; those are bounded where they are read.
func IsUpload(r *http.Request) bool {
	return strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/form-data")
}

// When prints a time the way people in a shop say it.
func (s *Site) When(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	now := s.Clock()
	t = t.In(now.Location())
	switch ago := now.Sub(t); {
	case ago >= 0 && ago < time.Minute:
		return "just now"
	case t.Format(time.DateOnly) == now.Format(time.DateOnly):
		return "today " + t.Format("15:04")
	case t.Year() == now.Year():
		return t.Format("2 Jan 15:04")
	}
	return t.Format("2 Jan 2006")
}
