package book

import (
	"os"
	"path/filepath"
	"testing"
	"time"
)

// copyTo copies single files of a book as somebody does who knows nothing of logs.
func copyTo(t *testing.T, path, to string, ends ...string) string {
	t.Helper()
	for _, end := range ends {
		text, err := os.ReadFile(path + end)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(to+end, text, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return to
}

func TestACopyOfTheFileOfABookInUseSaysThatItLacksEntries(t *testing.T) {
	dir := t.TempDir()
	b := openAt(t, filepath.Join(dir, "shop.book"), Options{})
	job := newJob(t, b, "Sandpiper").Job
	mustAppend(t, b, job, 1, note("not in the file yet"))
	alone := copyTo(t, b.path, filepath.Join(dir, "alone.book"), "")
	for range 2 { // reading leaves an empty log beside it, which must not make it look whole
		wantOpenError(t, alone, Options{Access: ReadOnly}, ErrCopied, "phasewright book backup", "phasewright book restore")
		wantOpenError(t, alone, Options{}, ErrCopied, "latest entries may be missing")
	}
	// With its log, it is whole.
	both := openAt(t, copyTo(t, b.path, filepath.Join(dir, "both.book"), "", "-wal"), Options{})
	if j, err := both.Job(t.Context(), job); err != nil || j.Version != 2 {
		t.Errorf("%+v, %v", j, err)
	}
	// A backup is whole, and so is the file once the book is closed.
	if err := b.Backup(t.Context(), filepath.Join(dir, "backup.book")); err != nil {
		t.Fatal(err)
	}
	mustBeSound(t, openAt(t, filepath.Join(dir, "backup.book"), Options{Access: ReadOnly}))
	// When nothing was recorded for a while, even the file alone has it all, and restoring it brings it back.
	deadline := time.Now().Add(20 * time.Second)
	for {
		time.Sleep(idleTime)
		idle := copyTo(t, b.path, filepath.Join(dir, "idle.book"), "")
		wantOpenError(t, idle, Options{}, ErrCopied)
		to := filepath.Join(t.TempDir(), "new.book")
		if err := Restore(t.Context(), idle, to); err != nil {
			t.Fatal(err)
		}
		j, err := openAt(t, to, Options{}).Job(t.Context(), job)
		if err == nil && j.Version == 2 {
			break
		}
		if time.Now().After(deadline) {
			t.Fatalf("%+v, %v", j, err)
		}
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	mustBeSound(t, openAt(t, copyTo(t, b.path, filepath.Join(dir, "closed.book"), ""), Options{}))
}
