package waveform

import (
	"context"
	"io"

	"phasewright/beside"
)

// interruptible reads from what may keep its reader waiting for ever, such as a pipe, and stops waiting when it is told
// to stop. What is read meanwhile goes to room of its own: the caller's is no longer there.
type interruptible struct {
	ctx  context.Context
	r    io.Reader
	room []byte
	err  error
}

func (p *interruptible) Read(b []byte) (int, error) {
	if p.err != nil {
		return 0, p.err
	}
	if err := p.ctx.Err(); err != nil {
		return 0, err
	}
	if p.room == nil {
		p.room = make([]byte, 64<<10) // what a pipe holds at most
	}
	room := p.room[:min(len(b), len(p.room))]
	var n int
	var err error
	reading := beside.Start(func() { n, err = p.r.Read(room) })
	select {
	case <-reading.Done():
		reading.Wait()
		return copy(b, room[:n]), err
	case <-p.ctx.Done():
		p.err = p.ctx.Err()
		return 0, p.err
	}
}
