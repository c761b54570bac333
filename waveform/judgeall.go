package waveform

import (
	"sync/atomic"

	"phasewright/beside"
)

// judgeAll judges every channel, on so many goroutines.
func judgeAll(segs [][][]float64, hints []hint, workers int) []finding {
	finds := make([]finding, len(hints))
	var next atomic.Int64
	beside.All(min(workers, len(hints)), func(int) {
		for i := next.Add(1) - 1; i < int64(len(hints)); i = next.Add(1) - 1 {
			finds[i] = judge(segs[i], hints[i])
		}
	})
	return finds
}
