package waveform

import (
	"context"
	"fmt"
	"io"

	"phasewright/waveform/block"
	"phasewright/waveform/edges"
	"phasewright/waveform/wav"
)

// soundDecoder takes a sound card's samples through the pipeline. Parsing finds their extremes by short spans; only
// where these leave room for an edge do samples become values.
type soundDecoder struct {
	*tableDecoder
	lay *wav.Layout
	v   []float64 // room for a block
}

// split cuts between spans, so that they lie alike whatever the chunks.
func (d *soundDecoder) split(b []byte, last bool) int {
	if last {
		return d.lay.Split(b, last)
	}
	span := d.lay.Frame() * wav.Span
	return len(b) / span * span
}

func (d *soundDecoder) parse(c *chunk) { c.extents = d.lay.Extents(c.data, c.extents) }

func (d *soundDecoder) commit(c *chunk) error {
	frame := d.lay.Frame()
	frames := len(c.data) / frame
	if frames > 0 {
		d.over.mark(d.rows, c.off, d.at(d.rows))
	}
	data, extents := c.data, c.extents
	for frames > 0 {
		n := min(frames, blockRows-int(d.rows%blockRows))
		spans := (n + wav.Span - 1) / wav.Span * d.channels
		d.over.row(d.rows, d.at(d.rows))
		for ch := range d.channels {
			if err := d.block(ch, data[:n*frame], extents[:spans]); err != nil {
				return err
			}
		}
		data, extents, frames = data[n*frame:], extents[spans:], frames-n
		d.rows += int64(n)
	}
	if d.rows > 0 {
		d.ends = d.at(d.rows - 1)
	}
	return d.follow.Flush()
}

// at is the instant of a frame of the recording.
func (d *soundDecoder) at(row int64) Second { return Second(d.interval * float64(row)) }

// block passes the frames of one channel on: whatever is still, by its last samples.
func (d *soundDecoder) block(ch int, data []byte, extents []wav.Extent) error {
	n := len(data) / d.lay.Frame()
	all := extents[ch]
	for i := ch + d.channels; i < len(extents); i += d.channels {
		all = all.Or(extents[i])
	}
	if !all.Finite() || d.s.collect != nil {
		v := d.convert(ch, data, 0, n)
		return d.samples(ch, v, &d.clock, !all.Finite())
	}
	d.follow.Channels[ch].Saw(all.Least, all.Largest)
	d.over.add(ch, all.Least, all.Largest)
	if last := d.follow.Still(ch, all.Least, all.Largest); last > 0 { // as in most blocks
		d.pass(ch, data, 0, n, last)
		return nil
	}
	for from, i := 0, ch; from < n; {
		e, end := extents[i], min(from+wav.Span, n)
		i += d.channels
		last := d.follow.Still(ch, e.Least, e.Largest)
		if last == 0 {
			if err := d.follow.Samples(ch, d.convert(ch, data, from, end), &d.clock, e.Least, e.Largest); err != nil {
				return err
			}
			from = end
			continue
		}
		for end < n { // spans that are still together are passed together
			e = e.Or(extents[i])
			if d.follow.Still(ch, e.Least, e.Largest) == 0 {
				break
			}
			end, i = min(end+wav.Span, n), i+d.channels
		}
		d.pass(ch, data, from, end, last)
		from = end
	}
	return nil
}

// pass gives on frames of a channel that are still, by the last of them.
func (d *soundDecoder) pass(ch int, data []byte, from, end, last int) {
	d.follow.Pass(ch, d.convert(ch, data, max(from, end-last), end), &d.clock, end-from)
}

// convert gives the values of a channel in frames of a block, and sets the clock to them.
func (d *soundDecoder) convert(ch int, data []byte, from, end int) []float64 {
	v := d.v[:end-from]
	d.lay.Samples(data, from, ch, v)
	d.clock = block.Clock{Interval: d.interval, Row: d.rows + int64(from)}
	return v
}

// scanWAV reads a sound-card recording.
func (s *scanner) scanWAV(ctx context.Context) (*Result, error) {
	size := int64(-1)
	if s.src.at != nil {
		size = s.src.size
	}
	lay, p := wav.Head(s.src, size, maxFront)
	if p != nil {
		return nil, p
	}
	frame := int64(lay.Frame())
	t := &table{lay: lay, parser: func() rowParser { return lay.NewParser() }, channels: lay.Channels, body: lay.Body,
		end: size, unit: frame, surveyed: max(1024, surveyValues/int64(lay.Channels)) * frame, interval: 1 / lay.Rate}
	if lay.Frames >= 0 {
		t.end = lay.Body + lay.Frames*frame
	}
	info := Info{Name: s.src.name, Format: FormatWAV, Size: s.src.size, Interval: Second(t.interval)}
	names := make([]string, lay.Channels)
	for i := range names {
		names[i] = fmt.Sprintf("ch%d", i+1)
		c := block.NewChannel(names[i], "", Analog)
		c.Relative = true
		info.Channels = append(info.Channels, c)
	}
	seen := t.survey(s.src, nil)
	hints := s.hints(names, seen)
	for i := range hints {
		hints[i].AC = true
	}
	d := &soundDecoder{s.newTable(t, info, hints, edges.JudgeAll(seen.segs, hints, s.opt.Workers)), lay,
		make([]float64, blockRows)}
	d.follow.Warnings = append(d.follow.Warnings, lay.Warnings...)
	r, end := s.src.body(lay.Body), int64(-1)
	if lay.Frames >= 0 {
		r = io.LimitReader(r, t.end-t.body)
	}
	if s.src.at != nil {
		end = t.end
	}
	err := s.run(ctx, info, d, r, lay.Body, end)
	if rest := (s.bytes - lay.Body) % frame; err == nil && rest > 0 {
		d.follow.Warnings = append(d.follow.Warnings, Warning{Byte: s.bytes, Channel: -1,
			Text: "the recording ends within a frame: the rest is left out"})
	}
	if err == nil && lay.Frames > d.rows {
		d.follow.Warnings = append(d.follow.Warnings, Warning{Byte: lay.Body, Channel: -1,
			Text: fmt.Sprintf("the header claims %d frames, %d are there: read to the end", lay.Frames, d.rows)})
	}
	return s.result(info, d.follow, d.over, progress{rows: d.rows, end: d.ends}, err)
}
