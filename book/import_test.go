package book

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

func TestExportAndImportBringAJobOverWhole(t *testing.T) {
	b, other := openNew(t), openAt(t, filepath.Join(t.TempDir(), "other.book"), Options{Random: steadyRandom(9)})
	job := fullJob(t, b)
	file := exportOf(t, b, job)
	if !bytes.Equal(file, exportOf(t, b, job)) {
		t.Error("two exports of one job differ")
	}
	newJob(t, other, "some other job first")
	got, err := other.Import(t.Context(), bytes.NewReader(file))
	if err != nil || got != (Imported{Job: job, Version: 7}) {
		t.Fatalf("%+v, %v", got, err)
	}
	want, _ := b.Events(t.Context(), job, 0)
	have, err := other.Events(t.Context(), job, 0)
	if err != nil || len(have) != len(want) {
		t.Fatalf("%d events of %d, %v", len(have), len(want), err)
	}
	for i := range want {
		if have[i].Seq = want[i].Seq; !reflect.DeepEqual(have[i], want[i]) {
			t.Errorf("event %d: %+v\nwant %+v", i+1, have[i], want[i])
		}
	}
	mustBeSound(t, other)
	if !bytes.Equal(file, exportOf(t, other, job)) {
		t.Error("the export of the import differs from the export")
	}
	// The same again changes nothing; more events are added; fewer change nothing.
	if got, err = other.Import(t.Context(), bytes.NewReader(file)); err != nil || got != (Imported{Job: job, Before: 7, Version: 7}) {
		t.Errorf("%+v, %v", got, err)
	}
	mustAppend(t, b, job, AnyVersion, note("one more"))
	mustPut(t, b, job, "more.txt", "more")
	longer := exportOf(t, b, job)
	if got, err = other.Import(t.Context(), bytes.NewReader(longer)); err != nil || got != (Imported{Job: job, Before: 7, Version: 9}) {
		t.Errorf("%+v, %v", got, err)
	}
	if got, err = other.Import(t.Context(), bytes.NewReader(file)); err != nil || got != (Imported{Job: job, Before: 9, Version: 9}) {
		t.Errorf("%+v, %v", got, err)
	}
	mustBeSound(t, other)
	// Continued on both sides: they cannot be made one.
	mustAppend(t, b, job, AnyVersion, note("here"))
	mustAppend(t, other, job, AnyVersion, note("there"))
	mustPut(t, b, job, "here.txt", "only here")
	_, err = other.Import(t.Context(), bytes.NewReader(exportOf(t, b, job)))
	var d *Diverged
	if !errors.As(err, &d) || d.Version != 10 || d.Job != job {
		t.Errorf("got %v, want them to differ from version 10 on", err)
	}
	wantError(t, err, ErrBadImport)
	if r := mustBeSound(t, other); len(r.Notices) > 0 {
		t.Errorf("a refused import left %v", r.Notices)
	}
	_, err = other.Import(t.Context(), strings.NewReader("not a zip file, but long enough to be looked at"))
	wantError(t, err, ErrBadImport)
	wantError(t, b.Export(t.Context(), "aaaaaaaaaaaaaaaa", io.Discard), ErrNoJob)
}

// entry is a part of a zip file to be forged.
type entry struct {
	name    string
	content []byte
}

func forge(t testing.TB, entries ...entry) []byte {
	t.Helper()
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for _, e := range entries {
		w, err := z.Create(e.name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write(e.content); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// sign makes a document whose chain is right, however odd its events are.
func sign(t testing.TB, job string, events ...Event) []byte {
	t.Helper()
	doc := document{Format: exportFormat, Version: exportVersion, Job: job}
	var last Event
	for i, e := range events {
		e.Job, e.Version, e.Prev = job, Version(i+1), last.Hash
		if e.Who == "" {
			e.Who = "Eve"
		}
		if e.At.IsZero() {
			e.At = steadyClock()()
		}
		if e.Payload == nil {
			e.Payload = json.RawMessage(`{}`)
		}
		e.Hash = HashEvent(e)
		last = e
		doc.Events = append(doc.Events, exportedFrom(e))
	}
	text, err := json.Marshal(doc)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// unlinked makes a document whose events have right hashes but do not link.
func unlinked(t testing.TB, job string, start Event) []byte {
	t.Helper()
	var doc document
	if err := json.Unmarshal(sign(t, job, start, Event{Kind: "x"}), &doc); err != nil {
		t.Fatal(err)
	}
	e := Event{Job: job, Version: 2, At: steadyClock()(), Who: "Eve", Kind: "x", Payload: json.RawMessage(`{}`), Prev: Hash{1}}
	e.Hash = HashEvent(e)
	doc.Events[1] = exportedFrom(e)
	text, err := json.Marshal(doc)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func TestHostileImportsAreRefusedAndLeaveNothing(t *testing.T) {
	src := openNew(t)
	job := fullJob(t, src)
	good := exportOf(t, src, job)
	text := entryOf(t, good, documentName)
	files := []entry{}
	z, err := zip.NewReader(bytes.NewReader(good), int64(len(good)))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range z.File {
		if f.Name != documentName {
			files = append(files, entry{f.Name, entryOf(t, good, f.Name)})
		}
	}
	if len(files) != 2 {
		t.Fatal(len(files))
	}
	const id = "aaaabbbbccccdddd"
	doc := func(text []byte, more ...entry) []byte {
		return forge(t, append([]entry{{documentName, text}}, more...)...)
	}
	swap := func(from, to string) []byte {
		out := bytes.Replace(text, []byte(from), []byte(to), 1)
		if bytes.Equal(out, text) {
			t.Fatalf("%q is not in the document", from)
		}
		return doc(out, files...)
	}
	start := Event{Kind: KindJobCreated, Payload: json.RawMessage(`{"name":"x"}`)}
	attach := func(sha Hash, name string, size int64) Event {
		p, _ := json.Marshal(attached{SHA256: sha, Name: name, MediaType: "text/plain", Size: size})
		p, _ = Canonical(p, 4)
		return Event{Kind: KindAttachmentAdded, Payload: p}
	}
	content := []byte("content")
	sha := Hash(sha256.Sum256(content))
	zeros := make([]byte, 80<<20)
	for name, c := range map[string]struct {
		file []byte
		want string
	}{
		"empty":                         {nil, "zip"},
		"cut short":                     {good[:len(good)-30], "zip"},
		"cut in front":                  {good[20:], "zip"},
		"bytes in front":                {append([]byte("MZ rubbish"), good...), "zip"},
		"text behind":                   {append(bytes.Clone(good), "rubbish"...), "zip"},
		"no document":                   {forge(t, files...), "job.json is missing"},
		"document twice":                {doc(text, append(files, entry{documentName, text})...), "twice"},
		"path out of the store":         {doc(text, append(files, entry{"../../evil", content})...), "does not belong"},
		"path in files":                 {doc(text, append(files, entry{"files/../../evil", content})...), "does not belong"},
		"absolute path":                 {doc(text, append(files, entry{"/etc/evil", content})...), "does not belong"},
		"backslashes":                   {doc(text, append(files, entry{`files\` + sha.String(), content})...), "does not belong"},
		"file that no event names":      {doc(text, append(files, entry{"files/" + sha.String(), content})...), "no event names"},
		"file twice":                    {doc(text, append(files, files[0])...), "twice"},
		"file missing":                  {doc(text, files[0]), "is not in the file"},
		"file of other content":         {doc(text, files[0], entry{files[1].name, bytes.Repeat([]byte("x"), len(files[1].content))}), "another content"},
		"file of other length":          {doc(text, files[0], entry{files[1].name, content}), "bytes instead of"},
		"not JSON":                      {doc([]byte("{")), "JSON"},
		"nested deeply":                 {doc(bytes.Repeat([]byte("["), 10<<20)), "deeply"},
		"payload nested deeply":         {doc(sign(t, id, start, Event{Kind: "x", Payload: json.RawMessage(strings.Repeat(`{"a":`, 65) + `1` + strings.Repeat("}", 65))})), "deeply"},
		"bomb as document":              {doc(zeros), "too large"},
		"key twice":                     {swap(`"format_version": 2,`, `"format_version": 2, "format_version": 1,`), "twice"},
		"key in other case":             {swap(`"format_version": 2,`, `"format_version": 2, "FORMAT_VERSION": 1,`), "do not belong"},
		"unknown key":                   {swap(`"format_version": 2,`, `"format_version": 2, "more": 1,`), "more"},
		"other format":                  {swap(`"phasewright job"`, `"something else"`), "format is"},
		"newer format":                  {swap(`"format_version": 2`, `"format_version": 3`), "use the release that wrote it"},
		"event key in other case":       {swap(`"who":"Ada`, `"Who":"Ada`), "do not belong"},
		"document of another job":       {swap(`"job": "`+job, `"job": "`+id), "belongs to another job"},
		"event put in between":          {doc(unlinked(t, id, start)), "does not link"},
		"event changed":                 {swap(`"rpm":750`, `"rpm":751`), "does not fit its hash"},
		"hash changed":                  {swap(`"hash":"`, `"hash":"00`), "64"},
		"time in another form":          {swap(`.000000Z`, `Z`), "not of the form"},
		"time with an offset":           {swap(`.000000Z`, `.000000+00:00`), "not of the form"},
		"no events":                     {doc([]byte(`{"format":"phasewright job","format_version":2,"job":"` + id + `","events":[]}`)), "no events"},
		"job id as a path":              {doc(sign(t, "../../../../etcx", start)), "none of ours"},
		"start missing":                 {doc(sign(t, id, Event{Kind: "x"})), "must be the first"},
		"start twice":                   {doc(sign(t, id, start, start)), "must be the first"},
		"kind with markup":              {doc(sign(t, id, start, Event{Kind: "<b>"})), "kind"},
		"nobody":                        {doc(sign(t, id, start, Event{Kind: "x", Who: " "})), "who"},
		"who endless":                   {doc(sign(t, id, start, Event{Kind: "x", Who: strings.Repeat("w", 1000)})), "who"},
		"key of two events":             {doc(sign(t, id, start, Event{Kind: "x", Key: "k"}, Event{Kind: "x", Key: "k"})), "used before"},
		"key endless":                   {doc(sign(t, id, start, Event{Kind: "x", Key: strings.Repeat("k", 1000)})), "key"},
		"payload too large":             {doc(sign(t, id, start, Event{Kind: "x", Payload: json.RawMessage(`{"a":"` + strings.Repeat("x", MaxPayload) + `"}`)})), "too large"},
		"job name a number":             {doc(sign(t, id, Event{Kind: KindJobCreated, Payload: json.RawMessage(`{"name":1}`)})), "strings"},
		"attachment name as a path":     {doc(sign(t, id, start, attach(sha, "../../.bashrc", 7)), entry{"files/" + sha.String(), content}), "path"},
		"attachment of two sizes":       {doc(sign(t, id, start, attach(sha, "a", 7), attach(sha, "a", 8)), entry{"files/" + sha.String(), content}), "two sizes"},
		"attachment of negative size":   {doc(sign(t, id, start, attach(sha, "a", -1)), entry{"files/" + sha.String(), content}), "below 0"},
		"attachment beyond the quota":   {doc(sign(t, id, start, attach(sha256.Sum256(zeros), "a", int64(len(zeros)))), entry{"files/" + Hash(sha256.Sum256(zeros)).String(), zeros}), "used up"},
		"bomb that lies about its size": {lyingBomb(t, doc(sign(t, id, start, attach(sha256.Sum256(zeros), "a", 1000)), entry{"files/" + Hash(sha256.Sum256(zeros)).String(), zeros}), len(zeros), 1000), ""},
		"directory bomb":                {directoryBomb(t), "zip"},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "shop.book")
			b := openAt(t, path, Options{Quota: 8 << 20})
			_, err := b.Import(t.Context(), bytes.NewReader(c.file))
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Fatalf("got %v, want an error about %q", err, c.want)
			}
			if !errors.Is(err, ErrBadImport) && !errors.Is(err, ErrTooLarge) && !errors.Is(err, ErrQuota) {
				t.Errorf("error of no sort: %v", err)
			}
			if len(err.Error()) > 600 {
				t.Errorf("message of %d bytes", len(err.Error()))
			}
			if left := filesIn(t, path+".files"); len(left) > 0 {
				t.Errorf("left behind: %v", left)
			}
			if r := mustBeSound(t, b); r.Events != 0 || b.store.incoming != 0 || b.store.used != 0 {
				t.Errorf("%+v, %d incoming, %d used", r, b.store.incoming, b.store.used)
			}
		})
	}
	// The control: unspoilt it is accepted.
	b := openNew(t)
	if _, err := b.Import(t.Context(), bytes.NewReader(doc(text, files...))); err != nil {
		t.Error(err)
	}
	mustBeSound(t, b)
}

// lyingBomb writes another unpacked size over the right one, in both places of the zip file.
func lyingBomb(t testing.TB, file []byte, was, claim int) []byte {
	t.Helper()
	word := func(n int) []byte { return []byte{byte(n), byte(n >> 8), byte(n >> 16), byte(n >> 24)} }
	out := bytes.ReplaceAll(file, word(was), word(claim))
	if bytes.Equal(out, file) {
		t.Fatal("size not found")
	}
	return out
}

// directoryBomb is a zip file of nothing but entries.
func directoryBomb(t testing.TB) []byte {
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for i := range 60_000 {
		if _, err := z.CreateHeader(&zip.FileHeader{Name: fmt.Sprintf("files/%064x", i)}); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func TestAnImportWhoseStartKeyIsTaken(t *testing.T) {
	b := openNew(t)
	if _, err := b.CreateJob(t.Context(), NewJob{Who: "Ada", Name: "x", Key: "k"}); err != nil {
		t.Fatal(err)
	}
	_, err := b.Import(t.Context(), bytes.NewReader(forge(t, entry{documentName, sign(t, "aaaabbbbccccdddd", Event{Kind: KindJobCreated, Key: "k", Payload: json.RawMessage(`{"name":"x"}`)})})))
	wantError(t, err, ErrBadImport, "started job")
	mustBeSound(t, b)
}

func TestAnImportGivenUpLeavesNothing(t *testing.T) {
	src, b := openNew(t), openNew(t)
	file := exportOf(t, src, fullJob(t, src))
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := b.Import(ctx, bytes.NewReader(file)); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if left := filesIn(t, b.path+".files"); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// Anyone can verify an export without this program: a script in another language does, with its own JSON and SHA-256.
func TestAnExportCanBeVerifiedByAnotherProgram(t *testing.T) {
	python, err := exec.LookPath("python3")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("python3 is missing")
		}
		t.Skip("NOT CHECKED: python3 is missing, the export was not verified by another program")
	}
	b := openNew(t)
	path := filepath.Join(t.TempDir(), "job.zip")
	verify := func(file []byte) (string, error) {
		if err := os.WriteFile(path, file, 0o644); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(python, "testdata/verify.py", path).CombinedOutput()
		return string(out), err
	}
	good := exportOf(t, b, fullJob(t, b))
	if out, err := verify(good); err != nil || !strings.Contains(out, "7 events and 2 files are sound") {
		t.Errorf("%s, %v", out, err)
	}
	text := bytes.Replace(entryOf(t, good, documentName), []byte(`"rpm":750`), []byte(`"rpm":751`), 1)
	if out, err := verify(forge(t, entry{documentName, text})); err == nil {
		t.Errorf("a forged export passes: %s", out)
	}
}

func FuzzImportDocument(f *testing.F) {
	start := Event{Kind: KindJobCreated, Payload: json.RawMessage(`{"name":"x"}`)}
	f.Add(sign(f, "aaaabbbbccccdddd", start))
	f.Add(sign(f, "aaaabbbbccccdddd", start, Event{Kind: "x", Key: "k", Payload: json.RawMessage(`{"a":[1,2.5,{"b":null}]}`)}))
	f.Add([]byte(`{"format":"phasewright job","format_version":2,"job":"aaaabbbbccccdddd","events":[{"at":1}]}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		events, err := parseDocument(text)
		if err != nil {
			if !errors.Is(err, ErrBadImport) || !strings.Contains(err.Error(), " – ") {
				t.Fatalf("error of no sort: %v", err)
			}
			return
		}
		again, err := documentText(events[0].Job, events)
		if err != nil {
			t.Fatal(err)
		}
		a, _ := Canonical(text, 100)
		b, _ := Canonical(again, 100)
		if !bytes.Equal(a, b) {
			t.Fatalf("%s came back as %s", a, b)
		}
	})
}

// Whoever opens the book may have what comes in judged; what is refused leaves nothing.
func TestImportIsJudged(t *testing.T) {
	from := openNew(t)
	job := newJob(t, from, "Sandpiper").Job
	mustAppend(t, from, job, AnyVersion, readingDraft("a"))
	var file bytes.Buffer
	if err := from.Export(t.Context(), job, &file); err != nil {
		t.Fatal(err)
	}
	refuse := true
	to := openAt(t, filepath.Join(t.TempDir(), "other.book"), Options{Judge: func(events []Event) error {
		if len(events) != 2 || events[1].Kind != KindReadingAdded {
			t.Errorf("judged are %v", events)
		}
		if refuse {
			return errors.New("event 2: impossible – withdraw it")
		}
		return nil
	}})
	_, err := to.Import(t.Context(), bytes.NewReader(file.Bytes()))
	wantError(t, err, ErrBadImport, "event 2: impossible – withdraw it")
	if page, err := to.Jobs(t.Context(), Query{}); err != nil || len(page.Jobs) != 0 {
		t.Errorf("%v, %v", page.Jobs, err)
	}
	refuse = false
	if _, err := to.Import(t.Context(), bytes.NewReader(file.Bytes())); err != nil {
		t.Error(err)
	}
}
