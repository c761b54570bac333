package report

import (
	"fmt"
	"math"

	"phasewright/coil"
	"phasewright/drawing"
	"phasewright/quantity"
	"phasewright/sheet"
)

// chartSpeeds is at how many speeds a chart on paper is worked out.
const chartSpeeds = 160

// Spark is the paper that says whether there is a spark from the first turn of the starter to the redline: the chart
// that decides, its table, the rotor over its terminal to scale, and the findings. The set-up sheet carries the
// findings too; this one is to be looked at when coil, dwell, plugs or lead are chosen.
func Spark(k *sheet.Case, stamp Stamp) (*Paper, error) {
	if k == nil || k.Card == nil {
		return nil, ErrNothing
	}
	var f *flow
	for _, dense := range []density{withoutReasons, smallDrawings, smallWords} { // two sheets where that can be had
		var err error
		if f, err = spark(k, stamp, dense); err != nil {
			return nil, err
		}
		if len(f.pages) <= 2 {
			break
		}
	}
	return f.paper(stamp, k.Card), nil
}

func spark(k *sheet.Case, stamp Stamp, dense density) (*flow, error) {
	f := newFlow("spark", "Coil, spark and rotor", k.Card.Job.Name, k.Card, stamp, nil)
	if len(stamp.Overrides) > 0 {
		f.overrides(stamp.Overrides)
	}
	d := k.Decide(chartSpeeds)
	view := SparkChart(d, f.wide(), "spark")
	if dense >= smallDrawings {
		for i := range view.Panels {
			view.Panels[i].Height *= 0.82
		}
	}
	chart, err := view.Draw()
	if err != nil {
		return nil, fmt.Errorf("spark, chart: %w", err)
	}
	f.place(chart)
	for _, line := range SparkReading(k) {
		f.text(line, drawing.TextStyle{Size: 2.7})
	}
	f.y += gap
	tip, rotor := RotorSweep(k.Card, k.Plan, 96, "rotor")
	if rotor {
		sweep, err := tip.Draw()
		if err != nil {
			return nil, fmt.Errorf("spark, rotor: %w", err)
		}
		f.headingOf("Rotor tip over its terminal", sweep.Height+12) // the cautions beside it may be longer
		f.besideCautions(sweep, nil, sheet.Cautions())
	}
	f.sparkTable(d)
	var blocks [3][]found
	for _, it := range k.Items() {
		v := verdictOf(it.Verdict)
		x := found{verdict: v, title: it.Title, text: it.Text}
		if v != drawing.IsFine { // why something is fine stands on the screen and in the data
			x.because, x.cure = it.Because, it.CureText()
		}
		blocks[v] = append(blocks[v], x)
	}
	for _, part := range []struct {
		verdict drawing.Verdict
		title   string
	}{{drawing.IsStop, "Stop: settle these before anything turns"}, {drawing.IsCaution, "Caution"},
		{drawing.IsFine, "Fine"}} {
		if list := blocks[part.verdict]; len(list) > 0 {
			made := f.items(list, f.columnWidth())
			if part.verdict == drawing.IsFine && dense == smallWords {
				made = f.itemsRunIn(list, f.columnWidth())
			}
			f.headingOf(part.title, made[0].high)
			f.columns(made)
		}
	}
	if !rotor {
		f.cautions(sheet.Cautions())
	}
	return f, nil
}

// SparkReading says how the chart is read.
func SparkReading(k *sheet.Case) []string {
	p := k.Plan
	lines := []string{fmt.Sprintf("Strong lines: %s below idle, %s from idle on. Dashed lines are past what is "+
		"known (extrapolated). Advance below idle %s, above it %s to %s.",
		volts(p.CrankingSupply), volts(p.Running), onStarter(p.Cranking), degrees(float64(p.Sparks.Latest)),
		degrees(float64(p.Sparks.Earliest)))}
	if p.Primary != nil {
		lines = append(lines, fmt.Sprintf("Thin lines above idle: the same dwell on %s. The spark in hand is an "+
			"estimate, so a band. The line is its worst end, full load.", volts(p.CrankingSupply)))
	}
	if !k.Known {
		lines = append(lines, "The coil is not on the card. So dwell, current and spark in hand are not shown. "+
			"Write the coil section.")
	} else if p.Box != nil && p.BoxVolts.High == 0 {
		lines = append(lines, "The card does not say what the spark box delivers. The voltage needed stands in "+
			"place of the spark in hand. Write ignition.box_voltage.")
	}
	return lines
}

// onStarter is the advance while cranking, or the range it may lie in.
func onStarter(a coil.Band[quantity.Crank]) string {
	if a.Low == a.High {
		return degrees(float64(a.Low))
	}
	return "not given, " + degrees(float64(a.Low)) + " to " + degrees(float64(a.High)) + " taken"
}

// Cells is one row of the table beside the chart.
type Cells []string

// SparkTable is the chart in figures: heads, and a row a speed. The last column is words.
func SparkTable(d sheet.Decision) (heads Cells, rows []Cells) {
	p := d.Plan
	num := func(v float64, places int) string {
		if math.IsInf(v, 0) || math.IsNaN(v) {
			return "never"
		}
		return quantity.Number(v, places)
	}
	ms := func(t quantity.Time) string { return num(t.Milliseconds(), 2) }
	heads = Cells{"rpm"}
	add := func(h ...string) { heads = append(heads, h...) }
	if p.Primary != nil {
		add("dwell needed ms", "fits ms", "set ms", "current A")
	} else if p.Box != nil {
		add("pulse fits ms", "set ms")
	}
	margin := d.Running().Points[0].Available.High > 0
	if margin {
		add("in hand, times")
	} else {
		add("needs kV")
	}
	if p.Rotor != nil {
		add("overlap " + d.Units.Short())
	}
	add("what limits")
	band := func(lo, hi float64) string { return num(lo, 1) + "–" + num(hi, 1) }
	for _, pt := range d.Rows() {
		row := Cells{num(float64(pt.Speed), 0)}
		if p.Primary != nil {
			row = append(row, ms(pt.Needed), ms(pt.Fits), ms(pt.Applied), num(float64(pt.Current), 2)+dashed(pt.Beyond))
		} else if p.Box != nil {
			row = append(row, ms(pt.Fits), ms(pt.Applied))
		}
		outside := dashed(pt.Beyond || pt.Demand.Outside != 0)
		if margin {
			row = append(row, num(pt.Margin.Low, 2)+"–"+num(pt.Margin.High, 2)+outside)
		} else {
			row = append(row, band(float64(pt.Demand.Volts.Low)/1e3, float64(pt.Demand.Volts.High)/1e3)+outside)
		}
		if p.Rotor != nil {
			row = append(row, d.Units.Figure(pt.Rotor.Overlap, 1))
		}
		rows = append(rows, append(row, d.CauseOf(pt).Name()))
	}
	return heads, rows
}

// dashed marks a figure that is drawn dashed on the chart.
func dashed(outside bool) string {
	if outside {
		return " *"
	}
	return ""
}

func (f *flow) sparkTable(d sheet.Decision) {
	heads, cells := SparkTable(d)
	var cols []column
	for i, h := range heads {
		switch {
		case i == len(heads)-1:
			cols = append(cols, column{"", 0.2, left}, column{h, 4, left})
		default:
			cols = append(cols, column{h, 1, figure})
		}
	}
	var rows [][]string
	for _, r := range cells {
		rows = append(rows, r)
	}
	f.headingOf("The chart in figures", 6+5.3*float64(len(rows)))
	f.table(cols, spread(rows, len(heads)-1))
}
