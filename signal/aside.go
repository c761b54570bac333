package signal

import (
	"fmt"
	"runtime/debug"
	"sync"
)

// aside runs work on a goroutine of its own and gives a function that waits for it. A broken invariant comes out of that function, where it can be caught.
func aside(work func()) (wait func()) {
	done := make(chan string, 1)
	go func() {
		broken := ""
		defer func() {
			if p := recover(); p != nil {
				broken = fmt.Sprintf("%v\n%s", p, debug.Stack())
			}
			done <- broken
		}()
		work()
	}()
	return func() {
		if broken := <-done; broken != "" {
			panic(broken)
		}
	}
}

// judgeAll judges every channel, on so many goroutines.
func judgeAll(segs [][][]float64, hints []hint, workers int) []finding {
	finds := make([]finding, len(hints))
	var next sync.Mutex
	at := 0
	work := func() {
		for {
			next.Lock()
			i := at
			at++
			next.Unlock()
			if i >= len(hints) {
				return
			}
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
