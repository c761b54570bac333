//go:build unix

package web_test

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"phasewright/book"
	"phasewright/book/pgtest"
	"phasewright/web/webtest"
)

// BenchmarkSeveralServers is a yard: 200 screens with live updates and 40 writers, once on four servers of one database
// and once on one server of a book in a file, one after the other. All run on this computer, the database and those who
// ask too.
func BenchmarkSeveralServers(b *testing.B) {
	binary := filepath.Join(b.TempDir(), "phasewright")
	if out, err := exec.Command("go", "build", "-o", binary, "phasewright/cmd/phasewright").CombinedOutput(); err != nil {
		b.Fatalf("build: %v\n%s", err, out)
	}
	pgtest.Need(b)
	c, err := pgtest.Make("")
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(c.Remove)
	if err := book.Migrate(b.Context(), c.Address(pgtest.Keeper, "yard"), pgtest.Shop); err != nil {
		b.Fatal(err)
	}
	for range b.N {
		yard(b, binary, "postgres", c.Address(pgtest.Shop, "yard"), 4)
		yard(b, binary, "file", filepath.Join(b.TempDir(), "yard.book"), 1)
	}
}

func yard(b *testing.B, binary, name, address string, servers int) {
	const screens, writers, lasts = 200, 40, 30 * time.Second
	var all []*program
	for range servers {
		all = append(all, startOn(b, binary, address))
	}
	type place struct {
		path  string
		began atomic.Int64 // when the last reading was sent
		sent  atomic.Int64
	}
	jobs := make([]*place, writers)
	for i := range jobs {
		jobs[i] = &place{path: all[i%servers].post("/new", url.Values{"name": {fmt.Sprint("Yard ", i)}, "from": {"paste"},
			"yaml": {webtest.Example(b, "sandpiper")}})}
	}
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	var mu sync.Mutex
	var pages, heard []float64 // ms
	failed := 0
	var work sync.WaitGroup
	for i := range screens {
		job, p := jobs[i%writers], all[(i/writers+i+1)%servers] // on another server than the writer, mostly
		events := webtest.ListenAt(b, ctx, p.base+"/live?job="+strings.TrimPrefix(job.path, "/job/")+"&since=2")
		work.Go(func() {
			for e := range events {
				if !strings.HasPrefix(e, "change") {
					continue
				}
				if at := job.began.Load(); at > 0 {
					mu.Lock()
					heard = append(heard, float64(time.Now().UnixMicro()-at)/1000)
					mu.Unlock()
				}
			}
		})
		work.Go(func() {
			client := &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: 2}}
			defer client.CloseIdleConnections()
			rng := rand.New(rand.NewPCG(uint64(i), 2))
			for ctx.Err() == nil {
				select {
				case <-ctx.Done():
					return
				case <-time.After(time.Duration(3000+rng.IntN(7000)) * time.Millisecond): // a person looks at what he got
				}
				path := []string{"/", job.path, job.path + "/readings", job.path + "/sheet"}[rng.IntN(4)]
				began := time.Now()
				code := p.get(client, path)
				mu.Lock()
				pages = append(pages, float64(time.Since(began).Microseconds())/1000)
				if code != 200 && ctx.Err() == nil {
					failed++
				}
				mu.Unlock()
			}
		})
	}
	for i, job := range jobs {
		p := all[i%servers]
		work.Go(func() {
			rng := rand.New(rand.NewPCG(uint64(i), 3))
			for ctx.Err() == nil {
				time.Sleep(time.Duration(1000+rng.IntN(2000)) * time.Millisecond)
				form := url.Values{"rpm": {strconv.Itoa(800 + rng.IntN(3000))}, "shown": {"9"}, "locked": {"8"}}
				r, _ := http.NewRequest("POST", p.base+job.path+"/readings", strings.NewReader(form.Encode()))
				r.Header.Set("Origin", p.base)
				r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
				job.began.Store(time.Now().UnixMicro())
				answer, err := (&http.Client{CheckRedirect: func(*http.Request, []*http.Request) error {
					return http.ErrUseLastResponse
				}}).Do(r)
				if err != nil || answer.StatusCode != http.StatusSeeOther {
					mu.Lock()
					failed++
					mu.Unlock()
					continue
				}
				io.Copy(io.Discard, answer.Body)
				answer.Body.Close()
				job.sent.Add(1)
			}
		})
	}
	time.Sleep(lasts)
	cancel()
	work.Wait()
	// Every reading that was answered is there, once.
	k, err := book.Open(b.Context(), address, book.Options{Access: book.ReadOnly})
	if err != nil {
		b.Fatal(err)
	}
	defer k.Close()
	lost, sent := 0, 0
	for _, job := range jobs {
		j, err := k.Job(b.Context(), strings.TrimPrefix(job.path, "/job/"))
		if err != nil {
			b.Fatal(err)
		}
		sent += int(job.sent.Load())
		lost += int(job.sent.Load()) - j.Readings
	}
	report := func(what string, all []float64) {
		if len(all) == 0 {
			b.Fatalf("%s, %s: nothing was seen", name, what)
		}
		slices.Sort(all)
		b.ReportMetric(all[len(all)/2], name+"-"+what+"-p50-ms")
		b.ReportMetric(all[len(all)*99/100], name+"-"+what+"-p99-ms")
	}
	report("page", pages)
	report("event", heard)
	b.ReportMetric(float64(lost), name+"-lost")
	b.ReportMetric(float64(failed), name+"-failed")
	load, _ := os.ReadFile("/proc/loadavg")
	b.Logf("%s: %d servers, %d readings, %d pages, %d events heard; load %s", name, servers, sent, len(pages), len(heard),
		strings.TrimSpace(string(load)))
	for _, p := range all {
		p.kill()
	}
}
