package web_test

import (
	"context"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"phasewright/book"
	"phasewright/web/page"
	"phasewright/web/webtest"
)

func TestHostOfRebindingIsTurnedAway(t *testing.T) {
	s := webtest.NewShop(t)
	for _, c := range []struct {
		host string
		code int
	}{
		{"127.0.0.1:8080", 200}, {"localhost:8080", 200}, {"[::1]:8080", 200}, {"127.0.0.1", 200},
		{"evil.example:8080", 421}, {"127.0.0.1.evil.example", 421}, {"localhost.evil.example", 421}, {"", 421}, {"192.0.2.8:8080", 421},
	} {
		w := s.Do(webtest.Request("GET", "/", webtest.HostAddr, nil, func(r *http.Request) { r.Host = c.host }))
		if w.Code != c.code {
			t.Errorf("host %q: status %d, want %d", c.host, w.Code, c.code)
		}
	}
}

func TestChangesComeFromOwnPagesOnly(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	before := len(s.Kinds(job))
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
		w := s.Do(webtest.Request("POST", "/job/"+job+"/note", webtest.HostAddr, url.Values{"text": {"x"}}, c.change))
		if w.Code != http.StatusForbidden {
			t.Errorf("%s: status %d, want 403", c.name, w.Code)
		}
	}
	if n := len(s.Kinds(job)); n != before {
		t.Errorf("%d events were recorded by refused requests", n-before)
	}
	webtest.WantCode(t, s.Post("/job/"+job+"/note", url.Values{"text": {"x"}}), http.StatusSeeOther)
	for _, m := range []string{"PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT"} {
		if w := s.Do(webtest.Request(m, "/", webtest.HostAddr, nil)); w.Code != http.StatusMethodNotAllowed {
			t.Errorf("%s: status %d, want 405", m, w.Code)
		}
	}
}

func TestEveryAnswerCarriesThePolicy(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	policy := s.Get("/").Header().Get("Content-Security-Policy")
	if !strings.HasPrefix(policy, "default-src 'none'; script-src 'self'; style-src 'self'; ") {
		t.Errorf("the policy is %q", policy)
	}
	for _, path := range []string{"/", "/new", "/devices", "/nothing", "/job/none", "/job/" + job, "/job/" + job + "/card", "/job/" + job + "/sheet", "/job/" + job + "/readings", s.Access.Asset("look.css")} {
		w := s.Get(path)
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
	s := webtest.NewShop(t)
	job := s.NewJob()
	s.Read(job, "800", "9")
	invite, err := s.Invite(page.Work)
	if err != nil {
		t.Fatal(err)
	}
	before := len(s.Kinds(job))
	for _, path := range []string{"/", "/?q=sand", "/new", "/devices", "/devices/code", "/devices/remove?id=x", "/pair?code=" + invite.Code, "/look?look=night",
		"/job/" + job, "/job/" + job + "/card", "/job/" + job + "/card/text", "/job/" + job + "/sheet", "/job/" + job + "/readings", "/job/" + job + "/readings?rpm=800&shown=9&locked=8",
		"/job/" + job + "/note?text=x", "/job/" + job + "/proof", "/job/" + job + "/proof/sign?name=x"} {
		for _, from := range []string{webtest.HostAddr, webtest.PhoneAddr} {
			w := s.Do(webtest.Request("GET", path, from, nil))
			if c := w.Header().Get("Set-Cookie"); c != "" {
				t.Errorf("GET %s sets a cookie: %s", path, c)
			}
		}
	}
	found, err := s.Book.Jobs(context.Background(), book.Query{})
	if err != nil {
		t.Fatal(err)
	}
	if len(found.Jobs) != 1 || len(s.Kinds(job)) != before {
		t.Errorf("reading pages changed the book: %d jobs, %d events of %d", len(found.Jobs), len(s.Kinds(job)), before)
	}
	if !strings.Contains(s.Get("/devices").Body.String(), invite.Spaced()) || len(s.Access.Devices()) != 0 {
		t.Error("reading pages changed the pairing")
	}
}

func TestNoRequestPathReachesTheFiles(t *testing.T) {
	s := webtest.NewShop(t)
	for _, path := range []string{"/static/x/../../server.go", "/static/x/..%2f..%2fserver.go", "/static/x/%2e%2e/server.go", "/static/x/layout.html", "/static/x/sheet.css%00.txt",
		"/static/x//etc/passwd", "/static/x/C:%5Cwindows", "/static/x/", "/../../etc/passwd", "/static/x/..%5c..%5cserver.go"} {
		u, err := url.Parse("http://127.0.0.1:8080" + path)
		if err != nil {
			continue // a client cannot even send it
		}
		w := s.Do(webtest.Request("GET", "/", webtest.HostAddr, nil, func(r *http.Request) { r.URL = u; r.RequestURI = path }))
		if w.Code == 200 && !strings.Contains(w.Body.String(), "<h1>") || strings.Contains(w.Body.String(), "package web") || strings.Contains(w.Body.String(), "root:") {
			t.Errorf("%s: %d %.80s", path, w.Code, w.Body)
		}
	}
}

func TestRolesAreKept(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	type try struct{ method, path string }
	tries := []struct {
		try
		need page.Role
	}{
		{try{"GET", "/"}, page.Look}, {try{"GET", "/job/" + job}, page.Look}, {try{"GET", "/job/" + job + "/readings"}, page.Look}, {try{"GET", "/live?job=none"}, page.Look},
		{try{"GET", "/new"}, page.Work}, {try{"POST", "/new"}, page.Work}, {try{"POST", "/job/" + job + "/readings"}, page.Work}, {try{"POST", "/job/" + job + "/card"}, page.Work},
		{try{"POST", "/job/" + job + "/note"}, page.Work}, {try{"GET", "/job/" + job + "/captures"}, page.Look}, {try{"POST", "/job/" + job + "/captures"}, page.Work}, {try{"GET", "/bench"}, page.Look}, {try{"GET", "/job/" + job + "/proof.pdf"}, page.Look}, {try{"POST", "/job/" + job + "/proof/sign"}, page.Work}, {try{"POST", "/job/" + job + "/readings/withdraw"}, page.Work},
		{try{"POST", "/job/" + job + "/readings/confirm"}, page.Work},
		{try{"POST", "/job/" + job + "/readings/correction"}, page.Work},
		{try{"GET", "/devices"}, page.Instructor}, {try{"POST", "/devices/code"}, page.Instructor}, {try{"POST", "/devices/remove"}, page.Instructor}, {try{"POST", "/devices/role"}, page.Instructor}, {try{"POST", "/devices/name"}, page.Instructor},
	}
	for have := page.Nobody; have <= page.Instructor; have++ {
		var cookie *http.Cookie
		if have > page.Nobody {
			cookie = s.PairPhone(have)
		}
		for _, c := range tries {
			if c.path == "/devices/remove" || c.path == "/devices/code" && have == page.Instructor {
				continue // these change what the next tries rest on
			}
			form := url.Values{}
			if c.method == "GET" {
				form = nil
			}
			ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
			w := s.Do(webtest.Request(c.method, c.path, webtest.PhoneAddr, form, func(r *http.Request) {
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

// A proxy or tunnel on the host computer speaks from loopback for somebody far away: who comes through one pairs like
// any other device.
func TestWhoComesThroughAProxyIsNotAtTheHost(t *testing.T) {
	s := webtest.NewShop(t)
	for _, h := range [][2]string{{"Forwarded", "for=198.51.100.7"}, {"forwarded", ""}, {"Via", "1.1 proxy"},
		{"X-Forwarded-For", "127.0.0.1"}, {"x-forwarded-for", "198.51.100.7"},
		{"X-Forwarded-Host", "shop.example"}, {"X-Forwarded-Proto", "https"}, {"X-Real-IP", "198.51.100.7"}} {
		through := func(r *http.Request) { r.Header.Set(h[0], h[1]) }
		w := s.Do(webtest.Request("GET", "/devices", webtest.HostAddr, nil, through))
		if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/pair" {
			t.Errorf("%s: status %d, to %q", h, w.Code, w.Header().Get("Location"))
		}
		webtest.WantCode(t, s.Do(webtest.Request("POST", "/devices/code", webtest.HostAddr, url.Values{"role": {"instructor"}}, through)),
			http.StatusUnauthorized)
		i, err := s.Invite(page.Look)
		if err != nil {
			t.Fatal(err)
		}
		w = s.Do(webtest.Request("POST", "/pair", webtest.HostAddr, url.Values{"code": {i.Code}, "name": {"Ada"}}, through))
		webtest.WantCode(t, w, http.StatusSeeOther)
		cookie := w.Result().Cookies()[0]
		webtest.WantCode(t, s.Do(webtest.Request("GET", "/", webtest.HostAddr, nil, through, func(r *http.Request) { r.AddCookie(cookie) })),
			200)
	}
	webtest.WantCode(t, s.Get("/devices"), 200) // the host itself
}
