package page

import (
	"bytes"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"runtime"
	"strconv"
	"strings"
	"sync"

	"github.com/klauspost/compress/gzip"

	"phasewright/book"
)

// Page is what a template is given.
type Page struct {
	View    string // name of the template file, without .html
	Title   string
	Where   string // the right end of the strip
	Job     *Head  // nil outside a job
	Next    *Next  // nil where nothing is next
	Live    bool   // follow changes
	Version book.Version
	Status  int  // HTTP status, 0 for 200
	Leads   bool // the next line's link is the page's primary action
	Body    any
	// Chapters are the manual's, on its own pages; nil elsewhere.
	Chapters []IndexEntry

	// filled by Render
	By      *Session
	Release string
	Path    string       // where a return address is needed
	Damage  *troubleBody // the book is damaged: said on every page
}

// Head names the job in the strip.
type Head struct {
	ID, Name, Engine string
	Away             bool // put away
	Configuration    int  // count of the engine's changes, which what is entered on the page carries
}

// Next is the one line that says what to do now.
type Next struct {
	Stands string // how the job stands, in a sentence; "" where the page need not say
	Mark   string // the shape of that
	Say    string
	Why    string // all that there is to say, where Say is but its first clause
	Link   string // the page where it is done; "" where it is this one
	Word   string // of the link
	Here   bool   // it is done on this page
	Full   string // the page that shows it alone, to be read from two metres; "" where there is none
}

// IndexEntry is one view of a job.
type IndexEntry struct{ View, Path, Word string }

// index is the table of a job's views, in the order of the work.
var index = []IndexEntry{
	{"job", "", "Where it stands"},
	{"card", "/card", "Job card"},
	{"sheet", "/sheet", "Set-up sheet"},
	{"spark", "/spark", "Coil and spark"},
	{"steps", "/steps", "Order of work"},
	{"readings", "/readings", "Readings"},
	{"captures", "/captures", "Captures"},
	{"suspects", "/suspects", "Suspects"},
	{"proof", "/proof", "Proof"},
}

// Index gives the table to the templates.
func (p *Page) Index() []IndexEntry { return index }

// views are the parsed templates by name.
type views map[string]*template.Template

func newViews(files fs.FS, a *assets) (views, error) {
	funcs := template.FuncMap{
		"asset":  a.url,
		"style":  func(view string) string { return a.url(a.styles[view]) },
		"script": func(view string) string { return a.url(a.scripts[view]) },
		"mark":   mark,
		"dict":   dict,
		"nums":   func(n ...int) []int { return n },
		"names":  func(n ...string) []string { return n },
		// a text in which words of the trade are explained: never within a link, summary, button, label or heading
		"explain": explain,
		"letters": func() template.HTML { return lettersHere },
	}
	const layout, parts = "templates/layout.html", "templates/parts.html"
	base, err := template.New("layout.html").Funcs(funcs).ParseFS(files, layout, parts)
	if err != nil {
		return nil, err
	}
	names, err := fs.Glob(files, "templates/*.html")
	if err != nil {
		return nil, err
	}
	all := views{}
	for _, name := range names {
		if name == layout || name == parts {
			continue
		}
		view := strings.TrimSuffix(path.Base(name), ".html")
		if all[view], err = template.Must(base.Clone()).ParseFS(files, name); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// mark draws a verdict's shape: open circle fine, hatched square caution, filled bar stop. The word stands beside it.
func mark(verdict string) template.HTML {
	const square, hatching = "M1 1H15V15H1Z", "M1 9L7 15M1 4L12 15M4 1L15 12M9 1L15 7"
	outline := func(path, width string) string {
		return `<path d="` + path + `" fill="none" stroke="currentColor" stroke-width="` + width + `"`
	}
	var inside string
	switch verdict {
	case "fine", "pass", "shown":
		inside = `<circle cx="8" cy="8" r="6.5" fill="none" stroke="currentColor" stroke-width="2"/>`
	case "stop", "fails", "broken":
		inside = `<path d="M0 3H16V13H0Z" fill="currentColor"/>`
	case "caution", "adjust", "read more", "not a line", "look elsewhere", "not shown yet", "at odds":
		inside = outline(square, "2") + "/>" + outline(hatching, "1.6") + "/>"
	default: // not known yet
		inside = outline(square, "1.5") + ` stroke-dasharray="2 2"/>`
	}
	return template.HTML(`<svg class="mark" viewBox="0 0 16 16" width="16" height="16" aria-hidden="true">` +
		inside + `</svg>`)
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

// Render answers with a page.
func (q *Request) Render(p Page) error {
	p.By, p.Release, p.Path = q.By, q.site.Release, q.URL.RequestURI()
	if p.Status >= 400 && p.View != "trouble" {
		p.Title = "Error: " + p.Title // heard first where the page is heard
	}
	if p.Next != nil {
		p.Next.Say, p.Next.Why = Whole(p.Next.Say), Whole(p.Next.Why)
		if p.Next.Link == q.URL.Path {
			p.Next.Link, p.Next.Here = "", true // one is there already
		}
	}
	if err := q.site.Damage(); err != nil && p.View != "trouble" {
		said := words(err)
		p.Damage = &troubleBody{What: said.What, Doing: said.Do}
	}
	return q.execute(p.View, "layout.html", p.Status, &p)
}

// Part answers a script with one template of a page's file: the part of the page that changes.
func (q *Request) Part(view, part string, status int, body any) error {
	return q.execute(view, part, status, body)
}

var bufferPool = sync.Pool{New: func() any { return new(bytes.Buffer) }}

// zips holds a compressor for each thread, made when it is first used. A pool that the collector empties would make
// them anew all the time beside a recording being read, and they are the largest thing that a page needs.
var zips = make(chan *gzip.Writer, runtime.GOMAXPROCS(0))

func init() {
	for range cap(zips) {
		zips <- nil
	}
}

// execute sends nothing before the whole text stands, so that a failing template cannot give half of one.
func (q *Request) execute(view, name string, status int, data any) error {
	t, ok := q.site.views[view]
	if !ok {
		return fmt.Errorf("no page called %q", view)
	}
	buf := bufferPool.Get().(*bytes.Buffer)
	defer bufferPool.Put(buf)
	buf.Reset()
	if err := t.ExecuteTemplate(buf, name, data); err != nil {
		return err
	}
	out := bufferPool.Get().(*bytes.Buffer)
	defer bufferPool.Put(out)
	out.Reset()
	explained(out, buf)
	q.W.Header().Set("Content-Type", "text/html; charset=utf-8")
	q.send(status, out.Bytes())
	return nil
}

// send writes a body, compressed where the client takes it. A client that has gone is no news.
func (q *Request) send(status int, body []byte) {
	if status == 0 {
		status = http.StatusOK
	}
	h := q.W.Header()
	h.Set("Vary", "Accept-Encoding")
	if len(body) >= 1024 && accepts(q.Request, "gzip") {
		h.Set("Content-Encoding", "gzip")
		packed := bufferPool.Get().(*bytes.Buffer)
		defer bufferPool.Put(packed)
		packed.Reset()
		zip(packed, body)
		body = packed.Bytes()
	}
	h.Set("Content-Length", strconv.Itoa(len(body)))
	q.W.WriteHeader(status)
	q.W.Write(body)
}

// zip compresses. A slow client never holds a compressor.
func zip(to *bytes.Buffer, body []byte) {
	z := <-zips
	defer func() { zips <- z }()
	if z == nil {
		z, _ = gzip.NewWriterLevel(nil, gzip.BestSpeed)
	}
	z.Reset(to)
	z.Write(body) // into memory: it cannot fail
	z.Close()
}
