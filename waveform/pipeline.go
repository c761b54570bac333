package waveform

import (
	"context"
	"errors"
	"io"

	"phasewright/beside"
)

const (
	defaultChunk = 256 << 10
	csvChunk     = 512 << 10
	wavChunk     = 1 << 20 // a chunk of samples is quickly done: fewer of them wait for one another less
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
	want   int // bytes to read, where chunks are read at their places
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
	direct  *direct // nil: r is read on one goroutine
	tick    func()  // after each commit
	read    int64   // bytes committed, counted from the beginning of the recording
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
	var working []*beside.Work
	working = append(working, beside.Start(func() {
		defer close(jobs)
		defer close(order)
		if p.direct != nil {
			p.deal(ctx, free, jobs, order)
		} else {
			p.fill(ctx, r, off, free, jobs, order)
		}
	}))
	for range p.workers {
		working = append(working, beside.Start(func() {
			for c := range jobs {
				if ctx.Err() == nil {
					p.parse(c)
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
	for _, w := range working {
		w.Wait()
	}
	return nil
}

// parse keeps a broken invariant for the goroutine that called run.
func (p *pipeline) parse(c *chunk) {
	c.broken = beside.Caught(func() {
		if p.direct != nil {
			p.load(c)
		}
		p.dec.parse(c)
	})
}

// direct is a stretch of the input that may be cut anywhere at a multiple of unit bytes from its beginning, so that each goroutine reads what it will parse:
// samples then need not pass from one processor's cache to the other's.
type direct struct {
	at       io.ReaderAt
	from, to int64
	unit     int
}

// deal hands out the places of chunks.
func (p *pipeline) deal(ctx context.Context, free <-chan *chunk, jobs, order chan<- *chunk) {
	d := p.direct
	size := int64(max(1, p.size/d.unit) * d.unit)
	for off := d.from; ; off += size {
		var c *chunk
		select {
		case c = <-free:
		case <-ctx.Done():
			return
		}
		c.off, c.want, c.err = off, int(min(size, d.to-off)), nil
		c.last = off+size >= d.to
		last := c.last // the chunk is another's as soon as it is handed out
		order <- c
		jobs <- c
		if last {
			return
		}
	}
}

// load reads a chunk at its place. Where the file has become shorter meanwhile, whole units are kept.
func (p *pipeline) load(c *chunk) {
	b := c.room(c.want)
	n, err := p.direct.at.ReadAt(b, c.off)
	p.src.done.Add(int64(n))
	if n < c.want {
		if err == nil || err == io.EOF {
			c.err = problemAtByte(ErrTruncated, c.off+int64(n), "what came before is used; read it again once it is whole", "the file has become shorter while it was read")
		} else {
			c.err = p.src.explain(err, c.off+int64(n))
		}
		n = n / p.direct.unit * p.direct.unit
	}
	c.pad(n)
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
