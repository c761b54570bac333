package shaft

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phasewright/waveform"
)

// None of the public-domain recordings shows an engine: nothing may be made of them but that.
func TestRecordingsOfOtherThings(t *testing.T) {
	files, err := filepath.Glob("../waveform/testdata/captures/*.[vcw]*") // recordings: vcd, csv, wav
	if err != nil || len(files) != 9 {
		t.Fatal(len(files), "files", err)
	}
	for _, f := range files {
		t.Run(filepath.Base(f), func(t *testing.T) {
			data, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			r, err := Run(context.Background(), Recording{Input: waveform.File(filepath.Base(f), bytes.NewReader(data), int64(len(data)))}, Options{})
			if err != nil {
				t.Fatal(err)
			}
			if !r.Found(FoundNoCrank) && !r.Found(FoundNoEdges) {
				t.Errorf("a crank signal was seen in it: %+v", r.Channels)
			}
			if r.Sync != SyncNone || r.Timing != nil || r.Speed != nil {
				t.Errorf("sync %s, timing %v, speed %v", r.Sync, r.Timing, r.Speed)
			}
			var b strings.Builder
			if err := r.WriteSummary(&b); err != nil {
				t.Fatal(err)
			}
			if !strings.Contains(b.String(), "FOUND") {
				t.Errorf("the summary does not say that there is no crank signal:\n%s", b.String())
			}
		})
	}
}

// vcd writes edges as IEEE 1364 value changes in 100 ns ticks.
func vcd(edges []waveform.Edge, names []string) []byte {
	var b bytes.Buffer
	b.WriteString("$timescale 100 ns $end\n$scope module rig $end\n")
	for i, n := range names {
		fmt.Fprintf(&b, "$var wire 1 %c %s $end\n", 'a'+i, n)
	}
	b.WriteString("$upscope $end\n$enddefinitions $end\n#0\n$dumpvars\n")
	for i := range names {
		first := byte('0')
		for _, e := range edges {
			if int(e.Channel) == i {
				if e.Kind == waveform.Fall {
					first = '1'
				}
				break
			}
		}
		fmt.Fprintf(&b, "%c%c\n", first, 'a'+i)
	}
	b.WriteString("$end\n")
	last := int64(-1)
	for _, e := range edges {
		if t := int64(math.Round(float64(e.At) * 1e7)); t != last {
			fmt.Fprintf(&b, "#%d\n", t)
			last = t
		}
		v := byte('0')
		if e.Kind == waveform.Rise {
			v = '1'
		}
		fmt.Fprintf(&b, "%c%c\n", v, 'a'+int(e.Channel))
	}
	return b.Bytes()
}

// csv writes sampled voltages, five volts and a little noise, every step seconds.
func csv(edges []waveform.Edge, names []string, step, from, until float64) []byte {
	var b bytes.Buffer
	b.WriteString("time_s")
	for _, n := range names {
		b.WriteString("," + n + "_V")
	}
	b.WriteByte('\n')
	level := make([]bool, len(names))
	for i := range level {
		for _, e := range edges {
			if int(e.Channel) == i {
				level[i] = e.Kind == waveform.Fall
				break
			}
		}
	}
	k := 0
	noise := uint32(1)
	for i := 0; ; i++ {
		t := from + float64(i)*step
		if t > until {
			return b.Bytes()
		}
		for k < len(edges) && float64(edges[k].At) <= t {
			level[edges[k].Channel] = edges[k].Kind == waveform.Rise
			k++
		}
		fmt.Fprintf(&b, "%.6f", t)
		for _, l := range level {
			noise = noise*1664525 + 1013904223
			v := 0.2 + float64(noise>>24)/255*0.05
			if l {
				v += 4.8
			}
			fmt.Fprintf(&b, ",%.3f", v)
		}
		b.WriteByte('\n')
	}
}

// From file to timing: logic changes in 100 ns ticks.
func TestFromVCDToTiming(t *testing.T) {
	s := running()
	s.lead, s.leadSet, s.delay = 50.5, 49, 140
	names := []string{"A", "B", "C", "D"}
	data := vcd(s.run(), names)
	r, err := Run(context.Background(), Recording{Input: waveform.Stream("rig.vcd", bytes.NewReader(data), int64(len(data)))}, Options{Card: card()})
	if err != nil {
		t.Fatal(err)
	}
	if r.Timing == nil || math.Abs(r.Timing.Offset.Value-1.5) > 0.05 || math.Abs(r.Timing.Delay.Value-80) > 2 {
		t.Errorf("timing %+v, put in 1.5° and 80 µs", r.Timing)
	}
	if r.Sync != SyncHeld || len(r.Anomalies) > 0 {
		t.Errorf("%s %v", r.Sync, r.Anomalies)
	}
}

// From file to timing: voltages sampled every 10 µs, so that one sample is 0.24° at 4000 rpm.
func TestFromVoltagesToTiming(t *testing.T) {
	s := running()
	s.lead, s.leadSet, s.delay = 47, 49, 140
	edges := s.run()
	data := csv(edges, fourNames, 10e-6, 0, 3)
	r, err := Run(context.Background(), Recording{Input: waveform.File("rig.csv", bytes.NewReader(data), int64(len(data)))}, Options{Card: card()})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []Role{Crank, Cam, Spark, Mark} {
		if r.Channels[i].Role != want {
			t.Errorf("channel %d is %s: %s", i, r.Channels[i].Role, r.Channels[i].Reason)
		}
		if lo, hi := float64(r.Channels[i].LowV), float64(r.Channels[i].HighV); math.Abs(lo-0.225) > 0.1 || math.Abs(hi-5.025) > 0.1 {
			t.Errorf("levels of channel %d: %v and %v V, put in 0.225 and 5.025", i, lo, hi)
		}
	}
	if r.Timing == nil || math.Abs(r.Timing.Offset.Value+2) > 0.05 || math.Abs(r.Timing.Delay.Value-80) > 2 {
		t.Errorf("timing %+v, put in −2° and 80 µs", r.Timing)
	}
	if r.Sync != SyncHeld || len(r.Anomalies) > 0 {
		t.Errorf("%s %v", r.Sync, r.Anomalies)
	}
	// Cut short in the middle of a row: what was read stands, labelled as part.
	part := data[:len(data)*2/3]
	r, err = Run(context.Background(), Recording{Input: waveform.File("rig.csv", bytes.NewReader(part), int64(len(part)))}, Options{Card: card()})
	if err != nil {
		t.Fatal(err)
	}
	if r.Partial == "" || r.Timing == nil {
		t.Errorf("cut short: partial %q, timing %v", r.Partial, r.Timing)
	}
}
