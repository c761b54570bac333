package web

import (
	"net/http"
	"strings"
	"time"

	"phasewright/book"
)

type bookBody struct {
	Query, Heading string
	Jobs           []bookLine
	More           string
	Away           bool // those put away
}

type bookLine struct{ ID, Name, About, Status, Last string }

// bookPage lists the jobs, those touched last first, or those that match a search.
func (s *Server) bookPage(w http.ResponseWriter, r *http.Request, v *visit) error {
	q := strings.TrimSpace(r.URL.Query().Get("q"))
	if len(q) > 200 {
		q = strings.ToValidUTF8(q[:200], "")
	}
	found, err := s.Book.Jobs(r.Context(), book.Query{Text: q, Shelf: shelfOf(r), After: r.URL.Query().Get("after")})
	if err != nil {
		return err
	}
	b := bookBody{Query: q, Heading: "Jobs, last touched first", Away: shelfOf(r) == book.Archived}
	if b.Away {
		b.Heading = "Jobs put away, last touched first"
	}
	if q != "" {
		b.Heading = "Found for “" + q + "”"
	}
	for _, j := range found.Jobs {
		b.Jobs = append(b.Jobs, bookLine{j.ID, j.Name, joined(j.Engine, j.Owner, j.Shop), j.Status, s.when(j.LastAt)})
	}
	if found.Next != "" {
		b.More = "/?" + more(r, found.Next)
	}
	return s.render(w, r, v, page{View: "book", Title: "Shop book", Where: "All jobs", Live: true, Body: b})
}

// more is the address of the next page of the same list.
func more(r *http.Request, after string) string {
	q := r.URL.Query()
	q.Set("after", after)
	return q.Encode()
}

// joined puts what is known into one line.
func joined(parts ...string) string {
	var have []string
	for _, p := range parts {
		if p != "" {
			have = append(have, p)
		}
	}
	return strings.Join(have, ", ")
}

// when prints a time the way people in a shop say it.
func (s *Server) when(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	now := s.Clock()
	t = t.In(now.Location())
	switch ago := now.Sub(t); {
	case ago >= 0 && ago < time.Minute:
		return "just now"
	case t.Format(time.DateOnly) == now.Format(time.DateOnly):
		return "today " + t.Format("15:04")
	case t.Year() == now.Year():
		return t.Format("2 Jan 15:04")
	}
	return t.Format("2 Jan 2006")
}
