package book

import (
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
)

// Two books with jobs in common: what one lacks comes over, what both went on with is told, each chain stays by itself.
func TestMergingTwoBooks(t *testing.T) {
	b, other := openNew(t), openAt(t, filepath.Join(t.TempDir(), "other.book"), Options{Random: steadyRandom(9)})
	var common []string
	for i := range 6 {
		job := newJob(t, b, fmt.Sprint("common ", i)).Job
		mustPut(t, b, job, "x.txt", fmt.Sprint("content ", i))
		if _, err := other.Import(t.Context(), strings.NewReader(string(exportOf(t, b, job)))); err != nil {
			t.Fatal(err)
		}
		common = append(common, job)
	}
	mustAppend(t, b, common[1], AnyVersion, note("here alone"))
	mustAppend(t, other, common[2], AnyVersion, note("there alone"))
	mustPut(t, other, common[2], "y.txt", "longer there")
	mustAppend(t, b, common[3], AnyVersion, note("here"))
	mustAppend(t, other, common[3], AnyVersion, note("there"))
	mustPut(t, other, common[3], "z.txt", "of a job that stays as it is")
	if _, err := other.Discard(t.Context(), common[4], Hash(sha256.Sum256([]byte("content 4"))), "Ada", "too large", ""); err != nil {
		t.Fatal(err)
	}
	fresh := newJob(t, other, "new").Job
	mustPut(t, other, fresh, "z.txt", "of a job that stays as it is") // the same content, and here it is to come
	var told []Merged
	if err := b.Merge(t.Context(), other, func(m Merged) error { told = append(told, m); return nil }); err != nil {
		t.Fatal(err)
	}
	if len(told) != 7 {
		t.Fatalf("%d jobs told", len(told))
	}
	for i, want := range [][2]Version{{2, 2}, {3, 3}, {2, 4}, {0, 0}, {2, 3}, {2, 2}, {0, 2}} {
		m := told[i]
		if d := (*Diverged)(nil); i == 3 {
			if !errors.As(m.Refused, &d) || d.Version != 3 {
				t.Errorf("job 4: %+v", m)
			}
		} else if m.Refused != nil || m.Before != want[0] || m.Version != want[1] {
			t.Errorf("job %d: %+v, want %d", i+1, m, want)
		}
	}
	r := mustBeSound(t, b)
	if r.Jobs != 7 || r.Discarded != 1 || r.Files != 7 || len(r.Notices) > 0 {
		t.Errorf("%+v", r)
	}
	if string(exportOf(t, b, fresh)) != string(exportOf(t, other, fresh)) || string(exportOf(t, b, common[2])) != string(exportOf(t, other, common[2])) {
		t.Error("a job that came over is not the same there and here")
	}
	if j, err := b.Job(t.Context(), common[3]); err != nil || j.Version != 3 {
		t.Errorf("the job that both went on with: %+v, %v", j, err)
	}
	// Again, nothing happens.
	before, err := b.DiskUse(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	if err := b.Merge(t.Context(), other, func(m Merged) error { n++; return nil }); err != nil || n != 7 {
		t.Error(n, err)
	}
	if after, err := b.DiskUse(t.Context()); err != nil || after.Files != before.Files {
		t.Errorf("%+v, %v", after, err)
	}
}

func TestMergingRefusesWhatIsNotSound(t *testing.T) {
	path, _ := closedBook(t, 3, 2)
	rawly(t, path, `DROP TRIGGER events_no_update; UPDATE events SET who = 'Eve' WHERE version = 2 AND job = (SELECT id FROM jobs WHERE no = 1);
		CREATE TRIGGER events_no_update BEFORE UPDATE ON events BEGIN SELECT RAISE(ABORT, 'events never change'); END`)
	other, b := openAt(t, path, Options{Access: ReadOnly}), openNew(t)
	refused := 0
	err := b.Merge(t.Context(), other, func(m Merged) error {
		if m.Refused != nil {
			refused++
			wantError(t, m.Refused, ErrDamaged, "version 2")
		}
		return nil
	})
	if err != nil || refused != 1 {
		t.Errorf("%d refused, %v", refused, err)
	}
	if r := mustBeSound(t, b); r.Jobs != 2 {
		t.Errorf("%+v", r)
	}
}

// A file that was thrown away is missed by nobody: check, backup, restore, export and import say so and work.
func TestAFileThrownAway(t *testing.T) {
	b := openNew(t)
	one, two := newJob(t, b, "one").Job, newJob(t, b, "two").Job
	mustPut(t, b, one, "engine.wav", strings.Repeat("w", 50_000))
	sha := Hash(sha256.Sum256([]byte(strings.Repeat("w", 50_000))))
	mustPut(t, b, two, "same.wav", strings.Repeat("w", 50_000))
	read, _ := json.Marshal(map[string]any{"sha256": sha, "summary": map[string]any{"duration_s": 4}})
	mustAppend(t, b, one, AnyVersion, Draft{Who: "Ada", Kind: KindCaptureRead, Payload: read})
	early := exportOf(t, b, one)
	discard := func(job string) error {
		_, err := b.Discard(t.Context(), job, sha, "Ada", "read, too large", "")
		return err
	}
	if err := discard(one); err != nil {
		t.Fatal(err)
	}
	if n := len(filesIn(t, b.path+".files")); n != 1 {
		t.Fatalf("%d files: the other job keeps it", n)
	}
	if err := discard(two); err != nil {
		t.Fatal(err)
	}
	wantError(t, discard(two), ErrNoAttachment)
	if n := len(filesIn(t, b.path+".files")); n != 0 || b.store.used != 0 {
		t.Fatalf("%d files, %d bytes counted", n, b.store.used)
	}
	_, _, err := b.OpenAttachment(t.Context(), sha)
	wantError(t, err, ErrDiscarded, "add the same file again")
	files, err := b.Attachments(t.Context(), one)
	if err != nil || len(files) != 1 || files[0].Discarded.IsZero() || files[0].SHA256 != sha || files[0].Size != 50_000 {
		t.Errorf("%+v, %v", files, err)
	}
	use, err := b.DiskUse(t.Context())
	if err != nil || use.Files != 0 || len(use.Jobs) != 2 || use.Jobs[0].Discarded != 50_000 || use.Jobs[0].Kept != 0 {
		t.Errorf("%+v, %v", use, err)
	}
	if r := mustBeSound(t, b); r.Discarded != 1 || r.Files != 0 || len(r.Notices) > 0 {
		t.Errorf("%+v", r)
	}
	dir := t.TempDir()
	if err := b.Backup(t.Context(), filepath.Join(dir, "backup.book")); err != nil {
		t.Fatal(err)
	}
	if err := Restore(t.Context(), filepath.Join(dir, "backup.book"), filepath.Join(dir, "back.book")); err != nil {
		t.Fatal(err)
	}
	mustBeSound(t, openAt(t, filepath.Join(dir, "back.book"), Options{}))
	other := openAt(t, filepath.Join(dir, "other.book"), Options{})
	for _, file := range [][]byte{early, exportOf(t, b, one), early} { // whole, then thrown away, then what is old news
		if _, err := other.Import(t.Context(), strings.NewReader(string(file))); err != nil {
			t.Fatal(err)
		}
	}
	if n := len(filesIn(t, other.path+".files")); n != 0 || other.store.used != 0 {
		t.Errorf("%d files, %d bytes counted", n, other.store.used)
	}
	if r := mustBeSound(t, other); r.Discarded != 1 || len(r.Notices) > 0 {
		t.Errorf("%+v", r)
	}
	// The same file sent again is kept again.
	mustPut(t, b, one, "engine.wav", strings.Repeat("w", 50_000))
	if r := mustBeSound(t, b); r.Files != 1 {
		t.Errorf("%+v", r)
	}
}
