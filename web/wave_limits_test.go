package web

import (
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"net/http/httptest"
	"os"
	"regexp"
	"strconv"
	"sync"
	"testing"
	"time"

	"phasewright/book"
)

// A packed file cannot be read again at any place: the page says how deep it goes and what to do, and a deeper view is held there.
func TestPackedFileSaysHowDeepItGoes(t *testing.T) {
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	z.Write(run{format: "csv", seconds: 3}.record(t))
	z.Close()
	s := newShop(t)
	page := s.captured(s.job(), "run.csv.gz", packed.Bytes())
	body := s.get(page + "?from=1&to=1.0001").Body.String()
	wantIn(t, body, "Unpack it and send it again to see every sample.")
	view := regexp.MustCompile(`data-from="([^"]+)" data-to="([^"]+)"`).FindStringSubmatch(body)
	from, _ := strconv.ParseFloat(view[1], 64)
	to, _ := strconv.ParseFloat(view[2], 64)
	if to-from < 40*256e-5*0.99 { // forty stretches of 256 samples of 10 µs
		t.Errorf("the view is %v s wide", to-from)
	}
}

// Many views asked for at once and given up: all that is worked out at a time stays bounded, nothing stays open, and the next view is answered.
func TestFloodOfViews(t *testing.T) {
	s := newShop(t)
	page := s.captured(s.job(), "run.csv", run{format: "csv", seconds: 20, rate: 200e3}.record(t))
	flood := func() {
		var all sync.WaitGroup
		for i := range 300 {
			all.Add(1)
			go func() {
				defer all.Done()
				ctx, cancel := context.WithTimeout(t.Context(), time.Duration(1+i%40)*time.Millisecond)
				defer cancel()
				from := float64(i%19) + 0.1
				w := httptest.NewRecorder()
				s.ServeHTTP(w, request("GET", fmt.Sprintf("%s/part?plate=phone&from=%f&to=%f", page, from, from+0.9), hostAddr, nil).WithContext(ctx))
			}()
		}
		all.Wait()
	}
	peak := heapPeak(t, flood)
	if peak > 48<<20 {
		t.Errorf("the heap grew by %d MiB", peak>>20)
	}
	if n := lentOut(t); n > 0 {
		t.Errorf("%d files are left open", n)
	}
	w := s.waves.get(onlyKept(t, s))
	if err := w.file.open(t.Context()); err != nil {
		t.Fatal(err)
	}
	if n := lentOut(t); n != 1 {
		t.Errorf("an open file is counted as %d: this test cannot fail", n)
	}
	w.file.done()
	answer := s.get(page + "/part?from=5&to=5.1")
	wantCode(t, answer, 200)
	wantIn(t, answer.Body.String(), "wave-moving")
}

// onlyKept is the one recording whose overview is kept.
func onlyKept(t testing.TB, s *shop) book.Hash {
	t.Helper()
	if len(s.waves.order) != 1 {
		t.Fatalf("%d kept", len(s.waves.order))
	}
	return s.waves.order[0]
}

// lentOut is how many files of a shop book's store this process holds open.
func lentOut(t testing.TB) (n int) {
	t.Helper()
	open, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		t.Skip("SKIPPED: no /proc on this system, so open files were NOT counted")
	}
	for _, one := range open {
		if to, err := os.Readlink("/proc/self/fd/" + one.Name()); err == nil && regexp.MustCompile(`\.files/[0-9a-f]{2}/`).MatchString(to) {
			n++
		}
	}
	return n
}

// A view that nobody wants any more is not worked out: a request that waits for its turn ends with its sender.
func TestViewEndsWithItsSender(t *testing.T) {
	s := newShop(t)
	page := s.captured(s.job(), "run.csv", run{format: "csv", seconds: 1}.record(t))
	for range wavesAtOnce {
		s.waves.turn <- struct{}{}
	}
	ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	done := make(chan struct{})
	go func() {
		defer close(done)
		s.ServeHTTP(httptest.NewRecorder(), request("GET", page, hostAddr, nil).WithContext(ctx))
	}()
	select {
	case <-done:
	case <-time.After(5 * time.Second):
		t.Fatal("the request goes on without its sender")
	}
	for range wavesAtOnce {
		<-s.waves.turn
	}
	wantIn(t, s.get(page).Body.String(), "wave-moving")
}

// How long reading will take is said once that can be told.
func TestTimeToGo(t *testing.T) {
	at := time.Date(2026, 5, 1, 8, 0, 0, 0, time.UTC)
	for want, c := range map[string]captureState{
		"being read once those before it are done": {total: 100},
		"being read":                            {total: 100, began: at},
		"being read: 1 %":                       {done: 1, total: 100, began: at},
		"being read: 50 %, about 10 s to go":    {done: 50, total: 100, began: at},
		"being read: 99 %, a few seconds to go": {done: 99, total: 100, began: at},
		"being read: 5 %, about 4 min to go":    {done: 5, total: 100, began: at.Add(-2 * time.Second)},
	} {
		if got := c.words(at.Add(10 * time.Second)); got != want {
			t.Errorf("%+v: %q, want %q", c, got, want)
		}
	}
	if got := (captureState{done: 50, total: -1, began: at}).words(at.Add(time.Minute)); got != "being read" {
		t.Errorf("of unknown size: %q", got)
	}
}
