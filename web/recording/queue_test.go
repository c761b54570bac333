package recording_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"phasewright/book"
	"phasewright/web/page"
	"phasewright/web/recording"
	"phasewright/web/webtest"
)

// stored is a stored file of a size; n tells it from others.
func stored(n int, size int64) book.Attachment {
	return book.Attachment{SHA256: book.Hash{byte(n), byte(n >> 8), 1}, Size: size}
}

const largeFile = recording.SmallFile + 1

// keepBusy keeps both the short and the long turn busy until release is called.
func keepBusy(s *webtest.Shop) (release func()) {
	s.T.Helper()
	end := make(chan struct{})
	for i, size := range []int64{1, largeFile} {
		if err := s.Recording.Add("busy", stored(i, size), "another device", func(ctx context.Context) error {
			select {
			case <-end:
			case <-s.Recording.Ending(): // not at the end of a short turn
			}
			return nil
		}); err != nil {
			s.T.Fatal(err)
		}
	}
	return sync.OnceFunc(func() { close(end) })
}

// Devices take turns: one that sent many recordings does not keep another's waiting, and small ones do not wait for
// large ones.
func TestDevicesTakeTurns(t *testing.T) {
	s := webtest.NewShop(t)
	release := keepBusy(s)
	var mu sync.Mutex
	var order []string
	add := func(n int, device string, size int64) {
		t.Helper()
		if err := s.Recording.Add("job", stored(n, size), device, func(context.Context) error {
			mu.Lock()
			defer mu.Unlock()
			order = append(order, fmt.Sprint(device, n))
			return nil
		}); err != nil {
			t.Fatal(err)
		}
	}
	for n, device := range []string{"a", "a", "a", "b", "b", "c"} {
		add(n, device, largeFile)
	}
	release()
	s.Settle()
	// by hand: one of each in turn
	if want := []string{"a0", "b3", "c5", "a1", "b4", "a2"}; !slices.Equal(order, want) {
		t.Errorf("order %v, want %v", order, want)
	}

	end := make(chan struct{})
	if err := s.Recording.Add("job", stored(50, largeFile), "a",
		func(context.Context) error { <-end; return nil }); err != nil {
		t.Fatal(err)
	}
	order = nil
	add(51, "a", recording.SmallFile)
	for limit := time.Now().Add(10 * time.Second); time.Now().Before(limit); time.Sleep(time.Millisecond) {
		mu.Lock()
		n := len(order)
		mu.Unlock()
		if n > 0 {
			break
		}
	}
	if mu.Lock(); len(order) != 1 {
		t.Error("a small file waits for a large one")
	}
	mu.Unlock()
	close(end)
	s.Settle()
}

// What may wait is bounded, for each device and in all; a recording that is sent then is kept and says why it is not
// read.
func TestWaitingIsBounded(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	release := keepBusy(s)
	defer release()
	n := 100
	fill := func(device string, most int) (added int, err error) {
		for range most + 1 {
			n++
			if err = s.Recording.Add("job", stored(n, largeFile), device,
				func(context.Context) error { return nil }); err != nil {
				return added, err
			}
			added++
		}
		return added, nil
	}
	added, err := fill("", recording.MostWaitingOne)
	if err == nil || added != recording.MostWaitingOne || !strings.Contains(err.Error(), "8 recordings from this device wait") {
		t.Errorf("%d wait, %v; at most %d of one device", added, err, recording.MostWaitingOne)
	}
	webtest.WantCode(t, s.Do(webtest.Upload("/job/"+job+"/captures", webtest.HostAddr, "a.csv", strings.NewReader("t,a\n0,1\n"))), 303)
	body := s.Get("/job/" + job + "/captures").Body.String()
	webtest.WantIn(t, body, "Stored, but not read yet. 8 recordings from this device wait")
	webtest.WantIn(t, body, ">Read</button>")
	for device := range 20 {
		more, e := fill(fmt.Sprint(device), recording.MostWaitingOne)
		if added, err = added+more, e; more < recording.MostWaitingOne {
			break
		}
	}
	if added != recording.MostWaiting || err == nil || strings.Contains(err.Error(), "this device") {
		t.Errorf("%d wait, %v; at most %d of all", added, err, recording.MostWaiting)
	}
	var p *page.UserError
	if !errors.As(err, &p) || p.Status != http.StatusServiceUnavailable {
		t.Errorf("%v", err)
	}
	release()
	s.Settle()
	if known, waiting := s.Recording.Queue(); known != 1 || waiting != 0 {
		t.Errorf("%d known, %d waiting after all were read; want the one that was refused", known, waiting)
	}
}

// A recording that unpacks to gigabytes keeps nobody waiting: another device's is read meanwhile, and whoever sent it
// can stop it at any time.
func TestBombKeepsNobodyWaiting(t *testing.T) {
	s := webtest.NewShop(t)
	s.Recording.SetTurn(200 * time.Millisecond)
	job := s.NewJob()
	ada, ben := s.PairPhone(page.Work), s.PairPhone(page.Work)
	as := func(c *http.Cookie) func(r *http.Request) *http.Request {
		return func(r *http.Request) *http.Request { r.AddCookie(c); return r }
	}
	packed := webtest.Bomb(t, 32<<30)
	t.Logf("%d KiB that unpack to 32 GiB", len(packed)>>10)
	webtest.WantCode(t, s.Do(as(ada)(webtest.Upload("/job/"+job+"/captures", webtest.PhoneAddr, "bomb.csv.zst", bytes.NewReader(packed)))), 303)
	files, err := s.Book.Attachments(t.Context(), job)
	if err != nil || len(files) != 1 {
		t.Fatal(files, err)
	}
	large := files[0].SHA256
	running := func() bool {
		_, some := s.Recording.Long()
		return some
	}
	until := func(what string, within time.Duration, is func() bool) {
		t.Helper()
		for end := time.Now().Add(within); !is(); time.Sleep(5 * time.Millisecond) {
			if time.Now().After(end) {
				t.Fatalf("not within %v: %s", within, what)
			}
		}
	}
	until("the bomb is read as a long one", 10*time.Second, running)
	s.Recording.SetTurn(time.Minute) // the small one's turn is not to end on a slow computer
	began := time.Now()
	webtest.WantCode(t, s.Do(as(ben)(webtest.UploadKeyed("/job/"+job+"/captures", webtest.PhoneAddr, "k2", "small.vcd",
		bytes.NewReader(webtest.Recording(t))))), 303)
	until("the other device's recording is read", 20*time.Second, func() bool {
		return strings.Contains(s.Get("/job/"+job+"/captures").Body.String(), "sync held")
	})
	t.Logf("the other device's was read after %v", time.Since(began))
	if !running() {
		t.Error("the bomb is not being read any more: nothing was shown")
	}

	stop := "/job/" + job + "/captures/" + large.String() + "/stop"
	page := func(c *http.Cookie) string {
		return s.Do(as(c)(webtest.Request("GET", "/job/"+job+"/captures", webtest.PhoneAddr, nil))).Body.String()
	}
	if strings.Contains(page(ben), stop) {
		t.Error("a device that did not send it is offered to stop it")
	}
	webtest.WantCode(t, s.Do(as(ben)(webtest.Request("POST", stop, webtest.PhoneAddr, nil))), http.StatusForbidden)
	webtest.WantIn(t, page(ada), stop)
	began = time.Now()
	webtest.WantCode(t, s.Do(as(ada)(webtest.Request("POST", stop, webtest.PhoneAddr, nil))), http.StatusSeeOther)
	until("nothing long is read any more", 2*time.Second, func() bool {
		busy, _ := s.Recording.Long()
		return !busy
	})
	t.Logf("stopped within %v", time.Since(began))
	webtest.WantIn(t, page(ada), "Not read: Ada Reed, phone stopped it.")
	webtest.WantCode(t, s.Do(as(ada)(webtest.Request("POST", stop, webtest.PhoneAddr, nil))), http.StatusConflict)
	s.Settle()
	if n := len(s.Kinds(job)); n != 5 { // card, job, two files, one of them read
		t.Errorf("events %v", s.Kinds(job))
	}
}

// One that waits is taken out of the queue, and never begins.
func TestWaitingRecordingIsTakenBack(t *testing.T) {
	s := webtest.NewShop(t)
	release := keepBusy(s)
	defer release()
	begun := false
	if err := s.Recording.Add("job", stored(9, largeFile), webtest.Ada.Device,
		func(context.Context) error { begun = true; return nil }); err != nil {
		t.Fatal(err)
	}
	if err := s.Recording.Stop(webtest.Eve, "job", stored(9, 1).SHA256); err != nil { // an instructor may
		t.Fatal(err)
	}
	release()
	s.Settle()
	if begun {
		t.Error("it was read all the same")
	}
}

// A file that unpacks to more than recordings do is given up, with what to do, long before it is all unpacked.
func TestUnpackingIsBounded(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	packed := webtest.Bomb(t, 4<<30)
	began := time.Now()
	webtest.WantCode(t, s.Do(webtest.Upload("/job/"+job+"/captures", webtest.HostAddr, "bomb.csv.zst", bytes.NewReader(packed))), 303)
	peak := heapPeak(t, s.Settle)
	t.Logf("%d KiB that unpack to 4 GiB: given up after %v, the heap grew by %d MiB", len(packed)>>10,
		time.Since(began), peak>>20)
	files, err := s.Book.Attachments(t.Context(), job)
	if err != nil || len(files) != 1 {
		t.Fatal(files, err)
	}
	webtest.WantIn(t, s.Get("/job/"+job+"/captures/"+files[0].SHA256.String()).Body.String(), "grows beyond the limit")
	if peak > 48<<20 {
		t.Errorf("the heap grew by %d MiB", peak>>20)
	}
}
