package book

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/jsonschema-go/jsonschema"
)

// readBack reads the three files with another language's readers of CSV and JSON and says what it found.
const readBack = `
import csv, json, sys
jobs = list(csv.DictReader(open(sys.argv[1], newline='', encoding='utf-8'), strict=True))
events = list(csv.DictReader(open(sys.argv[2], newline='', encoding='utf-8'), strict=True))
book = json.load(open(sys.argv[3], encoding='utf-8'))
for row, job in zip(jobs, book['jobs'], strict=True):
    assert set(row) == set(job) - {'events'}, (row, job)
    for key, cell in row.items():
        want = job[key]
        want = {True: 'true', False: 'false'}[want] if isinstance(want, bool) else str(want)
        assert cell in (want, "'" + want), (key, cell, want)
    mine = [e for e in events if e['job'] == job['id']]
    for cell, event in zip(mine, job['events'], strict=True):
        said = dict(event['payload'], **{p['path'][1:]: p['value'] for p in event.get('personal', [])})
        assert json.loads(cell['payload']) == said and cell['hash'] == event['hash'] and cell['who'] == event['who'].replace('=', "'=")
    assert job['head'] == job['events'][-1]['hash']
print(len(jobs), len(events), json.dumps([row['owner'] for row in jobs]))
`

func TestTheWholeBookForASpreadsheet(t *testing.T) {
	python, err := exec.LookPath("python3")
	if err != nil {
		t.Skip("no python3")
	}
	b := openNew(t)
	for _, owner := range []string{"plain", `quotes " and, commas`, "=1+1", "Søren Müller 船"} {
		e, err := b.CreateJob(t.Context(), NewJob{Who: "Ada", Name: "boat of " + owner, Owner: owner})
		if err != nil {
			t.Fatal(err)
		}
		mustAppend(t, b, e.Job, AnyVersion, note("two\nlines, \"quoted\"; half a word: \u2028"))
	}
	fullJob(t, b)
	jobs, err := b.AllJobs(t.Context(), Query{Shelf: Both})
	if err != nil {
		t.Fatal(err)
	}
	mustAppend(t, b, jobs[0].ID, AnyVersion, Draft{Who: "=Ada", Kind: KindJobArchived})
	if jobs, err = b.AllJobs(t.Context(), Query{Shelf: Both}); err != nil || len(jobs) != 5 {
		t.Fatal(len(jobs), err)
	}
	dir := t.TempDir()
	write := func(name string, do func(w *bytes.Buffer) error) string {
		var w bytes.Buffer
		if err := do(&w); err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, w.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	jobTable := write("jobs.csv", func(w *bytes.Buffer) error { return WriteCSV(w, jobs) })
	eventTable := write("events.csv", func(w *bytes.Buffer) error { return b.WriteEventsCSV(t.Context(), w) })
	document := write("book.json", func(w *bytes.Buffer) error {
		return WriteJSON(w, jobs, func(job string) ([]Event, error) { return b.Events(t.Context(), job, 0) })
	})
	out, err := exec.Command(python, "-c", readBack, jobTable, eventTable, document).CombinedOutput()
	if err != nil {
		t.Fatalf("another reader: %v\n%s", err, out)
	}
	for _, want := range []string{"5 16 ", `"'=1+1"`, `"quotes \" and, commas"`} {
		if !strings.Contains(string(out), want) {
			t.Errorf("another reader found %s, not %s", out, want)
		}
	}
	// The document is what its schema says, and the schema can say no.
	var s jsonschema.Schema
	if err := json.Unmarshal(WholeSchema(), &s); err != nil {
		t.Fatal(err)
	}
	resolved, err := s.Resolve(nil)
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(document)
	if err != nil {
		t.Fatal(err)
	}
	for from, to := range map[string]string{"": "", `"put_away":false`: `"put_away":0`, `"bay":""`: `"bay":3`, `"worked_at":"2026`: `"worked_at":"26`} {
		bad := strings.Replace(string(text), from, to, 1)
		var doc any
		if err := json.Unmarshal([]byte(bad), &doc); err != nil {
			t.Fatal(err)
		}
		if err := resolved.Validate(doc); (err == nil) != (from == "") {
			t.Errorf("%q for %q: %v", to, from, err)
		}
	}
}
