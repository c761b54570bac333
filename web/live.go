package web

import (
	"strconv"

	"phasewright/book"
	"phasewright/web/page"
)

// livePage streams the versions a job reaches, or those of all jobs where none is named. A page that sees a newer
// version than its own fetches itself again and swaps what differs.
func (s *Server) livePage(q *page.Request) error {
	job := q.URL.Query().Get("job")
	since, _ := strconv.ParseInt(q.URL.Query().Get("since"), 10, 64) // nought tells the page everything
	var sub *book.Subscription
	defer func() {
		if sub != nil {
			sub.Close()
		}
	}()
	return page.Stream(q, func() (hello string, from page.Source[book.Change], err error) {
		if sub, err = s.Shelf.Book.Subscribe(job); err != nil {
			return "", from, err
		}
		from = page.Source[book.Change]{Values: sub.C, Event: change}
		if job == "" {
			from.Event = listed
		}
		hello = page.Event("alive", 1)
		if job != "" { // subscribed first, then asked: nothing falls between
			line, err := s.Shelf.Book.Job(q.Context(), job)
			if err != nil {
				return "", from, err
			}
			if int64(line.Version) > since {
				hello = change(book.Change{Job: job, Version: line.Version})
			}
		}
		return hello, from, nil
	})
}

// listed is the event that tells a list of jobs of a change: practice is not on it.
func listed(c book.Change) string {
	if c.Room && !c.Missed {
		return page.Event("alive", 1)
	}
	return change(c)
}

// change is the event that tells of a change.
func change(c book.Change) string {
	return page.Event("change", struct {
		Job     string       `json:"job"`
		Version book.Version `json:"version"`
	}{c.Job, c.Version})
}
