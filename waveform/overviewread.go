package waveform

import (
	"context"
	"encoding/binary"
	"io"
	"math"

	"phasewright/waveform/block"
)

const rereadChunk = 256 << 10

// fromSpill fills the columns from the stretches of blockRows samples.
func (o *Overview) fromSpill(ctx context.Context, views []*view) error {
	record := o.record()
	t0, t1 := views[0].t0, views[0].t1
	i := int64(o.find(t0)) * o.factor
	buf := make([]byte, rereadChunk/record*record+record)
	var a Second
	var before []byte // the record whose end is not known yet
	put := func(until Second) {
		for _, v := range views {
			at := 8 + 8*v.col
			lo := math.Float32frombits(binary.LittleEndian.Uint32(before[at:]))
			hi := math.Float32frombits(binary.LittleEndian.Uint32(before[at+4:]))
			if lo != lo && !v.held {
				v.rests.cut(a)
			}
			v.add(a, until, float64(lo), float64(hi))
		}
	}
	for ; i < o.blocks; i += int64(len(buf)) / record {
		if err := ctx.Err(); err != nil {
			return err
		}
		part := buf[:min(int64(len(buf)), (o.blocks-i)*record)]
		if n, err := o.spill.ReadAt(part, i*record); n < len(part) {
			return err
		}
		for p := int64(0); p < int64(len(part)); p += record {
			t := Second(math.Float64frombits(binary.LittleEndian.Uint64(part[p:])))
			if before != nil {
				put(t)
			}
			if t >= t1 {
				return nil
			}
			a, before = t, part[p:p+record]
		}
		before = append([]byte{}, before...) // the buffer is used again
	}
	if before != nil {
		put(o.end)
	}
	return nil
}

// stretch gives the whole units that begin at a byte of the recording, and whether they are its last. buf is used
// again, and becomes larger where one unit does not fit.
func (o *Overview) stretch(buf []byte, off int64, split func(b []byte, last bool) int) ([]byte, []byte, bool, error) {
	for {
		n, err := o.at.ReadAt(buf, off)
		last := off+int64(n) >= o.size
		if cut := split(buf[:n], false); n > 0 && !last {
			n = cut
		}
		if n > 0 || last || len(buf) > longestUnit {
			if err == io.EOF {
				err = nil
			}
			return buf, buf[:n], last, err
		}
		buf = make([]byte, 2*len(buf))
	}
}

// fromFile fills the columns from the samples themselves.
func (o *Overview) fromFile(ctx context.Context, views []*view) error {
	t := o.table
	m := o.markBefore(views[0].t0, t.manyTimes)
	row, off, size := m.row, m.off, o.size
	if t.end >= 0 {
		size = t.end
	}
	if t.sized() { // the place of a row need not be looked for
		row = int64(max(0, math.Floor((float64(views[0].t0)-t.start)/t.interval)-1))
		off = t.body + row*t.unit
	}
	parser := t.parser()
	var rows block.Rows
	buf := make([]byte, rereadChunk)
	for ending := 0; off < size && ending < 2; {
		if err := ctx.Err(); err != nil {
			return err
		}
		var text []byte
		var last bool
		var err error
		if buf, text, last, err = o.stretch(buf, off, t.lay.Split); len(text) == 0 {
			return err
		}
		text = text[:min(int64(len(text)), size-off)]
		parser.Parse(text, last, &rows)
		past, some := true, false
		for _, v := range views {
			clock := block.Clock{Times: rows.Times[v.channel], Start: t.start, Interval: t.interval, Row: row}
			for i, x := range rows.Values[v.channel][:rows.N] {
				if v.sample(clock.At(i), x); v.past {
					break
				}
			}
			past, some = past && v.past, some || v.past
		}
		if past || rows.Problem != nil {
			return nil
		}
		if some { // a channel whose own times have ended must not make the rest of the file be read
			ending++
		}
		row += int64(rows.N)
		off += int64(len(text))
	}
	return nil
}
