package waveform

import (
	"context"
	"fmt"
	"math"
	"slices"

	"phasewright/waveform/block"
	"phasewright/waveform/csv"
	"phasewright/waveform/edges"
)

// blockRows is how many samples share one pair of extremes in the overview's finest stretches.
const blockRows = 256

// rowParser reads the rows of one stretch of a recording after the other.
type rowParser interface {
	Parse(b []byte, last bool, out *block.Rows)
}

// table is a recording of samples, row by row: a CSV or a WAVE file.
type table struct {
	lay interface {
		Split(b []byte, last bool) int
		Resync(b []byte) int
	}
	parser    func() rowParser
	channels  int
	body, end int64 // bytes; end is -1 when it is not known
	unit      int64 // bytes of a row, where all take the same; else 0
	surveyed  int64 // bytes to survey
	start     float64
	interval  float64 // 0: rows have times
	manyTimes bool    // channels have clocks of their own
}

// sized says that all rows take the same number of bytes.
func (t *table) sized() bool { return t.unit > 0 }

// tableDecoder takes samples through the pipeline to the follower and the overview.
type tableDecoder struct {
	*table
	s      *scanner
	follow *edges.Follower
	over   *overviewBuilder
	rows   int64
	line   int64     // of the next chunk's first line
	last   []float64 // by clock: last time seen
	ends   Second    // time of the last row
	nuls   int64
	clock  block.Clock // of the block under way: kept here, since it would escape to the heap
}

func (d *tableDecoder) split(b []byte, last bool) int { return d.lay.Split(b, last) }

func (d *tableDecoder) parse(c *chunk) {
	if c.parser == nil {
		c.parser = d.parser()
	}
	c.parser.Parse(c.data, c.last, &c.rows)
}

func (d *tableDecoder) commit(c *chunk) error {
	r := &c.rows
	d.checkClocks(r)
	if r.N > 0 {
		d.over.mark(d.rows, c.off, d.time(r, 0))
	}
	if err := d.feed(r); err != nil {
		return err
	}
	d.rows += int64(r.N)
	if d.interval > 0 && d.rows > 0 {
		d.ends = Second(d.start + d.interval*float64(d.rows-1))
	}
	d.nuls += r.Nuls
	if r.Problem != nil {
		p := *r.Problem
		p.Line += d.line - 1
		return &p
	}
	d.line += r.Lines
	return d.follow.Flush()
}

// checkClocks ends the rows where a chunk begins earlier than the one before ended.
func (d *tableDecoder) checkClocks(r *block.Rows) {
	for i, s := range r.Clocks {
		if s.First < d.last[i] && s.Row < r.N {
			r.Problem, r.N, r.Nuls = csv.TimeFalls(s.Line, d.last[i], s.First), s.Row, 0
		}
	}
	for i, s := range r.Clocks {
		if s.Row < r.N && s.Last == s.Last {
			d.last[i] = s.Last
			d.ends = max(d.ends, Second(s.Last))
		}
	}
}

// time of row i of the chunk.
func (d *tableDecoder) time(r *block.Rows, i int) Second {
	if r.Times[0] != nil {
		return Second(r.Times[0][i])
	}
	return Second(d.start + d.interval*float64(d.rows+int64(i)))
}

// feed passes the chunk's rows on, in blocks that end at multiples of blockRows of the whole recording.
func (d *tableDecoder) feed(r *block.Rows) error {
	for off := 0; off < r.N; {
		row := d.rows + int64(off)
		n := min(r.N-off, blockRows-int(row%blockRows))
		now := d.time(r, off)
		d.over.row(row, now)
		for ch := range r.Values {
			v := r.Values[ch][off : off+n]
			clock := &d.clock
			*clock = block.Clock{Start: d.start, Interval: d.interval, Row: row}
			if r.Times[ch] != nil {
				clock.Times = r.Times[ch][off : off+n]
			}
			if err := d.samples(ch, v, clock, r.Gaps[ch]); err != nil {
				return err
			}
			if end := d.time(r, off+n-1); r.Gaps[ch] && clock.At(n-1) != clock.At(n-1) && end == end {
				d.follow.Idle(ch, end)
			}
		}
		off += n
	}
	return nil
}

// samples passes a block of one channel on.
func (d *tableDecoder) samples(ch int, v []float64, clock *block.Clock, gap bool) error {
	d.s.collect.samples(ch, v, clock)
	extremes, follow := block.Extremes, d.follow.Samples
	if gap {
		extremes, follow = block.FiniteExtremes, d.withGaps
	}
	least, largest := extremes(v)
	if least <= largest {
		d.follow.Channels[ch].Saw(least, largest)
		d.over.add(ch, least, largest)
	}
	return follow(ch, v, clock, least, largest)
}

func (d *tableDecoder) withGaps(ch int, v []float64, clock *block.Clock, _, _ float64) error {
	return d.follow.Gaps(ch, v, clock)
}

// scanCSV reads a table.
func (s *scanner) scanCSV(ctx context.Context) (*Result, error) {
	lay, p := csv.Head(s.src.head, s.src.headEOF)
	if p != nil {
		return nil, p
	}
	t := &table{lay: lay, parser: func() rowParser { return lay.NewParser() }, channels: len(lay.Names),
		body: int64(lay.Body), end: -1, surveyed: surveyText, start: lay.Start, interval: lay.Interval,
		manyTimes: lay.Clocks > 1}
	if s.src.at != nil {
		t.end = s.src.size
	}
	info := Info{Name: s.src.name, Format: FormatCSV, Size: s.src.size, Start: Second(lay.Start),
		Interval: Second(lay.Interval)}
	seen := t.survey(s.src, func(r *block.Rows) { timesOf(r, &info) })
	hints := s.hints(lay.Names, seen)
	logicIn(hints, seen.segs, lay.Units)
	finds := edges.JudgeAll(seen.segs, hints, s.opt.Workers)
	for i, name := range lay.Names {
		c := block.NewChannel(name, lay.Units[i], Analog)
		if finds[i].Method == ByState {
			c.Held, c.Unit = true, ""
		}
		info.Channels = append(info.Channels, c)
	}
	d := s.newTable(t, info, hints, finds)
	d.line, d.last = lay.Line, make([]float64, lay.Clocks)
	for i := range d.last {
		d.last[i] = math.Inf(-1)
	}
	d.follow.Warnings = append(d.follow.Warnings, lay.Warnings...)
	err := s.run(ctx, info, d, s.src.body(t.body), t.body, t.end)
	if err == nil && lay.Clocks > 0 && d.rows > 2 && d.ends == info.Start {
		err = block.AtLine(ErrImpossible, lay.Line+1,
			"is it the right column? name another one \"time\", or give the interval in a line above the table",
			"time stands still: every row says %g s", info.Start)
	}
	if d.nuls > 0 {
		d.follow.Warnings = append(d.follow.Warnings, Warning{Line: d.line, Byte: -1, Channel: -1,
			Text: fmt.Sprintf("the file ends in %d zero bytes, which are left out", d.nuls)})
	}
	return s.result(info, d.follow, d.over, progress{rows: d.rows, end: d.ends}, err)
}

// hints are what is known of channels before they are judged.
func (s *scanner) hints(names []string, seen surveyed) []edges.Hint {
	hints := make([]edges.Hint, len(names))
	for i, name := range names {
		hints[i].Method = s.opt.Methods[name]
		if seen.starts != nil {
			hints[i].Start = seen.starts[i]
		}
	}
	return hints
}

// logicIn finds the channels that hold logic: 0 and 1 where a channel holds both; a channel at rest only where all
// others are logic too.
func logicIn(hints []edges.Hint, segs [][][]float64, units []string) {
	some, all := false, true
	for i := range hints {
		zero, one, other := edges.Bits(segs[i])
		hints[i].Logic = zero && one && !other && units[i] == ""
		some, all = some || hints[i].Logic, all && !other && units[i] == ""
	}
	for i := range hints {
		hints[i].Logic = hints[i].Logic || some && all
	}
}

// timesOf fills in start and, where rows are evenly spaced, the interval from the first rows of a table.
func timesOf(r *block.Rows, info *Info) {
	if len(r.Clocks) == 0 || r.N == 0 {
		return
	}
	info.Start = Second(r.Clocks[0].First)
	for _, c := range r.Clocks {
		if c.First < float64(info.Start) {
			info.Start = Second(c.First)
		}
	}
	t := appendValues(nil, r.Times[0], true)
	if len(t) < 2 {
		return
	}
	first, last := t[0], t[len(t)-1]
	steps := make([]float64, len(t)-1)
	for i := range steps {
		steps[i] = t[i+1] - t[i]
	}
	slices.Sort(steps)
	mid := steps[len(steps)/2]
	// times are printed with few digits: half the smallest step between them is no unevenness, nor is binary rounding
	slack := 0.05*mid + 4e-16*math.Max(math.Abs(first), math.Abs(last))
	if mid > 0 && steps[len(steps)-1]-mid <= slack && mid-steps[0] <= slack {
		info.Interval = Second((last - first) / float64(len(t)-1))
	}
}

// newTable makes the decoder of a table whose channels were judged.
func (s *scanner) newTable(t *table, info Info, hints []edges.Hint, finds []edges.Finding) *tableDecoder {
	d := &tableDecoder{table: t, s: s, ends: info.Start, follow: edges.NewFollower(info.Channels, s.opt.Glitch, s.sink)}
	for i := range info.Channels {
		d.follow.Sampled(i, hints[i], finds[i])
	}
	d.over = s.overview(info.Channels, func(o *Overview) { o.table = t })
	return d
}
