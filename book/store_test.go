package book

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/iotest"
)

// filesIn lists the regular files below dir.
func filesIn(t testing.TB, dir string) []string {
	t.Helper()
	if all, ok := filesElsewhere(t, strings.TrimSuffix(dir, ".files")); ok {
		return all
	}
	var all []string
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			all = append(all, path)
		}
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func TestAttachmentsComeBackAndAreKeptOnce(t *testing.T) {
	b := openNew(t)
	one, two := newJob(t, b, "Sandpiper").Job, newJob(t, b, "Curlew").Job
	content := make([]byte, 1<<20+17)
	rand.NewChaCha8([32]byte{7}).Read(content)
	mustPut(t, b, one, "photo.jpg", string(content))
	mustPut(t, b, one, "the same photo.jpg", string(content))
	mustPut(t, b, two, "again.jpg", string(content))
	mustPut(t, b, two, "empty.txt", "")
	sha := Hash(sha256.Sum256(content))
	f, size, err := b.OpenAttachment(t.Context(), sha)
	if err != nil || size != int64(len(content)) {
		t.Fatal(size, err)
	}
	defer f.Close()
	if back, err := io.ReadAll(f); err != nil || !bytes.Equal(back, content) {
		t.Errorf("%d bytes came back, %v", len(back), err)
	}
	if files := filesIn(t, b.path+".files"); len(files) != 2 {
		t.Errorf("store holds %v, want two files", files)
	}
	if InPostgres(b.path) { // where it has no place of its own
	} else if _, err := os.Stat(filepath.Join(b.path+".files", sha.String()[:2], sha.String()[2:])); err != nil {
		t.Errorf("content is not where the format says: %v", err)
	}
	list, err := b.Attachments(t.Context(), one)
	if err != nil || len(list) != 2 || list[0].Name != "photo.jpg" || list[1].Name != "the same photo.jpg" || list[1].SHA256 != sha || list[1].Version != 3 {
		t.Errorf("attachments: %+v, %v", list, err)
	}
	_, _, err = b.OpenAttachment(t.Context(), Hash{1})
	wantError(t, err, ErrNoAttachment)
	if r := mustBeSound(t, b); r.Files != 2 {
		t.Errorf("check read %d files", r.Files)
	}
}

func TestARefusedAttachmentLeavesNothing(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.book")
	b := openAt(t, path, Options{Quota: 10_000, MaxFile: 6_000})
	job := newJob(t, b, "Sandpiper").Job
	mustPut(t, b, job, "a.bin", strings.Repeat("a", 5_000))
	put := func(name, media string, r io.Reader) error {
		_, err := b.PutAttachment(t.Context(), job, NewAttachment{Who: "Ada", Name: name, MediaType: media}, r)
		return err
	}
	wantError(t, put("b.bin", "", strings.NewReader(strings.Repeat("b", 5_001))), ErrQuota, "raise the quota")
	wantError(t, put("c.bin", "", strings.NewReader(strings.Repeat("c", 6_001))), ErrTooLarge)
	broken := errors.New("line dropped")
	if err := put("d.bin", "", io.MultiReader(strings.NewReader("half"), iotest.ErrReader(broken))); !errors.Is(err, broken) {
		t.Error(err)
	}
	for _, name := range []string{"../../x", "a/b", `a\b`, "..", ".", "", "a\x00b", "a\nb", "\xff", strings.Repeat("n", 256), "/etc/passwd", `C:\x`[2:]} {
		if err := put(name, "", strings.NewReader("x")); !errors.Is(err, ErrBadInput) && !errors.Is(err, ErrTooLarge) {
			t.Errorf("name %q: %v", name, err)
		}
	}
	for _, media := range []string{"image", "image/jpeg\r\nX: y", "text/html; charset", strings.Repeat("a", 300) + "/b"} {
		if err := put("x", media, strings.NewReader("x")); !errors.Is(err, ErrBadInput) {
			t.Errorf("media type %q: %v", media, err)
		}
	}
	_, err := b.PutAttachment(t.Context(), "aaaaaaaaaaaaaaaa", NewAttachment{Who: "Ada", Name: "x"}, strings.NewReader("x"))
	wantError(t, err, ErrNoJob)
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := b.PutAttachment(gone, job, NewAttachment{Who: "Ada", Name: "x"}, strings.NewReader("x")); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if files := filesIn(t, path+".files"); len(files) != 1 {
		t.Errorf("refused files left something: %v", files)
	}
	mustPut(t, b, job, "fits.bin", strings.Repeat("e", 5_000)) // the refused ones gave their room back
	wantError(t, put("full.bin", "", strings.NewReader("f")), ErrQuota)
	if j, _ := b.Job(t.Context(), job); j.Version != 3 || j.Attachments != 2 {
		t.Errorf("job: %+v", j)
	}
	mustBeSound(t, b)
	// The room taken is known again after opening.
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	b = openAt(t, path, Options{Quota: 10_000})
	_, err = b.PutAttachment(t.Context(), job, NewAttachment{Who: "Ada", Name: "x"}, strings.NewReader("x"))
	wantError(t, err, ErrQuota)
}

func TestAnAttachmentSentAgainWithItsKey(t *testing.T) {
	b := openAt(t, filepath.Join(t.TempDir(), "shop.book"), Options{Quota: 100})
	job := newJob(t, b, "Sandpiper").Job
	a := NewAttachment{Who: "Ada", Name: "x.txt", MediaType: "text/plain", Key: "photo-1"}
	first, err := b.PutAttachment(t.Context(), job, a, strings.NewReader(strings.Repeat("x", 100)))
	if err != nil {
		t.Fatal(err)
	}
	again, err := b.PutAttachment(t.Context(), job, a, strings.NewReader(strings.Repeat("x", 100))) // the quota is full, and that does not matter
	if err != nil || again.Hash != first.Hash || !again.Repeated {
		t.Errorf("%+v, %v", again, err)
	}
	_, err = b.PutAttachment(t.Context(), job, a, strings.NewReader("something else"))
	wantError(t, err, ErrKeyReused)
	if files := filesIn(t, b.path+".files"); len(files) != 1 {
		t.Error(files)
	}
}

func TestManySendTheSameFilesAtOnce(t *testing.T) {
	b := openNew(t)
	job := newJob(t, b, "Sandpiper").Job
	var wg sync.WaitGroup
	for i := range 40 {
		wg.Go(func() { mustPut(t, b, job, "x.bin", strings.Repeat(string(rune('a'+i%4)), 70_000)) })
	}
	wg.Wait()
	if files := filesIn(t, b.path+".files"); len(files) != 4 {
		t.Errorf("%d files, want 4", len(files))
	}
	if r := mustBeSound(t, b); r.Events != 41 || len(r.Notices) > 0 {
		t.Errorf("%+v", r)
	}
	if b.store.used != 4*70_000 || b.store.incoming != 0 {
		t.Errorf("room counted: %d used, %d incoming", b.store.used, b.store.incoming)
	}
}

func TestCheckFindsDamagedAndMissingAttachmentsAndSendingAgainHeals(t *testing.T) {
	b := openNew(t)
	job := newJob(t, b, "Sandpiper").Job
	mustPut(t, b, job, "a.txt", "first content")
	mustPut(t, b, job, "b.txt", "second content")
	files := filesIn(t, b.path+".files")
	text, err := os.ReadFile(files[0])
	if err != nil {
		t.Fatal(err)
	}
	text[3] ^= 1 // of the same length
	if err := os.WriteFile(files[0], text, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(files[1]); err != nil {
		t.Fatal(err)
	}
	stray := filepath.Join(filepath.Dir(files[0]), "stray")
	if err := os.WriteFile(stray, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	r, err := b.Check(t.Context())
	if err != nil || len(r.Problems) != 2 || len(r.Notices) != 1 || !strings.Contains(r.Notices[0], "stray") {
		t.Fatalf("%+v, %v", r, err)
	}
	mustPut(t, b, job, "a.txt", "first content")
	mustPut(t, b, job, "b.txt", "second content")
	mustBeSound(t, b)
}
