package book

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"
)

// The people of these tests are invented. No word of their names stands anywhere else in them.
var (
	forgotten = []string{"Quillonius Vasterbrink-Özdemir", "+99 555 018 2277", "Wilmuthe Orzelgrün", "Zebulonia Krämvitz"}
	stays     = "Marlow Quay Boatyard"
)

// personOf makes a job of somebody who will ask to be forgotten.
func personOf(t testing.TB, b *Book) string {
	t.Helper()
	e, err := b.CreateJob(t.Context(), NewJob{Who: "Ada Reed", Name: "Ferry two", Owner: forgotten[0],
		Contact: forgotten[1], Key: "start"})
	if err != nil {
		t.Fatal(err)
	}
	for i, d := range []Draft{
		note("Ask [[" + forgotten[2] + "]] for the key. [[ ]] and [x] are no names."),
		{Who: "Ada Reed", Kind: KindCardSaved, Payload: mustJSON(t, map[string]string{"yaml": "job:\n  name: Ferry two\n  owner: \"" +
			forgotten[0] + "\" # since May\n  shop: Slip 4\n"})},
		{Who: "Ada Reed", Kind: KindJobDescribed, Payload: mustJSON(t, map[string]string{"owner": forgotten[0] + " Ltd", "bay": "2"})},
		{Who: "Ada Reed", Kind: KindProofSigned, Payload: mustJSON(t, map[string]string{"name": forgotten[3], "role": "customer", "verdict": "pass"})},
		{Who: "Ada Reed", Kind: KindReadingWithdrawn, Payload: mustJSON(t, map[string]string{"id": "r", "reason": "[[" + forgotten[2] + "]] and [[" + forgotten[3] + "]]"})},
	} {
		d.Key = fmt.Sprintf("key %d", i)
		mustAppend(t, b, e.Job, AnyVersion, d)
	}
	return e.Job
}

func mustJSON(t testing.TB, v any) []byte {
	t.Helper()
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// traces looks for every form of the names in the raw bytes of files: as written, as search keeps them, word by word and
// without the letters that an index of sorted words shares with the word before, in UTF-8 and both orders of UTF-16.
func traces(t testing.TB, roots ...string) (found []string) {
	t.Helper()
	var wanted []string
	for _, name := range forgotten {
		wanted = append(wanted, name, plain(name))
		for _, w := range append(strings.Fields(name), strings.Fields(plain(name))...) {
			if r := []rune(w); len(r) > 6 {
				wanted = append(wanted, w, string(r[2:]), string(r[:6]))
			}
		}
	}
	for _, root := range roots {
		err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			raw, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			for _, w := range wanted {
				little, big := []byte{}, []byte{}
				for _, u := range utf16.Encode([]rune(w)) {
					little, big = append(little, byte(u), byte(u>>8)), append(big, byte(u>>8), byte(u))
				}
				for _, form := range [][]byte{[]byte(w), little, big} {
					if bytes.Contains(raw, form) {
						found = append(found, filepath.Base(path)+": "+w)
					}
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return found
}

// unpacked is an exported job with its entries as plain files.
func unpacked(t testing.TB, b *Book, job string) string {
	t.Helper()
	file, dir := exportOf(t, b, job), t.TempDir()
	z, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
	if err == nil {
		err = os.CopyFS(dir, z)
	}
	if err != nil {
		t.Fatal(err)
	}
	return dir
}

// An erased person's name stands in no byte of the book, of what lies beside it, of a backup and an export made after.
func TestAForgottenPersonLeavesNoByte(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "shop.book")
	b := openAt(t, path, Options{})
	var jobs []string
	for i := range 400 {
		job := newJob(t, b, fmt.Sprintf("workboat %d", i)).Job
		mustAppend(t, b, job, 1, note(fmt.Sprintf("rotor arm %d changed, seal wet, %s", i*7919, strings.Repeat("long remark ", i%40))))
		if i%100 == 50 {
			jobs = append(jobs, personOf(t, b))
			break
		}
	}
	for i := range 300 { // what comes after moves rows about
		job := newJob(t, b, fmt.Sprintf("pump %d", i)).Job
		mustAppend(t, b, job, 1, note(fmt.Sprintf("quill shaft %d, vast brink, wil mute", i)))
	}
	job := jobs[0]
	mustPut(t, b, job, "damper.txt", "mark at 8 degrees, invented\n")
	if page, err := b.Jobs(t.Context(), Query{Text: "quillonius"}); err != nil || len(page.Jobs) != 1 {
		t.Fatalf("%+v, %v", page, err)
	}
	if n := len(traces(t, dir, unpacked(t, b, job))); n < 12 {
		t.Fatalf("the search for traces finds only %d where all names are", n)
	}
	before, err := b.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	events, err := b.Forget(t.Context(), "Ada Reed", "", job)
	if err != nil || len(events) != 1 || events[0].Version != before.Version+1 {
		t.Fatalf("%+v, %v", events, err)
	}
	backup := filepath.Join(t.TempDir(), "backup.book")
	if err := b.Backup(t.Context(), backup); err != nil {
		t.Fatal(err)
	}
	if found := traces(t, dir, filepath.Dir(backup), unpacked(t, b, job)); found != nil {
		t.Errorf("open book, backup, export: %q", found)
	}
	mustBeSound(t, b)
	if page, err := b.Jobs(t.Context(), Query{Text: "quillonius"}); err != nil || len(page.Jobs) != 0 {
		t.Errorf("%+v, %v", page, err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	if found := traces(t, dir); found != nil {
		t.Errorf("closed book: %q", found)
	}
	b = openAt(t, backup, Options{})
	mustBeSound(t, b)
	if j, err := b.Job(t.Context(), job); err != nil || j.Owner != "erased on 2 Mar 2026" || j.Bay != "2" || j.Name != "Ferry two" {
		t.Errorf("%+v, %v", j, err)
	}
	if page, err := b.Jobs(t.Context(), Query{Text: stays}); err != nil || page.Next == "" {
		t.Errorf("others went too: %+v, %v", page, err)
	}
}

// saysOf is the payload of an event of a job, in words.
func saysOf(t *testing.T, b *Book, job string, v Version) string {
	t.Helper()
	events, err := b.Events(t.Context(), job, v-1)
	if err != nil || len(events) == 0 {
		t.Fatal(err)
	}
	return strings.Join(phrases(events[0].Payload), "|")
}

// Readers get the values as they were written; after the erasure they get when it was, and the chain is the same.
func TestTheChainIsTheSameWithoutThePerson(t *testing.T) {
	b, other := openNew(t), openNew(t)
	job := personOf(t, b)
	old := exportOf(t, b, job)
	before, err := b.Events(t.Context(), job, 0)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := saysOf(t, b, job, 2), "Ask [["+forgotten[2]+"]] for the key. [[ ]] and [x] are no names."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if values := PersonalIn(before); len(values) != 8 {
		t.Errorf("%+v", values)
	}
	if jobs, err := b.JobsWith(t.Context(), "quillonius vasterbrink ozdemir ltd"); err != nil || len(jobs) != 1 || jobs[0].ID != job {
		t.Errorf("%+v, %v", jobs, err)
	}
	if _, err := other.Import(t.Context(), bytes.NewReader(old)); err != nil {
		t.Fatal(err)
	}
	mustBeSound(t, other)
	if _, err := b.Forget(t.Context(), "Ada Reed", "once", job); err != nil {
		t.Fatal(err)
	}
	for range 2 { // sent again, after the answer was lost
		if e, err := b.Forget(t.Context(), "Ada Reed", "once", job); err != nil || !e[0].Repeated || e[0].Version != 7 {
			t.Errorf("%+v, %v", e, err)
		}
	}
	const gone = "erased on 2 Mar 2026"
	for v, want := range map[Version]string{1: gone + "|Ferry two|" + gone, 2: "Ask [[" + gone + "]] for the key. [[ ]] and [x] are no names.",
		3: "job:\n  name: Ferry two\n  owner: " + gone + " # since May\n  shop: Slip 4\n", 4: "2|" + gone, 5: gone + "|customer|pass",
		6: "[[" + gone + "]] and [[" + gone + "]]"} {
		if got := saysOf(t, b, job, v); got != want {
			t.Errorf("version %d: %q, want %q", v, got, want)
		}
	}
	after, err := b.Events(t.Context(), job, 0)
	if err != nil || len(after) != len(before)+1 {
		t.Fatalf("%d events, %v", len(after), err)
	}
	for i, e := range before {
		if after[i].Hash != e.Hash || HashEvent(after[i]) != e.Hash || bytes.Contains(after[i].Payload, []byte("Vasterbrink")) {
			t.Errorf("event %d is another: %s", i+1, after[i].Payload)
		}
	}
	if r := mustBeSound(t, b); r.Unprovable != 0 || len(r.Notices) != 0 {
		t.Errorf("%+v", r)
	}
	if r, err := b.Rebuild(t.Context()); err != nil || len(r.Differences) > 0 {
		t.Errorf("%+v, %v", r, err)
	}
	// What was sent before and comes again is known, whatever the name was; with other words beside it, it is not.
	d := note("Ask [[" + forgotten[2] + "]] for the key. [[ ]] and [x] are no names.")
	d.Key = "key 0"
	if e, err := b.Append(t.Context(), job, AnyVersion, d); err != nil || !e.Repeated {
		t.Errorf("%+v, %v", e, err)
	}
	d.Payload = note("Tell [[" + forgotten[2] + "]] about the key. [[ ]] and [x] are no names.").Payload
	if _, err := b.Append(t.Context(), job, AnyVersion, d); !errors.Is(err, ErrKeyReused) {
		t.Errorf("other words with the key: %v", err)
	}
	// The export of before brings nothing back; the erasure goes where the job went.
	if i, err := b.Import(t.Context(), bytes.NewReader(old)); err != nil || i.Before != 7 || i.Version != 7 {
		t.Errorf("%+v, %v", i, err)
	}
	if _, err := other.Import(t.Context(), bytes.NewReader(exportOf(t, b, job))); err != nil {
		t.Error(err)
	}
	for _, one := range []*Book{b, other} {
		mustBeSound(t, one)
		if found := traces(t, filepath.Dir(one.Path())); found != nil {
			t.Errorf("%q", found)
		}
	}
	// Somebody new may own it, and the next erasure is of them alone.
	mustAppend(t, b, job, 7, Draft{Who: "Ada", Kind: KindJobDescribed, Payload: []byte(`{"owner":"Somebody New"}`)})
	if j, err := b.Job(t.Context(), job); err != nil || j.Owner != "Somebody New" {
		t.Errorf("%+v, %v", j, err)
	}
	if _, err := b.Forget(t.Context(), "Ada", "", job); err != nil {
		t.Error(err)
	}
	mustBeSound(t, b)
	bare := newJob(t, b, "nobody's").Job
	if _, err := b.Forget(t.Context(), "Ada", "", bare); err != nil {
		t.Error(err)
	}
	if _, err := b.Forget(t.Context(), "Ada", "", bare); !errors.Is(err, ErrBadInput) {
		t.Errorf("erasing what is not there: %v", err)
	}
}

// A merge brings the erasure, and restoring a backup or saving a damaged book event by event keeps values and erasures.
func TestMergeAndRestoreCarryErasures(t *testing.T) {
	b, other := openNew(t), openNew(t)
	job := personOf(t, b)
	kept := newJob(t, b, "kept").Job
	merge := func(to, from *Book) {
		t.Helper()
		if err := from.Close(); err != nil {
			t.Fatal(err)
		}
		r := openAt(t, from.Path(), Options{Access: ReadOnly})
		if err := to.Merge(t.Context(), r, func(m Merged) error { return m.Refused }); err != nil {
			t.Fatal(err)
		}
	}
	merge(other, b)
	b = openAt(t, b.Path(), Options{})
	if _, err := b.Forget(t.Context(), "Ada", "", job); err != nil {
		t.Fatal(err)
	}
	merge(other, b)
	mustBeSound(t, other)
	if found := traces(t, filepath.Dir(other.Path())); found != nil {
		t.Errorf("after the merge: %q", found)
	}
	if e, err := other.Events(t.Context(), kept, 0); err != nil || !strings.Contains(string(e[0].Payload), stays) {
		t.Errorf("%s, %v", e[0].Payload, err)
	}
	if err := other.Close(); err != nil {
		t.Fatal(err)
	}
	for name, transfer := range map[string]func(from, to string) error{
		"restore":         func(from, to string) error { return Restore(t.Context(), from, to) },
		"event by event":  func(from, to string) error { _, err := restoreBy(t.Context(), copyEvents, from, to); return err },
		"page after page": func(from, to string) error { _, err := restoreBy(t.Context(), copyBackup, from, to); return err },
	} {
		to := filepath.Join(t.TempDir(), "new.book")
		if err := transfer(other.Path(), to); err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		made := openAt(t, to, Options{})
		mustBeSound(t, made)
		if j, err := made.Job(t.Context(), kept); err != nil || j.Owner != stays {
			t.Errorf("%s: %+v, %v", name, j, err)
		}
		if j, err := made.Job(t.Context(), job); err != nil || !strings.HasPrefix(j.Owner, "erased on ") {
			t.Errorf("%s: %+v, %v", name, j, err)
		}
	}
}

// ferry is the job of testdata/v3 that has personal values.
const ferryOwner = "Quillon Vasterby"

// An entry hashed with a name in it, by a release before, is sealed by the upgrade: no event holds the name any more.
// Once it is erased, check says what cannot be verified and finds no damage.
func TestErasingWhatAnEarlierReleaseHashed(t *testing.T) {
	path := oldBook(t, "v3")
	b := openAt(t, path, Options{})
	if r := mustBeSound(t, b); r.Unprovable != 0 {
		t.Errorf("%+v", r)
	}
	var inEvents int
	if err := b.readers.QueryRow(`SELECT count(*) FROM events WHERE payload LIKE '%Vasterby%' OR payload LIKE '%Orzel%'
		OR payload LIKE '%Ψαρά%'`).Scan(&inEvents); err != nil || inEvents != 0 {
		t.Errorf("%d events hold a name, %v", inEvents, err)
	}
	jobs, err := b.JobsWith(t.Context(), ferryOwner)
	if err != nil || len(jobs) != 1 || jobs[0].Owner != ferryOwner+"-Zeme" {
		t.Fatalf("%+v, %v", jobs, err)
	}
	job := jobs[0].ID
	events, err := b.Events(t.Context(), job, 0)
	if values := PersonalIn(events); err != nil || len(values) != 4 || values[2].Value != "Wilmuth Orzel" {
		t.Errorf("%+v, %v", values, err)
	}
	ferry, err := os.ReadFile("testdata/v3/ferry.zip")
	if err != nil {
		t.Fatal(err)
	}
	fresh := openNew(t)
	if _, err := fresh.Import(t.Context(), bytes.NewReader(ferry)); err != nil {
		t.Fatalf("an export of format 1: %v", err)
	}
	mustBeSound(t, fresh)
	verifiedElsewhere(t, exportOf(t, fresh, job), "7 events and 0 files are sound")
	if _, err := b.Forget(t.Context(), "Ada", "", job); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Import(t.Context(), bytes.NewReader(ferry)); err != nil {
		t.Error(err)
	}
	again := exportOf(t, b, job)
	verifiedElsewhere(t, again, "4 events were hashed with a name that is erased now")
	if _, err := fresh.Import(t.Context(), bytes.NewReader(again)); err != nil {
		t.Error(err)
	}
	empty := openNew(t)
	if _, err := empty.Import(t.Context(), bytes.NewReader(again)); err != nil {
		t.Error(err)
	}
	for _, one := range []*Book{b, fresh, empty} {
		r := mustBeSound(t, one)
		if r.Unprovable != 4 || !slices.ContainsFunc(r.Notices, func(n string) bool { return strings.Contains(n, "4 entries held a name") }) {
			t.Errorf("%+v", r)
		}
		one.Close()
		if raw, err := os.ReadFile(one.Path()); err != nil || bytes.Contains(raw, []byte("asterby")) || bytes.Contains(raw, []byte("Orzel")) {
			t.Errorf("%s holds the name, %v", one.Path(), err)
		}
	}
}

func verifiedElsewhere(t *testing.T, file []byte, want string) {
	t.Helper()
	python, err := exec.LookPath("python3")
	if err != nil {
		t.Log("NOT CHECKED: python3 is missing")
		return
	}
	path := filepath.Join(t.TempDir(), "job.zip")
	if err := os.WriteFile(path, file, 0o644); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(python, "testdata/verify.py", path).CombinedOutput(); err != nil || !strings.Contains(string(out), want) {
		t.Errorf("another program: %s, %v", out, err)
	}
}

// A name that another reader keeps in the log is erased, said to be left, and gone at the next opening: so is that of a
// process that dies between the commit and the cleaning.
func TestAnErasureThatBrokeOffIsFinishedAtTheNextOpening(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "shop.book")
	b := openAt(t, path, Options{})
	job := personOf(t, b)
	holds := openAt(t, path, Options{Access: ReadOnly})
	tx, err := holds.readers.Begin()
	if err != nil {
		t.Fatal(err)
	}
	var n int
	if err := tx.QueryRow(`SELECT count(*) FROM events`).Scan(&n); err != nil {
		t.Fatal(err)
	}
	_, err = b.Forget(t.Context(), "Ada", "", job)
	wantError(t, err, ErrLeft, "another program reads the book")
	if j, err := b.Job(t.Context(), job); err != nil || j.Owner != "erased on 2 Mar 2026" {
		t.Errorf("%+v, %v", j, err)
	}
	died := t.TempDir() // the files as a process leaves them that is killed now
	if err := os.CopyFS(died, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	if traces(t, died) == nil {
		t.Fatal("nothing was left, and nothing is tried")
	}
	backup := filepath.Join(t.TempDir(), "backup.book")
	if err := b.Backup(t.Context(), backup); err != nil {
		t.Fatal(err)
	}
	if found := traces(t, filepath.Dir(backup)); found != nil {
		t.Errorf("a backup made meanwhile: %q", found)
	}
	again := openAt(t, filepath.Join(died, "shop.book"), Options{})
	mustBeSound(t, again)
	if found := traces(t, died); found != nil {
		t.Errorf("opened again: %q", found)
	}
	if err := tx.Rollback(); err != nil {
		t.Fatal(err)
	}
	if err := holds.Close(); err != nil {
		t.Fatal(err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	if found := traces(t, dir); found != nil {
		t.Errorf("closed once the other reader went: %q", found)
	}
}

// Check sees a personal value changed, taken away, or erased in silence.
func TestCheckSeesPersonalValuesTamperedWith(t *testing.T) {
	for change, want := range map[string]string{
		`UPDATE personal SET value = 'Somebody Else' WHERE path = '/owner' AND event = 1`:                            "/owner does not fit its commitment",
		`UPDATE personal SET salt = zeroblob(16) WHERE path = '/yaml/parts/1'`:                                       "/yaml/parts/1 does not fit its commitment",
		`DELETE FROM personal WHERE path = '/text/parts/1'`:                                                          "its personal values are missing",
		`DELETE FROM personal WHERE path = '/contact'`:                                                               "its personal values are missing",
		`UPDATE personal SET salt = NULL, value = NULL, erased = 5 WHERE path = '/owner'`:                            "erased and no event says so",
		`UPDATE personal SET path = '/nowhere' WHERE path = '/contact'`:                                              "no commitment at /nowhere",
		`UPDATE personal SET clear = 1 WHERE path = '/owner' AND event = 1`:                                          "kept in two ways",
		`UPDATE personal SET clear = 1 WHERE event = 1`:                                                              "content does not fit its hash",
		`INSERT INTO personal (event, path, clear, salt, value) VALUES (99, '/owner', 0, zeroblob(16), 'left over')`: "values of events that do not exist",
	} {
		b := openNew(t)
		personOf(t, b)
		if err := b.Close(); err != nil {
			t.Fatal(err)
		}
		rawly(t, b.Path(), change)
		b = openAt(t, b.Path(), Options{})
		r, err := b.Check(t.Context())
		if err != nil || !strings.Contains(strings.Join(r.Problems, "\n"), want) {
			t.Errorf("%s: %v\n%s", change, err, strings.Join(r.Problems, "\n"))
		}
	}
}

// Every way in which a card may write the owner. The YAML is that of the 1.2 specification, chapters 6 to 8.
func TestTheOwnerInACard(t *testing.T) {
	for text, want := range map[string]string{
		"job:\n  owner: Jan Hein\n  shop: Quay\n":                      "Jan Hein",
		"job:\n  owner: Jan Hein # since May\n":                        "Jan Hein",
		"job:\n  owner: Jan#1\n":                                       "Jan#1",
		"job:\r\n  owner: Jan Hein\r\n  shop: Quay\r\n":                "Jan Hein",
		"job:\n  owner: \"Jan \\\"Hein\\\"\" # x\n":                    `"Jan \"Hein\""`,
		"job:\n  owner: 'Jan ''O'' Hein'\n":                            "'Jan ''O'' Hein'",
		"job:\n  owner:\n    Jan\n    Hein\n  shop: Quay\n":            "Jan\n    Hein",
		"job:\n  owner: Jan\n    Hein\n\n  shop: Quay\n":               "Jan\n    Hein",
		"job:\n  owner: |\n    Jan\n    Hein\nengine:\n  cylinders: 4": "|\n    Jan\n    Hein",
		"job: {name: Ferry, owner: Jan Hein, shop: Quay}\n":            "Jan Hein",
		"job: {name: Ferry, owner: \"Hein, Jan\"}\n":                   `"Hein, Jan"`,
		"job: {owner: Jan}":                                            "Jan",
		"job:\n  \"owner\": Jan":                                       "Jan",
		"job:\n  owner:\n  shop: Quay\n":                               "",
		"job:\n  owner: # nobody\n":                                    "",
		"job:\n  # owner: example\n":                                   "",
		"job:\n  coowner: Jan\n":                                       "",
		"job:\n  owner:":                                               "",
	} {
		var got []string
		for _, s := range ownerSpans(text) {
			got = append(got, text[s.from:s.to])
		}
		if strings.Join(got, "/") != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}
