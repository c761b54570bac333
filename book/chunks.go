package book

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"sync"
	"time"

	"github.com/jackc/pgx/v5/pgconn"
)

const (
	chunkSize  = 1 << 20          // bytes
	filesTime  = 30 * time.Second // a chunk may take
	seenEvery  = time.Minute      // a file on its way says so often that it still is
	givenUp    = time.Hour        // after which one that said nothing is nobody's
	filesAtOne = 8                // connections
)

// chunks keeps files in PostgreSQL: each in pieces of chunkSize, and each piece once, however many files hold it.
// What a program left half sent when it died is swept away later, by whichever comes by.
type chunks struct {
	book *Book
	// loose commits without waiting for the disk: what gives a file its name waits, and all before it is on disk then.
	loose *sql.DB
}

func newChunks(p *postgres, b *Book) *chunks {
	c := &chunks{book: b}
	if b.access == ReadWrite {
		c.loose = p.pool(filesAtOne, ReadWrite, "synchronous_commit", "off")
	}
	return c
}

func (c *chunks) place() string { return c.book.path }

func (c *chunks) close() error {
	if c.loose == nil {
		return nil
	}
	return c.loose.Close()
}

func (c *chunks) scratch() (*os.File, error) { return os.CreateTemp("", "phasewright-*") }

func (c *chunks) used() (n int64, shared bool, err error) {
	ctx, cancel := context.WithTimeout(context.Background(), filesTime)
	defer cancel()
	n, err = fileBytes(ctx, c.book.read(), latest())
	return n, true, c.book.problem(err)
}

func (c *chunks) find(sha Hash) (id string, size int64, err error) {
	ctx, cancel := context.WithTimeout(context.Background(), filesTime)
	defer cancel()
	err = c.book.read().row(ctx, `SELECT id, size FROM contents WHERE sha256 = ?`, sha[:]).Scan(&id, &size)
	if errors.Is(err, sql.ErrNoRows) {
		return "", 0, fmt.Errorf("%s – %w in the store – restore it from a backup", sha, ErrNoAttachment)
	}
	return id, size, c.book.problem(err)
}

func (c *chunks) size(sha Hash) (int64, error) {
	_, size, err := c.find(sha)
	return size, err
}

func (c *chunks) open(sha Hash) (content, int64, error) {
	id, size, err := c.find(sha)
	if err != nil {
		return nil, 0, err
	}
	return &inChunks{book: c.book, sha: sha, id: id, size: size, have: -1}, size, nil
}

// inChunks is a stored file that is open. It holds one chunk.
type inChunks struct {
	book *Book
	sha  Hash
	id   string
	size int64

	mu   sync.Mutex
	at   int64 // where Read goes on
	have int64 // number of the chunk that is held, -1 for none
	data []byte
	shut bool
}

func (r *inChunks) ReadAt(p []byte, off int64) (n int, err error) {
	if off < 0 {
		return 0, fs.ErrInvalid
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.readAt(p, off)
}

func (r *inChunks) readAt(p []byte, off int64) (n int, err error) {
	for n < len(p) {
		if off >= r.size {
			return n, io.EOF
		}
		if err := r.load(off / chunkSize); err != nil {
			return n, err
		}
		part := copy(p[n:], r.data[off%chunkSize:])
		n, off = n+part, off+int64(part)
	}
	return n, nil
}

// load holds a chunk; r.mu is held.
func (r *inChunks) load(no int64) error {
	if r.shut {
		return fs.ErrClosed
	}
	if no == r.have {
		return nil
	}
	ctx, cancel := context.WithTimeout(context.Background(), filesTime)
	defer cancel()
	r.have = -1
	err := r.book.read().row(ctx, `SELECT data FROM pieces JOIN chunks ON sha256 = chunk WHERE content = ? AND no = ?`, r.id,
		no).Scan(&r.data)
	if errors.Is(err, sql.ErrNoRows) {
		return fmt.Errorf("%s – %w: a piece of it is missing – add the same file again, or restore it from a backup",
			r.sha, ErrNoAttachment)
	}
	if err != nil {
		return r.book.problem(err)
	}
	if want := min(chunkSize, r.size-no*chunkSize); int64(len(r.data)) != want {
		return fmt.Errorf("%s – %w: piece %d has %d bytes instead of %d – add the same file again, or restore it from "+
			"a backup", r.sha, ErrDamaged, no, len(r.data), want)
	}
	r.have = no
	return nil
}

func (r *inChunks) Read(p []byte) (n int, err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.at >= r.size {
		return 0, io.EOF
	}
	// As much as the chunk in hand gives: a reader of much gets it chunk by chunk.
	most := min(int64(len(p)), chunkSize-r.at%chunkSize, r.size-r.at)
	n, err = r.readAt(p[:most], r.at)
	r.at += int64(n)
	return n, err
}

func (r *inChunks) Seek(off int64, whence int) (int64, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	switch whence {
	case io.SeekCurrent:
		off += r.at
	case io.SeekEnd:
		off += r.size
	}
	if off < 0 {
		return 0, fs.ErrInvalid
	}
	r.at = off
	return off, nil
}

func (r *inChunks) Close() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.shut, r.data, r.have = true, nil, -1
	return nil
}

// intoChunks is a file on its way. It holds less than one chunk.
type intoChunks struct {
	chunks *chunks
	id     string
	held   []byte
	no     int64
	seen   time.Time
	named  bool
}

func (c *chunks) begin() (arriving, error) {
	w := &intoChunks{chunks: c, id: rand.Text(), held: make([]byte, 0, chunkSize), seen: time.Now()}
	return w, w.exec(`INSERT INTO contents (id, size) VALUES (?, 0)`, w.id)
}

func (w *intoChunks) exec(text string, values ...any) error {
	ctx, cancel := context.WithTimeout(context.Background(), filesTime)
	defer cancel()
	err := direct{w.chunks.loose, w.chunks.book.base}.exec(ctx, text, values...)
	return w.chunks.book.problem(err)
}

func (w *intoChunks) Write(p []byte) (n int, err error) {
	for len(p) > 0 {
		part := min(len(p), chunkSize-len(w.held))
		w.held = append(w.held, p[:part]...)
		if len(w.held) == chunkSize {
			if err := w.flush(); err != nil {
				return n, err
			}
		}
		p, n = p[part:], n+part
	}
	return n, nil
}

// flush stores what is held as the next piece. A chunk that is there is put right where it was damaged.
func (w *intoChunks) flush() error {
	if len(w.held) == 0 {
		return nil
	}
	sum := sha256.Sum256(w.held)
	if err := w.exec(`WITH chunk AS (INSERT INTO chunks (sha256, data) VALUES (?1, ?2)
			ON CONFLICT (sha256) DO UPDATE SET data = excluded.data WHERE chunks.data <> excluded.data)
		INSERT INTO pieces (content, no, chunk) VALUES (?3, ?4, ?1)`, sum[:], w.held, w.id, w.no); err != nil {
		return err
	}
	w.no++
	w.held = w.held[:0]
	if time.Since(w.seen) < seenEvery {
		return nil
	}
	w.seen = time.Now()
	return w.exec(`UPDATE contents SET seen_at = now() WHERE id = ?`, w.id)
}

func (w *intoChunks) settle() error { return w.flush() }

// name waits for the disk. All pieces must have come there: a server that crashed meanwhile may have lost some.
func (w *intoChunks) name(sha Hash, size int64) error {
	ctx, cancel := context.WithTimeout(context.Background(), filesTime)
	defer cancel()
	b := w.chunks.book
	tx, err := b.writing.BeginTx(ctx, nil)
	if err != nil {
		return b.problem(err)
	}
	defer tx.Rollback() // does nothing after the commit
	x := direct{tx, b.base}
	if err := x.exec(ctx, `DELETE FROM contents WHERE sha256 = ?`, sha[:]); err != nil { // one that was damaged
		return b.problem(err)
	}
	var whole bool
	err = x.row(ctx, `UPDATE contents SET sha256 = ?, size = ?, seen_at = now() WHERE id = ?
		RETURNING (SELECT count(*) FROM pieces WHERE content = id) = ?`, sha[:], size, w.id, w.no).Scan(&whole)
	if errors.Is(err, sql.ErrNoRows) || err == nil && !whole {
		return fmt.Errorf("attachment – %w before all of it was stored – send it again", ErrAway)
	}
	if err == nil {
		err = tx.Commit()
	}
	if err != nil {
		return b.problem(err)
	}
	w.named = true
	return nil
}

func (w *intoChunks) discard() {
	if w.named {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), filesTime)
	defer cancel()
	w.named = true
	_ = w.chunks.drop(ctx, direct{w.chunks.loose, w.chunks.book.base}, w.id) // swept later where it stays
}

// drop takes a content away, and the chunks that no other holds.
func (c *chunks) drop(ctx context.Context, x executor, id string) error {
	rows, err := x.rows(ctx, `SELECT chunk FROM pieces WHERE content = ?`, id)
	if err != nil {
		return err
	}
	all, err := collect(rows, scanBytes)
	if err != nil {
		return err
	}
	if err := x.exec(ctx, `DELETE FROM contents WHERE id = ?`, id); err != nil {
		return err
	}
	return c.dropChunks(ctx, all)
}

// dropChunks takes chunks away that no piece holds. Where a file that is just on its way holds one again, the database
// refuses, and the others go one by one.
func (c *chunks) dropChunks(ctx context.Context, all [][]byte) error {
	x := direct{c.loose, c.book.base}
	drop := func(part [][]byte) error {
		values := make([]any, len(part))
		for i := range part {
			values[i] = part[i]
		}
		return x.exec(ctx, `DELETE FROM chunks WHERE sha256 IN (`+places(len(part))+`)
			AND NOT EXISTS (SELECT 1 FROM pieces WHERE chunk = chunks.sha256)`, values...)
	}
	return inParts(all, func(part [][]byte) error {
		err := drop(part)
		var held *pgconn.PgError
		if !errors.As(err, &held) || held.Code != "23503" {
			return err
		}
		for i := range part {
			_ = drop(part[i : i+1])
		}
		return nil
	})
}

// forget takes a content away that no event names; looked at in the turn to write, so that no other server names it
// meanwhile.
func (c *chunks) forget(sha Hash) {
	ctx := context.Background()
	var chunks [][]byte
	err := c.book.do(ctx, func(ctx context.Context, w *writer) ([]Change, error) {
		rows, err := w.stmt.rows(ctx, `SELECT chunk FROM pieces JOIN contents ON id = content WHERE sha256 = ?`, sha[:])
		if err != nil {
			return nil, err
		}
		chunks, err = collect(rows, scanBytes)
		if err != nil {
			return nil, err
		}
		return nil, w.stmt.exec(ctx, `DELETE FROM contents WHERE sha256 = ?1
			AND NOT EXISTS (SELECT 1 FROM files WHERE sha256 = ?1 AND discarded = 0)`, sha[:])
	})
	if err == nil && len(chunks) > 0 {
		_ = c.dropChunks(ctx, chunks)
	}
}

func scanBytes(row scanner) (sha []byte, err error) {
	err = row.Scan(&sha)
	return sha, err
}

// sweep takes away what was on its way and is nobody's any more.
func (c *chunks) sweep(ctx context.Context) error {
	x := direct{c.loose, c.book.base}
	return errors.Join(
		x.exec(ctx, `DELETE FROM contents WHERE sha256 IS NULL AND seen_at < now() - CAST(? AS bigint) * interval '1 second'`,
			int64(givenUp.Seconds())),
		x.exec(ctx, `DELETE FROM chunks WHERE NOT EXISTS (SELECT 1 FROM pieces WHERE chunk = chunks.sha256)`))
}

func (c *chunks) strays(check *checker) error {
	rows, err := check.x.rows(check.ctx, `SELECT sha256 FROM contents WHERE sha256 IS NOT NULL
		AND NOT EXISTS (SELECT 1 FROM files WHERE files.sha256 = contents.sha256 AND discarded = 0)`)
	if err != nil {
		return err
	}
	all, err := collect(rows, scanBytes)
	for _, sha := range all {
		if err == nil {
			err = check.stray(Hash(sha), true, Hash(sha).String())
		}
	}
	return err
}

// holds reports whether a content is there, inside the turn to write.
func (*postgres) holds(ctx context.Context, x executor, sha Hash) (held bool, err error) {
	err = x.row(ctx, `SELECT EXISTS (SELECT 1 FROM contents WHERE sha256 = ?)`, sha[:]).Scan(&held)
	return held, err
}
