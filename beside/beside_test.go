package beside

import (
	"fmt"
	"strings"
	"sync/atomic"
	"testing"
)

// breaks gives what comes out of work as a panic.
func breaks(work func()) (text string) {
	defer func() {
		if p := recover(); p != nil {
			text = fmt.Sprint(p)
		}
	}()
	work()
	return ""
}

func TestWhatBreaksComesHome(t *testing.T) {
	if got := Caught(func() {}); got != "" {
		t.Errorf("sound work broke: %s", got)
	}
	sound := Start(func() {})
	if got := breaks(sound.Wait); got != "" {
		t.Errorf("sound work broke: %s", got)
	}
	w := Start(func() { panic("a nut in the works") })
	<-w.Done()
	for range 2 { // whoever waits hears of it, however many wait
		got := breaks(w.Wait)
		if !strings.HasPrefix(got, "a nut in the works\n") || !strings.Contains(got, "beside_test.go") {
			t.Errorf("Wait gave %q, want what broke with its trace", got)
		}
	}
}

func TestAllWaitsForAll(t *testing.T) {
	for n := range 5 {
		var done atomic.Int64
		All(n, func(i int) { done.Add(1 << (4 * i)) })
		if want := int64(1<<(4*n)-1) / 15; done.Load() != want { // each once
			t.Errorf("%d: done %x, want %x", n, done.Load(), want)
		}
	}
	for bad := range 4 {
		var done atomic.Int64
		got := breaks(func() {
			All(4, func(i int) {
				if i == bad {
					panic(fmt.Sprintf("number %d", i))
				}
				done.Add(1)
			})
		})
		if !strings.HasPrefix(got, fmt.Sprintf("number %d\n", bad)) || done.Load() != 3 {
			t.Errorf("%d breaks: %q after %d of 3", bad, got, done.Load())
		}
	}
}
