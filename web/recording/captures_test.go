package recording_test

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"mime/multipart"
	"net"
	"net/http"
	"os"
	"runtime"
	"runtime/debug"
	"strings"
	"testing"
	"time"

	"phasewright/book"
	"phasewright/web"
	"phasewright/web/webtest"
)

func TestCaptureIsStoredReadAndShown(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	data := webtest.Recording(t)
	webtest.WantCode(t, s.Do(webtest.Upload("/job/"+job+"/captures", webtest.HostAddr, `C:\scope\first run.vcd`, bytes.NewReader(data))), 303)
	s.Settle()
	page := s.Get("/job/" + job + "/captures").Body.String()
	webtest.WantIn(t, page, "first run.vcd")
	webtest.WantIn(t, page, "sync held")
	if strings.Contains(page, `C:\scope`) {
		t.Error("a folder of the sender's computer is kept")
	}
	files, err := s.Book.Attachments(t.Context(), job)
	if err != nil || len(files) != 1 || files[0].Size != int64(len(data)) {
		t.Fatal(files, err)
	}
	one := s.Get("/job/" + job + "/captures/" + files[0].SHA256.String())
	webtest.WantCode(t, one, 200)
	for _, part := range []string{"crank", "cam", "spark", "By cylinder", "The chart as a table"} {
		webtest.WantIn(t, one.Body.String(), part)
	}
	webtest.WantCode(t, s.Post("/job/"+job+"/captures/"+files[0].SHA256.String(), map[string][]string{"role.crank": {"crank"}}), 303)
	s.Settle()
	k := s.Kinds(job)
	if n := len(k); n != 5 || k[2] != book.KindAttachmentAdded || k[3] != book.KindCaptureRead || k[4] != book.KindCaptureRead {
		t.Errorf("events %v", k)
	}
	webtest.WantCode(t, s.Get("/job/"+job+"/captures/"+strings.Repeat("0", 64)), 404)
	webtest.WantCode(t, s.Get("/job/"+job+"/captures/etc"), 404)
}

func TestFileThatIsNoRecordingSaysSo(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	webtest.WantCode(t, s.Do(webtest.Upload("/job/"+job+"/captures", webtest.HostAddr, "photo.jpg", strings.NewReader("\xff\xd8\xff\xe0 this is a photo"))), 303)
	s.Settle()
	page := s.Get("/job/" + job + "/captures").Body.String()
	webtest.WantIn(t, page, "photo.jpg")
	if strings.Contains(page, "being read") || !strings.Contains(page, `M0 3H16V13H0Z`) {
		t.Errorf("the page does not stop at the file: %s", page)
	}
	if strings.Contains(page, "goroutine") {
		t.Error("insides")
	}
}

func TestUploadIsBoundedInSize(t *testing.T) {
	s := webtest.NewShop(t, func(c *web.Config) { c.MaxUpload = 100_000 })
	job := s.NewJob()
	w := s.Do(webtest.Upload("/job/"+job+"/captures", webtest.HostAddr, "big.csv", io.LimitReader(webtest.Zeros{}, 400_000)))
	webtest.WantCode(t, w, http.StatusRequestEntityTooLarge)
	webtest.WantIn(t, w.Body.String(), "more than can be recorded at once")
	files, _ := s.Book.Attachments(t.Context(), job)
	if len(files) != 0 || len(s.Kinds(job)) != 2 {
		t.Errorf("%d files, events %v", len(files), s.Kinds(job))
	}
	webtest.WantCode(t, s.Do(webtest.Upload("/job/"+job+"/captures", webtest.HostAddr, "", strings.NewReader(""))), 422)
	webtest.WantCode(t, s.Post("/job/"+job+"/captures", map[string][]string{"file": {"x"}}), 422)
}

func TestUploadIsBoundedInTime(t *testing.T) {
	s := webtest.NewShop(t, func(c *web.Config) { c.UploadIdle = 200 * time.Millisecond })
	job := s.NewJob()
	base, _ := s.Listen()
	addr := strings.TrimPrefix(base, "http://")
	c, err := net.Dial("tcp", addr)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	start := "--B\r\nContent-Disposition: form-data; name=\"file\"; filename=\"a.csv\"\r\n\r\n1,2\r\n"
	fmt.Fprintf(c, "POST /job/%s/captures HTTP/1.1\r\nHost: %s\r\nOrigin: http://%s\r\nContent-Type: multipart/form-data; boundary=B\r\nContent-Length: 100000\r\n\r\n%s", job, addr, addr, start)
	c.SetReadDeadline(time.Now().Add(10 * time.Second))
	answer, err := http.ReadResponse(bufio.NewReader(c), nil) // and not a byte more is sent
	if err != nil {
		t.Fatal(err)
	}
	body, _ := io.ReadAll(answer.Body)
	if answer.StatusCode != http.StatusRequestTimeout || !strings.Contains(string(body), "took too long") {
		t.Errorf("%s: %s", answer.Status, body)
	}
	if k := s.Kinds(job); len(k) != 2 {
		t.Errorf("events %v", k)
	}
}

// A file is streamed to the disk: taking 300 MB in needs far less memory than that.
func TestUploadIsStreamed(t *testing.T) {
	if testing.Short() {
		t.Skip("short")
	}
	s := webtest.NewShop(t)
	job := s.NewJob()
	base, _ := s.Listen()
	const size = 300 << 20
	before := heapPeak(t, func() {
		r, w := io.Pipe()
		m := multipart.NewWriter(w)
		go func() {
			part, _ := m.CreateFormFile("file", "big.bin")
			io.Copy(part, io.LimitReader(webtest.Zeros{}, size))
			m.Close()
			w.Close()
		}()
		q, _ := http.NewRequest("POST", base+"/job/"+job+"/captures", r)
		q.Header.Set("Content-Type", m.FormDataContentType())
		q.Header.Set("Origin", base)
		q.Header.Set("Accept", "application/json")
		answer, err := http.DefaultClient.Do(q)
		if err != nil {
			t.Fatal(err)
		}
		answer.Body.Close()
		if answer.StatusCode != 200 {
			t.Fatal(answer.Status)
		}
		s.Settle()
	})
	if before > 64<<20 {
		t.Errorf("the heap grew to %d MiB while a file of %d MiB came in", before>>20, size>>20)
	}
	if _, err := os.Stat("big.bin"); err == nil {
		t.Error("the name reached the file system")
	}
}

// heapPeak is how far the heap grows while f runs, sampled each few milliseconds. On a busy machine the collector falls
// behind and leaves garbage on the heap as large as what is in use, so it is told to collect at a fifth of that.
func heapPeak(t *testing.T, f func()) uint64 {
	t.Helper()
	defer debug.SetGCPercent(debug.SetGCPercent(20))
	runtime.GC()
	var at runtime.MemStats
	runtime.ReadMemStats(&at)
	start, peak := at.HeapAlloc, uint64(0)
	stop, done := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		for {
			select {
			case <-stop:
				return
			case <-time.After(5 * time.Millisecond):
				var m runtime.MemStats
				runtime.ReadMemStats(&m)
				if m.HeapAlloc > start {
					peak = max(peak, m.HeapAlloc-start)
				}
			}
		}
	}()
	f()
	close(stop)
	<-done
	return peak
}
