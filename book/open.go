package book

import (
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	_ "modernc.org/sqlite"
)

// Book is an open shop book. Its methods may be called from many goroutines.
type Book struct {
	base    base
	path    string // its real name, links followed; that of a database without a password
	access  Access
	accepts accepts
	schema  int // as it was opened
	clock   func() time.Time
	judge   func([]Event) error // of Options; nil: none

	readers  *sql.DB // several connections, none can write
	readMode string  // how they open the file
	writing  *sql.DB // one connection, nil with ReadOnly
	lock     *sql.DB // holds path.lock as long as the book is open for writing
	release  func()  // lets the file itself go
	made     bool    // the file was not there before
	bare     bool    // nor was its folder of attachments
	spoilt   bool    // it was made and could not be filled
	marked   bool    // its file says that it is in use
	broken   atomic.Pointer[error]
	writer   *writer
	store    *store
	hub      hub

	randomMu sync.Mutex
	random   io.Reader

	closing sync.Once
	closed  error
}

// Open opens the book at path, a single file; attachments lie beside it in path.files. With ReadWrite a missing book is
// made and one of an earlier schema is brought up to date, each step in one transaction. Whatever name or link a book
// is opened by, it is one book.
//
// A path that begins with postgres:// names a database of PostgreSQL, in which everything lies; several programs may
// have it open for writing at once.
//
// Errors: fs.ErrNotExist, ErrInUse, ErrOtherName, ErrReadOnly, ErrNotBook, ErrNewer, ErrOlder (ReadOnly), ErrDamaged,
// ErrFull, ErrCopied, ErrAway.
func Open(ctx context.Context, path string, opt Options) (*Book, error) {
	return open(ctx, path, opt, latestSchema)
}

// accepts says which schemas a reader takes.
type accepts int

const (
	latestSchema accepts = iota
	anySchema            // older ones too, to copy them
)

func open(ctx context.Context, path string, opt Options, r accepts) (*Book, error) {
	b := &Book{path: path, access: opt.Access, accepts: r, clock: opt.Clock, judge: opt.Judge, random: opt.Random}
	if InPostgres(path) {
		p, err := newPostgres(path)
		if err != nil {
			return nil, err
		}
		b.base, b.path = p, p.name
	} else {
		name, err := realName(path)
		if err != nil {
			return nil, fmt.Errorf("%s – cannot be opened – give another path: %w", path, err)
		}
		b.base, b.path = oneFile{}, name
	}
	if b.clock == nil {
		b.clock = time.Now
	}
	if b.random == nil {
		b.random = rand.Reader
	}
	if err := b.base.open(ctx, b, opt); err != nil {
		b.spoilt = b.made
		_ = b.Close() // the first error says more
		return nil, err
	}
	return b, nil
}

func (b *Book) openFile(ctx context.Context, opt Options) error {
	info, err := os.Stat(b.path)
	switch {
	case err == nil && info.IsDir():
		return fmt.Errorf("%s – %w: it is a folder – give a file name", b.path, ErrNotBook)
	case errors.Is(err, fs.ErrNotExist) && b.access == ReadOnly:
		return fmt.Errorf("%s – no book here – check the path, or start one by opening it for writing: %w", b.path,
			fs.ErrNotExist)
	case errors.Is(err, fs.ErrNotExist):
		if _, err := os.Stat(filepath.Dir(b.path)); errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("%s – its folder is not there – make the folder first, or check the path: %w", b.path,
				fs.ErrNotExist)
		}
	case err != nil:
		if err := b.problem(err); errors.As(err, new(*Problem)) {
			return err
		}
		return fmt.Errorf("%s – cannot be opened – check the path: %w", b.path, err)
	case !info.Mode().IsRegular():
		return fmt.Errorf("%s – %w: it is a device or a pipe – give another path", b.path, ErrNotBook)
	default:
		if err := b.mustBeHome(); err != nil {
			return err
		}
	}
	// Hold it first: nothing of the file may be touched while another program writes it.
	if b.release, b.made, err = hold(b.path, b.access); err != nil {
		return b.problem(err)
	}
	if b.access == ReadOnly {
		if err := b.openReaders(ctx, "ro"); err != nil {
			return err
		}
	} else {
		if err := b.takeLock(ctx); err != nil {
			return err
		}
		if err := b.openWriter(ctx); err != nil {
			return err
		}
		if err := b.openReaders(ctx, "rw"); err != nil {
			return err
		}
	}
	used, err := fileBytes(ctx, b.read(), b.schema)
	if err = b.problem(err); err != nil && b.Damage() == nil { // a damaged book is still read, and saved from
		return err
	}
	files, err := openFolder(b.path+".files", b.access)
	if err != nil {
		return err
	}
	b.store = newStore(files, used, opt)
	b.bare = files.root == nil
	if b.access == ReadWrite {
		conn, err := b.writing.Conn(ctx)
		if err != nil {
			return b.problem(err)
		}
		b.lookThrough(ctx)
		b.writer = startWriter(conn, b)
	}
	return nil
}

// takeLock holds an exclusive lock on an empty database beside the book until Close. The system lets it go when the
// process dies. Earlier releases know this lock only, and mustBeHome knows the book's name by it.
func (b *Book) takeLock(ctx context.Context) error {
	b.lock = database(b.path+".lock", "rwc", "busy_timeout(0)", "journal_mode(memory)", "locking_mode(exclusive)")
	_, err := b.lock.ExecContext(ctx, `BEGIN EXCLUSIVE`)
	return b.problem(err)
}

func (b *Book) openWriter(ctx context.Context) error {
	b.writing = database(b.path, "rwc", "busy_timeout(10000)", "synchronous(full)", "trusted_schema(off)",
		"cell_size_check(on)")
	if err := b.migrate(ctx); err != nil {
		return err
	}
	var mode string
	if err := b.writing.QueryRowContext(ctx, `PRAGMA journal_mode = wal`).Scan(&mode); err != nil {
		return b.problem(err)
	}
	if mode != "wal" {
		return fmt.Errorf("%s – %w: this disk cannot keep a write-ahead log – put the book on a local disk", b.path,
			ErrReadOnly)
	}
	if err := b.mustBeWhole(ctx, b.writing); err != nil {
		return err
	}
	b.takeCustody(ctx)
	if b.made { // the new name must outlive a power cut as well
		return b.problem(syncDir(filepath.Dir(b.path)))
	}
	return nil
}

var readPragmas = []string{"busy_timeout(10000)", "query_only(on)", "trusted_schema(off)", "cell_size_check(on)"}

func (b *Book) openReaders(ctx context.Context, mode string) error {
	b.readMode = mode
	b.readers = database(b.path, b.readMode, readPragmas...)
	version, err := schemaVersion(ctx, b.readers)
	if err != nil && b.access == ReadOnly {
		version, err = b.withoutLog(ctx, err)
	}
	if err != nil {
		return b.problem(err)
	}
	b.schema = version
	b.readers.SetMaxOpenConns(4)
	b.readers.SetMaxIdleConns(4)
	if err := b.checkVersion(version, b.access); err != nil || b.access == ReadWrite {
		return err
	}
	return b.mustBeWhole(ctx, b.readers)
}

// withoutLog opens a book again that could not be opened for reading beside its log, because the log's shared memory
// cannot be made where nothing can be written. There, nobody else can write the book either. What is still in the log
// would be missed, so a log must not be there.
func (b *Book) withoutLog(ctx context.Context, because error) (version int, err error) {
	what, remedy := obstacle(b.path)
	if what == nil {
		return 0, because
	}
	if log, err := os.Stat(b.path + "-wal"); err == nil && log.Size() > 0 {
		return 0, &Problem{Where: b.path, What: what,
			Remedy: remedy + "; its last events are still in the log beside it, which can only be read then",
			Cause:  because}
	}
	b.readers.Close()
	b.readMode = "ro&immutable=1"
	b.readers = database(b.path, b.readMode, readPragmas...)
	return schemaVersion(ctx, b.readers)
}

// checkVersion refuses what this release cannot read.
func (b *Book) checkVersion(version int, access Access) error {
	switch {
	case version > latest():
		return fmt.Errorf("%s – %w: schema %d, this release knows up to %d – use the newer "+
			"release; nothing was changed", b.path, ErrNewer, version, latest())
	case version < latest() && access == ReadOnly && b.accepts == latestSchema:
		return fmt.Errorf("%s – %w: schema %d, this release reads %d – phasewright book rebuild "+
			"brings it up to date",
			b.path, ErrOlder, version, latest())
	}
	return nil
}

var errNoMark = errors.New("another program's database")

// schemaVersion gives the book's schema version, 0 for an empty database, and errNoMark for a database that is not a
// book.
func schemaVersion(ctx context.Context, db *sql.DB) (int, error) {
	var app, version, tables int
	err := db.QueryRowContext(ctx, `SELECT (SELECT application_id FROM pragma_application_id), (SELECT user_version FROM pragma_user_version),
		(SELECT count(*) FROM sqlite_schema)`).Scan(&app, &version, &tables)
	switch {
	case err != nil:
		return 0, err
	case app == applicationID && version > 0:
		return version, nil
	case app == 0 && version == 0 && tables == 0:
		return 0, nil
	}
	return 0, errNoMark
}

// Path is the real name of the book's file: what belongs to the book lies beside it. Of a book in PostgreSQL it is the
// address of the database without a password, and nothing lies beside it.
func (b *Book) Path() string { return b.path }

// Close ends all subscriptions, waits for what is being written, and lets the file go. A second Close does nothing.
func (b *Book) Close() error {
	b.closing.Do(func() {
		if b.writer != nil {
			b.writer.stop()
		}
		b.hub.close()
		var errs []error
		if b.readers != nil {
			errs = append(errs, b.readers.Close())
		}
		b.closed = errors.Join(append(errs, b.base.close(b)...)...)
	})
	return b.closed
}

func (b *Book) closeFile() (errs []error) {
	if b.writing != nil {
		b.giveCustody()
		if b.writer != nil {
			// Best effort: without it the log is simply read at the next opening.
			_, _ = b.writing.Exec(`PRAGMA wal_checkpoint(truncate)`)
		}
		errs = append(errs, b.writing.Close())
	}
	if b.store != nil {
		errs = append(errs, b.store.kept.close())
	}
	if b.lock != nil {
		errs = append(errs, b.lock.Close())
	}
	if b.spoilt {
		if b.bare {
			os.RemoveAll(b.path + ".files")
		}
		os.Remove(b.path + ".lock")
		removeBook(b.path)
	}
	if b.release != nil {
		b.release()
	}
	return errs
}

// Abandon closes the book, and takes it away again if this opening made it: work that failed leaves no book behind.
func (b *Book) Abandon() error {
	b.spoilt = b.made
	return b.Close()
}

// dsn names the file at path to the driver, whatever characters the path has.
func dsn(path, mode string, pragmas ...string) string {
	slashed := filepath.ToSlash(path)
	if runtime.GOOS == "windows" {
		slashed = "/" + slashed // file:///C:/...
	}
	name := "file://" + (&url.URL{Path: slashed}).EscapedPath() + "?_error_rc=1&mode=" + mode
	for _, p := range pragmas {
		name += "&_pragma=" + url.QueryEscape(p)
	}
	return name
}

// database prepares a pool of one connection for the file at path. Nothing is opened yet.
func database(path, mode string, pragmas ...string) *sql.DB {
	db, err := sql.Open("sqlite", dsn(path, mode, pragmas...))
	if err != nil {
		panic(err) // the driver is linked in and the DSN is ours
	}
	db.SetMaxOpenConns(1)
	db.SetConnMaxIdleTime(0)
	return db
}

// now gives the time to record: at if the caller gave one, else the clock's, in UTC and whole microseconds.
func (b *Book) now(at time.Time) time.Time {
	if at.IsZero() {
		at = b.clock()
	}
	return at.UTC().Truncate(time.Microsecond)
}

func (b *Book) newJobID() (string, error) {
	b.randomMu.Lock()
	defer b.randomMu.Unlock()
	return newID(b.random)
}
