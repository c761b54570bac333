package book

import (
	"fmt"
	"sync"
)

// Change says that a job has reached a version. It is sent after the event is on disk.
type Change struct {
	Job     string  `json:"job"`
	Version Version `json:"version"`
	Room    bool    `json:"room,omitzero"` // of a practice room, which lists of jobs do not show
	// Missed is true when earlier changes were dropped because the receiver was slow: load everything again.
	Missed bool `json:"missed,omitzero"`
}

// Subscription delivers changes on C until Close, which closes C. Closing the book closes it too.
type Subscription struct {
	C <-chan Change

	c   chan Change
	job string
	hub *hub
}

// waiting is how many changes a subscription holds for a slow receiver.
const waiting = 64

// hub hands changes to subscriptions. It starts no goroutines and never waits for a receiver.
type hub struct {
	mu   sync.Mutex
	subs map[*Subscription]struct{}
	shut bool
}

// Subscribe delivers the changes of one job, or of all with job "". The channel is bounded and never holds up the
// writer: a slow receiver loses the oldest changes and is told so by Change.Missed. Error: ErrClosed.
func (b *Book) Subscribe(job string) (*Subscription, error) {
	h := &b.hub
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.shut {
		return nil, fmt.Errorf("%s – %w – open it again", b.path, ErrClosed)
	}
	c := make(chan Change, waiting)
	s := &Subscription{C: c, c: c, job: job, hub: h}
	if h.subs == nil {
		h.subs = map[*Subscription]struct{}{}
	}
	h.subs[s] = struct{}{}
	return s, nil
}

// Close ends the subscription. A second Close does nothing.
func (s *Subscription) Close() {
	s.hub.mu.Lock()
	defer s.hub.mu.Unlock()
	s.hub.drop(s)
}

// drop closes a subscription once; h.mu is held.
func (h *hub) drop(s *Subscription) {
	if _, open := h.subs[s]; open {
		delete(h.subs, s)
		close(s.c)
	}
}

func (h *hub) close() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.shut = true
	for s := range h.subs {
		h.drop(s)
	}
}

func (h *hub) send(changes []Change) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, c := range changes {
		for s := range h.subs {
			if s.job == "" || s.job == c.Job {
				s.offer(c)
			}
		}
	}
}

// offer makes room by dropping the oldest changes. Only hub.send puts into the channel, under h.mu, so a place once
// free stays free.
func (s *Subscription) offer(c Change) {
	for {
		select {
		case s.c <- c:
			return
		default:
		}
		select {
		case <-s.c:
			c.Missed = true
		default:
		}
	}
}
