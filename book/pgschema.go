package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// pgSteps is the history of the tables in PostgreSQL, as steps is in SQLite: a step that was released is never edited.
// Text is compared by its bytes in all of them, as SQLite does.
var pgSteps = []step{
	{to: 1, sql: `
CREATE TABLE turn (
	one   boolean PRIMARY KEY DEFAULT true CHECK (one),
	given bigint  NOT NULL
);
INSERT INTO turn (given) VALUES (0);

CREATE TABLE events (
	seq        bigint  PRIMARY KEY,
	job        text    COLLATE "C" NOT NULL,
	version    bigint  NOT NULL CHECK (version > 0),
	at         bigint  NOT NULL,
	who        text    COLLATE "C" NOT NULL,
	kind       text    COLLATE "C" NOT NULL,
	key        text    COLLATE "C",
	payload    text    COLLATE "C" NOT NULL,
	clock_back boolean NOT NULL,
	prev       bytea   NOT NULL CHECK (length(prev) = 32),
	hash       bytea   NOT NULL CHECK (length(hash) = 32),
	UNIQUE (job, version)
);
CREATE UNIQUE INDEX events_key ON events (job, key) WHERE key IS NOT NULL;
CREATE UNIQUE INDEX events_start_key ON events (key) WHERE version = 1 AND key IS NOT NULL;

-- Whoever writes takes the turn first and keeps it to the end of the transaction.
CREATE FUNCTION take_turn() RETURNS bigint LANGUAGE sql SECURITY DEFINER SET search_path FROM CURRENT
	AS 'SELECT given FROM turn FOR UPDATE';
CREATE FUNCTION end_turn() RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$ BEGIN
	UPDATE turn SET given = (SELECT coalesce(max(seq), 0) FROM events);
	PERFORM pg_notify(current_schema() || '_new', '');
END $$;
CREATE FUNCTION number_event() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path FROM CURRENT AS $$ BEGIN
	PERFORM take_turn();
	SELECT coalesce(max(seq), 0) + 1 INTO NEW.seq FROM events;
	RETURN NEW;
END $$;
CREATE TRIGGER events_number BEFORE INSERT ON events FOR EACH ROW EXECUTE FUNCTION number_event();
CREATE FUNCTION events_never_change() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
	RAISE EXCEPTION 'events never change and are never deleted';
END $$;
CREATE TRIGGER events_no_change BEFORE UPDATE OR DELETE ON events FOR EACH ROW EXECUTE FUNCTION events_never_change();
CREATE TRIGGER events_no_truncate BEFORE TRUNCATE ON events FOR EACH STATEMENT EXECUTE FUNCTION events_never_change();

-- Values that may have to be forgotten. What is erased leaves a dead row, which is taken away at the next look of
-- autovacuum; so are those of the tables that are made from the events.
CREATE TABLE personal (
	event  bigint  NOT NULL,
	path   text    COLLATE "C" NOT NULL,
	clear  boolean NOT NULL,
	salt   bytea,
	value  text    COLLATE "C",
	erased bigint,
	PRIMARY KEY (event, path)
) WITH (autovacuum_vacuum_threshold = 0, autovacuum_vacuum_scale_factor = 0);
CREATE TABLE erasing (
	one boolean PRIMARY KEY DEFAULT true CHECK (one),
	due integer NOT NULL
);
INSERT INTO erasing (due) VALUES (0);

CREATE TABLE jobs (
	no          bigint  PRIMARY KEY,
	id          text    COLLATE "C" NOT NULL UNIQUE,
	version     bigint  NOT NULL,
	name        text    COLLATE "C" NOT NULL,
	owner       text    COLLATE "C" NOT NULL,
	engine      text    COLLATE "C" NOT NULL,
	shop        text    COLLATE "C" NOT NULL,
	bay         text    COLLATE "C" NOT NULL,
	person      text    COLLATE "C" NOT NULL,
	waiting     text    COLLATE "C" NOT NULL,
	waiting_at  bigint  NOT NULL,
	opened_at   bigint  NOT NULL,
	status      text    COLLATE "C" NOT NULL,
	archived    boolean NOT NULL,
	readings    bigint  NOT NULL,
	corrections bigint  NOT NULL,
	steps_done  bigint  NOT NULL,
	attachments bigint  NOT NULL,
	notes       bigint  NOT NULL,
	created_at  bigint  NOT NULL,
	worked_at   bigint  NOT NULL,
	last_at     bigint  NOT NULL,
	last_kind   text    COLLATE "C" NOT NULL,
	last_who    text    COLLATE "C" NOT NULL,
	last_seq    bigint  NOT NULL,
	head        bytea   NOT NULL
);
CREATE INDEX jobs_worked ON jobs (worked_at, no);
CREATE INDEX jobs_shelf ON jobs (archived, worked_at, no);
CREATE INDEX jobs_bay ON jobs (archived, bay, worked_at, no);
CREATE INDEX jobs_person ON jobs (archived, person, worked_at, no);
CREATE INDEX jobs_waiting ON jobs (archived, worked_at, no) WHERE waiting <> '';
CREATE TABLE work (
	job_no      bigint NOT NULL,
	hour        bigint NOT NULL,
	person      text   COLLATE "C" NOT NULL,
	steps       bigint NOT NULL,
	readings    bigint NOT NULL,
	corrections bigint NOT NULL,
	proofs      bigint NOT NULL,
	entries     bigint NOT NULL,
	PRIMARY KEY (job_no, hour, person)
);
CREATE INDEX work_hour ON work (hour, person, job_no);

CREATE TABLE marks (
	job_no bigint  NOT NULL,
	sort   text    COLLATE "C" NOT NULL,
	id     text    COLLATE "C" NOT NULL,
	live   boolean NOT NULL,
	PRIMARY KEY (job_no, sort, id)
);

CREATE TABLE files (
	job_no     bigint NOT NULL,
	version    bigint NOT NULL,
	sha256     bytea  NOT NULL,
	name       text   COLLATE "C" NOT NULL,
	media_type text   COLLATE "C" NOT NULL,
	size       bigint NOT NULL,
	discarded  bigint NOT NULL,
	PRIMARY KEY (job_no, version)
);
CREATE INDEX files_sha256 ON files (sha256, discarded);

-- Our own folded words, as they are: no parser of the server's looks at them. One longer than an entry may be is cut.
CREATE FUNCTION lexemes(words text) RETURNS tsvector LANGUAGE sql IMMUTABLE PARALLEL SAFE AS $$
	SELECT array_to_tsvector(ARRAY(SELECT DISTINCT left(w, 500) FROM unnest(string_to_array(words, ' ')) AS w WHERE w <> ''))
$$;
CREATE TABLE job_text (
	no      bigint PRIMARY KEY,
	shelf   text   COLLATE "C" NOT NULL,
	words   text   COLLATE "C" NOT NULL,
	years   text   COLLATE "C" NOT NULL,
	card    text   COLLATE "C" NOT NULL,
	remarks text   COLLATE "C" NOT NULL,
	lexemes tsvector GENERATED ALWAYS AS (lexemes(words || ' ' || years || ' ' || card || ' ' || remarks)) STORED
);
CREATE INDEX job_text_lexemes ON job_text USING gin (lexemes) WITH (fastupdate = off);
CREATE TABLE vocabulary (
	word text   COLLATE "C" PRIMARY KEY,
	jobs bigint NOT NULL
);
CREATE TABLE grams (
	gram text COLLATE "C" NOT NULL,
	word text COLLATE "C" NOT NULL,
	PRIMARY KEY (gram, word)
);
CREATE FUNCTION instr(text, text) RETURNS integer LANGUAGE sql IMMUTABLE PARALLEL SAFE AS 'SELECT strpos($1, $2)';

-- Files: a content has pieces in order, and each piece is a chunk, which is kept once. A content without a hash is on
-- its way.
CREATE TABLE chunks (
	sha256 bytea PRIMARY KEY,
	data   bytea NOT NULL
);
ALTER TABLE chunks ALTER COLUMN data SET STORAGE EXTERNAL;
CREATE TABLE contents (
	id      text   COLLATE "C" PRIMARY KEY,
	sha256  bytea  UNIQUE,
	size    bigint NOT NULL,
	seen_at timestamptz NOT NULL DEFAULT now()
);
CREATE TABLE pieces (
	content text    COLLATE "C" NOT NULL REFERENCES contents ON DELETE CASCADE,
	no      integer NOT NULL,
	chunk   bytea   NOT NULL REFERENCES chunks,
	PRIMARY KEY (content, no)
);
CREATE INDEX pieces_chunk ON pieces (chunk);

-- What the servers share beside the book: pairing and paired devices, and who reads which recording.
CREATE TABLE shared (
	name    text   COLLATE "C" PRIMARY KEY,
	version bigint NOT NULL,
	value   text   NOT NULL
);
CREATE TABLE claims (
	name   text COLLATE "C" PRIMARY KEY,
	server text NOT NULL,
	until  timestamptz NOT NULL
);
`},
}

func latestPostgres() int { return pgSteps[len(pgSteps)-1].to }

// grants are the least rights that a server needs: it may add events and read them, no more. The derived tables, files
// on their way and what servers share are its to change. The table names are followed by what may be done.
var grants = map[string]string{
	"personal": "SELECT, INSERT, UPDATE", "erasing": "SELECT, UPDATE",
	"events": "SELECT, INSERT", "turn": "SELECT", "migrations": "SELECT", "chunks": all,
	"jobs": all, "marks": all, "files": all, "job_text": all, "vocabulary": all, "grams": all, "work": all,
	"contents": all, "pieces": all, "shared": all, "claims": all,
}

const all = "SELECT, INSERT, UPDATE, DELETE"

// Migrate makes the tables of a book in PostgreSQL, or brings them up to date, and gives the roles in for the least
// rights that a server needs: they can add events, and change none. It is for the role that owns the schema. Servers
// that run meanwhile go on.
//
// Errors: ErrAway, ErrReadOnly where the role may not, ErrNewer.
func Migrate(ctx context.Context, address string, roles ...string) error {
	p, err := newPostgres(address)
	if err != nil {
		return err
	}
	b := &Book{base: p, path: p.name, access: ReadOnly}
	b.readers = p.pool(1, ReadOnly)
	defer b.readers.Close()
	version, err := p.look(ctx, b)
	if err != nil {
		return b.problem(err)
	}
	if version > latestPostgres() {
		return fmt.Errorf("%s – %w: step %d, this release knows up to %d – use the newer release", b.path, ErrNewer,
			version, latestPostgres())
	}
	return b.problem(p.migrate(ctx, b.path, roles...))
}

// migrate runs the missing steps, each in one transaction, while no other does.
func (p *postgres) migrate(ctx context.Context, where string, roles ...string) error {
	db := p.pool(1, ReadWrite)
	defer db.Close()
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	// Held until the connection is closed.
	if _, err := conn.ExecContext(ctx, `SELECT pg_advisory_lock($1, hashtext($2))`, applicationID, p.space); err != nil {
		return err
	}
	if _, err := conn.ExecContext(ctx, `CREATE SCHEMA IF NOT EXISTS `+p.space); err != nil {
		return err
	}
	if _, err := conn.ExecContext(ctx, `CREATE TABLE IF NOT EXISTS migrations (
		version integer PRIMARY KEY, made_at timestamptz NOT NULL DEFAULT now(), server integer NOT NULL,
		objects text[] NOT NULL)`); err != nil {
		return err
	}
	var version int
	if err := conn.QueryRowContext(ctx, `SELECT coalesce(max(version), 0) FROM migrations`).Scan(&version); err != nil {
		return err
	}
	for _, s := range pgSteps {
		if s.to <= version {
			continue
		}
		if err := p.runStep(ctx, conn, s); err != nil {
			return fmt.Errorf("%s – step %d of the tables could not be made; they are as they were: %w", where, s.to,
				err)
		}
	}
	return p.grant(ctx, conn, roles)
}

func (p *postgres) runStep(ctx context.Context, conn *sql.Conn, s step) (err error) {
	tx, err := conn.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // does nothing after the commit
	if _, err := tx.ExecContext(ctx, s.sql); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, `INSERT INTO migrations (version, server, objects)
		SELECT $1, CAST(current_setting('server_version_num') AS integer) / 10000, array_agg(concat_ws(E'\t', kind, name, belongs, made))
		FROM (`+objectsSQL+`) AS o`, s.to); err != nil {
		return err
	}
	return tx.Commit()
}

func (p *postgres) grant(ctx context.Context, conn *sql.Conn, roles []string) error {
	for _, role := range roles {
		quoted := `"` + strings.ReplaceAll(role, `"`, `""`) + `"`
		text := []string{`GRANT USAGE ON SCHEMA ` + p.space + ` TO ` + quoted}
		for table, rights := range grants {
			text = append(text, `GRANT `+rights+` ON `+table+` TO `+quoted)
		}
		slices.Sort(text)
		if _, err := conn.ExecContext(ctx, strings.Join(text, "; ")); err != nil {
			return fmt.Errorf("role %s – rights could not be given – make the role first with createuser: %w", role,
				err)
		}
	}
	return nil
}

// objectsSQL lists what the schema holds, with how each thing was made.
const objectsSQL = `
SELECT 'table' AS kind, relname AS name, relname AS belongs, (SELECT string_agg(attname || ' ' ||
		format_type(atttypid, atttypmod) || CASE WHEN attnotnull THEN ' NOT NULL' ELSE '' END, ', ' ORDER BY attnum)
	FROM pg_attribute WHERE attrelid = c.oid AND attnum > 0 AND NOT attisdropped) AS made
FROM pg_class c WHERE relnamespace = to_regnamespace(current_schema()) AND relkind IN ('r', 'v', 'm', 'p')
UNION ALL
SELECT 'index', i.relname, t.relname, pg_get_indexdef(i.oid) FROM pg_index x JOIN pg_class i ON i.oid = x.indexrelid
	JOIN pg_class t ON t.oid = x.indrelid WHERE i.relnamespace = to_regnamespace(current_schema())
UNION ALL
SELECT 'trigger', tgname, relname, pg_get_triggerdef(g.oid) || ' ' || CAST(tgenabled AS text) FROM pg_trigger g
	JOIN pg_class c ON c.oid = tgrelid WHERE relnamespace = to_regnamespace(current_schema()) AND NOT tgisinternal
UNION ALL
SELECT 'constraint', conname, relname, pg_get_constraintdef(o.oid) FROM pg_constraint o JOIN pg_class c ON c.oid = conrelid
	WHERE relnamespace = to_regnamespace(current_schema()) AND contype IN ('c', 'f')
UNION ALL
SELECT 'function', proname, '', pg_get_functiondef(oid) FROM pg_proc WHERE pronamespace = to_regnamespace(current_schema())
ORDER BY 1, 2, 3`

// schema compares with what was there when the last step had run. A newer server may word it otherwise: then only what
// is missing or too much is told.
func (p *postgres) schema(c *checker) error {
	var made int
	var now string
	err := c.x.row(c.ctx, `SELECT server, current_setting('server_version_num') FROM migrations ORDER BY version DESC LIMIT 1`).Scan(&made, &now)
	if err != nil {
		return err
	}
	number, err := strconv.Atoi(now)
	if err != nil {
		return errors.Join(errUnreadable, err)
	}
	objects := func(text string) ([]object, error) {
		rows, err := c.x.rows(c.ctx, text)
		if err != nil {
			return nil, err
		}
		return collect(rows, func(row scanner) (o object, err error) {
			var line string
			err = row.Scan(&line)
			parts := append(strings.SplitN(line, "\t", 4), "", "", "", "")
			o = object{parts[0], parts[1], parts[2], parts[3]}
			if number/10000 != made {
				o.sql = "as it is"
			}
			return o, err
		})
	}
	wanted, err := objects(`SELECT unnest(objects) FROM migrations WHERE version = (SELECT max(version) FROM migrations)`)
	if err != nil {
		return err
	}
	have, err := objects(`SELECT concat_ws(E'\t', kind, name, belongs, made) FROM (` + objectsSQL + `) AS o`)
	if err != nil {
		return err
	}
	c.compare(wanted, have)
	return nil
}
