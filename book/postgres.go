package book

import (
	"context"
	"crypto/rand"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"net"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5/pgconn"
)

// postgres is a book in a schema of a PostgreSQL database. Any number of programs may have it open.
type postgres struct {
	name   string // address without a password
	space  string // the schema that holds its tables
	config *pgconn.Config
	server string // this opening, by which others tell it from their own

	numbered sync.Map // statements by their text, with numbers for the question marks
	notices  *notices
}

const (
	defaultSchema  = "phasewright"
	oldestServer   = 15
	connectTime    = 5 * time.Second
	readersAtOnce  = 12
	writersAtOnce  = 4                // the writer, one that is made when its connection broke, and names of files
	longestSilence = 60 * time.Second // of a server in the middle of a transaction that keeps all others waiting
)

// InPostgres reports whether a book of that name lies in PostgreSQL.
func InPostgres(path string) bool {
	return strings.HasPrefix(path, "postgres://") || strings.HasPrefix(path, "postgresql://")
}

// newPostgres reads the address of a database: as PostgreSQL's own programs read it, and with schema=NAME for the
// schema that the book lies in.
func newPostgres(address string) (*postgres, error) {
	u, err := url.Parse(address)
	if err != nil {
		return nil, fmt.Errorf("address of a database – %w – write it like postgres://user@host/database", ErrNotBook)
	}
	values := u.Query()
	p := &postgres{space: values.Get("schema"), server: rand.Text()}
	if p.space == "" {
		p.space = defaultSchema
	}
	for _, r := range p.space {
		if (r < 'a' || r > 'z') && (r < '0' || r > '9') && r != '_' || len(p.space) > 40 {
			return nil, fmt.Errorf("schema %q – %w – name it with a-z, 0-9 and underlines, 40 signs at most",
				clip(p.space, 60), ErrNotBook)
		}
	}
	values.Del("schema")
	u.RawQuery = values.Encode()
	if p.config, err = pgconn.ParseConfig(u.String()); err != nil {
		return nil, fmt.Errorf("address of a database – %w – write it like postgres://user@host/database",
			ErrNotBook) // what the driver says may show the password
	}
	if p.config.ConnectTimeout == 0 {
		p.config.ConnectTimeout = connectTime
	}
	set := p.config.RuntimeParams
	set["search_path"], set["application_name"] = p.space+", pg_temp", "phasewright"
	set["timezone"], set["client_encoding"] = "UTC", "UTF8"
	p.name = "postgres://" + net.JoinHostPort(p.config.Host, strconv.Itoa(int(p.config.Port))) + "/" + p.config.Database
	if strings.HasPrefix(p.config.Host, "/") {
		p.name = "postgres:///" + p.config.Database + "?host=" + p.config.Host
	}
	if p.space != defaultSchema {
		p.name += map[bool]string{true: "&", false: "?"}[strings.Contains(p.name, "?")] + "schema=" + p.space
	}
	return p, nil
}

// pool prepares connections with further settings. Nothing is opened yet.
func (p *postgres) pool(most int, access Access, settings ...string) *sql.DB {
	config := p.config.Copy()
	for i := 0; i < len(settings); i += 2 {
		config.RuntimeParams[settings[i]] = settings[i+1]
	}
	d := dialer{config: config}
	if access == ReadOnly {
		d.first = `SET default_transaction_read_only = on` // said at once, the server would look like a stand-by
	}
	db := sql.OpenDB(d)
	db.SetMaxOpenConns(most)
	db.SetMaxIdleConns(most)
	return db
}

// text writes $1, $2 and so on for the question marks, and $1 for ?1.
func (p *postgres) text(statement string) string {
	if known, ok := p.numbered.Load(statement); ok {
		return known.(string)
	}
	text := strings.ReplaceAll(statement, asArrays, `coalesce(json_agg(json_build_array(path, encode(salt, 'hex'), value,
		CASE WHEN clear THEN 1 ELSE 0 END, erased)), '[]')`)
	var b strings.Builder
	n := 0
	for i, sign := range text {
		switch {
		case sign != '?':
			b.WriteRune(sign)
		case i+1 < len(text) && text[i+1] >= '1' && text[i+1] <= '9': // it has its number
			b.WriteByte('$')
		default:
			n++
			fmt.Fprintf(&b, "$%d", n)
		}
	}
	if n < 200 { // long lists of words are seldom the same
		p.numbered.Store(statement, b.String())
	}
	return b.String()
}

func (p *postgres) open(ctx context.Context, b *Book, opt Options) error {
	// Words are looked for as they are in this statement, not as words are on the whole; and no statement of ours takes
	// so long that compiling it pays.
	b.readers = p.pool(readersAtOnce, ReadOnly, "plan_cache_mode", "force_custom_plan", "jit", "off")
	version, err := p.look(ctx, b)
	if err != nil {
		return b.problem(err)
	}
	if b.access == ReadWrite && version < latestPostgres() {
		if err := p.migrate(ctx, b.path); err != nil {
			if what, _ := diagnose(err); what == ErrReadOnly {
				return fmt.Errorf("%s – %w – its tables are missing or old: phasewright book migrate makes them, by a "+
					"role that owns the schema", b.path, ErrOlder)
			}
			return b.problem(err)
		}
		version = latestPostgres()
	}
	switch {
	case version == 0:
		return fmt.Errorf("%s – %w: no book's tables are in schema %s – check the address, or make them with "+
			"phasewright book migrate", b.path, ErrNotBook, p.space)
	case version < latestPostgres():
		return fmt.Errorf("%s – %w: step %d, this release reads %d – phasewright book migrate brings it up to date",
			b.path, ErrOlder, version, latestPostgres())
	case version > latestPostgres():
		return fmt.Errorf("%s – %w: step %d, this release knows up to %d – use the newer release; nothing was changed",
			b.path, ErrNewer, version, latestPostgres())
	}
	b.schema = latest()
	if b.access == ReadWrite {
		b.writing = p.pool(writersAtOnce, ReadWrite, "idle_in_transaction_session_timeout",
			strconv.FormatInt(longestSilence.Milliseconds(), 10))
	}
	files := newChunks(p, b)
	b.store = newStore(files, 0, opt)
	if p.notices, err = listen(ctx, p, b); err != nil || b.access == ReadOnly {
		return b.problem(err)
	}
	conn, err := b.writing.Conn(ctx)
	if err != nil {
		return b.problem(err)
	}
	b.writer = startWriter(conn, b)
	_ = files.sweep(ctx) // the next opening does what stays
	return nil
}

// look finds out whether this release can work with the server and the database, and which step its tables are at, 0
// for none.
func (p *postgres) look(ctx context.Context, b *Book) (version int, err error) {
	var server, encoding string
	var standby, there bool
	err = b.readers.QueryRowContext(ctx, `SELECT current_setting('server_version_num'),
		current_setting('server_encoding'), pg_is_in_recovery(), to_regclass($1) IS NOT NULL`,
		p.space+".migrations").Scan(&server, &encoding, &standby, &there)
	if err != nil {
		return 0, err
	}
	number, _ := strconv.Atoi(server)
	switch {
	case number < oldestServer*10000:
		return 0, fmt.Errorf("%s – %w: PostgreSQL %d – use PostgreSQL %d or newer", b.path, ErrNotBook, number/10000,
			oldestServer)
	case encoding != "UTF8":
		return 0, fmt.Errorf("%s – %w: the database keeps text as %s – make one with createdb --encoding UTF8 "+
			"--template template0", b.path, ErrNotBook, encoding)
	case standby && b.access == ReadWrite:
		return 0, fmt.Errorf("%s – %w: this server is a stand-by of another – name the other, or promote this one",
			b.path, ErrReadOnly)
	case !there:
		return 0, nil
	}
	err = b.readers.QueryRowContext(ctx, `SELECT coalesce(max(version), 0) FROM migrations`).Scan(&version)
	return version, err
}

func (p *postgres) close(b *Book) []error {
	if p.notices != nil {
		p.notices.stop()
	}
	if b.store != nil {
		_ = b.store.kept.close()
	}
	if b.writing != nil {
		return []error{b.writing.Close()}
	}
	return nil
}

// begin takes the turn to write, of all programs that write: numbers have no gaps then, and nobody waits crosswise.
func (p *postgres) begin(ctx context.Context, x executor) error {
	if err := x.exec(ctx, `BEGIN`); err != nil {
		return err
	}
	return x.exec(ctx, `SELECT take_turn()`)
}

// finish notes how many numbers were given and tells the other programs. What they are told is that there is something
// new: what it is they read by number, so that a lost notice is caught up.
func (p *postgres) finish(ctx context.Context, x executor, made int) error {
	if made == 0 {
		return nil
	}
	return x.exec(ctx, `SELECT end_turn()`)
}

func (p *postgres) pending(heads []Hash) { p.notices.mine(heads) }

func (p *postgres) void(heads []Hash) { p.notices.theirs(heads) }

func (p *postgres) idle(executor) {}

// scour leaves it to the server, which takes dead rows away by itself; the role that a server has cannot make it.
func (p *postgres) scour(ctx context.Context, x executor) (bool, error) {
	return true, x.exec(ctx, `UPDATE erasing SET due = 0 WHERE due <> 0`)
}

// gone knows what a connection says that broke, and a server that stops, starts, or may not write any more.
func (p *postgres) gone(err error) bool {
	var connect *pgconn.ConnectError
	var ours *pgconn.PgError
	switch {
	case err == nil || errors.Is(err, context.Canceled):
		return false
	case errors.As(err, &ours):
		switch ours.Code {
		case "57P01", "57P02", "57P03", "53300", "25006", "25P03", "40001", "40P01":
			return true
		}
		return strings.HasPrefix(ours.Code, "08")
	case errors.As(err, &connect):
		return true
	}
	for _, known := range []error{driver.ErrBadConn, sql.ErrConnDone, io.EOF, io.ErrUnexpectedEOF, net.ErrClosed,
		syscall.ECONNRESET, syscall.ECONNREFUSED, syscall.EPIPE} {
		if errors.Is(err, known) {
			return true
		}
	}
	return errors.As(err, new(*net.OpError)) || pgconn.SafeToRetry(err)
}

const comesBack = "see that PostgreSQL runs and can be reached; this goes on by itself once it answers, and what was " +
	"recorded before is safe"

// diagnosePostgres reads what the server says (PostgreSQL 15, appendix A, its codes of errors).
func diagnosePostgres(err error) (what error, remedy string) {
	var connect *pgconn.ConnectError
	var ours *pgconn.PgError
	switch {
	case errors.As(err, &ours):
	case errors.As(err, &connect), errors.Is(err, driver.ErrBadConn):
		return ErrAway, comesBack
	default:
		return nil, ""
	}
	switch ours.Code {
	case "53100":
		return ErrFull, "make room on the disk of PostgreSQL, then try again; what was recorded before is safe"
	case "42501", "25006":
		return ErrReadOnly, "let its owner run phasewright book migrate --for this role"
	case "3D000":
		return ErrNotBook, "make the database first, or check its name"
	case "22021", "22P05":
		return ErrBadInput, "leave signs out that are no text"
	case "XX001", "XX002":
		return ErrDamaged, "stop, keep a copy of its folder, and restore the last backup"
	case "42P01", "42703", "3F000":
		return ErrDamaged, "a table or column is missing: phasewright book migrate, or restore the last backup"
	case "53300", "57P01", "57P02", "57P03":
		return ErrAway, comesBack
	}
	switch ours.Code[:2] {
	case "08":
		return ErrAway, comesBack
	case "28":
		return ErrAway, "check role and password, and what the server's pg_hba.conf lets in"
	case "53":
		return ErrFull, "give PostgreSQL more of what it says it lacks; what was recorded before is safe"
	case "58", "F0":
		return ErrDisk, "stop, check the disk of PostgreSQL, and restore the last backup if it is damaged"
	}
	return nil, ""
}

func isPostgres(err error) bool { return errors.As(err, new(*pgconn.PgError)) }

// The index is a column that follows from the others.
func (*postgres) index(context.Context, executor, int64, jobText) error { return nil }

func (*postgres) unindex(context.Context, executor, int64, jobText) error { return nil }

func (*postgres) emptyIndex(context.Context, executor) error { return nil }

// search gathers what the index finds first: led by the order of the list, the server would look at every job.
func (*postgres) search(words []run, others [][]string, q Query, after mark, limit int) (string, []any) {
	also, args := q.chosen()
	args = append(append([]any{query(words, others), q.Shelf == Archived, q.Shelf == Both}, args...),
		after.worked, after.no, limit+1)
	return `WITH found AS MATERIALIZED (SELECT no AS found FROM job_text WHERE lexemes @@ CAST(CAST(? AS text) AS tsquery))
		SELECT ` + lineColumns + ` FROM found JOIN jobs ON no = found
		WHERE (archived = ? OR ?)` + also + ` AND (worked_at, no) < (?, ?) ORDER BY worked_at DESC, no DESC LIMIT ?`, args
}

// query makes a tsquery of the words that must be found. Every word is quoted and holds no quotes.
func query(words []run, others [][]string) string {
	var parts []string
	for i, w := range words {
		any := []string{"'" + w.text + "':*"}
		for _, other := range others[i] {
			any = append(any, "'"+other+"'")
		}
		parts = append(parts, "("+strings.Join(any, " | ")+")")
	}
	return strings.Join(parts, " & ")
}

func (p *postgres) moment(ctx context.Context, b *Book) (*statements, func(), error) {
	var conn *sql.Conn
	for range readersAtOnce + 1 { // those that broke while they were idle are no more after that
		var err error
		if conn, err = b.readers.Conn(ctx); err != nil {
			return nil, nil, err
		}
		if err = conn.PingContext(ctx); err == nil {
			break
		}
		conn.Close()
	}
	x := &statements{conn: conn, base: p}
	release := func() {
		_, _ = conn.ExecContext(context.Background(), `ROLLBACK`)
		x.close()
		conn.Close()
	}
	if err := x.exec(ctx, `BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY`); err != nil {
		release()
		return nil, nil, err
	}
	return x, release, nil
}

// structure is PostgreSQL's own to look through (pg_amcheck).
func (*postgres) structure(*checker) error { return nil }

func (*postgres) sound(*checker) error { return nil }

func (*postgres) given(ctx context.Context, x executor) (n int64, err error) {
	err = x.row(ctx, `SELECT given FROM turn`).Scan(&n)
	return n, err
}

func (p *postgres) anew(ctx context.Context, x executor) (now, before string, err error) {
	for _, t := range comparedTables {
		if err := x.exec(ctx, `CREATE TEMP TABLE before_`+t+` ON COMMIT DROP AS SELECT * FROM `+p.space+`.`+t); err != nil {
			return "", "", err
		}
	}
	return p.space + ".", "pg_temp.before_", clearDerived(ctx, x)
}

func (p *postgres) bytes(ctx context.Context, x executor) (n int64, err error) {
	err = x.row(ctx, `SELECT CAST(coalesce(sum(pg_total_relation_size(oid)), 0) AS bigint) FROM pg_class
		WHERE relnamespace = to_regnamespace(?) AND relkind = 'r' AND relname NOT IN ('chunks', 'pieces', 'contents')`,
		p.space).Scan(&n)
	return n, err
}

func (*postgres) backup(ctx context.Context, b *Book, path string) error {
	return b.copyToFile(ctx, path)
}
