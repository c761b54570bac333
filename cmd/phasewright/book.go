package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"phasewright/book"
	"phasewright/record"
)

type bookCommand struct {
	List     bookList     `cmd:"" help:"List the jobs, worked on last first: by bay, person, month; what waits; on paper."`
	Done     bookDone     `cmd:"" help:"Tell what was done this week or in a month, by whom."`
	Find     bookFind     `cmd:"" help:"Find jobs, put away or not, by words of name, owner, engine, year, card and notes."`
	Show     bookShow     `cmd:"" help:"Show one job: whose, how it stands, its files."`
	Describe bookDescribe `cmd:"" help:"Correct a job's name, owner, contact, engine, shop or bay, in whose hands it is, for what it waits."`
	Handover bookHandover `cmd:"" help:"Write everything of a job for its owner as one zip file: papers, data, recordings."`
	Table    bookTable    `cmd:"" help:"Write the whole book as CSV for a spreadsheet, or as JSON."`
	Merge    bookMerge    `cmd:"" help:"Take the jobs of another book over, each by itself."`
	Disk     bookDisk     `cmd:"" help:"Say how much room the book takes, and which job's files."`
	Discard  bookDiscard  `cmd:"" help:"Throw a file of a job away; its hash and what was read of it stay."`
	Forget   bookForget   `cmd:"" help:"Erase a person from a job or the whole book: owner, contact, names marked in notes."`
	Check    bookCheck    `cmd:"" help:"Check a book: the chain of events, the tables made from them, the files."`
	Rebuild  bookRebuild  `cmd:"" help:"Make all derived tables anew from the events and say where they differed."`
	Backup   bookBackup   `cmd:"" help:"Copy a book to a file, also while it is in use."`
	Copy     bookCopy     `cmd:"" help:"Copy a whole book into another: a file to PostgreSQL, or back."`
	Migrate  bookMigrate  `cmd:"" help:"Make the tables of a book in PostgreSQL, or bring them up to date, as their owner."`
	Restore  bookRestore  `cmd:"" help:"Bring a backup back as a new book."`
	Export   bookExport   `cmd:"" help:"Write one job with its files to a single file."`
	Import   bookImport   `cmd:"" help:"Take a job from such a file into a book."`
	Schema   bookSchema   `cmd:"" help:"Print the JSON Schema of an exported job."`
}

// onBook opens a book that exists, does the work and closes it.
func onBook(a *app, path string, access book.Access, work func(*book.Book) error) error {
	path, err := bookNamed(path)
	if err != nil {
		return err
	}
	if book.InPostgres(path) {
	} else if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return hinted{fmt.Errorf("%s: there is no such book", path), "name one with --book FILE; " +
			"phasewright serve and phasewright book import make a new one"}
	} else if err != nil {
		return unopened(path, err)
	}
	b, err := book.Open(a.ctx, path, book.Options{Access: access, Judge: record.CheckImport})
	if err != nil {
		return err
	}
	a.readsBook(b.Path())
	return errors.Join(work(b), b.Close())
}

// bookNamed is the path of a book, the usual one where none is named.
func bookNamed(path string) (string, error) {
	if path != "" {
		return path, nil
	}
	return usualBook()
}

type bookCheck struct {
	Book string `arg:"" optional:"" help:"The shop book; the usual one if left out."`
}

func (c *bookCheck) Run(a *app) error {
	return onBook(a, c.Book, book.ReadOnly, func(b *book.Book) error {
		r, err := b.Check(a.ctx)
		if err != nil {
			return err
		}
		fmt.Fprintf(a.out, "%s, %s, %s\n", count(r.Jobs, "job"), count(r.Events, "event"), count(r.Files, "file"))
		if r.Discarded > 0 {
			fmt.Fprintf(a.out, "%s thrown away on purpose: hash and result are there\n", count(r.Discarded, "file"))
		}
		for _, n := range r.Notices {
			fmt.Fprintln(a.out, "note: "+n)
		}
		for _, p := range r.Problems {
			fmt.Fprintln(a.out, "problem: "+p)
		}
		if len(r.Problems) > 0 {
			return errFails
		}
		fmt.Fprintln(a.out, "the chain holds and all tables follow from it")
		return nil
	})
}

type bookRebuild struct {
	Book string `arg:"" optional:"" help:"The shop book; the usual one if left out."`
}

func (c *bookRebuild) Run(a *app) error {
	return onBook(a, c.Book, book.ReadWrite, func(b *book.Book) error {
		r, err := b.Rebuild(a.ctx)
		if err != nil {
			return err
		}
		fmt.Fprintf(a.out, "rebuilt from %s of %s\n", count(r.Events, "event"), count(r.Jobs, "job"))
		for _, d := range r.Differences {
			fmt.Fprintln(a.out, "differed: "+d)
		}
		if len(r.Differences) == 0 {
			fmt.Fprintln(a.out, "nothing differed")
		}
		return nil
	})
}

type bookBackup struct {
	To   string `arg:"" help:"File to write; must not exist."`
	Book string `help:"The shop book; the usual one if left out." placeholder:"FILE"`
}

func (c *bookBackup) Run(a *app) error {
	return onBook(a, c.Book, book.ReadOnly, func(b *book.Book) error {
		return a.made(b.Backup(a.ctx, c.To), c.To+" written")
	})
}

// made tells that a copy was made. One that lacks files which are missing or damaged in the original is there all the
// same; the status says that it is not all.
func (a *app) made(err error, what string) error {
	if err != nil && !errors.Is(err, book.ErrIncomplete) {
		return err
	}
	fmt.Fprintln(a.err, what)
	if err != nil {
		fmt.Fprintf(a.err, "note: %v\n", err)
		return errFails
	}
	return nil
}

type bookCopy struct {
	From string `arg:"" help:"The book, a file or postgres://..."`
	To   string `arg:"" help:"The book that is made of it, which is empty or was begun by an earlier copy."`
}

func (c *bookCopy) Run(a *app) error {
	return onBook(a, c.From, book.ReadOnly, func(from *book.Book) error {
		to, err := book.Open(a.ctx, c.To, book.Options{Quota: 1 << 62, MaxFile: 1 << 62})
		if err != nil {
			return err
		}
		var done book.Copied
		err = from.Copy(a.ctx, to, func(c book.Copied) { done = c })
		err = a.made(err, fmt.Sprintf("%s holds all of %s; every chain was compared", to.Path(), from.Path()))
		if err == nil {
			return to.Close()
		}
		if done.Done > 0 {
			fmt.Fprintf(a.err, "%s are there; the same command goes on behind them\n", count(int(done.Done), "event"))
		}
		return errors.Join(err, to.Close())
	})
}

type bookMigrate struct {
	Book string   `arg:"" help:"The address, postgres://..., for the role that owns the tables."`
	For  []string `help:"A role that servers use. It may add what is recorded, and change none of it." placeholder:"ROLE"`
}

func (c *bookMigrate) Run(a *app) error {
	if !book.InPostgres(c.Book) {
		return hinted{fmt.Errorf("%s: this is no address of a database", c.Book),
			"give one that begins with postgres://; a book in a file comes up to date by itself"}
	}
	if err := book.Migrate(a.ctx, c.Book, c.For...); err != nil {
		return err
	}
	fmt.Fprintln(a.err, "the tables are up to date")
	return nil
}

type bookRestore struct {
	From string `arg:"" help:"The backup."`
	To   string `arg:"" help:"The book to make; must not exist."`
}

func (c *bookRestore) Run(a *app) error {
	return a.made(book.Restore(a.ctx, c.From, c.To), fmt.Sprintf("%s made from %s", c.To, c.From))
}

type bookExport struct {
	Job   string `arg:"" help:"The job's id or its name."`
	To    output `arg:"" help:"File to write; - is standard output."`
	Book  string `help:"The shop book; the usual one if left out." placeholder:"FILE"`
	Force bool   `help:"Write over a file that is there."`
}

func (c *bookExport) Run(a *app) error {
	return onBook(a, c.Book, book.ReadOnly, func(b *book.Book) error {
		j, err := findJob(a.ctx, b, c.Job)
		if err != nil {
			return err
		}
		if !c.Force {
			if err := mustBeNew(c.To, "name another file, or write over it with --force"); err != nil {
				return err
			}
		}
		return a.write(c.To, func(w io.Writer) error { return b.Export(a.ctx, j.ID, w) })
	})
}

type bookImport struct {
	From string `arg:"" help:"The exported job, or a proof printed as PDF that carries it."`
	Book string `help:"The shop book, made if it does not exist; the usual one if left out." placeholder:"FILE"`
}

func (c *bookImport) Run(a *app) error {
	f, err := os.Open(c.From)
	if err != nil {
		return unopened(c.From, err)
	}
	defer f.Close()
	in, err := exportIn(c.From, f)
	if err != nil {
		return err
	}
	path, err := bookNamed(c.Book)
	if err != nil {
		return err
	}
	b, err := book.Open(a.ctx, path, book.Options{Judge: record.CheckImport})
	if err != nil {
		return err
	}
	i, err := b.Import(a.ctx, in)
	if err != nil {
		return errors.Join(err, b.Abandon())
	}
	fmt.Fprintf(a.out, "job %s, version %d -> %d\n", i.Job, i.Before, i.Version)
	return b.Close()
}

type bookSchema struct {
	Whole bool `help:"That of a whole book, which book table --json writes; its members are the columns of the CSV."`
}

func (c *bookSchema) Run(a *app) error {
	schema := book.ExportSchema()
	if c.Whole {
		schema = book.WholeSchema()
	}
	_, err := a.out.Write(schema)
	return err
}
