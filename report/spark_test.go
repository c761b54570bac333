package report

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/sheet"
)

func sparkCase(t testing.TB, name string, swap ...string) *sheet.Case {
	t.Helper()
	text, err := os.ReadFile("../examples/" + name + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	card := string(text)
	for i := 0; i < len(swap); i += 2 {
		if !strings.Contains(card, swap[i]) {
			t.Fatalf("%s does not hold %q", name, swap[i])
		}
		card = strings.Replace(card, swap[i], swap[i+1], 1)
	}
	c, err := jobcard.Parse(name, []byte(card))
	if err != nil {
		t.Fatal(err)
	}
	k, err := sheet.CaseOf(c)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

// On paper every example is legible, on few sheets, names every cause and holds every finding; other programs read it.
func TestSparkPapers(t *testing.T) {
	for _, name := range examples {
		t.Run(name, func(t *testing.T) {
			k := sparkCase(t, name)
			p, err := Spark(k, Stamp{Date: someDay})
			if err != nil {
				t.Fatal(err)
			}
			legible(t, name, p)
			if len(p.Doc.Pages) > 2 || len(p.Warnings()) > 0 {
				t.Errorf("%d sheets, %v", len(p.Doc.Pages), p.Warnings())
			}
			text := squeeze(run(t, "pdftotext", "-layout", keep(t, "spark-"+name, p), "-"))
			for _, m := range []string{"cranking", "idle", "redline", "Keep people whole"} {
				if !strings.Contains(text, squeeze(m)) {
					t.Errorf("%q is not on it", m)
				}
			}
			for _, it := range k.Items() {
				if !strings.Contains(text, squeeze(it.Title)) {
					t.Errorf("%q is not on it", it.Title)
				}
			}
			for _, pt := range k.Decide(chartSpeeds).Rows() {
				if n := quantity.Number(float64(pt.Speed), 0); !strings.Contains(text, squeeze(n)) {
					t.Errorf("%s rpm is not in the table", n)
				}
			}
		})
	}
	if _, err := Spark(nil, Stamp{}); err != ErrNothing {
		t.Error(err)
	}
}

// The chart can be drawn whatever is tried on any card, and no words lie on others or leave it.
func TestSparkChartWhateverIsTried(t *testing.T) {
	cases := map[string]*sheet.Case{}
	for _, name := range examples {
		cases[name] = sparkCase(t, name)
	}
	rapid.Check(t, func(t *rapid.T) {
		k := cases[rapid.SampledFrom(examples).Draw(t, "card")]
		values := map[string]float64{}
		for _, knob := range sheet.Knobs(k.Card) {
			values[knob.Name] = rapid.Float64Range(knob.Least, knob.Most).Draw(t, knob.Name)
		}
		tried, err := k.Try(values)
		if err != nil {
			t.Skip(err.Error())
		}
		width := rapid.SampledFrom([]float64{90, 150, 184}).Draw(t, "width")
		d, err := SparkChart(tried.Decide(40), width, "x").Draw()
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range d.Clashes() {
			t.Fatalf("%.60q lies over %.60q", c[0].Text, c[1].Text)
		}
		for _, b := range d.Outside() {
			t.Fatalf("%.60q leaves the sheet", b.Text)
		}
		if view, ok := RotorSweep(tried.Card, tried.Plan, width, "r"); ok {
			if _, err := view.Draw(); err != nil {
				t.Fatal(err)
			}
		}
	})
}

// Past what is known every value is drawn dashed, and nothing known is: the coil's data of this card end at 6
// A (invented).
func TestSparkChartDashesWhatIsExtrapolated(t *testing.T) {
	k := sparkCase(t, "mill-pump", "[6 A, 3.8 mH], [10 A, 2.2 mH]", "[6 A, 3.8 mH]")
	d := k.Decide(80)
	chart := SparkChart(d, 150, "")
	beyond := map[float64]bool{}
	for _, pt := range d.Running().Points {
		beyond[float64(pt.Speed)] = pt.Beyond
	}
	dashed, strong := 0, 0
	for _, s := range chart.Panels[1].Series { // current
		for _, q := range s.Points {
			if q.X < float64(d.Plan.Idle) || q.Y < 6 && s.Look == drawing.Light {
				continue
			}
			switch {
			case s.Look == drawing.OutsideValidity && q.Y > 6:
				dashed++
			case s.Look == drawing.Strong && q.Y > 6.001:
				strong++
			}
		}
	}
	if dashed == 0 || strong > 0 {
		t.Errorf("%d points above 6 A dashed, %d drawn as known", dashed, strong)
	}
	known := SparkChart(sparkCase(t, "mill-pump").Decide(80), 150, "")
	for _, s := range known.Panels[1].Series {
		if s.Look == drawing.OutsideValidity {
			t.Error("dashed although the data reach it")
		}
	}
	_, rows := SparkTable(d)
	if !strings.Contains(strings.Join(rows[len(rows)/2], " "), "*") {
		t.Error("the table does not mark it")
	}
}

// What stands on the chart: panels by what the card knows, strong lines of the supply that holds, the marks of
// the engine.
func TestSparkChartPanels(t *testing.T) {
	for _, c := range []struct {
		name   string
		swap   []string
		panels []string
	}{
		{"sandpiper", nil, []string{"dwell", "coil current", "spark in hand", "rotor overlap"}},
		{"gorse-hill", nil, []string{"trigger pulse", "voltage the spark needs", "rotor overlap"}},
		{"gorse-hill", []string{"output: spark box", "output: spark box, box_voltage: 38 kV ± 4 kV"}, []string{"trigger pulse", "spark in hand", "rotor overlap"}},
		{"tern-single", nil, []string{"voltage the spark needs"}},
	} {
		k := sparkCase(t, c.name, c.swap...)
		d := k.Decide(60)
		chart := SparkChart(d, 150, "")
		var got []string
		for _, p := range chart.Panels {
			got = append(got, p.Y.Label)
		}
		if len(got) != len(c.panels) {
			t.Fatalf("%s: %q", c.name, got)
		}
		for i := range got {
			if !strings.HasPrefix(got[i], c.panels[i]) {
				t.Errorf("%s: panel %q, want %q", c.name, got[i], c.panels[i])
			}
		}
		for i, name := range []string{"cranking", "idle", "redline"} {
			if !strings.HasPrefix(chart.References[i].Label, name) {
				t.Errorf("%s: mark %q", c.name, chart.References[i].Label)
			}
		}
	}
	// the strong line of the current is the cranking supply's below idle and the running supply's from idle on
	k := sparkCase(t, "sandpiper")
	d := k.Decide(60)
	for _, s := range SparkChart(d, 150, "").Panels[1].Series {
		for _, q := range s.Points {
			supply := k.Plan.Running
			if q.X < 750 {
				supply = k.Plan.CrankingSupply
			}
			if want := float64(k.Plan.PointAt(quantity.Speed(q.X), supply).Current); s.Look == drawing.Strong && math.Abs(q.Y-want) > 1e-9 {
				t.Fatalf("%g A drawn at %g rpm, want %g", q.Y, q.X, want)
			}
		}
	}
}

// The strip names what the decision names, in its words, and hatches what fails.
func TestSparkChartNamesTheCauses(t *testing.T) {
	d := sparkCase(t, "sandpiper", "redline: 4200 rpm", "redline: 6200 rpm").Decide(60)
	chart := SparkChart(d, 150, "")
	if len(chart.Stretches) != len(d.Causes) || len(d.Causes) < 3 {
		t.Fatalf("%d stretches, %d causes", len(chart.Stretches), len(d.Causes))
	}
	for i, x := range d.Causes {
		s := chart.Stretches[i]
		if s.From != float64(x.From) || s.To != float64(x.To) || s.Text == "" || s.Text != x.Short() || !strings.Contains(s.Note, x.Name()) || (s.Verdict == drawing.IsFine) == x.Fails {
			t.Errorf("%+v for %+v", s, x)
		}
	}
	if last := chart.Stretches[len(chart.Stretches)-1]; last.Verdict != drawing.IsCaution || !strings.Contains(last.Note, "no time left") {
		t.Errorf("near the redline %+v", last)
	}
}

// The table says what the points say, worst end first.
func TestSparkTableIsTheChart(t *testing.T) {
	k := sparkCase(t, "sandpiper")
	heads, rows := SparkTable(k.Decide(60))
	if strings.Join(heads, "|") != "rpm|dwell needed ms|fits ms|set ms|current A|in hand, times|overlap mm|what limits" {
		t.Errorf("%q", heads)
	}
	for i, supply := range []quantity.Voltage{9.8, 13.8} { // cranking, idle
		pt := k.Plan.PointAt([]quantity.Speed{180, 750}[i], supply)
		want := fmt.Sprintf("%.0f|%.2f|%.2f|3.20|%.2f|%.2f–%.2f|%.1f", float64(pt.Speed), pt.Needed.Milliseconds(), pt.Fits.Milliseconds(), float64(pt.Current), pt.Margin.Low, pt.Margin.High, float64(pt.Rotor.Overlap))
		if got := strings.Join(rows[i][:7], "|"); got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
	// a supply that never reaches the target says never, not a number
	_, rows = SparkTable(sparkCase(t, "sandpiper", "target: 7 A", "target: 11 A, driver_limit: 20 A", "cranking_supply: 9.8 V", "cranking_supply: 8 V").Decide(60))
	if rows[0][1] != "never" {
		t.Errorf("%q", rows[0])
	}
}

// The rotor is drawn with the tip where the sum says: (lead − advance)/2 on from where it stands at the edge. By hand
// −21 + 13 and −21 + 29.
func TestRotorSweepIsTheCards(t *testing.T) {
	k := sparkCase(t, "sandpiper")
	v, ok := RotorSweep(k.Card, k.Plan, 90, "")
	if !ok || math.Abs(v.From+8) > 1e-9 || math.Abs(v.To-8) > 1e-9 || v.Radius != 27 || v.TipWidth != 9 || v.TerminalWidth != 7 || v.AirGap != 0.9 || v.Neighbours != 60 || v.Turn != drawing.Counterclockwise {
		t.Errorf("%+v", v)
	}
	if v.FromWords != "34° before TDC" || v.ToWords != "2° before TDC" {
		t.Errorf("%q, %q", v.FromWords, v.ToWords)
	}
	tern := sparkCase(t, "tern-single")
	if _, ok := RotorSweep(tern.Card, tern.Plan, 90, ""); ok {
		t.Error("a rotor where none is")
	}
}

func TestRoundTops(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := math.Pow(10, rapid.Float64Range(-4, 6).Draw(t, "power"))
		if top := niceTop(v); top < v*(1-1e-9) || top > 2*v {
			t.Fatalf("%g on top of %g", top, v)
		}
	})
	if niceTop(0) != 1 || niceTop(math.NaN()) != 1 {
		t.Error("nothing to show")
	}
}

func BenchmarkSparkChart(b *testing.B) {
	k := sparkCase(b, "sandpiper")
	for _, width := range []float64{90, 150} {
		b.Run(fmt.Sprint(width), func(b *testing.B) {
			for b.Loop() {
				d, err := SparkChart(k.Decide(80), width, "x").Draw()
				if err != nil || len(d.SVG(drawing.InPage)) < 1000 {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkSparkPaper(b *testing.B) {
	k := sparkCase(b, "sandpiper")
	for b.Loop() {
		p, err := Spark(k, Stamp{Date: someDay})
		if err != nil {
			b.Fatal(err)
		}
		if _, err := p.PDF(); err != nil {
			b.Fatal(err)
		}
	}
}
