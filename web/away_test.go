package web_test

import (
	"context"
	"fmt"
	"net/http"
	"sync/atomic"
	"testing"

	"phasewright/book"
	"phasewright/web"
	"phasewright/web/webtest"
)

// awayBook is a book whose database goes away and comes back.
type awayBook struct {
	*book.Book
	away atomic.Bool
}

func (b *awayBook) Job(ctx context.Context, id string) (book.Job, error) {
	if b.away.Load() {
		return book.Job{}, fmt.Errorf("postgres:///shop – %w – see that it runs", book.ErrAway)
	}
	return b.Book.Job(ctx, id)
}

func (b *awayBook) Jobs(ctx context.Context, q book.Query) (book.Page, error) {
	if b.away.Load() {
		return book.Page{}, fmt.Errorf("postgres:///shop – %w – see that it runs", book.ErrAway)
	}
	return b.Book.Jobs(ctx, q)
}

// While the database is away pages say so and what to do, look again by themselves, and come back with it.
func TestPagesSayThatTheDatabaseIsAwayAndComeBack(t *testing.T) {
	b := &awayBook{}
	s := webtest.NewShop(t, func(c *web.Config) { b.Book = c.Book.(*book.Book); c.Book = b })
	job := s.NewJob()
	b.away.Store(true)
	for _, path := range []string{"/", "/job/" + job} {
		w := s.Get(path)
		webtest.WantCode(t, w, http.StatusServiceUnavailable)
		webtest.WantIn(t, w.Body.String(), "cannot be reached")
		webtest.WantIn(t, w.Body.String(), "See that PostgreSQL runs")
		if w.Header().Get("Refresh") == "" {
			t.Errorf("%s does not look again by itself", path)
		}
	}
	w := s.Read(job, "800", "9")
	webtest.WantCode(t, w, http.StatusServiceUnavailable)
	webtest.WantIn(t, w.Body.String(), `value="800"`) // what was typed is there to be sent again
	if w.Header().Get("Refresh") != "" {
		t.Error("a page with what was typed is loaded again by itself")
	}
	b.away.Store(false)
	for _, path := range []string{"/", "/job/" + job} {
		webtest.WantCode(t, s.Get(path), http.StatusOK)
	}
}
