package capture

import (
	"fmt"
	"runtime/debug"
)

// aside lets a ledger work on a goroutine of its own, some batches of notes behind the tracker. What it finds is the same as in place.
type aside struct {
	full, free chan *notes
	done       chan struct{}
	broken     string // the invariant that broke on that goroutine, with its trace
}

const asides = 3

func newAside(to *ledger) *aside {
	s := &aside{full: make(chan *notes, asides), free: make(chan *notes, asides+1), done: make(chan struct{})}
	for range asides {
		s.free <- newNotes()
	}
	go func() {
		defer close(s.done)
		for b := range s.full {
			s.listen(to, b)
			s.free <- b
		}
	}()
	return s
}

// listen keeps a broken invariant for close: there it can be caught by whoever called Run.
func (s *aside) listen(to *ledger, b *notes) {
	if s.broken != "" {
		return
	}
	defer func() {
		if p := recover(); p != nil {
			s.broken = fmt.Sprintf("%v\n%s", p, debug.Stack())
		}
	}()
	to.take(b)
}

// swap hands over a batch and gives an empty one.
func (s *aside) swap(b *notes) *notes {
	s.full <- b
	return <-s.free
}

// close waits until everything was taken. Once is enough.
func (s *aside) close() {
	close(s.full)
	<-s.done
	if s.broken != "" {
		panic(s.broken)
	}
}
