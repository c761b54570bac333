package capture

import (
	"fmt"
	"runtime/debug"

	"phasewright/signal"
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

// planning makes a plan on a goroutine of its own.
type planning struct {
	done   chan struct{}
	plan   *plan
	broken string
}

// newPlanning begins with the edges kept so far, whose slice may grow meanwhile.
func newPlanning(s *setup, channels []signal.Channel, edges []signal.Edge) *planning {
	p := &planning{done: make(chan struct{})}
	channels = append([]signal.Channel(nil), channels...)
	go func() {
		defer close(p.done)
		defer func() {
			if broke := recover(); broke != nil {
				p.broken = fmt.Sprintf("%v\n%s", broke, debug.Stack())
			}
		}()
		p.plan = newPlan(s, channels, edges)
	}()
	return p
}

func (p *planning) made() bool {
	select {
	case <-p.done:
		return true
	default:
		return false
	}
}

// wait gives the plan once it is made.
func (p *planning) wait() *plan {
	<-p.done
	if p.broken != "" {
		panic(p.broken)
	}
	return p.plan
}
