package drawing

import (
	"math"
	"strings"
	"testing"
)

// invented is a waveform of invented values: a square with noise and one spike, a logic channel, and samples at
// deep zoom.
func inventedWave(width, from, to float64) Waveform {
	const n = 400
	w := Waveform{Width: width, Title: "Waveform", Desc: "Invented.", Prefix: "w", From: from, To: to, Cycle: (to - from) / 3, CycleWords: "one cycle, 720°, about 80 ms"}
	w.Whole = WholeStrip{From: -10, To: 2000, Label: "speed, rpm", X: []float64{-10, 500, 1000, 2000}, Lo: []float64{700, 1400, 2500, 3900}, Hi: []float64{760, 1500, 2600, 4000}, Marks: []float64{3, 3.1, 900}}
	a := Trace{Name: "CH1", About: "crank; low 0.02, high 4.97 V", Low: 0.02, High: 4.97, Paint: Ink, Marked: true, Lo: make([]float64, n), Hi: make([]float64, n)}
	for i := range n {
		a.Lo[i], a.Hi[i] = 0.02+float64(i/40%2)*4.95, 0.05+float64(i/40%2)*4.95
	}
	a.Hi[333] = 8.25
	a.Marks = []WaveMark{{from + (to-from)*0.3, "missing pulse"}, {from + (to-from)*0.301, "missing pulse"}, {from + (to-from)*0.97, "dropout"}}
	b := Trace{Name: "cam with a name that goes on and on and would not fit into the head of a strip", About: "cam", Logic: true, Held: true, Paint: Ink, Low: math.NaN(), High: math.NaN(),
		Times: []float64{from - 1, from + (to-from)*0.2, from + (to-from)*0.6}, Values: []float64{0, 1, 0}}
	c := Trace{Name: "CH3", About: "spark", Paint: Spark, Low: math.NaN(), High: math.NaN()}
	for i := range 20 {
		c.Times, c.Values = append(c.Times, from+(to-from)*(float64(i)-0.5)/18), append(c.Values, math.Sin(float64(i)))
	}
	w.Traces = []Trace{a, b, c}
	return w
}

// Words neither touch each other nor leave the sheet, whatever the stretch and the width.
func TestWaveformWordsStandFree(t *testing.T) {
	for _, width := range []float64{60, 90, 180} {
		for _, s := range [][2]float64{{-10, 2000}, {0, 1}, {812.345671, 812.345693}, {1999.999999, 2000}, {-1e-6, 1e-6}, {1234567.891, 1234567.8911}, {0.1, 0.1 + 1e-9}} {
			w := inventedWave(width, s[0], s[1])
			d, field, err := w.Draw()
			if err != nil {
				t.Fatal(err)
			}
			if field.Left <= 0 || field.Right >= width || field.Right <= field.Left {
				t.Errorf("field %v on a width of %v", field, width)
			}
			for _, c := range d.Clashes() {
				t.Errorf("%v mm, %v: %q lies over %q", width, s, c[0].Text, c[1].Text)
			}
			for _, b := range d.Outside() {
				t.Errorf("%v mm, %v: %q leaves the sheet", width, s, b.Text)
			}
		}
	}
}

// The numbers of the time axis with the unit say the ticks' times, each different from the next, at any depth of a
// recording of an hour.
func TestTimeTicksSayTheirTimes(t *testing.T) {
	sizes := map[string]float64{"s": 1, "ms": 1e-3, "µs": 1e-6, "ns": 1e-9, "ps": 1e-12}
	for _, at := range []float64{-3600, -0.25, 0, 0.1, 12.345678, 812.345678, 3599.99} {
		for width := 3600.0; width > 2e-8; width /= 3.7 {
			a := timeTicks(at, at+width, func(w []string) bool { return len(w) <= 7 })
			if len(a.ticks) < 2 {
				t.Errorf("from %v, %v wide: %d ticks", at, width, len(a.ticks))
				continue
			}
			unit, datum := a.unit, 0.0
			if u, after, ok := strings.Cut(a.unit, " after "); ok {
				unit, datum = u, parseShown(t, strings.TrimSuffix(after, " s"))
			}
			for i, word := range a.words {
				if len([]rune(word)) > longestTick+1 {
					t.Errorf("from %v, %v wide: the number %q is long", at, width, word)
				}
				if i > 0 && word == a.words[i-1] {
					t.Errorf("from %v, %v wide: two ticks say %q", at, width, word)
				}
				if got := datum + parseShown(t, word)*sizes[unit]; math.Abs(got-a.ticks[i]) > width*1e-3 {
					t.Errorf("from %v, %v wide: a tick says %q %s, it stands at %v", at, width, word, a.unit, a.ticks[i])
				}
			}
		}
	}
}

func parseShown(t *testing.T, s string) float64 {
	t.Helper()
	var v, scale float64 = 0, 0
	neg := strings.HasPrefix(s, "−")
	for _, c := range strings.NewReplacer("\u2009", "", "−", "").Replace(s) {
		switch {
		case c == '.':
			scale = 1
		case c >= '0' && c <= '9':
			v, scale = v*10+float64(c-'0'), scale*10
		default:
			t.Fatalf("%q is not a number", s)
		}
	}
	if scale > 0 {
		v /= scale
	}
	if neg {
		v = -v
	}
	return v
}

// A column's extremes stand at their place in the path: the spike of column 333 reaches its height there and
// nowhere else.
func TestWaveformSpikeInThePath(t *testing.T) {
	w := inventedWave(180, 0, 1)
	w.Traces = w.Traces[:1]
	d, field, err := w.Draw()
	if err != nil {
		t.Fatal(err)
	}
	var top []Point
	highest := math.Inf(1)
	var visit func(g *group)
	visit = func(g *group) {
		for _, p := range g.parts {
			switch p := p.(type) {
			case *group:
				visit(p)
			case *shape:
				if p.style.Fill != Tint {
					continue
				}
				for _, s := range p.path.segs {
					if s.kind == segClose {
						continue
					}
					if s.to.Y < highest-0.05 && g.Class == "wave-moving" {
						highest, top = s.to.Y, top[:0]
					}
					if s.to.Y < highest+0.05 && g.Class == "wave-moving" {
						top = append(top, s.to)
					}
				}
			}
		}
	}
	visit(&d.root)
	want := field.Left + (333.5)/400*(field.Right-field.Left)
	if len(top) != 1 || math.Abs(top[0].X-want) > 0.01 {
		t.Errorf("the highest points are %v, want one at x = %.2f", top, want)
	}
}

// What cannot be drawn is refused with a remedy.
func TestWaveformRefuses(t *testing.T) {
	for name, change := range map[string]func(*Waveform){
		"narrow":    func(w *Waveform) { w.Width = 5 },
		"no time":   func(w *Waveform) { w.To = w.From },
		"endless":   func(w *Waveform) { w.To = math.Inf(1) },
		"none":      func(w *Waveform) { w.Traces = nil },
		"uneven":    func(w *Waveform) { w.Traces[0].Lo = w.Traces[0].Lo[1:] },
		"backwards": func(w *Waveform) { w.Traces[1].Times[0] = 99 },
		"mark":      func(w *Waveform) { w.Traces[0].Marks[0].At = math.NaN() },
		"whole":     func(w *Waveform) { w.Whole.X = w.Whole.X[1:] },
	} {
		w := inventedWave(90, 0, 1)
		change(&w)
		if _, _, err := w.Draw(); err == nil || strings.Count(err.Error(), " – ") < 2 {
			t.Errorf("%s: %v", name, err)
		}
	}
}
