package report_test

import (
	"math"
	"testing"

	"phasewright/drawing"
	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/report"
	"phasewright/sheet"
)

// By hand, the work boat (invented): lead 60°, vanes 15 shaft degrees, leaving edge active: the vane of the firing at
// 120° stands from 30° to 60°; the cam's active edge at 600° has crank edges at 540° and 660° beside it; sparks from
// 34° to 2° before each TDC.
func TestSignalChartByHand(t *testing.T) {
	c, err := jobcard.Parse("sandpiper", []byte(examples.Cards()[0].YAML))
	if err != nil {
		t.Fatal(err)
	}
	v := report.SignalChart(c, 180, "")
	crank, cam, spark := v.Tracks[0], v.Tracks[1], v.Tracks[2]
	has := func(what string, list []drawing.Span, from, to float64) {
		t.Helper()
		for _, s := range list {
			if math.Abs(s.From-from) < 1e-9 && math.Abs(s.To-to) < 1e-9 {
				return
			}
		}
		t.Errorf("%s: no span from %v to %v in %v", what, from, to, list)
	}
	has("crank", crank.High, 30, 60)
	has("crank before the first TDC", crank.High, 630, 660)
	has("cam", cam.High, 520, 600) // 40 shaft degrees, leaving edge at 720 − 120
	has("cam window", cam.Windows, 540, 660)
	has("spark", spark.Windows, 86, 118)
	has("spark of cylinder 1", spark.Windows, 686, 718)
	for i := 1; i < len(crank.High); i++ {
		if crank.High[i].From < crank.High[i-1].To {
			t.Errorf("levels out of order: %v", crank.High)
		}
	}
	if len(crank.High) != 6 || len(crank.Active) != 6 || crank.Active[1].At != 60 || crank.Active[1].Up != drawing.Falling {
		t.Errorf("crank %+v", crank)
	}
}

// Levels add up: with the level inverted, high and low swap over the whole cycle, for every example.
func TestSignalLevelsAreComplementary(t *testing.T) {
	for _, e := range examples.Cards() {
		c, err := jobcard.Parse(e.Name, []byte(e.YAML))
		if err != nil {
			t.Fatal(err)
		}
		length := func(level jobcard.Level) float64 {
			c.Signals.Crank.InVane = level
			if level == jobcard.Low { // the active edge of the same side of the vane is the other electrical one
				if c.Signals.Crank.ActiveEdge == jobcard.Rising {
					c.Signals.Crank.ActiveEdge = jobcard.Falling
				} else {
					c.Signals.Crank.ActiveEdge = jobcard.Rising
				}
			}
			sum := 0.0
			for _, s := range report.SignalChart(c, 180, "").Tracks[0].High {
				sum += s.To - s.From
			}
			return sum
		}
		c.Signals.Crank.InVane = jobcard.High
		if high, low := length(jobcard.High), length(jobcard.Low); math.Abs(high+low-720) > 1e-6 {
			t.Errorf("%s: high %v and low %v do not fill the cycle", e.Name, high, low)
		}
	}
}

func TestDrawingsPaper(t *testing.T) {
	for _, e := range examples.Cards() {
		c, err := jobcard.Parse(e.Name, []byte(e.YAML))
		if err != nil {
			t.Fatal(err)
		}
		s, err := sheet.Make(c)
		if err != nil {
			t.Fatal(err)
		}
		p, err := report.Drawings(c, s, report.Stamp{})
		if err != nil {
			t.Fatalf("%s: %v", e.Name, err)
		}
		if n := len(p.Doc.Pages); n < 1 || n > 2 {
			t.Errorf("%s: %d pages", e.Name, n)
		}
		for i, d := range p.Doc.Pages {
			if clashes := d.Clashes(); len(clashes) > 0 {
				t.Errorf("%s page %d: text over text: %v", e.Name, i+1, clashes)
			}
		}
	}
}
