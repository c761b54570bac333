package recording_test

import (
	"bytes"
	"cmp"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"phasewright/shaft"
	"phasewright/waveform"
	"phasewright/web/recording"
)

// camRun is an invented recording of a cam pickup: one vane a cycle of 720°, its speed going evenly from one figure to
// another, the pulses from lost on left out.
type camRun struct {
	seconds, rpm0, rpm1 float64
	vane                float64 // crank degrees of the 720
	lost, n             int
	teeth, missing      int // of a crank wheel in the vane's place
}

// edges are the times at which the signal rises and falls, s, by the angle turned: 6 rpm degrees a second.
func (c camRun) edges() (out [][2]float64) {
	at := func(deg float64) float64 { // when the crank has turned so far
		a, b := 6*c.rpm0, 3*(c.rpm1-c.rpm0)/c.seconds
		if b == 0 {
			return deg / a
		}
		return (-a + math.Sqrt(a*a+4*b*deg)) / (2 * b)
	}
	for i := 0; ; i++ {
		begin, wide := 720*float64(i)+200, c.vane
		if c.teeth > 0 {
			if i%c.teeth >= c.teeth-c.missing {
				continue
			}
			begin, wide = 360/float64(c.teeth)*float64(i), 180/float64(c.teeth)
		}
		rise, fall := at(begin), at(begin+wide)
		if !(fall < c.seconds) {
			return out
		}
		if i < c.lost || i >= c.lost+c.n {
			out = append(out, [2]float64{rise, fall})
		}
	}
}

// vcd is the run as a logic recorder writes it, in ticks of 10 µs.
func (c camRun) vcd() []byte {
	var b bytes.Buffer
	b.WriteString("$timescale 10 us $end\n$scope module t $end\n$var wire 1 ! cam $end\n$upscope $end\n$enddefinitions $end\n#0\n0!\n")
	for _, e := range c.edges() {
		fmt.Fprintf(&b, "#%d\n1!\n#%d\n0!\n", int(e[0]*1e5), int(e[1]*1e5))
	}
	fmt.Fprintf(&b, "#%d\n", int(c.seconds*1e5))
	return b.Bytes()
}

// csv is the run as a scope writes it: 0.2 and 4.8 V with noise, 10,000 samples a second.
func (c camRun) csv() []byte {
	rng := rand.New(rand.NewPCG(5, 6))
	var b bytes.Buffer
	b.WriteString("time,cam\ns,V\n")
	edges, k := c.edges(), 0
	for i := range int(c.seconds * 1e4) {
		at := float64(i) / 1e4
		for k < len(edges) && edges[k][1] <= at {
			k++
		}
		v := 0.2
		if k < len(edges) && at >= edges[k][0] {
			v = 4.8
		}
		fmt.Fprintf(&b, "%.4f,%.3f\n", at, v+0.03*rng.NormFloat64())
	}
	return b.Bytes()
}

func scanned(t *testing.T, name string, b []byte) *waveform.Result {
	t.Helper()
	r, err := waveform.Scan(t.Context(), waveform.File(name, bytes.NewReader(b), int64(len(b))), waveform.Options{Overview: true}, nobody{})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

type nobody struct{}

func (nobody) Begin(waveform.Info) error   { return nil }
func (nobody) Edges([]waveform.Edge) error { return nil }

// drawnAs reads from the drawing where areas stand, neighbours joined, and where lines go up and down, mm.
func drawnAs(t *testing.T, svg string) (areas [][2]float64, uprights []float64) {
	t.Helper()
	dec := xml.NewDecoder(strings.NewReader(svg))
	var classes []string
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		if _, ended := tok.(xml.EndElement); ended {
			classes = classes[:len(classes)-1]
		}
		e, begun := tok.(xml.StartElement)
		if !begun {
			continue
		}
		class, d := "", ""
		for _, a := range e.Attr {
			switch a.Name.Local {
			case "class":
				class = a.Value
			case "d":
				d = a.Value
			}
		}
		classes = append(classes, class)
		in := " " + strings.Join(classes, " ") + " "
		if d == "" || !strings.Contains(in, " wave-moving ") || strings.Contains(in, " hair ") {
			continue
		}
		points := pathPoints(t, d)
		if strings.Contains(in, " fill") && !strings.Contains(in, " ink ") { // one with an outline is a thick line
			lo, hi := math.Inf(1), math.Inf(-1)
			for _, p := range points {
				lo, hi = math.Min(lo, p[0]), math.Max(hi, p[0])
			}
			if n := len(areas); n > 0 && lo-areas[n-1][1] < 0.02 {
				areas[n-1][1] = hi
			} else {
				areas = append(areas, [2]float64{lo, hi})
			}
			continue
		}
		for i := 1; i < len(points); i++ {
			if a, b := points[i-1], points[i]; math.Abs(a[0]-b[0]) < 0.7 && math.Abs(a[1]-b[1]) > 2 {
				uprights = append(uprights, a[0])
			}
		}
	}
	slices.SortFunc(areas, func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
	slices.Sort(uprights)
	return areas, uprights
}

var steps = regexp.MustCompile(`([MLZ])(-?[\d.]*) ?(-?[\d.]*)`)

func pathPoints(t *testing.T, d string) (out [][2]float64) {
	t.Helper()
	for _, m := range steps.FindAllStringSubmatch(d, -1) {
		if m[1] == "Z" {
			continue
		}
		x, errX := strconv.ParseFloat(m[2], 64)
		y, errY := strconv.ParseFloat(m[3], 64)
		if errX != nil || errY != nil {
			t.Fatalf("a path goes %q", m[0])
		}
		out = append(out, [2]float64{x, y})
	}
	return out
}

// quietest is the longest part of the axis without a change drawn in line or area, mm, as a multiple of the period
// there, and where it is, s.
func (c camRun) quietest(areas [][2]float64, uprights []float64, from, to, left, right float64) (times, at float64) {
	marks := [][2]float64{{left, left}, {right, right}}
	marks = append(marks, areas...)
	for _, x := range uprights {
		marks = append(marks, [2]float64{x, x})
	}
	slices.SortFunc(marks, func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
	reached := left
	for _, m := range marks {
		if m[0] > reached {
			when := from + ((reached+m[0])/2-left)/(right-left)*(to-from)
			period := 120 / (c.rpm0 + (c.rpm1-c.rpm0)*when/c.seconds) / (to - from) * (right - left)
			if k := (m[0] - reached) / period; k > times {
				times, at = k, when
			}
		}
		reached = math.Max(reached, m[1])
	}
	return times, at
}

// field is where the axis lies on a drawing, mm.
func field(width float64) (left, right float64) { return 11, width - 2 }

// healthyRuns are a steady and a sweeping speed, with a narrow vane and one of half the cycle.
var healthyRuns = []camRun{
	{seconds: 20, rpm0: 850, rpm1: 850, vane: 60}, {seconds: 20, rpm0: 2400, rpm1: 2400, vane: 360},
	{seconds: 20, rpm0: 700, rpm1: 5200, vane: 60}, {seconds: 20, rpm0: 5200, rpm1: 700, vane: 360},
	{seconds: 20, rpm0: 250, rpm1: 1400, vane: 110},
}

// A healthy cam trace shows no gap and no mark at any width and zoom: lines where they have room, else one area, and
// each period has its change in one of them.
func TestHealthyTraceHasNoGap(t *testing.T) {
	drawn := 0
	for i, c := range healthyRuns {
		for name, r := range map[string]*waveform.Result{"logic": scanned(t, "a.vcd", c.vcd()), "scope": scanned(t, "a.csv", c.csv())} {
			for px := 180; px <= 1280; px += 55 {
				for _, view := range [][2]float64{{0, 20}, {3.3, 13.7}, {7.1, 10.05}, {12, 12.9}} {
					width := math.Max(60, float64(px)/4)
					svg, marks := recording.DrawAlone(t, r, shaft.Cam, c.speeds(), view[0], view[1], px, width)
					areas, uprights := drawnAs(t, svg)
					drawn++
					what := fmt.Sprintf("run %d, %s, %d px, %v s", i, name, px, view)
					if len(marks) > 0 {
						t.Errorf("%s: marked %v", what, marks)
					}
					if strings.Contains(svg, "no change for") {
						t.Errorf("%s: a gap is named", what)
					}
					left, right := field(width)
					if len(areas) > 1 {
						t.Errorf("%s: %d areas, %v: lines and areas take turns", what, len(areas), areas)
					}
					if c.rpm0 == c.rpm1 && len(areas) == 1 && (areas[0][0] > left+1.7 || areas[0][1] < right-1.7) {
						t.Errorf("%s: at a steady speed the area goes from %.2f to %.2f mm only", what, areas[0][0], areas[0][1])
					}
					if k, at := c.quietest(areas, uprights, view[0], view[1], left, right); k > 1.3 {
						t.Errorf("%s: nothing changes for %.2f periods at %.3f s", what, k, at)
					}
					if t.Failed() {
						return
					}
				}
			}
		}
	}
	t.Logf("%d drawings", drawn)
}

// A healthy wheel with a gap is not marked, whether the recording was understood or not.
func TestHealthyWheelIsNotMarked(t *testing.T) {
	for _, c := range []camRun{{seconds: 12, rpm0: 300, rpm1: 300, teeth: 60, missing: 2},
		{seconds: 12, rpm0: 600, rpm1: 4000, teeth: 36, missing: 1}, {seconds: 12, rpm0: 3000, rpm1: 500, teeth: 12, missing: 3}} {
		for name, r := range map[string]*waveform.Result{"logic": scanned(t, "a.vcd", c.vcd()), "scope": scanned(t, "a.csv", c.csv())} {
			for px := 180; px <= 1280; px += 100 {
				for _, view := range [][2]float64{{0, 12}, {3.3, 8.7}, {4, 5.02}, {6.1, 6.3}, {6.1, 6.13}} {
					for _, role := range []shaft.Role{shaft.Crank, shaft.Unknown} {
						if _, marks := recording.DrawAlone(t, r, role, c.speeds(), view[0], view[1], px, math.Max(60, float64(px)/4)); len(marks) > 0 {
							t.Fatalf("%d less %d teeth, %s as %s, %d px, %v s: marked %v", c.teeth, c.missing, name, role, px, view, marks)
						}
					}
				}
			}
		}
	}
}

// A real drop-out of n pulses is drawn apart and marked once, where it is, however far the view.
func TestDropOutIsMarked(t *testing.T) {
	for _, n := range []int{2, 3, 5, 12} {
		for _, c := range []camRun{{seconds: 60, rpm0: 850, rpm1: 850, vane: 60, lost: 170, n: n},
			{seconds: 60, rpm0: 900, rpm1: 4200, vane: 60, lost: 700, n: n}, {seconds: 60, rpm0: 850, rpm1: 850, vane: 360, lost: 171, n: n}} {
			whole := camRun{seconds: c.seconds, rpm0: c.rpm0, rpm1: c.rpm1, vane: c.vane}.edges()
			from, to := whole[c.lost-1][1], whole[c.lost+n][0]
			for name, r := range map[string]*waveform.Result{"logic": scanned(t, "a.vcd", c.vcd()), "scope": scanned(t, "a.csv", c.csv())} {
				for px := 180; px <= 1280; px += 100 {
					for _, view := range [][2]float64{{0, 60}, {from - 4, to + 5}, {from - 1, to + 1.3}} {
						for _, role := range []shaft.Role{shaft.Cam, shaft.Unknown} {
							if role == shaft.Unknown && (view[0] > 0 || n < 3 || name == "scope" && n < 12) {
								continue // what the channel is must be known where little of it is seen, or little is lost
							}
							width := math.Max(60, float64(px)/4)
							svg, marks := recording.DrawAlone(t, r, role, c.speeds(), view[0], view[1], px, width)
							what := fmt.Sprintf("%d pulses, vane of %v°, %s as %s, %d px, %v s", n, c.vane, name, role, px, view)
							if len(marks) != 1 || marks[0].At < from || marks[0].At > to {
								t.Fatalf("%s: marked %v, want %v to %v s", what, marks, from, to)
							}
							areas, _ := drawnAs(t, svg)
							left, right := field(width)
							x := left + ((from+to)/2-view[0])/(view[1]-view[0])*(right-left)
							for _, a := range areas {
								if a[0] < x+0.3 && a[1] > x-0.3 {
									t.Fatalf("%s: the area from %.2f to %.2f mm hides the gap at %.2f mm", what, a[0], a[1], x)
								}
							}
						}
					}
				}
			}
		}
	}
}

// speeds are the run's speed against time, as a recording that was understood has it.
func (c camRun) speeds() (out []shaft.TimePoint) {
	for i := range 100 {
		at := c.seconds * float64(i) / 100
		out = append(out, shaft.TimePoint{TimeS: at, Mean: c.rpm0 + (c.rpm1-c.rpm0)*at/c.seconds})
	}
	return out
}
