package job

import (
	"strings"

	"phasewright/book"
	"phasewright/web/page"
)

type listBody struct {
	Query, Heading string
	Jobs           []listLine
	More           string
	Away           bool // those put away
}

type listLine struct{ ID, Name, About, Status, Last string }

// listPage lists the jobs, those touched last first, or those that match a search.
func (r *Room) listPage(q *page.Request) error {
	ask := q.URL.Query()
	text := strings.TrimSpace(ask.Get("q"))
	if len(text) > 200 {
		text = strings.ToValidUTF8(text[:200], "")
	}
	b := listBody{Query: text, Heading: "Jobs, last touched first"}
	query := book.Query{Text: text, Shelf: book.Active, After: ask.Get("after")}
	if ask.Get("shelf") == "away" {
		query.Shelf, b.Away, b.Heading = book.Archived, true, "Jobs put away, last touched first"
	}
	if text != "" {
		b.Heading = "Found for “" + text + "”"
	}
	found, err := r.Book.Jobs(q.Context(), query)
	if err != nil {
		return err
	}
	for _, j := range found.Jobs {
		about := page.Joined(", ", j.Engine, j.Owner, j.Shop)
		b.Jobs = append(b.Jobs, listLine{j.ID, j.Name, about, j.Status, r.When(j.LastAt)})
	}
	if found.Next != "" {
		ask.Set("after", found.Next)
		b.More = "/?" + ask.Encode()
	}
	return q.Render(page.Page{View: "book", Title: "Shop book", Where: "All jobs", Live: true, Body: b})
}
