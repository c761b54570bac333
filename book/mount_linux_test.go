package book

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// mount puts a file system at a new folder for the length of the test. Permission bits do not stop root, a mount does;
// whoever may not mount skips these tests and is told so.
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

// fillDisk leaves so many bytes free in the folder.
func fillDisk(t *testing.T, dir string, free int64) {
	t.Helper()
	f, err := os.Create(filepath.Join(dir, "filler"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for err == nil {
		_, err = f.Write(make([]byte, 4096))
	}
	size, err := f.Seek(0, io.SeekEnd)
	if err != nil {
		t.Fatal(err)
	}
	if err := f.Truncate(size - free); err != nil {
		t.Fatal(err)
	}
}

// The disk was filled while no program had the book open: it is full and not damaged, and the book can still be read.
func TestADiskFilledWhileTheBookWasClosed(t *testing.T) {
	for _, free := range []int64{0, 4 << 10, 20 << 10, 40 << 10} {
		dir := mount(t, "tmpfs", "tmpfs", 0, "size=2m")
		path := filepath.Join(dir, "shop.book")
		b, err := Open(t.Context(), path, Options{Clock: steadyClock(), Random: steadyRandom(5)})
		if err != nil {
			t.Fatal(err)
		}
		job := newJob(t, b, "Sandpiper").Job
		mustPut(t, b, job, "a.txt", "content")
		if err := b.Close(); err != nil {
			t.Fatal(err)
		}
		fillDisk(t, dir, free)
		b, err = Open(t.Context(), path, Options{})
		if err == nil { // room for the log's shared memory, and no more
			_, err = b.Append(t.Context(), job, AnyVersion, note(strings.Repeat("too much ", 10_000)))
			if b.Damage() != nil {
				t.Errorf("%d bytes free count as damage: %v", free, b.Damage())
			}
			b.Close()
		}
		wantError(t, err, ErrFull, "make room", "is safe")
		if strings.Contains(err.Error(), "backup") {
			t.Errorf("%d bytes free: %v", free, err)
		}
		wantError(t, Restore(t.Context(), path, filepath.Join(dir, "new.book")), ErrFull, "make room")
		r, err := Open(t.Context(), path, Options{Access: ReadOnly})
		if err != nil {
			t.Fatalf("%d bytes free: %v", free, err)
		}
		if report := mustBeSound(t, r); report.Events != 2 || report.Files != 1 {
			t.Errorf("%d bytes free: %+v", free, report)
		}
		if err := r.Backup(t.Context(), filepath.Join(t.TempDir(), "backup.book")); err != nil {
			t.Error(err)
		}
		r.Close()
		if err := os.Remove(filepath.Join(dir, "filler")); err != nil {
			t.Fatal(err)
		}
		b, err = Open(t.Context(), path, Options{})
		if err != nil {
			t.Fatal(err)
		}
		mustAppend(t, b, job, AnyVersion, note("there is room again"))
		mustBeSound(t, b)
		b.Close()
	}
}

// After a kill the last events stand in the log alone. On a full disk it cannot be read: that is said, and nothing is
// left out.
func TestAFullDiskWithEventsInTheLog(t *testing.T) {
	dir := mount(t, "tmpfs", "tmpfs", 0, "size=2m")
	live := filepath.Join(t.TempDir(), "shop.book")
	b, err := Open(t.Context(), live, Options{Clock: steadyClock(), Random: steadyRandom(6)})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	job := newJob(t, b, "Sandpiper").Job
	path := filepath.Join(dir, "shop.book")
	for _, end := range []string{"", "-wal"} { // as a kill leaves them
		text, err := os.ReadFile(live + end)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path+end, text, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	fillDisk(t, dir, 0)
	for _, access := range []Access{ReadOnly, ReadWrite} {
		wantOpenError(t, path, Options{Access: access}, ErrFull, "make room")
	}
	if err := os.Remove(filepath.Join(dir, "filler")); err != nil {
		t.Fatal(err)
	}
	r, err := Open(t.Context(), path, Options{Access: ReadOnly})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if _, err := r.Job(t.Context(), job); err != nil {
		t.Error(err)
	}
}

// A disk that is full from the start: no book, and a message.
func TestNoRoomForANewBook(t *testing.T) {
	dir := mount(t, "tmpfs", "tmpfs", 0, "size=64k")
	wantOpenError(t, filepath.Join(dir, "shop.book"), Options{}, ErrFull, "make room")
	if left, _ := filepath.Glob(filepath.Join(dir, "*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
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
	wantOpenError(t, view, Options{}, ErrReadOnly, view, "allow writing", "the disk or share is read-only")
	wantOpenError(t, filepath.Join(dir, "new.book"), Options{}, ErrReadOnly, "the disk or share is read-only")
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
	wantOpenError(t, path, Options{}, ErrReadOnly, "the disk or share is read-only")
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

// Permission bits, as a user without rights meets them: another program is started as one, since they do not stop root.
func TestAFileOrFolderThatMayNotBeWritten(t *testing.T) {
	if os.Getuid() != 0 {
		t.Skip("NOT CHECKED: needs root to start a program as another user")
	}
	path, _ := closedBook(t, 1, 1)
	dir := filepath.Dir(path)
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	program, err := os.ReadFile(self)
	if err != nil {
		t.Fatal(err)
	}
	twin := filepath.Join(t.TempDir(), "program") // go test keeps its own where others may not go
	if err := os.WriteFile(twin, program, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(filepath.Dir(dir), 0o755); err != nil {
		t.Fatal(err)
	}
	const nobody = 65534
	tell := func() string {
		cmd := helper(t, "open", path)
		cmd.Path = twin
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
		out, err := cmd.Output()
		if err != nil {
			t.Skipf("NOT CHECKED: cannot start a program as another user: %v", err)
		}
		return string(out)
	}
	for _, c := range []struct {
		dir, file, lock os.FileMode
		want            string
	}{
		{0o777, 0o444, 0o666, "its file is read-only"},
		{0o555, 0o666, 0o666, "its folder is read-only"},
		{0o777, 0o666, 0o666, `"error":"","jobs":1`},
	} {
		for name, mode := range map[string]os.FileMode{dir: c.dir, path: c.file, path + ".lock": c.lock} {
			if err := os.Chmod(name, mode); err != nil {
				t.Fatal(err)
			}
		}
		os.Remove(path + "-wal") // left by the reader before; with them, the book could be written in a read-only folder
		os.Remove(path + "-shm")
		if told, _, _ := strings.Cut(tell(), "\n"); !strings.Contains(told, c.want) {
			t.Errorf("folder %o, file %o: told %q, want %q", c.dir, c.file, told, c.want)
		}
	}
}
