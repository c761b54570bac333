package web

import (
	"context"
	"io"
	"net"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"phasewright/book"
)

// A bench whose loop breaks ends: whoever watches is told, with the number of the line in the log. Everything else goes
// on.
func TestABenchThatBreaksIsTheOnlyOneToEnd(t *testing.T) {
	var l lines
	s := newShop(t, logged(&l))
	bad, good := s.bench(url.Values{}), s.bench(url.Values{})
	base, _ := s.serve()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	events := listenAt(t, ctx, base+bad+"/live?tab=a")
	room := s.roomOf(bad)
	room.mu.Lock()
	room.session = nil // no bench to let time pass on
	room.mu.Unlock()
	for end := time.After(10 * time.Second); ; {
		select {
		case e := <-events:
			if !strings.HasPrefix(e, "ended") {
				continue
			}
			if !strings.Contains(e, "went wrong inside") || !strings.Contains(e, "number") {
				t.Errorf("the page is told %q", e)
			}
		case <-end:
			t.Fatal("the page is not told that the bench ended")
		}
		break
	}
	line := l.with(t, `msg="a bench broke down"`)
	for _, what := range []string{"level=ERROR", "bench=" + room.id, "nil pointer", "benchroom_loop.go"} {
		if !strings.Contains(line, what) {
			t.Errorf("the log lacks %q: %s", what, line)
		}
	}
	w := s.get(bad)
	wantCode(t, w, http.StatusGone)
	wantIn(t, w.Body.String(), "went wrong inside")
	_, after, _ := strings.Cut(line, "number=")
	number, _, _ := strings.Cut(after, " ")
	wantIn(t, w.Body.String(), "number "+number)
	wantIn(t, s.get("/bench").Body.String(), "went wrong inside")
	wantCode(t, s.get(good), 200)
	wantCode(t, s.post(bad+"/do", url.Values{"do": {"key"}, "to": {"on"}}), http.StatusGone)
	s.Close() // and nothing of it is left to wait for
}

// brittle is a shop book whose stored files break in the hands of whoever reads them.
type brittle struct{ *book.Book }

type brittleFile struct{ io.ReadSeekCloser }

func (brittleFile) Read([]byte) (int, error) { panic("a broken invariant") }

func (b brittle) OpenAttachment(ctx context.Context, sha book.Hash) (io.ReadSeekCloser, int64, error) {
	f, size, err := b.Book.OpenAttachment(ctx, sha)
	return brittleFile{f}, size, err
}

// Where the reading of a recording breaks, on whatever goroutine, its page says so with the number of the line in the
// log, and the next one is read.
func TestAReadingThatBreaksIsTheOnlyOneToEnd(t *testing.T) {
	var l lines
	var whole *book.Book
	s := newShop(t, logged(&l), func(c *Config) { whole = c.Book.(*book.Book); c.Book = brittle{whole} })
	job := s.job()
	wantCode(t, s.do(upload("/job/"+job+"/captures", hostAddr, "a.vcd", strings.NewReader("$timescale 1 us $end"))),
		303)
	s.settle()
	line := l.with(t, `msg="reading a recording broke down"`)
	if !strings.Contains(line, "a broken invariant") || !strings.Contains(line, "level=ERROR") {
		t.Error(line)
	}
	_, after, _ := strings.Cut(line, "number=")
	number, _, _ := strings.Cut(after, " ")
	page := s.get("/job/" + job + "/captures").Body.String()
	wantIn(t, page, "Something went wrong inside the program while reading this file")
	wantIn(t, page, "number "+number)
	s.Book = whole
	files, err := s.book.Attachments(t.Context(), job)
	if err != nil || len(files) != 1 {
		t.Fatal(files, err)
	}
	wantCode(t, s.post("/job/"+job+"/captures/"+files[0].SHA256.String(), nil), 303)
	s.settle()
	if page := s.get("/job/" + job + "/captures").Body.String(); strings.Contains(page, "went wrong inside") {
		t.Errorf("not read again: %s", page)
	}
}

type brittleListener struct{ net.Listener }

func (brittleListener) Accept() (net.Conn, error) { panic("a broken invariant") }
func (brittleListener) Close() error              { return nil }
func (brittleListener) Addr() net.Addr            { return &net.TCPAddr{} }

func TestAListenerThatBreaksIsToldOf(t *testing.T) {
	var l lines
	s := newShop(t, logged(&l))
	if err := s.Serve(t.Context(), brittleListener{}); err == nil || !strings.Contains(err.Error(), "start it again") {
		t.Errorf("error %v", err)
	}
	if line := l.with(t, `msg="listening broke down"`); !strings.Contains(line, "a broken invariant") {
		t.Error(line)
	}
}

// The page of a bench that broke down says so in words, and so does one that the host refuses to tell of changes.
func TestPagesSayWhyTheyStandStill(t *testing.T) {
	s := newShop(t)
	job, bad := s.job(), s.bench(url.Values{})
	base, _ := s.serve()
	p := s.screen(browser(t), base, 360, 740)
	p.open(bad)
	room := s.roomOf(bad)
	room.mu.Lock()
	room.session = nil // no bench to let time pass on
	room.mu.Unlock()
	p.wait(`document.querySelector("#said").innerText.includes("went wrong inside the program")`)
	p.wait(`!document.querySelector("#again").hidden`)
	for range maxStreamsHost {
		s.live.add("")
	}
	p.open("/job/" + job)
	p.wait(`document.querySelector("#line").innerText.includes("pages on this device follow along already")`)
	p.open(s.bench(url.Values{}))
	p.wait(`document.querySelector("#line").innerText.includes("pages on this device follow along already")`)
	for _, c := range p.complaints() {
		t.Error("console: " + c)
	}
}
