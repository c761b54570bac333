package book

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// mount puts a file system at a new folder for the length of the test. Permission bits do not stop root, a mount does; whoever may not
// mount skips these tests and is told so.
func mount(t *testing.T, source, kind string, flags uintptr, data string) string {
	t.Helper()
	dir := t.TempDir()
	if err := syscall.Mount(source, dir, kind, flags, data); err != nil {
		t.Skipf("NOT CHECKED: needs root to mount a %s file system: %v", kind, err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, 0); err != nil {
			t.Error(err)
		}
	})
	return dir
}

// readOnlyView shows a folder through a mount that nobody can write, root included.
func readOnlyView(t *testing.T, source string) string {
	t.Helper()
	dir := mount(t, source, "", syscall.MS_BIND, "")
	if err := syscall.Mount("", dir, "", syscall.MS_BIND|syscall.MS_REMOUNT|syscall.MS_RDONLY, ""); err != nil {
		t.Fatal(err)
	}
	return dir
}

func TestAReallyFullDisk(t *testing.T) {
	dir := mount(t, "tmpfs", "tmpfs", 0, "size=2m")
	path := filepath.Join(dir, "shop.book")
	b, err := Open(t.Context(), path, Options{Clock: steadyClock(), Random: steadyRandom(3)})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	job := newJob(t, b, "Sandpiper").Job
	mustPut(t, b, job, "small.txt", "small")
	_, err = b.PutAttachment(t.Context(), job, NewAttachment{Who: "Ada", Name: "large.bin"}, bytes.NewReader(make([]byte, 4<<20)))
	wantError(t, err, ErrFull, "make room")
	if files := filesIn(t, path+".files"); len(files) != 1 {
		t.Errorf("a refused file left something: %v", files)
	}
	mustBeSound(t, b)
	fillUntilFull(t, b, job)
	wantError(t, b.Backup(t.Context(), filepath.Join(dir, "backup.book")), ErrFull)
	if left, _ := filepath.Glob(filepath.Join(dir, "backup*")); len(left) > 0 {
		t.Errorf("a backup that broke off left %v", left)
	}
	mustBeSound(t, b)
	if err := syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT, "size=16m"); err != nil {
		t.Fatal(err)
	}
	mustAppend(t, b, job, AnyVersion, note("there is room again"))
	mustPut(t, b, job, "large.bin", strings.Repeat("x", 1<<20))
	mustBeSound(t, b)
	j, err := b.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	b = openAt(t, path, Options{})
	if k, err := b.Job(t.Context(), job); err != nil || k != j {
		t.Errorf("after opening again: %+v, %v", k, err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
}

// A disk that is full from the start: no book, and a message.
func TestNoRoomForANewBook(t *testing.T) {
	dir := mount(t, "tmpfs", "tmpfs", 0, "size=64k")
	wantOpenError(t, filepath.Join(dir, "shop.book"), Options{}, ErrFull, "make room")
}

func TestAReadOnlyFolder(t *testing.T) {
	path, ids := closedBook(t, 3, 2)
	b, err := Open(t.Context(), path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	sent := mustPut(t, b, ids[0], "a.txt", "content")
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	before := sumOf(t, path)
	dir := readOnlyView(t, filepath.Dir(path))
	view := filepath.Join(dir, filepath.Base(path))
	wantOpenError(t, view, Options{}, ErrReadOnly, view, "allow writing")
	wantOpenError(t, filepath.Join(dir, "new.book"), Options{}, ErrReadOnly)
	r, err := Open(t.Context(), view, Options{Access: ReadOnly})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	mustBeSound(t, r)
	if events, err := r.Events(t.Context(), ids[0], 0); err != nil || len(events) != 4 || events[3].Hash != sent.Hash {
		t.Errorf("%d events, %v", len(events), err)
	}
	wantError(t, r.Backup(t.Context(), filepath.Join(dir, "backup.book")), ErrReadOnly)
	if err := r.Backup(context.Background(), filepath.Join(t.TempDir(), "backup.book")); err != nil {
		t.Error(err)
	}
	if err := r.Close(); err != nil {
		t.Error(err)
	}
	if sumOf(t, path) != before {
		t.Error("the book was changed")
	}
}

// The folder becomes read-only while the book is open, as a failing disk does.
func TestAFolderThatTurnsReadOnly(t *testing.T) {
	dir := mount(t, "tmpfs", "tmpfs", 0, "size=8m")
	path := filepath.Join(dir, "shop.book")
	b, err := Open(t.Context(), path, Options{Clock: steadyClock(), Random: steadyRandom(4)})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	job := newJob(t, b, "Sandpiper").Job
	mustAppend(t, b, job, 1, note("kept"))
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""); err != nil {
		t.Fatal(err)
	}
	wantOpenError(t, path, Options{}, ErrReadOnly)
	if err := syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT, ""); err != nil {
		t.Fatal(err)
	}
	b = openAt(t, path, Options{})
	mustAppend(t, b, job, 2, note("goes on"))
	mustBeSound(t, b)
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(path); err != nil {
		t.Error(err)
	}
}

// The file alone is protected (the immutable attribute, where the file system has it, would do the same to root).
func TestAReadOnlyFileInAWritableFolder(t *testing.T) {
	path, _ := closedBook(t, 1, 1)
	dir := t.TempDir()
	view := filepath.Join(dir, "shop.book")
	if err := os.WriteFile(view, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mount(path, view, "", syscall.MS_BIND, ""); err != nil {
		t.Skipf("NOT CHECKED: needs root to mount: %v", err)
	}
	defer syscall.Unmount(view, 0)
	if err := syscall.Mount("", view, "", syscall.MS_BIND|syscall.MS_REMOUNT|syscall.MS_RDONLY, ""); err != nil {
		t.Fatal(err)
	}
	before := sumOf(t, path)
	b, err := Open(t.Context(), view, Options{})
	if err == nil {
		defer b.Close()
		_, err = b.CreateJob(t.Context(), NewJob{Who: "Ada", Name: "x"})
	}
	wantError(t, err, ErrReadOnly, "allow writing")
	if sumOf(t, path) != before {
		t.Error("the book was changed")
	}
}

// One file mounted at a second place is still one book.
func TestAFileMountedTwiceIsOneBook(t *testing.T) {
	path, ids := closedBook(t, 1, 1)
	view := filepath.Join(t.TempDir(), "view.book")
	if err := os.WriteFile(view, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mount(path, view, "", syscall.MS_BIND, ""); err != nil {
		t.Skipf("NOT CHECKED: needs root to mount: %v", err)
	}
	defer syscall.Unmount(view, 0)
	b := openAt(t, path, Options{})
	defer b.Close()
	wantOpenError(t, view, Options{}, ErrInUse, "by another name")
	if told := openElsewhere(t, view); !strings.Contains(told, ErrInUse.Error()) {
		t.Errorf("another program opened it: %q", told)
	}
	mustAppend(t, b, ids[0], AnyVersion, note("goes on"))
}
