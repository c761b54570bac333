package book

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// A big book for the benchmarks: invented jobs, an eighth of them archived, a quarter with findings.
const bigJobs = 100_000

var (
	bigBoats   = []string{"Sandpiper", "Curlew", "Éclair", "Dunlin", "Ørnen", "Kittiwake", "Redshank", "Turnstone", "Sanderling", "Whimbrel", "二号", "Жаворонок"}
	bigOwners  = []string{"Ada Reed", "Søren Müller", "Łucja Żółć", "Ελένη Ψαρά", "O'Hara & Sons", "Ngô Thị Hằng", "Marlow Quay Boatyard", "Ben Oak", "Алёна Йовович", "中村 太郎"}
	bigEngines = []string{"six-cylinder workboat engine", "four-cylinder pump engine", "V8 hill-climb car", "V12 launch", "generator set"}
	bigFaults  = []string{"rotor phasing out", "damper ring slipped", "clamp loose", "delay allowance wrong", "two wires swapped", "crossfire at speed"}
)

func bigJob(i int) NewJob {
	return NewJob{Who: "Ada Reed, phone 1", Name: fmt.Sprintf("%s %d", bigBoats[i%len(bigBoats)], i), Owner: bigOwners[i/3%len(bigOwners)],
		Engine: fmt.Sprintf("%s no. %05d", bigEngines[i/7%len(bigEngines)], i*7919%100_000), Shop: "Marlow Quay"}
}

func buildBig(tb testing.TB, b *Book) {
	ctx := context.Background()
	var next atomic.Int64
	var wg sync.WaitGroup
	for range 64 {
		wg.Go(func() {
			for i := int(next.Add(1)); i <= bigJobs; i = int(next.Add(1)) {
				e, err := b.CreateJob(ctx, bigJob(i))
				if err == nil && i%4 == 0 {
					p, _ := json.Marshal(map[string]string{"suspect": bigFaults[i/4%len(bigFaults)], "text": "seen at idle"})
					_, err = b.Append(ctx, e.Job, 1, Draft{Who: "Ada Reed, phone 1", Kind: KindEvidenceSaved, Payload: p})
				}
				if err == nil && i%8 == 1 {
					_, err = b.Append(ctx, e.Job, 1, Draft{Who: "Ada Reed, phone 1", Kind: KindJobArchived})
				}
				if err != nil {
					tb.Error(err)
					return
				}
			}
		})
	}
	wg.Wait()
}

// BenchmarkBigBook lists and searches 100,000 jobs. Every case reports its 99th percentile; the aim is 20 ms.
func BenchmarkBigBook(b *testing.B) {
	path := filepath.Join(b.TempDir(), "big.book")
	book, err := Open(b.Context(), path, Options{})
	if err != nil {
		b.Fatal(err)
	}
	defer book.Close()
	start := time.Now()
	buildBig(b, book)
	b.Logf("%d jobs recorded in %.1f s", bigJobs, time.Since(start).Seconds())
	deep, err := book.Jobs(b.Context(), Query{Limit: 500})
	if err != nil {
		b.Fatal(err)
	}
	for _, c := range []struct {
		name string
		q    func(i int) Query
		none bool
	}{
		{"list first page", func(int) Query { return Query{} }, false},
		{"list deep page", func(int) Query { return Query{After: deep.Next} }, false},
		{"list archived", func(int) Query { return Query{Shelf: Archived} }, false},
		{"search one boat", func(i int) Query { return Query{Text: bigJob(i*37%bigJobs + 1).Name, Shelf: Both} }, false},
		{"search an owner", func(i int) Query { return Query{Text: bigOwners[i%len(bigOwners)]} }, false},
		{"search a fault", func(i int) Query { return Query{Text: bigFaults[i%len(bigFaults)]} }, false},
		{"search one letter", func(i int) Query { return Query{Text: string("abcdefghijklmnopqrstuvwxyz"[i%26])} }, true},
		{"search while typing", func(i int) Query {
			name := []rune(bigBoats[i%len(bigBoats)])
			return Query{Text: string(name[:1+i/12%len(name)])}
		}, false},
		{"search number prefix", func(i int) Query { return Query{Text: fmt.Sprint(1 + i%9999)} }, false},
		{"search common words", func(i int) Query { return Query{Text: "marlow quay engine"} }, false},
		{"search common, archived", func(i int) Query { return Query{Text: "marlow", Shelf: Archived} }, false},
		{"search common, nothing common to both", func(i int) Query { return Query{Text: "v12 pump"} }, true},
		{"search deep page", func(i int) Query { return Query{Text: "marlow", After: deep.Next} }, false},
		{"search nothing there", func(i int) Query { return Query{Text: "zeppelin"} }, true},
		{"search twelve letters apart", func(i int) Query { return Query{Text: "a b c d e f g h i j k l", Shelf: Both} }, true},
	} {
		b.Run(c.name, func(b *testing.B) {
			var took []time.Duration
			for i := 0; b.Loop(); i++ {
				start := time.Now()
				page, err := book.Jobs(b.Context(), c.q(i))
				took = append(took, time.Since(start))
				if err != nil || len(page.Jobs) == 0 && !c.none {
					b.Fatalf("%+v: %d jobs, %v", c.q(i), len(page.Jobs), err)
				}
			}
			slices.Sort(took)
			b.ReportMetric(took[len(took)*99/100].Seconds()*1000, "p99-ms")
		})
	}
	b.Run("search beside a writer", func(b *testing.B) {
		stop := make(chan struct{})
		var wg sync.WaitGroup
		wg.Go(func() {
			for i := 0; ; i++ {
				select {
				case <-stop:
					return
				default:
				}
				if _, err := book.CreateJob(context.Background(), bigJob(bigJobs+i)); err != nil {
					b.Error(err)
					return
				}
			}
		})
		var took []time.Duration
		for i := 0; b.Loop(); i++ {
			start := time.Now()
			if _, err := book.Jobs(b.Context(), Query{Text: bigOwners[i%len(bigOwners)]}); err != nil {
				b.Fatal(err)
			}
			took = append(took, time.Since(start))
		}
		close(stop)
		wg.Wait()
		slices.Sort(took)
		b.ReportMetric(took[len(took)*99/100].Seconds()*1000, "p99-ms")
	})
	for name, do := range map[string]func() error{
		"check": func() error {
			r, err := book.Check(b.Context())
			return errors.Join(err, fail(len(r.Problems) > 0, r.Problems))
		},
		"rebuild": func() error {
			r, err := book.Rebuild(b.Context())
			return errors.Join(err, fail(len(r.Differences) > 0, r.Differences))
		},
		"open": func() error {
			r, err := Open(b.Context(), path, Options{Access: ReadOnly})
			return errors.Join(err, r.Close())
		},
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if err := do(); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func fail(bad bool, what any) error {
	if bad {
		return fmt.Errorf("%v", what)
	}
	return nil
}

// BenchmarkAppend measures durable events: each is on disk before the next begins for its client.
func BenchmarkAppend(b *testing.B) {
	for _, clients := range []int{1, 8, 50} {
		b.Run(fmt.Sprintf("clients=%d", clients), func(b *testing.B) {
			book := openAt(b, filepath.Join(b.TempDir(), "shop.book"), Options{Clock: time.Now})
			var jobs []string
			for i := range clients {
				jobs = append(jobs, newJob(b, book, fmt.Sprint("job ", i)).Job)
			}
			var left atomic.Int64
			left.Store(int64(b.N))
			var mu sync.Mutex
			var took []time.Duration
			var wg sync.WaitGroup
			b.ResetTimer()
			for _, job := range jobs {
				wg.Go(func() {
					var mine []time.Duration
					for i := 0; left.Add(-1) >= 0; i++ {
						start := time.Now()
						if _, err := book.Append(context.Background(), job, AnyVersion, readingDraft(fmt.Sprint(i))); err != nil {
							b.Error(err)
							return
						}
						mine = append(mine, time.Since(start))
					}
					mu.Lock()
					took = append(took, mine...)
					mu.Unlock()
				})
			}
			wg.Wait()
			b.StopTimer()
			slices.Sort(took)
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "events/s")
			b.ReportMetric(took[len(took)*99/100].Seconds()*1000, "p99-ms")
		})
	}
}
