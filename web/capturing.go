package web

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"sync"

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
	trouble     string // why it could not be read; "" while it runs
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

// readCapture begins reading a stored file; the result comes into the book as capture.read.
func (s *Server) readCapture(job string, card *jobcard.Card, file book.Attachment, roles map[string]capture.Role, who string) {
	c := s.captures
	c.mu.Lock()
	id := job + file.SHA256.String()
	if now, ok := c.now[id]; ok && now.trouble == "" {
		c.mu.Unlock()
		return // it is being read
	}
	c.now[id] = captureState{total: file.Size}
	c.mu.Unlock()
	c.all.Add(1)
	go func() {
		defer c.all.Done()
		select {
		case c.turn <- struct{}{}:
		case <-c.ctx.Done():
			c.clear(job, file.SHA256)
			return
		}
		defer func() { <-c.turn }()
		defer func() { // a broken invariant in a reader is a message for the page, not the end of the shop's program
			if p := recover(); p != nil {
				s.Log.Error("reading a capture", "file", file.Name, "panic", p)
				c.set(job, file.SHA256, captureState{trouble: "Something went wrong inside the program while reading this file. The file itself is safe."})
			}
		}()
		err := s.captureOnce(job, card, file, roles, who)
		switch {
		case c.ctx.Err() != nil:
			c.clear(job, file.SHA256)
		case err != nil:
			c.set(job, file.SHA256, captureState{trouble: captureTrouble(err)})
		default:
			c.clear(job, file.SHA256)
		}
	}()
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

func (s *Server) captureOnce(job string, card *jobcard.Card, file book.Attachment, roles map[string]capture.Role, who string) error {
	c := s.captures
	r, size, err := s.Book.OpenAttachment(c.ctx, file.SHA256)
	if err != nil {
		return err
	}
	defer r.Close()
	in := signal.Stream(file.Name, r, size)
	if at, ok := r.(io.ReaderAt); ok {
		in = signal.File(file.Name, at, size)
	}
	progress := func(done, total int64) { c.set(job, file.SHA256, captureState{done: done, total: total}) }
	res, err := capture.Run(c.ctx, capture.Recording{Input: in, Options: signal.Options{Workers: 1, Progress: progress}},
		capture.Options{Card: card, Roles: roles, MostAnomalies: listedAnomalies})
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
