package main

import (
	"errors"
	"fmt"
	"text/tabwriter"

	"phasewright/book"
)

type bookForget struct {
	Job   string `arg:"" optional:"" help:"The job's id or its name, put away or not."`
	Owner string `help:"Instead of a job: every job that holds this name." placeholder:"NAME"`
	Who   string `help:"Your name." required:""`
	Yes   bool   `help:"Erase. Without it, what would be erased is listed."`
	Book  string `help:"The shop book; the usual one if left out." placeholder:"FILE"`
}

func (c *bookForget) Run(a *app) error {
	if (c.Job == "") == (c.Owner == "") {
		return hinted{errors.New("a job or an owner is to be given, one of them"),
			"phasewright book forget JOB, or phasewright book forget --owner NAME"}
	}
	access := book.ReadOnly
	if c.Yes {
		access = book.ReadWrite
	}
	return onBook(a, c.Book, access, func(b *book.Book) error {
		jobs, err := c.jobs(a, b)
		if err != nil {
			return err
		}
		var ids []string
		for _, j := range jobs {
			some, err := c.list(a, b, j)
			if err != nil {
				return err
			}
			if some {
				ids = append(ids, j.ID)
			}
		}
		switch {
		case len(ids) == 0:
			fmt.Fprintln(a.err, "nothing personal is left that could be erased")
			return errFails
		case !c.Yes:
			fmt.Fprintf(a.err, "nothing was erased yet; --yes erases all of this in %s for good\n",
				count(len(ids), "job"))
			return nil
		}
		if _, err := b.Forget(a.ctx, c.Who, "", ids...); err != nil {
			return err
		}
		fmt.Fprintf(a.err, "erased in %s. Delete the backups, exports and papers made before. Photos and "+
			"recordings were not looked through: phasewright book discard throws one away\n",
			count(len(ids), "job"))
		return nil
	})
}

func (c *bookForget) jobs(a *app, b *book.Book) ([]book.Job, error) {
	if c.Owner != "" {
		return b.JobsWith(a.ctx, c.Owner)
	}
	j, err := findJob(a.ctx, b, c.Job)
	return []book.Job{j}, err
}

// list prints what would be erased of a job, and where the name would stay. some: there is anything.
func (c *bookForget) list(a *app, b *book.Book, j book.Job) (some bool, err error) {
	events, err := b.Events(a.ctx, j.ID, 0)
	if err != nil {
		return false, err
	}
	values := book.PersonalIn(events)
	if len(values) == 0 {
		return false, nil
	}
	t := tabwriter.NewWriter(a.out, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "%s\t%s\n", j.ID, j.Name)
	for _, v := range values {
		fmt.Fprintf(t, "  erase\tentry %d, %s\t%q\n", v.Version, v.Kind, v.Value)
	}
	for _, r := range book.RemainsIn(events) {
		fmt.Fprintf(t, "  stays\tentry %d, %s\tthe name is not marked there\n", r.Version, r.Kind)
	}
	return true, t.Flush()
}
