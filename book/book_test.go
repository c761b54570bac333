package book

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// steadyClock gives times one second apart, from a fixed start.
func steadyClock() func() time.Time {
	t := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	return func() time.Time { t = t.Add(time.Second); return t }
}

// steadyRandom is a source of the same bytes every time.
func steadyRandom(n uint64) io.Reader { return rand.NewChaCha8([32]byte{byte(n), byte(n >> 8)}) }

// elsewhere is where a book lies that a test names by its path: there, or in PostgreSQL.
var elsewhere = func(_ testing.TB, path string) string { return path }

func openAt(t testing.TB, path string, opt Options) *Book {
	t.Helper()
	if opt.Clock == nil {
		opt.Clock = steadyClock()
	}
	if opt.Random == nil {
		opt.Random = steadyRandom(1)
	}
	b, err := Open(context.Background(), elsewhere(t, path), opt)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	return b
}

func openNew(t testing.TB) *Book {
	t.Helper()
	return openAt(t, filepath.Join(t.TempDir(), "shop.book"), Options{})
}

func newJob(t testing.TB, b *Book, name string) Event {
	t.Helper()
	e, err := b.CreateJob(t.Context(), NewJob{Who: "Ada Reed, phone 1", Name: name, Owner: "Marlow Quay Boatyard", Engine: "six-cylinder workboat engine", Shop: "Marlow Quay"})
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func note(text string) Draft {
	p, _ := json.Marshal(map[string]string{"text": text})
	return Draft{Who: "Ada Reed, phone 1", Kind: KindNoteAdded, Payload: p}
}

func readingDraft(id string) Draft {
	return Draft{Who: "Ben Oak, phone 2", Kind: KindReadingAdded, Payload: json.RawMessage(`{"id":"` + id + `","rpm":750,"shown_deg":8.5,"locked_deg":8,"u_deg":0.5,"allowance_us":100,"note":""}`)}
}

func mustAppend(t testing.TB, b *Book, job string, v Version, d Draft) Event {
	t.Helper()
	e, err := b.Append(t.Context(), job, v, d)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func mustBeSound(t testing.TB, b *Book) Report {
	t.Helper()
	r, err := b.Check(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Problems) > 0 {
		t.Fatalf("check found:\n%s", strings.Join(r.Problems, "\n"))
	}
	return r
}

// wantError wants an error of the given sort, in our form: where – what – remedy, lower case, no stack.
func wantError(t testing.TB, err, want error, words ...string) {
	t.Helper()
	if !errors.Is(err, want) {
		t.Fatalf("got error %v, want %v", err, want)
	}
	text := err.Error()
	if !strings.Contains(text, " – ") || strings.Contains(text, "goroutine") {
		t.Errorf("message %q is not of the form where – what – remedy", text)
	}
	for _, w := range words {
		if !strings.Contains(text, w) {
			t.Errorf("message %q lacks %q", text, w)
		}
	}
}

func TestJobFromStartToProof(t *testing.T) {
	b := openNew(t)
	job := newJob(t, b, "Sandpiper, main engine").Job
	yaml, _ := json.Marshal(map[string]string{"yaml": "job: {name: Sandpiper}\n"})
	for i, d := range []Draft{
		{Who: "Ada", Kind: KindCardSaved, Payload: yaml},
		{Who: "Ada", Kind: KindStepDone, Payload: json.RawMessage(`{"step":"battery-off","who":"Ada"}`)},
		{Who: "Ada", Kind: KindStepDone, Payload: json.RawMessage(`{"step":"battery-off","who":"Ada"}`)},
		{Who: "Ada", Kind: KindStepOverride, Payload: json.RawMessage(`{"step":"clamp","who":"Ada","reason":"seen by eye","proof":""}`)},
		{Who: "Ada", Kind: KindStepUndone, Payload: json.RawMessage(`{"step":"battery-off","who":"Ada","reason":"battery back on"}`)},
		readingDraft("r1"), readingDraft("r2"), readingDraft("r2"),
		{Who: "Ben", Kind: KindReadingWithdrawn, Payload: json.RawMessage(`{"id":"r1","reason":"dial not at zero"}`)},
		{Who: "Ben", Kind: KindCorrectionMade, Payload: json.RawMessage(`{"housing_deg":1.5,"direction":"against the rotor","allowance_us":120,"note":""}`)},
		note("cap cleaned"),
		{Who: "Ada", Kind: "weather.noted", Payload: json.RawMessage(`{"rain":true}`)},
		{Who: "Ada", Kind: KindProofSigned, Payload: json.RawMessage(`{"name":"Ada Reed","verdict":"pass"}`)},
	} {
		e := mustAppend(t, b, job, Version(i+1), d)
		if e.Version != Version(i+2) || e.Seq != int64(i+2) {
			t.Fatalf("event %d: version %d seq %d", i, e.Version, e.Seq)
		}
	}
	j, err := b.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	if j.Readings != 1 || j.StepsDone != 1 || j.Corrections != 1 || j.Notes != 1 || j.Version != 14 || j.Status != "proof signed: pass" || j.Archived {
		t.Errorf("list line: %+v", j)
	}
	events, err := b.Events(t.Context(), job, 0)
	if err != nil || len(events) != 14 {
		t.Fatalf("%d events, %v", len(events), err)
	}
	if events[12].Kind != "weather.noted" || events[12].Kind.Known() {
		t.Errorf("an unknown kind was not kept: %+v", events[12])
	}
	if last := events[13]; last.Hash != j.Head || last.Prev != events[12].Hash || events[0].Prev != (Hash{}) {
		t.Errorf("chain does not close")
	}
}

// fullJob makes a job with events of many kinds and two attachments.
func fullJob(t testing.TB, b *Book) string {
	t.Helper()
	job := newJob(t, b, "Sandpiper, main engine").Job
	mustAppend(t, b, job, 1, note(`"quoted" & <b>marked</b>, 中文, שלום, Ελλάδα`))
	d := readingDraft("r1")
	d.Key = "7c0e4a3e-3f3c-4a8f-9d64-0f0d5a0e9b10"
	mustAppend(t, b, job, AnyVersion, d)
	d = readingDraft("r2")
	d.At = time.Date(2020, 2, 29, 23, 59, 59, 999999999, time.FixedZone("", 3600))
	if e := mustAppend(t, b, job, AnyVersion, d); !e.Back {
		t.Error("a clock that jumped back was not flagged")
	}
	mustPut(t, b, job, "damper.txt", "mark at 8 degrees, invented\n")
	mustPut(t, b, job, "capture.csv", strings.Repeat("0.001,4.9,0.1\n", 1000))
	mustAppend(t, b, job, AnyVersion, Draft{Who: "Ada Reed", Kind: "weather.noted", Payload: json.RawMessage(`{"t":[1e-7,1.5,-0,1e21,{"deep":[null,true]}]}`)})
	return job
}

func mustPut(t testing.TB, b *Book, job, name, content string) Event {
	t.Helper()
	e, err := b.PutAttachment(t.Context(), job, NewAttachment{Who: "Ada Reed, phone 1", Name: name, MediaType: "text/plain"}, strings.NewReader(content))
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// filesElsewhere gives what lies in PostgreSQL of the files of such a book.
var filesElsewhere = func(testing.TB, string) ([]string, bool) { return nil, false }

// stopped ends what the tests started.
var stopped = func() {}
