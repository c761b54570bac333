package drawing

import (
	"math"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// where – what – remedy, lower case.
var message = regexp.MustCompile(`^[a-z][^–]* – .+ – .+[^.]$`)

func TestBadInput(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	tape := func(change func(*Tape)) error {
		x := sandpiper()
		change(&x)
		_, err := x.Pages()
		return err
	}
	chart := func(change func(*Chart)) error {
		x := sampleChart(90)
		change(&x)
		_, err := x.Draw()
		return err
	}
	strips := func(change func(*Strips)) error {
		x := distributions(90)
		change(&x)
		_, err := x.Draw()
		return err
	}
	draw := func(d interface{ Draw() (*Drawing, error) }) error { _, err := d.Draw(); return err }
	wheel := func(w WheelFace) error { _, err := w.Page(); return err }
	for name, err := range map[string]error{
		"tape, 5 mm":           tape(func(x *Tape) { x.Diameter = 5 }),
		"tape, 50 m":           tape(func(x *Tape) { x.Diameter = 50000 }),
		"tape, no number":      tape(func(x *Tape) { x.Diameter = nan }),
		"tape, too wide":       tape(func(x *Tape) { x.From, x.To = -200, 200 }),
		"tape, empty":          tape(func(x *Tape) { x.From, x.To = 60, 60 }),
		"tape, endless":        tape(func(x *Tape) { x.To = inf }),
		"tape, off the rim":    tape(func(x *Tape) { x.From, x.To = 700, 720; x.Marks = nil }),
		"tape, no direction":   tape(func(x *Tape) { x.Turn = 0 }),
		"tape, thick":          tape(func(x *Tape) { x.Thickness = 10 }),
		"tape, mark outside":   tape(func(x *Tape) { x.Marks = []TapeMark{{90, "lead"}} }),
		"tape, mark nowhere":   tape(func(x *Tape) { x.Marks = []TapeMark{{nan, "lead"}} }),
		"tape, shrunk":         tape(func(x *Tape) { x.Measured = 70 }),
		"tape, narrow":         tape(func(x *Tape) { x.Height = 3 }),
		"tape, sheets":         tape(func(x *Tape) { x.Diameter, x.From, x.To, x.Height, x.Marks = 6000, -180, 180, 60, nil }),
		"chart, narrow":        chart(func(x *Chart) { x.Width = 3 }),
		"chart, no panel":      chart(func(x *Chart) { x.Panels = nil }),
		"chart, no number":     chart(func(x *Chart) { x.Panels[0].Marks[0].Y = nan }),
		"chart, endless":       chart(func(x *Chart) { x.Panels[0].Series[0].Points[3].Y = inf }),
		"chart, uneven band":   chart(func(x *Chart) { x.Panels[0].Bands[0].Lo = nil }),
		"chart, log of zero":   chart(func(x *Chart) { x.X.Scale = Log }),
		"chart, upside down":   chart(func(x *Chart) { x.X.Min, x.X.Max = 10, 5 }),
		"chart, no data":       draw(Chart{Width: 90, Panels: []Panel{{}}}),
		"damper, no direction": draw(DamperView{Width: 90}),
		"damper, narrow":       draw(DamperView{Width: 9, Turn: Clockwise}),
		"damper, no number":    draw(DamperView{Width: 90, Turn: Clockwise, Marks: []DamperMark{{nan, "", ""}}}),
		"damper, crowd":        draw(DamperView{Width: 90, Turn: Clockwise, Marks: make([]DamperMark, 50)}),
		"cap, none":            draw(CapMap{Width: 90, Turn: Clockwise}),
		"cap, uneven":          draw(CapMap{Width: 90, Turn: Clockwise, Order: []int{1, 2}, At: []float64{0}}),
		"cap, no number":       draw(CapMap{Width: 90, Turn: Clockwise, Order: []int{1, 2}, FirstAt: inf}),
		"signals, none":        draw(SignalChart{Width: 90, To: 720}),
		"signals, empty":       draw(SignalChart{Width: 90, Tracks: []Track{{}}}),
		"signals, no number":   draw(SignalChart{Width: 90, To: 720, Tracks: []Track{{High: []Span{{nan, 3, ""}}}}}),
		"sweep, no radius":     draw(RotorSweep{Width: 90, Turn: Clockwise}),
		"sweep, wide tip":      draw(RotorSweep{Width: 90, Turn: Clockwise, Radius: 27, TipWidth: 100, TerminalWidth: 7, Neighbours: 60}),
		"sweep, no number":     draw(RotorSweep{Width: 90, Turn: Clockwise, Radius: 27, TipWidth: 9, TerminalWidth: 7, Neighbours: 60, To: nan}),
		"sweep, two seen":      draw(RotorSweep{Width: 90, Turn: Clockwise, Radius: 27, TipWidth: 9, TerminalWidth: 7, Neighbours: 60, Seen: []float64{1, 2}}),
		"sweep, seen nowhere":  draw(RotorSweep{Width: 90, Turn: Clockwise, Radius: 27, TipWidth: 9, TerminalWidth: 7, Neighbours: 60, Seen: []float64{nan}}),
		"lamp, none":           draw(LampWiring{Width: 90}),
		"lamp, narrow":         draw(LampWiring{Width: 60, Circuits: make([]LampCircuit, 1)}),
		"signals, event":       draw(SignalChart{Width: 90, To: 720, Tracks: []Track{{Events: []Event{{At: 3, Spread: nan}}}}}),
		"signals, spread":      draw(SignalChart{Width: 90, To: 720, Tracks: []Track{{Events: []Event{{At: 3, Spread: -1}}}}}),
		"rows, no number":      chart(func(x *Chart) { x.Rows = []Row{{At: []float64{nan}}} }),
		"rows, backwards":      chart(func(x *Chart) { x.Rows = []Row{{Spans: []Span{{3, 2, ""}}}} }),
		"strips, none":         strips(func(x *Strips) { x.Rows = nil }),
		"strips, narrow":       strips(func(x *Strips) { x.Width = 30 }),
		"strips, no room":      strips(func(x *Strips) { x.Heads = []string{strings.Repeat("long ", 20)} }),
		"strips, no mean":      strips(func(x *Strips) { x.Rows[0].Spread.Mean = nan }),
		"strips, class":        strips(func(x *Strips) { x.Rows[0].Bars.Step = 0 }),
		"strips, count":        strips(func(x *Strips) { x.Rows[0].Bars.Counts[2] = inf }),
		"strips, line":         strips(func(x *Strips) { x.Rows[0].Line = []XY{{nan, 2}} }),
		"strips, band":         strips(func(x *Strips) { x.Rows[0].Band.X = []float64{1} }),
		"strips, log":          strips(func(x *Strips) { x.X.Scale = Log }),
		"strips, no data":      draw(Strips{Width: 90, Rows: []Strip{{Name: "1"}}}),
		"wheel, large":         wheel(WheelFace{Diameter: 400, Turn: Clockwise}),
		"wheel, hole":          wheel(WheelFace{Diameter: 180, Hole: 170, Turn: Clockwise}),
	} {
		if err == nil {
			t.Errorf("%s: accepted", name)
		} else if !message.MatchString(err.Error()) {
			t.Errorf("%s: %q does not say where – what – remedy", name, err)
		}
	}
}

// TestHardCases are odd but possible: they must give a sheet with every word on it.
func TestHardCases(t *testing.T) {
	name := strings.Repeat("Sandpiper of Marlow Quay ", 400)
	for what, tape := range map[string]Tape{
		"10 000 letters": {Name: name, Diameter: 168, Turn: Clockwise, From: 0, To: 60, Marks: []TapeMark{{30, name}, {31, name}, {32, name}}},
		"right to left":  {Name: "سفينة אבג", Diameter: 168, Turn: Clockwise, From: 0, To: 60, Marks: []TapeMark{{30, "אבג"}}},
		"signs unknown":  {Name: "배 🚤", Diameter: 168, Turn: Clockwise, From: 0, To: 60, Marks: []TapeMark{{30, "🚤"}}},
		"5 m":            {Name: "pump", Diameter: 5000, Turn: Counterclockwise, From: -5, To: 60, Marks: []TapeMark{{59, "lead"}}},
		"30 mm":          {Name: "pump", Diameter: 30, Turn: Clockwise, From: -180, To: 180},
		"front right":    {Name: "pump", Diameter: 100, Turn: Clockwise, From: -180, To: 180, Front: FrontRight, Pointer: FrontEdge, Height: 18},
		"one degree":     {Name: "pump", Diameter: 168, Turn: Clockwise, From: 0, To: 1},
	} {
		pages, err := tape.Pages()
		if err != nil {
			t.Errorf("%s: %v", what, err)
			continue
		}
		for _, d := range pages {
			if got := d.Outside(); len(got) > 0 {
				t.Errorf("%s: %.40q leaves the sheet", what, got[0].Text)
			}
			if got := d.Clashes(); len(got) > 0 && what != "10 000 letters" {
				t.Errorf("%s: %.40q over %.40q", what, got[0][0].Text, got[0][1].Text)
			}
		}
		if (what == "signs unknown") != (len(pages[0].Warnings()) > 0) {
			t.Errorf("%s: warnings %v", what, pages[0].Warnings())
		}
		if _, err := PDF(Document{Date: someDay, Pages: pages}); err != nil {
			t.Errorf("%s: %v", what, err)
		}
	}
}

// TestLongNames: names of 10 000 letters are shortened, on every drawing.
func TestLongNames(t *testing.T) {
	name := strings.Repeat("Sandpiper of Marlow Quay ", 400)
	signals := sampleSignals(90)
	signals.Title, signals.Tops[0].Label, signals.Tracks[0].Name, signals.Tracks[0].Active[0].Label, signals.Tracks[1].Windows[0].Label = name, name, name, name, name
	chart := stackedChart(90)
	chart.X.Label, chart.Panels[0].Y.Label, chart.References[1].Label, chart.Panels[0].Marks[0].Note = name, name, name, name
	chart.Panels[0].Series[0].Label, chart.Panels[2].Remarks[0].Text = name, name
	chart.Rows = []Row{{Label: name}}
	events, strips := eventfulSignals(90), distributions(90)
	events.Tracks[2].Events[0].Label, events.Tracks[2].Events[0].Note, events.Axis, events.Zero = name, name, name, name[:300]
	strips.Names, strips.Rows[0].Name, strips.Ends, strips.X.Label, strips.Rows[4].Note = name, name, [2]string{name, name}, "", name
	for what, d := range map[string]interface{ Draw() (*Drawing, error) }{
		"signals": signals, "chart": chart, "events": events, "strips": strips,
		"damper": DamperView{Width: 90, Turn: Clockwise, Marks: []DamperMark{{60, name, name}, {0, name, ""}, {-90, name, name}}},
		"lamp":   LampWiring{Width: 90, Circuits: []LampCircuit{{name, FromSupply, name, []string{name}, name}, {name, MeterAcross, name, []string{name}, name}}},
		"cap":    CapMap{Width: 90, Turn: Clockwise, Order: []int{1, 3, 4, 2}, Towers: []string{name, name, name, name}},
		"sweep":  RotorSweep{Width: 90, Turn: Clockwise, Radius: 27, TipWidth: 9, TerminalWidth: 7, Neighbours: 60, To: 9, FromWords: name, ToWords: name},
	} {
		got, err := d.Draw()
		if err != nil {
			t.Errorf("%s: %v", what, err)
			continue
		}
		for _, b := range got.Outside() {
			t.Errorf("%s: %.40q leaves the sheet", what, b.Text)
		}
	}
}

// TestAnyTape draws tapes of every kind: never a panic, never words off the sheet, and
// the pieces always sum to the range.
func TestAnyTape(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := rapid.Float64Range(-180, 170).Draw(t, "from")
		tape := Tape{
			Name: rapid.String().Draw(t, "name"), Diameter: rapid.Float64Range(30, 1500).Draw(t, "diameter"),
			Turn: rapid.SampledFrom([]Turn{Clockwise, Counterclockwise}).Draw(t, "turn"),
			From: from, To: rapid.Float64Range(from+0.1, 180).Draw(t, "to"),
			Thickness: rapid.Float64Range(0, 3).Draw(t, "thickness"), Front: FrontSide(rapid.IntRange(0, 3).Draw(t, "front")),
			Pointer: PointerEdge(rapid.IntRange(0, 1).Draw(t, "pointer")), Face: TapeFace(rapid.IntRange(0, 1).Draw(t, "face")),
			Height: rapid.Float64Range(18, 60).Draw(t, "height"), Sheet: SheetSize(rapid.IntRange(0, 1).Draw(t, "sheet")),
			Measured: rapid.Float64Range(90, 110).Draw(t, "measured"),
		}
		tape.Marks = []TapeMark{{rapid.Float64Range(tape.From, tape.To).Draw(t, "mark"), rapid.String().Draw(t, "label")}}
		pages, err := tape.Pages()
		if err != nil {
			if strings.Contains(err.Error(), "sheets") {
				return
			}
			t.Fatal(err)
		}
		for _, d := range pages {
			if got := d.Outside(); len(got) > 0 {
				t.Fatalf("%q leaves the sheet", got[0].Text)
			}
		}
		ps := tape.pieces(250)
		want := math.Pi*(tape.Diameter+tape.Thickness)*(tape.To-tape.From)/360*100/tape.Measured + 2*endMargin
		if tape.whole() {
			want -= 2 * endMargin
		}
		// A name that has no room else makes the blank ends wider, in steps of 7 mm.
		if more := ps[len(ps)-1].to - ps[0].from - want; math.Abs(more-7*math.Round(more/7)) > 1e-6 || more < -1e-6 ||
			tape.whole() && more > 1e-6 {
			t.Fatalf("pieces sum to %g mm more than the %g wanted", more, want)
		}
	})
}

// TestAnyChart draws charts of any finite data without a panic and with legible axes.
func TestAnyChart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		value := rapid.Float64Range(-1e6, 1e6)
		c := Chart{Width: rapid.Float64Range(50, 300).Draw(t, "width"), X: Axis{Label: rapid.String().Draw(t, "x")}}
		for range rapid.IntRange(1, 3).Draw(t, "panels") {
			p := Panel{Y: Axis{Label: rapid.String().Draw(t, "y"), Sign: Sign(rapid.IntRange(0, 1).Draw(t, "sign"))}}
			for range rapid.IntRange(1, 8).Draw(t, "points") {
				p.Marks = append(p.Marks, Mark{X: value.Draw(t, "px"), Y: value.Draw(t, "py"), U: rapid.Float64Range(0, 10).Draw(t, "u"), Kind: MarkKind(rapid.IntRange(0, 3).Draw(t, "kind"))})
			}
			c.Panels = append(c.Panels, p)
		}
		d, err := c.Draw()
		if err != nil {
			t.Fatal(err)
		}
		if got := d.Clashes(); len(got) > 0 {
			t.Fatalf("%q lies over %q", got[0][0].Text, got[0][1].Text)
		}
		if got := d.Outside(); len(got) > 0 {
			t.Fatalf("%q leaves the sheet", got[0].Text)
		}
		if strings.Contains(d.SVG(InPage), "NaN") {
			t.Fatal("a coordinate is no number")
		}
	})
}
