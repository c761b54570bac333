package waveform

import (
	"math"

	"phasewright/waveform/block"
)

// Rest is a time between two changes of a channel from one of its states to the other. Where a view is coarser than
// the samples it is the time that surely held no change: up to a Grain at either end may belong to it.
type Rest struct {
	From, To Second
	Period   Second // with the shorter of the rests beside it; the rest alone where neither is known
	Before   int    // changes in the view before it
	High     bool
	Open     bool // it goes on beyond the view, or where nothing was recorded
}

// Length is how long the rest lasts at least, s.
func (r Rest) Length() Second { return r.To - r.From }

// rests finds a channel's changes between its states in what passes through a view.
type rests struct {
	low, high float64 // at or below, at or above: in that state; between them nothing changes
	step, t0  Second
	changes   []int
	all       []Rest

	state, was held // was: before stretches that held both
	since      Second
	open       bool
	n          int
	last       Second // length of the rest before; NaN: not known
	kept       bool   // the rest before is the last of all
}

// held is what a stretch of a channel holds.
type held uint8

const (
	nothing held = 0
	lowOnly held = 1
	hiOnly  held = 2
	both    held = 3
)

// A rest shorter than this part of a column is counted and not kept, which bounds how many are.
const leastRest = 1. / 8

// feel takes the extremes of what passed from a to b, in order of time.
func (r *rests) feel(a, b Second, lo, hi float64) {
	if lo != lo || !(r.low <= r.high) {
		return
	}
	var now held
	if lo <= r.low {
		now |= lowOnly
	}
	if hi >= r.high {
		now |= hiOnly
	}
	a = max(a, r.t0)
	switch {
	case now == nothing:
	case now == both:
		switch r.state {
		case lowOnly, hiOnly:
			r.was = r.state
			r.end(a)
		case both:
			r.end(r.since) // of no length that could be told
		}
		r.count(a)
		r.state, r.since, r.open = both, b, false
	case r.state == nothing:
		r.state, r.since, r.open, r.last = now, a, true, Second(nan)
	case r.state == both:
		if now == r.was { // there and back again
			r.end(r.since)
			r.count(a)
		}
		r.state, r.since, r.was = now, max(a, r.since), now
	case now != r.state:
		r.end(a)
		r.count(a)
		r.state, r.since, r.open, r.was = now, a, false, now
	}
}

func (r *rests) count(at Second) {
	r.n++
	i := int(float64(at-r.t0) / float64(r.step))
	r.changes[min(max(i, 0), len(r.changes)-1)]++
}

// cut ends what is known of the state: nothing was recorded at a time.
func (r *rests) cut(at Second) {
	if r.state == lowOnly || r.state == hiOnly {
		r.open = true
		r.end(at)
	}
	r.state, r.was, r.last, r.kept = nothing, nothing, Second(nan), false
}

// end closes a rest.
func (r *rests) end(at Second) {
	long := max(at-r.since, 0)
	if r.kept {
		before := &r.all[len(r.all)-1]
		if with := before.Length() + long; before.Period == before.Length() || with < before.Period {
			before.Period = with
		}
	}
	one := Rest{From: r.since, To: at, Period: long, Before: r.n, High: r.state == hiOnly, Open: r.open}
	if r.last == r.last {
		one.Period += r.last
	}
	if r.kept = long >= r.step*leastRest; r.kept {
		r.all = append(r.all, one)
	}
	r.last = long
}

// states are the values at or below, and at or above, which a channel is in a state.
func states(c *Channel) (low, high float64) {
	switch {
	case c.Kind == Digital:
		return 0.5, 0.5
	case c.Method == ByLevels && c.High > c.Low:
		a := c.High - c.Low
		return c.Low + 0.35*a, c.High - 0.35*a
	}
	// it swings: about zero where it goes to both sides of it, else about its middle; NaN, NaN where it never changes
	middle, swing := 0., math.Max(math.Abs(c.Least), math.Abs(c.Largest))
	if !(c.Least < 0 && c.Largest > 0) {
		middle, swing = c.Least+(c.Largest-c.Least)/2, (c.Largest-c.Least)/2
	}
	if !(swing > 0) || !block.Finite(swing) {
		return nan, nan
	}
	return middle - 0.05*swing, middle + 0.05*swing
}

// What a rest must be to stand out: so many times the longest other one within so many of its own lengths on either
// side, where the view goes on for as long on one side at least. A wheel of 60 teeth, two of them missing, has a gap
// after each 24 gap lengths; it must not stand out. No wheel has a gap of eight times its longest tooth: there a look
// at the nearest few is enough. Invented, tried in TestHealthyTraceHasNoGap.
const (
	standsOut  = 2.5
	withinRest = 30
	farOut     = 8
	withinFar  = 3
	leastBeats = 4   // changes on one side of it
	cyclesLong = 1.5 // a rest of so many cycles of the engine stands out by itself
)

// Gaps are the rests, longer than all around them, that a rhythm would not have: pulses are likely missing. cycle is
// how long the engine's cycle of 720° lasts at a time, s, 0 where that is not known; nil for a channel that need not
// change in every cycle. Only a channel of two levels has gaps.
func (l *Look) Gaps(cycle func(at Second) Second) []Rest {
	if !l.levels || len(l.Rests) < 2 {
		return nil
	}
	begin, end := l.Rests[0].From, l.Rests[len(l.Rests)-1].To
	var out []Rest
	for i, r := range l.Rests {
		if r.Open {
			continue
		}
		if cycle != nil {
			if c := cycle(r.From + r.Length()/2); c > 0 && r.Length() > cyclesLong*c {
				out = append(out, r)
				continue
			}
		}
		seen := max(r.From-begin, end-r.To)
		if reach := withinRest * r.Length(); seen >= reach && l.alone(i, reach, standsOut) {
			out = append(out, r)
		} else if reach := withinFar * r.Length(); seen >= reach && l.alone(i, reach, farOut) {
			out = append(out, r)
		}
	}
	return out
}

// AtLeast says whether more changes may have passed than Changes count: the view is coarser than the samples.
func (l *Look) AtLeast() bool { return l.grain > 0 }

// alone says whether no rest within reach of rest i comes near its length: so many times shorter are the others.
func (l *Look) alone(i int, reach, times Second) bool {
	r := l.Rests[i]
	limit := r.Length()/times - 2*l.grain // others may be longer than is known by a grain at both ends
	if limit < l.step*leastRest {
		return false // of the others some were not kept
	}
	for k := i - 1; k >= 0 && l.Rests[k].To > r.From-reach; k-- {
		if l.Rests[k].Length() >= limit {
			return false
		}
	}
	for k := i + 1; k < len(l.Rests) && l.Rests[k].From < r.To+reach; k++ {
		if l.Rests[k].Length() >= limit {
			return false
		}
	}
	return max(l.beats(r.From-reach, r.From), l.beats(r.To, r.To+reach)) >= leastBeats
}

// beats are the changes in the columns from one time to another.
func (l *Look) beats(from, to Second) (n int) {
	column := func(t Second) int { return min(max(int((t-l.t0)/l.step), 0), len(l.Changes)-1) }
	for _, one := range l.Changes[column(from) : column(to)+1] {
		n += one
	}
	return n
}
