package web

import (
	"fmt"
	"net/http"
	"net/url"
	"os"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"phasewright/bench"
)

// BenchmarkBenchTick is one step of the loop with twenty pages that take everything: physics, drawing and sending to their queues. The loop does 15 a
// second; bytes/s is what one page then gets.
func BenchmarkBenchTick(b *testing.B) {
	for _, at := range []struct {
		name string
		rpm  string
	}{{"at rest", ""}, {"on the starter", "0"}, {"idle", "750"}, {"near the redline", "5000"}} {
		b.Run(at.name, func(b *testing.B) {
			c := start()
			r := byHand(b, benchOrder{Config: bench.Default()}, c)
			var all []*watcher
			for range 20 {
				w, err := r.watch(ada, "t")
				if err != nil {
					b.Fatal(err)
				}
				all = append(all, w)
			}
			sent := 0
			take := func() {
				for _, w := range all {
					for len(w.c) > 0 {
						sent += len(<-w.c)
					}
				}
			}
			step := func() {
				c.now = c.now.Add(benchPeriod)
				r.tick(c.now)
				take()
			}
			if at.rpm != "" {
				for _, on := range []string{"key", "light", "starter"} {
					act(b, r, ada, "t", on, "to", "on")
				}
				if at.rpm != "0" {
					act(b, r, ada, "t", "fuel", "to", "on")
				}
				for range 45 {
					step()
				}
			}
			if at.rpm != "" && at.rpm != "0" {
				act(b, r, ada, "t", "starter", "to", "off")
				act(b, r, ada, "t", "lever", "rpm", at.rpm)
				for range 150 {
					step()
				}
				if !r.state.Runs {
					b.Fatal("the engine does not run")
				}
			}
			sent = 0
			n := 0
			for b.Loop() {
				step()
				n++
			}
			b.ReportMetric(float64(sent)/float64(len(all))/float64(n)/benchPeriod.Seconds(), "bytes/s/page")
			b.ReportMetric(r.mean.rpm(), "rpm")
		})
	}
}

// BenchmarkSixtyWatchers is a class around one bench of the real program on loopback: the bytes a second that each
// page gets, and the share of one processor core that the program takes, at rest, on the starter and running.
func BenchmarkSixtyWatchers(b *testing.B) {
	p := startProgram(b)
	at := p.post("/bench", url.Values{})
	var got atomic.Int64
	for range 60 {
		answer, err := http.Get(p.base + at + "/live")
		if err != nil || answer.StatusCode != http.StatusOK {
			b.Fatal(answer, err)
		}
		defer answer.Body.Close()
		go func() {
			some := make([]byte, 1<<14)
			for {
				n, err := answer.Body.Read(some)
				got.Add(int64(n))
				if err != nil {
					return
				}
			}
		}()
	}
	measure := func(when string) {
		bytes, busy, began := got.Load(), p.busy(), time.Now()
		time.Sleep(8 * time.Second)
		took := time.Since(began).Seconds()
		b.ReportMetric(float64(got.Load()-bytes)/60/took, when+"-bytes/s/page")
		b.ReportMetric(100*(p.busy()-busy).Seconds()/took, when+"-%core")
	}
	do := func(pairs ...string) { p.post(at+"/do", form(pairs...)) }
	for range b.N {
		measure("rest")
		do("do", "key", "to", "on")
		do("do", "light", "to", "on")
		do("do", "starter", "to", "on")
		time.Sleep(time.Second)
		measure("starter")
		do("do", "fuel", "to", "on")
		time.Sleep(3 * time.Second)
		do("do", "starter", "to", "off")
		do("do", "lever", "rpm", "1500")
		time.Sleep(3 * time.Second)
		measure("running")
	}
}

// busy is the time that the program has spent on a processor.
func (p *program) busy() time.Duration {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", p.pid))
	if err != nil {
		p.b.Skip("SKIPPED: no /proc on this system, so the share of the processor was NOT measured")
	}
	_, after, _ := strings.Cut(string(text), ") ")
	fields := strings.Fields(after) // utime and stime are fields 14 and 15 of the line, in hundredths (proc(5))
	user, _ := strconv.Atoi(fields[11])
	system, _ := strconv.Atoi(fields[12])
	return time.Duration(user+system) * 10 * time.Millisecond
}
