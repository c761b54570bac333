package web

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

// quietFlags keep the browser off the network and in its own folder.
var quietFlags = []chromedp.ExecAllocatorOption{
	chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun, chromedp.Headless,
	chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
	chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
}

// chromium is started once for all tests that ask for it; each screen is a browser context of its own within.
var chromium struct {
	once sync.Once
	ctx  context.Context
	stop func()
	err  error
}

func TestMain(m *testing.M) {
	code := m.Run()
	if chromium.stop != nil {
		chromium.stop()
	}
	os.Exit(code)
}

// browser gives the running Chromium; without one the test is skipped, under CI it fails.
func browser(t testing.TB) context.Context {
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
	chromium.once.Do(func() {
		dir, err := os.MkdirTemp("", "phasewright-browser-")
		if err != nil {
			chromium.err = err
			return
		}
		flags := append([]chromedp.ExecAllocatorOption{chromedp.ExecPath(path), chromedp.UserDataDir(dir)}, quietFlags...)
		alloc, stop := chromedp.NewExecAllocator(context.Background(), flags...)
		ctx, end := chromedp.NewContext(alloc)
		chromium.ctx = ctx
		chromium.stop = func() { end(); stop(); os.RemoveAll(dir) }
		chromium.err = chromedp.Do(ctx, chromedp.Navigate("about:blank")) // without a time limit, as the library asks of the first
	})
	if chromium.err != nil {
		t.Fatal(chromium.err)
	}
	return chromium.ctx
}

// screen is one browser of its own, as on another device.
type screen struct {
	t    testing.TB
	ctx  context.Context
	base string

	mu  sync.Mutex
	bad []string // what the console complained of
}

func (s *shop) screen(browser context.Context, base string, width, height int64) *screen {
	s.t.Helper()
	ctx, end := chromedp.NewContext(browser, chromedp.WithNewBrowserContext())
	s.t.Cleanup(end)
	sc := &screen{t: s.t, ctx: ctx, base: base}
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(width, height)); err != nil { // the first call without a time limit
		s.t.Fatal(err)
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
			if m.IsException() || m.Type == "error" || m.Source == "security" || strings.Contains(m.Text, "Content Security Policy") {
				sc.mu.Lock()
				sc.bad = append(sc.bad, m.String())
				sc.mu.Unlock()
			}
		}
	}()
	return sc
}

// complaints are errors of the console, apart from requests that a test made fail on purpose.
func (s *screen) complaints() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]string(nil), s.bad...)
}

func (s *screen) do(steps ...chromedp.Action[chromedp.Void]) {
	s.t.Helper()
	ctx, cancel := context.WithTimeout(s.ctx, 20*time.Second)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		s.t.Fatal(err)
	}
}

func (s *screen) open(path string) {
	s.t.Helper()
	s.do(chromedp.Navigate(s.base+path), chromedp.WaitVisible(chromedp.CSS("main")))
}

func eval[T any](s *screen, js string) T {
	s.t.Helper()
	ctx, cancel := context.WithTimeout(s.ctx, 20*time.Second)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](js))
	if err != nil {
		s.t.Fatalf("%s: %v", js, err)
	}
	return v
}

// wait waits until an expression holds; a page that is just being replaced is asked again.
func (s *screen) wait(js string) {
	s.t.Helper()
	end := time.Now().Add(15 * time.Second)
	for time.Now().Before(end) {
		ctx, cancel := context.WithTimeout(s.ctx, 5*time.Second)
		ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool]("!!("+js+")"))
		cancel()
		if err == nil && ok {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	s.t.Fatalf("never came true: %s\npage: %s", js, eval[string](s, "location.href + '\\n' + document.querySelector('main')?.innerText"))
}

func (s *screen) text(css string) string {
	return eval[string](s, fmt.Sprintf("document.querySelector(%q)?.innerText || ''", css))
}

func (s *screen) click(css string) {
	s.t.Helper()
	s.do(chromedp.Click(chromedp.CSS(css)))
}

func (s *screen) typeIn(css, text string) {
	s.t.Helper()
	s.do(chromedp.SendKeys(chromedp.CSS(css), text))
}

func (s *screen) keys(keys string, opts ...chromedp.KeyOption) {
	s.t.Helper()
	s.do(chromedp.KeyEvent(keys, opts...))
}

// night switches the emulated device to dark or light.
func (s *screen) scheme(look string) {
	s.t.Helper()
	if _, err := chromedp.Call(s.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: look}}}); err != nil {
		s.t.Fatal(err)
	}
}

// wire is the line between browsers and server; it can be cut.
type wire struct {
	net.Listener
	mu    sync.Mutex
	cut   bool
	conns map[net.Conn]bool
}

func (w *wire) Accept() (net.Conn, error) {
	for {
		c, err := w.Listener.Accept()
		if err != nil {
			return nil, err
		}
		w.mu.Lock()
		if w.cut {
			c.Close()
			w.mu.Unlock()
			continue
		}
		w.conns[c] = true
		w.mu.Unlock()
		return c, nil
	}
}

func (w *wire) set(cut bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.cut = cut
	if cut {
		for c := range w.conns {
			c.Close()
			delete(w.conns, c)
		}
	}
}

// serve answers on a loopback port over a wire that can be cut.
func (s *shop) serve() (base string, w *wire) {
	s.t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		s.t.Fatal(err)
	}
	w = &wire{Listener: l, conns: map[net.Conn]bool{}}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Serve(ctx, w) }()
	s.t.Cleanup(func() {
		cancel()
		if err := <-done; err != nil && err != http.ErrServerClosed {
			s.t.Error(err)
		}
	})
	return "http://" + l.Addr().String(), w
}

// noScript switches the page's script off, as some people do.
func (s *screen) noScript() {
	s.t.Helper()
	if _, err := chromedp.Call(s.ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		s.t.Fatal(err)
	}
}

// waitSource waits until the page's source holds a text; it works without script in the page.
func (s *screen) waitSource(part string) {
	s.t.Helper()
	source := ""
	for end := time.Now().Add(10 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		ctx, cancel := context.WithTimeout(s.ctx, 5*time.Second)
		html, err := chromedp.Run(ctx, chromedp.OuterHTML(chromedp.CSS("html")))
		cancel()
		if source = html; err == nil && strings.Contains(html, part) {
			return
		}
	}
	s.t.Fatalf("never came: %q in\n%s", part, source)
}
