package webtest

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// QuietFlags keep the browser off the network and in its own folder.
var QuietFlags = []chromedp.ExecAllocatorOption{
	chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun, chromedp.Headless,
	chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
	chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
}

// Chromium is started once for all tests that ask for it; each screen is a browser context of its own within.
var Chromium struct {
	Once sync.Once
	Ctx  context.Context
	Stop func()
	Err  error
}

// Main runs the tests of a room and ends the browser that they shared.
func Main(m *testing.M) {
	code := m.Run()
	if Chromium.Stop != nil {
		Chromium.Stop()
	}
	os.Exit(code)
}

// Browser gives the running Chromium; without one the test is skipped, under CI it fails.
func Browser(t testing.TB) context.Context {
	t.Helper()
	if testing.Short() {
		t.Skip("NOT CHECKED with -short: pages in a browser")
	}
	path, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("chromium is not installed: the pages were not tried in a browser")
		}
		t.Skip("SKIPPED: chromium is not installed, so the pages were NOT tried in a browser")
	}
	Chromium.Once.Do(func() {
		dir, err := os.MkdirTemp("", "phasewright-browser-")
		if err != nil {
			Chromium.Err = err
			return
		}
		flags := append([]chromedp.ExecAllocatorOption{chromedp.ExecPath(path), chromedp.UserDataDir(dir)},
			QuietFlags...)
		alloc, stop := chromedp.NewExecAllocator(context.Background(), flags...)
		ctx, end := chromedp.NewContext(alloc)
		Chromium.Ctx = ctx
		Chromium.Stop = func() { end(); stop(); os.RemoveAll(dir) }
		// without a time limit, as the library asks of the first
		Chromium.Err = chromedp.Do(ctx, chromedp.Navigate("about:blank"))
	})
	if Chromium.Err != nil {
		t.Fatal(Chromium.Err)
	}
	return Chromium.Ctx
}

// Screen is one browser of its own, as on another device.
type Screen struct {
	T    testing.TB
	Ctx  context.Context
	Base string

	Mu  sync.Mutex
	Bad []string // what the console complained of
}

func (s *Shop) Screen(browser context.Context, base string, width, height int64) *Screen {
	s.T.Helper()
	ctx, end := chromedp.NewContext(browser, chromedp.WithNewBrowserContext())
	s.T.Cleanup(end)
	sc := &Screen{T: s.T, Ctx: ctx, Base: base}
	// the first call without a time limit
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(width, height)); err != nil {
		s.T.Fatal(err)
	}
	messages := chromedp.Console(ctx)
	go func() {
		for m, err := range messages {
			if err != nil {
				return
			}
			if strings.HasPrefix(m.Text, "Failed to load resource") {
				continue // a refusal that a test asked for
			}
			if m.IsException() || m.Type == "error" || m.Source == "security" || strings.Contains(m.Text,
				"Content Security Policy") {
				sc.Mu.Lock()
				sc.Bad = append(sc.Bad, m.String())
				sc.Mu.Unlock()
			}
		}
	}()
	return sc
}

// Complaints are errors of the console, apart from requests that a test made fail on purpose.
func (s *Screen) Complaints() []string {
	s.Mu.Lock()
	defer s.Mu.Unlock()
	return append([]string(nil), s.Bad...)
}

func (s *Screen) Do(steps ...chromedp.Action[chromedp.Void]) {
	s.T.Helper()
	ctx, cancel := context.WithTimeout(s.Ctx, 20*time.Second)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		s.T.Fatal(err)
	}
}

func (s *Screen) Open(path string) {
	s.T.Helper()
	s.Do(chromedp.Navigate(s.Base+path), chromedp.WaitVisible(chromedp.CSS("main")))
}

func Eval[T any](s *Screen, js string) T {
	s.T.Helper()
	ctx, cancel := context.WithTimeout(s.Ctx, 20*time.Second)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](js))
	if err != nil {
		s.T.Fatalf("%s: %v", js, err)
	}
	return v
}

// Wait waits until an expression holds; a page that is just being replaced is asked again.
func (s *Screen) Wait(js string) {
	s.T.Helper()
	end := time.Now().Add(15 * time.Second)
	for time.Now().Before(end) {
		ctx, cancel := context.WithTimeout(s.Ctx, 5*time.Second)
		ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool]("!!("+js+")"))
		cancel()
		if err == nil && ok {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	s.T.Fatalf("never came true: %s\npage: %s", js, Eval[string](s,
		"location.href + '\\n' + document.querySelector('main')?.innerText"))
}

func (s *Screen) Text(css string) string {
	return Eval[string](s, fmt.Sprintf("document.querySelector(%q)?.innerText || ''", css))
}

func (s *Screen) Click(css string) {
	s.T.Helper()
	s.Do(chromedp.Click(chromedp.CSS(css)))
}

func (s *Screen) TypeIn(css, text string) {
	s.T.Helper()
	s.Do(chromedp.SendKeys(chromedp.CSS(css), text))
}

func (s *Screen) Keys(keys string, opts ...chromedp.KeyOption) {
	s.T.Helper()
	s.Do(chromedp.KeyEvent(keys, opts...))
}

// Scheme switches the emulated device to dark or light.
func (s *Screen) Scheme(look string) {
	s.T.Helper()
	if _, err := chromedp.Call(s.Ctx, emulation.SetEmulatedMedia,
		emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme",
			Value: look}}}); err != nil {
		s.T.Fatal(err)
	}
}

// Wire is the line between browsers and server; it can be cut.
type Wire struct {
	net.Listener
	Mu    sync.Mutex
	Cut   bool
	Conns map[net.Conn]bool
}

func (w *Wire) Accept() (net.Conn, error) {
	for {
		c, err := w.Listener.Accept()
		if err != nil {
			return nil, err
		}
		w.Mu.Lock()
		if w.Cut {
			c.Close()
			w.Mu.Unlock()
			continue
		}
		w.Conns[c] = true
		w.Mu.Unlock()
		return c, nil
	}
}

func (w *Wire) Set(cut bool) {
	w.Mu.Lock()
	defer w.Mu.Unlock()
	w.Cut = cut
	if cut {
		for c := range w.Conns {
			c.Close()
			delete(w.Conns, c)
		}
	}
}

// Listen answers on a loopback port over a wire that can be cut.
func (s *Shop) Listen() (base string, w *Wire) {
	s.T.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		s.T.Fatal(err)
	}
	w = &Wire{Listener: l, Conns: map[net.Conn]bool{}}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Serve(ctx, w) }()
	s.T.Cleanup(func() {
		cancel()
		if err := <-done; err != nil && err != http.ErrServerClosed {
			s.T.Error(err)
		}
	})
	return "http://" + l.Addr().String(), w
}

// NoScript switches the page's script off, as some people do.
func (s *Screen) NoScript() {
	s.T.Helper()
	if _, err := chromedp.Call(s.Ctx, emulation.SetScriptExecutionDisabled,
		emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		s.T.Fatal(err)
	}
}

// WaitSource waits until the page's source holds a text; it works without script in the page.
func (s *Screen) WaitSource(part string) {
	s.T.Helper()
	source := ""
	for end := time.Now().Add(10 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		ctx, cancel := context.WithTimeout(s.Ctx, 5*time.Second)
		html, err := chromedp.Run(ctx, chromedp.OuterHTML(chromedp.CSS("html")))
		cancel()
		if source = html; err == nil && strings.Contains(html, part) {
			return
		}
	}
	s.T.Fatalf("never came: %q in\n%s", part, source)
}
