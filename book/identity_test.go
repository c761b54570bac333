package book

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// openElsewhere lets another program open the book for writing and gives what it was told, "" when it could.
func openElsewhere(t *testing.T, path string) string {
	t.Helper()
	out, err := helper(t, "open", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	var answer struct{ Error string }
	if err := json.NewDecoder(bytes.NewReader(out)).Decode(&answer); err != nil {
		t.Fatal(err)
	}
	return answer.Error
}

func symlink(t *testing.T, target, name string) {
	t.Helper()
	if err := os.Symlink(target, name); err != nil {
		t.Skipf("NOT CHECKED: this system makes no links: %v", err)
	}
}

func TestALinkedBookIsTheSameBook(t *testing.T) {
	dir := t.TempDir()
	if err := os.MkdirAll(filepath.Join(dir, "shelf", "deep"), 0o755); err != nil {
		t.Fatal(err)
	}
	path, link := filepath.Join(dir, "shelf", "shop.book"), filepath.Join(dir, "link.book")
	symlink(t, filepath.Join("shelf", "shop.book"), link) // leads to a book that is not made yet
	b, err := Open(t.Context(), link, Options{})
	if err != nil {
		t.Fatal(err)
	}
	job := newJob(t, b, "Sandpiper").Job
	mustPut(t, b, job, "one.txt", "by the link")
	second := filepath.Join(dir, "second.book")
	symlink(t, link, second)
	symlink(t, "shelf", filepath.Join(dir, "other shelf"))
	names := []string{path, second, filepath.Join(dir, "other shelf", "shop.book"), filepath.Join(dir, "shelf", "deep") + "/../shop.book"}
	for _, name := range names {
		wantOpenError(t, name, Options{}, ErrInUse, "close the other program")
		if told := openElsewhere(t, name); !strings.Contains(told, ErrInUse.Error()) {
			t.Errorf("another program opened %s beside the first: %q", name, told)
		}
		r, err := Open(t.Context(), name, Options{Access: ReadOnly})
		if err != nil {
			t.Fatal(err)
		}
		if report := mustBeSound(t, r); report.Files != 1 {
			t.Errorf("%s shows %d files", name, report.Files)
		}
		r.Close()
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		b, err := Open(t.Context(), name, Options{})
		if err != nil {
			t.Fatal(err)
		}
		mustPut(t, b, job, "more.txt", "by "+name)
		if err := b.Close(); err != nil {
			t.Fatal(err)
		}
	}
	b = openAt(t, path, Options{})
	if r := mustBeSound(t, b); r.Files != 1+len(names) {
		t.Errorf("the book has %d files, want %d", r.Files, 1+len(names))
	}
	for _, name := range []string{"link.book", "second.book"} {
		for _, end := range []string{".files", ".lock", "-wal"} {
			if _, err := os.Lstat(filepath.Join(dir, name+end)); err == nil {
				t.Errorf("%s%s lies beside the link", name, end)
			}
		}
	}
	if b.Path() != mustReal(t, path) {
		t.Errorf("the book says it is at %s", b.Path())
	}
}

func mustReal(t *testing.T, path string) string {
	t.Helper()
	real, err := filepath.EvalSymlinks(path)
	if err != nil {
		t.Fatal(err)
	}
	return real
}

func TestALinkThatLeadsInCirclesIsRefused(t *testing.T) {
	dir := t.TempDir()
	symlink(t, "two", filepath.Join(dir, "one"))
	symlink(t, "one", filepath.Join(dir, "two"))
	wantOpenError(t, filepath.Join(dir, "one"), Options{}, errAny, "check the path")
}

func TestAHardLinkIsNoSecondBook(t *testing.T) {
	path, ids := closedBook(t, 1, 1)
	alias := filepath.Join(t.TempDir(), "alias.book")
	if err := os.Link(path, alias); err != nil {
		t.Skipf("NOT CHECKED: this file system has no hard links: %v", err)
	}
	b := openAt(t, path, Options{})
	for _, access := range []Access{ReadWrite, ReadOnly} {
		wantOpenError(t, alias, Options{Access: access}, ErrOtherName, "remove the other name")
	}
	if told := openElsewhere(t, alias); !strings.Contains(told, ErrOtherName.Error()) {
		t.Errorf("another program opened the second name: %q", told)
	}
	mustAppend(t, b, ids[0], AnyVersion, note("by its own name"))
	mustBeSound(t, b)
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	wantOpenError(t, alias, Options{}, ErrOtherName) // and so the two never part
	if left, _ := filepath.Glob(alias + "?*"); len(left) > 0 {
		t.Errorf("beside the second name lies %v", left)
	}
	if err := os.Remove(path); err != nil { // the other name is gone: it is a book again
		t.Fatal(err)
	}
	b = openAt(t, alias, Options{})
	mustBeSound(t, b)
}

// Backups kept as hard links of each other (a usual way to keep many) can be read by each name.
func TestALinkedBackupCanBeRead(t *testing.T) {
	b := openNew(t)
	job := newJob(t, b, "Sandpiper").Job
	dir := t.TempDir()
	one, two := filepath.Join(dir, "monday.book"), filepath.Join(dir, "tuesday.book")
	if err := b.Backup(t.Context(), one); err != nil {
		t.Fatal(err)
	}
	if err := os.Link(one, two); err != nil {
		t.Skipf("NOT CHECKED: this file system has no hard links: %v", err)
	}
	r := openAt(t, two, Options{Access: ReadOnly})
	if _, err := r.Job(t.Context(), job); err != nil {
		t.Error(err)
	}
}

// Where two names show no link between them (the file mounted a second time), the lock on the file itself decides, and
// a refused opener leaves the first one's locks alone.
func TestTheFileItselfIsLocked(t *testing.T) {
	path, ids := closedBook(t, 1, 1)
	alias := filepath.Join(t.TempDir(), "alias.book")
	if err := os.Link(path, alias); err != nil {
		t.Skipf("NOT CHECKED: this file system has no hard links: %v", err)
	}
	if err := os.WriteFile(alias+".lock", nil, 0o644); err != nil { // takes the second name for the book's own
		t.Fatal(err)
	}
	b := openAt(t, path, Options{})
	wantOpenError(t, alias, Options{}, ErrInUse, alias, "by another name")
	if told := openElsewhere(t, alias); !strings.Contains(told, ErrInUse.Error()) || !strings.Contains(told, "by another name") {
		t.Errorf("another program opened the same file: %q", told)
	}
	if told := openElsewhere(t, alias); !strings.Contains(told, ErrInUse.Error()) {
		t.Errorf("after a refusal, another program opened the same file: %q", told)
	}
	mustAppend(t, b, ids[0], AnyVersion, note("goes on"))
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	if told := openElsewhere(t, path); told != "" {
		t.Errorf("after closing, another program was told %q", told)
	}
	if len(heldFiles.all) != 0 {
		t.Errorf("%d files are still held", len(heldFiles.all))
	}
}

// A book that could not be begun leaves nothing.
func TestABookThatCannotBeMadeLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "shop.book")
	if err := os.Mkdir(path+".lock", 0o755); err != nil {
		t.Fatal(err)
	}
	wantOpenError(t, path, Options{}, errAny)
	if _, err := os.Stat(path); err == nil {
		t.Error("an empty book was left")
	}
}
