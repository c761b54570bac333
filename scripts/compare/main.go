// Command compare makes large captures and times our reading of them; scripts/measure-captures runs it. It is a module
// of its own, apart from the project's.
package main

import (
	"context"
	"fmt"
	"os"
	"time"

	"phasewright/waveform"
)

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "error:", err)
		os.Exit(1)
	}
}

func run(args []string) error {
	if len(args) == 3 && args[0] == "make" {
		return makeAll(args[1], args[2])
	}
	if len(args) == 2 && args[0] == "ours" {
		return ours(args[1])
	}
	if len(args) > 1 && args[0] == "used" {
		return used(args[1:])
	}
	return fmt.Errorf("use: compare make DIR MEGABYTES | ours FILE | used COMMAND...")
}

type edgeCount struct{ n int64 }

func (*edgeCount) Begin(waveform.Info) error { return nil }

func (c *edgeCount) Edges(e []waveform.Edge) error { c.n += int64(len(e)); return nil }

// ours times the package alone, with levels, edges and overview.
func ours(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		return err
	}
	begin := time.Now()
	c := &edgeCount{}
	r, err := waveform.Scan(context.Background(), waveform.File(path, f, st.Size()),
		waveform.Options{Overview: true}, c)
	if err != nil {
		return err
	}
	d := time.Since(begin)
	fmt.Printf("%d edges, %d channels, %d rows, %.3f s, %.0f MB/s, peak %d MiB\n", c.n, len(r.Channels), r.Rows,
		d.Seconds(), float64(st.Size())/1e6/d.Seconds(), peakMiB())
	return nil
}
