package web

import (
	"fmt"
	"net/http"
	"strconv"
	"sync"
	"time"

	"phasewright/book"
)

const (
	beat       = 5 * time.Second // a page that hears nothing for two beats and a half says so
	maxStreams = 600
	// Streams of one device: a browser gives back those of pages that nobody sees. The host's own screen, which also is
	// what measures the program, may have more.
	maxStreamsDevice = 20
	maxStreamsHost   = 100
)

// streams keeps track of the open event streams: one per page shown somewhere.
type streams struct {
	mu   sync.Mutex
	next int
	open map[int]stream
	shut bool
}

type stream struct {
	device string
	stop   chan struct{}
}

func newStreams() *streams { return &streams{open: map[int]stream{}} }

// add registers a stream; the channel closes when the stream has to end.
func (s *streams) add(device string) (int, <-chan struct{}, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	own, most := 0, maxStreamsDevice
	if device == "" {
		most = maxStreamsHost
	}
	for _, one := range s.open {
		if one.device == device {
			own++
		}
	}
	switch {
	case s.shut:
		return 0, nil, say(http.StatusServiceUnavailable, "The program is ending.",
			"Start it again, then load this page again.")
	case own >= most:
		return 0, nil, say(http.StatusServiceUnavailable,
			fmt.Sprintf("%d pages on this device follow along already, so this one does not.", own),
			"Close some of them, then load this page again.")
	case len(s.open) >= maxStreams:
		return 0, nil, say(http.StatusServiceUnavailable,
			"Too many pages on all devices follow along, so this one does not.",
			"Close some of them, then load this page again.")
	}
	s.next++
	one := stream{device, make(chan struct{})}
	s.open[s.next] = one
	return s.next, one.stop, nil
}

// refuseStream answers a page's script with the reason why it cannot follow, which the browser would keep from it in an
// answer with a status of trouble. It is not written down: a page that is refused asks again.
func refuseStream(w http.ResponseWriter, r *http.Request, why error) error {
	if words(why).status != http.StatusServiceUnavailable || r.Header.Get("Accept") != "text/event-stream" {
		return why
	}
	w.Header().Set("Content-Type", "text/event-stream")
	out := eventWriter{w: w, control: http.NewResponseController(w)}
	out.send("event: full\ndata: " + asJSON(why.Error()) + "\n\n")
	return nil
}

func (s *streams) remove(id int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.open, id)
}

// closeDevice ends the streams of a device that was sent away.
func (s *streams) closeDevice(device string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for id, one := range s.open {
		if one.device == device {
			close(one.stop)
			delete(s.open, id)
		}
	}
}

func (s *streams) closeAll() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.shut = true
	for id, one := range s.open {
		close(one.stop)
		delete(s.open, id)
	}
}

func (s *streams) count() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.open)
}

// livePage streams the versions a job reaches, or those of all jobs where none is named. A page that sees a newer version
// than its own fetches itself again and swaps what differs.
func (s *Server) livePage(w http.ResponseWriter, r *http.Request, v *visit) error {
	job := r.URL.Query().Get("job")
	since, _ := strconv.ParseInt(r.URL.Query().Get("since"), 10, 64) // nought tells the page everything
	sub, err := s.Book.Subscribe(job)
	if err != nil {
		return err
	}
	defer sub.Close()
	id, stop, err := s.live.add(v.device)
	if err != nil {
		return refuseStream(w, r, err)
	}
	defer s.live.remove(id)

	out := eventWriter{w: w, control: http.NewResponseController(w)}
	w.Header().Set("Content-Type", "text/event-stream")
	out.send("retry: 1000\n\n")
	if job != "" { // subscribed first, then asked: nothing falls between
		line, err := s.Book.Job(r.Context(), job)
		if err != nil {
			return nil
		}
		if int64(line.Version) > since {
			out.change(book.Change{Job: job, Version: line.Version})
		} else {
			out.send("event: alive\ndata: 1\n\n")
		}
	} else {
		out.send("event: alive\ndata: 1\n\n")
	}
	tick := time.NewTicker(beat)
	defer tick.Stop()
	for out.err == nil {
		select {
		case c, ok := <-sub.C:
			if !ok {
				out.send("event: closed\ndata: 1\n\n")
				return nil
			}
			out.change(c)
		case <-tick.C:
			out.send("event: alive\ndata: 1\n\n")
		case <-stop:
			out.send("event: closed\ndata: 1\n\n")
			return nil
		case <-r.Context().Done():
			return nil
		}
	}
	return nil
}

// eventWriter writes events and flushes each; after the first failure it does nothing.
type eventWriter struct {
	w       http.ResponseWriter
	control *http.ResponseController
	err     error
}

func (e *eventWriter) send(text string) {
	if e.err != nil {
		return
	}
	e.control.SetWriteDeadline(time.Now().Add(2 * beat)) // not supported by test recorders; the stream then has no limit
	if _, e.err = e.w.Write([]byte(text)); e.err == nil {
		e.err = e.control.Flush()
	}
}

func (e *eventWriter) change(c book.Change) {
	e.send(fmt.Sprintf("event: change\ndata: {\"job\":%q,\"version\":%d}\n\n", c.Job, c.Version))
}
