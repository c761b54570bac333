package waveform

import (
	"context"
	"errors"
	"io"

	"phasewright/beside"
	"phasewright/waveform/block"
	"phasewright/waveform/vcd"
	"phasewright/waveform/wav"
)

const (
	defaultChunk = 256 << 10
	longestUnit  = 1 << 20 // line of a table, word of a VCD
)

// chunk is a stretch of the recording that begins and ends where the format can be cut.
type chunk struct {
	data   []byte
	buf    []byte // room for data
	off    int64  // of data[0] in the decompressed recording
	last   bool   // nothing follows
	err    error  // the input failed after this stretch
	broken string // the invariant that broke while it was parsed, with its trace
	done   chan struct{}

	// What was parsed, and by what: the room is used again for the next chunk.
	parser  rowParser
	rows    block.Rows
	changes vcd.Changes
	extents []wav.Extent
}

// decoder is one format's way through the pipeline.
type decoder interface {
	split(b []byte, last bool) int // how many bytes of b make whole units; 0: none yet
	parse(c *chunk)                // called in parallel, in any order
	commit(c *chunk) error         // called in the order of the recording
}

// pipeline reads a recording in chunks, parses them in parallel and commits them in order. Reading, parsing and
// committing overlap; workers+2 chunks exist at any time.
type pipeline struct {
	src     *source
	dec     decoder
	workers int
	size    int    // bytes of a chunk
	end     int64  // where the body must end; -1 when that is not known
	tick    func() // after each commit
	read    int64  // bytes committed, counted from the beginning of the recording
}

func (p *pipeline) run(ctx context.Context, r io.Reader, off int64) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	n := p.workers + 2
	free, jobs, order := make(chan *chunk, n), make(chan *chunk, n), make(chan *chunk, n)
	for range n {
		free <- &chunk{done: make(chan struct{}, 1)}
	}
	working := []*beside.Work{beside.Start(func() {
		defer close(jobs)
		defer close(order)
		p.fill(ctx, r, off, free, jobs, order)
	})}
	for range p.workers {
		working = append(working, beside.Start(func() {
			for c := range jobs {
				if ctx.Err() == nil {
					c.broken = beside.Caught(func() { p.dec.parse(c) })
				}
				c.done <- struct{}{}
			}
		}))
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
		if err := p.commit(ctx, c); err != nil {
			return err
		}
		free <- c
	}
	for _, w := range working {
		w.Wait()
	}
	return nil
}

// commit takes a chunk over; an error of the input comes after what was read before it.
func (p *pipeline) commit(ctx context.Context, c *chunk) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	p.read = c.off + int64(len(c.data))
	if err := p.dec.commit(c); err != nil {
		return err
	}
	if p.tick != nil {
		p.tick()
	}
	return c.err
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
		n := p.fillOne(r, c, off, carry)
		carry = append(carry[:0], c.buf[len(c.data):n]...)
		off += int64(len(c.data))
		last := c.last // the chunk is another's as soon as it is handed out
		order <- c
		jobs <- c
		if last {
			return
		}
	}
}

// fillOne reads the chunk that begins at off, of which carry is known already, and says how many bytes its buffer
// holds.
func (p *pipeline) fillOne(r io.Reader, c *chunk, off int64, carry []byte) (n int) {
	c.off, c.last, c.err = off, false, nil
	c.room(max(p.size, len(carry)+1))
	n = copy(c.buf, carry)
	for want := max(p.size, n+1); ; want = max(want*2, 1024) {
		c.room(want)
		k, err := readFull(r, c.buf[n:want])
		n += k
		switch {
		case err == io.EOF && p.end > off+int64(n):
			c.last = true
			c.err = block.AtByte(ErrTruncated, off+int64(n), "what came before is used; read it again once it is whole",
				"the file has become shorter while it was read")
		case err == io.EOF:
			c.last = true
		case err != nil:
			c.last, c.err = true, p.src.explain(err, off+int64(n))
		}
		cut := p.dec.split(c.buf[:n], c.last)
		if c.last && c.err == nil {
			// the last unit may lack its end; where the input failed, what follows the last whole unit is of no use
			cut = n
		}
		if cut == 0 && !c.last && n > longestUnit {
			c.last = true
			c.err = block.AtByte(ErrMalformed, off, "is this a recording?",
				"more than %d bytes without a line end or a blank",
				longestUnit)
		}
		if cut > 0 || c.last {
			c.data = c.buf[:cut]
			return n
		}
	}
}

// room makes the buffer hold n bytes, keeping what is in it.
func (c *chunk) room(n int) {
	if len(c.buf) < n {
		b := make([]byte, n)
		copy(b, c.buf)
		c.buf = b
	}
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
