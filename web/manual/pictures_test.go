package manual_test

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"testing"

	"phasewright/bench"
	"phasewright/drawing"
	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/leads"
	"phasewright/procedure"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/report"
	"phasewright/shaft"
	"phasewright/sheet"
	"phasewright/waveform"
)

// boat is the engine that the manual's pictures are drawn from: the first example, with its sheet and order of work.
type boat struct {
	card  *jobcard.Card
	sheet *sheet.Sheet
	order *procedure.Procedure
}

var theBoat = sync.OnceValue(func() boat {
	card, err := jobcard.Parse("sandpiper.yaml", []byte(examples.Cards()[0].YAML))
	must(err)
	s, err := sheet.Make(card)
	must(err)
	order, err := procedure.New(card, s)
	must(err)
	return boat{card, s, order}
})

func must(err error) {
	if err != nil {
		panic(err)
	}
}

// wide is the width of a picture in mm: it fills a phone, and is not drawn larger on the desk.
const wide = 90

// pictures are all pictures of the manual, by their file's name.
var pictures = map[string]func(prefix string) (*drawing.Drawing, error){
	"marks":     step(procedure.StepMarks),
	"stop":      step(procedure.StepZero),
	"lead":      step(procedure.StepLead),
	"dry-fit":   step(procedure.StepFit),
	"drop":      step(procedure.StepDrop),
	"lamp":      step(procedure.StepPhase),
	"dead":      step(procedure.StepFeed),
	"fuel":      step(procedure.StepFuelDown),
	"light":     step(procedure.StepIdle),
	"read-back": step(procedure.StepSettings),
	"walk":      step(procedure.StepStart),
	"plugs":     step(procedure.StepClose),
	"housing":   step(procedure.StepHousing),
	"cap": func(prefix string) (*drawing.Drawing, error) {
		m, ok := report.CapView(theBoat().card, theBoat().sheet)
		if !ok {
			panic("the boat has a cap")
		}
		m.Width, m.Prefix = wide, prefix
		return m.Draw()
	},
	"rotor": func(prefix string) (*drawing.Drawing, error) {
		plan, _, _, err := sheet.SparkPlan(theBoat().card)
		must(err)
		v, ok := report.RotorSweep(theBoat().card, plan, wide, prefix)
		if !ok {
			panic("the boat has a rotor")
		}
		return v.Draw()
	},
	"signals": func(prefix string) (*drawing.Drawing, error) {
		return report.SignalChart(theBoat().card, wide, prefix).Draw()
	},
	"tape": func(prefix string) (*drawing.Drawing, error) {
		d, err := report.Tape(theBoat().card, theBoat().sheet).Strip()
		if err == nil {
			d.Prefix = prefix
		}
		return d, err
	},
	"before":    read("sandpiper"),
	"after":     read("sandpiper-after"),
	"two-parts": twoParts,
	"cycle":     recorded("cycle"),
	"timing":    recorded("timing"),
	"divider":   divider,
	"charge":    charge,
	"distances": distances,
}

// step is the picture of a step of the order of work.
func step(id procedure.StepID) func(string) (*drawing.Drawing, error) {
	return func(prefix string) (*drawing.Drawing, error) {
		b := theBoat()
		st, ok := b.order.Step(id)
		if !ok {
			panic("no step " + id)
		}
		return report.StepDrawing(b.card, b.sheet, st, wide, prefix)
	}
}

// read is the picture of the example's light readings, with the line that is laid through them.
func read(name string) func(string) (*drawing.Drawing, error) {
	return func(prefix string) (*drawing.Drawing, error) {
		card := theBoat().card
		text, err := examples.Readings(name)
		must(err)
		table, err := readings.Read(strings.NewReader(text), name+".csv")
		must(err)
		set := readings.FromCard(card)
		set.AllowanceNow, set.AllowanceOpen = table.Rows[len(table.Rows)-1].Allowance, false
		res, err := readings.Fit(table.Rows, set)
		must(err)
		p := drawing.Panel{Y: drawing.Axis{Label: "timing error, ° (early +)", Sign: drawing.PlusMinus, Min: -3, Max: 3},
			Height: 45, Zones: []drawing.Zone{{Lo: -res.Tolerance, Hi: res.Tolerance}}}
		var line []drawing.XY
		var band drawing.Band
		for _, e := range res.ErrorAt {
			line = append(line, drawing.XY{X: e.RPM, Y: e.Value})
			band.X, band.Lo = append(band.X, e.RPM), append(band.Lo, e.Value-e.U)
			band.Hi = append(band.Hi, e.Value+e.U)
		}
		p.Series, p.Bands = []drawing.Series{{Points: line}}, []drawing.Band{band}
		for _, r := range res.Points {
			m := drawing.Mark{X: r.RPM, Y: r.Error}
			if slices.Contains(res.Outliers, r.Row) {
				m.Kind, m.Note = drawing.Excluded, "misread"
			}
			if !slices.Contains(res.CrankingRows, r.Row) { // they have no part in the line
				p.Marks = append(p.Marks, m)
			}
		}
		return drawing.Chart{Width: wide, Prefix: prefix, Title: "Readings of the light",
			Desc: "Timing error of each reading against speed, with the line through them and the tolerance.",
			X:    drawing.Axis{Label: "speed, rpm", Min: 500, Max: 4500}, Panels: []drawing.Panel{p}}.Draw()
	}
}

// twoParts is the timing error's two parts by the closed form e = b − 6·n·τ·10⁻⁶; b and τ are invented.
func twoParts(prefix string) (*drawing.Drawing, error) {
	line := func(b, tau float64) []drawing.XY {
		var out []drawing.XY
		for n := 500.0; n <= 4500; n += 500 {
			out = append(out, drawing.XY{X: n, Y: b - 6*n*tau*1e-6})
		}
		return out
	}
	return drawing.Chart{Width: wide, Prefix: prefix, Title: "The two parts of the timing error",
		Desc: "A housing off by one degree of shaft: a level line at plus two degrees. A delay allowance of 100 µs too " +
			"little: a line that falls with speed.",
		X: drawing.Axis{Label: "speed, rpm", Min: 0, Max: 6000},
		Panels: []drawing.Panel{{Y: drawing.Axis{Label: "timing error, °", Sign: drawing.PlusMinus, Min: -4, Max: 4},
			Height: 45, Series: []drawing.Series{{Points: line(2, 0), Label: "housing"},
				{Points: line(0, 100), Label: "delay", Look: drawing.Strong}}}}}.Draw()
}

// ran is a recording of the bench with the boat's engine, and what is read in it.
var ran = sync.OnceValue(func() *shaft.Result {
	c, err := bench.FromCard(theBoat().card)
	must(err)
	faults, err := bench.ParseFaults(c, "housing=1.5deg", "allowance=-60us")
	must(err)
	profile, err := bench.ParseProfile("sweep 800..4000 rpm in 12 s")
	must(err)
	rig, err := bench.NewRig(c, faults, profile, 1)
	must(err)
	var b bytes.Buffer
	must(bench.WriteVCD(&b, rig))
	r, err := shaft.Run(context.Background(), shaft.Recording{Input: waveform.Stream("run.vcd", &b, -1),
		Options: waveform.Options{Workers: 1}}, shaft.Options{Card: theBoat().card})
	must(err)
	return r
})

// recorded is a picture of that recording.
func recorded(view string) func(string) (*drawing.Drawing, error) {
	return func(prefix string) (*drawing.Drawing, error) {
		for _, v := range report.CaptureViews(ran(), theBoat().card) {
			if v.ID == view {
				return v.Draw(report.Space{Width: wide, Prefix: prefix})
			}
		}
		panic("no view " + view)
	}
}

// charge is the current in the boat's coil after the key is on it, i = V/R·(1 − e^(−Rt/L)) while the iron is not full.
func charge(prefix string) (*drawing.Drawing, error) {
	var line []drawing.XY
	for t := 0.0; t <= 4; t += 0.1 {
		line = append(line, drawing.XY{X: t, Y: 12 / 1.2 * (1 - math.Exp(-1.2*t/6))})
	}
	return drawing.Chart{Width: wide, Prefix: prefix, Title: "A coil is charged",
		Desc: "Current in a coil against time after it is switched on: steep at first, then flatter.",
		X:    drawing.Axis{Label: "time since switched on, ms", Min: 0, Max: 4},
		Panels: []drawing.Panel{{Y: drawing.Axis{Label: "current, A", Min: 0, Max: 6}, Height: 35,
			Series: []drawing.Series{{Points: line}}}},
		References: []drawing.Reference{{X: 3, Label: "spark after 3 ms of dwell"}}}.Draw()
}

// divider is the test lead that stands before a sound card's input on the boat's crank pickup.
func divider(prefix string) (*drawing.Drawing, error) {
	list, err := leads.Make(theBoat().card, leads.SoundCard())
	must(err)
	l := list[0]
	d := drawing.New(wide, 46, "Divider and clamp before an input",
		"From the signal wire through a resistor to the input. A second resistor and four diodes go from the input to ground.")
	d.Prefix = prefix
	small := drawing.Note
	const top, foot = 12.0, 40.0
	d.Line(4, top, 18, top, drawing.Outline)
	d.Rect(18, top-2.5, 16, 5, drawing.Outline.Filled(drawing.Sheet))
	d.Line(34, top, 86, top, drawing.Outline)
	d.Line(4, foot, 86, foot, drawing.Outline)
	d.Text(4, top-4, "signal wire", small)
	d.Text(20, top-4, ohms(l.Top), small)
	d.Text(86, top-4, "input", small.At(drawing.End, drawing.Baseline))
	d.Text(4, foot+4.5, "ground of the pickup", small)
	d.Line(44, top, 44, 19, drawing.Outline)
	d.Rect(41.5, 19, 5, 14, drawing.Outline.Filled(drawing.Sheet))
	d.Line(44, 33, 44, foot, drawing.Outline)
	d.Text(39.5, 27, ohms(l.Bottom), small.At(drawing.End, drawing.Baseline))
	for i, way := range []float64{1, -1} {
		x := 57 + 12*float64(i)
		d.Line(x, top, x, foot, drawing.Outline)
		for _, y := range []float64{21, 31} {
			d.Polygon([]drawing.Point{{X: x - 2.5, Y: y - 2*way}, {X: x + 2.5, Y: y - 2*way}, {X: x, Y: y + 2*way}},
				drawing.Outline.Filled(drawing.Sheet))
			d.Line(x-2.5, y+2*way, x+2.5, y+2*way, drawing.Heavy)
		}
	}
	d.Text(74, 27, "diodes", small)
	return d, nil
}

func ohms(r quantity.Resistance) string { return fmt.Sprint(r) }

// distances are the two ways from one mark to another on a rim.
func distances(prefix string) (*drawing.Drawing, error) {
	d := drawing.New(wide, 48, "Along the rim, and with dividers",
		"Two marks on a rim. The way along the rim is longer than the straight line between the points of dividers.")
	d.Prefix = prefix
	c := drawing.Point{X: wide / 2, Y: 62}
	const r = 46.0
	d.Arc(c, r, -55, 110, drawing.Outline)
	a, b := drawing.Polar(c, r, -30), drawing.Polar(c, r, 30)
	for _, deg := range []float64{-30, 30} {
		in, out := drawing.Polar(c, r-4, deg), drawing.Polar(c, r, deg)
		d.Line(in.X, in.Y, out.X, out.Y, drawing.Heavy)
	}
	d.Line(a.X, a.Y, b.X, b.Y, drawing.Fine)
	d.DimArc(c, r, r+5, -30, 60)
	d.Text(wide/2, 7, "along the rim", drawing.Note.At(drawing.Middle, drawing.Baseline))
	d.Text(wide/2, a.Y+5, "with dividers", drawing.Note.At(drawing.Middle, drawing.Baseline))
	return d, nil
}

// drawn is a picture's drawing, looked at for what a reader could not read.
func drawn(t *testing.T, name, prefix string) *drawing.Drawing {
	t.Helper()
	d, err := pictures[name](prefix)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	for _, x := range d.Clashes() {
		t.Errorf("%s: %.60q lies over %.60q", name, x[0].Text, x[1].Text)
	}
	for _, x := range d.Outside() {
		t.Errorf("%s: %.60q leaves the sheet", name, x.Text)
	}
	for _, x := range d.Crossings() {
		t.Errorf("%s: a line crosses %.60q", name, x.Text)
	}
	return d
}
