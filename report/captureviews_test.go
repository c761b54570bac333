package report

import (
	"math"
	"strings"
	"testing"

	"phasewright/drawing"
	"phasewright/shaft"
)

// view finds a view by its name.
func view(t testing.TB, r *shaft.Result, id string) CaptureView {
	t.Helper()
	for _, v := range CaptureViews(r, nil) {
		if v.ID == id {
			return v
		}
	}
	t.Fatalf("no view %s", id)
	return CaptureView{}
}

func drawn(t testing.TB, v CaptureView, width float64) *drawing.Drawing {
	t.Helper()
	if v.Draw == nil {
		t.Fatalf("%s is not drawn: %s", v.ID, v.Want)
	}
	d, err := v.Draw(Space{Width: width, Prefix: v.ID})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// By hand, the work boat (invented): lead 60°, spacing 120°, order 1 5 3 6 2 4, leaving edges of 30° vanes active,
// locked at 8°: the active edge of the cylinder at TDC k·120° stands at k·120° − 60°, its vane begins 30° before, its
// spark falls at k·120° − 8°. The cam's window of 80° ends at 720° − 120°, its active edge. The mark comes each 360°.
// The crank pickup answers 100 µs late, 0.9° at 1 500 rpm, which is allowed for at the spark. The drawing is read as a
// page has it, its scale from the numbers below it.
func TestCycleByHand(t *testing.T) {
	r, _ := recordBench(t, "sandpiper", "hold 1500 rpm for 10 s", nil)
	v := view(t, r, "cycle")
	for _, width := range []float64{90, 150} {
		lines, words := svgStrokes(t, drawn(t, v, width).SVG(drawing.InPage))
		scale := (words["720"] - words["0"]) / 720
		deg := func(x float64) float64 { return (x - words["0"]) / scale }
		near := func(what string, got, want float64) {
			t.Helper()
			if math.Abs(got-want) > 0.3 { // 0.03 mm on a phone; the capture's own places are good to 0.1°
				t.Errorf("%g mm: %s at %.2f°, by hand %g°", width, what, got, want)
			}
		}
		var active, sparks, marks []float64
		for _, l := range lines {
			switch {
			case l.group == "cycle-track-1" && l.width == 0.8:
				active = append(active, deg(l.x))
			case strings.HasPrefix(l.group, "cycle-event-3-") && l.width == 0.5 && l.class == "spark":
				sparks = append(sparks, deg(l.x))
			case strings.HasPrefix(l.group, "cycle-event-4-") && l.width == 0.5:
				marks = append(marks, deg(l.x))
			}
		}
		if len(active) != 6 || len(sparks) != 6 || len(marks) != 2 {
			t.Fatalf("%d active edges, %d sparks, %d marks", len(active), len(sparks), len(marks))
		}
		for i := range 6 {
			near("active edge", active[i], float64(i)*120+60.9)
			near("spark", sparks[i], float64(i)*120+112)
			for _, text := range []string{"1", "5", "3", "6", "2", "4"} {
				near("TDC "+text, deg(tdcLine(lines, words, "TDC "+text)), map[string]float64{"1": 0, "5": 120, "3": 240, "6": 360, "2": 480, "4": 600}[text])
			}
		}
		near("mark", marks[0], 0)
		near("mark", marks[1], 360)
	}
	c := CycleChart(r, Space{Width: 90})
	if len(c.Tracks) != 4 || c.Zero != "0 is TDC firing of cylinder 1, by the mark." {
		t.Fatalf("%d tracks, %q", len(c.Tracks), c.Zero)
	}
	cam := c.Tracks[1].High
	if len(cam) != 1 || math.Abs(cam[0].From-520.9) > 0.2 || math.Abs(cam[0].To-600.9) > 0.2 {
		t.Errorf("cam high %v", cam)
	}
	for i, e := range c.Tracks[0].Active {
		if want := []string{"5", "3", "6", "2", "4", "1"}[i]; e.Label != want || e.Up != drawing.Falling {
			t.Errorf("edge %d: cylinder %s, %v", i, e.Label, e.Up)
		}
	}
	for i, h := range c.Tracks[0].High {
		if math.Abs(h.From-float64(i)*120-30.9) > 0.2 || math.Abs(h.To-float64(i)*120-60.9) > 0.2 {
			t.Errorf("vane %d: %v", i, h)
		}
	}
}

// tdcLine is the upright line below a TDC's label: the one in the group of references that is nearest the middle of
// the words.
func tdcLine(lines []stroke, words map[string]float64, label string) float64 {
	start := words[label]
	mid := start + drawing.Width(label, drawing.Note)/2
	best, at := math.Inf(1), math.NaN()
	for _, l := range lines {
		if l.group == "cycle-tdc" && math.Abs(l.x-mid) < best {
			best, at = math.Abs(l.x-mid), l.x
		}
	}
	return at
}

// By hand: the third vane 1° of shaft, 2° of crank, late. Its own spark comes after it, and its interval is 122°, so
// that the wait of 52/120 of it is 0.867° longer: 2.867° late. The next interval is 118°: its spark comes 0.867° early.
// The mean of all six stands (−2.867 + 0.867)/6 = −0.333°. The work boat's third cylinder to fire is 3, the next 6.
func TestCylinderOutOfPlaceByHand(t *testing.T) {
	r, _ := recordBench(t, "sandpiper", "sweep 1000..3600 rpm in 20 s", []string{"vane=1deg"})
	want := map[string]float64{"1": 0.333, "5": 0.333, "3": -2.533, "6": 1.2, "2": 0.333, "4": 0.333}
	for _, width := range []float64{90, 150} {
		lines, words := svgStrokes(t, drawn(t, view(t, r, "cylinders"), width).SVG(drawing.InPage))
		zero, scale := words["0"], words["+2"]-words["0"]
		if zero == 0 { // with decimals where there is room for more numbers
			zero, scale = words["0.0"], words["+2.0"]-words["0.0"]
		}
		seen := 0
		for _, l := range lines {
			cylinder, ok := strings.CutPrefix(l.group, "cylinders-strip-")
			if !ok || l.class != "spark" {
				continue
			}
			seen++
			if got := (l.x - zero) / scale * 2; math.Abs(got-want[cylinder]) > 0.06 {
				t.Errorf("%g mm: cylinder %s drawn at %+.3f°, by hand %+.3f°", width, cylinder, got, want[cylinder])
			}
		}
		if seen != 6 {
			t.Errorf("%d means drawn", seen)
		}
	}
	v := view(t, r, "cylinders")
	if !strings.Contains(v.Reading, "Cylinder 3 stands farthest off: 2.5") || !strings.Contains(v.Reading, "late") || !strings.Contains(v.Reading, "vane") {
		t.Errorf("%q", v.Reading)
	}
	s := CylinderSpeedStrips(r, Space{Width: 90})
	for _, row := range s.Rows {
		for _, q := range row.Line {
			if math.Abs(q.Y-want[row.Name]) > 0.15 {
				t.Errorf("cylinder %s at %g rpm: %+.3f°, by hand %+.3f°", row.Name, q.X, q.Y, want[row.Name])
			}
		}
	}
	if order := names(s.Rows); order != "1 5 3 6 2 4" {
		t.Errorf("strips in the order %s", order)
	}
}

func names(rows []drawing.Strip) string {
	var out []string
	for _, r := range rows {
		out = append(out, r.Name)
	}
	return strings.Join(out, " ")
}

// A worn drive shows: the strips' bars and bands are many times those of a sound engine.
func TestWornDriveShows(t *testing.T) {
	sound, _ := recordBench(t, "sandpiper", wholeRun, nil)
	worn, _ := recordBench(t, "sandpiper", wholeRun, []string{"worn=1.2deg"})
	a, b := CylinderStrips(sound, Space{Width: 90}), CylinderStrips(worn, Space{Width: 90})
	for i := range a.Rows {
		if s, w := a.Rows[i].Spread.SD, b.Rows[i].Spread.SD; w < 5*s || w < 0.6 {
			t.Errorf("cylinder %s: sd %.2f sound, %.2f worn", a.Rows[i].Name, s, w)
		}
	}
	if text := view(t, worn, "cylinders").Reading; !strings.Contains(text, "scatter by 1.") {
		t.Errorf("%q", text)
	}
}

// By hand: e(n) = b − 6·n·(τ − c)·10⁻⁶ with b = 2 · 1.5° and τ − c = 80 µs: 2.64° at 750 rpm, 1.272° at 3 600, 0.984°
// at 4 200.
func TestTimingByHand(t *testing.T) {
	r, c := recordBench(t, "sandpiper", wholeRun, []string{"housing=1.5deg", "delay=80us"})
	p := errorBySpeed("", r.Timing, r.Series.BySpeed)
	e := func(n float64) float64 { return 3 - 6*n*80e-6 }
	if len(p.Series) != 2 || p.Series[0].Look != drawing.Strong || p.Series[1].Look != drawing.OutsideValidity {
		t.Fatalf("%d lines", len(p.Series))
	}
	for _, s := range p.Series {
		for _, q := range s.Points {
			if math.Abs(q.Y-e(q.X)) > 0.1 {
				t.Errorf("line at %g rpm: %.3f°, by hand %.3f°", q.X, q.Y, e(q.X))
			}
		}
	}
	if from, to := p.Series[1].Points[0].X, p.Series[1].Points[len(p.Series[1].Points)-1].X; from < 3500 || to != 4200 {
		t.Errorf("dashed from %g to %g rpm: nothing was recorded above 3 600, the redline is 4 200", from, to)
	}
	rings := 0
	for _, m := range p.Marks {
		if m.Kind == drawing.Ring {
			if rings++; m.X > 650 { // 0.8 of idle and more enter the line
				t.Errorf("a ring at %g rpm", m.X)
			}
		} else if math.Abs(m.Y-e(m.X)) > 0.15 {
			t.Errorf("class at %g rpm: %.3f°, by hand %.3f°", m.X, m.Y, e(m.X))
		}
	}
	if rings == 0 || len(p.Bands) != 1 || p.Zones[0] != (drawing.Zone{Lo: -1, Hi: 1}) {
		t.Errorf("%d rings, %d bands, zones %v", rings, len(p.Bands), p.Zones)
	}
	v := CaptureViews(r, c)[0]
	if v.Title != "Timing error against speed" || v.Want != "" || len(v.Heads) != 7 {
		t.Errorf("%q, %q, %q", v.Title, v.Want, v.Heads)
	}
}

// Without a mark the spark is drawn after its edge, no line joins cranking and idle, and the view says what to record.
func TestWithoutMark(t *testing.T) {
	r, _ := recordBench(t, "sandpiper", "crank 2 s then sweep 750..3600 rpm in 12 s", nil, "engine.mark")
	v := view(t, r, "timing")
	if v.Title != "Spark after the active edge, against speed" || !strings.Contains(v.Want, "mark") || len(v.Heads) != 4 {
		t.Errorf("%q, %q, %q", v.Title, v.Want, v.Heads)
	}
	p := afterPanel(r.Series.BySpeed)
	if len(p.Series) != 1 || p.Series[0].Look != drawing.SparkTrace || p.Series[0].Points[0].X < 500 || len(p.Marks) != 1 || p.Marks[0].X > 300 {
		t.Errorf("%d lines, %d single classes", len(p.Series), len(p.Marks))
	}
	if b := p.Bands[0]; math.Abs(b.Hi[0]-b.Lo[0]-2*r.Series.BySpeed[1].SD) > 1e-9 {
		t.Errorf("band %g wide, sd %g", b.Hi[0]-b.Lo[0], r.Series.BySpeed[1].SD)
	}
	if c := CycleChart(r, Space{Width: 90}); len(c.Tops) > 0 || !strings.Contains(c.Zero, "active crank edge") {
		t.Errorf("TDC is drawn where it is not known: %v, %q", c.Tops, c.Zero)
	}
}

// Every wrong pulse that is listed is drawn, in the row of its kind and channel; sync is hatched where it was not.
func TestAnomaliesAreDrawn(t *testing.T) {
	r, _ := recordBench(t, "sandpiper", wholeRun, []string{"crossfire=100%"})
	if len(r.Anomalies) < 100 {
		t.Fatalf("%d anomalies", len(r.Anomalies))
	}
	r.Sync, r.LossCount = shaft.SyncLost, 2 // invented
	r.Losses = []shaft.Loss{{TimeS: 3.1, RegainedS: 3.4, Because: "the crank signal dropped out"}, {TimeS: 6.2, RegainedS: 6.25, Because: "the crank signal dropped out"}}
	rows := SpeedChart(r, Space{Width: 150}).Rows
	n := 0
	for _, row := range rows[1:] {
		n += len(row.At)
		if !strings.HasSuffix(row.Label, ": "+drawing.Number(float64(len(row.At)), 0)) {
			t.Errorf("%q has %d ticks", row.Label, len(row.At))
		}
	}
	if n != len(r.Anomalies) || len(rows) > mostEventRows+1 {
		t.Errorf("%d of %d drawn, on %d rows", n, len(r.Anomalies), len(rows))
	}
	if len(rows[0].Spans) != len(r.Losses)+1 { // and before it was gained
		t.Errorf("%d spans for %d losses", len(rows[0].Spans), len(r.Losses))
	}
	for i, l := range r.Losses {
		if s := rows[0].Spans[i+1]; s.From != l.TimeS {
			t.Errorf("loss at %g drawn at %g", l.TimeS, s.From)
		}
	}
	r.AnomalyCount["extra_pulse"] += 5000
	if text := view(t, r, "speed").Reading; !strings.Contains(text, "the first") {
		t.Errorf("the drawing does not say that it holds a part of the pulses: %q", text)
	}
	rows = SpeedChart(r, Space{Width: 150}).Rows
	if last := rows[len(rows)-1]; len(last.Spans) != 1 || last.Spans[0].From != r.Anomalies[len(r.Anomalies)-1].TimeS || last.Spans[0].To < r.DurationS {
		t.Errorf("what is not listed is not hatched: %+v", last)
	}
}

func TestLevels(t *testing.T) {
	edge := func(deg float64, name string) shaft.CyclePoint { return shaft.CyclePoint{Deg: deg, Edge: name} }
	high, ok := levels([]shaft.CyclePoint{edge(10, "falling"), edge(100, "rising"), edge(200, "falling"), edge(700, "rising")})
	if !ok || len(high) != 3 || high[0] != (drawing.Span{From: 0, To: 10}) || high[1] != (drawing.Span{From: 100, To: 200}) || high[2] != (drawing.Span{From: 700, To: 720}) {
		t.Errorf("%v, %v", high, ok)
	}
	if _, ok := levels([]shaft.CyclePoint{edge(10, "falling"), edge(100, "falling")}); ok {
		t.Error("a level where two falling edges follow each other")
	}
	if _, ok := levels([]shaft.CyclePoint{edge(10, "falling")}); ok {
		t.Error("a level from one edge")
	}
}

func TestExtremes(t *testing.T) {
	bins := make([]int64, 81)
	if _, _, ok := extremes(bins); ok {
		t.Error("extremes of nothing")
	}
	bins[40], bins[52] = 3, 1 // 0 and 1.2° early
	if lo, hi, ok := extremes(bins); !ok || math.Abs(lo+0.05) > 1e-9 || math.Abs(hi-1.25) > 1e-9 {
		t.Errorf("%g to %g", lo, hi)
	}
}

// Whatever is wrong and whatever was not recorded: each view draws or says what to do, never both nothing; words lie on
// no others; figures are figures.
func TestViewsWhateverIsWrong(t *testing.T) {
	for _, c := range strange {
		r, card := recordBench(t, c.card, c.run, c.faults, c.without...)
		views := CaptureViews(r, card)
		if len(views) == 0 {
			t.Errorf("%v: no view", c)
		}
		for _, v := range views {
			if v.Draw == nil && v.Want == "" || (v.Draw != nil) != (len(v.Rows) > 0) || v.Title == "" {
				t.Errorf("%v, %s: drawn %v, %d rows, %q", c, v.ID, v.Draw != nil, len(v.Rows), v.Want)
			}
			for _, row := range v.Rows {
				if len(row) != len(v.Heads) || strings.Contains(strings.Join(row, " "), "NaN") || strings.Contains(strings.Join(row, " "), "Inf") {
					t.Errorf("%v, %s: row %q under %q", c, v.ID, row, v.Heads)
				}
			}
			if v.Draw == nil {
				continue
			}
			for _, width := range []float64{90, 150, 184} {
				d := drawn(t, v, width)
				for _, x := range d.Clashes() {
					t.Errorf("%v, %s at %g mm: %.60q lies over %.60q", c, v.ID, width, x[0].Text, x[1].Text)
				}
				for _, b := range d.Outside() {
					t.Errorf("%v, %s at %g mm: %.60q leaves the sheet", c, v.ID, width, b.Text)
				}
				for _, b := range d.Crossings() {
					t.Errorf("%v, %s at %g mm: a line crosses %.60q", c, v.ID, width, b.Text)
				}
				if svg := d.SVG(drawing.InPage); strings.Contains(svg, "NaN") || strings.Contains(svg, "Inf") {
					t.Errorf("%v, %s: a place that is no number", c, v.ID)
				}
			}
		}
	}
}

// oneStrange is a recording that lacks something or goes wrong.
type oneStrange struct {
	card, run string
	faults    []string
	without   []string
}

var strange = []oneStrange{
	{"sandpiper", wholeRun, nil, nil},
	{"sandpiper", wholeRun, []string{"crossfire=60%", "noise=20%"}, nil},
	{"sandpiper", wholeRun, []string{"leads=swapped"}, nil},
	{"sandpiper", wholeRun, []string{"pickup=off"}, nil},
	{"sandpiper", wholeRun, []string{"campickup=off"}, nil},
	{"sandpiper", wholeRun, []string{"edge=inverted", "housing=4deg"}, nil},
	{"sandpiper", wholeRun, []string{"lock=off"}, nil},
	{"sandpiper", wholeRun, []string{"wobble=8deg", "worn=6deg"}, nil},
	{"sandpiper", wholeRun, nil, []string{"engine.mark", "engine.spark"}},
	{"sandpiper", wholeRun, nil, []string{"engine.cam", "engine.mark"}},
	{"sandpiper", wholeRun, nil, []string{"engine.crank", "engine.cam", "engine.mark", "engine.spark"}},
	{"sandpiper", "hold 1500 rpm for 3 s", nil, nil},
	{"sandpiper", "crank 4 s", nil, nil},
	{"sandpiper", "hold 900 rpm for 0.2 s", nil, nil},
	{"gorse-hill", "crank 1 s then sweep 1000..5000 rpm in 6 s then crank 2 s then sweep 1000..3000 rpm in 4 s", nil, nil},
	{"heron-ferry", wholeRun, []string{"vane=2deg"}, nil},
	{"mill-pump", wholeRun, []string{"delay=200us"}, nil},
	{"tern-single", "crank 2 s then sweep 1000..3000 rpm in 8 s", nil, nil},
	{"ember-twelve", "crank 2 s then sweep 900..5500 rpm in 8 s", []string{"worn=1deg"}, nil},
}

// A result that was kept by an earlier release, or without its drawings, says so instead of drawing noughts.
func TestOldResults(t *testing.T) {
	r, _ := recordBench(t, "sandpiper", wholeRun, nil)
	r.Series.Firings = nil
	if v := view(t, r, "cylinders"); v.Draw != nil || !strings.Contains(v.Want, "read it again") {
		t.Errorf("%+v", v)
	}
	r.Series = nil
	if v := CaptureViews(r, nil); len(v) != 1 || v[0].Draw != nil || !strings.Contains(v[0].Want, "read it again") {
		t.Errorf("%+v", v)
	}
}
