package edges

import (
	"math"
	"slices"

	"phasewright/waveform/block"
)

// maxWaiting bounds the edges that wait for their place in time: 24 MiB.
const maxWaiting = 1 << 20

// queue holds edges in order of time: one for each sampled channel, one for all wires of a VCD. Short pulses are taken
// out while they wait.
type queue struct {
	edges []block.Edge
	base  int64        // number of edges[0] since the beginning
	hold  block.Second // nothing earlier than this will be pushed any more
}

// order puts the queues' edges in one order of time and hands them on.
type order struct {
	queues []*queue
	glitch block.Second
	chans  []block.Channel
	last   []int64 // per channel: number in its queue of the last edge that may still be half of a short pulse; -1 none
	sink   Sink
	counts [][block.EdgeKinds]int64 // per channel
	done   block.Second             // time of the last edge handed on
}

func newOrder(sink Sink, chans []block.Channel, glitch block.Second) *order {
	o := &order{glitch: glitch, chans: chans, sink: sink, last: make([]int64, len(chans)),
		counts: make([][block.EdgeKinds]int64, len(chans)), done: block.Second(math.Inf(-1))}
	for i := range o.last {
		o.last[i] = -1
	}
	return o
}

func (o *order) add() *queue {
	q := &queue{hold: block.Second(math.Inf(-1))}
	o.queues = append(o.queues, q)
	return q
}

// push adds an edge, or turns the one before it into a short pulse.
func (o *order) push(q *queue, e block.Edge) {
	last := &o.last[e.Channel]
	if e.Kind > block.Fall {
		*last = -1
		q.edges = append(q.edges, e)
		return
	}
	if k := *last - q.base; *last >= 0 && k >= 0 {
		p := &q.edges[k]
		if w := e.At - p.At; p.Kind != e.Kind && (w < o.glitch || w <= 0) {
			p.Width, p.Kind = w, block.ShortHigh+p.Kind // Rise makes ShortHigh, Fall makes ShortLow
			*last = -1
			return
		}
	}
	*last = q.base + int64(len(q.edges))
	q.edges = append(q.edges, e)
}

// flush hands on what can no longer change or be overtaken. At the end, everything.
func (o *order) flush(end bool) error {
	limit, waiting := block.Second(math.Inf(1)), 0
	for _, q := range o.queues {
		if waiting += len(q.edges); !end {
			limit = min(limit, q.hold-o.glitch)
		}
	}
	var parts [][]block.Edge
	for _, q := range o.queues {
		if n := q.earlier(limit); n > 0 {
			parts = append(parts, q.edges[:n])
		}
	}
	out := merged(parts)
	if err := o.deliver(out); err != nil {
		return err
	}
	for _, q := range o.queues {
		n := q.earlier(limit)
		q.edges = q.edges[:copy(q.edges, q.edges[n:])]
		q.base += int64(n)
	}
	if waiting-len(out) > maxWaiting {
		return block.AtByte(block.ErrImpossible, -1, "record the channels on one time base, or cut the recording",
			"more than %d edges wait for their place in time: they stand at one instant, or the channels' times "+
				"lie far apart",
			maxWaiting)
	}
	return nil
}

// earlier is how many edges stand before an instant.
func (q *queue) earlier(limit block.Second) int {
	n := len(q.edges)
	for n > 0 && q.edges[n-1].At >= limit {
		n--
	}
	return n
}

// before is the order of edges in the result.
func before(a, b block.Edge) int {
	switch {
	case a.At < b.At:
		return -1
	case a.At > b.At:
		return 1
	}
	return int(a.Channel) - int(b.Channel)
}

// inOrder says that edges are in the order of the result.
func inOrder(p []block.Edge) bool {
	for i := 1; i < len(p); i++ {
		if a, b := &p[i-1], &p[i]; !(a.At < b.At) && before(*a, *b) > 0 {
			return false
		}
	}
	return true
}

// merged puts parts in one order, neighbours first. Each part is in order of time, but not of channels at equal times.
func merged(parts [][]block.Edge) []block.Edge {
	for _, p := range parts {
		if !inOrder(p) {
			slices.SortStableFunc(p, before)
		}
	}
	for len(parts) > 1 {
		var next [][]block.Edge
		for i := 0; i < len(parts); i += 2 {
			if i+1 == len(parts) {
				next = append(next, parts[i])
				break
			}
			next = append(next, mergedTwo(parts[i], parts[i+1]))
		}
		parts = next
	}
	if len(parts) == 0 {
		return nil
	}
	return parts[0]
}

func mergedTwo(a, b []block.Edge) []block.Edge {
	out := make([]block.Edge, 0, len(a)+len(b))
	for len(a) > 0 && len(b) > 0 {
		if before(a[0], b[0]) <= 0 {
			out, a = append(out, a[0]), a[1:]
		} else {
			out, b = append(out, b[0]), b[1:]
		}
	}
	return append(append(out, a...), b...)
}

// deliver hands edges to the sink.
func (o *order) deliver(edges []block.Edge) error {
	if len(edges) == 0 {
		return nil
	}
	if e := edges[0]; e.At < o.done {
		return block.AtByte(block.ErrImpossible, -1, "record the channels on one time base",
			"the times of channel %q fall behind those of the others (%g s after %g s)",
			o.chans[e.Channel].Name, e.At, o.done)
	}
	o.done = edges[len(edges)-1].At
	for i := range edges {
		o.counts[edges[i].Channel][edges[i].Kind]++
	}
	return o.sink.Edges(edges)
}

// counted puts the counts of what was handed on into the channels.
func (o *order) counted() {
	for i := range o.chans {
		c, n := &o.chans[i], &o.counts[i]
		c.Rises, c.Falls, c.Lost = n[block.Rise], n[block.Fall], n[block.Lost]
		c.Shorts = n[block.ShortHigh] + n[block.ShortLow]
	}
}
