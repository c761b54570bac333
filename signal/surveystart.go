package signal

import (
	"bytes"
	"slices"
)

// startShare is how much of a recording's beginning is looked at as a whole, beside the stretches of the survey: cranking comes first, is short, and its pulses are few.
const startShare = 2 << 20 // bytes

// startWAV gives the beginning of a recording that the survey takes in stretches only.
func (s *scanner) startWAV(lay *wavLayout) [][]float64 {
	starts := make([][]float64, lay.channels)
	frame := int64(lay.channels * lay.bytes)
	size := s.src.size - lay.body
	if lay.frames >= 0 {
		size = min(size, lay.frames*frame)
	}
	if s.src.at == nil || size <= surveyFrames(lay)*frame {
		return starts
	}
	size = min(size, startShare) / frame * frame
	buf := make([]byte, max(0, size))
	n, _ := s.src.at.ReadAt(buf, lay.body)
	for ch := range starts {
		starts[ch] = make([]float64, int64(n)/frame)
		lay.samples(buf[:n], ch, starts[ch])
	}
	return starts
}

// surveyFrames is how many frames the survey takes: about a million values.
func surveyFrames(lay *wavLayout) int64 { return int64(max(1024, 1<<20/lay.channels)) }

// startCSV is startWAV for a table.
func (s *scanner) startCSV(lay *csvLayout) [][]float64 {
	starts := make([][]float64, len(lay.names))
	if s.src.at == nil || s.src.size <= surveyBytes {
		return starts
	}
	padded := make([]byte, startShare+2*chunkPad)
	n, _ := s.src.at.ReadAt(padded[chunkPad:chunkPad+startShare], int64(lay.body))
	n = bytes.LastIndexByte(padded[chunkPad:chunkPad+n], '\n') + 1
	clear(padded[chunkPad+n:])
	r := &csvRows{}
	r.parseRows(lay, padded[:n+2*chunkPad], false)
	ch := 0
	for i := range lay.cols {
		if lay.cols[i].role == roleValue {
			starts[ch] = slices.DeleteFunc(r.cols[i][:r.rows], func(x float64) bool { return x != x })
			ch++
		}
	}
	return starts
}
