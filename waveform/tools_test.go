package waveform

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"phasewright/spreadsheet"
)

// vaneVerilog is an invented vane wheel: crank rises at 1250 µs and every 2500 µs after, falls between; cam up 3 times,
// down 2.
const vaneVerilog = "`timescale 1us/1us\n" + `module vane; reg crank=0, cam=0; integer k; real a; wire [3:0] n = k[3:0];
initial begin $dumpfile("v.vcd"); $dumpvars(0,vane); k=0; a=0.5;
 for(k=0;k<12;k=k+1) begin #1250 crank=1; if(k%4==3) cam=1; a=a*1.5; #1250 crank=0; if(k%4==0) cam=0; end
 #10 $finish; end
endmodule
`

// TestVerilogVane: a VCD written by iverilog, with edge times known from the source.
func TestVerilogVane(t *testing.T) {
	need(t, "iverilog")
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "vane.v"), []byte(vaneVerilog), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"iverilog", "-o", "vane", "vane.v"}, {"vvp", "vane"}} {
		c := exec.Command(need(t, args[0]), args[1:]...)
		c.Dir = dir
		if out, err := c.CombinedOutput(); err != nil {
			t.Fatalf("%v: %v: %s", args, err, out)
		}
	}
	r, err := readPath(t, filepath.Join(dir, "v.vcd"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	e := edgesOf(r, channelOf(t, r, "crank"))
	if len(e) != 24 {
		t.Fatalf("%d crank edges, want 24", len(e))
	}
	for i, x := range e {
		near(t, fmt.Sprintf("crank edge %d, µs", i), float64(x.At)*1e6, 1250*float64(i+1), 1e-6)
		if (x.Kind == Rise) != (i%2 == 0) {
			t.Errorf("crank edge %d is %v", i, x.Kind)
		}
	}
	if c := r.Channels[channelOf(t, r, "cam")]; c.Rises != 3 || c.Falls != 2 {
		t.Errorf("cam: %d up, %d down, want 3, 2", c.Rises, c.Falls)
	}
	u := channelOf(t, r, "a")
	near(t, "last real", r.Values[u][len(r.Values[u])-1], 0.5*math.Pow(1.5, 12), 1e-6)
}

// squares is an invented recording of two logic channels and a slow analog square, for the writers.
func squares() []byte {
	b := []byte("time,crank,cam,volts\n")
	for i := range 4000 {
		b = fmt.Appendf(b, "%.6f,%d,%d,%.3f\n", float64(i-500)*1e-6, i/100%2, i/700%2, float64(i/250%2)*4.8+0.1)
	}
	return b
}

// writeVCD sends a recording's edges through the VCD writer.
func writeVCD(t testing.TB, data []byte, opt Options) (text []byte, r *Result) {
	t.Helper()
	var b bytes.Buffer
	w := NewVCDWriter(&b)
	r = scanBytes(t, data, opt, w)
	if err := w.Close(r.End); err != nil {
		t.Fatal(err)
	}
	return b.Bytes(), r
}

// TestVCDRoundTrip: what we write we read: same edges within half a tick, shifted by the start before zero.
func TestVCDRoundTrip(t *testing.T) {
	data := squares()
	text, r := writeVCD(t, data, Options{})
	a, err := readText(t, string(data), Options{})
	if err != nil {
		t.Fatal(err)
	}
	b, err := readText(t, string(text), Options{})
	if err != nil {
		t.Fatalf("%v\n%s", err, text[:400])
	}
	for i := range a.Channels {
		x, y := edgesOf(a, i), edgesOf(b, channelOf(t, b, a.Channels[i].Name))
		if len(x) != len(y) || len(x) == 0 {
			t.Fatalf("%s: %d edges written, %d read", a.Channels[i].Name, len(x), len(y))
		}
		for k := range x {
			if x[k].Kind != y[k].Kind || math.Abs(float64(x[k].At-r.Start-y[k].At)) > 0.51e-9 {
				t.Fatalf("%s: edge %d was %v, is %v", a.Channels[i].Name, k, x[k], y[k])
			}
		}
	}
	near(t, "end", float64(b.End), float64(r.Duration()), 1e-9)
}

// TestVCDByOthers: sigrok-cli and vcd2fst open what we write and count the same edges. (Both misread some legal files
// of others, so ours are plain: one change a line, scalars only.)
func TestVCDByOthers(t *testing.T) {
	text, r := writeVCD(t, squares(), Options{})
	dir := t.TempDir()
	path := filepath.Join(dir, "e.vcd")
	if err := os.WriteFile(path, text, 0o644); err != nil {
		t.Fatal(err)
	}
	t.Run("sigrok-cli", func(t *testing.T) {
		out := runTool(t, "sigrok-cli", "-I", "vcd:downsample=100", "-i", path, "-O", "csv:header=false")
		counts := levelChanges(string(out), len(r.Channels))
		for i, c := range r.Channels {
			// it takes x at the beginning for 0: a channel that is first known high gains a rise
			up := c.Rises
			if firstState(t, text, i) == FoundHigh {
				up++
			}
			if counts[i] != [2]int64{up, c.Falls} {
				t.Errorf("%s: sigrok-cli counts %v, we %d and %d", c.Name, counts[i], up, c.Falls)
			}
		}
	})
	t.Run("vcd2fst", func(t *testing.T) {
		fst := filepath.Join(dir, "e.fst")
		runTool(t, "vcd2fst", path, fst)
		back := runTool(t, "fst2vcd", "-f", fst)
		b, err := readText(t, string(back), Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range r.Channels {
			if g := b.Channels[channelOf(t, b, c.Name)]; g.Rises != c.Rises || g.Falls != c.Falls {
				t.Errorf("%s: through vcd2fst %d up, %d down, want %d, %d", c.Name, g.Rises, g.Falls, c.Rises, c.Falls)
			}
		}
	})
}

func firstState(t testing.TB, vcd []byte, ch int) EdgeKind {
	t.Helper()
	r, err := readText(t, string(vcd), Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range r.Edges {
		if int(e.Channel) == ch {
			return e.Kind
		}
	}
	return Lost
}

// levelChanges counts rises and falls in rows of 0 and 1.
func levelChanges(text string, n int) [][2]int64 {
	counts := make([][2]int64, n)
	var last []string
	for line := range strings.Lines(text) {
		f := strings.Split(strings.TrimSpace(line), ",")
		if len(f) != n || f[0] != "0" && f[0] != "1" {
			continue
		}
		for i := range f {
			if last != nil && f[i] != last[i] {
				if f[i] == "1" {
					counts[i][0]++
				} else {
					counts[i][1]++
				}
			}
		}
		last = f
	}
	return counts
}

// TestCaptureBySigrok: edge counts of a real recording by sigrok-cli and by us.
func TestCaptureBySigrok(t *testing.T) {
	path := filepath.Join(captures, "digit_ids_10ns_crlf.vcd")
	out := runTool(t, "sigrok-cli", "-I", "vcd:downsample=10", "-i", path, "-O", "csv:header=false")
	r := readCapture(t, path)
	for i, c := range levelChanges(string(out), len(r.Channels)) {
		if c != [2]int64{r.Channels[i].Rises, r.Channels[i].Falls} {
			t.Errorf("%s: sigrok-cli %v, we %d and %d", r.Channels[i].Name, c, r.Channels[i].Rises, r.Channels[i].Falls)
		}
	}
}

// TestLargeForeignVCD: gtkwave's des.fst through fst2vcd: 1287 codes with vectors and scopes; clk has 352 rising and
// 351 falling edges (counted by an independent parser).
func TestLargeForeignVCD(t *testing.T) {
	const fst = "/usr/share/doc/gtkwave/examples/des.fst"
	if _, err := os.Stat(fst); err != nil {
		t.Skipf("NOT CHECKED: %s is not installed (gtkwave)", fst)
	}
	r, err := readText(t, string(runTool(t, "fst2vcd", "-f", fst)), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Channels) != 1287 {
		t.Errorf("%d codes, want 1287", len(r.Channels))
	}
	if c := r.Channels[channelOf(t, r, "clk")]; c.Rises != 352 || c.Falls != 351 {
		t.Errorf("clk: %d up, %d down, want 352, 351", c.Rises, c.Falls)
	}
}

// A channel's name that a spreadsheet would run as a formula stands behind an apostrophe; the names are invented.
func TestCSVWriterDefusesNames(t *testing.T) {
	var b bytes.Buffer
	w := NewCSVWriter(&b)
	if err := w.Begin(Info{Channels: []Channel{{Name: "=1+1,2"}, {Name: "-5V"}, {Name: "crank"}}}); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(w.Edges([]Edge{{Channel: 0}, {Channel: 1}, {Channel: 2}}), w.Close()); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(rows) != 4 || rows[1][1] != "'=1+1,2" || rows[2][1] != "'-5V" || rows[3][1] != "crank" {
		t.Errorf("%q, %v", rows, err)
	}
	if text := spreadsheet.Text(rows[1][1]); text != "=1+1,2" {
		t.Errorf("taken back it is %q", text)
	}
}

// TestCSVWriter: one row an edge, readable by encoding/csv, times that read back to the same bits, names quoted
// where needed.
func TestCSVWriter(t *testing.T) {
	data := []byte("time,\"a,\"\"b\"\"\",c\n0,0,5.5\n1e-3,1,0.5\n0.0021,0,0.5\n0.0022,1,5.5\n0.003,1,5.5\n")
	var b bytes.Buffer
	w := NewCSVWriter(&b)
	if _, err := Scan(context.Background(), File("x", bytes.NewReader(data), int64(len(data))), Options{Glitch: 0.0005}, w); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(rows[0], " "); got != "time_s channel edge width_s" {
		t.Errorf("head %q", got)
	}
	var kinds []string
	for _, r := range rows[1:] {
		if r[1] != `a,"b"` {
			continue
		}
		at, err := strconv.ParseFloat(r[0], 64)
		if err != nil {
			t.Fatal(err)
		}
		kinds = append(kinds, fmt.Sprintf("%s %g %s", r[2], at, r[3]))
	}
	if got, want := strings.Join(kinds, ", "), "low 0 , rise 0.001 , short_low 0.0021 0.00010000000000000026"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}
