package web_test

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"phasewright/web/webtest"
)

// program is the real program serving a fresh book on a loopback port.
type program struct {
	b    *testing.B
	base string
	pid  int
	kill func()        // ends it at once; without, it ends with the benchmark
	took time.Duration // from process start to the first page
}

func startProgram(b *testing.B) *program {
	b.Helper()
	dir := b.TempDir()
	binary := filepath.Join(dir, "phasewright")
	if out, err := exec.Command("go", "build", "-o", binary, "phasewright/cmd/phasewright").CombinedOutput(); err != nil {
		b.Fatalf("build: %v\n%s", err, out)
	}
	return startOn(b, binary, filepath.Join(dir, "load.book"))
}

// startOn starts the program that was built on a book.
func startOn(b *testing.B, binary, book string) *program {
	b.Helper()
	cmd := exec.Command(binary, "serve", "--book", book, "--listen", "127.0.0.1:0")
	said, err := cmd.StderrPipe()
	if err != nil {
		b.Fatal(err)
	}
	began := time.Now()
	if err := cmd.Start(); err != nil {
		b.Fatal(err)
	}
	p := &program{b: b, pid: cmd.Process.Pid, kill: func() { cmd.Process.Kill(); cmd.Wait() }}
	b.Cleanup(func() { cmd.Process.Signal(os.Interrupt); cmd.Wait() })
	lines := bufio.NewScanner(said)
	for lines.Scan() {
		if m := regexp.MustCompile(`http://localhost:(\d+)`).FindStringSubmatch(lines.Text()); m != nil {
			p.base = "http://127.0.0.1:" + m[1]
			break
		}
	}
	go io.Copy(io.Discard, said)
	if p.base == "" {
		b.Fatal("the program does not say where it listens")
	}
	if code := p.get(http.DefaultClient, "/"); code != 200 {
		b.Fatal("first page: ", code)
	}
	p.took = time.Since(began)
	return p
}

func (p *program) get(c *http.Client, path string) int {
	answer, err := c.Get(p.base + path)
	if err != nil {
		return 0
	}
	defer answer.Body.Close()
	io.Copy(io.Discard, answer.Body)
	return answer.StatusCode
}

func (p *program) post(path string, form url.Values) string {
	p.b.Helper()
	r, _ := http.NewRequest("POST", p.base+path, strings.NewReader(form.Encode()))
	r.Header.Set("Origin", p.base)
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	c := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	answer, err := c.Do(r)
	if err != nil {
		p.b.Fatal(err)
	}
	answer.Body.Close()
	if answer.StatusCode != http.StatusSeeOther {
		p.b.Fatal(path, answer.Status)
	}
	return answer.Header.Get("Location")
}

// status reads one figure of /proc/PID/status in kB, and how many descriptors the program holds.
func (p *program) status(name string) (kb int, fds int) {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", p.pid))
	if err != nil {
		p.b.Skip("SKIPPED: no /proc on this system, so memory and descriptors were NOT measured")
	}
	if m := regexp.MustCompile(name + `:\s+(\d+)`).FindSubmatch(text); m != nil {
		kb, _ = strconv.Atoi(string(m[1]))
	}
	open, _ := os.ReadDir(fmt.Sprintf("/proc/%d/fd", p.pid))
	return kb, len(open)
}

// gigabyte is a recording of two channels as a scope writes it, made as it is sent.
func gigabyte(w io.Writer, size int64) error {
	out := bufio.NewWriterSize(w, 1<<20)
	n, _ := out.WriteString("time_s,crank,cam\n")
	written := int64(n)
	line := make([]byte, 0, 64)
	for i := 0; written < size; i++ {
		high := byte('0')
		if i/200%5 == 0 {
			high = '5'
		}
		cam := byte('0')
		if i/200%60 == 7 {
			cam = '5'
		}
		line = strconv.AppendFloat(line[:0], float64(i)*5e-6, 'f', 6, 64)
		line = append(line, ',', high, '.', '0', byte('0'+i%7), ',', cam, '.', '0', byte('0'+i%5), '\n')
		n, err := out.Write(line)
		if err != nil {
			return err
		}
		written += int64(n)
	}
	return out.Flush()
}

// BenchmarkFiftyClients is the load that a shop or a class makes: fifty screens with live updates, reading pages and
// adding readings, five of them zooming through the waveform of a capture of 1 GB, while that is read again. It reports
// the 99th percentile of page requests and of waveforms, the program's largest memory and the descriptors it keeps
// after 10,000 connections. scripts/load runs it and holds it to the limits.
func BenchmarkFiftyClients(b *testing.B) {
	for range b.N {
		fiftyClients(b)
	}
}

func fiftyClients(b *testing.B) {
	p := startProgram(b)
	b.ReportMetric(float64(p.took.Milliseconds()), "first-page-ms")
	job := p.post("/new", url.Values{"name": {"Load"}, "from": {"paste"}, "yaml": {webtest.Example(b, "sandpiper")}})
	for i := range 10 {
		p.post(job+"/readings", url.Values{"rpm": {strconv.Itoa(800 + 300*i)}, "shown": {"9"}, "locked": {"8"}})
	}
	r, w := io.Pipe()
	m := multipart.NewWriter(w)
	go func() {
		part, _ := m.CreateFormFile("file", "gigabyte.csv")
		err := gigabyte(part, 1<<30)
		m.Close()
		w.CloseWithError(err)
	}()
	q, _ := http.NewRequest("POST", p.base+job+"/captures", r)
	q.Header.Set("Content-Type", m.FormDataContentType())
	q.Header.Set("Origin", p.base)
	q.Header.Set("Accept", "application/json")
	answer, err := http.DefaultClient.Do(q)
	if err != nil || answer.StatusCode != 200 {
		b.Fatal(answer, err)
	}
	answer.Body.Close()

	ctx, cancel := context.WithCancel(context.Background())
	var mu sync.Mutex
	var took, drawn []float64
	var heard, failed int
	var waveform atomic.Pointer[string] // address, once the capture was read
	var all sync.WaitGroup
	for i := range 50 {
		all.Add(2)
		c := &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: 2}}
		events := webtest.ListenAt(b, ctx, p.base+"/live?job="+strings.TrimPrefix(job, "/job/")+"&since=12")
		go func() {
			defer all.Done()
			for e := range events {
				if strings.HasPrefix(e, "change") {
					mu.Lock()
					heard++
					mu.Unlock()
				}
			}
		}()
		go func() {
			defer all.Done()
			defer c.CloseIdleConnections()
			rng := rand.New(rand.NewPCG(uint64(i), 1))
			for ctx.Err() == nil {
				path := []string{"/", job, job + "/readings", job + "/sheet", job + "/captures", job + "/proof"}[rng.IntN(6)]
				zoom := waveform.Load()
				if i%10 == 0 && zoom != nil {
					width := math.Pow(10, 2-5*rng.Float64()) // of 240 s
					from := rng.Float64() * (240 - width)
					path = fmt.Sprintf("%s/part?plate=phone&from=%.6f&to=%.6f", *zoom, from, from+width)
				} else {
					zoom = nil
				}
				began := time.Now()
				code := p.get(c, path)
				mu.Lock()
				if ms := float64(time.Since(began).Microseconds()) / 1000; zoom != nil {
					drawn = append(drawn, ms)
				} else {
					took = append(took, ms)
				}
				if code != 200 && ctx.Err() == nil {
					failed++
				}
				mu.Unlock()
				time.Sleep(time.Duration(100+rng.IntN(400)) * time.Millisecond) // a person looks at what he got
			}
		}()
	}
	reading := 0
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(time.Second) {
		page, err := http.Get(p.base + job + "/captures")
		if err != nil {
			b.Fatal(err)
		}
		text, _ := io.ReadAll(page.Body)
		page.Body.Close()
		if strings.Contains(string(text), "being read") {
			reading++
		} else if sha := regexp.MustCompile(`/captures/([0-9a-f]{64})`).FindSubmatch(text); sha != nil {
			at := job + "/captures/" + string(sha[1]) + "/wave"
			waveform.Store(&at)
			p.post(job+"/captures/"+string(sha[1]), url.Values{}) // read it again: the load lasts as long as the clients
		} else {
			b.Fatalf("the capture is neither read nor being read: %s", text)
		}
		p.post(job+"/readings", url.Values{"rpm": {"1500"}, "shown": {"9"}, "locked": {"8"}})
	}
	cancel()
	all.Wait()
	slices.Sort(took)
	peak, _ := p.status("VmHWM")
	b.ReportMetric(took[len(took)/2], "p50-ms")
	b.ReportMetric(took[len(took)*99/100], "p99-ms")
	slices.Sort(drawn)
	if len(drawn) == 0 {
		b.Fatal("no waveform was drawn")
	}
	b.ReportMetric(drawn[len(drawn)/2], "wave-p50-ms")
	b.ReportMetric(drawn[len(drawn)*99/100], "wave-p99-ms")
	b.ReportMetric(float64(len(drawn)), "waves")
	b.ReportMetric(float64(peak)/1024, "peak-MiB")
	b.ReportMetric(float64(len(took)), "requests")
	b.ReportMetric(float64(failed), "failed")
	b.ReportMetric(float64(heard), "events-heard")
	b.ReportMetric(float64(reading), "seconds-reading")

	for { // at rest: nothing is being read, no line is open
		page, err := http.Get(p.base + job + "/captures")
		if err != nil {
			b.Fatal(err)
		}
		text, _ := io.ReadAll(page.Body)
		page.Body.Close()
		if !strings.Contains(string(text), "being read") {
			break
		}
		time.Sleep(200 * time.Millisecond)
	}
	http.DefaultClient.CloseIdleConnections()
	time.Sleep(time.Second)
	p.connect(1000) // the book opens its few readers once
	_, before := p.status("VmRSS")
	p.connect(10_000)
	_, after := p.status("VmRSS")
	b.ReportMetric(float64(after-before), "descriptors-left")
}

// connect opens n connections, twenty at a time, asks each for a page and closes it.
func (p *program) connect(n int) {
	var many sync.WaitGroup
	for range 20 {
		many.Add(1)
		go func() {
			defer many.Done()
			c := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
			for range n / 20 {
				p.get(c, "/")
			}
		}()
	}
	many.Wait()
	time.Sleep(2 * time.Second) // the last ones are closed at leisure
}
