package web

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

	"github.com/klauspost/compress/zstd"

	"phasewright/book"
)

// stored is a stored file of a size; n tells it from others.
func stored(n int, size int64) book.Attachment {
	return book.Attachment{SHA256: book.Hash{byte(n), byte(n >> 8), 1}, Size: size}
}

const largeFile = smallFile + 1

// keepBusy fills both lanes until release is called.
func (s *shop) keepBusy() (release func()) {
	s.t.Helper()
	end := make(chan struct{})
	for i, size := range []int64{1, largeFile} {
		if err := s.captures.add("busy", stored(i, size), "another device", func(ctx context.Context) error {
			select {
			case <-end:
			case <-s.captures.ctx.Done(): // not at the end of a quick turn
			}
			return nil
		}); err != nil {
			s.t.Fatal(err)
		}
	}
	return sync.OnceFunc(func() { close(end) })
}

// Devices take turns: one that sent many recordings does not keep another's waiting, and small ones do not wait for
// large ones.
func TestDevicesTakeTurns(t *testing.T) {
	s := newShop(t)
	release := s.keepBusy()
	var mu sync.Mutex
	var order []string
	add := func(n int, device string, size int64) {
		t.Helper()
		if err := s.captures.add("job", stored(n, size), device, func(context.Context) error {
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
	s.settle()
	// by hand: one of each in turn
	if want := []string{"a0", "b3", "c5", "a1", "b4", "a2"}; !slices.Equal(order, want) {
		t.Errorf("order %v, want %v", order, want)
	}

	end := make(chan struct{})
	if err := s.captures.add("job", stored(50, largeFile), "a",
		func(context.Context) error { <-end; return nil }); err != nil {
		t.Fatal(err)
	}
	order = nil
	add(51, "a", smallFile)
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
	s.settle()
}

// What may wait is bounded, for each device and in all; a recording that is sent then is kept and says why it is not
// read.
func TestWaitingIsBounded(t *testing.T) {
	s := newShop(t)
	job := s.job()
	release := s.keepBusy()
	defer release()
	n := 100
	fill := func(device string, most int) (added int, err error) {
		for range most + 1 {
			n++
			if err = s.captures.add("job", stored(n, largeFile), device,
				func(context.Context) error { return nil }); err != nil {
				return added, err
			}
			added++
		}
		return added, nil
	}
	added, err := fill("", mostWaitingOne)
	if err == nil || added != mostWaitingOne || !strings.Contains(err.Error(), "8 recordings from this device wait") {
		t.Errorf("%d wait, %v; at most %d of one device", added, err, mostWaitingOne)
	}
	wantCode(t, s.do(upload("/job/"+job+"/captures", hostAddr, "a.csv", strings.NewReader("t,a\n0,1\n"))), 303)
	page := s.get("/job/" + job + "/captures").Body.String()
	wantIn(t, page, "Stored, but not read yet. 8 recordings from this device wait")
	wantIn(t, page, ">Read</button>")
	for device := range 20 {
		more, e := fill(fmt.Sprint(device), mostWaitingOne)
		if added, err = added+more, e; more < mostWaitingOne {
			break
		}
	}
	if added != mostWaiting || err == nil || strings.Contains(err.Error(), "this device") {
		t.Errorf("%d wait, %v; at most %d of all", added, err, mostWaiting)
	}
	var p *plainly
	if !errors.As(err, &p) || p.status != http.StatusServiceUnavailable {
		t.Errorf("%v", err)
	}
	release()
	s.settle()
	if len(s.captures.now) != 1 || len(s.captures.waiting) != 0 {
		t.Errorf("%d known, %d waiting after all were read; want the one that was refused", len(s.captures.now),
			len(s.captures.waiting))
	}
}

// bomb is a table of a few hundred kilobytes that unpacks to so many bytes: one frame again and again (RFC 8878: frames
// may follow one another).
func bomb(t testing.TB, unpacked int64) []byte {
	t.Helper()
	z, err := zstd.NewWriter(nil, zstd.WithEncoderLevel(zstd.SpeedBestCompression))
	if err != nil {
		t.Fatal(err)
	}
	const frame = 64 << 20
	one := z.EncodeAll(bytes.Repeat([]byte("0.000001,5.0,0.0\n"), frame/17), nil)
	all := z.EncodeAll([]byte("time_s,crank,cam\n"), nil)
	for range unpacked / frame {
		all = append(all, one...)
	}
	return all
}

// A recording that unpacks to gigabytes keeps nobody waiting: another device's is read meanwhile, and whoever sent it
// can stop it at any time.
func TestBombKeepsNobodyWaiting(t *testing.T) {
	s := newShop(t)
	s.captures.quick = 200 * time.Millisecond
	job := s.job()
	ada, ben := s.pairPhone(Work), s.pairPhone(Work)
	as := func(c *http.Cookie) func(r *http.Request) *http.Request {
		return func(r *http.Request) *http.Request { r.AddCookie(c); return r }
	}
	packed := bomb(t, 32<<30)
	t.Logf("%d KiB that unpack to 32 GiB", len(packed)>>10)
	wantCode(t, s.do(as(ada)(upload("/job/"+job+"/captures", phoneAddr, "bomb.csv.zst", bytes.NewReader(packed)))), 303)
	files, err := s.book.Attachments(t.Context(), job)
	if err != nil || len(files) != 1 {
		t.Fatal(files, err)
	}
	large := files[0].SHA256
	running := func() bool {
		s.captures.mu.Lock()
		defer s.captures.mu.Unlock()
		return s.captures.busy[longLane] != nil && s.captures.busy[longLane].done > 0
	}
	until := func(what string, within time.Duration, is func() bool) {
		t.Helper()
		for end := time.Now().Add(within); !is(); time.Sleep(5 * time.Millisecond) {
			if time.Now().After(end) {
				t.Fatalf("not within %v: %s", within, what)
			}
		}
	}
	until("the bomb is read in the long lane", 10*time.Second, running)
	s.captures.mu.Lock()
	s.captures.quick = time.Minute // the small one's turn is not to end on a slow computer
	s.captures.mu.Unlock()
	began := time.Now()
	wantCode(t, s.do(as(ben)(uploadKeyed("/job/"+job+"/captures", phoneAddr, "k2", "small.vcd",
		bytes.NewReader(recording(t))))), 303)
	until("the other device's recording is read", 20*time.Second, func() bool {
		return strings.Contains(s.get("/job/"+job+"/captures").Body.String(), "sync held")
	})
	t.Logf("the other device's was read after %v", time.Since(began))
	if !running() {
		t.Error("the bomb is not being read any more: nothing was shown")
	}

	stop := "/job/" + job + "/captures/" + large.String() + "/stop"
	page := func(c *http.Cookie) string {
		return s.do(as(c)(request("GET", "/job/"+job+"/captures", phoneAddr, nil))).Body.String()
	}
	if strings.Contains(page(ben), stop) {
		t.Error("a device that did not send it is offered to stop it")
	}
	wantCode(t, s.do(as(ben)(request("POST", stop, phoneAddr, nil))), http.StatusForbidden)
	wantIn(t, page(ada), stop)
	began = time.Now()
	wantCode(t, s.do(as(ada)(request("POST", stop, phoneAddr, nil))), http.StatusSeeOther)
	until("the lane is free", 2*time.Second, func() bool {
		s.captures.mu.Lock()
		defer s.captures.mu.Unlock()
		return s.captures.busy[longLane] == nil
	})
	t.Logf("stopped within %v", time.Since(began))
	wantIn(t, page(ada), "Not read: Ada Reed, phone stopped it.")
	wantCode(t, s.do(as(ada)(request("POST", stop, phoneAddr, nil))), http.StatusConflict)
	s.settle()
	if n := len(s.kinds(job)); n != 5 { // card, job, two files, one of them read
		t.Errorf("events %v", s.kinds(job))
	}
}

// One that waits is taken out of the queue, and never begins.
func TestWaitingRecordingIsTakenBack(t *testing.T) {
	s := newShop(t)
	release := s.keepBusy()
	defer release()
	begun := false
	if err := s.captures.add("job", stored(9, largeFile), ada.device,
		func(context.Context) error { begun = true; return nil }); err != nil {
		t.Fatal(err)
	}
	if err := s.captures.end(eve, "job", stored(9, 1).SHA256); err != nil { // an instructor may
		t.Fatal(err)
	}
	release()
	s.settle()
	if begun {
		t.Error("it was read all the same")
	}
}

// A file that unpacks to more than recordings do is given up, with what to do, long before it is all unpacked.
func TestUnpackingIsBounded(t *testing.T) {
	s := newShop(t)
	job := s.job()
	packed := bomb(t, 4<<30)
	began := time.Now()
	wantCode(t, s.do(upload("/job/"+job+"/captures", hostAddr, "bomb.csv.zst", bytes.NewReader(packed))), 303)
	peak := heapPeak(t, s.settle)
	t.Logf("%d KiB that unpack to 4 GiB: given up after %v, the heap grew by %d MiB", len(packed)>>10,
		time.Since(began), peak>>20)
	files, err := s.book.Attachments(t.Context(), job)
	if err != nil || len(files) != 1 {
		t.Fatal(files, err)
	}
	wantIn(t, s.get("/job/"+job+"/captures/"+files[0].SHA256.String()).Body.String(), "grows beyond the limit")
	if peak > 48<<20 {
		t.Errorf("the heap grew by %d MiB", peak>>20)
	}
}
