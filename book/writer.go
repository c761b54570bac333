package book

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"sync"
	"time"

	"phasewright/beside"
)

// maxBatch is the most requests that share one commit. A commit waits for the disk; requests that arrive meanwhile
// share the next one.
const maxBatch = 256

// writer owns the only connection that writes. Requests queue up, share transactions, and are answered after the commit
// has reached the disk.
type writer struct {
	book *Book
	conn *sql.Conn
	stmt statements

	gate    sync.RWMutex // held for reading while a request enters the queue
	shut    bool
	queue   chan *request
	logged  bool    // something may be in the log
	away    bool    // the base was away when it was last asked
	made    []place // in the transaction that runs
	erasing bool    // what was erased may still be in the file
	erased  int     // values that the last erasure took
	loop    *beside.Work
}

// request is one piece of work inside a transaction. work may run twice, when the first transaction had to be given up.
type request struct {
	ctx    context.Context
	work   func(ctx context.Context, w *writer) ([]Change, error)
	answer chan error
}

func startWriter(conn *sql.Conn, b *Book) *writer {
	w := &writer{book: b, conn: conn, queue: make(chan *request, maxBatch)}
	w.stmt.conn, w.stmt.base = conn, b.base
	due, err := erasureDue(context.Background(), &w.stmt)
	if err == nil && due != nothingDue && b.Damage() == nil { // an erasure broke off
		w.erasing = true
		w.scour()
	}
	w.loop = beside.Start(w.run)
	return w
}

// stop lets everything queued finish, then frees the connection.
func (w *writer) stop() {
	w.gate.Lock()
	w.shut = true
	close(w.queue)
	w.gate.Unlock()
	<-w.loop.Done()
}

// do runs work in a transaction and returns once it is on disk or refused. When ctx ends first, work may still be done.
func (b *Book) do(ctx context.Context, work func(ctx context.Context, w *writer) ([]Change, error)) error {
	if b.access == ReadOnly {
		return fmt.Errorf("%s – %w: it was opened for reading – open it for writing", b.path, ErrReadOnly)
	}
	r := &request{ctx: ctx, work: work, answer: make(chan error, 1)}
	if err := b.writer.enter(ctx, r); err != nil {
		return err
	}
	select {
	case err := <-r.answer:
		return b.answered(err)
	case <-b.writer.loop.Done(): // the last answer may have come before
		select {
		case err := <-r.answer:
			return b.answered(err)
		default:
			b.writer.loop.Wait()
			return fmt.Errorf("%s – %w – open it again", b.path, ErrClosed)
		}
	case <-ctx.Done():
		return ctx.Err()
	}
}

// brokenWork is an invariant that broke in a request's work, on its way to the goroutine that asked.
type brokenWork string

func (b brokenWork) Error() string { return string(b) }

// answered is the writer's answer for whoever asked.
func (b *Book) answered(err error) error {
	if broken, ok := err.(brokenWork); ok {
		panic(string(broken))
	}
	return b.problem(err)
}

func (w *writer) enter(ctx context.Context, r *request) error {
	w.gate.RLock()
	defer w.gate.RUnlock()
	if w.shut {
		return fmt.Errorf("%s – %w – open it again", w.book.path, ErrClosed)
	}
	select {
	case w.queue <- r:
		return nil
	case <-w.loop.Done(): // it broke: do says so
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (w *writer) run() {
	defer w.conn.Close()
	defer w.stmt.close()
	for {
		r, more := w.next()
		if !more {
			if w.erasing {
				w.scour()
			}
			return
		}
		batch := []*request{r}
	fill:
		for len(batch) < maxBatch {
			select {
			case r, ok := <-w.queue:
				if !ok {
					break fill
				}
				batch = append(batch, r)
			default:
				break fill
			}
		}
		w.serve(batch)
	}
}

// scourTime is how long another program may read on before it is tried again to empty the log of what was erased.
const scourTime = 10 * time.Second

// idleTime is how long nothing comes before what is in the log is written into the book's file.
const idleTime = time.Second

// next waits for a request. When none comes for a while, the log is emptied, so that whoever copies the file alone gets
// most of it.
func (w *writer) next() (r *request, more bool) {
	for w.logged || w.erasing {
		wait := idleTime
		if !w.logged {
			wait = scourTime
		}
		select {
		case r, more = <-w.queue:
			w.logged = true
			return r, more
		case <-time.After(wait):
			if w.erasing {
				w.scour()
			}
			w.book.base.idle(&w.stmt)
			w.logged = false
		}
	}
	r, more = <-w.queue
	w.logged = true
	return r, more
}

// place is where an event got in the book.
type place struct {
	seq  int64
	hash Hash
}

// serve commits a batch together. If the database itself fails in it, nothing of it stays, and each request gets a
// transaction of its own, so that one bad request does not take its neighbours along.
func (w *writer) serve(batch []*request) {
	if damage := w.book.Damage(); damage != nil {
		for _, r := range batch {
			r.answer <- damage
		}
		return
	}
	answers, changes, err := w.transact(batch)
	gone := w.book.base.gone(err)
	if gone {
		answers, changes, err = w.resume(batch, answers, changes, err)
		gone = w.book.base.gone(err)
	}
	if err != nil && len(batch) > 1 && !gone {
		for _, r := range batch {
			w.serve([]*request{r})
		}
		return
	}
	if err != nil {
		answers = nil
		for range batch {
			answers = append(answers, w.book.problem(err))
		}
	}
	if w.erasing {
		w.scour()
	}
	w.book.hub.send(changes)
	for i, r := range batch {
		r.answer <- answers[i]
	}
}

// doubtful says that the base went away between a commit and its answer.
type doubtful struct {
	cause error
	made  []place
}

func (d *doubtful) Error() string {
	return "it may have been recorded or not: send it again, and with its key it is recorded once: " + d.cause.Error()
}

func (d *doubtful) Unwrap() error { return d.cause }

// patience is how long those who ask wait for a base that went away; none while it was away already.
const patience = 10 * time.Second

// resume goes on with a batch in whose transaction the base went away. Nothing of it stays unless the commit had come
// there; the last event that it made tells, in the turn to write, where nobody else is in the middle of anything.
func (w *writer) resume(batch []*request, answers []error, changes []Change, err error) ([]error, []Change, error) {
	until := time.Now().Add(patience)
	if w.away {
		until = time.Now()
	}
	doubt := (*doubtful)(nil)
	errors.As(err, &doubt)
	for pause := 10 * time.Millisecond; ; pause = min(2*pause, time.Second) {
		again := w.renew()
		if again == nil && doubt != nil {
			var landed bool
			if landed, again = w.landed(doubt.made); landed {
				w.away = false
				return answers, changes, nil
			}
		}
		if again == nil {
			if answers, changes, again = w.transact(batch); !w.book.base.gone(again) {
				w.away = false
				return answers, changes, again
			}
			errors.As(again, &doubt)
		}
		if !w.book.base.gone(again) || time.Now().After(until) || w.closing() {
			w.away = true
			if doubt != nil {
				w.book.base.void(heads(doubt.made))
				return nil, nil, doubt
			}
			return nil, nil, again
		}
		time.Sleep(pause)
	}
}

func (w *writer) closing() bool {
	w.gate.RLock()
	defer w.gate.RUnlock()
	return w.shut
}

// renew takes another connection instead of one that broke.
func (w *writer) renew() error {
	ctx, cancel := context.WithTimeout(context.Background(), connectTime)
	defer cancel()
	w.stmt.close()
	_ = w.conn.Raw(func(any) error { return driver.ErrBadConn }) // it goes back to no pool
	w.conn.Close()
	conn, err := w.book.writing.Conn(ctx)
	if err != nil {
		return err
	}
	w.conn, w.stmt.conn = conn, conn
	return conn.PingContext(ctx)
}

// landed reports whether a commit in doubt had come there.
func (w *writer) landed(made []place) (landed bool, err error) {
	ctx := context.Background()
	if len(made) == 0 {
		return false, nil // what it did, it may do again
	}
	if err := w.book.base.begin(ctx, &w.stmt); err != nil {
		return false, err
	}
	last := made[len(made)-1]
	err = w.stmt.row(ctx, `SELECT EXISTS (SELECT 1 FROM events WHERE seq = ? AND hash = ?)`, last.seq,
		last.hash[:]).Scan(&landed)
	return landed, errors.Join(err, w.stmt.exec(ctx, `ROLLBACK`))
}

func heads(made []place) (all []Hash) {
	for _, p := range made {
		all = append(all, p.hash)
	}
	return all
}

// transact runs the batch in one transaction. answers holds refusals of single requests, err the failure of all.
func (w *writer) transact(batch []*request) (answers []error, changes []Change, err error) {
	ctx := context.Background() // a caller who leaves must not tear the others' transaction
	w.made = nil
	if err := w.book.base.begin(ctx, &w.stmt); err != nil {
		return nil, nil, err
	}
	whole := false
	defer func() {
		if err != nil || !whole { // it may have been rolled back already, then this does nothing
			_ = w.stmt.exec(ctx, `ROLLBACK`)
		}
	}()
	for _, r := range batch {
		if r.ctx.Err() != nil {
			answers = append(answers, r.ctx.Err())
			continue
		}
		if err := w.stmt.exec(ctx, `SAVEPOINT one`); err != nil {
			return nil, nil, err
		}
		before := len(w.made)
		var made []Change
		var refused error
		if broken := beside.Caught(func() { made, refused = r.work(ctx, w) }); broken != "" {
			refused = brokenWork(broken)
		}
		if refused != nil {
			if fromDatabase(refused) || w.book.base.gone(refused) {
				return nil, nil, refused
			}
			w.made = w.made[:before]
			if err := w.stmt.exec(ctx, `ROLLBACK TO one`); err != nil {
				return nil, nil, err
			}
		} else {
			changes = append(changes, made...)
		}
		if err := w.stmt.exec(ctx, `RELEASE one`); err != nil {
			return nil, nil, err
		}
		answers = append(answers, refused)
	}
	if err = w.book.base.finish(ctx, &w.stmt, len(w.made)); err != nil {
		return answers, changes, err
	}
	w.book.base.pending(heads(w.made))
	err = w.stmt.exec(ctx, `COMMIT`)
	whole = true
	if w.book.base.gone(err) {
		err = &doubtful{err, w.made}
	} else if err != nil {
		w.book.base.void(heads(w.made))
	}
	return answers, changes, err
}

// fromDatabase tells a failure of the database from a refusal of ours.
func fromDatabase(err error) bool {
	what, _ := diagnose(err)
	return what != nil || isSQLite(err) || isPostgres(err) || errors.Is(err, sql.ErrTxDone)
}

// statements keeps prepared statements of one connection by their text.
type statements struct {
	conn *sql.Conn
	base base
	kept map[string]*sql.Stmt
}

func (s *statements) on() base { return s.base }

func (s *statements) get(ctx context.Context, text string) (*sql.Stmt, error) {
	if st := s.kept[text]; st != nil {
		return st, nil
	}
	st, err := s.conn.PrepareContext(ctx, s.base.text(text))
	if err != nil {
		return nil, err
	}
	if s.kept == nil {
		s.kept = map[string]*sql.Stmt{}
	}
	s.kept[text] = st
	return st, nil
}

func (s *statements) exec(ctx context.Context, text string, args ...any) error {
	st, err := s.get(ctx, text)
	if err != nil {
		return err
	}
	_, err = st.ExecContext(ctx, args...)
	return err
}

func (s *statements) row(ctx context.Context, text string, args ...any) scanner {
	st, err := s.get(ctx, text)
	if err != nil {
		return failedRow{err}
	}
	return st.QueryRowContext(ctx, args...)
}

func (s *statements) rows(ctx context.Context, text string, args ...any) (*sql.Rows, error) {
	st, err := s.get(ctx, text)
	if err != nil {
		return nil, err
	}
	return st.QueryContext(ctx, args...)
}

func (s *statements) close() {
	for _, st := range s.kept {
		st.Close()
	}
	s.kept = nil
}

// scanner is a row, or a row that could not be asked for.
type scanner interface{ Scan(dest ...any) error }

type failedRow struct{ err error }

func (f failedRow) Scan(...any) error { return f.err }
