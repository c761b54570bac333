package waveform

import (
	"fmt"
	"math"
)

const (
	blockRows  = 256   // samples that share one pair of extremes
	learnRows  = 65536 // samples from which a channel is learnt that was still in the survey
	learnHeld  = 256   // changes from which a held channel is learnt
	maxRelearn = 8
)

// track is one sampled channel on its way to edges.
type track struct {
	index         int
	hint          hint
	find          finding
	det           detector
	lane          *lane
	quiet         bool
	learn         []float64 // samples since the channel woke, while it is being learnt
	learnT        []float64
	tries         int
	prev          float64 // last sample with a value
	prevT         Second
	any           bool
	v, t          []float64 // room for a block without its gaps
	slow, repeats int64
}

// engine turns blocks of samples into ordered edges. It works in the order of the recording, on one goroutine.
type engine struct {
	info     Info
	tracks   []*track
	merge    *merger
	sink     Sink
	warnings []Warning
	over     *overviewBuilder
	rows     int64
	end      Second
	tick     uint64 // of a VCD's last time stamp
	begun    bool
}

func newEngine(info Info, hints []hint, finds []finding, opt Options, sink Sink, lanes int) *engine {
	e := &engine{info: info, sink: sink}
	e.merge = newMerger(sink, e.info.Channels, lanes, opt.Glitch)
	for i := range hints {
		e.tracks = append(e.tracks, nil)
		if lanes > i {
			t := &track{index: i, hint: hints[i], lane: e.merge.lanes[i], prevT: Second(math.Inf(-1))}
			t.hint.start = nil // megabytes that are of no more use
			e.tracks[i] = t
			e.set(t, finds[i])
		}
	}
	return e
}

// set gives a channel its method.
func (e *engine) set(t *track, f finding) {
	t.find = f
	c := &e.info.Channels[t.index]
	c.Method, c.Low, c.High, c.Noise, c.Active, c.Ramp = f.method, f.low, f.high, f.noise, f.active, f.ramp
	if f.method == ByState {
		c.Kind = Digital
	}
	t.quiet, t.det = f.method == MethodNone, nil
	emit := func(x Edge) {
		x.Channel = int32(t.index)
		e.merge.push(t.lane, x)
	}
	switch f.method {
	case ByState:
		d := newByLevels(0.5, 0.5, 0, emit, &t.slow)
		d.snap = true
		t.det = d
	case ByLevels:
		low, high := f.thresholds()
		d := newByLevels(low, high, f.share, emit, &t.slow)
		d.snap, d.tooth = c.Held, f.ramp
		t.det = d
	case ByChanges:
		t.det = newByChanges(f.step, f.span, emit, &t.repeats)
	case ByZeroCrossing:
		t.det = newByZeroCrossing(f.zero, f.floor, emit)
	}
}

func (e *engine) begin() error {
	e.begun = true
	return e.sink.Begin(e.info)
}

// feed takes samples that all have a value, with their extremes.
func (e *engine) feed(t *track, v []float64, c *clock, least, largest float64) error {
	c.before = float64(t.prevT)
	switch {
	case t.det != nil:
		t.det.feed(v, c, least, largest)
	case t.learn != nil:
		if err := e.gather(t, v, c, 0); err != nil {
			return err
		}
	case least < t.find.quietLow || largest > t.find.quietHigh:
		i := 0
		for v[i] >= t.find.quietLow && v[i] <= t.find.quietHigh {
			t.prev, t.prevT, t.any = v[i], c.at(i), true
			i++
		}
		if err := e.gather(t, v, c, i); err != nil {
			return err
		}
	}
	n := len(v) - 1
	now := c.at(n)
	if t.learn == nil {
		t.prev, t.prevT, t.any = v[n], now, true
	}
	t.hold(now)
	return nil
}

func (t *track) hold(now Second) {
	switch {
	case t.det != nil:
		t.lane.hold = max(t.lane.hold, t.det.hold(now))
	case t.learn != nil && !t.hint.held:
		t.lane.hold = max(t.lane.hold, min(t.prevT, Second(t.learnT[0])))
	default:
		t.lane.hold = max(t.lane.hold, now)
	}
}

// calm is what lets a detector pass over a block by bounds of its samples, and tells how many of its last samples it needs all the same.
type calm interface {
	calm(least, largest float64) bool
	room(least, largest float64) (lo, hi float64) // within which it would stay calm for as long as it likes, where it is calm with these
	tail() int
	pass(tail []float64, c *clock, n int) // the last samples of a block of n
}

// still says that a block with these extremes holds nothing for the channel, and how many of its last samples pass needs.
func (e *engine) still(t *track, least, largest float64) (tail int, ok bool) {
	if t.det != nil {
		return t.det.tail(), t.det.calm(least, largest)
	}
	return 1, t.learn == nil && least >= t.find.quietLow && largest <= t.find.quietHigh
}

// pass takes a block of n samples that is still, by its last samples alone, whose clock c is.
func (e *engine) pass(t *track, tail []float64, c *clock, n int) {
	if t.det != nil {
		t.det.pass(tail, c, n)
	}
	k := len(tail) - 1
	t.prev, t.prevT, t.any = tail[k], c.at(k), true
	t.hold(t.prevT)
}

// extent keeps the extremes of a channel.
func (e *engine) extent(ch int, least, largest float64) {
	c := &e.info.Channels[ch]
	if !(c.Least <= least) {
		c.Least = least
	}
	if !(c.Largest >= largest) {
		c.Largest = largest
	}
	e.over.add(ch, least, largest)
}

// gaps is block for samples with missing (NaN) or out-of-range (±Inf) values: the first are left out, the others stand beyond the levels.
func (e *engine) gaps(t *track, v []float64, c *clock) error {
	ch := &e.info.Channels[t.index]
	t.v, t.t = t.v[:0], t.t[:0]
	least, largest := math.Inf(1), math.Inf(-1)
	lo, hi := math.Inf(1), math.Inf(-1)
	for i, x := range v {
		at := float64(c.at(i))
		if x != x || at != at {
			ch.Missing++
			continue
		}
		switch {
		case math.IsInf(x, 1):
			ch.Over++
			if t.find.high == t.find.high {
				x = t.find.high + (t.find.high - t.find.low)
			}
		case math.IsInf(x, -1):
			ch.Under++
			if t.find.low == t.find.low {
				x = t.find.low - (t.find.high - t.find.low)
			}
		default:
			lo, hi = min(lo, x), max(hi, x)
		}
		least, largest = min(least, x), max(largest, x)
		t.v, t.t = append(t.v, x), append(t.t, at)
	}
	if lo <= hi {
		e.extent(t.index, lo, hi)
	}
	if len(t.v) == 0 {
		if now := c.at(len(v) - 1); now == now {
			t.hold(now)
		}
		return nil
	}
	return e.feed(t, t.v, &clock{times: t.t, held: c.held}, least, largest)
}

// gather keeps samples of a channel that woke, from sample i of the block on, and learns from them when there are enough.
func (e *engine) gather(t *track, v []float64, c *clock, i int) error {
	for ; i < len(v); i++ {
		t.learn, t.learnT = append(t.learn, v[i]), append(t.learnT, float64(c.at(i)))
		if len(t.learn) >= learnRows || t.hint.held && len(t.learn) >= learnHeld {
			if err := e.learnt(t); err != nil {
				return err
			}
			if i++; i < len(v) {
				rest := v[i:]
				lo, hi := extremes(rest)
				times := make([]float64, len(rest))
				for k := range rest {
					times[k] = float64(c.at(i + k))
				}
				return e.feed(t, rest, &clock{times: times}, lo, hi)
			}
			return nil
		}
	}
	return nil
}

// learnt judges a channel by what it did since it woke, with its rest before that, and then takes the samples that waited.
func (e *engine) learnt(t *track) error {
	v, times := t.learn, t.learnT
	t.learn, t.learnT = nil, nil
	var segs [][]float64
	if t.any {
		rest := make([]float64, len(v)/4+16)
		for i := range rest {
			rest[i] = t.prev
		}
		segs = append(segs, rest, append([]float64{t.prev}, v...))
	} else {
		segs = append(segs, v)
	}
	f := judge(segs, t.hint)
	if f.method == MethodNone {
		t.tries++
		f.quietLow, f.quietHigh = min(f.quietLow, t.find.quietLow), max(f.quietHigh, t.find.quietHigh)
		if t.tries >= maxRelearn {
			f.quietLow, f.quietHigh = math.Inf(-1), math.Inf(1)
		}
		t.find = f
		n := len(v) - 1
		t.prev, t.prevT, t.any = v[n], Second(times[n]), true
		return nil
	}
	e.set(t, f)
	e.warn(t.index, fmt.Sprintf("channel %q was still when the levels were surveyed; they were learnt when it woke", e.info.Channels[t.index].Name))
	if r, ok := e.sink.(Reviser); ok {
		if err := r.Revise(t.index, e.info.Channels[t.index]); err != nil {
			return err
		}
	}
	c := &clock{before: float64(t.prevT), held: t.hint.held}
	if t.hint.held { // other channels did not wait: what came so far cannot be given out
		e.warn(t.index, fmt.Sprintf("channel %q: its first %d changes gave no edges", e.info.Channels[t.index].Name, len(v)))
		v, times = v[len(v)-1:], times[len(times)-1:]
	} else if t.any {
		c.times = []float64{float64(t.prevT)}
		t.det.feed([]float64{t.prev}, c, t.prev, t.prev)
	}
	for len(v) > 0 {
		n := min(len(v), blockRows)
		lo, hi := extremes(v[:n])
		c.times = times[:n]
		t.det.feed(v[:n], c, lo, hi)
		c.before = times[n-1]
		t.prev, t.prevT, t.any = v[n-1], Second(times[n-1]), true
		v, times = v[n:], times[n:]
	}
	t.hold(t.prevT)
	return nil
}

func (e *engine) warn(channel int, text string) {
	if len(e.warnings) < 100 {
		e.warnings = append(e.warnings, Warning{Byte: -1, Channel: channel, Text: text})
	}
}

// finish learns what still waits, and hands on the last edges.
func (e *engine) finish() error {
	for _, t := range e.tracks {
		if t != nil && t.learn != nil {
			if err := e.learnt(t); err != nil {
				return err
			}
		}
	}
	for _, t := range e.tracks {
		if t == nil {
			continue
		}
		if d, ok := t.det.(*byChanges); ok && d.sign != 0 {
			d.finish()
		}
	}
	if err := e.merge.flush(true); err != nil {
		return err
	}
	for i := range e.info.Channels {
		c := &e.info.Channels[i]
		if i < len(e.tracks) && e.tracks[i] != nil {
			t := e.tracks[i]
			c.Slow += t.slow
			if t.repeats > 0 {
				e.warn(i, fmt.Sprintf("channel %q: %d steps followed one in the same direction and were left out", c.Name, t.repeats))
			}
			if f := t.find; f.lesser != 0 {
				e.warn(i, fmt.Sprintf("channel %q: stretches of its pulses reach only %.0f %% of the usual height, as with a supply that sags; they count as pulses", c.Name, 100*math.Abs(f.lesser)/(f.high-f.low)))
			}
		}
		e.doubts(i, c)
	}
	return nil
}

// doubts says what is odd about a channel at the end.
func (e *engine) doubts(i int, c *Channel) {
	if c.Kind == Bus {
		return
	}
	switch {
	case c.Method == MethodNone && c.Largest > c.Least:
		e.warn(i, fmt.Sprintf("channel %q holds no usable signal: no two levels, no steps and no swings stand out from its noise", c.Name))
	case c.Method == MethodNone && c.Kind == Analog:
		e.warn(i, fmt.Sprintf("channel %q is constant", c.Name))
	}
	if c.Over+c.Under > 0 {
		e.warn(i, fmt.Sprintf("channel %q: %d samples are beyond the recorder's range", c.Name, c.Over+c.Under))
	}
	if a := c.High - c.Low; c.Method == ByLevels && (c.Largest > c.High+a || c.Least < c.Low-a) {
		e.warn(i, fmt.Sprintf("channel %q goes from %.4g to %.4g, far beyond its levels of %.4g and %.4g: spikes, or the levels changed", c.Name, c.Least, c.Largest, c.Low, c.High))
	}
	if c.Slow > 0 {
		e.warn(i, fmt.Sprintf("channel %q: %d transitions last more than %d samples and are timed at their end", c.Name, c.Slow, slowSamples))
	}
}

// extremesPlain is extremes one value at a time.
func extremesPlain(v []float64) (least, largest float64) {
	least, largest = v[0], v[0]
	for _, x := range v[1:] {
		if x < least {
			least = x
		}
		if x > largest {
			largest = x
		}
	}
	return least, largest
}
