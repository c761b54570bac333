package capture

import "phasewright/signal"

const (
	relayed = 1 << 14 // edges handed over at a time: 384 KiB
	relays  = 4
)

// relay hands edges to an Analyser on a goroutine of its own, so that reading and judging go on side by side: in a dump of logic changes, which is nothing but
// edges, the Analyser takes more than half of all processor time. The order stays. An error of the Analyser comes back with a later call, at the latest from close.
type relay struct {
	to     *Analyser
	full   chan parcel
	free   chan []signal.Edge
	failed chan struct{} // closed when err is set
	done   chan struct{}
	err    error
}

// parcel is a batch of edges, or a channel whose levels were learnt.
type parcel struct {
	edges   []signal.Edge
	learnt  *signal.Channel
	channel int
}

var _ signal.Reviser = (*relay)(nil)

func newRelay(to *Analyser) *relay {
	r := &relay{to: to, full: make(chan parcel, relays), free: make(chan []signal.Edge, relays), failed: make(chan struct{}), done: make(chan struct{})}
	for range relays {
		r.free <- nil
	}
	go r.run()
	return r
}

func (r *relay) run() {
	defer close(r.done)
	for p := range r.full {
		if r.err == nil {
			var err error
			if p.learnt != nil {
				err = r.to.Revise(p.channel, *p.learnt)
			} else {
				err = r.to.Edges(p.edges)
			}
			if err != nil {
				r.err = err
				close(r.failed)
			}
		}
		if p.learnt == nil {
			r.free <- p.edges
		}
	}
}

// Begin goes straight on: nothing was handed over before it.
func (r *relay) Begin(info signal.Info) error { return r.to.Begin(info) }

// Revise hands on levels learnt later.
func (r *relay) Revise(index int, c signal.Channel) error {
	return r.send(parcel{learnt: &c, channel: index})
}

// Edges hands on a copy of the edges.
func (r *relay) Edges(batch []signal.Edge) error {
	for len(batch) > 0 {
		n := min(len(batch), relayed)
		b := <-r.free
		if err := r.send(parcel{edges: append(b[:0], batch[:n]...)}); err != nil {
			return err
		}
		batch = batch[n:]
	}
	return nil
}

func (r *relay) send(p parcel) error {
	select {
	case <-r.failed:
		if p.learnt == nil {
			r.free <- p.edges
		}
		return r.err
	default:
		r.full <- p
		return nil
	}
}

// close waits until everything handed over was taken.
func (r *relay) close() error {
	close(r.full)
	<-r.done
	return r.err
}
