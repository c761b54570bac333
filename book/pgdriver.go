package book

import (
	"context"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"strconv"
	"time"

	"github.com/jackc/pgx/v5/pgconn"
)

// dialer opens connections to PostgreSQL for database/sql. It speaks through package pgconn alone: the driver above it
// brings what turns any type of Go into any of PostgreSQL's, 3 MB of the program, and a book has four types.
type dialer struct {
	config *pgconn.Config
	first  string // run on each new connection; "" for nothing
}

func (d dialer) Driver() driver.Driver { return nil }

func (d dialer) Connect(ctx context.Context) (driver.Conn, error) {
	c, err := pgconn.ConnectConfig(ctx, d.config)
	if err != nil {
		return nil, err
	}
	line := &pgLine{c: c, known: map[string]*pgStatement{}, used: time.Now()}
	if d.first != "" {
		if _, err := line.ExecContext(ctx, d.first, nil); err != nil {
			c.Close(context.WithoutCancel(ctx))
			return nil, err
		}
	}
	return line, nil
}

// pgLine is one connection. It knows the statements that it has run by their text.
type pgLine struct {
	c     *pgconn.PgConn
	known map[string]*pgStatement
	used  time.Time
}

const (
	mostKnown = 1000 // statements of one connection; what comes then is prepared each time anew
	idleLine  = time.Second
)

// pgStatement is a statement as the server has prepared it.
type pgStatement struct {
	line    *pgLine
	name    string
	params  int
	columns []string
	types   []uint32 // of the columns
	formats []int16  // in which they come: bytes as they are, all else as text
}

// Types of PostgreSQL by their numbers (pg_type.dat).
const (
	pgBool, pgBytes, pgInt8, pgInt2, pgInt4 = 16, 17, 20, 21, 23
	asText, asBytes                         = 0, 1
)

// lost marks an error before which nothing can have happened: database/sql tries another connection.
func (l *pgLine) lost(err error) error {
	if err != nil && pgconn.SafeToRetry(err) {
		return driver.ErrBadConn
	}
	return err
}

func (l *pgLine) prepared(ctx context.Context, text string) (*pgStatement, error) {
	if st := l.known[text]; st != nil {
		return st, nil
	}
	if l.c.IsClosed() {
		return nil, driver.ErrBadConn
	}
	name := ""
	if len(l.known) < mostKnown {
		name = "s" + strconv.Itoa(len(l.known)+1)
	}
	d, err := l.c.Prepare(ctx, name, text, nil)
	if err != nil {
		return nil, l.lost(err)
	}
	st := &pgStatement{line: l, name: name, params: len(d.ParamOIDs)}
	for _, f := range d.Fields {
		format := int16(asText)
		if f.DataTypeOID == pgBytes {
			format = asBytes
		}
		st.columns, st.types, st.formats = append(st.columns, f.Name), append(st.types, f.DataTypeOID),
			append(st.formats, format)
	}
	if name != "" {
		l.known[text] = st
	}
	return st, nil
}

// PrepareContext makes statements of which there are few, so they are kept for as long as the connection is.
func (l *pgLine) PrepareContext(ctx context.Context, text string) (driver.Stmt, error) {
	st, err := l.prepared(ctx, text)
	if err == nil && st.name == "" {
		err = errors.New("too many statements are kept on a connection")
	}
	return st, err
}

func (l *pgLine) Prepare(text string) (driver.Stmt, error) {
	return l.PrepareContext(context.Background(), text)
}

func (l *pgLine) QueryContext(ctx context.Context, text string, values []driver.NamedValue) (driver.Rows, error) {
	st, err := l.prepared(ctx, text)
	if err != nil {
		return nil, err
	}
	return st.QueryContext(ctx, values)
}

// ExecContext runs several statements in one text where no values go with them.
func (l *pgLine) ExecContext(ctx context.Context, text string, values []driver.NamedValue) (driver.Result, error) {
	if len(values) == 0 {
		if l.c.IsClosed() {
			return nil, driver.ErrBadConn
		}
		_, err := l.c.Exec(ctx, text).ReadAll()
		return driver.ResultNoRows, l.lost(err)
	}
	st, err := l.prepared(ctx, text)
	if err != nil {
		return nil, err
	}
	return st.ExecContext(ctx, values)
}

func (l *pgLine) BeginTx(ctx context.Context, o driver.TxOptions) (driver.Tx, error) {
	if o != (driver.TxOptions{}) {
		return nil, errors.New("transactions are of the usual kind")
	}
	_, err := l.ExecContext(ctx, `BEGIN`, nil)
	return l, err
}

func (l *pgLine) Begin() (driver.Tx, error) {
	return l.BeginTx(context.Background(), driver.TxOptions{})
}

// Commit fails where the server took all back because something in the transaction had failed.
func (l *pgLine) Commit() error {
	results, err := l.c.Exec(context.Background(), `COMMIT`).ReadAll()
	if err == nil && len(results) == 1 && results[0].CommandTag.String() != "COMMIT" {
		err = errors.New("the transaction had failed before its commit")
	}
	return err
}

func (l *pgLine) Rollback() error {
	_, err := l.c.Exec(context.Background(), `ROLLBACK`).ReadAll()
	return err
}

func (l *pgLine) Ping(ctx context.Context) error {
	if l.c.IsClosed() || l.c.Ping(ctx) != nil {
		return driver.ErrBadConn
	}
	return nil
}

// ResetSession takes no connection on again that broke, or in which somebody left a transaction open.
func (l *pgLine) ResetSession(ctx context.Context) error {
	if l.c.IsClosed() || l.c.TxStatus() != 'I' {
		return driver.ErrBadConn
	}
	idle := time.Since(l.used)
	l.used = time.Now()
	if idle > idleLine {
		return l.Ping(ctx)
	}
	return nil
}

func (l *pgLine) IsValid() bool { return !l.c.IsClosed() }

func (l *pgLine) Close() error {
	ctx, cancel := context.WithTimeout(context.Background(), connectTime)
	defer cancel()
	return l.c.Close(ctx)
}

func (s *pgStatement) Close() error  { return nil }
func (s *pgStatement) NumInput() int { return s.params }

func (s *pgStatement) Exec([]driver.Value) (driver.Result, error) { return nil, driver.ErrSkip }
func (s *pgStatement) Query([]driver.Value) (driver.Rows, error)  { return nil, driver.ErrSkip }

// run sends the values: bytes as they are, all else as text.
func (s *pgStatement) run(ctx context.Context, values []driver.NamedValue) (*pgconn.ResultReader, error) {
	if s.line.c.IsClosed() {
		return nil, driver.ErrBadConn
	}
	sent, formats := make([][]byte, len(values)), make([]int16, len(values))
	for i, v := range values {
		switch v := v.Value.(type) {
		case nil:
		case int64:
			sent[i] = strconv.AppendInt(nil, v, 10)
		case bool:
			sent[i] = strconv.AppendBool(nil, v)
		case string:
			sent[i] = []byte(v)
		case []byte:
			if sent[i] = v; v == nil {
				sent[i] = []byte{}
			}
			formats[i] = asBytes
		default:
			return nil, fmt.Errorf("a value of type %T is none that a book has", v)
		}
	}
	return s.line.c.ExecPrepared(ctx, s.name, sent, formats, s.formats), nil
}

func (s *pgStatement) ExecContext(ctx context.Context, values []driver.NamedValue) (driver.Result, error) {
	r, err := s.run(ctx, values)
	if err != nil {
		return nil, err
	}
	_, err = r.Close()
	return driver.ResultNoRows, s.line.lost(err)
}

func (s *pgStatement) QueryContext(ctx context.Context, values []driver.NamedValue) (driver.Rows, error) {
	r, err := s.run(ctx, values)
	if err != nil {
		return nil, err
	}
	// The first row is asked for here: an error before it is one of the statement.
	rows := &pgRows{statement: s, reader: r}
	if rows.more = r.NextRow(); !rows.more {
		if _, err := r.Close(); err != nil {
			return nil, s.line.lost(err)
		}
	}
	rows.ahead = true
	return rows, nil
}

// pgRows are the rows of an answer, as they come in.
type pgRows struct {
	statement *pgStatement
	reader    *pgconn.ResultReader
	ahead     bool // the next row, or that there is none, is known: more
	more      bool
}

func (r *pgRows) Columns() []string { return r.statement.columns }

func (r *pgRows) Close() error {
	_, err := r.reader.Close()
	return err
}

func (r *pgRows) Next(to []driver.Value) error {
	if !r.ahead {
		r.more = r.reader.NextRow()
	}
	r.ahead = false
	if !r.more {
		if _, err := r.reader.Close(); err != nil {
			return err
		}
		return io.EOF
	}
	for i, v := range r.reader.Values() { // of a buffer that the next row takes
		var err error
		switch kind := r.statement.types[i]; {
		case v == nil:
			to[i] = nil
		case kind == pgBytes:
			to[i] = append([]byte{}, v...)
		case kind == pgBool:
			to[i] = v[0] == 't'
		case kind == pgInt8 || kind == pgInt2 || kind == pgInt4:
			to[i], err = strconv.ParseInt(string(v), 10, 64)
		default:
			to[i] = string(v)
		}
		if err != nil {
			return err
		}
	}
	return nil
}
