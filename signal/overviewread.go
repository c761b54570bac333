package signal

import (
	"bytes"
	"context"
	"encoding/binary"
	"math"
	"strconv"
)

const rereadChunk = 256 << 10

// fromSpill fills the columns from the stretches of blockRows samples.
func (o *Overview) fromSpill(ctx context.Context, col int, v *view) error {
	record := o.record()
	i := int64(o.find(v.t0)) * o.factor
	buf := make([]byte, rereadChunk/record*record+record)
	var a float64
	var lo, hi float64
	have := false
	for ; i < o.blocks; i += int64(len(buf)) / record {
		if err := ctx.Err(); err != nil {
			return err
		}
		part := buf[:min(int64(len(buf)), (o.blocks-i)*record)]
		if n, err := o.spill.ReadAt(part, i*record); n < len(part) {
			return err
		}
		for p := int64(0); p < int64(len(part)); p += record {
			t := math.Float64frombits(binary.LittleEndian.Uint64(part[p:]))
			if have {
				v.add(Second(a), Second(t), lo, hi)
			}
			if Second(t) >= v.t1 {
				return nil
			}
			at := p + 8 + 8*int64(col)
			a, have = t, true
			lo = float64(math.Float32frombits(binary.LittleEndian.Uint32(part[at:])))
			hi = float64(math.Float32frombits(binary.LittleEndian.Uint32(part[at+4:])))
		}
	}
	if have {
		v.add(Second(a), o.end, lo, hi)
	}
	return nil
}

// fromSamples fills the columns from the file itself.
func (o *Overview) fromSamples(ctx context.Context, channel int, v *view) error {
	if o.wav != nil {
		return o.wavSamples(ctx, channel, v)
	}
	if len(o.marks) == 0 {
		return nil
	}
	return o.csvSamples(ctx, channel, v)
}

func (o *Overview) wavSamples(ctx context.Context, channel int, v *view) error {
	l := o.wav
	frame := int64(l.channels * l.bytes)
	row := int64(max(0, math.Floor(float64(v.t0)*l.rate)))
	buf := make([]byte, max(1, rereadChunk/frame)*frame)
	vals := make([]float64, int64(len(buf))/frame)
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		n, _ := o.at.ReadAt(buf[:min(int64(len(buf)), max(0, o.size-l.body-row*frame))], l.body+row*frame)
		k := int64(n) / frame
		if l.frames >= 0 {
			k = min(k, l.frames-row)
		}
		if k <= 0 {
			return nil
		}
		l.samples(buf, channel, vals[:k])
		for i, x := range vals[:k] {
			t := Second(float64(row+int64(i)) / l.rate)
			if t >= v.t1 {
				return nil
			}
			if t >= v.t0 {
				v.add(t, t, x, x)
			}
		}
		row += k
	}
}

func (o *Overview) csvSamples(ctx context.Context, channel int, v *view) error {
	m := o.markBefore(v.t0)
	lay := o.csv
	col, tc := lay.column(channel), lay.timeOf[channel]
	var r csvRows
	row, off := m.row, m.off
	size := int64(rereadChunk)
	for off < o.size {
		if err := ctx.Err(); err != nil {
			return err
		}
		padded := make([]byte, size+2*chunkPad)
		n, err := o.at.ReadAt(padded[chunkPad:chunkPad+size], off)
		last := off+int64(n) >= o.size
		if n == 0 {
			return err
		}
		if !last {
			cut := bytes.LastIndexByte(padded[chunkPad:chunkPad+n], '\n') + 1
			if cut == 0 {
				if size > maxUnit {
					return nil
				}
				size *= 2
				continue
			}
			n = cut
		}
		clear(padded[chunkPad+n:])
		r.parseRows(lay, padded[:2*chunkPad+n], last)
		for i, x := range r.cols[col][:r.rows] {
			t := Second(lay.start + lay.interval*float64(row+int64(i)))
			if tc >= 0 {
				t = Second(r.cols[tc][i])
			}
			if t >= v.t1 {
				return nil
			}
			if t >= v.t0 && finite(x) {
				v.add(t, t, x, x)
			}
		}
		if r.problem != nil {
			return nil
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

// queryChanges fills the columns of a VCD's channel: from memory where its stretches are short enough, else from the file.
func (o *Overview) queryChanges(ctx context.Context, channel int, v *view) error {
	col := o.kept[channel]
	stretch := Second(math.Ldexp(1, int(o.shift)) * o.vcd.mul / o.vcd.div)
	if stretch <= v.step || o.at == nil || len(o.marks) == 0 {
		first := max(0, int64(v.t0/stretch)-1)
		for i := first; i < int64(len(o.lo[col])); i++ {
			a := o.vcd.seconds(uint64(i) << o.shift)
			if a >= v.t1 {
				break
			}
			v.add(a, min(o.end, o.vcd.seconds(uint64(i+1)<<o.shift)), float64(o.lo[col][i]), float64(o.hi[col][i]))
		}
		return nil
	}
	m := o.markBefore(v.t0)
	state, since, tick := float64(m.states[col]), Second(m.at), uint64(m.row)
	var r vcdEvents
	st := vcdState{}
	off := m.off
	for off < o.size {
		if err := ctx.Err(); err != nil {
			return err
		}
		padded := make([]byte, rereadChunk+2*chunkPad)
		n, err := o.at.ReadAt(padded[chunkPad:chunkPad+rereadChunk], off)
		if n == 0 {
			return err
		}
		if off+int64(n) < o.size {
			for cut := n; cut > 0; cut-- {
				if padded[chunkPad+cut-1] <= ' ' {
					n = cut
					break
				}
			}
		}
		clear(padded[chunkPad+n:])
		padded = padded[:2*chunkPad+n]
		r.parseVCD(o.vcd, padded, st)
		st = r.end
		for i := range r.events {
			e := &r.events[i]
			t := e.tick
			if i < r.inherited {
				t = tick
			}
			at := o.vcd.seconds(t)
			if at >= v.t1 {
				v.add(since, v.t1-v.step/2, state, state)
				return nil
			}
			if o.vcd.vars[e.v].ch != channel {
				continue
			}
			v.add(since, at, state, state)
			since = at
			switch {
			case e.value == valueText:
				text := r.pending
				if e.at > 0 {
					text = word(padded[e.at : len(padded)-chunkPad])
				}
				state, _ = strconv.ParseFloat(string(text[1:]), 64)
			case e.value == valueX:
				state = math.NaN()
			default:
				state = float64(e.value)
			}
			v.add(at, at, state, state)
		}
		if r.problem != nil {
			break
		}
		if r.stamps > 0 {
			tick = r.last
		}
		off += int64(n)
	}
	v.add(since, o.end, state, state)
	return nil
}
