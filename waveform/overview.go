package waveform

import (
	"context"
	"io"
	"math"
	"sort"

	"phasewright/waveform/block"
	"phasewright/waveform/vcd"
)

// Extent is the least and largest value in one column of a drawing; NaN, NaN when nothing was recorded there.
type Extent struct{ Min, Max float64 }

// Overview answers what a recording looks like at any zoom, from three stores: stretches in memory (at most about 4
// MiB, each longer the longer the recording), stretches of 256 samples in the spill if there is one, and the samples
// themselves where the input can be read at any place. A VCD's buses are not looked at, nor more than 64 of its wires.
type Overview struct {
	at    io.ReaderAt
	size  int64
	spill ReadWriterAt
	end   Second
	store []int // channel to column of the stores; -1: it cannot be looked at
	held  []bool
	bound [][2]float64 // of each channel's states
	two   []bool       // channels of two levels

	// sampled recordings: stretches of factor blocks of blockRows samples
	factor int64
	starts []float64
	lo, hi [][]float32
	blocks int64 // in the spill

	// value changes: stretches of 1<<shift ticks
	shift uint

	table *table      // how samples are read again
	vcd   *vcd.Layout // how changes are read again
	marks []mark
}

// mark is a place where reading can begin again.
type mark struct {
	row    int64 // or the tick
	off    int64
	at     float64
	states []float32
}

const (
	overviewCells  = 1 << 18 // pairs of extremes in memory
	maxMarks       = 2048
	maxViewedWires = 64
	maxColumns     = 1 << 16
)

// Look is what one channel looks like over a stretch of time.
type Look struct {
	Columns []Extent // as Query gives them
	// Times and Values are the samples themselves where they are no more than the columns and can be read: with the
	// one before the stretch and the one after it. Of a VCD they are changes: the value holds until the next. NaN is
	// missing or unknown, ±Inf out of range.
	Times  []Second
	Values []float64

	Changes []int  // in each column, between the channel's states; at least, where the view is coarser than the samples
	Rests   []Rest // between them, in order; those shorter than an eighth of a column are counted only

	levels          bool
	grain, t0, step Second
}

// Query gives, for n equal columns of the time from t0 to t1, the least and largest value of a channel: never less
// than the signal's true extent in a column, and wider only by samples of the stretches that overlap the column's
// ends. A logic channel is 0 and 1. Columns between two samples of a sampled channel hold nothing: join the neighbours
// by a line.
func (o *Overview) Query(ctx context.Context, channel int, t0, t1 Second, n int) ([]Extent, error) {
	looks, err := o.View(ctx, []int{channel}, t0, t1, n)
	if looks == nil {
		return nil, err
	}
	return looks[0].Columns, err
}

// View is Query for several channels at the price of one: what has to be read again is read once. It also gives the
// samples where they are few.
func (o *Overview) View(ctx context.Context, channels []int, t0, t1 Second, n int) ([]Look, error) {
	for _, c := range channels {
		if !o.Keeps(c) {
			return nil, block.AtByte(ErrImpossible, -1, "choose another", "channel %d has no overview", c)
		}
	}
	if n < 1 || n > maxColumns || !(t1 > t0) || math.IsInf(float64(t1-t0), 0) {
		return nil, block.AtByte(ErrImpossible, -1, "ask for 1 to 65536 columns and a time that goes on",
			"no view from %g to %g in %d columns", t0, t1, n)
	}
	views := make([]*view, len(channels))
	for i, c := range channels {
		views[i] = newView(c, o.store[c], t0, t1, n)
		views[i].held, views[i].end = o.held[c], o.end
		views[i].rests.low, views[i].rests.high = o.bound[c][0], o.bound[c][1]
	}
	grain, err := o.fill(ctx, views, t0, t1)
	looks := make([]Look, len(views))
	for i, v := range views {
		looks[i] = v.look()
		looks[i].levels, looks[i].grain = o.two[channels[i]], grain
	}
	return looks, err
}

// fill chooses the coarsest store that is fine enough, and says how long its stretches are; 0 for the samples.
func (o *Overview) fill(ctx context.Context, views []*view, t0, t1 Second) (Second, error) {
	if len(views) == 0 {
		return 0, nil
	}
	step, span := views[0].step, o.Grain(t0, t1)
	if o.vcd != nil {
		if span <= step || !o.Again() {
			o.changesFromMemory(views)
			return span, nil
		}
		return 0, o.changesFromFile(ctx, views)
	}
	spilt := o.spill != nil && o.blocks > 0
	switch fine := span / Second(o.factor); {
	case span <= step:
	case spilt && fine <= step:
		return fine, o.fromSpill(ctx, views)
	case o.Again():
		return 0, o.fromFile(ctx, views)
	case spilt:
		return fine, o.fromSpill(ctx, views)
	}
	o.fromMemory(views)
	return span, nil
}

// Keeps says whether the channel can be looked at.
func (o *Overview) Keeps(channel int) bool {
	return channel >= 0 && channel < len(o.store) && o.store[channel] >= 0
}

// Again says whether the recording can be read again at any place, so that every view is as fine as its samples. A pipe
// and a compressed file cannot.
func (o *Overview) Again() bool {
	return o.at != nil && (len(o.marks) > 0 || o.table != nil && o.table.sized())
}

// Grain is the longest stretch kept in memory within a time: what a view cannot be finer than where the recording
// cannot be read again.
func (o *Overview) Grain(t0, t1 Second) Second {
	if o.vcd != nil {
		return o.vcd.Seconds(1 << o.shift)
	}
	if len(o.starts) == 0 {
		return 0
	}
	i, j := o.find(t0), o.find(t1)
	var longest Second
	for ; i <= j; i++ {
		longest = max(longest, o.until(i)-Second(o.starts[i]))
	}
	return longest
}

// Tick is what a VCD counts time in; 0 for recordings of samples.
func (o *Overview) Tick() Second {
	if o.vcd == nil {
		return 0
	}
	return o.vcd.Seconds(1)
}

// view is one channel's columns being filled, and its samples as long as they are few.
type view struct {
	channel, col int
	t0, t1, step Second
	per          float64 // columns a second
	out          []Extent

	times   []Second
	values  []float64
	many    bool // more samples than columns
	before  float64
	beforeT Second // NaN: none yet
	past    bool   // a sample at or after t1 was seen

	held       bool // a sample's value holds until the next
	last       float64
	lastT, end Second

	rests rests
}

func newView(channel, col int, t0, t1 Second, n int) *view {
	v := &view{channel: channel, col: col, t0: t0, t1: t1, step: (t1 - t0) / Second(n), out: make([]Extent, n),
		beforeT: Second(nan), last: nan}
	v.per = float64(n) / float64(t1-t0)
	v.rests = rests{step: v.step, t0: t0, changes: make([]int, n), last: Second(nan)}
	for i := range v.out {
		v.out[i] = Extent{math.NaN(), math.NaN()}
	}
	return v
}

// look is what came together.
func (v *view) look() Look {
	if !v.past {
		v.hold(v.end, math.NaN())
	}
	if len(v.times) == 0 && !v.many && v.beforeT == v.beforeT {
		v.times, v.values = append(v.times, v.beforeT), append(v.values, v.before)
	}
	if v.many {
		v.times, v.values = nil, nil
	}
	v.rests.cut(min(v.t1, v.end))
	return Look{Columns: v.out, Times: v.times, Values: v.values, Changes: v.rests.changes, Rests: v.rests.all,
		t0: v.t0, step: v.step}
}

func (v *view) column(t Second) int {
	return min(max(int(float64(t-v.t0)*v.per), 0), len(v.out)-1)
}

// sample takes one sample in order of time.
func (v *view) sample(t Second, x float64) {
	if v.held {
		v.hold(t, x)
	}
	switch {
	case t < v.t0:
		v.beforeT, v.before = t, x
		v.rests.feel(t, t, x, x)
		return
	case t >= v.t1:
		if !v.past {
			v.past = true
			v.note(t, x)
		}
		return
	case t != t:
		return
	}
	v.note(t, x)
	if block.Finite(x) {
		v.out[v.column(t)].widen(x, x)
		v.rests.feel(t, t, x, x)
	}
}

// hold carries the value before on to a sample's time.
func (v *view) hold(t Second, x float64) {
	if block.Finite(v.last) && t >= v.t0 {
		v.add(v.lastT, min(t, v.t1-v.step/2), v.last, v.last)
	}
	v.lastT, v.last = t, x
}

func (v *view) note(t Second, x float64) {
	if v.many {
		return
	}
	if len(v.times) == 0 && v.beforeT == v.beforeT {
		v.times, v.values = append(v.times, v.beforeT), append(v.values, v.before)
	}
	v.times, v.values = append(v.times, t), append(v.values, x)
	v.many = len(v.times) > len(v.out)+2
}

// add puts a stretch from a to b into the columns that it overlaps.
func (v *view) add(a, b Second, lo, hi float64) {
	if !(b >= v.t0) || !(a < v.t1) || lo != lo {
		return
	}
	v.rests.feel(a, b, lo, hi)
	for i := v.column(a); i <= v.column(b); i++ {
		v.out[i].widen(lo, hi)
	}
}

func (e *Extent) widen(lo, hi float64) {
	if !(e.Min <= lo) {
		e.Min = lo
	}
	if !(e.Max >= hi) {
		e.Max = hi
	}
}

// find gives the stretch in which t lies.
func (o *Overview) find(t Second) int {
	i := sort.Search(len(o.starts), func(i int) bool { return o.starts[i] > float64(t) })
	return max(0, i-1)
}

func (o *Overview) until(i int) Second {
	if i+1 < len(o.starts) {
		return Second(o.starts[i+1])
	}
	return o.end
}

func (o *Overview) fromMemory(views []*view) {
	if len(o.starts) == 0 {
		return
	}
	for _, v := range views {
		for i := o.find(v.t0); i < len(o.starts) && Second(o.starts[i]) < v.t1; i++ {
			a := Second(o.starts[i])
			if lo := o.lo[v.col][i]; lo != lo && !v.held {
				v.rests.cut(a)
			}
			v.add(a, o.until(i), float64(o.lo[v.col][i]), float64(o.hi[v.col][i]))
		}
	}
}

// markBefore gives the last mark at or before t; wary: one earlier, where channels have clocks of their own.
func (o *Overview) markBefore(t Second, wary bool) mark {
	if len(o.marks) == 0 {
		return mark{}
	}
	i := sort.Search(len(o.marks), func(i int) bool { return o.marks[i].at > float64(t) }) - 1
	if wary {
		i--
	}
	return o.marks[max(0, i)]
}
