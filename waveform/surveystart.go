package waveform

import "bytes"

// How much of a recording's beginning is looked at as a whole, beside the stretches of the survey: cranking comes first, is short, and its pulses are few.
const (
	startText   = 4 << 20 // bytes of a table
	startValues = 1 << 20 // samples of all channels of a sound-card recording
)

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
	size = min(size, startValues/int64(lay.channels)*frame)
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
	const piece = 256 << 10
	padded := make([]byte, piece+2*chunkPad)
	var r csvRows
	for from := 0; from < startText && r.problem == nil; {
		n, _ := s.src.at.ReadAt(padded[chunkPad:chunkPad+piece], int64(lay.body+from))
		n = bytes.LastIndexByte(padded[chunkPad:chunkPad+n], '\n') + 1
		if n == 0 {
			break
		}
		clear(padded[chunkPad+n : 2*chunkPad+n])
		r.parseRows(lay, padded[:2*chunkPad+n], false)
		ch := 0
		for i := range lay.cols {
			if lay.cols[i].role == roleValue {
				if from == 0 {
					starts[ch] = make([]float64, 0, r.rows*(startText/n+2))
				}
				for _, x := range r.cols[i][:r.rows] {
					if x == x {
						starts[ch] = append(starts[ch], x)
					}
				}
				ch++
			}
		}
		from += n
	}
	return starts
}
