package book

import (
	"context"
	"io"
)

// applicationID marks the database file as a shop book ("PWbk").
const applicationID = 0x5057626b

// step brings the schema from the version before to version to. The last one's transaction also fills the derived
// tables again from the events, so a step need not carry derived rows over.
type step struct {
	to   int
	sql  string
	then func(ctx context.Context, x executor, random io.Reader) error // after sql, in its transaction; nil: nothing
}

// eventsNeverChange stops every change of an event by plain SQL.
const eventsNeverChange = `CREATE TRIGGER events_no_update BEFORE UPDATE ON events BEGIN SELECT ` +
	`RAISE(ABORT, 'events never change'); END`

// steps is the whole history of the schema. A step that was released is never edited: a new one is added. A new book
// runs all of them, so that new and upgraded books have the same schema to the letter.
var steps = []step{
	{to: 1, sql: `
CREATE TABLE events (
	seq        INTEGER PRIMARY KEY AUTOINCREMENT,
	job        TEXT    NOT NULL,
	version    INTEGER NOT NULL CHECK (version > 0),
	at         INTEGER NOT NULL,
	who        TEXT    NOT NULL,
	kind       TEXT    NOT NULL,
	key        TEXT,
	payload    TEXT    NOT NULL,
	clock_back INTEGER NOT NULL,
	prev       BLOB    NOT NULL CHECK (length(prev) = 32),
	hash       BLOB    NOT NULL CHECK (length(hash) = 32),
	UNIQUE (job, version)
) STRICT;
CREATE UNIQUE INDEX events_key ON events (job, key) WHERE key IS NOT NULL;
CREATE UNIQUE INDEX events_start_key ON events (key) WHERE version = 1 AND key IS NOT NULL;
` + eventsNeverChange + `;
CREATE TRIGGER events_no_delete BEFORE DELETE ON events BEGIN SELECT RAISE(ABORT, 'events are never deleted'); END;

CREATE TABLE jobs (
	no          INTEGER PRIMARY KEY,
	id          TEXT    NOT NULL UNIQUE,
	version     INTEGER NOT NULL,
	name        TEXT    NOT NULL,
	owner       TEXT    NOT NULL,
	engine      TEXT    NOT NULL,
	shop        TEXT    NOT NULL,
	status      TEXT    NOT NULL,
	archived    INTEGER NOT NULL,
	readings    INTEGER NOT NULL,
	corrections INTEGER NOT NULL,
	steps_done  INTEGER NOT NULL,
	attachments INTEGER NOT NULL,
	notes       INTEGER NOT NULL,
	created_at  INTEGER NOT NULL,
	last_at     INTEGER NOT NULL,
	last_kind   TEXT    NOT NULL,
	last_who    TEXT    NOT NULL,
	last_seq    INTEGER NOT NULL,
	head        BLOB    NOT NULL
) STRICT;
CREATE INDEX jobs_last ON jobs (last_seq);
CREATE INDEX jobs_shelf ON jobs (archived, last_seq);

CREATE TABLE marks (
	job_no INTEGER NOT NULL,
	sort   TEXT    NOT NULL,
	id     TEXT    NOT NULL,
	live   INTEGER NOT NULL,
	PRIMARY KEY (job_no, sort, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE files (
	job_no     INTEGER NOT NULL,
	version    INTEGER NOT NULL,
	sha256     BLOB    NOT NULL,
	name       TEXT    NOT NULL,
	media_type TEXT    NOT NULL,
	size       INTEGER NOT NULL,
	PRIMARY KEY (job_no, version)
) STRICT, WITHOUT ROWID;
CREATE INDEX files_sha256 ON files (sha256);
`},
	{to: 2, sql: `
CREATE TABLE job_text (
	no      INTEGER PRIMARY KEY,
	shelf   TEXT NOT NULL,
	words   TEXT NOT NULL,
	remarks TEXT NOT NULL
) STRICT;
CREATE VIRTUAL TABLE search USING fts5 (
	shelf, words, remarks,
	content = 'job_text', content_rowid = 'no', columnsize = 0, detail = none, prefix = '1 2 3 4 5 6', tokenize = 'ascii'
);
`},
	{to: 3, sql: `
DROP TABLE search;
DROP TABLE job_text;
DROP TABLE jobs;
DROP TABLE files;

CREATE TABLE jobs (
	no          INTEGER PRIMARY KEY,
	id          TEXT    NOT NULL UNIQUE,
	version     INTEGER NOT NULL,
	name        TEXT    NOT NULL,
	owner       TEXT    NOT NULL,
	engine      TEXT    NOT NULL,
	shop        TEXT    NOT NULL,
	bay         TEXT    NOT NULL,
	status      TEXT    NOT NULL,
	archived    INTEGER NOT NULL,
	readings    INTEGER NOT NULL,
	corrections INTEGER NOT NULL,
	steps_done  INTEGER NOT NULL,
	attachments INTEGER NOT NULL,
	notes       INTEGER NOT NULL,
	created_at  INTEGER NOT NULL,
	worked_at   INTEGER NOT NULL,
	last_at     INTEGER NOT NULL,
	last_kind   TEXT    NOT NULL,
	last_who    TEXT    NOT NULL,
	last_seq    INTEGER NOT NULL,
	head        BLOB    NOT NULL
) STRICT;
CREATE INDEX jobs_worked ON jobs (worked_at, no);
CREATE INDEX jobs_shelf ON jobs (archived, worked_at, no);
CREATE INDEX jobs_found ON jobs (no, worked_at);

CREATE TABLE files (
	job_no     INTEGER NOT NULL,
	version    INTEGER NOT NULL,
	sha256     BLOB    NOT NULL,
	name       TEXT    NOT NULL,
	media_type TEXT    NOT NULL,
	size       INTEGER NOT NULL,
	discarded  INTEGER NOT NULL,
	PRIMARY KEY (job_no, version)
) STRICT, WITHOUT ROWID;
CREATE INDEX files_sha256 ON files (sha256, discarded);

CREATE TABLE job_text (
	no      INTEGER PRIMARY KEY,
	shelf   TEXT NOT NULL,
	words   TEXT NOT NULL,
	years   TEXT NOT NULL,
	card    TEXT NOT NULL,
	remarks TEXT NOT NULL
) STRICT;
CREATE VIRTUAL TABLE search USING fts5 (
	shelf, words, years, card, remarks,
	content = 'job_text', content_rowid = 'no', columnsize = 0, detail = none, prefix = '1 2 3 4 5 6', tokenize = 'ascii'
);
CREATE TABLE vocabulary (
	word TEXT    PRIMARY KEY,
	jobs INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE TABLE grams (
	gram TEXT NOT NULL,
	word TEXT NOT NULL,
	PRIMARY KEY (gram, word)
) STRICT, WITHOUT ROWID;
CREATE TABLE custody (
	one    INTEGER PRIMARY KEY CHECK (one = 1),
	in_use INTEGER NOT NULL
) STRICT;
INSERT INTO custody VALUES (1, 0);
`},
	{to: 4, sql: `
CREATE TABLE personal (
	event  INTEGER NOT NULL,
	path   TEXT    NOT NULL,
	clear  INTEGER NOT NULL,
	salt   BLOB,
	value  TEXT,
	erased INTEGER,
	PRIMARY KEY (event, path)
) STRICT, WITHOUT ROWID;
CREATE TABLE erasing (
	one INTEGER PRIMARY KEY CHECK (one = 1),
	due INTEGER NOT NULL
) STRICT;
INSERT INTO erasing VALUES (1, 0);
ALTER TABLE jobs ADD COLUMN person TEXT NOT NULL DEFAULT '';
ALTER TABLE jobs ADD COLUMN waiting TEXT NOT NULL DEFAULT '';
ALTER TABLE jobs ADD COLUMN waiting_at INTEGER NOT NULL DEFAULT 0;
ALTER TABLE jobs ADD COLUMN opened_at INTEGER NOT NULL DEFAULT 0;
CREATE INDEX jobs_bay ON jobs (archived, bay, worked_at, no);
CREATE INDEX jobs_person ON jobs (archived, person, worked_at, no);
CREATE INDEX jobs_waiting ON jobs (archived, worked_at, no) WHERE waiting <> '';
CREATE TABLE work (
	job_no      INTEGER NOT NULL,
	hour        INTEGER NOT NULL,
	person      TEXT    NOT NULL,
	steps       INTEGER NOT NULL,
	readings    INTEGER NOT NULL,
	corrections INTEGER NOT NULL,
	proofs      INTEGER NOT NULL,
	entries     INTEGER NOT NULL,
	PRIMARY KEY (job_no, hour, person)
) STRICT, WITHOUT ROWID;
CREATE INDEX work_hour ON work (hour, person, job_no);
`, then: sealAll},
}

// latest is the schema version this release writes.
func latest() int { return steps[len(steps)-1].to }

// derivedTables can all be made again from the events. search is the index over job_text and holds nothing of its own.
var derivedTables = []string{"search", "jobs", "marks", "files", "job_text", "vocabulary", "grams", "work"}

// comparedTables are those of them that Rebuild and Check compare row by row.
var comparedTables = []string{"jobs", "marks", "files", "job_text", "vocabulary", "grams", "work"}
