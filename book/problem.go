package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"runtime"
	"strings"
	"syscall"
	"time"

	"modernc.org/sqlite"
	lib "modernc.org/sqlite/lib"
)

// problem turns what the database or the system said into a message of ours with a remedy. Errors that are ours
// already, and those of a context, pass through.
func (b *Book) problem(err error) error {
	p := problemAt(b.path, err)
	if p == err && b.base.gone(err) { // what a broken connection says, which elsewhere means something else
		return &Problem{Where: b.path, What: ErrAway, Remedy: comesBack, Cause: err}
	}
	if p != nil && fatal(err) {
		b.broken.CompareAndSwap(nil, &p)
	}
	return p
}

// Damage is what keeps the book from being written, or nil. Once something of the database could not be read, nothing
// more is recorded until the book is opened again: what is added to a damaged file may be lost with it.
func (b *Book) Damage() error {
	if p := b.broken.Load(); p != nil {
		return *p
	}
	return nil
}

// lookingTime bounds the look through a book at its opening. 100 MB of events take about a second on a small machine;
// what is not reached is found when it is read.
const lookingTime = 2 * time.Second

// lookThrough lets SQLite look through its pages, so that damage is known before anything is added to them.
func (b *Book) lookThrough(ctx context.Context) {
	ctx, cancel := context.WithTimeout(ctx, lookingTime)
	defer cancel()
	var found string
	err := b.readers.QueryRowContext(ctx, `PRAGMA quick_check(1)`).Scan(&found)
	if err == nil && found != "ok" && !strings.Contains(found, "FTS5") { // the search index can be rebuilt
		err = fmt.Errorf("%w: %s", errUnreadable, strings.Join(strings.Fields(found), " "))
	}
	_ = b.problem(err) // kept there
}

// errUnreadable says that the database gave something that no book holds.
var errUnreadable = errors.New("content that cannot be read")

// unreadable marks an error of Scan as such: a column holds what was never put there.
func unreadable(err error) error {
	if err != nil && strings.HasPrefix(err.Error(), "sql: Scan error") {
		return fmt.Errorf("%w: %w", errUnreadable, err)
	}
	return err
}

// toRestore is the way back from damage. Restore takes each event over by itself where pages are damaged.
const toRestore = "nothing more is recorded in it; restore this very file with phasewright book restore FILE " +
	"NEW.book, which keeps all where every event can still be read, and where that is refused restore the last backup"

func problemAt(where string, err error) error {
	if err == nil {
		return nil
	}
	if what, remedy := diagnose(err); what != nil {
		if (what == ErrDisk || what == ErrReadOnly) && !isPostgres(err) {
			if w, r := obstacle(where); w != nil {
				what, remedy = w, r
			}
		}
		return &Problem{Where: where, What: what, Remedy: remedy, Cause: err}
	}
	return err
}

// Problem is an error of the disk or the database with what to do about it. errors.Is finds What and Cause.
type Problem struct {
	Where  string // path
	What   error  // one of the sentinel errors
	Remedy string
	Cause  error
}

func (p *Problem) Error() string {
	return fmt.Sprintf("%s – %v – %s (%v)", p.Where, p.What, p.Remedy, p.Cause)
}

// Unwrap gives What and Cause.
func (p *Problem) Unwrap() []error { return []error{p.What, p.Cause} }

func diagnose(err error) (what error, remedy string) {
	var ours *Problem
	if errors.As(err, &ours) {
		return nil, ""
	}
	var s *sqlite.Error
	switch {
	case errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded):
		return nil, ""
	case isPostgres(err):
		return diagnosePostgres(err)
	case errors.As(err, &s):
		if lostSchema(s) {
			return ErrDamaged, toRestore
		}
		return diagnoseCode(s.Code())
	case errors.Is(err, errHeld):
		return ErrInUse, "close the other program, or use its page in the browser; it may have the " +
			"book open by another name"
	case errors.Is(err, errUnreadable):
		return ErrDamaged, toRestore
	case errors.Is(err, errNoMark):
		return ErrNotBook, "give another path; nothing was changed"
	case errors.Is(err, sql.ErrConnDone) || err.Error() == "sql: database is closed":
		return ErrClosed, "open it again"
	case errors.Is(err, fs.ErrClosed):
		return ErrClosed, "open it again"
	case errors.Is(err, syscall.EIO):
		return ErrDisk, "stop, check the disk, and restore the last backup if phasewright book check finds damage"
	}
	if what, remedy := diagnosePostgres(err); what != nil {
		return what, remedy
	}
	return denied(err)
}

func diagnoseCode(code int) (what error, remedy string) {
	if code == lib.SQLITE_CORRUPT_VTAB {
		return ErrDamaged, "phasewright book rebuild makes it anew: only the search index is damaged, " +
			"nothing recorded is"
	}
	switch code & 0xff {
	case lib.SQLITE_FULL:
		return ErrFull, makeRoom
	case lib.SQLITE_READONLY, lib.SQLITE_PERM, lib.SQLITE_CANTOPEN:
		return ErrReadOnly, openWhich
	case lib.SQLITE_BUSY, lib.SQLITE_LOCKED:
		return ErrInUse, "close the other program, or use its page in the browser"
	case lib.SQLITE_CORRUPT:
		return ErrDamaged, toRestore
	case lib.SQLITE_NOTADB:
		return ErrNotBook, "give another path, or restore the last backup; nothing was changed"
	case lib.SQLITE_IOERR:
		return ErrDisk, "stop, check the disk, and restore the last backup if phasewright book check finds damage"
	}
	return nil, ""
}

// fatal reports whether the file can no longer be trusted with new events.
func fatal(err error) bool {
	var s *sqlite.Error
	if !errors.As(err, &s) {
		what, _ := diagnosePostgres(err)
		return errors.Is(err, errUnreadable) || what == ErrDamaged
	}
	switch s.Code() & 0xff {
	case lib.SQLITE_CORRUPT, lib.SQLITE_NOTADB:
		return s.Code() != lib.SQLITE_CORRUPT_VTAB // the search index can be rebuilt
	case lib.SQLITE_IOERR: // after a failed sync nobody knows what the disk holds
		switch s.Code() {
		case lib.SQLITE_IOERR_FSYNC, lib.SQLITE_IOERR_DIR_FSYNC, lib.SQLITE_IOERR_READ, lib.SQLITE_IOERR_SHORT_READ,
			lib.SQLITE_IOERR_CORRUPTFS:
			return true
		}
	}
	return lostSchema(s)
}

// lostSchema reports whether a table or column of ours is gone: our statements fit every book.
func lostSchema(s *sqlite.Error) bool {
	return s.Code() == lib.SQLITE_ERROR && (strings.Contains(s.Error(), "no such table") ||
		strings.Contains(s.Error(), "no such column"))
}

// syncDir makes new names in a folder outlive a power cut. Windows has no such call and needs none.
func syncDir(dir string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

func isSQLite(err error) bool {
	var s *sqlite.Error
	return errors.As(err, &s)
}
