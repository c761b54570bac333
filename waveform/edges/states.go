package edges

import "phasewright/waveform/block"

// State is what stands on a wire of one bit.
type State uint8

// States. A wire begins with none.
const (
	Low State = iota
	High
	Unknown
	none
)

// States follows wires whose states are given, as those of a VCD.
type States struct {
	f     *Follower
	queue *queue
	state []State // by channel
}

// States begins to follow the channels that are given as states.
func (f *Follower) States() *States {
	s := &States{f: f, queue: f.order.add(), state: make([]State, len(f.Channels))}
	for i := range s.state {
		s.state[i] = none
	}
	return s
}

// Change takes the state of a channel at an instant, and says whether it is another than before.
func (s *States) Change(channel int, at block.Second, now State) bool {
	was := s.state[channel]
	if now == was {
		return false
	}
	s.state[channel] = now
	e := block.Edge{At: at, Channel: int32(channel)}
	switch {
	case now == Unknown && was == none:
		return true
	case now == Unknown:
		e.Kind = block.Lost
	case was <= High:
		e.Kind = block.Fall - block.EdgeKind(now)
	default:
		e.Kind = block.FoundLow + block.EdgeKind(now)
	}
	s.f.order.push(s.queue, e)
	return true
}

// Reached says that no change earlier than now will come.
func (s *States) Reached(now block.Second) { s.queue.hold = now }
