package main

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"phasewright/book"
	"phasewright/drawing"
	"phasewright/record"
)

type bookList struct {
	Away    bool   `help:"Jobs put away, instead of those in work."`
	All     bool   `help:"Both."`
	Waiting bool   `help:"Those that wait for something."`
	Bay     string `help:"Those that stand there." placeholder:"BAY"`
	Who     string `help:"Those in that person's hands; with --month, those that the person worked on." placeholder:"NAME"`
	Month   string `help:"Those worked on in that month, put away or not, as 2026-11." placeholder:"MONTH"`
	PDF     output `name:"pdf" help:"The list on paper, instead; - is standard output." placeholder:"FILE"`
	Letter  bool   `help:"US Letter paper instead of A4."`
	Most    int    `help:"How many; 0 is every one." default:"50" placeholder:"N"`
	Book    string `help:"The shop book; the usual one if left out." placeholder:"FILE"`
}

func (c *bookList) Run(a *app) error {
	q := book.Query{Bay: c.Bay, Person: c.Who, Waiting: c.Waiting}
	what := "Jobs in work"
	if c.Month != "" {
		var err error
		if q.From, q.To, err = record.Month(c.Month, time.Local); err != nil {
			return err
		}
		q.Shelf, what = book.Both, "Jobs worked on in "+c.Month
	}
	switch {
	case c.All:
		q.Shelf, what = book.Both, "All jobs"
	case c.Away:
		q.Shelf, what = book.Archived, "Jobs put away"
	}
	stamp, err := stampOf("", "", c.Letter)
	if err != nil {
		return err
	}
	return onBook(a, c.Book, book.ReadOnly, func(b *book.Book) error {
		jobs, more, err := c.jobs(a, b, q)
		if err != nil {
			return err
		}
		if c.PDF != "" {
			bay := ""
			if c.Bay != "" {
				bay = "bay " + c.Bay
			}
			stamp.Date = time.Now()
			return a.writePaper(c.PDF, record.ListPaper(record.Joined(", ", what, bay, c.Who), jobs, more, stamp))
		}
		if len(jobs) == 0 {
			bays, persons, err := b.Hands(a.ctx)
			switch {
			case err != nil:
				return err
			case c.Bay != "" && !slices.Contains(bays, c.Bay) && len(bays) > 0:
				fmt.Fprintln(a.err, "no job; jobs stand in bay "+strings.Join(bays, ", "))
			case c.Who != "" && !slices.Contains(persons, c.Who) && len(persons) > 0:
				fmt.Fprintln(a.err, "no job; jobs are in the hands of "+strings.Join(persons, ", "))
			default:
				fmt.Fprintln(a.err, "no job; --all lists those put away too")
			}
		}
		return writeJobs(a.out, jobs)
	})
}

// jobs are as many as were asked for; that there are more is said.
func (c *bookList) jobs(a *app, b *book.Book, q book.Query) (jobs []book.Job, more bool, err error) {
	most := c.Most
	if most <= 0 {
		most = math.MaxInt
	}
	jobs, more, err = b.FirstJobs(a.ctx, q, most)
	if more {
		fmt.Fprintf(a.err, "the %d worked on last; --most 0 lists every one\n", len(jobs))
	}
	return jobs, more, err
}

type bookDone struct {
	Month string `help:"In that month, as 2026-11; this week if left out." placeholder:"MONTH"`
	Bay   string `help:"On jobs that stand there." placeholder:"BAY"`
	Who   string `help:"By that person." placeholder:"NAME"`
	Book  string `help:"The shop book; the usual one if left out." placeholder:"FILE"`
}

func (c *bookDone) Run(a *app) error {
	from, to := record.Week(time.Now())
	if c.Month != "" {
		var err error
		if from, to, err = record.Month(c.Month, time.Local); err != nil {
			return err
		}
	}
	return onBook(a, c.Book, book.ReadOnly, func(b *book.Book) error {
		all, more, err := b.Done(a.ctx, book.Query{From: from, To: to, Bay: c.Bay, Person: c.Who})
		if err != nil {
			return err
		}
		if len(all) == 0 {
			fmt.Fprintln(a.err, "nothing was entered then; --month looks at another time")
		}
		if more {
			fmt.Fprintln(a.err, "there is more; --bay or --who chooses less")
		}
		t := tabwriter.NewWriter(a.out, 0, 0, 2, ' ', 0)
		for _, d := range all {
			fmt.Fprintf(t, "%s\t%s\t%s\t%s\n", cmp.Or(d.Person, "no name given"), d.Job, d.Name, record.Deeds(d))
		}
		return t.Flush()
	})
}

type bookFind struct {
	Words []string `arg:"" help:"Words, beginnings or parts of words: name, owner, engine, year, card, notes. All must be found."`
	Book  string   `help:"The shop book; the usual one if left out." placeholder:"FILE"`
}

// mostFound is how many jobs find shows.
const mostFound = 50

func (c *bookFind) Run(a *app) error {
	return onBook(a, c.Book, book.ReadOnly, func(b *book.Book) error {
		page, err := b.Jobs(a.ctx, book.Query{Text: strings.Join(c.Words, " "), Shelf: book.Both, Limit: mostFound})
		if err != nil {
			return err
		}
		switch {
		case len(page.Jobs) == 0:
			fmt.Fprintln(a.err, "nothing found; try fewer words, or a part of one")
			return errFails
		case page.Close:
			fmt.Fprintln(a.err, "nothing is written just so; these come close")
		}
		if page.Next != "" {
			fmt.Fprintf(a.err, "the %d worked on last; one more word finds fewer\n", mostFound)
		}
		return writeJobs(a.out, page.Jobs)
	})
}

// writeJobs prints jobs, one a line.
func writeJobs(w io.Writer, jobs []book.Job) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, j := range jobs {
		status := j.Status
		if j.Archived {
			status += ", put away"
		}
		bay, waiting := "", ""
		if j.Bay != "" {
			bay = "bay " + j.Bay
		}
		if j.Waiting != "" {
			waiting = "waiting for " + j.Waiting + " since " + j.WaitingAt.Format(time.DateOnly)
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%s\n", j.ID, j.WorkedAt.Format(time.DateOnly), j.Name,
			record.Joined(", ", j.Owner, j.Engine), record.Joined(", ", bay, j.Person),
			record.Joined(", ", status, waiting))
	}
	return t.Flush()
}

type bookShow struct {
	Job  string `arg:"" help:"The job's id or its name, put away or not."`
	JSON bool   `name:"json" help:"The job with all its entries as JSON, as in book table --json."`
	Book string `help:"The shop book; the usual one if left out." placeholder:"FILE"`
}

func (c *bookShow) Run(a *app) error {
	return onBook(a, c.Book, book.ReadOnly, func(b *book.Book) error {
		j, err := findJob(a.ctx, b, c.Job)
		if err != nil {
			return err
		}
		if c.JSON {
			return book.WriteJSON(a.out, []book.Job{j}, func(job string) ([]book.Event, error) {
				return b.Events(a.ctx, job, 0)
			})
		}
		events, err := b.Events(a.ctx, j.ID, 0)
		if err != nil {
			return err
		}
		files, err := b.Attachments(a.ctx, j.ID)
		if err != nil {
			return err
		}
		return showJob(a, new(record.Job).Fold(j, events), files)
	})
}

func showJob(a *app, j *record.Job, files []book.Attachment) error {
	t := tabwriter.NewWriter(a.out, 0, 0, 2, ' ', 0)
	status := j.Status
	if j.Archived {
		status += ", put away"
	}
	for _, l := range [][2]string{{"job", j.Name}, {"id", j.ID}, {"owner", j.Owner},
		{"contact", j.Contact}, {"engine", j.Engine}, {"shop", j.Shop}, {"bay", j.Bay}, {"in hand by", j.Person},
		{"status", status}, {"waiting for", j.Waiting}, {"made", j.CreatedAt.Format(time.DateOnly)},
		{"worked on", j.WorkedAt.Format(time.DateOnly)}, {"entries", fmt.Sprint(j.Version)}} {
		if l[1] != "" {
			fmt.Fprintf(t, "%s\t%s\n", l[0], l[1])
		}
	}
	if err := t.Flush(); err != nil {
		return err
	}
	if says, err := j.Judge(); err == nil {
		if err := says.WriteWhole(a.out); err != nil {
			return err
		}
	}
	if len(files) == 0 {
		return nil
	}
	fmt.Fprintln(a.out, "\nFILES")
	for _, f := range files {
		gone := ""
		if !f.Discarded.IsZero() {
			gone = "\tthrown away " + f.Discarded.Format(time.DateOnly)
		}
		fmt.Fprintf(t, "%s\t%s\t%s%s\n", f.SHA256.String()[:12], room(f.Size), f.Name, gone)
	}
	return t.Flush()
}

type bookTable struct {
	Jobs   output `help:"CSV of all jobs, one a row; - is standard output." placeholder:"FILE"`
	Events output `help:"CSV of all entries of all jobs, one a row." placeholder:"FILE"`
	JSON   output `name:"json" help:"All jobs with all their entries, as book schema --whole describes." placeholder:"FILE"`
	Book   string `help:"The shop book; the usual one if left out." placeholder:"FILE"`
}

func (c *bookTable) Run(a *app) error {
	if c.Jobs == "" && c.Events == "" && c.JSON == "" {
		return hinted{errors.New("no file to write was named"),
			"add --jobs jobs.csv, --events entries.csv or --json book.json"}
	}
	return onBook(a, c.Book, book.ReadOnly, func(b *book.Book) error {
		jobs, err := b.AllJobs(a.ctx, book.Query{Shelf: book.Both})
		if err != nil {
			return err
		}
		for _, one := range []struct {
			to    output
			write func(io.Writer) error
		}{
			{c.Jobs, func(w io.Writer) error { return book.WriteCSV(w, jobs) }},
			{c.Events, func(w io.Writer) error { return b.WriteEventsCSV(a.ctx, w) }},
			{c.JSON, func(w io.Writer) error {
				return book.WriteJSON(w, jobs, func(job string) ([]book.Event, error) {
					return b.Events(a.ctx, job, 0)
				})
			}},
		} {
			if one.to == "" {
				continue
			}
			if err := a.write(one.to, one.write); err != nil {
				return err
			}
		}
		return nil
	})
}

type bookHandover struct {
	Job    string `arg:"" help:"The job's id or its name, put away or not."`
	To     output `arg:"" help:"Zip file to write; - is standard output."`
	Book   string `help:"The shop book; the usual one if left out." placeholder:"FILE"`
	Letter bool   `help:"US Letter paper instead of A4."`
	Force  bool   `help:"Write over a file that is there."`
}

func (c *bookHandover) Run(a *app) error {
	size := drawing.A4
	if c.Letter {
		size = drawing.Letter
	}
	return onBook(a, c.Book, book.ReadOnly, func(b *book.Book) error {
		line, err := findJob(a.ctx, b, c.Job)
		if err != nil {
			return err
		}
		if !c.Force {
			if err := mustBeNew(c.To, "name another file, or write over it with --force"); err != nil {
				return err
			}
		}
		events, err := b.Events(a.ctx, line.ID, 0)
		if err != nil {
			return err
		}
		files, err := record.FilesOf(a.ctx, b, line.ID)
		if err != nil {
			return err
		}
		return a.write(c.To, func(w io.Writer) error {
			return new(record.Job).Fold(line, events).HandOver(w, files, size)
		})
	})
}

type bookMerge struct {
	From string `arg:"" help:"The other book, which is only read."`
	Book string `help:"The shop book that takes its jobs; the usual one if left out." placeholder:"FILE"`
	JSON bool   `name:"json" help:"What was done with each job, as JSON, one a line."`
}

// mergedJob is what book merge --json prints of each job.
type mergedJob struct {
	book.Merged
	Refused string `json:"refused,omitempty"` // why nothing was taken over
}

func (c *bookMerge) Run(a *app) error {
	if _, err := os.Stat(c.From); err != nil && !book.InPostgres(c.From) {
		return unopened(c.From, err)
	}
	from, err := book.Open(a.ctx, c.From, book.Options{Access: book.ReadOnly})
	if err != nil {
		return err
	}
	defer from.Close()
	path, err := bookNamed(c.Book)
	if err != nil {
		return err
	}
	b, err := book.Open(a.ctx, path, book.Options{Judge: record.CheckImport})
	if err != nil {
		return err
	}
	fresh, more, same, refused := 0, 0, 0, 0
	err = b.Merge(a.ctx, from, func(m book.Merged) error {
		switch {
		case m.Refused != nil:
			refused++
			if !c.JSON {
				fmt.Fprintf(a.out, "not taken: %s (%s): %v\n", m.Name, m.Job, m.Refused)
			}
		case m.Before == 0:
			fresh++
		case m.Before < m.Version:
			more++
		default:
			same++
		}
		if !c.JSON {
			return nil
		}
		why := ""
		if m.Refused != nil {
			why = m.Refused.Error()
		}
		return json.NewEncoder(a.out).Encode(mergedJob{m, why})
	})
	if err != nil {
		return errors.Join(err, b.Close())
	}
	fmt.Fprintf(a.err, "%s new, %d with more entries, %d as they were, %d not taken\n", count(fresh, "job"), more,
		same, refused)
	if err := b.Close(); err != nil || refused == 0 {
		return err
	}
	return errFails
}

type bookDisk struct {
	Book string `arg:"" optional:"" help:"The shop book; the usual one if left out."`
}

func (c *bookDisk) Run(a *app) error {
	return onBook(a, c.Book, book.ReadOnly, func(b *book.Book) error {
		u, err := b.DiskUse(a.ctx)
		if err != nil {
			return err
		}
		t := tabwriter.NewWriter(a.out, 0, 0, 2, ' ', 0)
		fmt.Fprintf(t, "%s\tentries\n%s\tfiles\n", room(u.Events), room(u.Files))
		for _, j := range u.Jobs {
			gone := ""
			if j.Discarded > 0 {
				gone = "\tthrown away: " + room(j.Discarded)
			}
			fmt.Fprintf(t, "%s\t%s\t%s%s\n", room(j.Kept), j.Job, j.Name, gone)
		}
		return t.Flush()
	})
}

type bookDiscard struct {
	Job    string `arg:"" help:"The job's id or its name, put away or not."`
	File   string `arg:"" help:"The file's name, or the first digits of its hash, as book show lists them."`
	Reason string `help:"Why; it goes on the record." required:""`
	Who    string `help:"Your name." required:""`
	Book   string `help:"The shop book; the usual one if left out." placeholder:"FILE"`
}

func (c *bookDiscard) Run(a *app) error {
	return onBook(a, c.Book, book.ReadWrite, func(b *book.Book) error {
		j, err := findJob(a.ctx, b, c.Job)
		if err != nil {
			return err
		}
		files, err := b.Attachments(a.ctx, j.ID)
		if err != nil {
			return err
		}
		found := map[book.Hash]book.Attachment{}
		for _, f := range files {
			digits := len(c.File) >= 6 && strings.HasPrefix(f.SHA256.String(), c.File)
			if f.Discarded.IsZero() && (f.Name == c.File || digits) {
				found[f.SHA256] = f
			}
		}
		if len(found) != 1 {
			return hinted{fmt.Errorf("%s keeps %s called %q", j.Name, count(len(found), "file"), c.File),
				"phasewright book show lists the files; give the first digits of the hash of one"}
		}
		for sha, f := range found {
			if _, err := b.Discard(a.ctx, j.ID, sha, c.Who, c.Reason, ""); err != nil {
				return err
			}
			fmt.Fprintf(a.err, "%s thrown away, %s; its hash and what was read of it stay\n", f.Name,
				room(f.Size))
		}
		return nil
	})
}

type bookDescribe struct {
	Job     string  `arg:"" help:"The job's id or its name, put away or not."`
	Name    *string `help:"What the job is called." placeholder:"TEXT"`
	Owner   *string `help:"Whose engine it is." placeholder:"TEXT"`
	Contact *string `help:"How the owner is reached." placeholder:"TEXT"`
	Engine  *string `help:"Which engine." placeholder:"TEXT"`
	Shop    *string `help:"Which shop." placeholder:"TEXT"`
	Bay     *string `help:"Where it stands." placeholder:"TEXT"`
	Person  *string `help:"In whose hands it is." placeholder:"NAME"`
	Waiting *string `help:"For what it waits, such as \"a part\"; empty where it does not any more." placeholder:"TEXT"`
	Who     string  `help:"Your name." required:""`
	Book    string  `help:"The shop book; the usual one if left out." placeholder:"FILE"`
}

func (c *bookDescribe) Run(a *app) error {
	changed := map[string]any{}
	for key, value := range map[string]*string{"name": c.Name, "owner": c.Owner, "contact": c.Contact,
		"engine": c.Engine, "shop": c.Shop, "bay": c.Bay, "person": c.Person, "waiting": c.Waiting} {
		if value != nil {
			changed[key] = *value
		}
	}
	if len(changed) == 0 {
		return hinted{errors.New("nothing to correct was given"),
			"add --name, --owner, --contact, --engine, --shop, --bay, --person or --waiting"}
	}
	return onBook(a, c.Book, book.ReadWrite, func(b *book.Book) error {
		j, err := findJob(a.ctx, b, c.Job)
		if err != nil {
			return err
		}
		_, err = b.Append(a.ctx, j.ID, book.AnyVersion,
			book.Draft{Who: c.Who, Kind: book.KindJobDescribed, Payload: payload(changed)})
		return err
	})
}

// room says how much bytes take on a disk.
func room(bytes int64) string {
	n, unit := float64(bytes), "B"
	for _, larger := range []string{"kB", "MB", "GB"} {
		if n < 1000 {
			break
		}
		n, unit = n/1000, larger
	}
	if unit == "B" {
		return fmt.Sprintf("%d B", bytes)
	}
	return fmt.Sprintf("%.1f %s", n, unit)
}
