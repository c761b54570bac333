package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// Restore copies the backup at from to a new book at to, brings it up to date and checks it. The backup itself is only
// read. It never writes over a book, and the new one gets its name last. Where from is damaged, each event is taken
// over by itself: that saves everything unless the damage is in the events.
//
// Errors: ErrExists, ErrDamaged when the backup's events are not sound, and those of Open and Backup, ErrIncomplete
// among them.
func Restore(ctx context.Context, from, to string) error {
	if InPostgres(to) {
		return restoreInto(ctx, from, to)
	}
	to, err := filepath.Abs(to)
	if err != nil {
		return fmt.Errorf("%s – cannot be written – give another path: %w", to, err)
	}
	for _, p := range []string{to, to + "-wal", to + ".files"} {
		if err := mustBeFree(p); err != nil {
			return err
		}
	}
	temp := to + ".restoring"
	defer func() {
		removeBook(temp)
		os.RemoveAll(temp + ".files")
		os.Remove(temp + ".lock")
	}()
	partly, err := restoreBy(ctx, copyBackup, from, temp)
	if errors.Is(err, ErrDamaged) {
		partly, err = restoreBy(ctx, copyEvents, from, temp)
	}
	if err != nil {
		return err
	}
	if _, err := os.Stat(temp + ".files"); err == nil {
		if err := os.Rename(temp+".files", to+".files"); err != nil {
			return problemAt(to, err)
		}
	}
	if err := os.Rename(temp, to); err != nil {
		return problemAt(to, err)
	}
	if l := (*lacking)(nil); errors.As(partly, &l) {
		l.path = to // it was made by another name
	}
	return errors.Join(partly, problemAt(to, syncDir(filepath.Dir(to))))
}

// restoreInto proves a backup as a file first, and copies it into an empty book in PostgreSQL then.
func restoreInto(ctx context.Context, from, to string) error {
	dir, err := os.MkdirTemp("", "phasewright-*")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	proved := filepath.Join(dir, "proved.book")
	partly := Restore(ctx, from, proved)
	if partly != nil && !errors.Is(partly, ErrIncomplete) {
		return partly
	}
	b, err := Open(ctx, proved, Options{Access: ReadOnly})
	if err != nil {
		return err
	}
	target, err := Open(ctx, to, Options{Quota: 1 << 62, MaxFile: 1 << 62})
	if err != nil {
		return errors.Join(err, b.Close())
	}
	return errors.Join(b.Copy(ctx, target, nil), target.Close(), b.Close())
}

// restoreBy makes the copy and proves it. partly is ErrIncomplete where attachments are lacking.
func restoreBy(ctx context.Context, transfer func(ctx context.Context, from, to string) error, from,
	to string) (partly, err error) {
	removeBook(to) // of an earlier try
	if err := os.RemoveAll(to + ".files"); err != nil {
		return nil, problemAt(to, err)
	}
	partly = transfer(ctx, from, to)
	if partly != nil && !errors.Is(partly, ErrIncomplete) {
		return nil, partly
	}
	return partly, proveCopy(ctx, from, to)
}

// copyEvents makes a new book of the events alone, which are read in the order of the table and by no index, and
// derives the rest from them.
func copyEvents(ctx context.Context, from, to string) error {
	b, err := open(ctx, from, Options{Access: ReadOnly}, anySchema)
	if err != nil {
		return err
	}
	defer b.Close()
	var given int64 // the highest number ever given, so that events missing at the end are missed
	if err := b.readers.QueryRowContext(ctx,
		`SELECT seq FROM sqlite_sequence WHERE name = 'events'`).Scan(&given); err != nil {
		return b.problem(unreadable(err))
	}
	columns := selected
	if b.schema < 4 {
		columns = eventColumns + `, ''`
	}
	rows, err := b.readers.QueryContext(ctx, `SELECT `+columns+` FROM events NOT INDEXED ORDER BY seq`)
	if err != nil {
		return b.problem(err)
	}
	defer rows.Close()
	db := database(to, "rwc", "synchronous(full)")
	defer db.Close()
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return problemAt(to, err)
	}
	defer tx.Rollback() // does nothing after the commit
	for _, s := range steps {
		if _, err := tx.ExecContext(ctx, s.sql); err != nil {
			return problemAt(to, err)
		}
	}
	insert, err := tx.PrepareContext(ctx,
		`INSERT INTO events (`+eventColumns+`) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`)
	if err != nil {
		return problemAt(to, err)
	}
	for rows.Next() {
		e, err := scanEvent(rows)
		if err != nil {
			return b.problem(err)
		}
		key := sql.NullString{String: e.Key, Valid: e.Key != ""}
		_, err = insert.ExecContext(ctx, e.Seq, e.Job, int64(e.Version), toMicros(e.At), e.Who, string(e.Kind), key,
			string(e.stored()), e.Back, e.Prev[:], e.Hash[:])
		if err == nil {
			err = savePersonal(ctx, direct{tx, oneFile{}}, e)
		}
		if err != nil {
			return problemAt(to, err)
		}
	}
	if err := rows.Err(); err != nil {
		return b.problem(err)
	}
	if _, err := tx.ExecContext(ctx, `UPDATE sqlite_sequence SET seq = ? WHERE name = 'events'`, given); err != nil {
		return problemAt(to, err)
	}
	if b.schema < 4 {
		if err := sealAll(ctx, direct{tx, oneFile{}}, b.random); err != nil {
			return problemAt(to, err)
		}
	}
	if _, err := refill(ctx, direct{tx, oneFile{}}); err != nil {
		return problemAt(to, err)
	}
	if _, err := tx.ExecContext(ctx, fmt.Sprintf(`PRAGMA application_id = %d; PRAGMA user_version = %d`, applicationID,
		latest())); err != nil {
		return problemAt(to, err)
	}
	if err := tx.Commit(); err != nil {
		return problemAt(to, err)
	}
	bad, err := b.copyFiles(ctx, to, to+".files")
	if err != nil {
		return problemAt(to, err)
	}
	return incomplete(to, bad)
}

func copyBackup(ctx context.Context, from, to string) error {
	b, err := open(ctx, from, Options{Access: ReadOnly}, anySchema)
	if err != nil {
		return err
	}
	defer b.Close()
	return b.Backup(ctx, to)
}

// proveCopy brings the copy up to date and looks through its database; the attachments were checked while they were
// copied.
func proveCopy(ctx context.Context, from, copied string) error {
	b, err := Open(ctx, copied, Options{})
	if err != nil {
		return err
	}
	c := b.checker(ctx)
	err = c.run(c.structure, c.schema, c.numbering, c.events, c.spareRows, c.index)
	if err = errors.Join(err, b.Close()); err != nil {
		return err
	}
	if len(c.report.Problems) > 0 {
		return fmt.Errorf("%s – %w – take another backup; found: %s", from, ErrDamaged,
			strings.Join(c.report.Problems, "; "))
	}
	return nil
}
