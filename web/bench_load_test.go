package web_test

import (
	"bufio"
	"bytes"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

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
	do := func(pairs ...string) { p.post(at+"/do", formOf(pairs...)) }
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

// formOf is what a page sends.
func formOf(pairs ...string) url.Values {
	f := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		f.Add(pairs[i], pairs[i+1])
	}
	return f
}

// BenchmarkFortyRooms is a school: forty rooms of the real program with five pages each, every engine running and a
// hand on every lever once a second. It reports the gaps between two pictures that a page gets, the bytes a second to
// each, and the share of one processor core that the program takes; the pages that listen take theirs of the same
// cores. The gap that must hold is 250 ms at p99.
func BenchmarkFortyRooms(b *testing.B) {
	const rooms, pages = 40, 5
	p := startProgram(b)
	var paths []string
	for range rooms {
		paths = append(paths, p.post("/bench", url.Values{}))
	}
	var mu sync.Mutex
	var gaps []float64 // ms
	var got, measuring atomic.Int64
	for _, at := range paths {
		for i := range pages {
			answer, err := http.Get(fmt.Sprintf("%s%s/live?tab=%d", p.base, at, i))
			if err != nil || answer.StatusCode != http.StatusOK {
				b.Fatal(answer, err)
			}
			defer answer.Body.Close()
			go func() {
				lines := bufio.NewReaderSize(answer.Body, 1<<13)
				var last time.Time
				for {
					line, err := lines.ReadSlice('\n')
					if err != nil && err != bufio.ErrBufferFull {
						return
					}
					got.Add(int64(len(line)))
					if !bytes.HasPrefix(line, []byte("data: {\"t\"")) {
						continue
					}
					now := time.Now()
					if measuring.Load() == 1 && !last.IsZero() {
						mu.Lock()
						gaps = append(gaps, float64(now.Sub(last))/1e6)
						mu.Unlock()
					}
					last = now
				}
			}()
		}
	}
	all := func(pairs ...string) {
		for _, at := range paths {
			p.post(at+"/do", formOf(pairs...))
		}
	}
	for _, on := range []string{"key", "light", "fuel", "starter"} {
		all("do", on, "to", "on")
	}
	time.Sleep(4 * time.Second)
	all("do", "starter", "to", "off")
	all("do", "lever", "rpm", "1500")
	time.Sleep(2 * time.Second)
	for range b.N {
		gaps = gaps[:0]
		sent, busy, began := got.Load(), p.busy(), time.Now()
		measuring.Store(1)
		own, stop := []float64{}, make(chan bool)
		go func() {
			for last := time.Now(); ; {
				select {
				case <-stop:
					return
				case <-time.After(66 * time.Millisecond):
				}
				now := time.Now()
				own, last = append(own, float64(now.Sub(last))/1e6), now
			}
		}()
		for i := range 10 {
			all("do", "lever", "rpm", strconv.Itoa(1400+100*(i%2)))
			time.Sleep(time.Until(began.Add(time.Duration(i+1) * time.Second)))
		}
		stop <- true
		measuring.Store(0)
		took := time.Since(began).Seconds()
		b.ReportMetric(float64(got.Load()-sent)/rooms/pages/took, "bytes/s/page")
		b.ReportMetric(100*(p.busy()-busy).Seconds()/took, "%core")
		mu.Lock()
		slices.Sort(gaps)
		if len(gaps) < rooms*pages*100 {
			b.Fatalf("%d pictures only: not every engine runs", len(gaps))
		}
		b.ReportMetric(gaps[len(gaps)/2], "p50-ms")
		b.ReportMetric(gaps[len(gaps)*99/100], "p99-ms")
		b.ReportMetric(gaps[len(gaps)-1], "max-ms")
		slices.Sort(own)
		p99, ownP99 := gaps[len(gaps)*99/100], own[len(own)*99/100]
		b.ReportMetric(ownP99, "own-p99-ms") // what the machine itself does to a clock of the same period
		switch {
		case p99 <= 250:
		case ownP99 > 100:
			b.Logf("NOT MEASURED: the machine is busy with something else, a clock of 66 ms runs at %.0f ms", ownP99)
		default:
			b.Errorf("p99 of the gaps is %.0f ms, a clock of 66 ms runs at %.0f ms", p99, ownP99)
		}
		mu.Unlock()
	}
	kb, _ := p.status("VmHWM")
	b.ReportMetric(float64(kb)/1024, "MiB-peak")
}
