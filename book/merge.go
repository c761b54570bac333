package book

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
)

// Merged is what Merge did with one job.
type Merged struct {
	Imported
	Name string `json:"name"`
	// Refused says why nothing was taken over: a *Diverged where both books went on with the job, or what is wrong with
	// it in the other book. nil where all of it is here now.
	Refused error `json:"-"`
}

// mergeJobs and mergeEvents bound what is taken over in one transaction.
const (
	mergeJobs   = 100
	mergeEvents = 5000
)

// Merge takes the jobs of another book over, each chain by itself: new jobs whole, and of those that both have the
// events that this book lacks. A job that cannot be taken over is told and left alone; the others go on. each is called
// for every job of the other book, in the order in which it got them.
//
// Every event is verified and every file checked on the way. What was taken over stays when Merge ends early.
//
// Errors: those of reading the other book and of writing this one; of each, which ends the merge.
func (b *Book) Merge(ctx context.Context, from *Book, each func(Merged) error) error {
	rows, err := from.read().rows(ctx, `SELECT `+lineColumns+` FROM jobs ORDER BY no`)
	if err != nil {
		return from.problem(err)
	}
	lines, err := collect(rows, scanLine)
	if err != nil {
		return from.problem(err)
	}
	for len(lines) > 0 {
		var batch []*merging
		events := 0
		for len(lines) > 0 && len(batch) < mergeJobs && events < mergeEvents {
			m, err := b.toMerge(ctx, from, lines[0].Job)
			if err != nil {
				return err
			}
			if m.in != nil {
				events += len(m.in.events)
			}
			batch, lines = append(batch, m), lines[1:]
		}
		if err := b.mergeAll(ctx, batch); err != nil {
			return err
		}
		for _, m := range batch {
			if err := each(m.told); err != nil {
				return err
			}
		}
	}
	return nil
}

// merging is one job of a merge. in is nil where nothing is to be taken over.
type merging struct {
	in   *importing
	told Merged
}

func (b *Book) toMerge(ctx context.Context, from *Book, there Job) (*merging, error) {
	m := &merging{told: Merged{Imported: Imported{Job: there.ID, Version: there.Version}, Name: there.Name}}
	here, err := b.Job(ctx, there.ID)
	switch {
	case errors.Is(err, ErrNoJob):
	case err != nil:
		return nil, err
	case here.Head == there.Head:
		m.told.Before = here.Version
		return m, nil
	}
	events, err := from.Events(ctx, there.ID, 0)
	if err != nil {
		return nil, err
	}
	var last Event
	for _, e := range events {
		if flaw := linkFlaw(last, e); flaw != "" {
			m.told.Refused = fmt.Errorf("job %s, version %d – %w: %s – %s", there.ID, e.Version, ErrDamaged, flaw,
				toBackup)
			return m, nil
		}
		last = e
	}
	if b.judge != nil {
		if err := b.judge(events); err != nil {
			m.told.Refused = err
			return m, nil
		}
	}
	m.in = &importing{ctx: ctx, book: b, events: events, from: from}
	return m, nil
}

// mergeAll takes a batch of jobs over in one transaction.
func (b *Book) mergeAll(ctx context.Context, batch []*merging) error {
	b.store.naming.Lock()
	defer b.store.naming.Unlock()
	for _, m := range batch {
		if m.in == nil {
			continue
		}
		err := m.in.mayFollow()
		if err == nil {
			err = m.in.files()
		}
		if ctx.Err() != nil || errors.Is(err, ErrFull) || errors.Is(err, ErrQuota) {
			for _, m := range batch {
				if m.in != nil {
					m.in.takeBack()
				}
			}
			return cmp.Or(err, ctx.Err())
		}
		m.told.Refused = err
	}
	err := b.do(ctx, func(ctx context.Context, w *writer) ([]Change, error) {
		var all []Change
		for _, m := range batch {
			if m.in == nil || m.told.Refused != nil {
				continue
			}
			done, changes, err := m.in.place(ctx, w)
			if err != nil && fromDatabase(err) {
				return nil, err
			}
			if err != nil {
				m.told.Refused = err
				continue
			}
			m.told.Imported = done
			all = append(all, changes...)
		}
		return all, nil
	})
	for _, m := range batch { // what one job was refused, another may have brought too: it is known only now
		switch {
		case m.in == nil:
		case m.told.Refused != nil || err != nil && ctx.Err() == nil: // surely not recorded
			m.in.takeBack()
		case err == nil:
			b.store.keep(m.in.added)
			if err := m.in.sweep(); err != nil {
				return err
			}
		}
	}
	return err
}

// mayFollow looks whether the events go on where this book ends, before files are brought for them.
func (in *importing) mayFollow() error {
	here, err := in.book.Job(in.ctx, in.events[0].Job)
	if errors.Is(err, ErrNoJob) {
		return nil
	}
	if err != nil {
		return err
	}
	own, err := in.book.Events(in.ctx, here.ID, 0)
	if err != nil {
		return err
	}
	for i := range min(len(own), len(in.events)) {
		if own[i].Hash != in.events[i].Hash {
			return &Diverged{Job: here.ID, Version: own[i].Version}
		}
	}
	return nil
}

// content opens a file that is to be brought, from the exported job or the other book. It is nil where that has none.
func (in *importing) content(f fileRow) (io.ReadCloser, error) {
	if in.from != nil {
		r, size, err := in.from.store.open(f.SHA256)
		if err == nil && size != f.Size {
			err = errors.Join(fmt.Errorf("attachment %q – %w: %d bytes instead of %d – restore it from a backup",
				f.Name, ErrDamaged, size, f.Size), r.Close())
		}
		return r, err
	}
	entry := in.entries[filesPrefix+f.SHA256.String()]
	switch {
	case entry == nil:
		return nil, badImport("attachment %q (%s) is not in the file", clip(f.Name, 80), f.SHA256)
	case entry.UncompressedSize64 != uint64(f.Size):
		return nil, badImport("attachment %q (%s) has %d bytes instead of %d", clip(f.Name, 80), f.SHA256,
			entry.UncompressedSize64, f.Size)
	}
	r, err := entry.Open()
	if err != nil {
		return nil, badImport("attachment %q: %v", clip(f.Name, 80), err)
	}
	return r, nil
}
