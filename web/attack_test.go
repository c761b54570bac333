package web_test

import (
	"bufio"
	"bytes"
	"compress/zlib"
	"context"
	"encoding/binary"
	"fmt"
	"hash/adler32"
	"io"
	"mime/multipart"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"phasewright/report"
	"phasewright/web/page"
	"phasewright/web/webtest"
)

// Limits of what a hostile input may cost. Times of refusals are those asked for; memory is what a shop's computer has
// to spare beside the program's own 64 MiB.
const (
	refusal   = 50 * time.Millisecond  // of a card
	pageStill = 300 * time.Millisecond // of another visitor's page meanwhile
	peakStill = 96                     // MiB of the server
	peakPaper = 64                     // MiB
)

// attack is one hostile thing, against a program of its own.
type attack struct {
	name   string
	limit  time.Duration // of what try measures
	peak   int           // MiB
	within time.Duration // nobody waits longer than this
	try    func(a *attacked) (took time.Duration, wrong string)
}

// attacked is the program under attack.
type attacked struct {
	*program
	ctx context.Context
	job string
}

// BenchmarkAttacks tries hostile inputs against the real program on loopback, each for a bounded time, and says what
// each cost. scripts/attack runs it; it fails where a bound is broken.
func BenchmarkAttacks(b *testing.B) {
	for range b.N {
		attackAll(b)
	}
}

func attackAll(b *testing.B) {
	for _, at := range []attack{
		card("card of 146 KiB: “a: 1” ended by bare CR", strings.Repeat("a: 1\r", 146<<10/5)),
		card("card of 117 KiB: “&a” again and again", strings.Repeat("&a ", 117<<10/3)),
		card("card of 130,000 commas", "a: ["+strings.Repeat(",", 130_000)+"]"),
		{"recording of 3 MiB that unpacks to 32 GiB: another file read meanwhile", 20 * time.Second, peakStill,
			time.Minute, bombed},
		{"twenty uploads a byte at a time: a page meanwhile", pageStill, peakStill, time.Minute, trickled},
		{"upload of 512 MiB of nothing: a page meanwhile", pageStill, peakStill, 2 * time.Minute, swamped},
		{"150 event streams: a page meanwhile", pageStill, peakStill, time.Minute, streamed},
		{"hostile places to go on to", 10 * time.Second, peakStill, time.Minute, misled},
	} {
		p := startProgram(b)
		ctx, cancel := context.WithTimeout(context.Background(), at.within)
		a := &attacked{p, ctx, p.post("/new", url.Values{"name": {"Attack"}, "from": {"blank"}})}
		a.job = strings.TrimSuffix(a.job, "/card")
		took, wrong := at.try(a)
		peak, _ := p.status("VmHWM")
		at.judge(b, took, peak>>10, wrong)
		cancel()
		http.DefaultClient.CloseIdleConnections()
		p.kill()
	}
	importPaper(b)
}

func (at attack) judge(b *testing.B, took time.Duration, peak int, wrong string) {
	word := "fine"
	switch {
	case wrong != "":
	case took > at.limit:
		wrong = "too slow"
	case peak > at.peak:
		wrong = "too much memory"
	}
	if wrong != "" {
		word = "BROKEN"
		b.Errorf("%s: %s", at.name, wrong)
	}
	fmt.Printf("%-6s %s: %.0f ms, limit %.0f; peak %d MiB, limit %d %s\n", word, at.name,
		float64(took.Microseconds())/1000, float64(at.limit.Milliseconds()), peak, at.peak, wrong)
}

// send posts a form as one of our own pages would and gives status and page.
func (a *attacked) send(path, kind string, body io.Reader) (status int, page string, err error) {
	r, err := http.NewRequestWithContext(a.ctx, "POST", a.base+path, body)
	if err != nil {
		return 0, "", err
	}
	r.Header.Set("Origin", a.base)
	r.Header.Set("Content-Type", kind)
	c := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	answer, err := c.Do(r)
	if err != nil {
		return 0, "", err
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	return answer.StatusCode, string(text), err
}

// page is how long another visitor waits for a page.
func (a *attacked) page() (time.Duration, string) {
	began := time.Now()
	if code := a.get(http.DefaultClient, a.job+"/readings"); code != 200 {
		return time.Since(began), fmt.Sprint("a page answers ", code)
	}
	return time.Since(began), ""
}

// pages is the longest of some.
func (a *attacked) pages(n int) (longest time.Duration, wrong string) {
	for range n {
		took, bad := a.page()
		longest = max(longest, took)
		if wrong == "" {
			wrong = bad
		}
		time.Sleep(20 * time.Millisecond)
	}
	return longest, wrong
}

func card(name, text string) attack {
	return attack{name, refusal, peakStill, 10 * time.Second, func(a *attacked) (time.Duration, string) {
		form := url.Values{"yaml": {text}, "version": {"2"}}.Encode()
		began := time.Now()
		code, _, err := a.send(a.job+"/card", "application/x-www-form-urlencoded", strings.NewReader(form))
		took := time.Since(began)
		switch {
		case err != nil:
			return took, err.Error()
		case code != http.StatusUnprocessableEntity:
			return took, fmt.Sprint("it is answered ", code, ", not refused")
		}
		return took, ""
	}}
}

// sending is a form with one file, made as it is sent.
func sending(key, name string, write func(io.Writer) error) (kind string, body io.Reader) {
	r, w := io.Pipe()
	m := multipart.NewWriter(w)
	go func() {
		m.WriteField("key", key)
		part, err := m.CreateFormFile("file", name)
		if err == nil {
			err = write(part)
		}
		if err == nil {
			err = m.Close()
		}
		w.CloseWithError(err)
	}()
	return m.FormDataContentType(), r
}

func (a *attacked) captures() string {
	answer, err := http.Get(a.base + a.job + "/captures")
	if err != nil {
		return ""
	}
	defer answer.Body.Close()
	text, _ := io.ReadAll(answer.Body)
	return string(text)
}

func bombed(a *attacked) (time.Duration, string) {
	packed := webtest.Bomb(a.b, 32<<30)
	kind, body := sending("k1", "bomb.csv.zst", func(w io.Writer) error { _, err := w.Write(packed); return err })
	if code, page, err := a.send(a.job+"/captures", kind, body); code != http.StatusSeeOther {
		return 0, fmt.Sprint("not taken: ", code, err, page)
	}
	time.Sleep(3 * time.Second) // until its short turn of 2 s is over
	began := time.Now()
	kind, body = sending("k2", "small.csv", func(w io.Writer) error { return gigabyte(w, 1<<20) })
	if code, page, err := a.send(a.job+"/captures", kind, body); code != http.StatusSeeOther {
		return 0, fmt.Sprint("the other file is not taken: ", code, err, page)
	}
	read := regexp.MustCompile(`/captures/[0-9a-f]{64}">small\.csv`)
	for !read.MatchString(a.captures()) {
		if a.ctx.Err() != nil {
			return time.Since(began), "the other file is not read"
		}
		time.Sleep(20 * time.Millisecond)
	}
	took := time.Since(began)
	stop := regexp.MustCompile(`/job/[^"]*/captures/[0-9a-f]{64}/stop`).FindString(a.captures())
	if stop == "" {
		return took, "the bomb was done before it could be stopped: nothing was shown"
	}
	began = time.Now()
	if code, _, err := a.send(stop, "application/x-www-form-urlencoded", nil); code != http.StatusSeeOther {
		return took, fmt.Sprint("stopping is answered ", code, err)
	}
	for !strings.Contains(a.captures(), "stopped it") {
		if time.Since(began) > time.Second {
			return took, "it goes on a second after it was stopped"
		}
		time.Sleep(10 * time.Millisecond)
	}
	return took, ""
}

func trickled(a *attacked) (time.Duration, string) {
	var all sync.WaitGroup
	ctx, stop := context.WithTimeout(a.ctx, 3*time.Second)
	defer stop()
	for i := range 20 {
		kind, body := sending(fmt.Sprint("k", i), "slow.csv", func(w io.Writer) error {
			for ctx.Err() == nil {
				if _, err := io.WriteString(w, "1"); err != nil {
					return err
				}
				time.Sleep(50 * time.Millisecond)
			}
			return io.ErrUnexpectedEOF // it goes away in the middle
		})
		all.Go(func() { a.send(a.job+"/captures", kind, body) })
	}
	took, wrong := a.pages(50)
	all.Wait()
	if wrong == "" && strings.Contains(a.captures(), "slow.csv") {
		wrong = "half a file is kept"
	}
	return took, wrong
}

func swamped(a *attacked) (time.Duration, string) {
	kind, body := sending("k1", "nothing.csv", func(w io.Writer) error {
		_, err := io.Copy(w, io.LimitReader(webtest.Zeros{}, 512<<20))
		return err
	})
	sent := make(chan string, 1)
	go func() {
		code, _, err := a.send(a.job+"/captures", kind, body)
		if code != http.StatusSeeOther {
			sent <- fmt.Sprint("not taken: ", code, err)
			return
		}
		sent <- ""
	}()
	var longest time.Duration
	for {
		took, wrong := a.page()
		longest = max(longest, took)
		if wrong != "" {
			return longest, wrong
		}
		select {
		case wrong := <-sent:
			return longest, wrong
		case <-time.After(20 * time.Millisecond):
		}
	}
}

func streamed(a *attacked) (time.Duration, string) {
	const asked = 150
	c := &http.Client{Transport: &http.Transport{}}
	defer c.CloseIdleConnections()
	open, refused := 0, 0
	for range asked {
		r, err := http.NewRequestWithContext(a.ctx, "GET", a.base+"/live", nil)
		if err != nil {
			return 0, err.Error()
		}
		r.Header.Set("Accept", "text/event-stream")
		answer, err := c.Do(r)
		if err != nil {
			return 0, err.Error()
		}
		defer answer.Body.Close()
		lines := bufio.NewScanner(answer.Body)
		for lines.Scan() {
			if name, ok := strings.CutPrefix(lines.Text(), "event: "); ok {
				if name == "alive" {
					open++
				} else if name == "full" {
					refused++
				}
				break
			}
		}
	}
	took, wrong := a.pages(20)
	if open != page.MaxStreamsHost || refused != asked-page.MaxStreamsHost {
		wrong = fmt.Sprintf("%d open and %d refused, want %d and %d", open, refused, page.MaxStreamsHost,
			asked-page.MaxStreamsHost)
	}
	return took, wrong
}

// misled looks at the answers as they stand on the wire.
func misled(a *attacked) (time.Duration, string) {
	began := time.Now()
	at := strings.TrimPrefix(a.base, "http://")
	for _, bad := range hostile {
		form := url.Values{"look": {"day"}, "back": {bad}}.Encode()
		line, err := net.Dial("tcp", at)
		if err != nil {
			return 0, err.Error()
		}
		line.SetDeadline(time.Now().Add(5 * time.Second))
		fmt.Fprintf(line, "POST /look HTTP/1.1\r\nHost: %s\r\nOrigin: %s\r\nConnection: close\r\n"+
			"Content-Type: application/x-www-form-urlencoded\r\nContent-Length: %d\r\n\r\n%s", at, a.base, len(form), form)
		answer, err := io.ReadAll(line)
		line.Close()
		if err != nil {
			return 0, err.Error()
		}
		head, _, _ := strings.Cut(string(answer), "\r\n\r\n")
		headers := http.Header{}
		for _, h := range strings.Split(head, "\r\n")[1:] {
			name, value, _ := strings.Cut(h, ": ")
			headers.Add(name, value)
		}
		// the one cookie is the look's own
		if wrong := clean(headers); wrong != "" || headers.Get("Location") == "" || len(headers["Set-Cookie"]) != 1 {
			return 0, fmt.Sprintf("%q gives %q: %s", bad, head, wrong)
		}
	}
	return time.Since(began), ""
}

// importPaper gives book import a small PDF whose one file inside unpacks to gigabytes.
func importPaper(b *testing.B) {
	const size = 4 << 30
	at := attack{name: "PDF that unpacks to 4 GiB, given to book import", limit: 5 * time.Second, peak: peakPaper}
	dir := b.TempDir()
	binary, paper := filepath.Join(dir, "phasewright"), filepath.Join(dir, "evil.pdf")
	build := exec.Command("go", "build", "-o", binary, "phasewright/cmd/phasewright")
	if out, err := build.CombinedOutput(); err != nil {
		b.Fatalf("build: %v\n%s", err, out)
	}
	data := inflating(size)
	at.name = fmt.Sprintf("PDF of %d kB that unpacks to 4 GiB, given to book import", len(data)/1000)
	if err := os.WriteFile(paper, data, 0o600); err != nil {
		b.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	// The system stops it where it takes more than 3 GiB, so that the computer it runs on stays usable. A program
	// counts as large as the one that begins it, which is this test; a small one between them asks for the peak.
	const between = `import resource, subprocess, sys
code = subprocess.call(sys.argv[1:])
print("\npeak", resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)
sys.exit(code)`
	cmd := exec.CommandContext(ctx, "sh", "-c", `ulimit -v 3145728; exec "$@"`, "sh", "python3", "-c", between, binary, "book", "import", paper,
		"--book", filepath.Join(dir, "shop.book"))
	began := time.Now()
	out, err := cmd.CombinedOutput()
	took := time.Since(began)
	out, said, found := bytes.Cut(out, []byte("\npeak "))
	kib := 0
	if _, scanned := fmt.Sscan(string(said), &kib); !found || scanned != nil {
		b.Fatalf("no peak memory to be had: %v\n%s", err, out)
	}
	wrong := ""
	switch {
	case err == nil:
		wrong = "it is taken"
	case cmd.ProcessState.ExitCode() != 2 || bytes.Contains(out, []byte("goroutine")):
		wrong = fmt.Sprintf("it is not refused in words: %v %.200s", err, out)
	}
	at.judge(b, took, kib>>10, wrong)
}

// inflating is a PDF (ISO 32000-1) with one file inside, packed twice over: so many zero bytes.
func inflating(size int) []byte {
	const piece = 64 << 20
	var once bytes.Buffer
	z, _ := zlib.NewWriterLevel(&once, zlib.BestCompression)
	z.Write(make([]byte, piece))
	z.Flush()
	packed := append([]byte{}, once.Bytes()[:2]...)
	for range size / piece { // the flushed blocks stand by themselves and may follow one another
		packed = append(packed, once.Bytes()[2:]...)
	}
	packed = append(packed, 1, 0, 0, 0xff, 0xff) // a last, empty block (RFC 1951, 3.2.4)
	sum := uint32(size%65521)<<16 | 1            // Adler-32 of zeros (RFC 1950): a = 1, b = their number
	if adler32.Checksum(make([]byte, 100)) != 100<<16|1 {
		panic("the sum of zeros is another")
	}
	packed = binary.BigEndian.AppendUint32(packed, sum)
	var twice bytes.Buffer
	z, _ = zlib.NewWriterLevel(&twice, zlib.BestCompression)
	z.Write(packed)
	z.Close()

	var pdf bytes.Buffer
	var places []int
	object := func(format string, args ...any) {
		places = append(places, pdf.Len())
		fmt.Fprintf(&pdf, "%d 0 obj\n", len(places))
		fmt.Fprintf(&pdf, format, args...)
		pdf.WriteString("\nendobj\n")
	}
	pdf.WriteString("%PDF-1.7\n")
	object("<</Type/Catalog/Pages 2 0 R/Names<</EmbeddedFiles<</Names[(%s)4 0 R]>>>>>>", report.ExportName)
	object("<</Type/Pages/Kids[3 0 R]/Count 1>>")
	object("<</Type/Page/Parent 2 0 R/MediaBox[0 0 100 100]/Resources<<>>>>")
	object("<</Type/Filespec/F(%s)/UF(%s)/EF<</F 5 0 R>>>>", report.ExportName, report.ExportName)
	object("<</Type/EmbeddedFile/Filter[/FlateDecode/FlateDecode]/Length %d>>stream\n%s\nendstream", twice.Len(),
		twice.String())
	start := pdf.Len()
	fmt.Fprintf(&pdf, "xref\n0 %d\n0000000000 65535 f \n", len(places)+1)
	for _, p := range places {
		fmt.Fprintf(&pdf, "%010d 00000 n \n", p)
	}
	fmt.Fprintf(&pdf, "trailer<</Size %d/Root 1 0 R>>\nstartxref\n%d\n%%%%EOF\n", len(places)+1, start)
	return pdf.Bytes()
}
