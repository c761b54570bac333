package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"sync"
	"time"

	"phasewright/beside"
	"phasewright/book"
)

// Recordings are read in two lanes, each one file at a time and on one processor, so that pages stay quick meanwhile. A
// small file goes the quick lane; one that is not done there within a turn, whatever it unpacks to, begins again in the
// long lane behind the others. In each lane devices take turns.
const (
	smallFile      = 4 << 20         // on disk
	quickTurn      = 2 * time.Second // some 200 MB of text at the 100 MB/s measured with two processors under load
	mostWaiting    = 40              // recordings that wait, of all devices
	mostWaitingOne = 8               // of one device
)

type lane int

const (
	quickLane lane = iota
	longLane
	lanes
)

// captureState is how far the reading of a capture has come.
type captureState struct {
	done, total int64
	began       time.Time // zero while it waits for its turn
	stopping    bool
	trouble     string // why it could not be read; "" while it waits or runs
}

// task is one recording that is read, waits for it, or could not be read.
type task struct {
	captureState
	job    string
	file   book.Attachment
	device string // who asked for it
	work   func(ctx context.Context) error
	lane   lane
	ctx    context.Context
	cancel context.CancelFunc
	by     string // who stopped it
}

// captureReaders is the queue.
type captureReaders struct {
	quick time.Duration
	log   func(t *task, broken string) (where string) // writes down what broke, and says where that is found
	clock func() time.Time

	mu      sync.Mutex
	now     map[string]*task // by job and hash
	waiting []*task          // in the order in which they came
	busy    [lanes]*task
	last    [lanes]map[string]int // by device: the number of its last turn
	turns   int
	all     sync.WaitGroup
	stop    context.CancelFunc
	ctx     context.Context
}

func newCaptureReaders(clock func() time.Time, log func(*task, string) string) *captureReaders {
	ctx, stop := context.WithCancel(context.Background())
	return &captureReaders{quick: quickTurn, log: log, clock: clock, now: map[string]*task{},
		last: [lanes]map[string]int{{}, {}}, ctx: ctx, stop: stop}
}

func (c *captureReaders) state(job string, sha book.Hash) (captureState, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if t := c.now[job+sha.String()]; t != nil {
		return t.captureState, true
	}
	return captureState{}, false
}

// mayStop says whether a visitor may stop the reading of a file: whoever asked for it, and instructors.
func (c *captureReaders) mayStop(v *visit, job string, sha book.Hash) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	t := c.now[job+sha.String()]
	return t != nil && t.mayStop(v)
}

func (t *task) mayStop(v *visit) bool {
	return t.trouble == "" && !t.stopping && (v.role >= Instructor || v.role >= Work && t.device == v.device)
}

// close stops what is being read and waits for it. What was not finished can be read again from the page.
func (c *captureReaders) close() {
	c.mu.Lock()
	c.stop()
	c.waiting = nil
	c.mu.Unlock()
	c.all.Wait()
}

// add lets work on a stored file begin when it is its turn, unless the file is being read already. It refuses where too
// many wait.
func (c *captureReaders) add(job string, file book.Attachment, device string, work func(context.Context) error) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	id := job + file.SHA256.String()
	if t := c.now[id]; t != nil && t.trouble == "" || c.ctx.Err() != nil {
		return nil
	}
	own := 0
	for _, t := range c.waiting {
		if t.device == device {
			own++
		}
	}
	switch {
	case own >= mostWaitingOne:
		return say(http.StatusServiceUnavailable,
			fmt.Sprintf("%d recordings from this device wait to be read already.", own),
			"Read this one once they are done, or stop one of them.")
	case len(c.waiting) >= mostWaiting:
		return say(http.StatusServiceUnavailable, fmt.Sprintf("%d recordings wait to be read already.", len(c.waiting)),
			"Read this one once they are done.")
	}
	t := &task{captureState: captureState{total: file.Size}, job: job, file: file, device: device, work: work}
	t.ctx, t.cancel = context.WithCancel(c.ctx)
	if file.Size > smallFile {
		t.lane = longLane
	}
	c.now[id] = t
	c.waiting = append(c.waiting, t)
	c.begin()
	return nil
}

// refuse puts down why a file is not read.
func (c *captureReaders) refuse(job string, file book.Attachment, why string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now[job+file.SHA256.String()] = &task{captureState: captureState{trouble: why}}
}

// begin fills the lanes that are free.
func (c *captureReaders) begin() {
	for l := range lanes {
		if c.busy[l] != nil {
			continue
		}
		next := -1
		for i, t := range c.waiting {
			if t.lane == l && (next < 0 || c.last[l][t.device] < c.last[l][c.waiting[next].device]) {
				next = i
			}
		}
		if next < 0 {
			clear(c.last[l]) // nobody waits: everybody begins anew
			continue
		}
		t := c.waiting[next]
		c.waiting = slices.Delete(c.waiting, next, next+1)
		c.turns++
		c.last[l][t.device] = c.turns
		c.busy[l] = t
		t.began = c.clock()
		c.all.Add(1)
		beside.Start(func() { c.read(t) })
	}
}

// read is one turn.
func (c *captureReaders) read(t *task) {
	defer c.all.Done()
	ctx := t.ctx
	if t.lane == quickLane {
		var end context.CancelFunc
		ctx, end = context.WithTimeout(ctx, c.quick)
		defer end()
	}
	var err error
	broken := beside.Caught(func() { err = t.work(ctx) })
	where := ""
	if broken != "" {
		where = c.log(t, broken)
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.busy[t.lane] = nil
	t.done, t.began = 0, time.Time{}
	switch {
	case broken != "": // a message for the page, not the end of the shop's program
		t.trouble = "Something went wrong inside the program while reading this file. The file itself is safe. " + where
	case err == nil, c.ctx.Err() != nil:
		delete(c.now, t.job+t.file.SHA256.String())
	case t.ctx.Err() != nil:
		t.stopped()
	case errors.Is(ctx.Err(), context.DeadlineExceeded):
		t.lane = longLane
		c.waiting = append(c.waiting, t)
	default:
		t.trouble = captureTrouble(err)
	}
	if t.trouble != "" || err == nil {
		t.cancel()
	}
	if c.ctx.Err() == nil {
		c.begin()
	}
}

func (t *task) stopped() {
	t.trouble = "Not read: " + t.by + " stopped it. Read it again when you want it."
}

// progress notes how far a reading is.
func (c *captureReaders) progress(job string, sha book.Hash, done, total int64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if t := c.now[job+sha.String()]; t != nil && !t.began.IsZero() {
		t.done, t.total = done, total
	}
}

// end stops the reading of a file, or takes it out of the queue.
func (c *captureReaders) end(v *visit, job string, sha book.Hash) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	t := c.now[job+sha.String()]
	if t == nil || t.trouble != "" || t.stopping {
		return say(http.StatusConflict, "This recording is not being read.", "Load the list of recordings again.")
	}
	if !t.mayStop(v) {
		return say(http.StatusForbidden, "Another device asked for this recording to be read.",
			"Stop it there, or at the host’s screen.")
	}
	t.by, t.stopping = v.who, true
	t.cancel()
	if i := slices.Index(c.waiting, t); i >= 0 {
		c.waiting = slices.Delete(c.waiting, i, i+1)
		t.stopped()
	}
	return nil
}
