package book

import (
	"bytes"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// closedBook makes a book with some jobs, closes it, and gives its path and the jobs.
func closedBook(t testing.TB, jobs, notes int) (path string, ids []string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "shop.book")
	b, err := Open(t.Context(), path, Options{Clock: steadyClock(), Random: steadyRandom(2)})
	if err != nil {
		t.Fatal(err)
	}
	for i := range jobs {
		ids = append(ids, newJob(t, b, fmt.Sprint("job ", i)).Job)
	}
	for range notes {
		for i, id := range ids {
			mustAppend(t, b, id, AnyVersion, note(fmt.Sprintf("note of job %d %s", i, strings.Repeat("lorem ", 40))))
		}
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	return path, ids
}

// rawly runs SQL on a book behind its back.
func rawly(t testing.TB, path string, statements ...string) {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for _, s := range statements {
		if _, err := db.Exec(s); err != nil {
			t.Fatalf("%s: %v", s, err)
		}
	}
}

func sumOf(t testing.TB, path string) [32]byte {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return sha256.Sum256(text)
}

var errAny = errors.New("any")

func wantOpenError(t *testing.T, path string, opt Options, want error, words ...string) {
	t.Helper()
	b, err := Open(t.Context(), path, opt)
	if err == nil {
		b.Close()
		t.Fatalf("opened, want %v", want)
	}
	if want == errAny {
		want = err
	}
	wantError(t, err, want, words...)
}

func TestABookFromANewerReleaseIsLeftAlone(t *testing.T) {
	path, _ := closedBook(t, 1, 1)
	rawly(t, path, `PRAGMA user_version = 99`, `PRAGMA wal_checkpoint(truncate)`)
	before := sumOf(t, path)
	wantOpenError(t, path, Options{}, ErrNewer, "schema 99", "newer release", "nothing was changed")
	wantOpenError(t, path, Options{Access: ReadOnly}, ErrNewer)
	if sumOf(t, path) != before {
		t.Error("the book was changed")
	}
}

func TestFilesThatAreNotBooksAreLeftAlone(t *testing.T) {
	dir := t.TempDir()
	text, other := filepath.Join(dir, "text"), filepath.Join(dir, "other.db")
	if err := os.WriteFile(text, bytes.Repeat([]byte("not a database at all\n"), 100), 0o644); err != nil {
		t.Fatal(err)
	}
	rawly(t, other, `CREATE TABLE things (a)`, `INSERT INTO things VALUES (1)`)
	for _, path := range []string{text, other} {
		before := sumOf(t, path)
		wantOpenError(t, path, Options{}, ErrNotBook, filepath.Base(path), "give another path")
		wantOpenError(t, path, Options{Access: ReadOnly}, ErrNotBook)
		if sumOf(t, path) != before {
			t.Errorf("%s was changed", path)
		}
	}
	wantOpenError(t, dir, Options{}, ErrNotBook, "folder")
	wantOpenError(t, filepath.Join(dir, "missing"), Options{Access: ReadOnly}, os.ErrNotExist, "no book here")
	if _, err := os.Stat(filepath.Join(dir, "missing")); err == nil {
		t.Error("opening for reading made a book")
	}
	wantOpenError(t, filepath.Join(dir, "no", "folder"), Options{}, os.ErrNotExist, "make the folder first")
}

func TestPathsWithOddCharacters(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "a b?c#d%20e é&mode=ro;'")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "shop?x=1#y%2f.book")
	b := openAt(t, path, Options{})
	job := newJob(t, b, "Sandpiper").Job
	if err := b.Backup(t.Context(), filepath.Join(dir, "back?up.book")); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(path); err != nil {
		t.Error(err)
	}
	r := openAt(t, filepath.Join(dir, "back?up.book"), Options{Access: ReadOnly})
	if _, err := r.Job(t.Context(), job); err != nil {
		t.Error(err)
	}
}

func TestADamagedPageIsNamedAndTheRestCanBeRead(t *testing.T) {
	path, ids := closedBook(t, 20, 30)
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	const page = 4096
	at := bytes.LastIndex(text, []byte(`{"text":"note of job 7 lorem`)) / page * page
	copy(text[at:at+page], bytes.Repeat([]byte{0xa5}, page))
	if err := os.WriteFile(path, text, 0o644); err != nil {
		t.Fatal(err)
	}
	before := sumOf(t, path)
	b := openAt(t, path, Options{})
	damaged, readable := 0, 0
	for _, id := range ids {
		events, err := b.Events(t.Context(), id, 0)
		switch {
		case err != nil:
			wantError(t, err, ErrDamaged, path, "restore the last backup")
			damaged++
		case len(events) == 31:
			readable++
		default:
			t.Errorf("job %s gave %d events and no error", id, len(events))
		}
	}
	// Events of all jobs lie mixed on each page here, so every job has lost some; none may lose them in silence.
	if damaged == 0 || damaged+readable != len(ids) {
		t.Errorf("%d jobs damaged, %d readable", damaged, readable)
	}
	r, err := b.Check(t.Context())
	if err != nil || len(r.Problems) == 0 || !strings.Contains(strings.Join(r.Problems, "\n"), "restore") {
		t.Errorf("check: %+v, %v", r, err)
	}
	if page, err := b.Jobs(t.Context(), Query{}); err != nil || len(page.Jobs) != 20 {
		t.Errorf("list: %d jobs, %v", len(page.Jobs), err)
	}
	b.Close()
	if sumOf(t, path) != before {
		t.Error("looking at a damaged book changed it")
	}
}

func TestADamagedBookTakesNoMoreEvents(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.book")
	b := openAt(t, path, Options{})
	bad, good := newJob(t, b, "bad").Job, newJob(t, b, "good").Job
	for _, job := range []string{bad, good} { // one after the other, so that they lie on different pages
		for range 60 {
			mustAppend(t, b, job, AnyVersion, note("note of "+job+strings.Repeat(" lorem", 40)))
		}
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	const page = 4096
	damaged := 0
	const leaf = 0x0d // of a table; its root keeps stale copies too
	for p := 0; p < len(text); p += page {
		if text[p] == leaf && bytes.Contains(text[p:p+page], []byte(`{"text":"note of `+bad)) && !bytes.Contains(text[p:p+page], []byte(`{"text":"note of `+good)) {
			copy(text[p:p+page], make([]byte, page))
			damaged++
		}
	}
	if err := os.WriteFile(path, text, 0o644); err != nil {
		t.Fatal(err)
	}
	b = openAt(t, path, Options{})
	for _, job := range []string{good, bad} { // it is seen at the opening, before anything goes in
		_, err = b.Append(t.Context(), job, AnyVersion, note("more"))
		wantError(t, err, ErrDamaged, "nothing more is recorded", "restore the last backup")
	}
	_, err = b.PutAttachment(t.Context(), good, NewAttachment{Who: "Ada", Name: "x"}, strings.NewReader("x"))
	wantError(t, err, ErrDamaged)
	_, err = b.CreateJob(t.Context(), NewJob{Who: "Ada", Name: "new"})
	wantError(t, err, ErrDamaged)
	if damaged < 3 {
		t.Errorf("only %d pages were damaged", damaged)
	}
	wantError(t, Restore(t.Context(), path, filepath.Join(t.TempDir(), "new.book")), ErrDamaged) // events are lost: only a backup helps
}

// spoil writes zeros over the leaf pages of a table that hold the text, in a book that is closed or open.
func spoil(t *testing.T, path, text string) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	const page, leaf = 4096, 0x0d
	n := 0
	for p := page; p < len(all); p += page {
		if all[p] == leaf && bytes.Contains(all[p:p+page], []byte(text)) {
			if _, err := f.WriteAt(make([]byte, page), int64(p)); err != nil {
				t.Fatal(err)
			}
			n++
		}
	}
	if n == 0 {
		t.Fatalf("no page holds %q", text)
	}
}

// Damage that comes while the book is open is found when it is read, and from then on nothing goes in.
func TestWhatCannotBeReadMakesTheBookReadOnly(t *testing.T) {
	path, ids := closedBook(t, 2, 40)
	b := openAt(t, path, Options{})
	if b.Damage() != nil {
		t.Fatal(b.Damage())
	}
	mustAppend(t, b, ids[1], AnyVersion, note("before"))
	spoil(t, path, `{"text":"note of job 0 lorem`)
	events, err := b.Events(t.Context(), ids[0], 0)
	wantError(t, err, ErrDamaged, path, "restore this very file")
	if len(events) > 0 || b.Damage() == nil {
		t.Errorf("%d events, damage %v", len(events), b.Damage())
	}
	for _, id := range ids {
		_, err = b.Append(t.Context(), id, AnyVersion, note("after"))
		wantError(t, err, ErrDamaged, "nothing more is recorded")
	}
	_, err = b.Rebuild(t.Context())
	wantError(t, err, ErrDamaged)
}

func TestADamagedJobListIsSavedByRestore(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.book")
	b := openAt(t, path, Options{})
	job := newJob(t, b, "Sandpiper").Job
	mustPut(t, b, job, "a.txt", "first content")
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var root int64
	db := database(path, "ro")
	if err := db.QueryRow(`SELECT rootpage FROM sqlite_schema WHERE name = 'jobs'`).Scan(&root); err != nil {
		t.Fatal(err)
	}
	db.Close()
	copy(text[(root-1)*4096:root*4096], make([]byte, 4096))
	if err := os.WriteFile(path, text, 0o644); err != nil {
		t.Fatal(err)
	}
	b = openAt(t, path, Options{})
	_, err = b.Job(t.Context(), job)
	wantError(t, err, ErrDamaged)
	_, err = b.Append(t.Context(), job, AnyVersion, note("more"))
	wantError(t, err, ErrDamaged, "restore this very file")
	r, err := b.Check(t.Context())
	if err != nil || !strings.Contains(strings.Join(r.Problems, "\n"), "restore this very file") {
		t.Errorf("check: %+v, %v", r, err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	saved := filepath.Join(t.TempDir(), "saved.book")
	if err := Restore(t.Context(), path, saved); err != nil {
		t.Fatal(err)
	}
	b = openAt(t, saved, Options{})
	if r := mustBeSound(t, b); r.Jobs != 1 || r.Events != 2 || r.Files != 1 {
		t.Errorf("saved: %+v", r)
	}
	mustAppend(t, b, job, 2, note("goes on"))
}

// Events missing at the end are missed by a rescue too.
func TestARescueDoesNotHideLostEvents(t *testing.T) {
	path, _ := closedBook(t, 2, 2)
	rawly(t, path, `DROP TRIGGER events_no_delete; DELETE FROM events WHERE seq = (SELECT max(seq) FROM events); DROP TABLE marks`)
	wantError(t, Restore(t.Context(), path, filepath.Join(t.TempDir(), "new.book")), ErrDamaged, "events are missing")
}

// A lost table is damage too, and not an error that nobody understands.
func TestALostTableIsDamage(t *testing.T) {
	path, ids := closedBook(t, 2, 2)
	rawly(t, path, `DROP TABLE jobs`)
	b := openAt(t, path, Options{})
	_, err := b.Jobs(t.Context(), Query{})
	wantError(t, err, ErrDamaged, "restore this very file")
	_, err = b.Append(t.Context(), ids[0], AnyVersion, note("more"))
	wantError(t, err, ErrDamaged)
	saved := filepath.Join(t.TempDir(), "saved.book")
	if err := Restore(t.Context(), path, saved); err != nil {
		t.Fatal(err)
	}
	mustBeSound(t, openAt(t, saved, Options{}))
}

func TestADamagedHeadAndACutFile(t *testing.T) {
	path, ids := closedBook(t, 3, 30)
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	head := bytes.Clone(text)
	copy(head, bytes.Repeat([]byte{0xff}, 100))
	if err := os.WriteFile(path, head, 0o644); err != nil {
		t.Fatal(err)
	}
	wantOpenError(t, path, Options{}, ErrNotBook, "restore the last backup")

	if err := os.WriteFile(path, text[:len(text)/2], 0o644); err != nil {
		t.Fatal(err)
	}
	b, err := Open(t.Context(), path, Options{})
	if err == nil {
		defer b.Close()
		for _, id := range ids {
			events, evErr := b.Events(t.Context(), id, 0)
			if evErr == nil && len(events) != 31 {
				t.Errorf("a cut book gave %d of 31 events in silence", len(events))
			}
			err = errors.Join(err, evErr)
		}
	}
	wantError(t, err, ErrDamaged)
}

func TestChangedBytesThatSQLiteCannotSeeBreakTheChain(t *testing.T) {
	path, ids := closedBook(t, 3, 3)
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	text = bytes.ReplaceAll(text, []byte(`{"text":"note of job 1 lorem`), []byte(`{"text":"note of job 1 lOrem`)) // stale copies on split pages too
	if err := os.WriteFile(path, text, 0o644); err != nil {
		t.Fatal(err)
	}
	b := openAt(t, path, Options{})
	r, err := b.Check(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	all := strings.Join(r.Problems, "\n")
	if !strings.Contains(all, "job "+ids[1]+", version") || !strings.Contains(all, "content does not fit its hash") || strings.Contains(all, ids[0]) {
		t.Errorf("problems:\n%s", all)
	}
	wantError(t, b.Export(t.Context(), ids[1], new(bytes.Buffer)), ErrDamaged)
	if err := b.Export(t.Context(), ids[0], new(bytes.Buffer)); err != nil {
		t.Error(err)
	}
}

func TestEventsCannotBeChangedByPlainSQL(t *testing.T) {
	path, _ := closedBook(t, 1, 1)
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for _, s := range []string{`UPDATE events SET who = 'Eve'`, `DELETE FROM events`, `UPDATE events SET payload = '{}' WHERE seq = 1`} {
		if _, err := db.Exec(s); err == nil || !strings.Contains(err.Error(), "events ") {
			t.Errorf("%s: %v", s, err)
		}
	}
}

func TestCheckFindsWhatWasDoneBehindItsBack(t *testing.T) {
	const unlock = `DROP TRIGGER events_no_update; DROP TRIGGER events_no_delete`
	const relock = `CREATE TRIGGER events_no_update BEFORE UPDATE ON events BEGIN SELECT RAISE(ABORT, 'events never change'); END;
CREATE TRIGGER events_no_delete BEFORE DELETE ON events BEGIN SELECT RAISE(ABORT, 'events are never deleted'); END`
	for name, c := range map[string]struct {
		sql     string
		want    string
		rebuild bool // Rebuild puts it right
	}{
		"event changed":        {unlock + `; UPDATE events SET who = 'Eve' WHERE version = 2; ` + relock, "does not fit its hash", false},
		"event taken out":      {unlock + `; DELETE FROM events WHERE version = 2; ` + relock, "version 2 should stand here", false},
		"last event taken off": {unlock + `; DELETE FROM events WHERE seq = (SELECT max(seq) FROM events); ` + relock, "events are missing", false},
		"job taken out":        {unlock + `; DELETE FROM events WHERE job = (SELECT id FROM jobs WHERE no = 1); ` + relock, "events are missing", false},
		"clock flag set":       {unlock + `; UPDATE events SET clock_back = 1 WHERE version = 2; ` + relock, "clock flag", false},
		"trigger dropped":      {unlock, "trigger events_no_update is missing", false},
		"trigger added":        {`CREATE TRIGGER evil AFTER INSERT ON events BEGIN DELETE FROM jobs; END`, "evil does not belong", false},
		"list line changed":    {`UPDATE jobs SET name = 'x' WHERE no = 1`, "do not fit the events", true},
		"list line lost":       {`DELETE FROM jobs WHERE no = 1`, "do not fit the events", true},
		"list line added":      {`INSERT INTO jobs SELECT 99, 'x', version, name, owner, engine, shop, bay, status, archived, readings, corrections, steps_done, attachments, notes, created_at, worked_at, last_at, last_kind, last_who, 99, head, person, waiting, waiting_at, opened_at FROM jobs WHERE no = 1`, "jobs that do not exist", true},
		"work changed":         {`UPDATE work SET entries = entries + 1 WHERE job_no = 1`, "do not fit the events", true},
		"work added":           {`INSERT INTO work VALUES (99, 1, 'x', 1, 1, 1, 1, 1)`, "jobs that do not exist", true},
		"search text changed":  {`UPDATE job_text SET words = 'x' WHERE no = 1`, "do not fit the events", true},
		"a word lost":          {`DELETE FROM vocabulary WHERE word = 'marlow'`, "list of words for search", true},
		"a word miscounted":    {`UPDATE vocabulary SET jobs = 7 WHERE word = 'marlow'`, "list of words for search", true},
		"a gram lost":          {`DELETE FROM grams WHERE gram = 'arl'`, "list of words for search", true},
		"a gram made up":       {`INSERT INTO grams VALUES ('zzz', 'marlow')`, "list of words for search", true},
		"search index emptied": {`INSERT INTO search (search) VALUES ('delete-all')`, "search index", true},
		"index dropped":        {`DROP INDEX jobs_worked`, "index jobs_worked is missing", true},
	} {
		t.Run(name, func(t *testing.T) {
			path, _ := closedBook(t, 3, 2)
			rawly(t, path, c.sql)
			b := openAt(t, path, Options{})
			r, err := b.Check(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			if all := strings.Join(r.Problems, "\n"); !strings.Contains(all, c.want) {
				t.Errorf("problems:\n%s\nwant %q", all, c.want)
			}
			for _, p := range r.Problems {
				if strings.Count(p, " – ") < 2 {
					t.Errorf("problem %q is not of the form where – what – remedy", p)
				}
			}
			if !c.rebuild {
				return
			}
			re, err := b.Rebuild(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			if strings.HasPrefix(name, "list") && len(re.Differences) == 0 {
				t.Error("rebuild reports no difference")
			}
			mustBeSound(t, b)
		})
	}
}

// The second check must not see the search index as it was at the first.
func TestCheckingTwiceRaisesNoFalseAlarm(t *testing.T) {
	b := openNew(t)
	job := newJob(t, b, "Sandpiper").Job
	for range 5 {
		mustBeSound(t, b)
		for range 27 {
			mustAppend(t, b, job, AnyVersion, note(strings.Repeat("filling up ", 200)))
		}
	}
	mustBeSound(t, b)
}
