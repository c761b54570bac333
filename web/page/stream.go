package page

import (
	"encoding/json"
	"fmt"
	"net/http"
	"sync"
	"time"
)

const beat = 5 * time.Second // a page that hears nothing for two beats and a half says so

// How many streams may be open.
const (
	MaxStreams = 600
	// Streams of one device: a browser gives back those of pages that nobody sees. The host's own screen, which also is
	// what measures the program, may have more.
	MaxStreamsDevice = 20
	MaxStreamsHost   = 250
)

// Streams keeps track of the open event streams: one per page shown somewhere.
type Streams struct {
	mu   sync.Mutex
	next int
	open map[int]openStream
	shut bool
}

type openStream struct {
	device string
	stop   chan struct{}
}

func newStreams() *Streams { return &Streams{open: map[int]openStream{}} }

// Add registers a stream; the channel closes when the stream has to end.
func (s *Streams) Add(device string) (id int, stop <-chan struct{}, err error) {
	refuse := func(what, do string) (int, <-chan struct{}, error) {
		return 0, nil, Say(http.StatusServiceUnavailable, what, do)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	own, most := 0, MaxStreamsDevice
	if device == "" {
		most = MaxStreamsHost
	}
	for _, one := range s.open {
		if one.device == device {
			own++
		}
	}
	switch {
	case s.shut:
		return refuse("The program is ending.", "Start it again, then load this page again.")
	case own >= most:
		return refuse(fmt.Sprintf("%d pages on this device follow along already, so this one does not.", own),
			"Close some of them, then load this page again.")
	case len(s.open) >= MaxStreams:
		return refuse("Too many pages on all devices follow along, so this one does not.",
			"Close some of them, then load this page again.")
	}
	s.next++
	one := openStream{device, make(chan struct{})}
	s.open[s.next] = one
	return s.next, one.stop, nil
}

func (s *Streams) remove(id int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.open, id)
}

// CloseDevice ends the streams of a device that was sent away.
func (s *Streams) CloseDevice(device string) {
	s.close(false, func(one string) bool { return one == device })
}

// CloseAll ends every stream; there will be no more.
func (s *Streams) CloseAll() { s.close(true, func(string) bool { return true }) }

func (s *Streams) close(forGood bool, which func(device string) bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.shut = s.shut || forGood
	for id, one := range s.open {
		if which(one.device) {
			close(one.stop)
			delete(s.open, id)
		}
	}
}

// Count is how many streams are open.
func (s *Streams) Count() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.open)
}

// Source is what a page is told, value by value, over an event stream.
type Source[T any] struct {
	Values <-chan T
	Event  func(T) string
	Ended  <-chan struct{} // closed when there will be no more; nil: never
	Last   func() string   // the event that says so
}

// Stream opens an event stream to the sender and keeps it open while somebody listens. Once there is room for it, begin
// gives what is said first and where the rest comes from.
func Stream[T any](q *Request, begin func() (hello string, from Source[T], err error)) error {
	id, stop, err := q.site.Streams.Add(q.By.Device)
	if err != nil {
		return q.refuseStream(err)
	}
	defer q.site.Streams.remove(id)
	hello, from, err := begin()
	if err != nil {
		return q.refuseStream(err)
	}
	q.site.making.Add(-1) // from here on it only waits
	defer q.site.making.Add(1)
	q.W.Header().Set("Content-Type", "text/event-stream")
	out := eventWriter{w: q.W, control: http.NewResponseController(q.W)}
	out.send("retry: 1000\n" + hello)
	tick := time.NewTicker(beat)
	defer tick.Stop()
	for out.err == nil {
		select {
		case v, ok := <-from.Values:
			if !ok {
				out.send(Event("closed", 1))
				return nil
			}
			out.send(from.Event(v))
		case <-tick.C:
			out.send(Event("alive", 1))
		case <-from.Ended:
			out.send(from.Last())
			return nil
		case <-stop:
			out.send(Event("closed", 1))
			return nil
		case <-q.Context().Done():
			return nil
		}
	}
	return nil
}

// refuseStream answers a page's script with the reason why it cannot follow, which the browser would keep from it in an
// answer with a status of trouble. It is not written down: a page that is refused asks again.
func (q *Request) refuseStream(why error) error {
	if words(why).Status != http.StatusServiceUnavailable || q.Header.Get("Accept") != "text/event-stream" {
		return why
	}
	q.site.making.Add(-1) // from here on it only waits
	defer q.site.making.Add(1)
	q.W.Header().Set("Content-Type", "text/event-stream")
	out := eventWriter{w: q.W, control: http.NewResponseController(q.W)}
	out.send(Event("full", why.Error()))
	return nil
}

// Event is an event of a name with data as JSON, as it goes over the line.
func Event(name string, data any) string {
	return "event: " + name + "\ndata: " + AsJSON(data) + "\n\n"
}

// AsJSON prints what is known to be printable.
func AsJSON(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		return "null"
	}
	return string(b)
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
	e.control.SetWriteDeadline(time.Now().Add(2 * beat)) // test recorders know none; the stream then has no limit
	if _, e.err = e.w.Write([]byte(text)); e.err == nil {
		e.err = e.control.Flush()
	}
}
