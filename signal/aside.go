package signal

import (
	"fmt"
	"runtime/debug"
	"sync/atomic"
)

// caught does work and says which invariant broke in it, with its trace; "" for none. Whoever waits for the work panics with that on its own goroutine, where it can
// be caught by whoever asked for the recording.
func caught(work func()) (broken string) {
	defer func() {
		if p := recover(); p != nil {
			broken = fmt.Sprintf("%v\n%s", p, debug.Stack())
		}
	}()
	work()
	return ""
}

// aside runs work on a goroutine of its own and gives a function that waits for it. A broken invariant comes out of that function.
func aside(work func()) (wait func()) {
	done := make(chan string, 1)
	go func() { done <- caught(work) }()
	return func() {
		if broken := <-done; broken != "" {
			panic(broken)
		}
	}
}

// judgeAll judges every channel, on so many goroutines.
func judgeAll(segs [][][]float64, hints []hint, workers int) []finding {
	finds := make([]finding, len(hints))
	var next atomic.Int64
	work := func() {
		for i := next.Add(1) - 1; i < int64(len(hints)); i = next.Add(1) - 1 {
			finds[i] = judge(segs[i], hints[i])
		}
	}
	var waits []func()
	for range min(workers, len(hints)) - 1 {
		waits = append(waits, aside(work))
	}
	work()
	for _, wait := range waits {
		wait()
	}
	return finds
}
