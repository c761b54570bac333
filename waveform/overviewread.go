package waveform

import (
	"bytes"
	"context"
	"encoding/binary"
	"io"
	"math"
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
			v.add(a, until, float64(math.Float32frombits(binary.LittleEndian.Uint32(before[at:]))), float64(math.Float32frombits(binary.LittleEndian.Uint32(before[at+4:]))))
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

// fromSamples fills the columns from the file itself.
func (o *Overview) fromSamples(ctx context.Context, views []*view) error {
	if o.wav != nil {
		return o.wavSamples(ctx, views)
	}
	return o.csvSamples(ctx, views)
}

func (o *Overview) wavSamples(ctx context.Context, views []*view) error {
	l := o.wav
	frame := int64(l.channels * l.bytes)
	row := int64(max(0, math.Floor(float64(views[0].t0)*l.rate)-1))
	buf := make([]byte, max(1, rereadChunk/frame)*frame)
	vals := make([]float64, int64(len(buf))/frame)
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		n, err := o.at.ReadAt(buf[:min(int64(len(buf)), max(0, o.size-l.body-row*frame))], l.body+row*frame)
		k := int64(n) / frame
		if l.frames >= 0 {
			k = min(k, l.frames-row)
		}
		if k <= 0 {
			return failed(err)
		}
		past := true
		for _, v := range views {
			l.samples(buf, v.channel, vals[:k])
			for i, x := range vals[:k] {
				if v.sample(Second(float64(row+int64(i))/l.rate), x); v.past {
					break
				}
			}
			past = past && v.past
		}
		if past {
			return nil
		}
		row += k
	}
}

// failed is an error of reading that is not merely the end.
func failed(err error) error {
	if err == io.EOF {
		return nil
	}
	return err
}

func (o *Overview) csvSamples(ctx context.Context, views []*view) error {
	lay := o.csv
	m := o.markBefore(views[0].t0, lay.clocks > 1)
	cols, clocks := make([]int, len(views)), make([]int, len(views))
	for i, v := range views {
		cols[i], clocks[i] = lay.column(v.channel), lay.timeOf[v.channel]
	}
	var r csvRows
	row, off := m.row, m.off
	padded := make([]byte, rereadChunk+2*chunkPad)
	for ending := 0; off < o.size && ending < 2; {
		if err := ctx.Err(); err != nil {
			return err
		}
		size := len(padded) - 2*chunkPad
		n, err := o.at.ReadAt(padded[chunkPad:chunkPad+size], off)
		last := off+int64(n) >= o.size
		if n == 0 {
			return failed(err)
		}
		if !last {
			cut := bytes.LastIndexByte(padded[chunkPad:chunkPad+n], '\n') + 1
			if cut == 0 {
				if size > maxUnit {
					return nil
				}
				padded = make([]byte, 2*size+2*chunkPad)
				continue
			}
			n = cut
		}
		clear(padded[chunkPad+n : 2*chunkPad+n])
		r.parseRows(lay, padded[:2*chunkPad+n], last)
		past, any := true, false
		for i, v := range views {
			for k, x := range r.cols[cols[i]][:r.rows] {
				t := Second(lay.start + lay.interval*float64(row+int64(k)))
				if clocks[i] >= 0 {
					t = Second(r.cols[clocks[i]][k])
				}
				if v.sample(t, x); v.past {
					break
				}
			}
			past, any = past && v.past, any || v.past
		}
		if past || r.problem != nil {
			return nil
		}
		if any { // a channel whose own times have ended must not make the rest of the file be read
			ending++
		}
		row += int64(r.rows)
		off += int64(n)
	}
	return nil
}

// column is the column of a channel's values.
func (l *csvLayout) column(channel int) int {
	for i, c := range l.cols {
		if c.role == roleValue {
			if channel == 0 {
				return i
			}
			channel--
		}
	}
	return 0
}
