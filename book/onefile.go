package book

import (
	"context"
	"strings"
)

// oneFile is a book in one file. Opening and closing it, its lock and what tells that it was copied stand in open.go,
// identity.go and custody.go.
type oneFile struct{}

func (oneFile) text(statement string) string { return statement }

func (oneFile) open(ctx context.Context, b *Book, opt Options) error { return b.openFile(ctx, opt) }

func (oneFile) close(b *Book) []error { return b.closeFile() }

func (oneFile) begin(ctx context.Context, x executor) error { return x.exec(ctx, `BEGIN IMMEDIATE`) }

func (oneFile) finish(context.Context, executor, int) error { return nil }

func (oneFile) pending([]Hash) {}

func (oneFile) void([]Hash) {}

func (oneFile) holds(context.Context, executor, Hash) (bool, error) { return true, nil }

func (oneFile) scour(ctx context.Context, x executor) (bool, error) { return scour(ctx, x) }

// idle empties the log, so that whoever copies the file alone gets most of it. SQLite does so by itself at last.
func (oneFile) idle(x executor) { _ = x.exec(context.Background(), `PRAGMA wal_checkpoint(passive)`) }

func (oneFile) gone(error) bool { return false }

func (oneFile) index(ctx context.Context, x executor, no int64, t jobText) error {
	return x.exec(ctx, `INSERT INTO search (rowid, `+textColumns+`) VALUES (?, ?, ?, ?, ?, ?)`,
		append([]any{no}, t.values()...)...)
}

// unindex names what was indexed, as FTS5 demands of external content.
func (oneFile) unindex(ctx context.Context, x executor, no int64, t jobText) error {
	return x.exec(ctx, `INSERT INTO search (search, rowid, `+textColumns+`) VALUES ('delete', ?, ?, ?, ?, ?, ?)`,
		append([]any{no}, t.values()...)...)
}

func (oneFile) emptyIndex(ctx context.Context, x executor) error {
	return x.exec(ctx, `INSERT INTO search (search) VALUES ('delete-all')`)
}

func (oneFile) search(words []run, others [][]string, q Query, after mark, limit int) (string, []any) {
	also, args := q.chosen()
	args = append(append([]any{match(words, others, q.Shelf)}, args...), after.worked, after.no, limit+1)
	return `SELECT ` + lineColumns + ` FROM (
			SELECT no AS found FROM search CROSS JOIN jobs INDEXED BY jobs_found ON no = search.rowid
			WHERE search MATCH ?` + also + ` AND (worked_at, no) < (?, ?) ORDER BY worked_at DESC, no DESC LIMIT ?)
		CROSS JOIN jobs ON no = found ORDER BY worked_at DESC, no DESC`, args
}

// match makes an FTS5 expression of the words that must be found. Every word is quoted and holds no quotes, so nothing
// typed has a meaning to FTS5.
func match(words []run, others [][]string, shelf Shelf) string {
	var parts []string
	for i, w := range words {
		any := []string{`"` + w.text + `"*`}
		for _, other := range others[i] {
			any = append(any, `"`+other+`"`)
		}
		parts = append(parts, "("+strings.Join(any, " OR ")+")")
	}
	if shelf != Both {
		parts = append(parts, `"`+shelfWord(shelf == Archived)+`"`)
	}
	return strings.Join(parts, " AND ")
}

// moment opens a connection of its own: on one that was checked before, FTS5 compares with the index as it was then and
// sees damage where there is none.
func (s oneFile) moment(ctx context.Context, b *Book) (*statements, func(), error) {
	db := database(b.path, b.readMode, readPragmas...)
	conn, err := db.Conn(ctx)
	if err != nil {
		db.Close()
		return nil, nil, err
	}
	x := &statements{conn: conn, base: s}
	release := func() { // which ends the transaction
		x.close()
		conn.Close()
		db.Close()
	}
	if err := x.exec(ctx, `BEGIN`); err != nil {
		release()
		return nil, nil, err
	}
	return x, release, nil
}

// structure asks SQLite to look through its own pages and indexes.
func (oneFile) structure(c *checker) error {
	rows, err := c.x.rows(c.ctx, `PRAGMA integrity_check(20)`)
	if err != nil {
		return err
	}
	lines, err := collect(rows, scanText)
	if err != nil {
		return err
	}
	for _, l := range lines {
		if l != "ok" {
			c.found("%s – database structure: %s – %s", c.book.path, l, toRestore)
		}
	}
	return nil
}

func scanText(row scanner) (s string, err error) {
	err = row.Scan(&s)
	return s, err
}

// schema compares with what the steps make.
func (oneFile) schema(c *checker) error {
	wanted, err := wantedSchema(c.ctx)
	if err != nil {
		return err
	}
	have, err := readSchema(c.ctx, c.x.conn)
	if err != nil {
		return err
	}
	c.compare(wanted, have)
	return nil
}

// sound compares the search index with its table. FTS5 asks for this as a write, so a book open for reading leaves it
// out.
func (oneFile) sound(c *checker) error {
	if c.book.access == ReadOnly {
		c.report.Notices = append(c.report.Notices, c.book.path+" – search index not compared – phasewright book "+
			"rebuild makes it anew")
		return nil
	}
	return c.book.do(c.ctx, func(ctx context.Context, w *writer) ([]Change, error) {
		if err := w.stmt.exec(ctx, `INSERT INTO search (search, rank) VALUES ('integrity-check', 1)`); err != nil {
			c.found("%s – search index does not fit its table (%v) – %s", c.book.path, err, toRebuild)
		}
		return nil, nil
	})
}

func (oneFile) given(ctx context.Context, x executor) (n int64, err error) {
	err = x.row(ctx, `SELECT coalesce((SELECT seq FROM sqlite_sequence WHERE name = 'events'), 0)`).Scan(&n)
	return n, err
}

// anew drops the derived tables and makes them by the steps, so that a damaged one is whole again.
func (oneFile) anew(ctx context.Context, x executor) (now, before string, err error) {
	wanted, err := wantedSchema(ctx)
	if err != nil {
		return "", "", err
	}
	for _, t := range comparedTables {
		if err := x.exec(ctx, `CREATE TEMP TABLE before_`+t+` AS SELECT * FROM main.`+t); err != nil {
			return "", "", err
		}
	}
	for _, t := range derivedTables {
		if err := x.exec(ctx, `DROP TABLE main.`+t); err != nil {
			return "", "", err
		}
	}
	for _, o := range wanted {
		if o.derived() && o.sql != "" {
			if err := x.exec(ctx, o.sql); err != nil {
				return "", "", err
			}
		}
	}
	return "main.", "temp.before_", nil
}

func (oneFile) bytes(ctx context.Context, x executor) (n int64, err error) {
	err = x.row(ctx, `SELECT (SELECT page_count FROM pragma_page_count) * (SELECT page_size FROM pragma_page_size)`).Scan(&n)
	return n, err
}

func (oneFile) backup(ctx context.Context, b *Book, path string) error {
	return b.backupFile(ctx, path)
}
