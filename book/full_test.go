package book

import (
	"context"
	"fmt"
	"strings"
	"testing"
)

// The database may hold so many pages and no more: the same error as a full disk.
func TestAFullDatabaseRefusesAndKeepsWhatItHas(t *testing.T) {
	b := openNew(t)
	job := newJob(t, b, "Sandpiper").Job
	limit := func(to string) {
		if err := b.do(t.Context(), func(ctx context.Context, w *writer) ([]Change, error) {
			var n int
			return nil, w.stmt.row(ctx, `PRAGMA max_page_count = `+to).Scan(&n)
		}); err != nil {
			t.Fatal(err)
		}
	}
	limit("60")
	fillUntilFull(t, b, job)
	var err error
	stored := 0
	for ; err == nil && stored < 1000; stored++ {
		a := NewAttachment{Who: "Ada", Name: strings.Repeat("n", 250)}
		_, err = b.PutAttachment(t.Context(), job, a, strings.NewReader(fmt.Sprintf("content %04d", stored)))
	}
	stored--
	wantError(t, err, ErrFull)
	if files := filesIn(t, b.path+".files"); len(files) != stored || b.store.used != int64(12*stored) || b.store.incoming != 0 {
		t.Errorf("%d files were recorded, %d lie there, %d bytes are counted", stored, len(files), b.store.used)
	}
	limit("1000000")
	mustAppend(t, b, job, AnyVersion, note("there is room again"))
	mustBeSound(t, b)
}

// fillUntilFull records until the disk is full and checks that every acknowledged event, and no other, is there.
func fillUntilFull(t *testing.T, b *Book, job string) {
	t.Helper()
	d := note(strings.Repeat("filling up ", 200))
	kept := map[Hash]bool{}
	var err error
	for range 100_000 {
		var e Event
		if e, err = b.Append(t.Context(), job, AnyVersion, d); err != nil {
			break
		}
		kept[e.Hash] = true
	}
	wantError(t, err, ErrFull, "make room", "is safe")
	_, err = b.Append(t.Context(), job, AnyVersion, d)
	wantError(t, err, ErrFull)
	events, err := b.Events(t.Context(), job, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range events {
		delete(kept, e.Hash)
	}
	if len(kept) > 0 || len(events) < 5 {
		t.Errorf("%d acknowledged events are lost, %d are there", len(kept), len(events))
	}
}
