package web_test

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"runtime"
	"strings"
	"testing"
	"time"

	"phasewright/book"
	"phasewright/web/page"
	"phasewright/web/webtest"
)

// listen opens an event stream and gives its events.
func listen(t testing.TB, ctx context.Context, base, query string) <-chan string {
	t.Helper()
	return webtest.ListenAt(t, ctx, base+"/live?"+query)
}

func wantEvent(t testing.TB, events <-chan string, want string, within time.Duration) {
	t.Helper()
	for {
		select {
		case e, ok := <-events:
			if !ok {
				t.Fatalf("stream ended before %q", want)
			}
			if strings.HasPrefix(e, "alive") && !strings.HasPrefix(want, "alive") {
				continue
			}
			if !strings.HasPrefix(e, want) {
				t.Fatalf("event %q, want %q", e, want)
			}
			return
		case <-time.After(within):
			t.Fatalf("no %q within %v", want, within)
		}
	}
}

func TestEveryScreenHearsOfAChange(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	server := httptest.NewServer(s)
	defer server.Close()
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	var screens []<-chan string
	for range 3 {
		screens = append(screens, listen(t, ctx, server.URL, "job="+job+"&since=2"))
	}
	all := listen(t, ctx, server.URL, "")
	for _, e := range append(screens, all) {
		wantEvent(t, e, "alive", 5*time.Second)
	}
	s.Read(job, "800", "9")
	for _, e := range append(screens, all) {
		wantEvent(t, e, `change {"job":"`+job+`","version":3}`, 5*time.Second)
	}
	late := listen(t, ctx, server.URL, "job="+job+"&since=2") // a page made before the change hears of it at once
	wantEvent(t, late, `change {"job":"`+job+`","version":3}`, 5*time.Second)
}

func TestStreamEndsWithTheBook(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	server := httptest.NewServer(s)
	defer server.Close()
	events := listen(t, t.Context(), server.URL, "job="+job+"&since=2")
	wantEvent(t, events, "alive", 5*time.Second)
	s.Book.Close()
	wantEvent(t, events, "closed", 5*time.Second)
}

func TestStreamsAreBoundedAndLeaveNothing(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	for i := range page.MaxStreams {
		if _, _, err := s.Access.Streams.Add(fmt.Sprint(i / page.MaxStreamsDevice)); err != nil {
			t.Fatal(i, err)
		}
	}
	w := s.Get("/live?job=" + job)
	webtest.WantCode(t, w, http.StatusServiceUnavailable)
	webtest.WantIn(t, w.Body.String(), "Too many pages on all devices")
	for i := range page.MaxStreams {
		s.Access.Streams.CloseDevice(fmt.Sprint(i / page.MaxStreamsDevice))
	}

	server := httptest.NewServer(s)
	defer server.Close()
	before := runtime.NumGoroutine()
	for range 20 {
		ctx, cancel := context.WithCancel(context.Background())
		wantEvent(t, listen(t, ctx, server.URL, "job="+job+"&since=2"), "alive", 5*time.Second)
		cancel()
	}
	http.DefaultClient.CloseIdleConnections()
	for end := time.Now().Add(5 * time.Second); time.Now().Before(end) && (s.Access.Streams.Count() > 0 || runtime.NumGoroutine() > before+2); {
		time.Sleep(10 * time.Millisecond)
	}
	if s.Access.Streams.Count() > 0 || runtime.NumGoroutine() > before+2 {
		t.Errorf("%d streams and %d goroutines left of %d", s.Access.Streams.Count(), runtime.NumGoroutine(), before)
	}
}

// One device that opens streams without end takes none from the others; its page is told why, as a stream where script
// asks.
func TestStreamsOfOneDeviceAreBounded(t *testing.T) {
	s := webtest.NewShop(t)
	job, room := s.NewJob(), s.NewBench(nil)
	cookie := s.PairPhone(page.Look)
	id := s.Access.Devices()[0].ID
	for range page.MaxStreamsDevice {
		if _, _, err := s.Access.Streams.Add(id); err != nil {
			t.Fatal(err)
		}
	}
	for _, path := range []string{"/live?job=" + job, room + "/live?tab=a"} {
		ask := func(accept string) *httptest.ResponseRecorder {
			return s.Do(webtest.Request("GET", path, webtest.PhoneAddr, nil,
				func(r *http.Request) { r.AddCookie(cookie); r.Header.Set("Accept", accept) }))
		}
		w := ask("text/event-stream")
		webtest.WantCode(t, w, 200)
		told := "event: full\ndata: \"20 pages on this device follow along already"
		if w.Header().Get("Content-Type") != "text/event-stream" || !strings.HasPrefix(w.Body.String(), told) {
			t.Errorf("%s: %s %s", path, w.Header(), w.Body)
		}
		w = ask("text/html")
		webtest.WantCode(t, w, http.StatusServiceUnavailable)
		webtest.WantIn(t, w.Body.String(), "20 pages on this device follow along already")
	}
	server := httptest.NewServer(s)
	defer server.Close()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	wantEvent(t, listen(t, ctx, server.URL, "job="+job+"&since=2"), "alive", 5*time.Second) // the host's
}

// BenchmarkChangeToScreen is the time from a reading being sent to another screen's stream saying so.
func BenchmarkChangeToScreen(b *testing.B) {
	s := webtest.NewShop(b)
	job := s.NewJob()
	server := httptest.NewServer(s)
	defer server.Close()
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel() // before the server waits for its streams
	events := listen(b, ctx, server.URL, "job="+job+"&since=2")
	wantEvent(b, events, "alive", 5*time.Second)
	payload, _ := json.Marshal(map[string]string{"text": "x"})
	for b.Loop() {
		if _, err := s.Book.Append(b.Context(), job, book.AnyVersion, book.Draft{Who: "b", Kind: book.KindNoteAdded, Payload: payload}); err != nil {
			b.Fatal(err)
		}
		wantEvent(b, events, "change", 5*time.Second)
	}
}
