package web

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"log"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"sync/atomic"
	"time"

	"phasewright/authority"
	"phasewright/beside"
	"phasewright/book"
)

// Config is what a Server needs. Book is required; the rest has defaults.
type Config struct {
	Book    Book
	Version string // release, for the foot of the page

	Clock  func() time.Time // nil: the computer's clock
	Random io.Reader        // nil: the computer's secure source
	Log    *slog.Logger     // nil: silent

	// Hosts are names, without port, by which other devices may call this computer. Loopback names and the address that
	// a connection came in at are always allowed.
	Hosts []string
	// Base gives the address that is shown to other devices, such as http://192.0.2.7:8080, which may change while the
	// server runs; nil on loopback.
	Base func() string
	// Authority keeps the certificates: the server then speaks TLS with other devices, and either way on loopback. Nil
	// is plain http.
	Authority *authority.Keeper
	// HostName goes on the record for what is done at this computer's own screen; "" means "host screen".
	HostName string
	// Devices keeps paired devices over a restart; nil keeps them until the program ends.
	Devices DeviceStore
	// Templates are job cards that a new job may begin with.
	Templates []Template
	// MaxUpload bounds one uploaded file in bytes; 0 means what a shop book takes by itself.
	MaxUpload int64
	// UploadIdle is how long an upload may go without a byte; 0 means 30 s.
	UploadIdle time.Duration
}

// Server is the web app, an http.Handler.
type Server struct {
	Config
	hosts    map[string]bool
	assets   *assets
	views    map[string]*view
	mux      *http.ServeMux
	devices  *devices
	pairing  *pairing
	jobs     *jobCache
	live     *streams
	captures *captureReaders
	waves    *waves
	rooms    *rooms
	hostName atomic.Pointer[string]
}

// New builds the app. It starts nothing and listens nowhere.
func New(c Config) (*Server, error) {
	if c.Book == nil {
		return nil, fmt.Errorf("web – no shop book was given – open one first")
	}
	if c.Clock == nil {
		c.Clock = time.Now
	}
	if c.Random == nil {
		c.Random = rand.Reader
	}
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	if c.HostName == "" {
		c.HostName = "host screen"
	}
	if c.MaxUpload == 0 {
		c.MaxUpload = book.DefaultMaxFile
	}
	s := &Server{Config: c, hosts: map[string]bool{}, mux: http.NewServeMux(), jobs: newJobCache(c.Book), live: newStreams(), waves: newWaves(), rooms: newRooms(c.Clock, c.Random, c.Log)}
	s.captures = newCaptureReaders(c.Clock, s.readingBroke)
	s.hostName.Store(&c.HostName)
	for _, h := range c.Hosts {
		s.hosts[h] = true
	}
	var err error
	if s.assets, err = newAssets(); err != nil {
		return nil, err
	}
	if s.views, err = newViews(s.assets); err != nil {
		return nil, err
	}
	if s.devices, err = newDevices(c.Devices, c.Clock, c.Random); err != nil {
		return nil, err
	}
	s.pairing = newPairing(c.Clock, c.Random)
	s.routes()
	return s, nil
}

// handler answers one request of a visitor whose role suffices. An error becomes a page in words.
type handler func(w http.ResponseWriter, r *http.Request, v *visit) error

// handle ties a pattern to a handler and the least role that may use it.
func (s *Server) handle(pattern string, need Role, h handler) {
	s.mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
		v := r.Context().Value(visitKey{}).(*visit)
		if v.role < need {
			s.turnAway(w, r, v, need)
			return
		}
		if err := h(w, r, v); err != nil {
			s.trouble(w, r, v, err)
		}
	})
}

// on makes a handler of one that works on what the address names. It reads the form that is sent, which ServeHTTP has
// bounded.
func on[T any](find func(*http.Request) (T, error),
	h func(http.ResponseWriter, *http.Request, *visit, T) error) handler {
	return func(w http.ResponseWriter, r *http.Request, v *visit) error {
		if !safe(r) {
			if err := r.ParseForm(); err != nil { // a file that is sent stays unread
				return err
			}
		}
		it, err := find(r)
		if err != nil {
			return err
		}
		return h(w, r, v, it)
	}
}

// onJob is on for the handler of a job.
func (s *Server) onJob(h func(http.ResponseWriter, *http.Request, *visit, *job) error) handler {
	return on(func(r *http.Request) (*job, error) { return s.jobs.get(r.Context(), r.PathValue("job")) }, h)
}

// onBench is on for the handler of a bench.
func (s *Server) onBench(h func(http.ResponseWriter, *http.Request, *visit, *room) error) handler {
	return on(func(r *http.Request) (*room, error) { return s.rooms.find(r.PathValue("room")) }, h)
}

// onRecording is onJob for the handler of one of the job's files, which the address names by its hash.
func (s *Server) onRecording(h func(http.ResponseWriter, *http.Request, *visit, *job, book.Attachment) error) handler {
	return s.onJob(func(w http.ResponseWriter, r *http.Request, v *visit, j *job) error {
		sha, err := book.ParseHash(r.PathValue("sha"))
		if err != nil {
			return book.ErrNoAttachment
		}
		files, err := s.Book.Attachments(r.Context(), j.ID)
		if err != nil {
			return err
		}
		for _, f := range files {
			if f.SHA256 == sha {
				return h(w, r, v, j, f)
			}
		}
		return book.ErrNoAttachment
	})
}

// ServeHTTP checks where a request comes from before anything reads it.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	secure(w.Header())
	v := s.identify(r)
	r = withVisit(r, v)
	if v.renew != "" {
		http.SetCookie(w, sessionCookie(v.renew, r.TLS != nil))
	}
	if s.Log.Enabled(r.Context(), slog.LevelDebug) {
		defer func(began time.Time) { // the path alone: a query may hold a pairing code
			s.Log.Debug("request", "method", r.Method, "path", r.URL.Path, "from", remote(r), "took", time.Since(began))
		}(time.Now())
	}
	defer s.catch(w, r, v)
	switch {
	case !s.hostAllowed(r):
		http.Error(w, "this address is not one that Phasewright answers to – use the address shown on the host's screen", http.StatusMisdirectedRequest)
	case !safe(r) && r.Method != http.MethodPost:
		w.Header().Set("Allow", "GET, HEAD, POST")
		http.Error(w, "method not known – pages are read with GET and changed with POST", http.StatusMethodNotAllowed)
	case !safe(r) && !sameOrigin(r):
		http.Error(w, "this did not come from one of Phasewright's own pages – open the page and do it there", http.StatusForbidden)
	case s.inClear(r, v):
		s.toTLS(w, r)
	default:
		if !safe(r) && !isUpload(r) {
			r.Body = http.MaxBytesReader(w, r.Body, maxForm)
		}
		s.mux.ServeHTTP(w, r)
	}
}

// identify finds out who sends the request.
func (s *Server) identify(r *http.Request) *visit {
	v := &visit{}
	if c, err := r.Cookie(cookieCalled("look", r.TLS != nil)); err == nil && (c.Value == "night" || c.Value == "day") {
		v.night = c.Value
	}
	if atHost(r) {
		v.role, v.host, v.who = Instructor, true, *s.hostName.Load()
		return v
	}
	if c, err := r.Cookie(cookieCalled(cookieName, r.TLS != nil)); err == nil {
		if d, ok := s.devices.find(c.Value); ok {
			v.role, v.who, v.device = d.Role, d.Name, d.ID
			if d.again {
				v.renew = c.Value
			}
		}
	}
	return v
}

// HTTP gives a net/http server around the app, with time limits that fit it. Event streams and uploads set their own.
func (s *Server) HTTP() *http.Server {
	return &http.Server{Handler: s, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 30 * time.Second, WriteTimeout: 30 * time.Second,
		IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 32 << 10, ErrorLog: log.New(httpLog{s.Log}, "", 0)}
}

// httpLog takes what net/http has to say. Handshakes that fail are everyday, a phone that does not trust the
// certificate yet; the rest is news.
type httpLog struct{ to *slog.Logger }

func (l httpLog) Write(line []byte) (int, error) {
	level := slog.LevelWarn
	if bytes.HasPrefix(line, []byte("http: TLS handshake error")) {
		level = slog.LevelDebug
	}
	l.to.Log(context.Background(), level, "connection", "err", strings.TrimSpace(string(line)))
	return len(line), nil
}

// Serve answers on l until ctx ends, then closes the event streams and lets running requests finish for a few seconds.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	h := s.HTTP()
	if s.Authority != nil {
		l = listenBothWays(l, s.Authority.TLS(), s.Log)
	}
	ended := make(chan error, 1)
	beside.Start(func() {
		var err error
		if broken := beside.Caught(func() { err = h.Serve(l) }); broken != "" {
			s.Log.Error("listening broke down", "err", broken)
			err = errors.New("something went wrong inside the program while it listened – start it again")
		}
		ended <- err
	})
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	s.live.closeAll()
	defer s.Close()
	grace, cancel := context.WithTimeout(context.Background(), 3*time.Second)
	defer cancel()
	if err := h.Shutdown(grace); err != nil {
		h.Close()
	}
	return nil
}

// Close stops what the app does in the background and waits for it; call it before the book is closed.
func (s *Server) Close() {
	s.rooms.close()
	s.captures.close()
}

// Invite makes a pairing code for one device of a role; codes made before are void.
func (s *Server) Invite(role Role) (Invite, error) { return s.InviteMany(role, 1) }

// InviteMany makes a pairing code for so many devices of a role, such as those of a class.
func (s *Server) InviteMany(role Role, devices int) (Invite, error) {
	i, err := s.pairing.begin(role, devices)
	if err == nil {
		i.URL = s.inviteURL(i)
	}
	return i, err
}

func (s *Server) inviteURL(i Invite) string {
	if s.Base == nil {
		return ""
	}
	return s.Base() + "/pair?code=" + i.Code
}
