package web

import (
	"context"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"phasewright/book"
)

func TestHostOfRebindingIsTurnedAway(t *testing.T) {
	s := newShop(t)
	for _, c := range []struct {
		host string
		code int
	}{
		{"127.0.0.1:8080", 200}, {"localhost:8080", 200}, {"[::1]:8080", 200}, {"127.0.0.1", 200},
		{"evil.example:8080", 421}, {"127.0.0.1.evil.example", 421}, {"localhost.evil.example", 421}, {"", 421}, {"192.0.2.8:8080", 421},
	} {
		w := s.do(request("GET", "/", hostAddr, nil, func(r *http.Request) { r.Host = c.host }))
		if w.Code != c.code {
			t.Errorf("host %q: status %d, want %d", c.host, w.Code, c.code)
		}
	}
}

func TestChangesComeFromOwnPagesOnly(t *testing.T) {
	s := newShop(t)
	job := s.job()
	before := len(s.kinds(job))
	for _, c := range []struct {
		name   string
		change func(*http.Request)
	}{
		{"another site", func(r *http.Request) { r.Header.Set("Origin", "http://evil.example") }},
		{"another port of this host", func(r *http.Request) { r.Header.Set("Origin", "http://127.0.0.1:9999") }},
		{"another scheme", func(r *http.Request) { r.Header.Set("Origin", "https://127.0.0.1:8080") }},
		{"sandboxed frame", func(r *http.Request) { r.Header.Set("Origin", "null") }},
		{"no origin", func(r *http.Request) { r.Header.Del("Origin") }},
		{"cross-site by the browser's word", func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }},
		{"same site, other origin", func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "same-site") }},
	} {
		w := s.do(request("POST", "/job/"+job+"/note", hostAddr, url.Values{"text": {"x"}}, c.change))
		if w.Code != http.StatusForbidden {
			t.Errorf("%s: status %d, want 403", c.name, w.Code)
		}
	}
	if n := len(s.kinds(job)); n != before {
		t.Errorf("%d events were recorded by refused requests", n-before)
	}
	wantCode(t, s.post("/job/"+job+"/note", url.Values{"text": {"x"}}), http.StatusSeeOther)
	for _, m := range []string{"PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT"} {
		if w := s.do(request(m, "/", hostAddr, nil)); w.Code != http.StatusMethodNotAllowed {
			t.Errorf("%s: status %d, want 405", m, w.Code)
		}
	}
}

func TestEveryAnswerCarriesThePolicy(t *testing.T) {
	s := newShop(t)
	job := s.job()
	for _, path := range []string{"/", "/new", "/devices", "/nothing", "/job/none", "/job/" + job, "/job/" + job + "/card", "/job/" + job + "/sheet", "/job/" + job + "/readings", s.assets.url("look.css")} {
		w := s.get(path)
		h := w.Header()
		if h.Get("Content-Security-Policy") != policy || h.Get("X-Content-Type-Options") != "nosniff" || h.Get("X-Frame-Options") != "DENY" || h.Get("Referrer-Policy") != "same-origin" {
			t.Errorf("%s: headers %v", path, h)
		}
		body := w.Body.String()
		for _, bad := range []string{" style=", "<style", "<script>", " onclick", " onload", "javascript:", "https://", "//cdn"} {
			if strings.Contains(body, bad) {
				t.Errorf("%s: page holds %q, which the policy forbids", path, bad)
			}
		}
		for _, part := range strings.Split(body, "http://")[1:] {
			if !strings.HasPrefix(part, "www.w3.org/2000/svg") && !strings.HasPrefix(part, "192.0.2.7") {
				t.Errorf("%s: page names an address elsewhere: %.60q", path, part)
			}
		}
	}
	for _, bad := range []string{"unsafe-inline", "unsafe-eval", "*", "http:", "data:"} {
		if strings.Contains(policy, bad) {
			t.Errorf("the policy allows %s", bad)
		}
	}
}

func TestGETNeverChangesState(t *testing.T) {
	s := newShop(t)
	job := s.job()
	s.read(job, "800", "9")
	invite, err := s.Invite(Work)
	if err != nil {
		t.Fatal(err)
	}
	before := len(s.kinds(job))
	for _, path := range []string{"/", "/?q=sand", "/new", "/devices", "/devices/code", "/devices/remove?id=x", "/pair?code=" + invite.Code, "/look?look=night",
		"/job/" + job, "/job/" + job + "/card", "/job/" + job + "/card/text", "/job/" + job + "/sheet", "/job/" + job + "/readings", "/job/" + job + "/readings?rpm=800&shown=9&locked=8",
		"/job/" + job + "/note?text=x", "/job/" + job + "/proof", "/job/" + job + "/proof/sign?name=x"} {
		for _, from := range []string{hostAddr, phoneAddr} {
			w := s.do(request("GET", path, from, nil))
			if c := w.Header().Get("Set-Cookie"); c != "" {
				t.Errorf("GET %s sets a cookie: %s", path, c)
			}
		}
	}
	found, err := s.book.Jobs(context.Background(), book.Query{})
	if err != nil {
		t.Fatal(err)
	}
	if len(found.Jobs) != 1 || len(s.kinds(job)) != before {
		t.Errorf("reading pages changed the book: %d jobs, %d events of %d", len(found.Jobs), len(s.kinds(job)), before)
	}
	if now, ok := s.pairing.now(); !ok || now.Code != invite.Code || len(s.devices.list()) != 0 {
		t.Error("reading pages changed the pairing")
	}
}

func TestNoRequestPathReachesTheFiles(t *testing.T) {
	s := newShop(t)
	for _, path := range []string{"/static/x/../../server.go", "/static/x/..%2f..%2fserver.go", "/static/x/%2e%2e/server.go", "/static/x/layout.html", "/static/x/sheet.css%00.txt",
		"/static/x//etc/passwd", "/static/x/C:%5Cwindows", "/static/x/", "/../../etc/passwd", "/static/x/..%5c..%5cserver.go"} {
		u, err := url.Parse("http://127.0.0.1:8080" + path)
		if err != nil {
			continue // a client cannot even send it
		}
		w := s.do(request("GET", "/", hostAddr, nil, func(r *http.Request) { r.URL = u; r.RequestURI = path }))
		if w.Code == 200 && !strings.Contains(w.Body.String(), "<h1>") || strings.Contains(w.Body.String(), "package web") || strings.Contains(w.Body.String(), "root:") {
			t.Errorf("%s: %d %.80s", path, w.Code, w.Body)
		}
	}
}

func TestRolesAreKept(t *testing.T) {
	s := newShop(t)
	job := s.job()
	type try struct{ method, path string }
	tries := []struct {
		try
		need Role
	}{
		{try{"GET", "/"}, Look}, {try{"GET", "/job/" + job}, Look}, {try{"GET", "/job/" + job + "/readings"}, Look}, {try{"GET", "/live?job=none"}, Look},
		{try{"GET", "/new"}, Work}, {try{"POST", "/new"}, Work}, {try{"POST", "/job/" + job + "/readings"}, Work}, {try{"POST", "/job/" + job + "/card"}, Work},
		{try{"POST", "/job/" + job + "/note"}, Work}, {try{"GET", "/job/" + job + "/captures"}, Look}, {try{"POST", "/job/" + job + "/captures"}, Work}, {try{"GET", "/bench"}, Look}, {try{"GET", "/job/" + job + "/proof.pdf"}, Look}, {try{"POST", "/job/" + job + "/proof/sign"}, Work}, {try{"POST", "/job/" + job + "/readings/withdraw"}, Work},
		{try{"POST", "/job/" + job + "/readings/correction"}, Work},
		{try{"GET", "/devices"}, Instructor}, {try{"POST", "/devices/code"}, Instructor}, {try{"POST", "/devices/remove"}, Instructor}, {try{"POST", "/devices/role"}, Instructor}, {try{"POST", "/devices/name"}, Instructor},
	}
	for have := Nobody; have <= Instructor; have++ {
		var cookie *http.Cookie
		if have > Nobody {
			cookie = s.pairPhone(have)
		}
		for _, c := range tries {
			if c.path == "/devices/remove" || c.path == "/devices/code" && have == Instructor {
				continue // these change what the next tries rest on
			}
			form := url.Values{}
			if c.method == "GET" {
				form = nil
			}
			ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
			w := s.do(request(c.method, c.path, phoneAddr, form, func(r *http.Request) {
				if cookie != nil {
					r.AddCookie(cookie)
				}
				*r = *r.WithContext(ctx)
			}))
			cancel()
			refused := w.Code == http.StatusForbidden || w.Code == http.StatusUnauthorized || w.Header().Get("Location") == "/pair"
			if refused != (have < c.need) {
				t.Errorf("%s %s as %v: status %d, refused %v; it needs %v", c.method, c.path, have, w.Code, refused, c.need)
			}
		}
	}
}

func TestOwnPath(t *testing.T) {
	for in, want := range map[string]string{"/job/a?b=c": "/job/a?b=c", "//evil.example": "/", "http://evil.example": "/", "": "/", "/\\evil.example": "/", "/a\r\nSet-Cookie: x": "/"} {
		if got := ownPath(in); got != want {
			t.Errorf("ownPath(%q) = %q, want %q", in, got, want)
		}
	}
}

// A proxy or tunnel on the host computer speaks from loopback for somebody far away: who comes through one pairs like
// any other device.
func TestWhoComesThroughAProxyIsNotAtTheHost(t *testing.T) {
	s := newShop(t)
	for _, h := range [][2]string{{"Forwarded", "for=198.51.100.7"}, {"forwarded", ""}, {"Via", "1.1 proxy"},
		{"X-Forwarded-For", "127.0.0.1"}, {"x-forwarded-for", "198.51.100.7"},
		{"X-Forwarded-Host", "shop.example"}, {"X-Forwarded-Proto", "https"}, {"X-Real-IP", "198.51.100.7"}} {
		through := func(r *http.Request) { r.Header.Set(h[0], h[1]) }
		w := s.do(request("GET", "/devices", hostAddr, nil, through))
		if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/pair" {
			t.Errorf("%s: status %d, to %q", h, w.Code, w.Header().Get("Location"))
		}
		wantCode(t, s.do(request("POST", "/devices/code", hostAddr, url.Values{"role": {"instructor"}}, through)),
			http.StatusUnauthorized)
		i, err := s.Invite(Look)
		if err != nil {
			t.Fatal(err)
		}
		w = s.do(request("POST", "/pair", hostAddr, url.Values{"code": {i.Code}, "name": {"Ada"}}, through))
		wantCode(t, w, http.StatusSeeOther)
		cookie := w.Result().Cookies()[0]
		wantCode(t, s.do(request("GET", "/", hostAddr, nil, through, func(r *http.Request) { r.AddCookie(cookie) })),
			200)
	}
	wantCode(t, s.get("/devices"), 200) // the host itself
}
