package web_test

import (
	"bytes"
	"context"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"phasewright/authority"
	"phasewright/web"
	"phasewright/web/page"
	"phasewright/web/webtest"
)

// trusted makes the server speak TLS under an authority of its own, on an invented computer.
func trusted(t testing.TB) func(*web.Config) {
	t.Helper()
	a, err := authority.New(rand.Reader, time.Now(), "bench-pc")
	if err != nil {
		t.Fatal(err)
	}
	at := []netip.Addr{netip.MustParseAddr("192.168.3.7")}
	k, err := authority.NewKeeper(a, rand.Reader, time.Now, func() []netip.Addr { return at })
	if err != nil {
		t.Fatal(err)
	}
	return func(c *web.Config) {
		c.Authority, c.Hosts = k, append(c.Hosts, a.Names()...)
		c.Base = func() string { return "https://192.0.2.7:8080" }
	}
}

// overTLS makes a request one that came over TLS.
func overTLS(r *http.Request) {
	r.TLS = &tls.ConnectionState{}
	if r.Method == http.MethodPost {
		r.Header.Set("Origin", "https://"+r.Host)
	}
}

func TestOverTLSTheCookieStaysThere(t *testing.T) {
	s := webtest.NewShop(t, trusted(t))
	i, err := s.Invite(page.Work)
	if err != nil {
		t.Fatal(err)
	}
	form := url.Values{"code": {i.Code}, "name": {"Ada"}}
	w := s.Do(webtest.Request("POST", "/pair", webtest.PhoneAddr, form, func(r *http.Request) { r.TLS = &tls.ConnectionState{} }))
	webtest.WantCode(t, w, http.StatusForbidden) // an http page posting to https is another origin
	w = s.Do(webtest.Request("POST", "/pair", webtest.PhoneAddr, form, overTLS))
	webtest.WantCode(t, w, http.StatusSeeOther)
	for _, part := range []string{"__Host-", "; Secure", "; HttpOnly", "; SameSite=Strict"} {
		webtest.WantIn(t, w.Header().Get("Set-Cookie"), part)
	}
	if h := w.Header().Get("Strict-Transport-Security"); h != "" {
		t.Errorf("the browser is told to come over TLS for good, and --plain would lock it out: %s", h)
	}
}

// A code typed into a page that came in clear would be read by others: such a page is never shown where the server
// speaks TLS.
func TestInClearNothingIsAnsweredBesideTLS(t *testing.T) {
	s := webtest.NewShop(t, trusted(t))
	i, err := s.Invite(page.Work)
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"/", "/pair?code=1", "/pair/authority.crt", s.Access.Asset("look.css")} {
		w := s.Do(webtest.Request("GET", path, webtest.PhoneAddr, nil))
		to := w.Header().Get("Location")
		if w.Code != http.StatusTemporaryRedirect || to != "https://192.0.2.7:8080"+path {
			t.Errorf("%s: status %d to %s", path, w.Code, to)
		}
	}
	w := s.Do(webtest.Request("POST", "/pair", webtest.PhoneAddr, url.Values{"code": {i.Code}, "name": {"Ada"}}))
	webtest.WantCode(t, w, http.StatusForbidden)
	if len(s.Access.Devices()) != 0 {
		t.Error("a device paired in clear")
	}
	webtest.WantCode(t, s.Get("/"), 200) // at the host itself nothing goes over a network
}

func TestPlainSaysThatTheLineIsNotProtected(t *testing.T) {
	s := webtest.NewShop(t)
	webtest.WantIn(t, s.Do(webtest.Request("GET", "/pair", webtest.PhoneAddr, nil)).Body.String(), "This line is not protected")
	webtest.WantIn(t, s.Get("/devices").Body.String(), "not protected")
	webtest.WantCode(t, s.Do(webtest.Request("GET", "/pair/authority.crt", webtest.PhoneAddr, nil)), http.StatusNotFound)
	if strings.Contains(s.Get("/pair?code=1").Body.String(), "This line is not protected") {
		t.Error("the host's own screen is warned of its own line")
	}
	s = webtest.NewShop(t, trusted(t))
	phone := s.Do(webtest.Request("GET", "/pair", webtest.PhoneAddr, nil, overTLS)).Body.String()
	for _, body := range []string{phone, s.Get("/devices").Body.String()} {
		if strings.Contains(body, "not protected") {
			t.Error("over TLS the page warns of the line")
		}
	}
}

// The authority is there for the taking before a device is paired. What to compare stands on the host's screen alone: a
// forged page would print what the reader hopes to see.
func TestAuthorityIsOfferedAndComparedWithTheHost(t *testing.T) {
	s := webtest.NewShop(t, trusted(t))
	w := s.Do(webtest.Request("GET", "/pair/authority.crt", webtest.PhoneAddr, nil, overTLS))
	webtest.WantCode(t, w, 200)
	if got := w.Header().Get("Content-Type"); got != "application/x-x509-ca-cert" {
		t.Errorf("type %s", got)
	}
	root, err := x509.ParseCertificate(w.Body.Bytes())
	if err != nil || !root.IsCA {
		t.Fatalf("no certificate of an authority: %v", err)
	}
	shown, offered := s.Config.Authority.Shown(), authority.Fingerprint(root.Raw)
	screen := s.Get("/devices").Body.String()
	phone := s.Do(webtest.Request("GET", "/pair", webtest.PhoneAddr, nil, overTLS)).Body.String()
	for _, print := range []string{shown, offered} {
		webtest.WantIn(t, screen, print)
		if strings.Contains(phone, print) {
			t.Error("the pairing page prints what it should be compared with")
		}
	}
	for _, part := range []string{`href="/pair/authority.crt"`, "does not know who vouches",
		"the one on the host’s screen", root.Subject.CommonName} {
		webtest.WantIn(t, phone, part)
	}
	code, err := s.Invite(page.Look)
	if err != nil {
		t.Fatal(err)
	}
	answer := s.Do(webtest.Request("POST", "/pair", webtest.PhoneAddr, url.Values{"code": {code.Code}, "name": {"Ada"}}, overTLS,
		func(r *http.Request) { r.Header.Set("Origin", "https://"+r.Host) }))
	webtest.WantCode(t, answer, http.StatusSeeOther)
	cookie := answer.Result().Cookies()[0]
	with := func(r *http.Request) { r.AddCookie(cookie) }
	paired := s.Do(webtest.Request("GET", "/pair", webtest.PhoneAddr, nil, overTLS, with)).Body.String()
	webtest.WantIn(t, paired, `href="/pair/authority.crt"`) // whoever went on without can do it later
	webtest.WantIn(t, paired, "This device is paired")
}

// client trusts the shop's authority and nothing else; it reaches the server whatever the name.
func client(s *webtest.Shop, at string) *http.Client {
	roots := x509.NewCertPool()
	root, err := x509.ParseCertificate(s.Config.Authority.Root())
	if err != nil {
		s.T.Fatal(err)
	}
	roots.AddCert(root)
	there := func(ctx context.Context, network, _ string) (net.Conn, error) {
		return (&net.Dialer{}).DialContext(ctx, network, at)
	}
	c := &http.Client{Timeout: 10 * time.Second, Transport: &http.Transport{
		DialContext: there, TLSClientConfig: &tls.Config{RootCAs: roots}, ForceAttemptHTTP2: true}}
	s.T.Cleanup(c.CloseIdleConnections)
	return c
}

func TestOnePortSpeaksBothWays(t *testing.T) {
	s := webtest.NewShop(t, trusted(t))
	base, _ := s.Listen()
	at := strings.TrimPrefix(base, "http://")
	_, port, _ := net.SplitHostPort(at)
	silent, err := net.Dial("tcp", at) // holds nobody up
	if err != nil {
		t.Fatal(err)
	}
	defer silent.Close()
	c := client(s, at)
	for _, address := range []string{"http://127.0.0.1:", "http://localhost:",
		"https://127.0.0.1:", "https://localhost:", "https://bench-pc.local:"} {
		answer, err := c.Get(address + port + "/")
		if err != nil {
			t.Errorf("%s: %v", address, err)
			continue
		}
		body, _ := io.ReadAll(answer.Body)
		answer.Body.Close()
		want := strings.HasPrefix(address, "https")
		if answer.StatusCode != 200 || !bytes.Contains(body, []byte("Shop book")) || (answer.TLS != nil) != want {
			t.Errorf("%s: %s", address, answer.Status)
		}
		if answer.TLS != nil && answer.ProtoMajor != 2 {
			t.Errorf("%s: %s; live pages of one browser would wait for each other", address, answer.Proto)
		}
	}
	_, err = c.Get("https://example.com:" + port + "/")
	if err == nil || !strings.Contains(err.Error(), "certificate") {
		t.Errorf("another name: %v", err)
	}
}

// A connection's own address is answered to without having been named beforehand: it may have changed since the start.
func TestAddressOfTheConnectionIsAllowed(t *testing.T) {
	s := webtest.NewShop(t)
	at := &net.TCPAddr{IP: net.IPv4(192, 0, 2, 44), Port: 8080}
	for host, want := range map[string]int{"192.0.2.44:8080": http.StatusSeeOther,
		"192.0.2.45:8080": http.StatusMisdirectedRequest, "evil.example:8080": http.StatusMisdirectedRequest} {
		w := s.Do(webtest.Request("GET", "/", webtest.PhoneAddr, nil, func(r *http.Request) {
			r.Host = host
			*r = *r.WithContext(context.WithValue(r.Context(), http.LocalAddrContextKey, at))
		}))
		if w.Code != want {
			t.Errorf("%s: status %d, want %d", host, w.Code, want)
		}
	}
}

// trustingBrowser is a Chromium of its own whose user has imported the root; with nil nothing was imported. All names
// lead to this computer.
func trustingBrowser(t *testing.T, root []byte) context.Context {
	t.Helper()
	webtest.Browser(t) // skips where there is none
	if _, err := exec.LookPath("certutil"); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("certutil is not installed: no browser was made to trust the authority")
		}
		t.Skip("SKIPPED: certutil is not installed, so no browser was made to trust the authority")
	}
	home := t.TempDir()
	if root != nil {
		db := filepath.Join(home, ".pki", "nssdb")
		file := filepath.Join(home, "root.pem")
		if err := os.MkdirAll(db, 0o700); err != nil {
			t.Fatal(err)
		}
		text := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: root})
		if err := os.WriteFile(file, text, 0o600); err != nil {
			t.Fatal(err)
		}
		for _, args := range [][]string{{"-N", "--empty-password"}, {"-A", "-t", "C,,", "-n", "shop", "-i", file}} {
			if out, err := exec.Command("certutil", append(args, "-d", "sql:"+db)...).CombinedOutput(); err != nil {
				t.Fatalf("certutil: %v\n%s", err, out)
			}
		}
	}
	path, _ := exec.LookPath("chromium")
	flags := append([]chromedp.ExecAllocatorOption{chromedp.ExecPath(path),
		chromedp.UserDataDir(filepath.Join(home, "profile")), chromedp.Env("HOME=" + home),
		chromedp.Flag("host-resolver-rules", "MAP * 127.0.0.1")}, webtest.QuietFlags...)
	alloc, stop := chromedp.NewExecAllocator(context.Background(), flags...)
	ctx, end := chromedp.NewContext(alloc)
	t.Cleanup(func() { end(); stop() })
	// without a time limit, as the library asks of the first
	if err := chromedp.Do(ctx, chromedp.Navigate("about:blank")); err != nil {
		t.Fatal(err)
	}
	return ctx
}

// A browser that trusts the authority opens the page without a warning and allows it what needs a secure page; one that
// does not trust it warns, and so do both at a name that the authority may not vouch for.
func TestBrowserThatTrustsTheAuthorityDoesNotWarn(t *testing.T) {
	s := webtest.NewShop(t, trusted(t), func(c *web.Config) { // the server would answer to them
		c.Hosts = append(c.Hosts, "bench-pc", "other.local")
	})
	base, _ := s.Listen()
	_, port, _ := net.SplitHostPort(strings.TrimPrefix(base, "http://"))
	load := func(b context.Context, url string) error {
		ctx, cancel := context.WithTimeout(b, 20*time.Second)
		defer cancel()
		return chromedp.Do(ctx, chromedp.Navigate(url+":"+port+"/pair?code=1"))
	}
	b := trustingBrowser(t, s.Config.Authority.Root())
	p := s.Screen(b, "", 360, 740)
	if err := load(p.Ctx, "https://bench-pc.local"); err != nil {
		t.Fatalf("the browser that trusts the authority: %v", err)
	}
	p.Wait(`document.documentElement.dataset.script == "on"`)
	if !webtest.Eval[bool](p, `location.protocol == "https:" && window.isSecureContext && !!crypto.subtle`) {
		t.Error("the page is not taken for a secure one")
	}
	if bad := p.Complaints(); len(bad) > 0 {
		t.Errorf("the browser complains: %q", bad)
	}
	p.Click(`button[name=look][value=night]`)
	p.Wait(`document.documentElement.dataset.look == "night"`)
	for _, name := range []string{"https://bench-pc", "https://other.local"} {
		if err := load(p.Ctx, name); err == nil || !strings.Contains(err.Error(), "ERR_CERT") {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := load(p.Ctx, "http://bench-pc.local"); err != nil || webtest.Eval[bool](p, `window.isSecureContext`) {
		t.Errorf("the name is secure without TLS: this test shows nothing: %v", err)
	}
	p.Click(`button[name=look][value=day]`) // the cookie of the secure page is not in the way
	p.Wait(`document.documentElement.dataset.look == "day"`)
	q := s.Screen(trustingBrowser(t, nil), "", 360, 740)
	err := load(q.Ctx, "https://bench-pc.local")
	if err == nil || !strings.Contains(err.Error(), "ERR_CERT_AUTHORITY_INVALID") {
		t.Errorf("the browser that does not trust the authority: %v", err)
	}
}

// handed is a listener that gives out the connections put into it.
type handed struct {
	net.Listener
	conns chan net.Conn
}

func (h handed) Accept() (net.Conn, error) {
	c, open := <-h.conns
	if !open {
		panic("the listener is broken")
	}
	return c, nil
}

// breakingConn is a connection whose first read breaks.
type breakingConn struct {
	net.Conn
	closed chan struct{}
}

func (breakingConn) Read([]byte) (int, error) { panic("the connection is broken") }

func (c breakingConn) Close() error { close(c.closed); return c.Conn.Close() }

// A connection that breaks while its first byte is read is closed, and the next one is served; a listener that breaks
// ends Accept with an error. Both are logged, and the program goes on.
func TestAConnectionThatBreaksIsTheOnlyOneToEnd(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	pair := func() (here, there net.Conn) {
		there, err := net.Dial("tcp", l.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		if here, err = l.Accept(); err != nil {
			t.Fatal(err)
		}
		return here, there
	}
	var said webtest.Lines
	h := handed{l, make(chan net.Conn, 2)}
	both := web.ListenBothWays(h, &tls.Config{}, slog.New(slog.NewTextHandler(&said, nil)))
	here, there := pair()
	defer there.Close()
	broken := breakingConn{here, make(chan struct{})}
	h.conns <- broken
	<-broken.closed
	here, there = pair()
	defer there.Close()
	h.conns <- here
	if _, err := there.Write([]byte("GET / HTTP/1.1\r\n")); err != nil {
		t.Fatal(err)
	}
	c, err := both.Accept()
	if err != nil {
		t.Fatal(err)
	}
	first := make([]byte, 3)
	if _, err := io.ReadFull(c, first); err != nil || string(first) != "GET" {
		t.Errorf("the next connection begins with %q (%v)", first, err)
	}
	close(h.conns)
	if _, err := both.Accept(); err == nil || !strings.Contains(err.Error(), "start it again") {
		t.Errorf("a broken listener: %v", err)
	}
	for _, want := range []string{"a connection broke down", "the connection is broken", "listening broke down", "the listener is broken"} {
		if !strings.Contains(said.String(), want) {
			t.Errorf("the log does not say %q: %s", want, said.String())
		}
	}
}
