package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"phasewright/book"
)

// findJob finds a job by its id, or by its name where only one is called so, put away or not.
func findJob(ctx context.Context, b *book.Book, what string) (book.Job, error) {
	j, err := b.Job(ctx, what)
	if err == nil || !errors.Is(err, book.ErrNoJob) {
		return j, err
	}
	page, err := b.Jobs(ctx, book.Query{Text: what, Shelf: book.Both, Limit: 20})
	if err != nil {
		return book.Job{}, err
	}
	var exact []book.Job
	for _, j := range page.Jobs {
		if strings.EqualFold(j.Name, what) {
			exact = append(exact, j)
		}
	}
	if len(exact) == 0 {
		exact = page.Jobs
	}
	if page.Close && len(exact) > 0 { // nothing is done with a job that was not meant
		return book.Job{}, hinted{fmt.Errorf("no job is called %q", what), "these come close: " + named(exact)}
	}
	switch len(exact) {
	case 0:
		return book.Job{}, hinted{fmt.Errorf("no job is called %q", what),
			"phasewright book list --all lists every job, phasewright book find WORDS finds some"}
	case 1:
		return exact[0], nil
	}
	return book.Job{}, hinted{fmt.Errorf("%d jobs answer to %q", len(exact), what), "give the id of one: " +
		named(exact)}
}

func named(jobs []book.Job) string {
	var names []string
	for _, j := range jobs {
		away := ""
		if j.Archived {
			away = ", put away"
		}
		names = append(names, fmt.Sprintf("%s (%s%s)", j.ID, j.Name, away))
	}
	return strings.Join(names, ", ")
}
