package waveform

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"slices"

	"phasewright/beside"
)

const (
	surveyBytes  = 4 << 20 // of text or samples from which levels are surveyed
	surveyBlocks = 64
)

// csvDecoder takes a table through the pipeline.
type csvDecoder struct {
	lay  *csvLayout
	eng  *engine
	rows int64
	line int64     // of the next chunk's first line
	last []float64 // per column: last time seen
	nuls int64
	keep *keeper
}

func (d *csvDecoder) split(b []byte, last bool) int { return bytes.LastIndexByte(b, '\n') + 1 }

func (d *csvDecoder) parse(c *chunk) {
	r := &c.csv
	r.parseRows(d.lay, c.padded, c.last)
	r.checkTimes(d.lay)
}

// checkTimes cuts the rows where a time column falls.
func (r *csvRows) checkTimes(lay *csvLayout) {
	for c := range lay.cols {
		if lay.cols[c].role != roleTime || r.rows == 0 {
			continue
		}
		col := r.cols[c][:r.rows]
		prev := col[0]
		for i, t := range col {
			if t < prev {
				r.falls(i, prev, t)
				break
			}
			if t == t {
				prev = t
			}
		}
	}
}

func (r *csvRows) falls(i int, from, to float64) {
	r.problem = problemAtLine(ErrMalformed, r.lineOf(i), "the rows are used up to there; was the recorder restarted?", "time falls from %g to %g", from, to)
	r.rows, r.warning, r.nuls = i, "", 0
}

// lineOf gives the line of a row, from 1 at the chunk's first line.
func (r *csvRows) lineOf(row int) int64 {
	n := int64(row) + 1
	for _, b := range r.blanks {
		if int(b) <= row {
			n++
		}
	}
	return n
}

func (d *csvDecoder) commit(c *chunk) error {
	r := &c.csv
	for i := range d.lay.cols {
		if d.lay.cols[i].role == roleTime && r.rows > 0 {
			if t := r.cols[i][0]; t < d.last[i] {
				r.falls(0, d.last[i], t)
			}
		}
	}
	if r.rows > 0 {
		d.eng.over.mark(d.rows, c.off, d.time(r, d.rows, 0))
	}
	if err := d.feed(r); err != nil {
		return err
	}
	for i := range d.lay.cols {
		if d.lay.cols[i].role == roleTime {
			for k := r.rows - 1; k >= 0; k-- {
				if t := r.cols[i][k]; t == t {
					d.last[i] = t
					d.eng.end = max(d.eng.end, Second(t))
					break
				}
			}
		}
	}
	d.rows += int64(r.rows)
	if d.lay.interval > 0 && d.rows > 0 {
		d.eng.end = Second(d.lay.start + d.lay.interval*float64(d.rows-1))
	}
	d.eng.rows = d.rows
	d.nuls += r.nuls
	if r.nuls > 0 && !c.last {
		return problemAtLine(ErrMalformed, d.line+r.lines, "what came before is used", "zero bytes stand where rows should be")
	}
	if r.problem != nil {
		p := *r.problem
		p.Line += d.line - 1
		return &p
	}
	d.line += r.lines
	return d.eng.merge.flush(false)
}

// time of a row of the chunk.
func (d *csvDecoder) time(r *csvRows, row int64, i int) Second {
	if tc := firstTime(d.lay.cols); tc >= 0 {
		return Second(r.cols[tc][i])
	}
	return Second(d.lay.start + d.lay.interval*float64(row))
}

// feed passes the chunk's rows to the channels, in blocks that end at multiples of blockRows of the whole recording.
func (d *csvDecoder) feed(r *csvRows) error {
	var clk clock
	for off := 0; off < r.rows; {
		row := d.rows + int64(off)
		n := min(r.rows-off, blockRows-int(row%blockRows))
		d.eng.over.row(row, d.time(r, row, off))
		ch := 0
		for ci := range d.lay.cols {
			if d.lay.cols[ci].role != roleValue {
				continue
			}
			t := d.eng.tracks[ch]
			v := r.cols[ci][off : off+n]
			clk = clock{start: d.lay.start, interval: d.lay.interval, row: row}
			gap := r.gaps[ci]
			if tc := d.lay.timeOf[ch]; tc >= 0 {
				clk.times = r.cols[tc][off : off+n]
				gap = gap || r.gaps[tc]
			}
			if d.keep != nil {
				d.keep.samples(ch, v, &clk)
			}
			var err error
			if gap {
				err = d.eng.gaps(t, v, &clk)
				if first := firstTime(d.lay.cols); first >= 0 && clk.times[n-1] != clk.times[n-1] && finite(r.cols[first][off+n-1]) {
					t.hold(Second(r.cols[first][off+n-1])) // a channel whose own times have ended must not keep the others waiting
				}
			} else {
				least, largest := extremes(v)
				d.eng.extent(ch, least, largest)
				err = d.eng.feed(t, v, &clk, least, largest)
			}
			if err != nil {
				return err
			}
			ch++
		}
		off += n
	}
	return nil
}

// scanCSV reads a table.
func (s *scanner) scanCSV(ctx context.Context) (*Result, error) {
	if p := refuseText(s.src.head); p != nil {
		return nil, p
	}
	lay, p := csvHead(s.src.head, s.src.headEOF)
	if p != nil {
		return nil, p
	}
	var starts [][]float64
	started := beside.Start(func() { starts = s.startCSV(lay) })
	segs, rows := s.surveyCSV(lay)
	started.Wait()
	info := Info{Name: s.src.name, Format: FormatCSV, Size: s.src.size}
	hints := make([]hint, len(lay.names))
	s.csvTimes(lay, rows, &info)
	// 0 and 1 are logic where a channel holds both; a channel at rest only where all others are logic too
	both := make([]bool, len(hints))
	any, all := false, true
	for i := range hints {
		zero, one, other := bitsIn(segs[i])
		both[i] = zero && one && !other && lay.chanUnit[i] == ""
		any, all = any || both[i], all && !other && lay.chanUnit[i] == ""
	}
	for i := range hints {
		hints[i] = hint{method: s.opt.Methods[lay.names[i]], logic: both[i] || any && all, start: starts[i]}
	}
	finds := judgeAll(segs, hints, s.opt.Workers)
	for i := range hints {
		c := newChannel(lay.names[i], lay.chanUnit[i], Analog)
		if finds[i].method == ByState {
			c.Held, c.Unit = true, ""
		}
		info.Channels = append(info.Channels, c)
	}
	eng := newEngine(info, hints, finds, s.opt, s.sink, len(hints))
	eng.warnings = append(eng.warnings, lay.warnings...)
	eng.end = info.Start
	d := &csvDecoder{lay: lay, eng: eng, line: lay.line, last: make([]float64, len(lay.cols)), keep: s.keep}
	for i := range d.last {
		d.last[i] = math.Inf(-1)
	}
	s.overview(eng, func(o *Overview) { o.csv = lay })
	err := s.run(ctx, eng, d, int64(lay.body))
	if err == nil && lay.clocks > 0 && d.rows > 2 && eng.end == info.Start {
		err = problemAtLine(ErrImpossible, lay.line+1, "is it the right column? name another one \"time\", or give the interval in a line above the table", "time stands still: every row says %g s", info.Start)
	}
	if d.nuls > 0 {
		eng.warnings = append(eng.warnings, Warning{Line: d.line, Byte: -1, Channel: -1, Text: fmt.Sprintf("the file ends in %d zero bytes, which are left out", d.nuls)})
	}
	return s.result(eng, err)
}

// csvTimes fills in start and, where rows are evenly spaced, the interval.
func (s *scanner) csvTimes(lay *csvLayout, r *csvRows, info *Info) {
	if lay.interval > 0 {
		info.Start, info.Interval = Second(lay.start), Second(lay.interval)
		return
	}
	tc := firstTime(lay.cols)
	var t []float64
	for _, x := range r.cols[tc][:r.rows] {
		if x == x {
			t = append(t, x)
		}
	}
	if len(t) == 0 {
		return
	}
	info.Start = Second(t[0])
	for _, o := range lay.timeOf {
		if o != tc && r.rows > 0 && r.cols[o][0] < t[0] {
			info.Start = Second(r.cols[o][0])
		}
	}
	if len(t) < 2 {
		return
	}
	steps := make([]float64, len(t)-1)
	for i := range steps {
		steps[i] = t[i+1] - t[i]
	}
	slices.Sort(steps)
	mid := steps[len(steps)/2]
	// times are printed with few digits: half the smallest step between them is no unevenness, nor is binary rounding
	slack := 0.05*mid + 4e-16*math.Max(math.Abs(t[0]), math.Abs(t[len(t)-1]))
	if mid > 0 && steps[len(steps)-1]-mid <= slack && mid-steps[0] <= slack {
		info.Interval = Second((t[len(t)-1] - t[0]) / float64(len(t)-1))
	}
}

// surveyCSV samples the table: blocks spread over the file, or its beginning. rows is the first block.
func (s *scanner) surveyCSV(lay *csvLayout) (segs [][][]float64, rows *csvRows) {
	segs = make([][][]float64, len(lay.names))
	take := func(text []byte, last bool) *csvRows {
		r := &csvRows{}
		padded := make([]byte, len(text)+2*chunkPad)
		copy(padded[chunkPad:], text)
		r.parseRows(lay, padded, last)
		ch := 0
		for i := range lay.cols {
			if lay.cols[i].role == roleValue {
				v := make([]float64, 0, r.rows)
				for _, x := range r.cols[i][:r.rows] {
					if x == x {
						v = append(v, x)
					}
				}
				segs[ch] = append(segs[ch], v)
				ch++
			}
		}
		return r
	}
	const size = surveyBytes / surveyBlocks
	plain := s.src.at != nil && s.src.size > surveyBytes
	if !plain {
		s.src.fillHead(lay.body + surveyBytes)
		text := s.src.head[lay.body:]
		if !s.src.headEOF {
			text = text[:bytes.LastIndexByte(text, '\n')+1]
		}
		for {
			part := text
			if len(text) > 8*size {
				part = text[:bytes.LastIndexByte(text[:8*size], '\n')+1]
			}
			if len(part) == 0 {
				part = text
			}
			text = text[len(part):]
			r := take(part, s.src.headEOF && len(text) == 0)
			if rows == nil {
				rows = r
			}
			if len(text) == 0 || r.problem != nil {
				return segs, rows
			}
		}
	}
	buf := make([]byte, size)
	for i := range int64(surveyBlocks) {
		at := int64(lay.body) + i*(s.src.size-int64(lay.body)-size)/(surveyBlocks-1)
		n, _ := s.src.at.ReadAt(buf, at)
		text := buf[:n]
		if i > 0 {
			text = text[bytes.IndexByte(text, '\n')+1:]
		}
		text = text[:bytes.LastIndexByte(text, '\n')+1]
		if len(text) == 0 {
			continue
		}
		r := take(text, false)
		if rows == nil {
			rows = r
		}
	}
	if rows == nil {
		rows = take(nil, false)
	}
	return segs, rows
}
