package book

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// The disk of the cluster is full: what was acknowledged stays, the rest is refused in words, and with room all goes on.
func TestAFullDiskOfTheCluster(t *testing.T) {
	dir, err := os.MkdirTemp("", "pwfull-") // whoever runs the server must get there
	if err != nil {
		t.Fatal(err)
	}
	defer os.Remove(dir)
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=110m,mode=1777"); err != nil {
		t.Skipf("NOT CHECKED: needs root to mount a file system: %v", err)
	}
	defer func() {
		if err := syscall.Unmount(dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	}()
	c, address := ownCluster(t, dir, "shared_buffers=16MB", "max_wal_size=32MB")
	defer c.Remove()
	b := openOn(t, address, Options{})
	defer b.Close()
	job := newJob(t, b, "Sandpiper").Job
	ballast, err := os.Create(filepath.Join(dir, "ballast"))
	if err != nil {
		t.Fatal(err)
	}
	for err == nil {
		_, err = ballast.Write(make([]byte, 64<<10))
	}
	ballast.Close()
	var done []Event
	for err = nil; err == nil && len(done) < 20_000; {
		var e Event
		if e, err = b.Append(t.Context(), job, AnyVersion, note(fmt.Sprint(len(done), strings.Repeat(" lorem", 3000)))); err == nil {
			done = append(done, e)
		}
	}
	if !errors.Is(err, ErrFull) && !errors.Is(err, ErrAway) {
		t.Fatalf("after %d events: %v", len(done), err)
	}
	t.Logf("%d events on a full disk, then: %v", len(done), err)
	if err := os.Remove(ballast.Name()); err != nil {
		t.Fatal(err)
	}
	if c.Run("SELECT 1") != nil { // it gave up
		_ = c.Down()
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
	}
	d := note("there is room again")
	d.Key = "room"
	for range 20 {
		if _, err = b.Append(t.Context(), job, AnyVersion, d); !errors.Is(err, ErrAway) {
			break
		}
	}
	if err != nil {
		t.Fatal(err)
	}
	events, err := b.Events(t.Context(), job, 1)
	if err != nil || len(events) < len(done)+1 {
		t.Fatalf("%d events are there of %d, %v", len(events), len(done)+1, err)
	}
	for i, e := range done {
		if events[i].Hash != e.Hash {
			t.Fatalf("event %d is another", i)
		}
	}
	mustBeSound(t, b)
}
