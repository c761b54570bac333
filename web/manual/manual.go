// Package manual serves the manual: its chapters, written in docs/manual, with their drawings. They are turned into
// pages by this room's test (-update), so that the program carries no renderer and draws nothing when one is opened.
package manual

import (
	"embed"
	"html/template"
	"net/http"

	"phasewright/web/page"
)

//go:embed pages/*.html
var pages embed.FS

// Chapter is a page of the manual.
type Chapter struct {
	ID    string // file name in docs/manual, without .md
	Title string
}

// Chapters are all chapters in the order in which they are read, the contents first.
func Chapters() []Chapter { return append([]Chapter(nil), chapters...) }

var chapters = []Chapter{
	{"README", "Manual"},
	{"first-job", "First job in ten minutes"},
	{"words", "The trade’s words"},
	{"sheet", "The set-up sheet"},
	{"light", "Reading the light"},
	{"recorder", "Scope and sound card"},
	{"verdict", "What the verdict claims"},
	{"bench", "Teaching with the bench"},
	{"book", "The shop book"},
	{"stop", "When to stop"},
}

// Path is the chapter's address.
func (c Chapter) Path() string {
	switch c.ID {
	case "README":
		return "/manual"
	case "words": // where the words in the texts of all pages lead
		return "/words"
	}
	return "/manual/" + c.ID
}

// Routes gives the manual its addresses.
func Routes(site *page.Site) {
	site.Handle("GET /manual/{chapter}", page.Look, func(q *page.Request) error {
		for _, c := range chapters {
			if c.ID == q.PathValue("chapter") && c.Path() == "/manual/"+c.ID {
				return show(q, c)
			}
		}
		return page.Say(http.StatusNotFound, "The manual has no such chapter.",
			"Open the manual at its contents: /manual.")
	})
	for _, c := range chapters {
		if c.Path() != "/manual/"+c.ID {
			site.Handle("GET "+c.Path(), page.Look, func(q *page.Request) error { return show(q, c) })
		}
	}
}

func show(q *page.Request, c Chapter) error {
	text, err := pages.ReadFile("pages/" + c.ID + ".html")
	if err != nil {
		return err
	}
	var index []page.IndexEntry
	for _, other := range chapters {
		index = append(index, page.IndexEntry{View: other.ID, Path: other.Path(), Word: other.Title})
	}
	return q.Render(page.Page{View: "manual", Title: c.Title, Where: c.Title, Chapters: index,
		Body: template.HTML(text)}) // our own text, rendered and looked at before the program was built
}
