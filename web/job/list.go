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
	Away           bool // those put away alone
	Close          bool // nothing is written like the query: these come close
}

type listLine struct{ ID, Name, About, Status, Last string }

// listPage lists the jobs in work, those worked on last first, or all that match a search, put away or not.
func (r *Room) listPage(q *page.Request) error {
	ask := q.URL.Query()
	text := strings.TrimSpace(ask.Get("q"))
	if len(text) > 200 {
		text = strings.ToValidUTF8(text[:200], "")
	}
	b := listBody{Query: text, Heading: "Jobs, last worked on first"}
	query := book.Query{Text: text, Shelf: book.Active, After: ask.Get("after")}
	if ask.Get("shelf") == "away" {
		query.Shelf, b.Away, b.Heading = book.Archived, true, "Jobs put away, last worked on first"
	}
	if text != "" {
		b.Heading = "Found for “" + text + "”"
		if query.Shelf == book.Active {
			query.Shelf = book.Both
		}
	}
	found, err := r.Book.Jobs(q.Context(), query)
	if err != nil {
		return err
	}
	b.Close = found.Close
	for _, j := range found.Jobs {
		status, bay := j.Status, ""
		if j.Archived {
			status += ", put away"
		}
		if j.Bay != "" {
			bay = "bay " + j.Bay
		}
		about := page.Joined(", ", j.Engine, j.Owner, j.Shop, bay)
		b.Jobs = append(b.Jobs, listLine{j.ID, j.Name, about, status, r.When(j.WorkedAt)})
	}
	if found.Next != "" {
		ask.Set("after", found.Next)
		b.More = "/?" + ask.Encode()
	}
	return q.Render(page.Page{View: "book", Title: "Shop book", Where: "All jobs", Live: true, Body: b})
}
