package book

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestConflictSaysWhatChanged(t *testing.T) {
	b := openNew(t)
	job := newJob(t, b, "Sandpiper").Job
	mustAppend(t, b, job, 1, note("one"))
	mustAppend(t, b, job, 2, note("two"))
	_, err := b.Append(t.Context(), job, 1, note("written while at version 1"))
	var c *Conflict
	if !errors.As(err, &c) {
		t.Fatalf("got %v, want a conflict", err)
	}
	if c.Have != 3 || c.Want != 1 || c.Job != job || len(c.Since) != 2 || c.Since[0].Version != 2 || string(c.Since[1].Payload) != `{"text":"two"}` {
		t.Errorf("conflict: %+v", c)
	}
	if _, err := b.Append(t.Context(), job, 9, note("from the future")); !errors.As(err, &c) || len(c.Since) != 0 || c.Have != 3 {
		t.Errorf("a version from the future: %v", err)
	}
	if events, err := b.Events(t.Context(), job, 0); err != nil || len(events) != 3 {
		t.Errorf("a refused event left %d events, %v", len(events), err)
	}
	mustAppend(t, b, job, c.Have, note("written again at version 3"))
	mustBeSound(t, b)
}

func TestAResentEventIsNotDoubled(t *testing.T) {
	b := openNew(t)
	start := NewJob{Who: "Ada", Name: "Sandpiper", Key: "start-1"}
	first, err := b.CreateJob(t.Context(), start)
	if err != nil {
		t.Fatal(err)
	}
	again, err := b.CreateJob(t.Context(), start)
	if err != nil || again.Job != first.Job || !again.Repeated || first.Repeated {
		t.Errorf("job created again: %+v, %v", again, err)
	}
	start.Name = "Curlew"
	_, err = b.CreateJob(t.Context(), start)
	wantError(t, err, ErrKeyReused)

	d := note("one")
	d.Key = "k1"
	one := mustAppend(t, b, first.Job, 1, d)
	mustAppend(t, b, first.Job, 2, note("two"))
	if e := mustAppend(t, b, first.Job, 1, d); e.Version != 2 || e.Hash != one.Hash || !e.Repeated {
		t.Errorf("resent at its old version: %+v", e)
	}
	other := note("something else")
	other.Key = "k1"
	_, err = b.Append(t.Context(), first.Job, AnyVersion, other)
	wantError(t, err, ErrKeyReused, "k1")

	set := []Draft{d, note("three")}
	set[0].Key = "k2"
	made, err := b.AppendAll(t.Context(), first.Job, 3, set)
	if err != nil || len(made) != 2 {
		t.Fatal(err)
	}
	repeat, err := b.AppendAll(t.Context(), first.Job, 3, set)
	if err != nil || len(repeat) != 2 || repeat[1].Hash != made[1].Hash || !repeat[1].Repeated {
		t.Errorf("set resent: %+v, %v", repeat, err)
	}
	_, err = b.AppendAll(t.Context(), first.Job, AnyVersion, append(set, note("four")))
	wantError(t, err, ErrKeyReused)
	_, err = b.AppendAll(t.Context(), first.Job, AnyVersion, []Draft{note("new"), set[0]})
	wantError(t, err, ErrKeyReused)
	if j, _ := b.Job(t.Context(), first.Job); j.Version != 5 {
		t.Errorf("job is at version %d, want 5", j.Version)
	}
	second := newJob(t, b, "Curlew").Job
	if e := mustAppend(t, b, second, 1, d); e.Repeated {
		t.Error("a key of one job counted in another")
	}
	mustBeSound(t, b)
}

// Fifty clients change one value by reading it and writing it back at the version they saw. If one update were lost the
// sum would be short.
func TestFiftyClientsLoseNoUpdate(t *testing.T) {
	b := openNew(t)
	job := newJob(t, b, "Sandpiper").Job
	const clients, each = 50, 6
	var wg sync.WaitGroup
	for c := range clients {
		wg.Go(func() {
			for range each {
				addOne(t, b, job, c)
			}
		})
	}
	wg.Wait()
	events, err := b.Events(t.Context(), job, 0)
	if err != nil {
		t.Fatal(err)
	}
	per := map[string]int{}
	for i, e := range events {
		if e.Version != Version(i+1) {
			t.Fatalf("version %d in place %d", e.Version, i+1)
		}
		per[e.Who]++
	}
	if got := lastSum(t, events); got != clients*each {
		t.Errorf("the sum is %d, want %d", got, clients*each)
	}
	for c := range clients {
		if who := fmt.Sprint("client ", c); per[who] != each {
			t.Errorf("%s has %d events, want %d", who, per[who], each)
		}
	}
	mustBeSound(t, b)
}

func addOne(t *testing.T, b *Book, job string, client int) {
	for {
		events, err := b.Events(t.Context(), job, 0)
		if err != nil {
			t.Error(err)
			return
		}
		payload := fmt.Sprintf(`{"sum":%d}`, lastSum(t, events)+1)
		_, err = b.Append(t.Context(), job, events[len(events)-1].Version, Draft{Who: fmt.Sprint("client ", client), Kind: "sum.set", Payload: json.RawMessage(payload)})
		var c *Conflict
		if errors.As(err, &c) {
			continue
		}
		if err != nil {
			t.Error(err)
		}
		return
	}
}

func lastSum(t *testing.T, events []Event) int {
	var p struct{ Sum int }
	if err := json.Unmarshal(events[len(events)-1].Payload, &p); err != nil {
		t.Error(err)
	}
	return p.Sum
}

// A refused or abandoned event must not take along those that share its commit.
func TestRefusalsLeaveTheirNeighboursAlone(t *testing.T) {
	b := openNew(t)
	job := newJob(t, b, "Sandpiper").Job
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	var wg sync.WaitGroup
	for i := range 60 {
		wg.Go(func() {
			var err error
			switch i % 3 {
			case 0:
				_, err = b.Append(t.Context(), job, AnyVersion, note(fmt.Sprint("kept ", i)))
			case 1:
				if _, err = b.Append(t.Context(), job, 4711, note("conflict")); errors.As(err, new(*Conflict)) {
					err = nil
				}
			case 2:
				if _, err = b.Append(gone, job, AnyVersion, note("abandoned")); errors.Is(err, context.Canceled) {
					err = nil
				}
			}
			if err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	kept := 0
	events, err := b.Events(t.Context(), job, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range events {
		if strings.Contains(string(e.Payload), "kept") {
			kept++
		}
	}
	if kept != 20 {
		t.Errorf("%d events kept, want 20", kept)
	}
	mustBeSound(t, b)
}

func TestBadDraftsAreRefused(t *testing.T) {
	b := openNew(t)
	job := newJob(t, b, "Sandpiper").Job
	ok := note("fine")
	with := func(change func(*Draft)) Draft { d := ok; change(&d); return d }
	payload := func(s string) Draft { return with(func(d *Draft) { d.Payload = json.RawMessage(s) }) }
	for name, c := range map[string]struct {
		d    Draft
		want error
	}{
		"nobody":              {with(func(d *Draft) { d.Who = " " }), ErrBadInput},
		"who in two lines":    {with(func(d *Draft) { d.Who = "Ada\nBen" }), ErrBadInput},
		"who not UTF-8":       {with(func(d *Draft) { d.Who = "Ada\xff" }), ErrBadInput},
		"who endless":         {with(func(d *Draft) { d.Who = strings.Repeat("a", 201) }), ErrTooLarge},
		"no kind":             {with(func(d *Draft) { d.Kind = "" }), ErrBadInput},
		"kind with markup":    {with(func(d *Draft) { d.Kind = "<b>" }), ErrBadInput},
		"kind in capitals":    {with(func(d *Draft) { d.Kind = "Note" }), ErrBadInput},
		"second start":        {Draft{Who: "Ada", Kind: KindJobCreated, Payload: json.RawMessage(`{"name":"x"}`)}, ErrBadInput},
		"key endless":         {with(func(d *Draft) { d.Key = strings.Repeat("k", 101) }), ErrTooLarge},
		"before 1970":         {with(func(d *Draft) { d.At = time.Date(1969, 12, 31, 23, 0, 0, 0, time.UTC) }), ErrBadInput},
		"year 10000":          {with(func(d *Draft) { d.At = time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC) }), ErrBadInput},
		"payload no object":   {payload(`[1]`), ErrBadInput},
		"payload cut short":   {payload(`{"text":"a`), ErrBadInput},
		"payload key twice":   {payload(`{"text":"a","text":"b"}`), ErrBadInput},
		"payload not UTF-8":   {payload("{\"text\":\"\xff\"}"), ErrBadInput},
		"payload too deep":    {payload(strings.Repeat(`{"a":`, 65) + "1" + strings.Repeat("}", 65)), ErrBadInput},
		"payload very deep":   {payload(strings.Repeat(`{"a":`, 100_000)), ErrBadInput},
		"payload too large":   {payload(`{"text":"` + strings.Repeat("a", MaxPayload) + `"}`), ErrTooLarge},
		"payload huge":        {payload(`{"text":"` + strings.Repeat(" ", 5*MaxPayload) + `"}`), ErrTooLarge},
		"file not stored":     {Draft{Who: "Ada", Kind: KindAttachmentAdded, Payload: json.RawMessage(`{"sha256":"` + strings.Repeat("ab", 32) + `","name":"a.jpg","media_type":"image/jpeg","size":5}`)}, ErrNoAttachment},
		"file without hash":   {Draft{Who: "Ada", Kind: KindAttachmentAdded, Payload: json.RawMessage(`{"name":"a.jpg","media_type":"image/jpeg","size":5}`)}, ErrBadInput},
		"file hash too short": {Draft{Who: "Ada", Kind: KindAttachmentAdded, Payload: json.RawMessage(`{"sha256":"ab","name":"a.jpg","media_type":"image/jpeg","size":5}`)}, ErrBadInput},
		"no name":             {Draft{Who: "Ada", Kind: KindJobDescribed, Payload: json.RawMessage(`{"name":" "}`)}, ErrBadInput},
		"name a number":       {Draft{Who: "Ada", Kind: KindJobDescribed, Payload: json.RawMessage(`{"name":5}`)}, ErrBadInput},
		"owner endless":       {Draft{Who: "Ada", Kind: KindJobDescribed, Payload: json.RawMessage(`{"owner":"` + strings.Repeat("a", 501) + `"}`)}, ErrTooLarge},
	} {
		_, err := b.Append(t.Context(), job, AnyVersion, c.d)
		if !errors.Is(err, c.want) || !strings.Contains(err.Error(), " – ") {
			t.Errorf("%s: got %v, want %v", name, err, c.want)
		}
		if err != nil && len(err.Error()) > 400 {
			t.Errorf("%s: message of %d bytes", name, len(err.Error()))
		}
	}
	for _, id := range []string{"", "x", "../../etc/passwd", "aaaaaaaaaaaaaaaa", strings.Repeat("a", 1000), "' OR 1=1 --"} {
		_, err := b.Append(t.Context(), id, AnyVersion, ok)
		wantError(t, err, ErrNoJob)
	}
	_, err := b.AppendAll(t.Context(), job, AnyVersion, nil)
	wantError(t, err, ErrBadInput)
	_, err = b.AppendAll(t.Context(), job, AnyVersion, []Draft{ok, {Who: "Ada", Kind: "?"}})
	wantError(t, err, ErrBadInput)
	_, err = b.CreateJob(t.Context(), NewJob{Who: "Ada", Name: ""})
	wantError(t, err, ErrBadInput)
	_, err = b.CreateJob(t.Context(), NewJob{Who: "Ada", Name: "a\xffb"})
	wantError(t, err, ErrBadInput)
	if j, _ := b.Job(t.Context(), job); j.Version != 1 {
		t.Errorf("refused drafts moved the job to version %d", j.Version)
	}
	mustBeSound(t, b)
}

// Names in every script, with quotes, markup and SQL in them, come back as they went in.
func TestNamesOfEveryKindComeBackUnchanged(t *testing.T) {
	b := openNew(t)
	for _, name := range []string{
		`O'Hara & Sons "Workboats"`, `<script>alert(1)</script>`, `Robert'); DROP TABLE events;--`, `a"*" OR name:b NEAR(c)`, `Ελένη Ψαρά`, `Жигулёва, Ольга`, `船外機 二号`, `אונייה`, `سفينة`,
		`नाव`, `เรือลากจูง`, `Ngô Thị Hằng`, "e\u0301 decomposed", `🚤🔧`, `𝔖𝔞𝔫𝔡`, "\u202eright to left", `%s %d {{.}} ${x}`, strings.Repeat("長", 166), ` spaces `, `\..\..\x`, `null`, "tab\u00a0nbsp",
	} {
		who := name
		if len(who) > maxWho {
			who = "Ada"
		}
		e, err := b.CreateJob(t.Context(), NewJob{Who: who, Name: name, Owner: name, Engine: name, Shop: name})
		if err != nil {
			t.Errorf("%q: %v", name, err)
			continue
		}
		j, err := b.Job(t.Context(), e.Job)
		if err != nil || j.Name != name || j.Owner != name || j.Engine != name || j.Shop != name {
			t.Errorf("%q came back as %+v, %v", name, j, err)
		}
		if page, err := b.Jobs(t.Context(), Query{Text: name}); err != nil {
			t.Errorf("searching %q: %v", name, err)
		} else if strings.ContainsFunc(plain(name), wordRune) && (len(page.Jobs) == 0 || page.Jobs[0].Name != name) {
			t.Errorf("searching %q found %d jobs", name, len(page.Jobs))
		}
	}
	mustBeSound(t, b)
}

func TestATimeThatJumpsBackIsFlaggedAndNeverReordered(t *testing.T) {
	noon := time.Date(2026, 5, 4, 12, 0, 0, 0, time.UTC)
	times := []time.Time{noon, noon.Add(time.Minute), noon.Add(-24 * time.Hour), noon.Add(-23 * time.Hour), noon.Add(-25 * time.Hour), noon}
	i := -1
	path := filepath.Join(t.TempDir(), "shop.book")
	b := openAt(t, path, Options{Clock: func() time.Time { i++; return times[i] }})
	job := newJob(t, b, "Sandpiper").Job
	for range times[1:] {
		mustAppend(t, b, job, AnyVersion, note("x"))
	}
	events, err := b.Events(t.Context(), job, 0)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []bool{false, false, true, false, true, false} {
		if events[i].Back != want || !events[i].At.Equal(times[i]) || events[i].Version != Version(i+1) {
			t.Errorf("event %d: back %v at %v version %d", i, events[i].Back, events[i].At, events[i].Version)
		}
	}
	mustBeSound(t, b)
}

// Whatever sequence of events is recorded, check and rebuild agree with what append derived step by step.
func TestDerivedTablesAgreeHoweverTheyWereMade(t *testing.T) {
	b := openNew(t)
	var jobs []string
	for i := range 5 {
		jobs = append(jobs, newJob(t, b, fmt.Sprint("job ", i)).Job)
	}
	kinds := []Kind{KindReadingAdded, KindReadingWithdrawn, KindStepDone, KindStepUndone, KindStepOverride, KindNoteAdded, KindJobDescribed, KindJobArchived,
		KindJobReopened, KindCardSaved, KindCorrectionMade, KindCaptureRead, KindEvidenceSaved, KindProofSigned, "other.kind"}
	rapid.Check(t, func(rt *rapid.T) {
		var drafts []Draft
		for range rapid.IntRange(1, 8).Draw(rt, "events") {
			id := rapid.SampledFrom([]string{"a", "b", "c"}).Draw(rt, "id")
			payload, _ := json.Marshal(map[string]any{"id": id, "step": id, "name": "n" + id, "text": rapid.StringN(0, 20, 60).Draw(rt, "text"), "verdict": rapid.SampledFrom([]any{"pass", 1.5, nil, true}).Draw(rt, "verdict")})
			drafts = append(drafts, Draft{Who: "Ada", Kind: rapid.SampledFrom(kinds).Draw(rt, "kind"), Payload: payload})
		}
		if _, err := b.AppendAll(context.Background(), rapid.SampledFrom(jobs).Draw(rt, "job"), AnyVersion, drafts); err != nil {
			rt.Fatal(err)
		}
	})
	mustBeSound(t, b)
	r, err := b.Rebuild(t.Context())
	if err != nil || len(r.Differences) > 0 || r.Jobs != 5 {
		t.Errorf("rebuild: %+v, %v", r, err)
	}
	mustBeSound(t, b)
}

func TestJobIDsComeFromTheGivenSource(t *testing.T) {
	ids := map[string]bool{}
	r := rand.NewChaCha8([32]byte{1})
	for range 1000 {
		id, err := newID(r)
		if err != nil || checkID(id) != nil || ids[id] {
			t.Fatalf("id %q, %v", id, err)
		}
		ids[id] = true
	}
	if _, err := newID(strings.NewReader("short")); err == nil {
		t.Error("a dry source gave an id")
	}
}

// A new job with what follows behind it: refused as a whole, recorded as a whole, and completed where an earlier
// release recorded the job alone.
func TestJobWithWhatFollows(t *testing.T) {
	b := openNew(t)
	j := NewJob{Who: "Ada", Name: "Curlew", Key: "k", Then: []Draft{cardDraft("k-card"), note("a note")}}
	_, err := b.CreateJob(t.Context(), j)
	wantError(t, err, ErrBadInput, "has none")
	j.Then[1].Key = "k-note"
	j.Then[1].Payload = json.RawMessage(`[]`)
	_, err = b.CreateJob(t.Context(), j)
	wantError(t, err, ErrBadInput)
	j.Then[1].Payload, j.Then[1].Kind = json.RawMessage(`{"name":"another"}`), KindJobCreated
	_, err = b.CreateJob(t.Context(), j)
	wantError(t, err, ErrBadInput, "only at the start")
	if page, err := b.Jobs(t.Context(), Query{}); err != nil || len(page.Jobs) != 0 {
		t.Fatalf("a refused job left %v, %v", page.Jobs, err)
	}
	j.Then = j.Then[:1]
	for range 2 {
		e, err := b.CreateJob(t.Context(), j)
		if err != nil {
			t.Fatal(err)
		}
		if line, err := b.Job(t.Context(), e.Job); err != nil || line.Version != 2 || line.Status != "card saved" {
			t.Errorf("%+v, %v", line, err)
		}
	}
	old, err := b.CreateJob(t.Context(), NewJob{Who: "Ada", Name: "Heron", Key: "h"})
	if err != nil {
		t.Fatal(err)
	}
	e, err := b.CreateJob(t.Context(), NewJob{Who: "Ada", Name: "Heron", Key: "h", Then: []Draft{cardDraft("h-card")}})
	if err != nil || e.Job != old.Job || !e.Repeated {
		t.Errorf("%+v, %v", e, err)
	}
	if line, err := b.Job(t.Context(), old.Job); err != nil || line.Version != 2 {
		t.Errorf("%+v, %v", line, err)
	}
	_, err = b.CreateJob(t.Context(), NewJob{Who: "Ada", Name: "Heron", Key: "h", Then: []Draft{{Who: "Ada",
		Kind: KindNoteAdded, Key: "h-card"}}})
	wantError(t, err, ErrKeyReused)
	mustBeSound(t, b)
}
