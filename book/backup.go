package book

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"modernc.org/sqlite"
)

// backupPages is how many database pages are copied between two looks at the context.
const backupPages = 1024

// Backup copies the book, while in use, to a new file at path, and the attachments it names to path.files. The copy is
// a book itself, as it stood at one moment. The file gets its name last: a backup that broke off leaves no file at
// path.
//
// Errors: ErrExists when path is there already, ErrFull, ErrReadOnly. With ErrIncomplete the backup was made, but lacks
// the attachments that are missing or damaged in the book itself.
func (b *Book) Backup(ctx context.Context, path string) error { return b.base.backup(ctx, b, path) }

func (b *Book) backupFile(ctx context.Context, path string) error {
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
	done := false
	defer func() {
		if !done {
			removeBook(temp)
			os.RemoveAll(path + ".files")
		}
	}()
	removeBook(temp) // of an earlier try
	if err := b.copyDatabase(ctx, temp); err != nil {
		if what, _ := diagnose(err); what == ErrDamaged {
			return b.problem(err) // the copy is fresh: it is the book
		}
		return problemAt(path, err)
	}
	// Files are stored before the event that names them and never change, so those the copy names are all there.
	bad, err := b.copyFiles(ctx, temp, path+".files")
	if err != nil {
		return problemAt(path, err)
	}
	if err := mustBeFree(path); err != nil {
		return err
	}
	if err := os.Rename(temp, path); err != nil {
		return problemAt(path, err)
	}
	done = true
	if err := syncDir(filepath.Dir(path)); err != nil {
		return problemAt(path, err)
	}
	return incomplete(path, bad)
}

func incomplete(path string, bad []string) error {
	if len(bad) == 0 {
		return nil
	}
	return &lacking{path, bad}
}

// lacking says which attachments a copy lacks.
type lacking struct {
	path string
	bad  []string
}

func (l *lacking) Error() string {
	return fmt.Sprintf("%s – %v of %d attachments – all else is there; look for these in older backups: %s", l.path,
		ErrIncomplete, len(l.bad), strings.Join(l.bad, "; "))
}

func (l *lacking) Unwrap() error { return ErrIncomplete }

func mustBeFree(path string) error {
	if _, err := os.Lstat(path); err == nil {
		return fmt.Errorf("%s – %w – give another name, or move it away first", path, ErrExists)
	} else if !errors.Is(err, fs.ErrNotExist) {
		return problemAt(path, err)
	}
	return nil
}

func removeBook(path string) {
	for _, end := range []string{"", "-wal", "-shm", "-journal"} {
		os.Remove(path + end)
	}
}

// copyDatabase uses SQLite's online backup inside one read transaction, so that writers neither wait nor make it begin
// again.
func (b *Book) copyDatabase(ctx context.Context, to string) error {
	conn, err := b.readers.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	if _, err := conn.ExecContext(ctx, `BEGIN`); err != nil {
		return err
	}
	defer conn.ExecContext(context.Background(), `ROLLBACK`)
	var n int
	if err := conn.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_schema`).Scan(&n); err != nil {
		// begins the snapshot
		return err
	}
	err = conn.Raw(func(driver any) error {
		copying, err := driver.(interface {
			NewBackup(string) (*sqlite.Backup, error)
		}).NewBackup(dsn(to, "rwc"))
		if err != nil {
			return err
		}
		for more := true; more && err == nil; {
			if err = ctx.Err(); err == nil {
				more, err = copying.Step(backupPages)
			}
		}
		return errors.Join(err, copying.Finish())
	})
	if err != nil {
		return err
	}
	return onePlainFile(ctx, to, b.schema)
}

// onePlainFile leaves a database without a log beside it, and has it on disk.
func onePlainFile(ctx context.Context, path string, schema int) error {
	db := database(path, "rw", "synchronous(full)")
	var mode string
	err := db.QueryRowContext(ctx, `PRAGMA journal_mode = delete`).Scan(&mode)
	if err == nil && schema >= 3 {
		_, err = db.ExecContext(ctx, `UPDATE custody SET in_use = 0`)
	}
	if err == nil && schema >= 4 {
		_, err = scour(ctx, direct{db, oneFile{}})
	}
	if err = errors.Join(err, db.Close()); err != nil {
		return err
	}
	return syncFile(path)
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// copyFiles copies every attachment that the database at path names into the store at dir, and checks each on the way.
// bad lists those that are missing or damaged.
func (b *Book) copyFiles(ctx context.Context, path, dir string) (bad []string, err error) {
	db := database(path, "ro", "query_only(on)")
	defer db.Close()
	schema, err := schemaVersion(ctx, db)
	if err != nil {
		return nil, err
	}
	files, err := distinctFiles(ctx, direct{db, oneFile{}}, schema)
	if err != nil || len(files) == 0 {
		return nil, err
	}
	folder, err := openFolder(dir, ReadWrite)
	if err != nil {
		return nil, err
	}
	target := newStore(folder, 0, Options{Quota: 1 << 62, MaxFile: 1 << 62})
	defer func() { err = errors.Join(err, folder.close()) }()
	for _, f := range files {
		err := b.copyFile(ctx, f, target)
		switch {
		case errors.Is(err, ErrDamaged) || errors.Is(err, ErrNoAttachment):
			bad = append(bad, err.Error())
		case err != nil:
			return bad, err
		}
	}
	root, err := folder.ready()
	if err != nil {
		return bad, err
	}
	return bad, root.RemoveAll(incomingDir)
}

func (b *Book) copyFile(ctx context.Context, f fileRow, target *store) error {
	from, _, err := b.store.open(f.SHA256)
	if err != nil {
		return err
	}
	defer from.Close()
	return target.put(ctx, from, f.SHA256, f.Size)
}

// put stores r, which must have the given hash and size.
func (s *store) put(ctx context.Context, r io.Reader, sha Hash, size int64) error {
	g, err := s.stage(ctx, r, size)
	if errors.Is(err, ErrTooLarge) {
		return fmt.Errorf("attachment %s – %w: it is longer than %d bytes – restore it from a backup", sha,
			ErrDamaged, size)
	}
	if err != nil {
		return err
	}
	defer g.discard()
	if g.sha != sha || g.size != size {
		return fmt.Errorf("attachment %s – %w: its content has changed – restore it from a backup", sha, ErrDamaged)
	}
	_, err = g.name()
	return err
}

// distinctFiles gives every file that a book keeps, once.
func distinctFiles(ctx context.Context, x executor, schema int) ([]fileRow, error) {
	rows, err := x.rows(ctx, `SELECT DISTINCT 0, sha256, '', '', size, 0 FROM files WHERE `+keeps(schema)+
		` ORDER BY sha256`)
	if err != nil {
		return nil, err
	}
	return collect(rows, scanFile)
}

// keeps is the condition for a row of the table files whose content was not thrown away, which no book could before
// schema 3.
func keeps(schema int) string {
	if schema < 3 {
		return "true"
	}
	return "discarded = 0"
}
