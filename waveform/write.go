package waveform

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"phasewright/spreadsheet"
)

// CSVWriter is a Sink that writes edges as CSV (RFC 4180, but with LF): time_s, channel, edge, width_s. edge is one of
// rise, fall, low, high (the first known state, or the state after "unknown"), unknown, short_high, short_low; width_s
// is filled for the short ones. A channel's name that a spreadsheet would run as a formula stands behind an
// apostrophe.
type CSVWriter struct {
	w     *bufio.Writer
	names []string
	line  []byte
}

// NewCSVWriter makes a CSVWriter. Call Close at the end.
func NewCSVWriter(w io.Writer) *CSVWriter { return &CSVWriter{w: bufio.NewWriterSize(w, 64<<10)} }

// Begin writes the head.
func (c *CSVWriter) Begin(info Info) error {
	c.names = nil
	for _, ch := range info.Channels {
		c.names = append(c.names, quoteCell(spreadsheet.Cell(ch.Name)))
	}
	_, err := c.w.WriteString("time_s,channel,edge,width_s\n")
	return err
}

func quoteCell(s string) string {
	if strings.ContainsAny(s, ",\"\r\n") || strings.TrimSpace(s) != s {
		return `"` + strings.ReplaceAll(s, `"`, `""`) + `"`
	}
	return s
}

// Edges writes a batch.
func (c *CSVWriter) Edges(edges []Edge) error {
	for _, e := range edges {
		b := strconv.AppendFloat(c.line[:0], float64(e.At), 'g', -1, 64)
		b = append(append(append(append(b, ','), c.names[e.Channel]...), ','), e.Kind.String()...)
		b = append(b, ',')
		if e.Kind == ShortHigh || e.Kind == ShortLow {
			b = strconv.AppendFloat(b, float64(e.Width), 'g', -1, 64)
		}
		c.line = append(b, '\n')
		if _, err := c.w.Write(c.line); err != nil {
			return err
		}
	}
	return nil
}

// Close writes what is buffered. It does not close the writer below.
func (c *CSVWriter) Close() error { return c.w.Flush() }

// VCDWriter is a Sink that writes edges as VCD (IEEE 1364-2005 clause 18): a wire for each channel that is no bus, x
// while its state is unknown, a timescale of 1 ns (1 ps for recordings with finer times than 100 ns between samples,
// or of the recording's own ticks where those are finer), and one change a line so that line-based readers are served.
// A recording that begins before zero is shifted to begin at #0; a comment says by how much. Short pulses stand as
// pulses of at least one tick.
type VCDWriter struct {
	w     *bufio.Writer
	codes []string
	shift float64
	scale float64
	now   int64
	back  []vcdChange // ends of short pulses
	line  []byte
}

type vcdChange struct {
	tick int64
	ch   int32
	v    byte
}

// NewVCDWriter makes a VCDWriter. Call Close with the end of the recording.
func NewVCDWriter(w io.Writer) *VCDWriter {
	return &VCDWriter{w: bufio.NewWriterSize(w, 64<<10), now: -1}
}

// vcdCode is the n-th identifier code: ! to ~, then two characters and so on.
func vcdCode(n int) string {
	b := []byte{byte('!' + n%94)}
	for n = n/94 - 1; n >= 0; n = n/94 - 1 {
		b = append(b, byte('!'+n%94))
	}
	return string(b)
}

// vcdName has no blanks and nothing that a reader could take for a range or a keyword.
func vcdName(s string, taken map[string]bool) string {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '_', r == '.':
			b.WriteRune(r)
		default:
			b.WriteByte('_')
		}
	}
	name := strings.ReplaceAll(b.String(), ".", "_")
	if name == "" || name[0] >= '0' && name[0] <= '9' {
		name = "ch_" + name
	}
	unique := name
	for i := 2; taken[unique]; i++ {
		unique = fmt.Sprintf("%s_%d", name, i)
	}
	taken[unique] = true
	return unique
}

// Begin writes the declarations.
func (c *VCDWriter) Begin(info Info) error {
	unit := "1 ns"
	c.scale = 1e9
	switch {
	case info.Interval > 0 && info.Interval < 100e-9, info.Tick > 0 && info.Tick < 1e-9 && info.Tick >= 1e-12:
		unit, c.scale = "1 ps", 1e12
	case info.Tick > 0 && info.Tick < 1e-12:
		unit, c.scale = "1 fs", 1e15
	}
	fmt.Fprintf(c.w, "$version phasewright edges $end\n")
	if info.Start < 0 {
		c.shift = -float64(info.Start)
		fmt.Fprintf(c.w, "$comment time zero of the recording is at %s s here $end\n",
			strconv.FormatFloat(c.shift, 'g', -1, 64))
	}
	fmt.Fprintf(c.w, "$timescale %s $end\n$scope module capture $end\n", unit)
	taken := map[string]bool{}
	for i, ch := range info.Channels {
		c.codes = append(c.codes, "")
		if ch.Kind == Bus {
			continue
		}
		c.codes[i] = vcdCode(i)
		fmt.Fprintf(c.w, "$var wire 1 %s %s $end\n", c.codes[i], vcdName(ch.Name, taken))
	}
	fmt.Fprintf(c.w, "$upscope $end\n$enddefinitions $end\n#0\n$dumpvars\n")
	for _, code := range c.codes {
		if code != "" {
			fmt.Fprintf(c.w, "x%s\n", code)
		}
	}
	c.now = 0
	_, err := c.w.WriteString("$end\n")
	return err
}

var errTime = errors.New("a time does not fit into the VCD's ticks")

func (c *VCDWriter) tick(at Second) (int64, error) {
	t := math.Round((float64(at) + c.shift) * c.scale)
	if !(t >= 0 && t < 1<<62) {
		return 0, fmt.Errorf("%g s: %w", at, errTime)
	}
	return int64(t), nil
}

// Edges writes a batch.
func (c *VCDWriter) Edges(edges []Edge) error {
	for _, e := range edges {
		if c.codes[e.Channel] == "" {
			continue
		}
		t, err := c.tick(e.At)
		if err != nil {
			return err
		}
		if err := c.until(t); err != nil {
			return err
		}
		v := byte('1')
		switch e.Kind {
		case Fall, FoundLow, ShortLow:
			v = '0'
		case Lost:
			v = 'x'
		}
		c.put(t, e.Channel, v)
		if e.Kind == ShortHigh || e.Kind == ShortLow {
			end, err := c.tick(e.At + e.Width)
			if err != nil {
				return err
			}
			c.later(vcdChange{max(end, t+1), e.Channel, v ^ 1})
		}
	}
	return nil
}

// later keeps the end of a short pulse in its place.
func (c *VCDWriter) later(x vcdChange) {
	c.back = append(c.back, x)
	for i := len(c.back) - 1; i > 0 && c.back[i].tick < c.back[i-1].tick; i-- {
		c.back[i], c.back[i-1] = c.back[i-1], c.back[i]
	}
}

// until writes the pulse ends up to a tick.
func (c *VCDWriter) until(t int64) error {
	n := 0
	for n < len(c.back) && c.back[n].tick <= t {
		x := c.back[n]
		c.put(x.tick, x.ch, x.v)
		n++
	}
	c.back = append(c.back[:0], c.back[n:]...)
	return nil
}

func (c *VCDWriter) put(t int64, ch int32, v byte) {
	b := c.line[:0]
	if t > c.now {
		b = append(strconv.AppendInt(append(b, '#'), t, 10), '\n')
		c.now = t
	}
	c.line = append(append(append(b, v), c.codes[ch]...), '\n')
	c.w.Write(c.line) // bufio keeps the error for Close
}

// Close writes the end of the recording as a last time stamp, and what is buffered. It does not close the writer below.
func (c *VCDWriter) Close(end Second) error {
	t, err := c.tick(end)
	if err != nil {
		return err
	}
	if err := c.until(math.MaxInt64); err != nil {
		return err
	}
	if t > c.now {
		fmt.Fprintf(c.w, "#%d\n", t)
	}
	return c.w.Flush()
}
