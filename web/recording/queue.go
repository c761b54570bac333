package recording

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
	"phasewright/web/page"
)

// Recordings are read one short and one long file at a time, each on one processor, so that pages stay quick meanwhile.
// A small file counts as short; one that is not done within a turn, whatever it unpacks to, begins again as a long one
// behind the others. Among the short ones, and among the long ones, devices take turns.
const (
	smallFile      = 4 << 20         // bytes on disk
	shortTurn      = 2 * time.Second // some 200 MB of text at the 100 MB/s measured with two processors under load
	mostWaiting    = 40              // recordings that wait, of all devices
	mostWaitingOne = 8               // of one device
)

// length says how long a reading takes.
type length int

const (
	short length = iota
	long
	lengths
)

// progress is how far the reading of a recording has come.
type progress struct {
	done, total int64
	began       time.Time // zero while it waits for its turn
	stopping    bool
	trouble     string // why it could not be read; "" while it waits or runs
}

// task is one recording that is read, waits for it, or could not be read.
type task struct {
	progress
	job    string
	file   book.Attachment
	device string // who asked for it
	work   func(ctx context.Context) error
	length length
	ctx    context.Context
	cancel context.CancelFunc
	by     string // who stopped it
}

// queue is the recordings that are read or wait for it.
type queue struct {
	turn  time.Duration                               // of a short one
	broke func(t *task, broken string) (where string) // writes down what broke, and says where that is found
	over  func(id string)                             // hears of a task that is done, refused or stopped
	clock func() time.Time

	mu      sync.Mutex
	tasks   map[string]*task // by job and hash
	waiting []*task          // in the order in which they came
	busy    [lengths]*task
	last    [lengths]map[string]int // by device: the number of its last turn
	turns   int
	all     sync.WaitGroup
	stop    context.CancelFunc
	ctx     context.Context
}

func newQueue(clock func() time.Time, broke func(*task, string) string) *queue {
	ctx, stop := context.WithCancel(context.Background())
	return &queue{turn: shortTurn, broke: broke, clock: clock, tasks: map[string]*task{},
		last: [lengths]map[string]int{{}, {}}, ctx: ctx, stop: stop, over: func(string) {}}
}

func taskID(job string, sha book.Hash) string { return job + sha.String() }

func (c *queue) state(job string, sha book.Hash) (progress, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if t := c.tasks[taskID(job, sha)]; t != nil {
		return t.progress, true
	}
	return progress{}, false
}

// mayStop says whether the sender of a request may stop the reading of a file: whoever asked for it, and instructors.
func (c *queue) mayStop(by *page.Session, job string, sha book.Hash) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	t := c.tasks[taskID(job, sha)]
	return t != nil && t.mayStop(by)
}

func (t *task) mayStop(by *page.Session) bool {
	return t.trouble == "" && !t.stopping &&
		(by.Role >= page.Instructor || by.Role >= page.Work && t.device == by.Device)
}

// close stops what is being read and waits for it. What was not finished can be read again from the page.
func (c *queue) close() {
	c.mu.Lock()
	c.stop()
	c.waiting = nil
	c.mu.Unlock()
	c.all.Wait()
}

// add lets work on a stored file begin when it is its turn, unless the file is being read already. It refuses where too
// many wait.
func (c *queue) add(job string, file book.Attachment, device string, work func(context.Context) error) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	id := taskID(job, file.SHA256)
	if t := c.tasks[id]; t != nil && t.trouble == "" || c.ctx.Err() != nil {
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
		return page.Say(http.StatusServiceUnavailable,
			fmt.Sprintf("%d recordings from this device wait to be read already.", own),
			"Read this one once they are done, or stop one of them.")
	case len(c.waiting) >= mostWaiting:
		return page.Say(http.StatusServiceUnavailable,
			fmt.Sprintf("%d recordings wait to be read already.", len(c.waiting)),
			"Read this one once they are done.")
	}
	t := &task{progress: progress{total: file.Size}, job: job, file: file, device: device, work: work}
	t.ctx, t.cancel = context.WithCancel(c.ctx)
	if file.Size > smallFile {
		t.length = long
	}
	c.tasks[id] = t
	c.waiting = append(c.waiting, t)
	c.begin()
	return nil
}

// refuse puts down why a file is not read.
func (c *queue) refuse(job string, file book.Attachment, why string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.tasks[taskID(job, file.SHA256)] = &task{progress: progress{trouble: why}}
}

// begin lets the next short and the next long one begin, where none is being read.
func (c *queue) begin() {
	for l := range lengths {
		if c.busy[l] != nil {
			continue
		}
		next := -1
		for i, t := range c.waiting {
			if t.length == l && (next < 0 || c.last[l][t.device] < c.last[l][c.waiting[next].device]) {
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
func (c *queue) read(t *task) {
	defer c.all.Done()
	ctx := t.ctx
	if t.length == short {
		var end context.CancelFunc
		ctx, end = context.WithTimeout(ctx, c.turn)
		defer end()
	}
	var err error
	broken, where := beside.Caught(func() { err = t.work(ctx) }), ""
	if broken != "" {
		where = c.broke(t, broken)
	}
	ended := false
	defer func() {
		if ended {
			c.over(taskID(t.job, t.file.SHA256))
		}
	}()
	c.mu.Lock()
	defer c.mu.Unlock()
	c.busy[t.length] = nil
	t.done, t.began = 0, time.Time{}
	switch {
	case broken != "": // a message for the page, not the end of the shop's program
		t.trouble = "Something went wrong inside the program while reading this file. The file itself is safe. " + where
	case err == nil, c.ctx.Err() != nil:
		delete(c.tasks, taskID(t.job, t.file.SHA256))
	case t.ctx.Err() != nil:
		t.stopped()
	case errors.Is(ctx.Err(), context.DeadlineExceeded):
		t.length = long
		c.waiting = append(c.waiting, t)
	default:
		t.trouble = readingTrouble(err)
	}
	if t.trouble != "" || err == nil {
		t.cancel()
		ended = true
	}
	if c.ctx.Err() == nil {
		c.begin()
	}
}

func (t *task) stopped() {
	t.trouble = "Not read: " + t.by + " stopped it. Read it again when you want it."
}

// report notes how far a reading is.
func (c *queue) report(job string, sha book.Hash, done, total int64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if t := c.tasks[taskID(job, sha)]; t != nil && !t.began.IsZero() {
		t.done, t.total = done, total
	}
}

// end stops the reading of a file, or takes it out of the queue.
func (c *queue) end(by *page.Session, job string, sha book.Hash) error {
	ended := false
	defer func() {
		if ended {
			c.over(taskID(job, sha))
		}
	}()
	c.mu.Lock()
	defer c.mu.Unlock()
	t := c.tasks[taskID(job, sha)]
	if t == nil || t.trouble != "" || t.stopping {
		return page.Say(http.StatusConflict, "This recording is not being read.", "Load the list of recordings again.")
	}
	if !t.mayStop(by) {
		return page.Say(http.StatusForbidden, "Another device asked for this recording to be read.",
			"Stop it there, or at the host’s screen.")
	}
	t.by, t.stopping = by.Who, true
	t.cancel()
	if i := slices.Index(c.waiting, t); i >= 0 {
		c.waiting = slices.Delete(c.waiting, i, i+1)
		t.stopped()
		ended = true
	}
	return nil
}
