package main

import (
	"testing"
	"time"
)

func TestReadSoFar(t *testing.T) {
	for _, c := range []struct {
		read, total int64
		took        time.Duration
		want        string
	}{ // by hand
		{0, 100e6, time.Second, "reading 0 B"},
		{25e6, 100e6, 30 * time.Second, "reading 25.0 MB of 100.0 MB, 25 %, 1:30 to go"},
		{100e6, 100e6, time.Minute, "reading 100.0 MB of 100.0 MB, 100 %, 0:00 to go"},
		{7e6, 0, time.Second, "reading 7.0 MB"},
		{200, 100, time.Second, "reading 200 B"},
	} {
		if got := readSoFar(c.read, c.total, c.took); got != c.want {
			t.Errorf("%d of %d: %q, want %q", c.read, c.total, got, c.want)
		}
	}
}
