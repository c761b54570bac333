// Package edges finds what happened on each wire: blocks of samples or changes of state go in, edges in one order of
// time come out.
//
// Words and methods follow IEEE 181: two state levels by histogram, edges at the 50 % mid-reference level between them,
// timed by a straight line between the two samples beside it.
//
// A survey says beforehand how each channel is to be followed (JudgeAll). A channel that stayed still in the survey and
// wakes later is learnt from the 65,536 samples that follow, before any of its edges is given out.
package edges

import (
	"fmt"
	"math"

	"phasewright/waveform/block"
)

// Sink takes edges in batches in order of time (equal times: in order of channel). The slice may be reused after the
// call returns. An error ends the scan and is returned.
type Sink interface {
	Edges([]block.Edge) error
}

// Reviser is a Sink that wants to hear of channels whose levels were learnt late. Revise comes before the first edge of
// that channel.
type Reviser interface {
	Revise(index int, c block.Channel) error
}

// Follower turns blocks of samples and changes of state into ordered edges. It works in the order of the recording, on
// one goroutine.
type Follower struct {
	Channels []block.Channel
	Warnings []block.Warning
	order    *order
	tracks   []*track // of sampled channels; nil for others
	sink     Sink
}

// NewFollower makes a Follower of channels without samples; shorter pulses than glitch are no edges.
func NewFollower(channels []block.Channel, glitch block.Second, sink Sink) *Follower {
	return &Follower{Channels: channels, sink: sink, tracks: make([]*track, len(channels)),
		order: newOrder(sink, channels, glitch)}
}

// detector finds the edges of one channel, a block of samples after the other. No sample of a block is NaN.
type detector interface {
	// still is 0 unless samples between these extremes cannot hold an edge: then it is how many of the last of them
	// pass wants.
	still(least, largest float64) int
	pass(last []float64, c *block.Clock, n int) // takes n samples that are still, by the last of them, whose clock c is
	search(v []float64, c *block.Clock)
	hold(now block.Second) block.Second // no edge earlier than this is still to come
}

// feed gives samples to a detector; least and largest are their extremes.
func feed(d detector, v []float64, c *block.Clock, least, largest float64) {
	if d.still(least, largest) > 0 {
		d.pass(v, c, len(v))
	} else {
		d.search(v, c)
	}
}

// track is one sampled channel on its way to edges.
type track struct {
	index         int
	hint          Hint
	find          Finding
	det           detector // nil: no usable signal so far
	queue         *queue
	waking        []float64 // samples since the channel woke, while it is being learnt
	wakingT       []float64
	tries         int
	prev          float64 // last sample with a value
	prevT         block.Second
	any           bool      // there is one
	v, t          []float64 // room for a block without its gaps
	slow, repeats int64
}

// Sampled says that a channel is given as samples, and how its edges are found.
func (f *Follower) Sampled(channel int, h Hint, found Finding) {
	h.Start = nil // megabytes that are of no more use
	t := &track{index: channel, hint: h, queue: f.order.add(), prevT: block.Second(math.Inf(-1))}
	f.tracks[channel] = t
	f.set(t, found)
}

// set gives a channel its method.
func (f *Follower) set(t *track, found Finding) {
	t.find, t.det = found, nil
	c := &f.Channels[t.index]
	c.Method, c.Low, c.High, c.Noise = found.Method, found.low, found.high, found.noise
	c.Active, c.Ramp = found.active, found.ramp
	emit := func(e block.Edge) {
		e.Channel = int32(t.index)
		f.order.push(t.queue, e)
	}
	switch found.Method {
	case block.ByState:
		c.Kind = block.Digital
		d := newByLevels(0.5, 0.5, 0, emit, &t.slow)
		d.atSample = true
		t.det = d
	case block.ByLevels:
		low, high := found.thresholds()
		d := newByLevels(low, high, found.share, emit, &t.slow)
		d.atSample, d.tooth = c.Held, found.ramp
		t.det = d
	case block.ByChanges:
		t.det = newByChanges(found.step, found.span, emit, &t.repeats)
	case block.ByZeroCrossing:
		t.det = newByZeroCrossing(found.zero, found.floor, emit)
	}
}

// Still is 0 unless samples of a channel between these extremes need not be looked at one by one: then it is how many
// of the last of them Pass wants.
func (f *Follower) Still(channel int, least, largest float64) int {
	t := f.tracks[channel]
	switch {
	case t.det != nil:
		return t.det.still(least, largest)
	case t.waking == nil && least >= t.find.quietLow && largest <= t.find.quietHigh:
		return 1
	}
	return 0
}

// Pass takes n samples of a channel that are still, by the last of them, whose clock c is.
func (f *Follower) Pass(channel int, last []float64, c *block.Clock, n int) {
	t := f.tracks[channel]
	c.Before = float64(t.prevT)
	if t.det != nil {
		t.det.pass(last, c, n)
	}
	k := len(last) - 1
	t.prev, t.prevT, t.any = last[k], c.At(k), true
	t.hold(t.prevT)
}

// Samples takes a block of a channel; least and largest are its extremes. All its values and times are finite.
func (f *Follower) Samples(channel int, v []float64, c *block.Clock, least, largest float64) error {
	return f.feed(f.tracks[channel], v, c, least, largest)
}

func (f *Follower) feed(t *track, v []float64, c *block.Clock, least, largest float64) error {
	c.Before = float64(t.prevT)
	switch {
	case t.det != nil:
		feed(t.det, v, c, least, largest)
	case t.waking != nil:
		if err := f.gather(t, v, c, 0); err != nil {
			return err
		}
	case least < t.find.quietLow || largest > t.find.quietHigh:
		i := 0
		for v[i] >= t.find.quietLow && v[i] <= t.find.quietHigh {
			t.prev, t.prevT, t.any = v[i], c.At(i), true
			i++
		}
		if err := f.gather(t, v, c, i); err != nil {
			return err
		}
	}
	n := len(v) - 1
	if t.waking == nil {
		t.prev, t.prevT, t.any = v[n], c.At(n), true
	}
	t.hold(c.At(n))
	return nil
}

// Gaps is Samples where values are missing (NaN), beyond the recorder's range (±Inf) or without a time: the first and
// the last are left out, the others stand beyond the levels.
func (f *Follower) Gaps(channel int, v []float64, c *block.Clock) error {
	t, ch := f.tracks[channel], &f.Channels[channel]
	t.v, t.t = t.v[:0], t.t[:0]
	least, largest := math.Inf(1), math.Inf(-1)
	low, high := t.find.low, t.find.high
	for i, x := range v {
		at := float64(c.At(i))
		if x != x || at != at {
			ch.Missing++
			continue
		}
		if x > math.MaxFloat64 {
			ch.Over++
			if high == high {
				x = high + (high - low)
			}
		} else if x < -math.MaxFloat64 {
			ch.Under++
			if low == low {
				x = low - (high - low)
			}
		}
		least, largest = min(least, x), max(largest, x)
		t.v, t.t = append(t.v, x), append(t.t, at)
	}
	if len(t.v) == 0 {
		if now := c.At(len(v) - 1); now == now {
			t.hold(now)
		}
		return nil
	}
	return f.feed(t, t.v, &block.Clock{Times: t.t, Held: c.Held}, least, largest)
}

// Idle says that nothing of a sampled channel comes before now: a channel whose own times have ended must not keep the
// others waiting.
func (f *Follower) Idle(channel int, now block.Second) { f.tracks[channel].hold(now) }

func (t *track) hold(now block.Second) {
	switch {
	case t.det != nil:
		now = t.det.hold(now)
	case t.waking != nil && !t.hint.Held:
		now = min(t.prevT, block.Second(t.wakingT[0]))
	}
	t.queue.hold = max(t.queue.hold, now)
}

// Flush hands on the edges that nothing can overtake any more.
func (f *Follower) Flush() error { return f.order.flush(false) }

// Finish learns what still waits, and hands on the last edges.
func (f *Follower) Finish() error {
	for _, t := range f.tracks {
		if t != nil && t.waking != nil {
			if err := f.learn(t); err != nil {
				return err
			}
		}
	}
	for _, t := range f.tracks {
		if t == nil {
			continue
		}
		if d, ok := t.det.(*byChanges); ok {
			d.finish()
		}
	}
	if err := f.order.flush(true); err != nil {
		return err
	}
	for i := range f.Channels {
		f.doubts(i)
	}
	return nil
}

// Count puts the numbers of edges that were handed on into the channels.
func (f *Follower) Count() { f.order.counted() }

func (f *Follower) warn(channel int, format string, args ...any) {
	if len(f.Warnings) < 100 {
		f.Warnings = append(f.Warnings, block.Warning{Byte: -1, Channel: channel, Text: fmt.Sprintf(format, args...)})
	}
}

// doubts says what is odd about a channel at the end.
func (f *Follower) doubts(i int) {
	c := &f.Channels[i]
	if t := f.tracks[i]; t != nil {
		c.Slow += t.slow
		if t.repeats > 0 {
			f.warn(i, "channel %q: %d steps followed one in the same direction and were left out", c.Name, t.repeats)
		}
		if a := t.find.high - t.find.low; t.find.lesser != 0 {
			f.warn(i, "channel %q: stretches of its pulses reach only %.0f %% of the usual height, as with a "+
				"supply that "+
				"sags; they count as pulses", c.Name, 100*math.Abs(t.find.lesser)/a)
		}
	}
	switch {
	case c.Kind == block.Bus:
		return
	case c.Method == block.MethodNone && c.Largest > c.Least:
		f.warn(i, "channel %q holds no usable signal: no two levels, no steps and no swings stand out from its noise; "+
			"check that its probe is on the wire and its ground connected, and set a smaller range", c.Name)
	case c.Method == block.MethodNone && c.Kind == block.Analog:
		f.warn(i, "channel %q is constant", c.Name)
	}
	if c.Over+c.Under > 0 {
		f.warn(i, "channel %q: %d samples are beyond the recorder's range", c.Name, c.Over+c.Under)
	}
	if a := c.High - c.Low; c.Method == block.ByLevels && (c.Largest > c.High+a || c.Least < c.Low-a) {
		f.warn(i, "channel %q goes from %.4g to %.4g, far beyond its levels of %.4g and %.4g: spikes, or the "+
			"levels changed",
			c.Name, c.Least, c.Largest, c.Low, c.High)
	}
	if c.Slow > 0 {
		f.warn(i, "channel %q: %d transitions last more than %d samples and are timed at their end", c.Name, c.Slow,
			slowSamples)
	}
}
