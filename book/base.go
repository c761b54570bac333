package book

import (
	"context"
	"database/sql"
)

// base is where a book lies, and all that differs between the two kinds: a file of SQLite, a database of PostgreSQL.
// All else, tables, statements and what is derived, is the same in both.
type base interface {
	// text gives a statement of ours as this base reads it. Ours have question marks for values.
	text(statement string) string
	open(ctx context.Context, b *Book, opt Options) error
	close(b *Book) []error

	// begin lets a transaction that writes begin and keeps all others out until it ends; finish goes before its commit
	// and is told how many events it made.
	begin(ctx context.Context, x executor) error
	finish(ctx context.Context, x executor, made int) error
	// pending is told of events before their commit, and of those that came to nothing.
	pending(heads []Hash)
	void(heads []Hash)
	// scour takes away what was erased and the base may still hold; done is false where it has to be tried again.
	scour(ctx context.Context, x executor) (done bool, err error)
	// idle is told when nothing came for a while.
	idle(x executor)
	// gone reports whether an error means that the base went away in the middle and may come back.
	gone(err error) bool

	// index and unindex keep the search index in step with the table job_text; emptyIndex empties it.
	index(ctx context.Context, x executor, no int64, t jobText) error
	unindex(ctx context.Context, x executor, no int64, t jobText) error
	emptyIndex(ctx context.Context, x executor) error
	// search makes the statement that finds jobs by words, each by its beginning or as one of others that stand for it.
	search(words []run, others [][]string, q Query, after mark, limit int) (statement string, values []any)

	// moment gives an executor on which all that is read is of one moment, until release.
	moment(ctx context.Context, b *Book) (x *statements, release func(), err error)
	// structure, schema and sound are parts of a check; given is the highest number that an event ever got.
	structure(c *checker) error
	schema(c *checker) error
	sound(c *checker) error
	given(ctx context.Context, x executor) (int64, error)
	// anew empties the derived tables for Rebuild, and keeps what they held in tables of the name that before gives.
	anew(ctx context.Context, x executor) (now, before string, err error)

	bytes(ctx context.Context, x executor) (int64, error) // that the tables take
	// holds reports whether a content that was there is there still, where others may take it away.
	holds(ctx context.Context, x executor, sha Hash) (bool, error)
	backup(ctx context.Context, b *Book, path string) error
}

// executor runs statements of ours: the writer's kept ones, a pool's, or those of a transaction.
type executor interface {
	exec(ctx context.Context, text string, args ...any) error
	row(ctx context.Context, text string, args ...any) scanner
	rows(ctx context.Context, text string, args ...any) (*sql.Rows, error)
	on() base
}

// runner is what a pool, a connection and a transaction of database/sql have in common.
type runner interface {
	ExecContext(ctx context.Context, text string, args ...any) (sql.Result, error)
	QueryRowContext(ctx context.Context, text string, args ...any) *sql.Row
	QueryContext(ctx context.Context, text string, args ...any) (*sql.Rows, error)
}

// direct makes an executor of a runner.
type direct struct {
	runner
	base base
}

func (d direct) on() base { return d.base }

func (d direct) exec(ctx context.Context, text string, args ...any) error {
	_, err := d.ExecContext(ctx, d.base.text(text), args...)
	return err
}

func (d direct) row(ctx context.Context, text string, args ...any) scanner {
	return d.QueryRowContext(ctx, d.base.text(text), args...)
}

func (d direct) rows(ctx context.Context, text string, args ...any) (*sql.Rows, error) {
	return d.QueryContext(ctx, d.base.text(text), args...)
}

// read is for single statements that change nothing.
func (b *Book) read() executor { return direct{b.readers, b.base} }
