package capture

import (
	"fmt"
	"runtime/debug"

	"phasewright/signal"
)

// caught does work and says which invariant broke in it, with its trace; "" for none. Whoever waits for the work panics with that on its own goroutine, where it can
// be caught by whoever called Run.
func caught(work func()) (broken string) {
	defer func() {
		if p := recover(); p != nil {
			broken = fmt.Sprintf("%v\n%s", p, debug.Stack())
		}
	}()
	work()
	return ""
}

// aside lets a ledger work on a goroutine of its own, some batches of notes behind the tracker. What it finds is the same as in place.
type aside struct {
	full, free chan *notes
	done       chan struct{}
	broken     string // the invariant that broke on that goroutine
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
			if s.broken == "" {
				s.broken = caught(func() { to.take(b) })
			}
			s.free <- b
		}
	}()
	return s
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
		p.broken = caught(func() { p.plan = newPlan(s, channels, edges) })
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
