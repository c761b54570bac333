package book

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
)

// Report is what Check found.
type Report struct {
	Events, Jobs, Files int
	Discarded           int      // files whose content was thrown away on purpose
	Unprovable          int      // events whose hash was taken of a personal value that was erased since
	Problems            []string // each: where – what – remedy; empty when all is well
	Notices             []string // harmless, such as a file that no event names
}

// maxProblems is the most problems that a report spells out.
const maxProblems = 100

// Check reads the whole book: the database's own structure, every hash chain, the derived tables against the events,
// and every attachment against its hash. The error is for a check that could not be finished. Writers go on meanwhile.
func (b *Book) Check(ctx context.Context) (Report, error) {
	c := b.checker(ctx)
	err := c.run(c.structure, c.schema, c.numbering, c.events, c.spareRows, c.index, c.attachments, c.strays)
	return c.report, err
}

func (b *Book) checker(ctx context.Context) *checker { return &checker{ctx: ctx, book: b} }

// run does the parts of a check against one moment of the book.
func (c *checker) run(parts ...func() error) error {
	b := c.book
	if err := b.readers.PingContext(c.ctx); err != nil && !b.base.gone(err) { // closed, say
		return b.problem(err)
	}
	x, release, err := b.base.moment(c.ctx, b)
	if err != nil {
		return b.problem(err)
	}
	defer release()
	c.x = x
	for _, part := range parts {
		err := b.problem(part())
		if errors.Is(err, ErrDamaged) { // that is what we are here to find: look at the rest too
			c.found("%v", err)
			continue
		}
		if err != nil {
			return err
		}
	}
	if n := len(c.report.Problems); c.more > 0 {
		c.report.Problems[n-1] = fmt.Sprintf("%s – %d more problems – put these right first", b.path, c.more+1)
	}
	return nil
}

func (c *checker) structure() error { return c.book.base.structure(c) }
func (c *checker) schema() error    { return c.book.base.schema(c) }
func (c *checker) index() error     { return c.book.base.sound(c) }

type checker struct {
	ctx    context.Context
	book   *Book
	x      *statements
	report Report
	more   int // problems not spelled out
	words  vocabulary
}

func (c *checker) found(format string, args ...any) {
	if len(c.report.Problems) == maxProblems {
		c.more++
		return
	}
	c.report.Problems = append(c.report.Problems, fmt.Sprintf(format, args...))
}

const (
	toBackup  = "restore the last good backup: phasewright book restore BACKUP NEW.book"
	toRebuild = "phasewright book rebuild makes it anew from the events"
)

// compare tells which tables, indexes and triggers are not as they should be.
func (c *checker) compare(wanted, have []object) {
	for _, o := range wanted {
		if !slices.Contains(have, o) {
			c.found("%s – %s %s is missing or was changed – %s", c.book.path, o.kind, o.name, toBackup)
		}
	}
	for _, o := range have {
		if o.sql != "" && !slices.ContainsFunc(wanted, func(w object) bool { return w.name == o.name }) {
			c.found("%s – %s %s does not belong to a shop book – find out who made it", c.book.path, o.kind, o.name)
		}
	}
}

// numbering finds events taken out of the middle or off the end, a whole job included.
func (c *checker) numbering() error {
	var n, least, most, given int64
	err := c.x.row(c.ctx, `SELECT count(*), coalesce(min(seq), 1), coalesce(max(seq), 0) FROM events`).Scan(&n, &least,
		&most)
	if err == nil {
		given, err = c.book.base.given(c.ctx, c.x)
	}
	if err != nil {
		return err
	}
	if least != 1 || most != n || given != most {
		c.found("%s – events are missing: numbers run from %d to %d, %d were given, %d are there – %s", c.book.path,
			least, most, given, n, toBackup)
	}
	return nil
}

// events walks every chain and compares the derived rows of each job with what its events make.
func (c *checker) events() error {
	var ch chapter
	var last Event
	var erasures unfinishedErasures
	c.words = vocabulary{}
	finish := func() error {
		if v := erasures.end(); v > 0 {
			c.found("job %s, version %d – a personal value is erased and no event says so – %s", last.Job, v, toBackup)
		}
		erasures = nil
		return c.chapter(&ch)
	}
	err := eachEvent(c.ctx, c.x, func(e Event) error {
		if e.Job != last.Job {
			if err := finish(); err != nil {
				return err
			}
			ch, last = chapter{}, Event{Job: e.Job}
		}
		c.report.Events++
		if flaw := linkFlaw(last, e); flaw != "" {
			c.found("job %s, version %d – %s – %s", e.Job, e.Version, flaw, toBackup)
		}
		if flaw := erasures.add(e); flaw != "" {
			c.found("job %s, version %d – %s – erase it again: phasewright book forget %[1]s", e.Job, e.Version, flaw)
		}
		if e.unprovable() {
			c.report.Unprovable++
		}
		ch.add(e)
		last = e
		return nil
	})
	if err != nil {
		return err
	}
	if err := finish(); err != nil {
		return err
	}
	if n := c.report.Unprovable; n > 0 {
		c.report.Notices = append(c.report.Notices, fmt.Sprintf("%s – %d entries held a name that was "+
			"erased and that an earlier release took into their hash: it cannot be made anew, their links are "+
			"verified – nothing to do", c.book.path, n))
	}
	same, err := c.words.isIn(c.ctx, c.x)
	if err == nil && !same {
		c.found("%s – the list of words for search does not fit the events – %s", c.book.path, toRebuild)
	}
	return err
}

// linkFlaw tells what is wrong with e as the event after last of the same job, whose Version is 0 when e is the first.
func linkFlaw(last, e Event) string {
	switch {
	case e.Version != last.Version+1:
		return fmt.Sprintf("version %d should stand here", last.Version+1)
	case (e.Version == 1) != (e.Kind == KindJobCreated):
		return fmt.Sprintf("%s must be the first event and only that", KindJobCreated)
	case e.Prev != last.Hash:
		return "does not link to the event before"
	case !e.unprovable() && e.Hash != HashEvent(e):
		return "content does not fit its hash"
	case e.Back != (last.Version > 0 && e.At.Before(last.At)):
		return "clock flag is wrong"
	}
	if e.sealed != nil {
		if flaw := e.sealed.flaw(); flaw != "" {
			return flaw
		}
	}
	if e.unsealed() {
		return "its personal values are missing"
	}
	return ""
}

// chapter compares one job's derived rows.
func (c *checker) chapter(want *chapter) error {
	if want.no == 0 {
		return nil
	}
	c.report.Jobs++
	c.words.add(want.text)
	have := chapter{marks: memoryMarks{}}
	l, err := loadLine(c.ctx, c.x, want.ID)
	if err != nil {
		return err
	}
	have.line = *l
	rows, err := c.x.rows(c.ctx, `SELECT sort, id, live FROM marks WHERE job_no = ?`, want.no)
	if err != nil {
		return err
	}
	if _, err = collect(rows, func(row scanner) (struct{}, error) {
		var sort, id string
		var live bool
		err := row.Scan(&sort, &id, &live)
		have.marks[[2]string{sort, id}] = live
		return struct{}{}, err
	}); err != nil {
		return err
	}
	rows, err = c.x.rows(c.ctx,
		`SELECT version, sha256, name, media_type, size, discarded FROM files WHERE job_no = ? ORDER BY version`, want.no)
	if err != nil {
		return err
	}
	if have.files, err = collect(rows, scanFile); err != nil {
		return err
	}
	if have.work, err = loadWork(c.ctx, c.x, want.no); err != nil {
		return err
	}
	if have.text, err = loadText(c.ctx, c.x, want.no); err != nil {
		return err
	}
	if have.line != want.line || have.text != want.text || !slices.Equal(have.files, want.files) ||
		!maps.Equal(have.marks, want.marks) || !maps.Equal(have.work, want.work) {
		c.found("job %s – list line, counts, files or search text do not fit the events – %s", want.ID, toRebuild)
	}
	return nil
}

// spareRows finds derived rows of jobs that have no events.
func (c *checker) spareRows() error {
	for table, column := range map[string]string{"jobs": "no", "marks": "job_no", "files": "job_no", "job_text": "no",
		"work": "job_no"} {
		var n int
		err := c.x.row(c.ctx,
			`SELECT count(*) FROM `+table+` WHERE NOT EXISTS (SELECT 1 FROM events WHERE version = 1 AND seq = `+column+`)`,
		).Scan(&n)
		if err != nil {
			return err
		}
		if n > 0 {
			c.found("%s, table %s – %d rows of jobs that do not exist – %s", c.book.path, table, n, toRebuild)
		}
	}
	var n int
	if err := c.x.row(c.ctx,
		`SELECT count(*) FROM personal WHERE NOT EXISTS (SELECT 1 FROM events WHERE seq = event)`).Scan(&n); err != nil {
		return err
	}
	if n > 0 {
		c.found("%s, table personal – %d values of events that do not exist – %s", c.book.path, n, toBackup)
	}
	return nil
}

// attachments reads every stored file that an event names.
func (c *checker) attachments() error {
	files, err := distinctFiles(c.ctx, c.x, latest())
	if err != nil {
		return err
	}
	if err := c.x.row(c.ctx, `SELECT count(DISTINCT sha256) FROM files WHERE discarded > 0`).Scan(
		&c.report.Discarded); err != nil {
		return err
	}
	for _, f := range files {
		c.report.Files++
		if err := c.book.store.verify(c.ctx, f.SHA256, f.Size); err != nil {
			if c.ctx.Err() != nil {
				return c.ctx.Err()
			}
			c.found("%v", err)
		}
	}
	return nil
}

// strays mentions stored files that no event names, left by a program that was killed between the two.
func (c *checker) strays() error { return c.book.store.kept.strays(c) }

// stray mentions one, where no event names it.
func (c *checker) stray(sha Hash, isFile bool, name string) error {
	if isFile {
		var named bool
		err := c.x.row(c.ctx, `SELECT EXISTS (SELECT 1 FROM files WHERE sha256 = ? AND discarded = 0)`, sha[:]).Scan(&named)
		if err != nil || named {
			return err
		}
	}
	c.report.Notices = append(c.report.Notices,
		fmt.Sprintf("%s/%s – no event names this file – it may be moved away", c.book.store.kept.place(), name))
	return nil
}
