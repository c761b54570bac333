package shaft

import (
	"phasewright/beside"
	"phasewright/waveform"
)

// aside lets a ledger work on a goroutine of its own, some batches of notes behind the tracker. What it finds is the same as in place.
type aside struct {
	full, free chan *notes
	work       *beside.Work
}

const asides = 3

func newAside(to *ledger) *aside {
	s := &aside{full: make(chan *notes, asides), free: make(chan *notes, asides+1)}
	for range asides {
		s.free <- newNotes()
	}
	s.work = beside.Start(func() {
		broken := ""
		for b := range s.full { // to the end, whatever breaks: the tracker waits for empty batches
			if broken == "" {
				broken = beside.Caught(func() { to.take(b) })
			}
			s.free <- b
		}
		if broken != "" {
			panic(broken)
		}
	})
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
	s.work.Wait()
}

// planning makes a plan on a goroutine of its own.
type planning struct {
	work *beside.Work
	plan *plan
}

// newPlanning begins with the edges kept so far, whose slice may grow meanwhile.
func newPlanning(s *setup, channels []waveform.Channel, edges []waveform.Edge) *planning {
	p := &planning{}
	channels = append([]waveform.Channel(nil), channels...)
	p.work = beside.Start(func() { p.plan = newPlan(s, channels, edges) })
	return p
}

func (p *planning) made() bool {
	select {
	case <-p.work.Done():
		return true
	default:
		return false
	}
}

// wait gives the plan once it is made.
func (p *planning) wait() *plan {
	p.work.Wait()
	return p.plan
}
