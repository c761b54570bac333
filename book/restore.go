package book

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// Restore copies the backup at from to a new book at to, brings it up to date and checks it. The backup itself is only read. It never writes over a
// book, and the new one gets its name last.
//
// Errors: ErrExists, ErrDamaged when the backup's events are not sound, and those of Open and Backup, ErrIncomplete among them.
func Restore(ctx context.Context, from, to string) error {
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
	removeBook(temp) // of an earlier try
	os.RemoveAll(temp + ".files")
	partly := copyBackup(ctx, from, temp)
	if partly != nil && !errors.Is(partly, ErrIncomplete) {
		return partly
	}
	if err := proveCopy(ctx, from, temp); err != nil {
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
	return errors.Join(partly, problemAt(to, syncDir(filepath.Dir(to))))
}

func copyBackup(ctx context.Context, from, to string) error {
	b, err := open(ctx, from, Options{Access: ReadOnly}, anySchema)
	if err != nil {
		return err
	}
	defer b.Close()
	return b.Backup(ctx, to)
}

// proveCopy brings the copy up to date and looks through its database; the attachments were checked while they were copied.
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
		return fmt.Errorf("%s – %w – take another backup; found: %s", from, ErrDamaged, strings.Join(c.report.Problems, "; "))
	}
	return nil
}
