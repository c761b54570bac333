package web_test

import (
	"bytes"
	"fmt"
	"io"
	"maps"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"phasewright/web/page"
	"phasewright/web/webtest"
)

// hostile are values that would end a header line, begin another, or lead a browser elsewhere.
var hostile = []string{"/a\r\nSet-Cookie: x=1", "/a\nX: y", "/a\rX: y", "/\t/evil.example", "/\x00", "/a\x7f",
	"/\x1b[31m", "/a\u0085b", "/a\u009bb", "/\xff\xfe", "//evil.example", `/\evil.example`,
	"https://evil.example/", "javascript:alert(1)", "\r\n\r\n<script>", "%0d%0aSet-Cookie:%20x=1", " /x", ""}

// clean says what is wrong with the headers of an answer; "" for nothing.
func clean(h http.Header) string {
	for name, values := range h {
		for _, v := range values {
			control := func(r rune) bool { return r < ' ' || r >= 0x7f && r < 0xa0 || r == '\uFFFD' }
			if strings.ContainsFunc(v, control) {
				return fmt.Sprintf("%s: %q holds a control character", name, v)
			}
		}
	}
	if to := h.Get("Location"); to != "" {
		if u, err := url.Parse(to); err != nil || u.Host != "" || u.Scheme != "" || !strings.HasPrefix(to, "/") ||
			strings.HasPrefix(to, "//") || strings.Contains(to, `\`) {
			return fmt.Sprintf("Location %q leads elsewhere (%v)", to, err)
		}
	}
	return ""
}

// Whatever is put into an address, a form or a file's name, no header carries a control character, and no redirect
// leads to another host.
func TestHeadersCarryNoControlCharacters(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	for _, rpm := range []string{"800", "1500", "3000"} {
		s.Read(job, rpm, "9")
	}
	room := s.NewBench(url.Values{"exercise": {"both"}})
	base := "/job/" + job
	s.Do(webtest.Upload(base+"/captures", webtest.HostAddr, "a.csv", strings.NewReader("t,a\n0,1\n")))
	s.Settle()
	files, err := s.Book.Attachments(t.Context(), job)
	if err != nil || len(files) != 1 {
		t.Fatal(files, err)
	}
	sha := base + "/captures/" + files[0].SHA256.String()
	f := formOf
	// Each route that changes something, with a form that it takes; fresh makes the values that serve once only.
	routes := map[string]struct {
		path  string
		fresh func() url.Values
		stays bool // answers with a page as long as nothing more is done
	}{
		"POST /pair": {path: "/pair", fresh: func() url.Values {
			i, err := s.Invite(page.Look)
			if err != nil {
				t.Fatal(err)
			}
			return f("code", i.Code, "name", "Ada")
		}},
		"POST /look":                              {path: "/look", fresh: func() url.Values { return f("look", "night") }},
		"POST /new":                               {path: "/new", fresh: func() url.Values { return f("name", "x", "from", "blank") }},
		"POST /job/{job}/note":                    {path: base + "/note", fresh: func() url.Values { return f("text", "x") }},
		"POST /bay":                               {path: "/bay", fresh: func() url.Values { return f("bay", "x") }},
		"POST /job/{job}/waiting":                 {path: base + "/waiting", fresh: func() url.Values { return f("for", "a part") }},
		"POST /job/{job}/shelf":                   {path: base + "/shelf"},
		"POST /job/{job}/card":                    {path: base + "/card", stays: true},
		"POST /job/{job}/proof/sign":              {path: base + "/proof/sign", stays: true},
		"POST /job/{job}/captures":                {path: base + "/captures", stays: true},
		"POST /job/{job}/captures/{sha}":          {path: sha},
		"POST /job/{job}/captures/{sha}/stop":     {path: sha + "/stop", stays: true},
		"POST /job/{job}/captures/{sha}/evidence": {path: sha + "/evidence", stays: true},
		"POST /job/{job}/captures/{sha}/away":     {path: sha + "/away", stays: true},
		"POST /job/{job}/describe":                {path: base + "/describe", fresh: func() url.Values { return f("name", "x") }},
		"POST /job/{job}/forget":                  {path: base + "/forget", stays: true},
		"POST /job/{job}/readings": {path: base + "/readings",
			fresh: func() url.Values { return f("rpm", "900", "shown", "9", "locked", "8") }},
		"POST /job/{job}/readings/withdraw": {path: base + "/readings/withdraw"},
		"POST /job/{job}/readings/confirm":  {path: base + "/readings/confirm"},
		"POST /job/{job}/readings/correction": {path: base + "/readings/correction",
			fresh: func() url.Values { return f("allowance", "120") }},
		"POST /job/{job}/steps":       {path: base + "/steps", stays: true},
		"POST /job/{job}/steps/photo": {path: base + "/steps/photo", stays: true},
		"POST /job/{job}/suspects": {path: base + "/suspects",
			fresh: func() url.Values { return f("compression", "felt") }},
		"POST /instruments": {path: "/instruments", fresh: func() url.Values {
			return f("name", "x", "kind", "dividers", "known", "assumed", "u", "", "checked", "", "for", "")
		}},
		"POST /job/{job}/instruments": {path: base + "/instruments", stays: true},
		"POST /bench":                 {path: "/bench", stays: true},
		"POST /bench/{room}/do":       {path: room + "/do", fresh: func() url.Values { return f("do", "key", "to", "on") }},
		"POST /bench/{room}/judge":    {path: room + "/judge", stays: true},
		"POST /bench/{room}/beat":     {path: room + "/beat"},
		"POST /bench/{room}/again":    {path: room + "/again"},
		"POST /bench/{room}/take":     {path: room + "/take"},
		"POST /bench/{room}/away":     {path: "/bench/none/away", stays: true},
		"POST /bench/{room}/hide":     {path: room + "/hide", stays: true},
		"POST /bench/{room}/reveal":   {path: room + "/reveal"},
		"POST /devices/code":          {path: "/devices/code", fresh: func() url.Values { return f("role", "look") }},
		"POST /devices/name":          {path: "/devices/name", fresh: func() url.Values { return f("name", "x") }},
		"POST /devices/remove":        {path: "/devices/remove", stays: true},
		"POST /devices/role":          {path: "/devices/role", stays: true},
	}
	for _, pattern := range s.Shelf.Patterns {
		if _, ok := routes[pattern]; !ok && strings.HasPrefix(pattern, "POST ") {
			t.Errorf("%s is not tried", pattern)
		}
	}
	fields := []string{"back", "to", "next", "return", "url", "step", "file", "job", "room", "id", "who", "reason",
		"note", "key", "tab", "engine", "exercise", "name", "text", "owner", "version"}
	check := func(what string, w *httptest.ResponseRecorder) {
		t.Helper()
		if wrong := clean(w.Header()); wrong != "" {
			t.Errorf("%s: %s", what, wrong)
		}
	}
	for pattern, one := range routes {
		redirects := 0
		for i, bad := range hostile {
			v := url.Values{}
			for _, name := range fields {
				v.Set(name, bad)
			}
			if one.fresh != nil {
				maps.Copy(v, one.fresh())
			}
			v.Set("key", fmt.Sprint(bad, pattern, i))
			query := "?step=" + url.QueryEscape(bad) + "&back=" + url.QueryEscape(bad)
			w := s.Do(webtest.Request("POST", one.path+query, webtest.HostAddr, v))
			check(pattern, w)
			if w.Code/100 == 3 {
				redirects++
			}
			if !strings.Contains(pattern, "{") {
				continue
			}
			path := strings.NewReplacer(job, url.PathEscape(bad), room, "/bench/"+url.PathEscape(bad)).Replace(one.path)
			check(pattern+", in the path", s.Do(webtest.Request("POST", path, webtest.HostAddr, v)))
		}
		if redirects == 0 && !one.stays {
			t.Errorf("%s never leads anywhere: nothing was tried", pattern)
		}
	}
	for i, bad := range hostile {
		var body bytes.Buffer
		m := multipart.NewWriter(&body)
		m.WriteField("key", fmt.Sprint("photo", i))
		part, _ := m.CreateFormFile("file", bad+"x.jpg")
		io.WriteString(part, fmt.Sprint("photo", i))
		m.Close()
		w := s.Do(webtest.Request("POST", base+"/steps/photo?step="+url.QueryEscape(bad), webtest.HostAddr, nil, func(r *http.Request) {
			r.Body, r.ContentLength = io.NopCloser(&body), int64(body.Len())
			r.Header.Set("Content-Type", m.FormDataContentType())
		}))
		check("photo", w)
		// refused where the name cannot stand in a header
		if to := w.Header().Get("Location"); !strings.HasPrefix(to, base+"/steps?step=") &&
			w.Code != http.StatusBadRequest {
			t.Errorf("%q: %d, to %q", bad, w.Code, to)
		}
		for _, from := range []string{webtest.HostAddr, webtest.PhoneAddr} {
			for _, path := range []string{"/", "/job/" + url.PathEscape(bad), "/pair?code=" + url.QueryEscape(bad),
				"//" + url.PathEscape(bad), "/job//../" + url.PathEscape(bad), "/bench/" + url.PathEscape(bad)} {
				check("GET "+path, s.Do(webtest.Request("GET", path, from, nil)))
			}
		}
		form := url.Values{"name": {bad + "x"}, "from": {"paste"}, "yaml": {webtest.Example(t, "sandpiper")}}
		made := s.Post("/new", form).Header().Get("Location")
		for _, paper := range []string{"/card.yaml", "/readings.csv", "/dwell.csv"} {
			check("GET "+paper, s.Get(made+paper))
		}
	}
}
