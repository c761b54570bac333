package waveform

import (
	"bytes"
	"context"
	"fmt"
	"runtime/debug"
	"strings"
	"sync/atomic"
	"testing"
)

// breaking is an input that breaks when a certain function reads from it.
type breaking struct {
	*bytes.Reader
	in    string
	broke atomic.Bool
}

func (b *breaking) check() {
	if strings.Contains(string(debug.Stack()), b.in) {
		b.broke.Store(true)
		panic("a broken invariant")
	}
}

func (b *breaking) Read(p []byte) (int, error) { b.check(); return b.Reader.Read(p) }

func (b *breaking) ReadAt(p []byte, off int64) (int, error) {
	b.check()
	return b.Reader.ReadAt(p, off)
}

// TestWhatBreaksBesideTheScanComesHome: wherever reading, surveying and parsing break, on whatever goroutine, it comes
// out of Scan, where it can be caught.
func TestWhatBreaksBesideTheScanComesHome(t *testing.T) {
	home := func(name string, work func()) {
		t.Helper()
		defer func() {
			p := recover()
			text := fmt.Sprint(p)
			if !strings.Contains(text, "a broken invariant") && !strings.Contains(text, "index out of range") {
				t.Errorf("%s: recovered %v", name, p)
			}
		}()
		work()
		t.Errorf("%s: nothing broke", name)
	}
	table, wave := hardTable(160_000, "\n"), hardWave(t, 700_000)
	if len(table) < surveyText {
		t.Fatalf("a table of %d bytes is read in one piece", len(table))
	}
	for _, c := range []struct {
		in     string // function on the goroutine in question
		data   []byte
		stream bool
	}{
		{"(*stretches).beginning", table, false}, {"(*stretches).spread", wave, false},
		{"(*pipeline).fill", table, false}, {"(*interruptible).Read", table, true},
	} {
		b := &breaking{Reader: bytes.NewReader(c.data), in: c.in}
		input := File("x", b, int64(len(c.data)))
		if c.stream {
			input = Stream("x", b, -1)
		}
		home(c.in, func() {
			_, err := ReadAll(context.Background(), input, Options{Workers: 2})
			t.Errorf("%s: %v", c.in, err)
		})
		if !b.broke.Load() {
			t.Errorf("nothing is read in %s", c.in)
		}
	}
	home("parsing", func() {
		p := &pipeline{dec: fragile{}, workers: 2, size: 1000}
		p.run(context.Background(), bytes.NewReader(make([]byte, 5000)), 0)
	})
}
