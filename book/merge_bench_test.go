package book

import (
	"bytes"
	"errors"
	"path/filepath"
	"testing"
	"time"
)

// BenchmarkMerge takes a book of 10,000 jobs over into another of 10,000, with 100 jobs in common: on ten of them both
// went on.
func BenchmarkMerge(b *testing.B) {
	const jobs, common, both = 10_000, 100, 10
	dir := b.TempDir()
	open := func(name string) *Book {
		x, err := Open(b.Context(), filepath.Join(dir, name), Options{})
		if err != nil {
			b.Fatal(err)
		}
		b.Cleanup(func() { x.Close() })
		return x
	}
	here, there := open("here.book"), open("there.book")
	start := time.Now()
	buildShop(b, here, jobs)
	buildShop(b, there, jobs-common)
	page, err := here.Jobs(b.Context(), Query{Limit: common})
	if err != nil {
		b.Fatal(err)
	}
	for i, j := range page.Jobs {
		var file bytes.Buffer
		if err := here.Export(b.Context(), j.ID, &file); err != nil {
			b.Fatal(err)
		}
		if _, err := there.Import(b.Context(), &file); err != nil {
			b.Fatal(err)
		}
		if i < both {
			mustAppend(b, here, j.ID, AnyVersion, note("here"))
			mustAppend(b, there, j.ID, AnyVersion, note("there"))
		}
	}
	b.Logf("both books made in %.0f s", time.Since(start).Seconds())
	before := processorTime()
	start = time.Now()
	fresh, same, diverged := 0, 0, 0
	err = here.Merge(b.Context(), there, func(m Merged) error {
		switch d := (*Diverged)(nil); {
		case errors.As(m.Refused, &d):
			diverged++
		case m.Refused != nil:
			return m.Refused
		case m.Before == 0:
			fresh++
		default:
			same++
		}
		return nil
	})
	if err != nil || fresh != jobs-common || same != common-both || diverged != both {
		b.Fatalf("%d new, %d as they were, %d went on in both, %v", fresh, same, diverged, err)
	}
	b.ReportMetric(time.Since(start).Seconds(), "s")
	b.ReportMetric((processorTime() - before).Seconds(), "cpu-s")
	if r := mustBeSound(b, here); r.Jobs != 2*jobs-common {
		b.Errorf("%d jobs", r.Jobs)
	}
}
