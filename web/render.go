package web

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"html/template"
	"net/http"
	"path"
	"strconv"
	"strings"
	"sync"

	"phasewright/book"
)

// page is what a template is given.
type page struct {
	View    string // name of the template file, without .html
	Title   string
	Where   string   // the right end of the strip
	Job     *jobHead // nil outside a job
	Next    *next    // nil where nothing is next
	Live    bool     // follow changes
	Version book.Version
	Status  int // HTTP status, 0 for 200
	Body    any

	// filled by render
	Visit   *visit
	Release string
	Path    string       // where a return address is needed
	Damage  *troubleBody // the book is damaged: said on every page
}

// jobHead names the job in the strip.
type jobHead struct {
	ID, Name, Engine string
	Away             bool // put away
	Configuration    int  // count of the engine's changes, which what is entered on the page carries
}

// next is the one line that says what to do now.
type next struct {
	Say  string
	Link string // the page where it is done; "" where it is this one
	Word string // of the link
}

// view is a parsed page template.
type view struct{ t *template.Template }

func newViews(a *assets) (map[string]*view, error) {
	funcs := template.FuncMap{
		"asset": a.url,
		"mark":  mark,
		"dict":  dict,
		"nums":  func(n ...int) []int { return n },
		"names": func(n ...string) []string { return n },
	}
	base, err := template.New("layout.html").Funcs(funcs).ParseFS(files, "templates/layout.html", "templates/parts.html")
	if err != nil {
		return nil, err
	}
	entries, err := files.ReadDir("templates")
	if err != nil {
		return nil, err
	}
	views := map[string]*view{}
	for _, e := range entries {
		if e.Name() == "layout.html" || e.Name() == "parts.html" {
			continue
		}
		t, err := template.Must(base.Clone()).ParseFS(files, path.Join("templates", e.Name()))
		if err != nil {
			return nil, err
		}
		views[strings.TrimSuffix(e.Name(), ".html")] = &view{t}
	}
	return views, nil
}

// mark draws a verdict's shape: open circle fine, hatched square caution, filled bar stop. The word stands beside it.
func mark(verdict string) template.HTML {
	var inside string
	switch verdict {
	case "fine", "pass":
		inside = `<circle cx="8" cy="8" r="6.5" fill="none" stroke="currentColor" stroke-width="2"/>`
	case "stop", "fail":
		inside = `<path d="M0 3H16V13H0Z" fill="currentColor"/>`
	case "caution", "adjust", "read more", "not a line", "look elsewhere":
		inside = `<path d="M1 1H15V15H1Z" fill="none" stroke="currentColor" stroke-width="2"/><path d="M1 9L7 15M1 4L12 15M4 1L15 12M9 1L15 7" fill="none" stroke="currentColor" stroke-width="1.6"/>`
	default: // not known yet
		inside = `<path d="M1 1H15V15H1Z" fill="none" stroke="currentColor" stroke-width="1.5" stroke-dasharray="2 2"/>`
	}
	return template.HTML(`<svg class="mark" viewBox="0 0 16 16" width="16" height="16" aria-hidden="true">` + inside + `</svg>`)
}

// dict makes a map for a part that needs more than one value: dict "name" .Name "unit" "mm".
func dict(pairs ...any) (map[string]any, error) {
	if len(pairs)%2 != 0 {
		return nil, fmt.Errorf("dict needs pairs")
	}
	m := make(map[string]any, len(pairs)/2)
	for i := 0; i < len(pairs); i += 2 {
		m[fmt.Sprint(pairs[i])] = pairs[i+1]
	}
	return m, nil
}

var (
	bufferPool = sync.Pool{New: func() any { return new(bytes.Buffer) }}
	zipPool    = sync.Pool{New: func() any { z, _ := gzip.NewWriterLevel(nil, gzip.BestSpeed); return z }}
)

// render answers with a page. Nothing is sent before the whole page stands, so that a failing template cannot give half of one.
func (s *Server) render(w http.ResponseWriter, r *http.Request, v *visit, p page) error {
	one, ok := s.views[p.View]
	if !ok {
		return fmt.Errorf("no page called %q", p.View)
	}
	p.Visit, p.Release, p.Path = v, s.Config.Version, r.URL.RequestURI()
	if p.Next != nil {
		p.Next.Say = whole(p.Next.Say)
		if p.Next.Link == r.URL.Path {
			p.Next.Link = "" // one is there already
		}
	}
	if err := s.Book.Damage(); err != nil && p.View != "trouble" {
		said := words(err)
		p.Damage = &troubleBody{What: said.what, Doing: said.doing}
	}
	buf := bufferPool.Get().(*bytes.Buffer)
	defer bufferPool.Put(buf)
	buf.Reset()
	if err := one.t.ExecuteTemplate(buf, "layout.html", &p); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	return send(w, r, p.Status, buf.Bytes())
}

// send writes a body, compressed where the client takes it.
func send(w http.ResponseWriter, r *http.Request, status int, body []byte) error {
	if status == 0 {
		status = http.StatusOK
	}
	h := w.Header()
	h.Set("Vary", "Accept-Encoding")
	if len(body) < 1024 || !accepts(r, "gzip") {
		h.Set("Content-Length", strconv.Itoa(len(body)))
		w.WriteHeader(status)
		w.Write(body) // a client that has gone is no news
		return nil
	}
	h.Set("Content-Encoding", "gzip")
	w.WriteHeader(status)
	z := zipPool.Get().(*gzip.Writer)
	defer zipPool.Put(z)
	z.Reset(w)
	z.Write(body)
	z.Close()
	return nil
}
