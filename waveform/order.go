package waveform

import (
	"math"
	"slices"
)

// maxHeld bounds the edges that wait for their place in time: 24 MiB.
const maxHeld = 1 << 20

// lane is a queue of edges in order of time: one a sampled channel, one for all wires of a VCD. Short pulses are taken out while they wait.
type lane struct {
	edges []Edge
	base  int64  // number of edges[0] since the beginning
	hold  Second // nothing earlier than this will be pushed any more
	many  bool   // several channels share the lane: equal times are put in order of channel
}

// merger puts the lanes' edges in one order of time and hands them on.
type merger struct {
	lanes  []*lane
	glitch Second
	chans  []Channel
	last   []int64 // per channel: number in its lane of the last edge that may still be half of a short pulse; -1 none
	out    []Edge
	sink   Sink
	moved  int64
	counts [][ShortLow + 1]int64 // per channel and kind
	done   Second                // time of the last edge handed on
}

func newMerger(sink Sink, chans []Channel, lanes int, glitch Second) *merger {
	m := &merger{glitch: glitch, chans: chans, sink: sink, last: make([]int64, len(chans)), counts: make([][ShortLow + 1]int64, len(chans)), out: make([]Edge, 0, 4096)}
	m.done = Second(math.Inf(-1))
	for i := range m.last {
		m.last[i] = -1
	}
	for range lanes {
		m.lanes = append(m.lanes, &lane{hold: Second(math.Inf(-1))})
	}
	return m
}

// push adds an edge, or turns the one before it into a short pulse.
func (m *merger) push(l *lane, e Edge) {
	c := e.Channel
	if e.Kind > Fall {
		m.last[c] = -1
		l.edges = append(l.edges, e)
		return
	}
	if k := m.last[c]; k >= l.base {
		p := &l.edges[k-l.base]
		if w := e.At - p.At; p.Kind != e.Kind && (w < m.glitch || w <= 0) {
			p.Width = w
			if p.Kind == Rise {
				p.Kind = ShortHigh
			} else {
				p.Kind = ShortLow
			}
			m.last[c] = -1
			return
		}
	}
	m.last[c] = l.base + int64(len(l.edges))
	l.edges = append(l.edges, e)
}

// flush hands on what can no longer change or be overtaken. At the end, everything.
func (m *merger) flush(end bool) error {
	limit := Second(math.Inf(1))
	held := 0
	for _, l := range m.lanes {
		limit = min(limit, l.hold-m.glitch)
		held += len(l.edges)
	}
	if held == 0 {
		return nil
	}
	if end {
		limit = Second(math.Inf(1))
	}
	if len(m.lanes) == 1 {
		if err := m.flushOne(limit); err != nil {
			return err
		}
	} else if err := m.flushMany(limit); err != nil {
		return err
	}
	if held-int(m.moved) > maxHeld {
		return problemAtByte(ErrImpossible, -1, "record the channels on one time base, or cut the recording", "more than %d edges wait for their place in time: they stand at one instant, or the channels' times lie far apart", maxHeld)
	}
	return m.deliver()
}

// flushOne serves a single lane, which is in order of time but for the order of channels at equal times.
func (m *merger) flushOne(limit Second) error {
	l := m.lanes[0]
	n := len(l.edges)
	for n > 0 && l.edges[n-1].At >= limit {
		n--
	}
	m.moved = int64(n)
	part := l.edges[:n]
	settled := true
	for i := range part {
		e := &part[i]
		m.count(e)
		settled = settled && (i == 0 || part[i-1].At != e.At || part[i-1].Channel <= e.Channel)
	}
	if l.many && !settled {
		settle(part)
	}
	var err error
	if n > 0 {
		err = m.sink.Edges(part)
	}
	l.drop(n)
	return err
}

// settle puts edges of equal time in order of channel.
func settle(e []Edge) {
	for i := 0; i < len(e); {
		j, sorted := i+1, true
		for ; j < len(e) && e[j].At == e[i].At; j++ {
			sorted = sorted && e[j].Channel >= e[j-1].Channel
		}
		if !sorted {
			slices.SortStableFunc(e[i:j], func(a, b Edge) int { return int(a.Channel) - int(b.Channel) })
		}
		i = j
	}
}

func (l *lane) drop(n int) {
	l.edges = l.edges[:copy(l.edges, l.edges[n:])]
	l.base += int64(n)
}

// flushMany merges lanes: the earliest first, at equal times the lower channel.
func (m *merger) flushMany(limit Second) error {
	m.moved = 0
	at := make([]int, len(m.lanes))
	for _, l := range m.lanes {
		if l.many {
			n := len(l.edges)
			for n > 0 && l.edges[n-1].At >= limit {
				n--
			}
			settle(l.edges[:n])
		}
	}
	var heap laneHeap
	if len(m.lanes) > fewLanes {
		heap = newLaneHeap(m.lanes, at)
	}
	for {
		best := -1
		var e Edge
		if heap.order != nil {
			if len(heap.order) > 0 {
				best = heap.order[0]
				e = *heap.front(best)
			}
		} else {
			for i, l := range m.lanes {
				if at[i] < len(l.edges) {
					if h := &l.edges[at[i]]; best < 0 || h.before(&e) {
						best, e = i, *h
					}
				}
			}
		}
		if best < 0 || e.At >= limit {
			break
		}
		if at[best]++; heap.order != nil {
			heap.moved()
		}
		m.moved++
		if e.At < m.done {
			return problemAtByte(ErrImpossible, -1, "record the channels on one time base", "the times of channel %q fall behind those of the others (%g s after %g s)", m.chans[e.Channel].Name, e.At, m.done)
		}
		m.done = e.At
		m.count(&e)
		if m.out = append(m.out, e); len(m.out) == cap(m.out) {
			if err := m.deliver(); err != nil {
				return err
			}
		}
	}
	for i, l := range m.lanes {
		l.drop(at[i])
	}
	return nil
}

// before is the order of edges in the result.
func (e *Edge) before(o *Edge) bool {
	return e.At < o.At || e.At == o.At && e.Channel < o.Channel
}

const fewLanes = 24 // more are kept in a heap

// laneHeap has the lane with the earliest edge in front.
type laneHeap struct {
	lanes []*lane
	at    []int // the next edge of each lane
	order []int // lanes that hold any
}

func newLaneHeap(lanes []*lane, at []int) laneHeap {
	h := laneHeap{lanes, at, make([]int, 0, len(lanes))}
	for i, l := range lanes {
		if at[i] < len(l.edges) {
			h.order = append(h.order, i)
		}
	}
	for i := len(h.order)/2 - 1; i >= 0; i-- {
		h.sink(i)
	}
	return h
}

func (h *laneHeap) front(lane int) *Edge { return &h.lanes[lane].edges[h.at[lane]] }

// moved puts the first lane in its new place after one of its edges was taken.
func (h *laneHeap) moved() {
	if first := h.order[0]; h.at[first] >= len(h.lanes[first].edges) {
		last := len(h.order) - 1
		h.order[0], h.order = h.order[last], h.order[:last]
	}
	h.sink(0)
}

func (h *laneHeap) sink(i int) {
	for {
		k := 2*i + 1
		if k >= len(h.order) {
			return
		}
		if r := k + 1; r < len(h.order) && h.front(h.order[r]).before(h.front(h.order[k])) {
			k = r
		}
		if !h.front(h.order[k]).before(h.front(h.order[i])) {
			return
		}
		h.order[i], h.order[k] = h.order[k], h.order[i]
		i = k
	}
}

func (m *merger) deliver() error {
	if len(m.out) == 0 {
		return nil
	}
	err := m.sink.Edges(m.out)
	m.out = m.out[:0]
	return err
}

func (m *merger) count(e *Edge) { m.counts[e.Channel][e.Kind]++ }

// counted puts the counts of what was handed on into the channels.
func (m *merger) counted() {
	for i := range m.chans {
		c, n := &m.chans[i], &m.counts[i]
		c.Rises, c.Falls, c.Shorts, c.Lost = n[Rise], n[Fall], n[ShortHigh]+n[ShortLow], n[Lost]
	}
}
