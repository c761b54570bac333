package waveform

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"runtime/debug"
	"strconv"
	"strings"
	"testing"
)

// repeated is a body of n bytes made of one stretch over and over, behind a head; it takes no memory whatever its size.
type repeated struct {
	head, body []byte
	size       int64
}

func (r repeated) ReadAt(p []byte, off int64) (int, error) {
	n := 0
	for n < len(p) && off < r.size {
		var k int
		if off < int64(len(r.head)) {
			k = copy(p[n:], r.head[off:])
		} else {
			at := (off - int64(len(r.head))) % int64(len(r.body))
			k = copy(p[n:min(int64(len(p)), int64(n)+r.size-off)], r.body[at:])
		}
		n += k
		off += int64(k)
	}
	if n < len(p) {
		return n, io.EOF
	}
	return n, nil
}

// ticking gives a VCD of 160 MB.
type ticking struct {
	b    []byte
	tick int
	n    int
}

func (v *ticking) Read(p []byte) (int, error) {
	if v.n > 160<<20 {
		return 0, io.EOF
	}
	if v.n == 0 && v.tick == 0 && len(v.b) == 0 {
		v.b = append(v.b, "$timescale 1 us $end $var wire 1 ! a $end $var wire 1 \" b $end $var real 64 # u $end $enddefinitions $end\n"...)
	}
	for len(v.b) < len(p) {
		v.b = fmt.Appendf(v.b, "#%d\n%d!\n%d\"\nr%d.5 #\n", v.tick, v.tick&1, v.tick>>1&1, v.tick>>4&1*2)
		v.tick++
	}
	n := copy(p, v.b)
	v.b = v.b[:copy(v.b, v.b[n:])]
	v.n += n
	return n, nil
}

// TestPeakMemory: the whole process stays within 64 MiB while it reads 160 MB of each format with the overview on. It
// runs in a process of its own.
func TestPeakMemory(t *testing.T) {
	if testing.Short() {
		t.Skip("NOT CHECKED with -short: 160 MB of each format take their time")
	}
	if _, err := os.Stat("/proc/self/status"); err != nil {
		t.Skip("NOT CHECKED: peak memory is read from /proc, which is not here")
	}
	if os.Getenv("SIGNAL_PEAK") == "" {
		for _, format := range []string{"csv", "vcd", "wav"} {
			c := exec.Command(os.Args[0], "-test.run=^TestPeakMemory$", "-test.v")
			c.Env = append(os.Environ(), "SIGNAL_PEAK="+format)
			out, err := c.CombinedOutput()
			if err != nil {
				t.Errorf("%s: %v: %s", format, err, out)
			}
			for line := range strings.Lines(string(out)) {
				if strings.Contains(line, "peak") {
					t.Log(strings.TrimSpace(line))
				}
			}
		}
		return
	}
	debug.SetGCPercent(100)
	const size = 160 << 20
	var src repeated
	switch os.Getenv("SIGNAL_PEAK") {
	case "csv":
		b := []byte("Sample Interval,1e-6,s\n\nCH1,CH2,CH3\n")
		var body []byte
		for i := range 1000 {
			body = append(body, []string{"0.012,4.95,0.1\n", "4.981,0.02,3.2\n"}[i/100%2]...)
		}
		src = repeated{head: b, body: body}
	case "wav":
		var body []byte
		for i := range 1000 {
			body = append(body, []string{"\x10\x20\x10\xe0", "\x10\xe0\x10\x20"}[i/50%2]...)
		}
		src = repeated{head: wavHeader(2, 192000, 16, (size-44)/4), body: body}
	}
	src.size = size
	in := File("x", src, size)
	if src.head == nil {
		in = Stream("x", &ticking{}, -1)
	}
	r, err := Scan(context.Background(), in, Options{Overview: true}, &counter{})
	if err != nil {
		t.Fatal(err)
	}
	if r.Rows == 0 {
		t.Fatal("nothing was read")
	}
	b, err := os.ReadFile("/proc/self/status")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(b), "VmHWM:")
	kb, _ := strconv.Atoi(strings.Fields(rest)[0])
	t.Logf("peak %d MiB", kb>>10)
	if kb>>10 > 64 || kb == 0 {
		t.Errorf("peak memory %d MiB, want at most 64", kb>>10)
	}
}
