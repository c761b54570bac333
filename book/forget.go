package book

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Personal is one personal value of a job: who owns it, how to reach them, a name in a card or a note.
type Personal struct {
	Job     string  `json:"job"`
	Version Version `json:"version"` // of the event that it came with
	Kind    Kind    `json:"kind"`
	Value   string  `json:"value"`
}

// PersonalIn lists the personal values that are left in events of a job, in their order.
func PersonalIn(events []Event) (all []Personal) {
	for _, e := range events {
		if e.sealed == nil {
			continue
		}
		for _, p := range e.sealed.values {
			if p.erased.IsZero() {
				all = append(all, Personal{e.Job, e.Version, e.Kind, p.value})
			}
		}
	}
	return all
}

// JobsWith gives the jobs that hold a name among their personal values, whatever its case and accents, in the order in
// which the book got the name.
func (b *Book) JobsWith(ctx context.Context, name string) ([]Job, error) {
	wanted := plain(name)
	if wanted == "" {
		return nil, fmt.Errorf("name %q – %w: it has no letters – write the name as the job has it", clip(name, 60),
			ErrBadInput)
	}
	rows, err := b.read().rows(ctx, `SELECT e.job, p.value FROM events e JOIN personal p ON p.event = e.seq
		WHERE p.erased IS NULL ORDER BY e.seq, p.path`)
	if err != nil {
		return nil, b.problem(err)
	}
	all, err := collect(rows, func(row scanner) (p Personal, err error) {
		err = row.Scan(&p.Job, &p.Value)
		return p, unreadable(err)
	})
	if err != nil {
		return nil, b.problem(err)
	}
	var jobs []Job
	for _, p := range all {
		if plain(p.Value) != wanted || slices.ContainsFunc(jobs, func(j Job) bool { return j.ID == p.Job }) {
			continue
		}
		j, err := b.Job(ctx, p.Job)
		if err != nil {
			return nil, err
		}
		jobs = append(jobs, j)
	}
	return jobs, nil
}

// Remains is where a personal value of a job stands outside the places that can be erased: in the name of the job or of
// a file, in a note that did not mark it.
type Remains struct {
	Job     string  `json:"job"`
	Version Version `json:"version"`
	Kind    Kind    `json:"kind"`
}

// RemainsIn lists what Forget would have to leave in events of a job: a name can be taken out only where it was kept
// apart. What is in files nobody looks through.
func RemainsIn(events []Event) (all []Remains) {
	var names []string
	for _, p := range PersonalIn(events) {
		if name := plain(p.Value); name != "" && !slices.Contains(names, " "+name+" ") {
			names = append(names, " "+name+" ")
		}
	}
	if len(names) == 0 {
		return nil
	}
	for _, e := range events {
		said := " " + plain(strings.Join(append(phrases(e.stored()), e.Who), "\n")) + " "
		if slices.ContainsFunc(names, func(name string) bool { return strings.Contains(said, name) }) {
			all = append(all, Remains{e.Job, e.Version, e.Kind})
		}
	}
	return all
}

// Forget erases the personal values of jobs, all or none: owner, contact, the names that notes mark, and the customer's
// name under a proof. Each job gets an event that says so; its chain still verifies. "erased on" and the date stand
// where the values stood. Nothing of them is left in the book's files when Forget returns without error.
//
// With ErrLeft all is recorded and no page shows them; what is left of them in the file goes when the book is opened
// next. With a key that was used before nothing happens again.
//
// Errors: ErrNoJob, ErrBadInput where a job holds no such value, ErrLeft, and those of Append.
func (b *Book) Forget(ctx context.Context, who, key string, jobs ...string) ([]Event, error) {
	var made []Event
	checked := make([]Event, len(jobs))
	for i, job := range jobs {
		if err := checkID(job); err != nil {
			return nil, err
		}
		e, err := settled(Draft{Who: who, Kind: KindPersonErased, Key: key})
		if err != nil {
			return nil, err
		}
		e.Job = job
		checked[i] = e
	}
	err := b.do(ctx, func(ctx context.Context, w *writer) (changes []Change, err error) {
		made = nil
		for _, e := range checked {
			one, more, err := w.append(ctx, AnyVersion, []Event{e})
			if err != nil {
				return nil, err
			}
			if len(more) > 0 && w.erased == 0 {
				return nil, fmt.Errorf("job %s – %w: it holds no personal value that could be erased – look at the job",
					e.Job, ErrBadInput)
			}
			made, changes = append(made, one...), append(changes, more...)
		}
		return changes, nil
	})
	if err != nil {
		return nil, err
	}
	due, err := erasureDue(ctx, b.read())
	if err == nil && due != nothingDue {
		err = fmt.Errorf("%s – %w: another program reads the book – close it; the rest goes by itself, or when "+
			"the book is opened next", b.path, ErrLeft)
	}
	return made, b.problem(err)
}

// erase takes the personal values of a job's earlier events away, and makes its derived rows again without them.
func (w *writer) erase(ctx context.Context, l *line, e Event) error {
	x := &w.stmt
	if err := x.row(ctx, `SELECT count(*) FROM personal WHERE erased IS NULL AND event IN
		(SELECT seq FROM events WHERE job = ? AND version < ?)`, e.Job, int64(e.Version)).Scan(&w.erased); err != nil {
		return err
	}
	if err := x.exec(ctx, `UPDATE personal SET salt = NULL, value = NULL, erased = ?
		WHERE erased IS NULL AND event IN (SELECT seq FROM events WHERE job = ? AND version < ?)`,
		toMicros(e.At), e.Job, int64(e.Version)); err != nil {
		return err
	}
	if err := x.exec(ctx, `UPDATE erasing SET due = 1`); err != nil {
		return err
	}
	w.erasing = true
	if err := addWork(ctx, x, l.no, stintOf(e), deedsOf(e)); err != nil { // earlier rows of work hold no owner's name
		return err
	}
	rows, err := x.rows(ctx, `SELECT `+selected+` FROM events WHERE job = ? ORDER BY version`, e.Job)
	if err != nil {
		return err
	}
	events, err := collect(rows, scanEvent)
	if err != nil {
		return err
	}
	var c chapter
	for _, one := range events {
		c.add(one)
	}
	before, err := loadText(ctx, x, c.no)
	if err != nil {
		return err
	}
	*l = c.line
	if before == c.text {
		return nil
	}
	return errors.Join(dropText(ctx, x, c.no, before), saveText(ctx, x, c.no, c.text),
		moveVocabulary(ctx, x, before, c.text))
}

// ErrLeft says that a name was erased and the file may still hold bytes of it.
var ErrLeft = errors.New("erased, but the file still holds it")

func erasureDue(ctx context.Context, x executor) (due int, err error) {
	err = x.row(ctx, `SELECT due FROM erasing`).Scan(&due)
	return due, err
}

// What is due after an erasure.
const (
	nothingDue = 0
	fileDue    = 1 // the file holds what was erased, in free pages, gaps between rows, the search index
	logDue     = 2 // it was written anew; the log before that is still there
)

// scour writes the whole file anew without anything that was erased, and empties the log. The mark that it is due goes
// last, so that what broke off is done at the next opening. done is false where another reader keeps the log from being
// emptied.
func scour(ctx context.Context, x executor) (done bool, err error) {
	due, err := erasureDue(ctx, x)
	if err != nil || due == nothingDue {
		return err == nil, err
	}
	if due == fileDue {
		for _, text := range []string{`PRAGMA secure_delete = on`, `INSERT INTO search (search) VALUES ('rebuild')`,
			`VACUUM`, `UPDATE erasing SET due = 2`} {
			if err := x.exec(ctx, text); err != nil {
				return false, err
			}
		}
	}
	// Pages of this book read for milliseconds. Another program may hold on for long: then it is tried again later.
	if err := x.exec(ctx, `PRAGMA busy_timeout = 2000`); err != nil {
		return false, err
	}
	var busy bool
	var pages, moved int
	err = x.row(ctx, `PRAGMA wal_checkpoint(truncate)`).Scan(&busy, &pages, &moved)
	if err := errors.Join(err, x.exec(ctx, `PRAGMA busy_timeout = 10000`)); err != nil || busy {
		return false, err
	}
	return true, x.exec(ctx, `UPDATE erasing SET due = 0`)
}

// scour is done after the commit of an erasure, and tried again later where it could not be done.
func (w *writer) scour() {
	ctx := context.Background()
	if done, err := w.book.base.scour(ctx, &w.stmt); err == nil && done {
		w.erasing = false
	} else {
		_ = w.book.problem(err) // kept there if the book is damaged
	}
}

// unfinishedErasures looks, as a job's events go by, whether what was erased was, and by an event.
type unfinishedErasures []Event

// add takes the job's next event, and says what is wrong.
func (u *unfinishedErasures) add(e Event) (flaw string) {
	if e.sealed != nil {
		*u = append(*u, e)
	}
	if e.Kind != KindPersonErased {
		return ""
	}
	var rest unfinishedErasures
	for _, one := range *u {
		for _, p := range one.sealed.values {
			switch {
			case p.erased.IsZero():
				flaw = fmt.Sprintf("it erases the personal values before it, and version %d still has one", one.Version)
			case !p.erased.Equal(e.At):
				rest = append(rest, one)
			}
		}
	}
	*u = rest
	return flaw
}

// end says what was erased without an event that says so; 0: nothing.
func (u unfinishedErasures) end() Version {
	for _, e := range u {
		for _, p := range e.sealed.values {
			if !p.erased.IsZero() {
				return e.Version
			}
		}
	}
	return 0
}
