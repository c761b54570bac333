package signal

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime/debug"
	"sync"
)

const (
	defaultChunk = 256 << 10
	chunkPad     = 64      // zero bytes kept before and behind a chunk's data, so that words can be loaded across its ends
	maxUnit      = 1 << 20 // longest line of a table, token of a VCD
)

// chunk is a stretch of the recording that begins and ends where the format can be cut.
type chunk struct {
	data   []byte // the stretch
	padded []byte // chunkPad bytes, the stretch, chunkPad zero bytes
	buf    []byte
	off    int64 // of data[0] in the decompressed recording
	last   bool  // nothing follows
	err    error // the input failed after this stretch
	broken string
	done   chan struct{}

	csv csvRows
	vcd vcdEvents
	wav wavBlocks
}

// decoder is one format's way through the pipeline.
type decoder interface {
	split(b []byte, last bool) int // how many bytes of b make whole units; 0: none yet
	parse(c *chunk)                // called in parallel, in any order
	commit(c *chunk) error         // called in the order of the recording
}

// pipeline reads r in chunks, parses them in parallel and commits them in order. Reading, parsing and committing overlap; workers+2 chunks exist at any time.
type pipeline struct {
	src     *source
	dec     decoder
	workers int
	size    int
	tick    func() // after each commit
	read    int64  // bytes committed, counted from the beginning of the recording
}

func (p *pipeline) run(ctx context.Context, r io.Reader, off int64) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	n := p.workers + 2
	free := make(chan *chunk, n)
	jobs := make(chan *chunk, n)
	order := make(chan *chunk, n)
	for range n {
		free <- &chunk{done: make(chan struct{}, 1)}
	}
	var wg sync.WaitGroup
	wg.Add(1 + p.workers)
	go func() {
		defer wg.Done()
		defer close(jobs)
		defer close(order)
		p.fill(ctx, r, off, free, jobs, order)
	}()
	for range p.workers {
		go func() {
			defer wg.Done()
			for c := range jobs {
				if ctx.Err() == nil {
					p.parse(c)
				}
				c.done <- struct{}{}
			}
		}()
	}
	for {
		var c *chunk
		select {
		case c = <-order:
		case <-ctx.Done():
			return ctx.Err() // a pipe may block its reader for ever: do not wait for it
		}
		if c == nil {
			break
		}
		<-c.done
		if c.broken != "" {
			panic(c.broken)
		}
		err := ctx.Err()
		if err == nil {
			err = p.dec.commit(c)
			p.read = c.off + int64(len(c.data))
		}
		if err == nil && p.tick != nil {
			p.tick()
		}
		if err == nil {
			err = c.err
		}
		if err != nil {
			return err
		}
		free <- c
	}
	wg.Wait()
	return nil
}

// parse keeps a broken invariant for the goroutine that called run: there it can be caught by whoever asked for the recording.
func (p *pipeline) parse(c *chunk) {
	defer func() {
		if broke := recover(); broke != nil {
			c.broken = fmt.Sprintf("%v\n%s", broke, debug.Stack())
		}
	}()
	p.dec.parse(c)
}

// fill cuts the input into chunks. What a chunk cannot hold whole is carried to the next.
func (p *pipeline) fill(ctx context.Context, r io.Reader, off int64, free <-chan *chunk, jobs, order chan<- *chunk) {
	var carry []byte
	for {
		var c *chunk
		select {
		case c = <-free:
		case <-ctx.Done():
			return
		}
		c.last, c.err = false, nil
		n := copy(c.room(max(p.size, len(carry)+1)), carry)
		want := max(p.size, n+1)
		cut := 0
		for {
			b := c.room(want)
			k, err := readFull(r, b[n:want])
			n += k
			if err == io.EOF {
				c.last = true
			} else if err != nil {
				c.last, c.err = true, p.src.explain(err, off+int64(n))
			}
			cut = p.dec.split(b[:n], c.last)
			if c.last && c.err == nil {
				cut = n // the last unit may lack its end; where the input failed, what follows the last whole unit is of no use
			}
			if cut > 0 || c.last {
				break
			}
			if n > maxUnit {
				c.last, cut = true, 0
				c.err = problemAtByte(ErrMalformed, off, "is this a recording?", "more than %d bytes without a line end or a blank", maxUnit)
				break
			}
			want = max(want*2, 1024)
		}
		carry = append(carry[:0], c.room(n)[cut:n]...)
		c.pad(cut)
		c.off = off
		off += int64(cut)
		order <- c
		jobs <- c
		if c.last {
			return
		}
	}
}

// room makes the buffer hold n bytes between two pads, keeping what is in it.
func (c *chunk) room(n int) []byte {
	if len(c.buf) < n+2*chunkPad {
		b := make([]byte, n+2*chunkPad)
		copy(b, c.buf)
		c.buf = b
	}
	return c.buf[chunkPad : chunkPad+n]
}

// pad closes the chunk behind its n bytes.
func (c *chunk) pad(n int) {
	clear(c.buf[chunkPad+n : 2*chunkPad+n])
	c.padded = c.buf[:2*chunkPad+n]
	c.data = c.padded[chunkPad : chunkPad+n]
}

// readFull is io.ReadFull that gives io.EOF at the end whatever was read, and other errors as they are.
func readFull(r io.Reader, b []byte) (int, error) {
	n, idle := 0, 0
	for n < len(b) {
		k, err := r.Read(b[n:])
		n += k
		if err != nil {
			return n, err
		}
		if k > 0 {
			idle = 0
		} else if idle++; idle > 100 {
			return n, errors.New("the input gives nothing and does not end")
		}
	}
	return n, nil
}
