package book

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

func TestBackupWhileInUseAndRestore(t *testing.T) {
	b := openNew(t)
	dir := t.TempDir()
	job := fullJob(t, b)
	stop := make(chan struct{})
	var wg sync.WaitGroup
	var slowest time.Duration
	wg.Go(func() { // somebody goes on recording
		for {
			select {
			case <-stop:
				return
			default:
			}
			start := time.Now()
			mustAppend(t, b, job, AnyVersion, note("meanwhile"))
			slowest = max(slowest, time.Since(start))
			mustPut(t, b, job, "x.txt", start.String())
		}
	})
	var made []string
	for _, name := range []string{"one.book", "two.book", "three.book"} {
		made = append(made, filepath.Join(dir, name))
		if err := b.Backup(t.Context(), made[len(made)-1]); err != nil {
			t.Fatal(err)
		}
	}
	close(stop)
	wg.Wait()
	t.Logf("slowest event during three backups: %v", slowest)
	want, err := b.Events(t.Context(), job, 0)
	if err != nil {
		t.Fatal(err)
	}
	last := 0
	for _, path := range made {
		to := path + ".restored"
		if err := Restore(t.Context(), path, to); err != nil {
			t.Fatal(err)
		}
		r := openAt(t, to, Options{})
		mustBeSound(t, r)
		got, err := r.Events(t.Context(), job, 0)
		if err != nil || len(got) < last || len(got) > len(want) {
			t.Fatalf("%d events, %v", len(got), err)
		}
		for i, e := range got {
			if e.Hash != want[i].Hash || e.Seq != want[i].Seq {
				t.Fatalf("event %d differs", i)
			}
		}
		last = len(got)
		mustAppend(t, r, job, AnyVersion, note("the restored book goes on"))
	}
	if last < 10 {
		t.Errorf("only %d events in the last backup: nothing was recorded meanwhile", last)
	}
	for _, pattern := range []string{"*.part*", "*.restoring*", "*.book-wal", "*.files/incoming"} {
		if left, _ := filepath.Glob(filepath.Join(dir, pattern)); len(left) > 0 {
			t.Errorf("left behind: %v", left)
		}
	}
}

func TestBackupAndRestoreNeverWriteOverAnything(t *testing.T) {
	b := openNew(t)
	fullJob(t, b)
	dir := t.TempDir()
	there := filepath.Join(dir, "there")
	if err := os.WriteFile(there, []byte("precious"), 0o644); err != nil {
		t.Fatal(err)
	}
	backup := filepath.Join(dir, "backup.book")
	wantError(t, b.Backup(t.Context(), there), ErrExists)
	wantError(t, b.Backup(t.Context(), b.path), ErrExists)
	if err := b.Backup(t.Context(), backup); err != nil {
		t.Fatal(err)
	}
	wantError(t, Restore(t.Context(), backup, there), ErrExists)
	wantError(t, Restore(t.Context(), backup, b.path), ErrExists)
	if text, _ := os.ReadFile(there); string(text) != "precious" {
		t.Error("written over")
	}
	if err := Restore(t.Context(), filepath.Join(dir, "no such"), filepath.Join(dir, "new")); !errors.Is(err, os.ErrNotExist) {
		t.Error(err)
	}
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	if err := b.Backup(gone, filepath.Join(dir, "cancelled")); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "cancelled*")); len(left) > 0 {
		t.Errorf("a cancelled backup left %v", left)
	}
}

func TestADamagedBackupIsNotRestored(t *testing.T) {
	b := openNew(t)
	job := fullJob(t, b)
	dir := t.TempDir()
	backup, to := filepath.Join(dir, "backup.book"), filepath.Join(dir, "restored.book")
	if err := b.Backup(t.Context(), backup); err != nil {
		t.Fatal(err)
	}
	rawly(t, backup, `DROP TRIGGER events_no_update`, `UPDATE events SET payload = '{"text":"forged"}' WHERE version = 2`)
	wantError(t, Restore(t.Context(), backup, to), ErrDamaged, "take another backup", "job "+job+", version 2")
	if left, _ := filepath.Glob(to + "*"); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// One damaged photo must not stand in the way of saving all the rest.
func TestBackupOfABookWithADamagedAttachment(t *testing.T) {
	b := openNew(t)
	job := newJob(t, b, "Sandpiper").Job
	mustPut(t, b, job, "a.txt", "first")
	mustPut(t, b, job, "b.txt", "second")
	files := filesIn(t, b.path+".files")
	if err := os.WriteFile(files[0], []byte("worm"), 0o644); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	backup, to := filepath.Join(dir, "backup.book"), filepath.Join(dir, "restored.book")
	wantError(t, b.Backup(t.Context(), backup), ErrIncomplete, "1 attachments", filepath.Base(filepath.Dir(files[0])))
	wantError(t, Restore(t.Context(), backup, to), ErrIncomplete)
	r := openAt(t, to, Options{})
	if events, err := r.Events(t.Context(), job, 0); err != nil || len(events) != 3 {
		t.Errorf("%d events, %v", len(events), err)
	}
	report, err := r.Check(t.Context())
	if err != nil || len(report.Problems) != 1 || !strings.Contains(report.Problems[0], "no such attachment") {
		t.Errorf("%+v, %v", report, err)
	}
}
