package book

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
)

// Copied says how far a copy has come, in events.
type Copied struct{ Done, All int64 }

// Copy takes a whole book over into another, number for number, with its files: from a file to PostgreSQL or back. The
// other is empty, or holds the beginning of the same book, which an earlier copy left: then it goes on behind that.
// What comes into the first book meanwhile is for the next time. Each event is verified on the way, and at the end each
// chain's head is compared. told, where given, hears how far it is.
//
// Errors: ErrExists where the other holds something else, ErrDamaged where this one is not sound, ErrIncomplete where
// all was copied but files that are missing or damaged here; those of reading and writing.
func (b *Book) Copy(ctx context.Context, to *Book, told func(Copied)) error {
	c := copying{from: b, to: to, last: map[string]Event{}}
	if err := b.read().row(ctx, `SELECT coalesce(max(seq), 0) FROM events`).Scan(&c.all); err != nil {
		return b.problem(err)
	}
	if err := c.alike(ctx); err != nil {
		return err
	}
	for c.done < c.all {
		if err := c.some(ctx); err != nil {
			return err
		}
		if told != nil {
			told(Copied{c.done, c.all})
		}
	}
	if err := c.compare(ctx); err != nil {
		return err
	}
	return incomplete(to.path, c.bad)
}

// copying is a copy under way.
type copying struct {
	from, to  *Book
	done, all int64
	last      map[string]Event // of jobs, as they stand in the copy; not of all
	bad       []string         // files that could not be copied
}

func (c *copying) differ(seq int64) error {
	return fmt.Errorf("%s – %w: from event %d on it holds something else – copy into an empty book, or take the jobs "+
		"over with phasewright book merge", c.to.path, ErrExists, seq)
}

// alike finds out how much of the book the copy holds, and that it is the same.
func (c *copying) alike(ctx context.Context) error {
	type mark struct {
		seq  int64
		hash Hash
	}
	page := func(b *Book, after int64) ([]mark, error) {
		rows, err := b.read().rows(ctx, `SELECT seq, hash FROM events WHERE seq > ? ORDER BY seq LIMIT 20000`, after)
		if err != nil {
			return nil, b.problem(err)
		}
		marks, err := collect(rows, func(row scanner) (m mark, err error) {
			var hash []byte
			err = row.Scan(&m.seq, &hash)
			copy(m.hash[:], hash)
			return m, err
		})
		return marks, b.problem(err)
	}
	for {
		have, err := page(c.to, c.done)
		if err != nil || len(have) == 0 {
			return err
		}
		want, err := page(c.from, c.done)
		if err != nil {
			return err
		}
		for i, m := range have {
			if i >= len(want) || want[i] != m {
				return c.differ(m.seq)
			}
		}
		c.done = have[len(have)-1].seq
	}
}

// some copies the next events, with their files before them.
func (c *copying) some(ctx context.Context) error {
	rows, err := c.from.read().rows(ctx, `SELECT `+selected+` FROM events WHERE seq > ? AND seq <= ? ORDER BY seq LIMIT ?`,
		c.done, c.all, eventsAtOnce)
	if err != nil {
		return c.from.problem(err)
	}
	events, err := collect(rows, scanEvent)
	if err != nil {
		return c.from.problem(err)
	}
	if len(events) == 0 || events[0].Seq != c.done+1 {
		return fmt.Errorf("%s, event %d – %w: it is missing – %s", c.from.path, c.done+1, ErrDamaged, toBackup)
	}
	c.to.store.naming.Lock()
	defer c.to.store.naming.Unlock()
	for _, e := range events {
		if err := c.verify(ctx, e); err != nil {
			return err
		}
		if e.Kind == KindAttachmentAdded {
			if err := c.file(ctx, e); err != nil {
				return err
			}
		}
	}
	err = c.to.do(ctx, func(ctx context.Context, w *writer) ([]Change, error) { return c.place(ctx, w, events) })
	if err != nil {
		return err
	}
	for _, e := range events {
		if d, err := readDiscarded(e.Payload); e.Kind == KindAttachmentDiscarded && err == nil {
			if err := c.to.sweep(ctx, d.SHA256); err != nil {
				return err
			}
		}
	}
	c.done = events[len(events)-1].Seq
	return nil
}

// place records events under the numbers that they have.
func (c *copying) place(ctx context.Context, w *writer, events []Event) (all []Change, err error) {
	for len(events) > 0 {
		n := 1
		for n < len(events) && events[n].Job == events[0].Job {
			n++
		}
		var places []*Event
		for _, e := range events[:n] {
			places = append(places, &e)
		}
		changes, err := w.insert(ctx, places)
		if err != nil {
			return nil, err
		}
		for i, e := range places {
			if e.Seq != events[i].Seq {
				return nil, c.differ(e.Seq)
			}
		}
		all, events = append(all, changes...), events[n:]
	}
	return all, nil
}

// verify holds an event against the one before in its job.
func (c *copying) verify(ctx context.Context, e Event) error {
	last, known := c.last[e.Job]
	if !known && e.Version > 1 {
		var err error
		last, err = scanEvent(c.to.read().row(ctx, `SELECT `+selected+` FROM events WHERE job = ? AND version = ?`,
			e.Job, int64(e.Version)-1))
		if err != nil {
			return fmt.Errorf("job %s, version %d – %w: the event before it is missing – %s", e.Job, e.Version,
				ErrDamaged, toBackup)
		}
	}
	if flaw := linkFlaw(last, e); flaw != "" {
		return fmt.Errorf("job %s, version %d – %w: %s – %s", e.Job, e.Version, ErrDamaged, flaw, toBackup)
	}
	if len(c.last) > 10_000 {
		clear(c.last)
	}
	c.last[e.Job] = Event{Job: e.Job, Version: e.Version, Hash: e.Hash, At: e.At}
	return nil
}

// file brings what an event added, unless it was thrown away since.
func (c *copying) file(ctx context.Context, e Event) error {
	a, err := readAttachment(e.Payload)
	if err != nil {
		return nil // an event that Check will tell of
	}
	if size, err := c.to.store.size(a.SHA256); err == nil && size == a.Size {
		return nil
	}
	kept, err := c.from.named(ctx, a.SHA256)
	if err != nil || !kept {
		return err
	}
	err = c.from.copyFile(ctx, fileRow{attached: a}, c.to.store)
	if errors.Is(err, ErrDamaged) || errors.Is(err, ErrNoAttachment) {
		if text := err.Error(); !slices.Contains(c.bad, text) {
			c.bad = append(c.bad, text)
		}
		return nil
	}
	if err == nil {
		c.to.store.keep(a.Size)
	}
	return err
}

// compare holds the heads of all chains against each other: a job that went on meanwhile is compared as far as it was
// copied.
func (c *copying) compare(ctx context.Context) error {
	rows, err := c.to.read().rows(ctx, `SELECT `+lineColumns+` FROM jobs ORDER BY no`)
	if err != nil {
		return c.to.problem(err)
	}
	defer rows.Close()
	jobs := 0
	for ; rows.Next(); jobs++ {
		l, err := scanLine(rows)
		if err != nil {
			return c.to.problem(err)
		}
		var hash []byte
		err = c.from.read().row(ctx, `SELECT hash FROM events WHERE job = ? AND version = ?`, l.ID,
			int64(l.Version)).Scan(&hash)
		if err != nil || string(hash) != string(l.Head[:]) {
			return fmt.Errorf("%s, job %s – %w: its copy is another – copy again into an empty book", c.to.path,
				l.ID, ErrDamaged)
		}
	}
	if err := rows.Err(); err != nil {
		return c.to.problem(err)
	}
	var wanted int
	err = c.from.read().row(ctx, `SELECT count(*) FROM events WHERE version = 1 AND seq <= ?`, c.all).Scan(&wanted)
	if err == nil && wanted != jobs {
		err = fmt.Errorf("%s – %w: %d jobs of %d are there – copy again into an empty book", c.to.path, ErrDamaged,
			jobs, wanted)
	}
	return c.from.problem(err)
}

// copyToFile makes a book in one file that holds the same as b. The file gets its name last.
func (b *Book) copyToFile(ctx context.Context, path string) error {
	if err := b.readers.PingContext(ctx); err != nil && !b.base.gone(err) { // closed, say
		return b.problem(err)
	}
	path, err := filepath.Abs(path)
	if err != nil {
		return fmt.Errorf("%s – cannot be written – give another path: %w", path, err)
	}
	for _, p := range []string{path, path + ".files"} {
		if err := mustBeFree(p); err != nil {
			return err
		}
	}
	temp := path + ".part"
	clear := func() {
		removeBook(temp)
		os.RemoveAll(temp + ".files")
		os.Remove(temp + ".lock")
	}
	clear() // of an earlier try
	defer clear()
	to, err := Open(ctx, temp, Options{Quota: 1 << 62, MaxFile: 1 << 62, Clock: b.clock})
	if err != nil {
		return err
	}
	partly := b.Copy(ctx, to, nil)
	if partly != nil && !errors.Is(partly, ErrIncomplete) {
		return errors.Join(partly, to.Close())
	}
	if err := errors.Join(to.Close(), onePlainFile(ctx, temp, latest())); err != nil {
		return problemAt(path, err)
	}
	os.RemoveAll(temp + ".files/" + incomingDir)
	if _, err := os.Stat(temp + ".files"); err == nil {
		if err := os.Rename(temp+".files", path+".files"); err != nil {
			return problemAt(path, err)
		}
	}
	if err := os.Rename(temp, path); err != nil {
		return problemAt(path, err)
	}
	if l := (*lacking)(nil); errors.As(partly, &l) {
		l.path = path
	}
	return errors.Join(partly, problemAt(path, syncDir(filepath.Dir(path))))
}
