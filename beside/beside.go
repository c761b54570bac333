// Package beside does work on other goroutines and brings home what breaks there: a panic comes out of the call that
// waits for the work, where it can be caught by whoever asked for it, and does not end the program. All goroutines of
// the program begin here (layout_test.go).
package beside

import (
	"fmt"
	"runtime/debug"
)

// Caught does work and says which invariant broke in it, with its trace; "" for none.
func Caught(work func()) (broken string) {
	defer func() {
		if p := recover(); p != nil {
			broken = fmt.Sprintf("%v\n%s", p, debug.Stack())
		}
	}()
	work()
	return ""
}

// Work is done on a goroutine of its own.
type Work struct {
	done   chan struct{}
	broken string
}

// Start lets work begin.
func Start(work func()) *Work {
	w := &Work{done: make(chan struct{})}
	go func() {
		defer close(w.done)
		w.broken = Caught(work)
	}()
	return w
}

// Done is closed once the work is done or broken.
func (w *Work) Done() <-chan struct{} { return w.done }

// Wait waits for the work and panics with what broke in it.
func (w *Work) Wait() {
	<-w.done
	if w.broken != "" {
		panic(w.broken)
	}
}

// All does work 0 to n-1 at the same time, the last on the caller's own goroutine, and waits for all of it. It panics
// with what broke in the first of them that broke.
func All(n int, work func(i int)) {
	var rest []*Work
	for i := range n - 1 {
		rest = append(rest, Start(func() { work(i) }))
	}
	broken := ""
	if n > 0 {
		broken = Caught(func() { work(n - 1) })
	}
	for _, w := range rest { // none is left behind at work on what the caller takes for done
		<-w.done
	}
	for _, w := range rest {
		w.Wait()
	}
	if broken != "" {
		panic(broken)
	}
}
