package recording_test

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
	"phasewright/web/webtest"
)

// A packed file cannot be read again at any place: the page says how deep it goes and what to do, and a deeper view is
// held there.
func TestPackedFileSaysHowDeepItGoes(t *testing.T) {
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	z.Write(webtest.Run{Format: "csv", Seconds: 3}.Record(t))
	z.Close()
	s := webtest.NewShop(t)
	page := captured(s, s.NewJob(), "run.csv.gz", packed.Bytes())
	body := s.Get(page + "?from=1&to=1.0001").Body.String()
	webtest.WantIn(t, body, "Unpack it and send it again to see every sample.")
	view := regexp.MustCompile(`data-from="([^"]+)" data-to="([^"]+)"`).FindStringSubmatch(body)
	from, _ := strconv.ParseFloat(view[1], 64)
	to, _ := strconv.ParseFloat(view[2], 64)
	if to-from < 40*256e-5*0.99 { // forty stretches of 256 samples of 10 µs
		t.Errorf("the view is %v s wide", to-from)
	}
}

// Many views asked for at once and given up: all that is worked out at a time stays bounded, nothing stays open, and
// the next view is answered.
func TestFloodOfViews(t *testing.T) {
	s := webtest.NewShop(t)
	page := captured(s, s.NewJob(), "run.csv", webtest.Run{Format: "csv", Seconds: 20, Rate: 200e3}.Record(t))
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
				s.ServeHTTP(w, webtest.Request("GET", fmt.Sprintf("%s/part?plate=phone&from=%f&to=%f", page, from, from+0.9), webtest.HostAddr, nil).WithContext(ctx))
			}()
		}
		all.Wait()
	}
	peak := heapPeak(t, flood)
	if peak > 48<<20 {
		t.Errorf("the heap grew by %d MiB", peak>>20)
	}
	if n := openFiles(t); n > 0 {
		t.Errorf("%d files are left open", n)
	}
	done := s.Recording.Open(t, onlyKept(t, s))
	if n := openFiles(t); n != 1 {
		t.Errorf("an open file is counted as %d: this test cannot fail", n)
	}
	done()
	answer := s.Get(page + "/part?from=5&to=5.1")
	webtest.WantCode(t, answer, 200)
	webtest.WantIn(t, answer.Body.String(), "wave-moving")
}

// onlyKept is the one recording whose overview is kept.
func onlyKept(t testing.TB, s *webtest.Shop) book.Hash {
	t.Helper()
	kept := s.Recording.Kept(t)
	if len(kept) != 1 {
		t.Fatalf("%d kept", len(kept))
	}
	return kept[0]
}

// openFiles is how many files of a shop book's store this process holds open.
func openFiles(t testing.TB) (n int) {
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
	s := webtest.NewShop(t)
	page := captured(s, s.NewJob(), "run.csv", webtest.Run{Format: "csv", Seconds: 1}.Record(t))
	release := s.Recording.HoldViews()
	ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	done := make(chan struct{})
	go func() {
		defer close(done)
		s.ServeHTTP(httptest.NewRecorder(), webtest.Request("GET", page, webtest.HostAddr, nil).WithContext(ctx))
	}()
	select {
	case <-done:
	case <-time.After(5 * time.Second):
		t.Fatal("the request goes on without its sender")
	}
	release()
	webtest.WantIn(t, s.Get(page).Body.String(), "wave-moving")
}
