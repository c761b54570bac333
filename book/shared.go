package book

import (
	"context"
	"fmt"
	"time"
)

// Several reports whether several programs may have the book open for writing at once, and so share what belongs to
// their pages too: Shared and ChangeShared keep it.
func (b *Book) Several() bool { return InPostgres(b.path) }

func (b *Book) onlyOne() error {
	return fmt.Errorf("%s – %w: only a book in PostgreSQL is shared by several programs", b.path, ErrBadInput)
}

// Shared gives a value that the programs on this book share, "" where nothing was kept.
func (b *Book) Shared(ctx context.Context, name string) (value string, err error) {
	if !b.Several() {
		return "", b.onlyOne()
	}
	err = b.read().row(ctx, `SELECT coalesce((SELECT value FROM shared WHERE name = ?), '')`, name).Scan(&value)
	return value, b.problem(err)
}

// ChangeShared lets change make another value of one that programs share, while none of the others can. After an error
// of change, all stays as it was.
func (b *Book) ChangeShared(ctx context.Context, name string, change func(value string) (string, error)) error {
	if !b.Several() || b.access == ReadOnly {
		return b.onlyOne()
	}
	tx, err := b.writing.BeginTx(ctx, nil)
	if err != nil {
		return b.problem(err)
	}
	defer tx.Rollback() // does nothing after the commit
	x := direct{tx, b.base}
	var value string
	// Adding to the version locks the row, whether it was there or not.
	err = x.row(ctx, `INSERT INTO shared AS s (name, version, value) VALUES (?, 1, '')
		ON CONFLICT (name) DO UPDATE SET version = s.version + 1 RETURNING value`, name).Scan(&value)
	if err != nil {
		return b.problem(err)
	}
	if value, err = change(value); err != nil {
		return err
	}
	if err := x.exec(ctx, `UPDATE shared SET value = ? WHERE name = ?`, value, name); err != nil {
		return b.problem(err)
	}
	return b.problem(tx.Commit())
}

// Claim takes a piece of work for this program for so long, or lengthens its claim on it; false means that another one
// has it. What a program that died had claimed is free when its time is over. On a book in one file it is always this
// program's.
func (b *Book) Claim(ctx context.Context, work string, life time.Duration) (bool, error) {
	p, ok := b.base.(*postgres)
	if !ok {
		return true, nil
	}
	var mine bool
	err := direct{b.writing, p}.row(ctx, `WITH taken AS (INSERT INTO claims AS c (name, server, until)
			VALUES (?1, ?2, now() + CAST(?3 AS bigint) * interval '1 millisecond')
			ON CONFLICT (name) DO UPDATE SET server = excluded.server, until = excluded.until
				WHERE c.server = excluded.server OR c.until < now() RETURNING 1)
		SELECT EXISTS (SELECT 1 FROM taken)`, work, p.server, life.Milliseconds()).Scan(&mine)
	return mine, b.problem(err)
}

// Claimed is a piece of work that some program has claimed.
type Claimed struct {
	Work string
	Over bool // whoever had it was silent for too long: it may be dead
}

// Claims gives the pieces of work whose names begin so, with those of this program; none on a book in one file.
func (b *Book) Claims(ctx context.Context, begin string) ([]Claimed, error) {
	if !b.Several() {
		return nil, nil
	}
	rows, err := b.read().rows(ctx, `SELECT name, until < now() FROM claims WHERE name >= ? AND name < ? ORDER BY name`,
		begin, begin+"\U0010ffff")
	if err != nil {
		return nil, b.problem(err)
	}
	all, err := collect(rows, func(row scanner) (c Claimed, err error) {
		err = row.Scan(&c.Work, &c.Over)
		return c, err
	})
	return all, b.problem(err)
}

// Unclaim lets a piece of work go that is done.
func (b *Book) Unclaim(ctx context.Context, work string) error {
	p, ok := b.base.(*postgres)
	if !ok {
		return nil
	}
	return b.problem(direct{b.writing, p}.exec(ctx, `DELETE FROM claims WHERE name = ? AND server = ?`, work, p.server))
}
