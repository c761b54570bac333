package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"sync"
	"time"

	"phasewright/beside"
	"phasewright/book"
	"phasewright/capture"
	"phasewright/jobcard"
	"phasewright/signal"
)

// listedAnomalies bounds what one reading of a capture keeps one by one; all are counted.
const listedAnomalies = 100

// captureState is how far the reading of a capture has come.
type captureState struct {
	done, total int64
	began       time.Time // zero while it waits for its turn
	trouble     string    // why it could not be read; "" while it runs
}

// percent of the file that was read, 0 to 100; -1 where it is not known.
func (c captureState) percent() int {
	if c.total <= 0 || c.done <= 0 {
		return -1
	}
	return int(min(100, 100*c.done/c.total))
}

// words say how far the reading is and, once that can be told, how long it will take.
func (c captureState) words(now time.Time) string {
	p := c.percent()
	switch {
	case c.began.IsZero():
		return "being read once those before it are done"
	case p < 0:
		return "being read"
	}
	text := fmt.Sprintf("being read: %d %%", p)
	took := now.Sub(c.began)
	if p < 2 || took < time.Second {
		return text
	}
	left := time.Duration(float64(took) * float64(c.total-c.done) / float64(c.done))
	return text + ", " + togo(left)
}

// togo says how long something will take, no finer than such a guess is good for.
func togo(left time.Duration) string {
	switch s := left.Seconds(); {
	case s < 5:
		return "a few seconds to go"
	case s < 55:
		return fmt.Sprintf("about %d s to go", 5*int(math.Ceil(s/5)))
	case s < 3600:
		return fmt.Sprintf("about %d min to go", int(math.Ceil(s/60)))
	}
	return "more than an hour to go"
}

// reading of captures is done one at a time and on one processor, so that pages stay quick meanwhile.
type captureReaders struct {
	turn chan struct{}
	mu   sync.Mutex
	now  map[string]captureState // by job and hash
	all  sync.WaitGroup
	stop context.CancelFunc
	ctx  context.Context
}

func newCaptureReaders() *captureReaders {
	ctx, stop := context.WithCancel(context.Background())
	return &captureReaders{turn: make(chan struct{}, 1), now: map[string]captureState{}, ctx: ctx, stop: stop}
}

func (c *captureReaders) state(job string, sha book.Hash) (captureState, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	s, ok := c.now[job+sha.String()]
	return s, ok
}

func (c *captureReaders) set(job string, sha book.Hash, s captureState) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now[job+sha.String()] = s
}

func (c *captureReaders) clear(job string, sha book.Hash) {
	c.mu.Lock()
	defer c.mu.Unlock()
	delete(c.now, job+sha.String())
}

// close stops what is being read and waits for it. What was not finished can be read again from the page.
func (c *captureReaders) close() {
	c.stop()
	c.all.Wait()
}

// waiting is how many files are being read or wait for it.
func (c *captureReaders) waiting() int {
	c.mu.Lock()
	defer c.mu.Unlock()
	n := 0
	for _, one := range c.now {
		if one.trouble == "" {
			n++
		}
	}
	return n
}

// readCapture begins reading a stored file; the result comes into the book as capture.read.
func (s *Server) readCapture(job string, card *jobcard.Card, file book.Attachment, roles map[string]capture.Role, who string) {
	s.beginReading(job, file, func() error { return s.captureOnce(job, card, file, roles, who) })
}

// beginReading lets work on a stored file begin as soon as it is its turn, unless the file is being read already.
func (s *Server) beginReading(job string, file book.Attachment, work func() error) {
	c := s.captures
	c.mu.Lock()
	id := job + file.SHA256.String()
	if now, ok := c.now[id]; ok && now.trouble == "" {
		c.mu.Unlock()
		return
	}
	c.now[id] = captureState{total: file.Size}
	c.mu.Unlock()
	c.all.Add(1)
	beside.Start(func() {
		defer c.all.Done()
		select {
		case c.turn <- struct{}{}:
		case <-c.ctx.Done():
			c.clear(job, file.SHA256)
			return
		}
		defer func() { <-c.turn }()
		c.set(job, file.SHA256, captureState{total: file.Size, began: s.Clock()})
		var err error
		broken := beside.Caught(func() { err = work() })
		switch {
		case broken != "": // a message for the page, not the end of the shop's program
			number, where := numberOfTrouble()
			s.Log.Error("reading a recording broke down", "number", number, "job", job, "file", file.SHA256, "err", broken)
			c.set(job, file.SHA256, captureState{trouble: "Something went wrong inside the program while reading this file. The file itself is safe. " + where})
		case c.ctx.Err() != nil:
			c.clear(job, file.SHA256)
		case err != nil:
			c.set(job, file.SHA256, captureState{trouble: captureTrouble(err)})
		default:
			c.clear(job, file.SHA256)
		}
	})
}

// captureTrouble puts a reader's refusal into words; it names place, fault and remedy itself.
func captureTrouble(err error) string {
	var problem *signal.Problem
	if errors.As(err, &problem) {
		return problem.Error()
	}
	p := words(err)
	if p.status == 500 {
		return err.Error()
	}
	return p.what + " " + p.doing
}

// readingOptions read a file on one processor, tell how far it is, and build the overview that its waveform is drawn from.
func (s *Server) readingOptions(job string, file book.Attachment) signal.Options {
	c := s.captures
	began := s.Clock()
	return signal.Options{Workers: 1, Overview: true, Progress: func(done, total int64) {
		c.set(job, file.SHA256, captureState{done: done, total: total, began: began})
	}}
}

func (s *Server) captureOnce(job string, card *jobcard.Card, file book.Attachment, roles map[string]capture.Role, who string) error {
	c := s.captures
	lent := &lentFile{book: s.Book, sha: file.SHA256}
	if err := lent.open(c.ctx); err != nil {
		return err
	}
	defer lent.done()
	got := &keeping{Recording: capture.Recording{Input: lent.input(file.Name), Options: s.readingOptions(job, file)}}
	res, err := capture.Run(c.ctx, got, capture.Options{Card: card, Roles: roles, MostAnomalies: listedAnomalies})
	s.keepWave(file.SHA256, got.result, lent)
	if res == nil || c.ctx.Err() != nil {
		return err
	}
	res.Name = file.Name
	summary, err := json.Marshal(res)
	if err != nil {
		return err
	}
	if len(summary) > book.MaxPayload-1000 {
		res.Series = nil
		if summary, err = json.Marshal(res); err != nil {
			return err
		}
	}
	payload, err := json.Marshal(map[string]any{"sha256": file.SHA256, "summary": json.RawMessage(summary)})
	if err != nil {
		return err
	}
	_, err = s.Book.Append(c.ctx, job, book.AnyVersion, book.Draft{Who: who, Kind: book.KindCaptureRead, Payload: payload})
	return err
}
