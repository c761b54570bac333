package drawing

import (
	"fmt"
	"testing"
)

// All engines and numbers here are invented.

func sampleChart(width float64) Chart {
	var line []XY
	band := Band{}
	for x := 120.0; x <= 3950; x += 10 {
		y := 1.9 - 0.43*x/1000
		w := 0.28 + 0.14*((x-1900)/1900)*((x-1900)/1900)
		line = append(line, XY{x, y})
		band.X, band.Lo, band.Hi = append(band.X, x), append(band.Lo, y-w), append(band.Hi, y+w)
	}
	return Chart{
		Width: width, Title: "Timing error against speed", Desc: "falls from +1.9 to +0.2 degrees",
		X:          Axis{Label: "rpm", Min: 0, Max: 4400},
		References: []Reference{{180, "cranking 180"}, {750, "idle 750"}, {4200, "redline 4\u2009200"}},
		Panels: []Panel{{
			Y:     Axis{Label: "timing error, ° (early +)", Sign: PlusMinus},
			Bands: []Band{band}, Zones: []Zone{{-0.5, 0.5}},
			Series: []Series{{Points: line, Label: "fit"}, {Points: []XY{{3950, 0.2}, {4400, 0.0}}, Look: OutsideValidity}},
			Marks: []Mark{{X: 300, Y: 1.72, U: 0.28}, {X: 1000, Y: 1.43, U: 0.28}, {X: 1800, Y: 1.03, U: 0.28}, {X: 2800, Y: 0.57, U: 0.28},
				{X: 2230, Y: -1.1, U: 0.28, Kind: Excluded, Note: "does not fit, not used"}},
		}},
	}
}

func stackedChart(width float64) Chart {
	c := sampleChart(width)
	c.Title = "What decides"
	var dwell, volts []XY
	for n := 150.0; n <= 4400; n += 50 {
		dwell = append(dwell, XY{n, 20000 / n})
		volts = append(volts, XY{n, 12 + 6*n/4400})
	}
	c.Panels = append(c.Panels,
		Panel{Y: Axis{Label: "time between firings, ms", Scale: Log, Min: 2, Max: 200}, Series: []Series{{Points: dwell, Look: Light}}},
		Panel{Y: Axis{Label: "spark demand, kV", Min: 0, Max: 25}, Series: []Series{{Points: volts, Label: "demand"}},
			Remarks: []Remark{{2000, 22, "coil can give 24"}}, Marks: []Mark{{X: 1500, Y: 14, Kind: Dot}, {X: 3000, Y: 16, Kind: Ring}, {X: 3500, Y: 40}}})
	return c
}

func stretchedChart(width float64) Chart {
	c := sampleChart(width)
	c.StripLabel = "what limits; hatched: it fails"
	c.Stretches = []Stretch{{180, 750, "dwell", "180 to 750 rpm: dwell set too short", IsCaution}, {750, 4200, "spark voltage", "750 to 4 200 rpm: least in hand: spark voltage", IsFine},
		{4200, 4400, "time", "4 200 to 4 400 rpm: no time left, dwell and off time do not fit", IsCaution}}
	return c
}

// eventfulSignals is a recorded cycle: sparks with their scatter, a cam whose edges have theirs, a mark.
func eventfulSignals(width float64) SignalChart {
	s := sampleSignals(width)
	s.Zero = "0 is TDC firing of cylinder 1, by the mark."
	spark := Track{Name: "spark", Paint: Spark}
	for i := range 6 {
		s.Tracks[0].Active[i].Label = fmt.Sprint([]int{5, 3, 6, 2, 4, 1}[i])
		spark.Events = append(spark.Events, Event{At: float64(i)*120 + 106, Spread: []float64{0.6, 0.6, 9, 0.6, 0.6, 0.6}[i], Label: s.Tracks[0].Active[i].Label, Note: "±" + Number([]float64{0.6, 0.6, 9, 0.6, 0.6, 0.6}[i], 1)})
	}
	s.Tracks[1].Windows, s.Tracks[1].Events = nil, []Event{{At: 300, Spread: 2, Note: "±2.0", Bare: true}, {At: 380, Spread: 0.5, Note: "±0.5", Bare: true}}
	s.Tracks = []Track{s.Tracks[0], s.Tracks[1], spark, {Name: "mark", Events: []Event{{At: 0}, {At: 360}}}}
	return s
}

func rowsChart(width float64) Chart {
	c := sampleChart(width)
	for x := 200.0; x < 4000; x += 60 {
		c.Panels[0].Marks = append(c.Panels[0].Marks, Mark{X: x, Y: 1.9 - 0.43*x/1000, U: 0.2, Kind: Whisker})
	}
	c.Rows = []Row{{Label: "sync lost 2 times (hatched: without)", Spans: []Span{{0, 300, ""}, {2000, 2001, ""}}}, {Label: "extra pulse on crank: 4", At: []float64{600, 601, 1200, 4400}}}
	return c
}

// distributions are three cylinders: one stands apart, one scatters.
func distributions(width float64) Strips {
	s := Strips{Width: width, Title: "Sparks of each cylinder", Label: "spark against the mean of all cylinders, crank °", Names: "cyl.", Heads: []string{"mean °", "sd °", "sparks"},
		Ends: [2]string{"← late", "early →"}, X: Axis{Min: -2, Max: 2, Sign: PlusMinus}}
	for i, c := range [][2]float64{{0.2, 0.1}, {-1.3, 0.1}, {0.3, 0.7}} {
		r := Strip{ID: fmt.Sprint([]int{1, 3, 2}[i]), Name: fmt.Sprint([]int{1, 3, 2}[i]), Figures: []string{Signed(c[0], 2), Number(c[1], 2), "1\u2009024"}, Spread: &Spread{c[0], c[1], c[0] - 3*c[1], c[0] + 3*c[1]}}
		r.Bars = Histogram{From: -4.05, Step: 0.1}
		for k := range 81 {
			x := (-4 + 0.1*float64(k) - c[0]) / c[1]
			r.Bars.Counts = append(r.Bars.Counts, max(0, 100*(1-x*x/9)))
		}
		s.Rows = append(s.Rows, r)
	}
	s.Rows = append(s.Rows, Strip{Name: "4", Spread: &Spread{Mean: 5, SD: 0.2}}, Strip{Name: "5", Note: "too few firings"})
	return s
}

func ribbons(width float64) Strips {
	s := Strips{Width: width, Title: "Sparks over speed", Label: "early upwards; each strip ± 2° high", Names: "cyl.", X: Axis{Label: "rpm"}, Y: Axis{Min: -2, Max: 2}, Height: 9}
	for i := range 3 {
		r := Strip{Name: fmt.Sprint(i + 1)}
		for n := 875.0; n < 4000; n += 250 {
			y, w := 0.4*float64(i)-0.4, 0.1+float64(i)*n/8000
			r.Line, r.Band.X, r.Band.Lo, r.Band.Hi = append(r.Line, XY{n, y}), append(r.Band.X, n), append(r.Band.Lo, y-w), append(r.Band.Hi, y+w)
		}
		s.Rows = append(s.Rows, r)
	}
	s.Rows = append(s.Rows, Strip{Name: "4", Line: []XY{{2000, 1}}})
	return s
}

func lampSample(width float64) LampWiring {
	return LampWiring{Width: width, Circuits: []LampCircuit{
		{"crank pickup: open collector", FromSupply, "+ supply", []string{"1.5 kΩ, 0.25 W at 14.2 V", "330 Ω, 0.25 W at 5 V"}, "on while low"},
		{"cam pickup: PNP", ToGround, "+ supply", []string{"1.5 kΩ, 0.25 W at 14.2 V"}, "on while high"},
		{"cam pickup: variable reluctance", MeterAcross, "", []string{"no lamp", "while the starter turns"}, "scope, or AC volts"}}}
}

func sandpiper() Tape {
	return Tape{Name: "Sandpiper, main engine", Diameter: 168, Turn: Clockwise, From: -10, To: 70, Thickness: 0.1,
		Marks: []TapeMark{{60, "trigger lead 60°"}, {12, "cranking 12°"}, {8, "locked 8°"}}}
}

func hillClimb() Tape {
	return Tape{Name: "Hill-climb car", Diameter: 203.2, Turn: Counterclockwise, From: -180, To: 180, Front: FrontLeft, Sheet: Letter,
		Marks: []TapeMark{{50, "trigger lead 50°"}, {15, "base timing 15°"}}, Measured: 99.6}
}

func sampleSignals(width float64) SignalChart {
	var crank, spark []Span
	var edges []Edge
	var tops []Reference
	for i := range 6 {
		tdc := float64(i) * 120
		crank = append(crank, Span{tdc + 120 - 90, tdc + 120 - 60, ""})
		edges = append(edges, Edge{tdc + 120 - 60, "active", Falling})
		spark = append(spark, Span{tdc + 120 - 40, tdc + 120 - 12, ""})
		tops = append(tops, Reference{tdc, fmt.Sprintf("TDC %d", []int{1, 5, 3, 6, 2, 4}[i])})
	}
	return SignalChart{Width: width, Title: "Signals over one cycle", From: 0, To: 720, Tops: tops, Tracks: []Track{
		{Name: "crank", High: crank, Active: edges},
		{Name: "cam", High: []Span{{300, 380, ""}}, Windows: []Span{{310, 360, "safe to read"}}},
		{Name: "spark", High: spark, Paint: Spark, Windows: []Span{{680, 718, "34° to 2° before"}}},
	}}
}

// samples draws one of everything, at phone width where it goes on a phone.
func samples(t testing.TB) map[string]*Drawing {
	out := map[string]*Drawing{}
	put := func(name string, d *Drawing, err error) {
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		out[name] = d
	}
	draw := func(name string, d interface{ Draw() (*Drawing, error) }) {
		got, err := d.Draw()
		put(name, got, err)
	}
	pages := func(name string, tape Tape) {
		ds, err := tape.Pages()
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		for i, d := range ds {
			put(fmt.Sprintf("%s-%d", name, i+1), d, nil)
		}
	}
	draw("chart-phone", sampleChart(90))
	draw("chart-desk", sampleChart(180))
	draw("stacked-phone", stackedChart(90))
	draw("stretches-phone", stretchedChart(90))
	draw("stretches-desk", stretchedChart(180))
	draw("damper-clockwise", DamperView{Width: 90, Turn: Clockwise, Marks: []DamperMark{{60, "60°", "88.0 mm"}, {12, "12°", "17.6 mm"}, {8, "8°", "11.7 mm"}}})
	draw("damper-counterclockwise", DamperView{Width: 90, Turn: Counterclockwise, Pointer: 40, Marks: []DamperMark{{50, "50°", "72.2 mm"}, {-10, "10° after", "14.4 mm"}}})
	draw("damper-plain", DamperView{Width: 90, Turn: Clockwise, Marks: []DamperMark{{60, "60°", "88.0 mm"}}})
	draw("cap-six", CapMap{Width: 90, Turn: Counterclockwise, Order: []int{1, 5, 3, 6, 2, 4}, FirstAt: 30, Towers: []string{"4", "3", "2", "1", "6", "5"}, Pairs: [][2]int{{1, 6}, {5, 2}, {3, 4}}})
	draw("cap-eight", CapMap{Width: 90, Turn: Clockwise, Order: []int{1, 5, 7, 8, 6, 3, 4, 2}, Rotor: []float64{70}})
	draw("signals-phone", sampleSignals(90))
	draw("signals-desk", sampleSignals(190))
	draw("events-phone", eventfulSignals(90))
	draw("events-desk", eventfulSignals(150))
	draw("rows-phone", rowsChart(90))
	draw("strips-phone", distributions(90))
	draw("strips-desk", distributions(150))
	draw("ribbons-phone", ribbons(90))
	draw("sweep-phone", RotorSweep{Width: 90, Radius: 27, AirGap: 0.9, TipWidth: 9, TerminalWidth: 7, Neighbours: 60, Turn: Counterclockwise, From: -9, To: 7, FromWords: "34° before TDC", ToWords: "2° before TDC"})
	draw("sweep-seen", RotorSweep{Width: 90, Radius: 27, AirGap: 0.9, TipWidth: 9, TerminalWidth: 7, Neighbours: 60, Turn: Counterclockwise, From: -9, To: 7, FromWords: "34° before TDC", ToWords: "2° before TDC", Seen: []float64{2}, SeenWords: "dots: the window; hatched: 12° before TDC, on the starter"})
	draw("lamp-phone", lampSample(90))
	draw("lamp-desk", lampSample(180))
	pages("tape-short", sandpiper())
	pages("tape-whole", hillClimb())
	transfer := sandpiper()
	transfer.Face = MarksOnly
	pages("transfer", transfer)
	behind := sandpiper()
	behind.Front, behind.Pointer, behind.Turn = FrontAbove, FrontEdge, Counterclockwise
	pages("tape-behind", behind)
	strip, err := sandpiper().Strip()
	put("strip", strip, err)
	wheel, err := WheelFace{Name: "Sandpiper, main engine", Diameter: 180, Hole: 20, Turn: Clockwise, Marks: []TapeMark{{60, "trigger lead 60°"}}}.Page()
	put("wheel", wheel, err)
	put("elements", elements(), nil)
	return out
}

// elements shows the small parts on one sheet.
func elements() *Drawing {
	d := New(120, 90, "Elements", "an angle, verdict marks, hatch, title block")
	d.Frame(4)
	d.Circle(Point{50, 52}, 12, Outline)
	d.DimArc(Point{50, 52}, 12.5, 16, -20, -60)
	d.Hatch(SectorPath(Point{95, 52}, 4, 12, 0, 200), 45, 1.5, Fine)
	d.Path(SectorPath(Point{95, 52}, 4, 12, 0, 200), Outline)
	for i, v := range []Verdict{IsFine, IsCaution, IsStop} {
		d.Mark(Point{100, 12 + 7*float64(i)}, 4, v, Ink)
		d.Text(104, 12+7*float64(i), v.Word(), Label.At(Start, Centred))
	}
	d.TitleBlock(4, 75, 112, []Cell{{"engine", "Sandpiper, main engine", 2}, {"fine", "14", 0.7}, {"caution", "2", 0.7}, {"sheet", "3 of 9", 1}})
	return d
}

func TestGoldenDrawings(t *testing.T) {
	for name, d := range samples(t) {
		t.Run(name, func(t *testing.T) { golden(t, name, d) })
	}
}
