package book

import (
	"context"
	"fmt"
	"os"
)

// A book that is open for writing says so in its own file: custody.in_use is 1 there from the opening to the closing,
// and the log beside the file then holds at least that. A file that says it is in use and has no log beside it was
// copied without: what was in the log is not in the copy.

// alone reports whether there is no log with anything in it beside the book.
func (b *Book) alone() bool {
	log, err := os.Stat(b.path + "-wal")
	return err != nil || log.Size() == 0
}

// mustBeWhole refuses a copy that lacks what was in the log. Restore takes over what there is.
func (b *Book) mustBeWhole(ctx context.Context, q rowQuerier) error {
	if b.accepts == anySchema {
		return nil
	}
	for range 2 { // a writer that closes between the two looks has put out the mark at the second
		var inUse bool
		err := q.QueryRowContext(ctx, `SELECT in_use FROM custody`).Scan(&inUse)
		if err != nil || !inUse || !b.alone() { // whatever else is wrong is found and said elsewhere
			return nil
		}
	}
	return fmt.Errorf("%s – is %w, without the log beside it: its latest entries may be missing – copy a book with "+
		"phasewright book backup; phasewright book restore %[1]s NEW.book makes a book of what this copy holds", b.path,
		ErrCopied)
}

// takeCustody marks the book's file as in use. Where that cannot be written, a full disk say, the next entry says so.
func (b *Book) takeCustody(ctx context.Context) {
	if _, err := b.writing.ExecContext(ctx, `UPDATE custody SET in_use = 1`); err != nil {
		return
	}
	b.marked = true
	_, _ = b.writing.ExecContext(ctx, `PRAGMA wal_checkpoint(passive)`) // from the log into the file
}

// giveCustody takes the mark away. The log is emptied first, so that a full disk has room for it.
func (b *Book) giveCustody() {
	if b.marked {
		_, _ = b.writing.Exec(`PRAGMA wal_checkpoint(passive)`)
		_, _ = b.writing.Exec(`UPDATE custody SET in_use = 0`)
	}
}
