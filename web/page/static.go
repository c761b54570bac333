package page

import (
	"bytes"
	"cmp"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strings"
	"sync"

	"phasewright/drawing"
)

// asset is one embedded file, kept ready both ways.
type asset struct {
	media string
	plain []byte
	zip   func() []byte // gzip, made when first asked for; nil where it would not get smaller
}

// assets are the embedded files under one address that changes whenever any of them does, so that browsers may keep
// them for good and modules may import each other by relative names.
type assets struct {
	prefix string // "/static/3f9c…/"
	files  map[string]asset
	worker []byte // the service worker's script

	// the one style and the one script of each view, as they are called
	styles, scripts map[string]string
}

func newAssets(files fs.FS) (*assets, error) {
	a := &assets{files: map[string]asset{}, styles: map[string]string{}, scripts: map[string]string{}}
	sum := sha256.New()
	entries, err := fs.ReadDir(files, "static")
	if err != nil {
		return nil, err
	}
	all := parcels{}
	for _, e := range entries {
		data, err := fs.ReadFile(files, path.Join("static", e.Name()))
		if err != nil {
			return nil, err
		}
		sum.Write([]byte(e.Name()))
		sum.Write(data)
		all[e.Name()] = string(data)
	}
	sum.Write([]byte(drawing.CSS))
	a.prefix = "/static/" + hex.EncodeToString(sum.Sum(nil))[:12] + "/"
	for name, data := range all {
		if ext := path.Ext(name); ext != ".css" && ext != ".js" {
			a.add(name, []byte(data))
		}
	}
	views, err := fs.Glob(files, "templates/*.html")
	if err != nil {
		return nil, err
	}
	for _, view := range views {
		name := strings.TrimSuffix(path.Base(view), ".html")
		a.styles[name], a.scripts[name] = all.styleOf(name), all.scriptOf(name)
		// most views share theirs: it is put together once
		if _, have := a.files[a.styles[name]]; !have {
			a.add(a.styles[name], []byte(all.style(name)))
		}
		if _, have := a.files[a.scripts[name]]; have {
			continue
		}
		script, err := all.script(name)
		if err != nil {
			return nil, err
		}
		a.add(a.scripts[name], []byte(script))
	}
	a.worker = a.workerScript(all["sw.js"])
	return a, nil
}

func (a *assets) add(name string, data []byte) {
	one := asset{media: mediaOf(name), plain: data}
	if path.Ext(name) != ".woff2" { // packed already
		one.zip = sync.OnceValue(func() []byte { return gzipped(data) })
	}
	a.files[name] = one
}

// media are the types of the embedded files; the computer's own table may lack them.
var media = map[string]string{".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8",
	".svg": "image/svg+xml", ".woff2": "font/woff2", ".txt": "text/plain; charset=utf-8",
	".webmanifest": "application/manifest+json"}

func mediaOf(name string) string {
	return cmp.Or(media[path.Ext(name)], mime.TypeByExtension(path.Ext(name)))
}

func gzipped(data []byte) []byte {
	var out bytes.Buffer
	z, _ := gzip.NewWriterLevel(&out, gzip.BestCompression) // the level is a constant that exists
	z.Write(data)                                           // a bytes.Buffer takes everything
	z.Close()
	return out.Bytes()
}

// url gives the address of an embedded file; a name that is not there is a broken template.
func (a *assets) url(name string) string {
	if _, ok := a.files[name]; !ok {
		panic("no static file " + name)
	}
	return a.prefix + name
}

// ServeHTTP looks the name up in a table; no part of the request ever becomes a path on disk.
func (a *assets) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	one, ok := a.files[r.PathValue("name")]
	if !ok {
		http.NotFound(w, r)
		return
	}
	h := w.Header()
	h.Set("Content-Type", one.media)
	if strings.HasPrefix(r.URL.Path, a.prefix) {
		h.Set("Cache-Control", "public, max-age=31536000, immutable")
	} else {
		h.Set("Cache-Control", "no-store") // a page of an older release asks: give it today's file, keep nothing
	}
	body := one.plain
	if one.zip != nil {
		h.Set("Vary", "Accept-Encoding")
		if accepts(r, "gzip") {
			h.Set("Content-Encoding", "gzip")
			body = one.zip()
		}
	}
	w.Write(body)
}

// workerScript is the service worker's script with what it must know of this release in front, so that the next release
// is another script to the browser.
func (a *assets) workerScript(script string) []byte {
	shell := []string{a.prefix + "look.css", a.prefix + "app.js", a.prefix + "b612-regular.woff2",
		a.prefix + "b612-bold.woff2", a.prefix + "icon.svg"}
	release := map[string]any{"prefix": a.prefix, "shell": shell}
	return []byte("self.release = " + AsJSON(release) + ";\n" + bare(script))
}

// serveWorker answers with the service worker's script, at the root, because a worker sees nothing above itself.
func (a *assets) serveWorker(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", mediaOf("sw.js"))
	w.Write(a.worker) // a client that has gone is no news
}

// accepts says whether the client takes the coding; "gzip;q=0" does not.
func accepts(r *http.Request, coding string) bool {
	for _, part := range strings.Split(r.Header.Get("Accept-Encoding"), ",") {
		name, params, _ := strings.Cut(strings.TrimSpace(part), ";")
		if strings.EqualFold(strings.TrimSpace(name), coding) {
			q := strings.ReplaceAll(strings.TrimSpace(params), " ", "")
			return q != "q=0" && !strings.HasPrefix(q, "q=0.0")
		}
	}
	return false
}
