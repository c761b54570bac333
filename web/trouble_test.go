package web_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phasewright/book"
	"phasewright/web"
	"phasewright/web/webtest"
)

// ailing is a real shop book whose writing fails in a chosen way.
type ailing struct {
	*book.Book
	err   error
	panic bool
}

func (a *ailing) Append(ctx context.Context, job string, v book.Version, d book.Draft) (book.Event, error) {
	if a.panic {
		panic("a nut in the works")
	}
	if a.err != nil {
		return book.Event{}, a.err
	}
	return a.Book.Append(ctx, job, v, d)
}

func TestTroubleInWordsKeepsWhatWasTyped(t *testing.T) {
	for _, c := range []struct {
		err  error
		code int
		say  string
	}{
		{book.ErrFull, 507, "disk of the host computer is full"},
		{book.ErrClosed, 503, "book is closed"},
		{book.ErrReadOnly, 503, "not written"},
		{book.ErrDamaged, 503, "damaged"},
		{book.ErrDisk, 503, "check the disk"},
		{book.ErrInUse, 503, "Another program"},
		{errors.New("something else"), 500, "went wrong inside"},
		{nil, 500, "went wrong inside"}, // a panic
	} {
		var sick *ailing
		s := webtest.NewShop(t, func(cfg *web.Config) { sick = &ailing{Book: cfg.Book.(*book.Book)}; cfg.Book = sick })
		job := s.NewJob()
		sick.err, sick.panic = c.err, c.err == nil
		if c.err != nil {
			sick.err = fmt.Errorf("append: %w", c.err)
		}
		w := s.Read(job, "3200", "8.5", "note", "one hand <b>on</b> the light", "key", "k7")
		webtest.WantCode(t, w, c.code)
		body := w.Body.String()
		webtest.WantIn(t, body, c.say)
		webtest.WantIn(t, body, `value="3200"`)
		webtest.WantIn(t, body, "one hand &lt;b&gt;on&lt;/b&gt; the light")
		webtest.WantIn(t, body, `action="/job/`+job+`/readings"`)
		webtest.WantIn(t, body, `name="key" value="k7"`)
		if strings.Contains(body, "goroutine") || strings.Contains(body, ".go:") || strings.Contains(body, "nut in the works") {
			t.Error("the page shows the program's insides")
		}
		sick.err, sick.panic = nil, false
		webtest.WantCode(t, s.Read(job, "3200", "8.5", "key", "k7"), 303) // sent again
		webtest.WantCode(t, s.Get("/job/"+job+"/readings"), 200)
	}
}

func TestClosedBook(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	s.Book.Close()
	for _, path := range []string{"/", "/job/" + job, "/live?job=" + job} {
		w := s.Get(path)
		webtest.WantCode(t, w, http.StatusServiceUnavailable)
		webtest.WantIn(t, w.Body.String(), "book is closed")
	}
	w := s.Read(job, "800", "9")
	webtest.WantCode(t, w, http.StatusServiceUnavailable)
}

// A book with pages that cannot be read takes nothing more, and every page says so in words.
func TestADamagedBookIsShownAndTakesNothing(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.book")
	b, err := book.Open(t.Context(), path, book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	bad, err := b.CreateJob(t.Context(), book.NewJob{Who: "Ada", Name: "Curlew"})
	if err != nil {
		t.Fatal(err)
	}
	text, _ := json.Marshal(map[string]string{"text": "smoke at idle" + strings.Repeat(" lorem", 100)})
	for range 40 {
		if _, err := b.Append(t.Context(), bad.Job, book.AnyVersion, book.Draft{Who: "Ada", Kind: book.KindNoteAdded, Payload: text}); err != nil {
			t.Fatal(err)
		}
	}
	good, err := b.CreateJob(t.Context(), book.NewJob{Who: "Ada", Name: "Sandpiper"})
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	file, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	const size, leaf = 4096, 0x0d // of a page, and its first byte in a table (SQLite's file format)
	for p := size; p < len(file); p += size {
		if file[p] == leaf && bytes.Contains(file[p:p+size], []byte(`{"text":"smoke at idle`)) && !bytes.Contains(file[p:p+size], []byte("Sandpiper")) {
			clear(file[p : p+size])
		}
	}
	if err := os.WriteFile(path, file, 0o644); err != nil {
		t.Fatal(err)
	}
	if b, err = book.Open(t.Context(), path, book.Options{}); err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	s := webtest.NewShop(t, func(c *web.Config) { c.Book = b })
	for target, code := range map[string]int{"/": 200, "/job/" + good.Job: 200, "/job/" + bad.Job: 503} {
		w := s.Get(target)
		webtest.WantCode(t, w, code)
		webtest.WantIn(t, w.Body.String(), "nothing more is recorded")
		webtest.WantIn(t, w.Body.String(), "book restore")
	}
	for _, job := range []string{good.Job, bad.Job} {
		w := s.Post("/job/"+job+"/note", url.Values{"text": {"oil changed"}})
		webtest.WantCode(t, w, 503)
		webtest.WantIn(t, w.Body.String(), "nothing more is recorded")
		webtest.WantIn(t, w.Body.String(), "oil changed") // kept to be sent again
	}
	if events, err := b.Events(t.Context(), good.Job, 0); err != nil || len(events) != 1 {
		t.Errorf("the sound job has %d events, %v", len(events), err)
	}
}

func TestUnknownPagesAndJobs(t *testing.T) {
	s := webtest.NewShop(t)
	for _, path := range []string{"/nothing", "/job/none", "/job/none/card", "/job/../etc", "/job/%00/card", "/job/'%20or%201=1"} {
		w := s.Get(path)
		if w.Code != http.StatusNotFound && w.Code/100 != 3 {
			t.Errorf("%s: status %d", path, w.Code)
		}
	}
}

// Every address of a job answers in words where the book has no such job.
func TestEveryAddressOfAJobThatIsNotThere(t *testing.T) {
	s := webtest.NewShop(t)
	asked := 0
	for _, pattern := range s.Shelf.Patterns {
		method, path, _ := strings.Cut(pattern, " ")
		if !strings.HasPrefix(path, "/job/") {
			continue
		}
		path = strings.NewReplacer("{job}", "none", "{sha}", strings.Repeat("0", 64)).Replace(path)
		w := s.Get(path)
		if method == "POST" {
			w = s.Post(path, url.Values{"text": {"a"}})
		}
		if w.Code != http.StatusNotFound || !strings.Contains(w.Body.String(), "There is no such job") {
			t.Errorf("%s: %d %s", pattern, w.Code, w.Body)
		}
		asked++
	}
	if asked < 30 {
		t.Errorf("only %d addresses were found", asked)
	}
}

func TestHugeFormIsRefused(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	w := s.Post("/job/"+job+"/note", url.Values{"text": {strings.Repeat("x", 512<<10+1)}})
	webtest.WantCode(t, w, http.StatusRequestEntityTooLarge)
	if n := len(s.Kinds(job)); n != 2 {
		t.Errorf("%d events", n)
	}
}

func TestHostileWordsStayWords(t *testing.T) {
	s := webtest.NewShop(t)
	bad := `"><script>alert(1)</script>{{.}}`
	w := s.Post("/new", url.Values{"name": {bad}, "owner": {bad}, "engine": {bad}, "from": {"blank"}})
	webtest.WantCode(t, w, 303)
	job := strings.TrimSuffix(w.Header().Get("Location"), "/card")
	s.Post(job+"/note", url.Values{"text": {bad}})
	for _, path := range []string{"/", job, job + "/card", job + "/sheet", job + "/readings", "/?q=" + url.QueryEscape(bad), "/pair?code=" + url.QueryEscape(bad)} {
		if body := s.Get(path).Body.String(); strings.Contains(body, "<script>alert") {
			t.Errorf("%s lets markup through", path)
		}
	}
}

// firstView is what a phone loads before the first page stands.
func TestFirstViewIsLight(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	for _, n := range []string{"800", "1500", "2200", "3000"} {
		s.Read(job, n, "9")
	}
	fetch := func(path string) *httptest.ResponseRecorder {
		return s.Do(webtest.Request("GET", path, webtest.HostAddr, nil, func(r *http.Request) { r.Header.Set("Accept-Encoding", "gzip") }))
	}
	shared := 0
	for _, name := range []string{"look.css", "app.js", "b612-regular.woff2", "b612-bold.woff2", "b612-regular-more.woff2", "b612-bold-more.woff2", "icon.svg"} {
		w := fetch(s.Access.Asset(name))
		webtest.WantCode(t, w, 200)
		shared += w.Body.Len()
	}
	for _, path := range []string{"/", "/job/" + job, "/job/" + job + "/sheet", "/job/" + job + "/readings", "/job/" + job + "/card", "/job/" + job + "/proof"} {
		w := fetch(path)
		webtest.WantCode(t, w, 200)
		total := shared + w.Body.Len()
		t.Logf("%-40s %6d bytes, with style, script and faces %6d", path, w.Body.Len(), total)
		if total > firstViewBytes {
			t.Errorf("%s: first view of %d bytes, at most %d", path, total, firstViewBytes)
		}
	}
}
