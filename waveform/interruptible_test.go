package waveform

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"testing"
	"time"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
)

// Recordings, faults and numbers here are invented, unless a test says where one comes from.

// TestStalledPipe: a pipe that gives nothing more does not keep a scan that is told to stop, wherever it waits.
func TestStalledPipe(t *testing.T) {
	for name, given := range map[string][]byte{"nothing": nil, "the magic number": {'R', 'I'}, "a part of the head": hardTable(100, "\n"), "some of the table": hardTable(60000, "\n"),
		"a part of a wave": hardWave(t, 20000), "declarations": []byte("$timescale 1 ns $end\n$var wire")} {
		t.Run(name, func(t *testing.T) {
			r, w := io.Pipe()
			defer w.Close()
			ctx, stop := context.WithCancel(context.Background())
			go func() {
				w.Write(given)
				time.Sleep(20 * time.Millisecond)
				stop()
			}()
			done := make(chan error, 1)
			go func() {
				_, err := ReadAll(ctx, Stream("pipe", r, -1), Options{})
				done <- err
			}()
			select {
			case err := <-done:
				if !errors.Is(err, context.Canceled) {
					t.Errorf("%v, want word that it was stopped", err)
				}
			case <-time.After(20 * time.Second):
				t.Fatal("still waiting")
			}
		})
	}
}

// TestStreamIsReadWhole: reading through own room loses nothing.
func TestStreamIsReadWhole(t *testing.T) {
	data := hardTable(40000, "\n")
	want, err := readText(t, string(data), Options{Chunk: 5000})
	if err != nil {
		t.Fatal(err)
	}
	r, w := io.Pipe()
	go func() {
		for k := 1; len(data) > 0; k = k*3%200003 + 1 {
			n := min(k, len(data))
			w.Write(data[:n])
			data = data[n:]
		}
		w.Close()
	}()
	got, err := ReadAll(context.Background(), Stream("pipe", r, -1), Options{})
	if err != nil || fmt.Sprint(got.Edges) != fmt.Sprint(want.Edges) || len(got.Edges) == 0 {
		t.Errorf("%d edges, want %d (%v)", len(got.Edges), len(want.Edges), err)
	}
}

// again is a file of 1 TiB that repeats a few bytes.
type again []byte

func (a again) ReadAt(p []byte, off int64) (int, error) {
	at := int(off % int64(len(a)))
	for i := range p {
		p[i] = a[at]
		if at++; at == len(a) {
			at = 0
		}
	}
	return len(p), nil
}

// TestPackedNothingEnds: packed parts that hold nothing, one after the other, do not keep a scan that is told to stop.
func TestPackedNothingEnds(t *testing.T) {
	var member, frame bytes.Buffer
	gzip.NewWriter(&member).Close()
	z, err := zstd.NewWriter(&frame, zstd.WithZeroFrames(true))
	if err != nil {
		t.Fatal(err)
	}
	z.Close()
	// RFC 8878, 3.1.2
	for name, part := range map[string][]byte{"gzip": member.Bytes(), "zstd": frame.Bytes(),
		"zstd, to be skipped": {0x50, 0x2a, 0x4d, 0x18, 4, 0, 0, 0, 1, 2, 3, 4}} {
		ctx, stop := context.WithTimeout(t.Context(), 100*time.Millisecond)
		defer stop()
		done := make(chan error, 1)
		go func() {
			_, err := ReadAll(ctx, File("packed", again(part), 1<<40), Options{Workers: 1})
			done <- err
		}()
		select {
		case err := <-done:
			if !errors.Is(err, context.DeadlineExceeded) {
				t.Errorf("%s: %v, want word that it was stopped", name, err)
			}
		case <-time.After(20 * time.Second):
			t.Errorf("%s: still reading", name)
		}
	}
}
