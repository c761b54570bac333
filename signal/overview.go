package signal

import (
	"context"
	"io"
	"math"
	"sort"
)

// Extent is the least and largest value in one column of a drawing; NaN, NaN when nothing was recorded there.
type Extent struct{ Min, Max float64 }

// Overview answers what a recording looks like at any zoom, from three stores: stretches in memory (at most about 4 MiB, each longer the longer the
// recording), stretches of 256 samples in the spill if there is one, and the samples themselves where the input can be read at any place. A VCD's
// buses are not kept, nor more than 64 of its wires.
type Overview struct {
	at    io.ReaderAt
	size  int64
	spill ReadWriterAt
	end   Second
	kept  []int // channel to column of the stores; -1 not kept

	// sampled recordings: stretches of factor blocks of blockRows samples
	factor int64
	starts []float64
	lo, hi [][]float32
	blocks int64 // in the spill

	// value changes: stretches of 1<<shift ticks
	shift uint

	csv   *csvLayout
	wav   *wavLayout
	vcd   *vcdLayout
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
	overviewCells = 1 << 18 // pairs of extremes in memory
	maxMarks      = 2048
	maxDrawn      = 64
	maxColumns1   = 1 << 16
)

// Query gives, for n equal columns of the time from t0 to t1, the least and largest value of a channel: never less than the
// signal's true extent in a column, and wider only by samples of the stretches that overlap the column's ends. A logic channel is 0 and 1. Columns between two
// samples of a sampled channel hold nothing: join the neighbours by a line.
func (o *Overview) Query(ctx context.Context, channel int, t0, t1 Second, n int) ([]Extent, error) {
	if channel < 0 || channel >= len(o.kept) || o.kept[channel] < 0 {
		return nil, problemAtByte(ErrImpossible, -1, "choose another", "channel %d has no overview", channel)
	}
	if n < 1 || n > maxColumns1 || !(t1 > t0) || math.IsInf(float64(t1-t0), 0) {
		return nil, problemAtByte(ErrImpossible, -1, "ask for 1 to 65536 columns and a time that goes on", "no view from %g to %g in %d columns", t0, t1, n)
	}
	v := newView(t0, t1, n)
	if o.vcd != nil {
		return v.out, o.queryChanges(ctx, channel, v)
	}
	span := o.span(t0, t1)
	switch {
	case span <= v.step:
		o.fromMemory(o.kept[channel], v)
	case o.spill != nil && o.blocks > 0 && span/Second(o.factor) <= v.step:
		return v.out, o.fromSpill(ctx, o.kept[channel], v)
	case o.at != nil:
		return v.out, o.fromSamples(ctx, channel, v)
	case o.spill != nil && o.blocks > 0:
		return v.out, o.fromSpill(ctx, o.kept[channel], v)
	default:
		o.fromMemory(o.kept[channel], v)
	}
	return v.out, nil
}

// view is a set of columns being filled.
type view struct {
	t0, t1, step Second
	out          []Extent
}

func newView(t0, t1 Second, n int) *view {
	v := &view{t0: t0, t1: t1, step: (t1 - t0) / Second(n), out: make([]Extent, n)}
	for i := range v.out {
		v.out[i] = Extent{math.NaN(), math.NaN()}
	}
	return v
}

func (v *view) column(t Second) int {
	return min(max(int((t-v.t0)/v.step), 0), len(v.out)-1)
}

// add puts a stretch from a to b into the columns that it overlaps.
func (v *view) add(a, b Second, lo, hi float64) {
	if !(b >= v.t0) || !(a < v.t1) || lo != lo {
		return
	}
	for i := v.column(a); i <= v.column(b); i++ {
		e := &v.out[i]
		if !(e.Min <= lo) {
			e.Min = lo
		}
		if !(e.Max >= hi) {
			e.Max = hi
		}
	}
}

// span is the longest stretch in memory within a time.
func (o *Overview) span(t0, t1 Second) Second {
	i, j := o.find(t0), o.find(t1)
	var longest Second
	for ; i <= j; i++ {
		longest = max(longest, o.until(i)-Second(o.starts[i]))
	}
	return longest
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

func (o *Overview) fromMemory(col int, v *view) {
	if len(o.starts) == 0 {
		return
	}
	for i := o.find(v.t0); i < len(o.starts) && Second(o.starts[i]) < v.t1; i++ {
		v.add(Second(o.starts[i]), o.until(i), float64(o.lo[col][i]), float64(o.hi[col][i]))
	}
}

// markBefore gives the last mark at or before t.
func (o *Overview) markBefore(t Second) mark {
	i := sort.Search(len(o.marks), func(i int) bool { return o.marks[i].at > float64(t) })
	return o.marks[max(0, i-1)]
}
