package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"phasewright/book"
)

// findJob finds a job by its id, or by its name where only one is called so.
func findJob(ctx context.Context, b *book.Book, what string) (book.Job, error) {
	j, err := b.Job(ctx, what)
	if err == nil || !errors.Is(err, book.ErrNoJob) {
		return j, err
	}
	page, err := b.Jobs(ctx, book.Query{Text: what, Limit: 20})
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
	switch len(exact) {
	case 0:
		return book.Job{}, hinted{fmt.Errorf("no job is called %q", what),
			"give the job's name or its id as the shop book shows it"}
	case 1:
		return exact[0], nil
	}
	var names []string
	for _, j := range exact {
		names = append(names, fmt.Sprintf("%s (%s)", j.ID, j.Name))
	}
	return book.Job{}, hinted{fmt.Errorf("%d jobs answer to %q", len(exact), what), "give the id of one: " +
		strings.Join(names, ", ")}
}
