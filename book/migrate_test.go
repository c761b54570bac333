package book

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
)

// oldBook copies the book of an earlier schema to a place where it may be changed.
func oldBook(t *testing.T, schema string) string {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS(filepath.Join("testdata", schema))); err != nil {
		t.Fatal(err)
	}
	return filepath.Join(dir, "shop.book")
}

// compareWithFixture compares the jobs of the fixture, event by event, with what the code of that time read. What was
// added later is ignored.
func compareWithFixture(t *testing.T, b *Book) {
	t.Helper()
	text, err := os.ReadFile("testdata/v1/events.json")
	if err != nil {
		t.Fatal(err)
	}
	var want []Event
	if err := json.Unmarshal(text, &want); err != nil {
		t.Fatal(err)
	}
	if len(want) != 13 {
		t.Fatalf("fixture of %d events", len(want))
	}
	have := map[string][]Event{}
	for _, w := range want {
		if have[w.Job] == nil {
			if have[w.Job], err = b.Events(t.Context(), w.Job, 0); err != nil {
				t.Fatal(err)
			}
		}
		g := have[w.Job][w.Version-1]
		payload, err := Canonical(w.Payload, MaxDepth) // the file is indented
		if err != nil {
			t.Fatal(err)
		}
		if g.Seq != w.Seq || !g.At.Equal(w.At) || g.Who != w.Who || g.Kind != w.Kind || g.Key != w.Key || g.Back != w.Back || g.Prev != w.Prev || g.Hash != w.Hash || !bytes.Equal(g.Payload, payload) {
			t.Errorf("event %d came out differently:\n%+v\nwant\n%+v", w.Seq, g, w)
		}
	}
}

func TestEveryEarlierSchemaComesUpToDate(t *testing.T) {
	if latest() != 4 {
		t.Fatal("a new schema needs a book of the one before in testdata, and a case here")
	}
	for _, schema := range []string{"1", "2", "3"} {
		t.Run(schema, func(t *testing.T) { comesUpToDate(t, schema) })
	}
}

func comesUpToDate(t *testing.T, schema string) {
	path := oldBook(t, "v"+schema)
	wantOpenError(t, path, Options{Access: ReadOnly}, ErrOlder, "schema "+schema, "phasewright book rebuild")
	b := openAt(t, path, Options{})
	mustBeSound(t, b)
	compareWithFixture(t, b)
	// Worked out by hand from the fixture's events.
	page, err := b.Jobs(t.Context(), Query{Text: "soren muller spits"})
	if err != nil || len(page.Jobs) != 1 {
		t.Fatalf("%+v, %v", page, err)
	}
	j := page.Jobs[0]
	if last, err := b.Events(t.Context(), j.ID, 0); err != nil || !j.WorkedAt.Equal(last[7].At) {
		t.Errorf("worked on at %s, %v", j.WorkedAt, err)
	}
	if j.Name != "Sandpiper, main engine" || j.Version != 8 || j.Readings != 1 || j.StepsDone != 1 || j.Attachments != 1 || j.Status != "looking for a fault" {
		t.Errorf("list line: %+v", j)
	}
	if page, err = b.Jobs(t.Context(), Query{Text: "ポンプ"}); err != nil || len(page.Jobs) != 1 || page.Jobs[0].Notes != 1 {
		t.Errorf("%+v, %v", page, err)
	}
	if page, err = b.Jobs(t.Context(), Query{Shelf: Archived}); err != nil || len(page.Jobs) != 1 || page.Jobs[0].Owner != "Ελένη Ψαρά" {
		t.Errorf("%+v, %v", page, err)
	}
	// It goes on as if it had always been of this schema.
	mustAppend(t, b, j.ID, 8, note("after the upgrade"))
	e, err := b.CreateJob(t.Context(), NewJob{Who: "Ada", Name: "new"})
	if err != nil || e.Seq != 15 {
		t.Errorf("%+v, %v", e, err)
	}
	r, err := b.Rebuild(t.Context())
	if err != nil || len(r.Differences) > 0 {
		t.Errorf("%+v, %v", r, err)
	}
	mustBeSound(t, b)
}

// A backup of an earlier schema can be restored; the backup itself stays as it was.
func TestRestoringABackupOfAnEarlierSchema(t *testing.T) {
	path := oldBook(t, "v1")
	before := sumOf(t, path)
	to := filepath.Join(t.TempDir(), "restored.book")
	if err := Restore(t.Context(), path, to); err != nil {
		t.Fatal(err)
	}
	b := openAt(t, to, Options{})
	mustBeSound(t, b)
	compareWithFixture(t, b)
	if sumOf(t, path) != before {
		t.Error("the backup was changed")
	}
}

// A step that cannot be done leaves the book as it was.
func TestAFailedStepLeavesTheOldSchema(t *testing.T) {
	path := oldBook(t, "v1")
	rawly(t, path, `CREATE TABLE job_text (in_the_way)`)
	wantOpenError(t, path, Options{}, errAny, "schema 2 could not be made; the book is as it was")
	rawly(t, path, `DROP TABLE job_text`)
	b := openAt(t, path, Options{})
	mustBeSound(t, b)
	compareWithFixture(t, b)
}
