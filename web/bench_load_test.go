package web_test

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
