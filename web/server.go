package web

import (
	"bytes"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"log"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"time"

	"phasewright/authority"
	"phasewright/beside"
	"phasewright/book"
	"phasewright/web/access"
	"phasewright/web/job"
	"phasewright/web/livebench"
	"phasewright/web/manual"
	"phasewright/web/page"
	"phasewright/web/recording"
	"phasewright/web/shelf"
)

//go:embed static templates
var files embed.FS

// Config is what a Server needs. Book is required; the rest has defaults.
type Config struct {
	Book    shelf.Book
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
	// HostName stands beside what is done at this computer's own screen; "" means "host screen".
	HostName string
	// Devices keeps paired devices over a restart; nil keeps them until the program ends.
	Devices access.DeviceStore
	// Templates are job cards that a new job may begin with.
	Templates []shelf.Template
	// MaxUpload bounds one uploaded file in bytes; 0 means what a shop book takes by itself.
	MaxUpload int64
	// UploadIdle is how long an upload may go without a byte; 0 means 30 s.
	UploadIdle time.Duration
}

// Server is the web app, an http.Handler.
type Server struct {
	authority *authority.Keeper
	site      *page.Site

	// What the rooms share, and the rooms that keep something while the program runs.
	Shelf     *shelf.Shelf
	Access    *access.Room
	Recording *recording.Room
	Livebench *livebench.Room
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
		c.HostName = book.HostScreen
	}
	if c.MaxUpload == 0 {
		c.MaxUpload = book.DefaultMaxFile
	}
	site, err := page.New(files, c.Clock, c.Log, c.Version, c.Book.Damage)
	if err != nil {
		return nil, err
	}
	s := &Server{authority: c.Authority, site: site, Shelf: shelf.New(site, c.Book, c.Templates)}
	s.Access, err = access.New(site, access.Config{Random: c.Random, Hosts: c.Hosts, Base: c.Base,
		Authority: c.Authority, HostName: c.HostName, Devices: c.Devices})
	if err != nil {
		return nil, err
	}
	s.Recording = recording.New(s.Shelf, recording.Limits{Most: c.MaxUpload, Idle: c.UploadIdle})
	s.Livebench = livebench.New(s.Shelf, c.Random)
	s.Access.Routes()
	job.New(s.Shelf, s.Recording).Routes()
	s.Recording.Routes()
	s.Livebench.Routes()
	site.Handle("GET /live", page.Look, s.livePage)
	manual.Routes(site)
	site.Handle("/", page.Look, func(*page.Request) error {
		return page.Say(http.StatusNotFound, "There is no such page.",
			"Go to the shop book and open the job from there.")
	})
	return s, nil
}

// ServeHTTP checks where a request comes from before anything reads it.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	access.Secure(w.Header())
	by := s.Access.Session(w, r)
	if s.site.Log.Enabled(r.Context(), slog.LevelDebug) {
		defer func(began time.Time) { // the path alone: a query may hold a pairing code
			s.site.Log.Debug("request", "method", r.Method, "path", r.URL.Path, "from", access.Remote(r),
				"took", time.Since(began))
		}(time.Now())
	}
	w.Header().Set("X-Kept-For", s.holder(by))
	if s.Access.Admit(w, r, by) {
		s.site.Serve(w, r, by)
	}
}

// holder names for whom a browser may keep the pages that it was shown (static/sw.js): this device at this shop book.
// The pages go as soon as an answer names somebody else.
func (s *Server) holder(by *page.Session) string {
	if by.Role == page.Nobody {
		return "nobody"
	}
	sum := sha256.Sum256([]byte(s.Shelf.Book.Path() + "\x00" + by.Device))
	return hex.EncodeToString(sum[:8])
}

// Invite makes a pairing code for one device of a role; codes made before are void.
func (s *Server) Invite(role page.Role) (access.Invite, error) { return s.Access.Invite(role, 1) }

// InviteMany makes a pairing code for so many devices of a role, such as those of a class.
func (s *Server) InviteMany(role page.Role, devices int) (access.Invite, error) {
	return s.Access.Invite(role, devices)
}

// HTTP gives a net/http server around the app, with time limits that fit it. Event streams and uploads set their own.
func (s *Server) HTTP() *http.Server {
	return &http.Server{Handler: s, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 30 * time.Second,
		WriteTimeout: 30 * time.Second, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 32 << 10,
		ErrorLog: log.New(httpLog{s.site.Log}, "", 0)}
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
	if s.authority != nil {
		l = listenBothWays(l, s.authority.TLS(), s.site.Log)
	}
	ended := make(chan error, 1)
	beside.Start(func() {
		var err error
		if broken := beside.Caught(func() { err = h.Serve(l) }); broken != "" {
			s.site.Log.Error("listening broke down", "err", broken)
			err = errBroken
		}
		ended <- err
	})
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	s.site.Streams.CloseAll()
	defer s.Close()
	grace, cancel := context.WithTimeout(context.Background(), 3*time.Second)
	defer cancel()
	if err := h.Shutdown(grace); err != nil {
		h.Close()
	}
	return nil
}

var errBroken = errors.New("something went wrong inside the program while it listened – start it again")

// Close stops what the app does in the background and waits for it; call it before the book is closed.
func (s *Server) Close() {
	s.Livebench.Close()
	s.Recording.Close()
}
