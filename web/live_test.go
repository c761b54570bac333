package web

import (
	"bufio"
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
)

// listen opens an event stream and gives its events.
func listen(t testing.TB, ctx context.Context, base, query string) <-chan string {
	t.Helper()
	return listenAt(t, ctx, base+"/live?"+query)
}

func listenAt(t testing.TB, ctx context.Context, address string) <-chan string {
	t.Helper()
	r, err := http.NewRequestWithContext(ctx, "GET", address, nil)
	if err != nil {
		t.Fatal(err)
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	if answer.StatusCode != 200 || answer.Header.Get("Content-Type") != "text/event-stream" {
		t.Fatalf("stream: %s %s", answer.Status, answer.Header)
	}
	events := make(chan string, 100)
	go func() {
		defer answer.Body.Close()
		defer close(events)
		lines := bufio.NewScanner(answer.Body)
		lines.Buffer(nil, 1<<20)
		name := ""
		for lines.Scan() {
			if n, ok := strings.CutPrefix(lines.Text(), "event: "); ok {
				name = n
			}
			if d, ok := strings.CutPrefix(lines.Text(), "data: "); ok {
				select {
				case events <- name + " " + d:
				case <-ctx.Done():
					return
				}
			}
		}
	}()
	return events
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
	s := newShop(t)
	job := s.job()
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
	s.read(job, "800", "9")
	for _, e := range append(screens, all) {
		wantEvent(t, e, `change {"job":"`+job+`","version":3}`, 5*time.Second)
	}
	late := listen(t, ctx, server.URL, "job="+job+"&since=2") // a page made before the change hears of it at once
	wantEvent(t, late, `change {"job":"`+job+`","version":3}`, 5*time.Second)
}

func TestStreamEndsWithTheBook(t *testing.T) {
	s := newShop(t)
	job := s.job()
	server := httptest.NewServer(s)
	defer server.Close()
	events := listen(t, t.Context(), server.URL, "job="+job+"&since=2")
	wantEvent(t, events, "alive", 5*time.Second)
	s.book.Close()
	wantEvent(t, events, "closed", 5*time.Second)
}

func TestStreamsAreBoundedAndLeaveNothing(t *testing.T) {
	s := newShop(t)
	job := s.job()
	for i := range maxStreams {
		if _, _, err := s.live.add(fmt.Sprint(i / maxStreamsDevice)); err != nil {
			t.Fatal(i, err)
		}
	}
	w := s.get("/live?job=" + job)
	wantCode(t, w, http.StatusServiceUnavailable)
	wantIn(t, w.Body.String(), "Too many pages on all devices")
	for i := range maxStreams {
		s.live.closeDevice(fmt.Sprint(i / maxStreamsDevice))
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
	for end := time.Now().Add(5 * time.Second); time.Now().Before(end) && (s.live.count() > 0 || runtime.NumGoroutine() > before+2); {
		time.Sleep(10 * time.Millisecond)
	}
	if s.live.count() > 0 || runtime.NumGoroutine() > before+2 {
		t.Errorf("%d streams and %d goroutines left of %d", s.live.count(), runtime.NumGoroutine(), before)
	}
}

// One device that opens streams without end takes none from the others; its page is told why, as a stream where script
// asks.
func TestStreamsOfOneDeviceAreBounded(t *testing.T) {
	s := newShop(t)
	job, room := s.job(), s.bench(nil)
	cookie := s.pairPhone(Look)
	id := s.devices.list()[0].ID
	for range maxStreamsDevice {
		if _, _, err := s.live.add(id); err != nil {
			t.Fatal(err)
		}
	}
	for _, path := range []string{"/live?job=" + job, room + "/live?tab=a"} {
		ask := func(accept string) *httptest.ResponseRecorder {
			return s.do(request("GET", path, phoneAddr, nil,
				func(r *http.Request) { r.AddCookie(cookie); r.Header.Set("Accept", accept) }))
		}
		w := ask("text/event-stream")
		wantCode(t, w, 200)
		told := "event: full\ndata: \"20 pages on this device follow along already"
		if w.Header().Get("Content-Type") != "text/event-stream" || !strings.HasPrefix(w.Body.String(), told) {
			t.Errorf("%s: %s %s", path, w.Header(), w.Body)
		}
		w = ask("text/html")
		wantCode(t, w, http.StatusServiceUnavailable)
		wantIn(t, w.Body.String(), "20 pages on this device follow along already")
	}
	server := httptest.NewServer(s)
	defer server.Close()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	wantEvent(t, listen(t, ctx, server.URL, "job="+job+"&since=2"), "alive", 5*time.Second) // the host's
}

// BenchmarkChangeToScreen is the time from a reading being sent to another screen's stream saying so.
func BenchmarkChangeToScreen(b *testing.B) {
	s := newShop(b)
	job := s.job()
	server := httptest.NewServer(s)
	defer server.Close()
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel() // before the server waits for its streams
	events := listen(b, ctx, server.URL, "job="+job+"&since=2")
	wantEvent(b, events, "alive", 5*time.Second)
	payload, _ := json.Marshal(map[string]string{"text": "x"})
	for b.Loop() {
		if _, err := s.book.Append(b.Context(), job, book.AnyVersion, book.Draft{Who: "b", Kind: book.KindNoteAdded, Payload: payload}); err != nil {
			b.Fatal(err)
		}
		wantEvent(b, events, "change", 5*time.Second)
	}
}
