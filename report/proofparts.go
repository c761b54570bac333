package report

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"phasewright/drawing"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/verdict"
)

// errorPanel draws one fit with its readings.
func errorPanel(label string, res *readings.Result, rows []readings.Row, tolerance float64) drawing.Panel {
	p := drawing.Panel{Y: drawing.Axis{Label: label, Sign: drawing.PlusMinus},
		Zones: []drawing.Zone{{Lo: -tolerance, Hi: tolerance}}, Height: 40}
	top := 2 * tolerance
	var line []drawing.XY
	var band drawing.Band
	for _, e := range res.ErrorAt {
		if math.IsNaN(e.Value) || math.IsInf(e.Value, 0) {
			continue
		}
		line = append(line, drawing.XY{X: e.RPM, Y: e.Value})
		top = math.Max(top, math.Abs(e.Value)*1.1)
		if !math.IsInf(e.U, 0) && !math.IsNaN(e.U) {
			band.X, band.Lo, band.Hi = append(band.X, e.RPM), append(band.Lo, e.Value-e.U), append(band.Hi, e.Value+e.U)
		}
	}
	p.Series = reached(line, res, rows)
	if len(band.X) > 1 {
		p.Bands = []drawing.Band{band}
	}
	off := aside(res)
	for i, r := range rows { // what does not count does not stretch the chart
		if !slices.Contains(off, i+1) {
			top = math.Max(top, math.Abs(float64(r.TimingError()))+float64(r.U))
		}
	}
	for i, r := range rows {
		m := drawing.Mark{X: float64(r.Speed), Y: float64(r.TimingError()), U: float64(r.U)}
		switch {
		case slices.Contains(off, i+1) && !slices.Contains(res.Outliers, i+1):
			m.Kind, m.Note, m.AtEdge = drawing.Ring, "not used, "+quantity.Signed(m.Y, 1)+"°", true
		case slices.Contains(off, i+1):
			m.Kind, m.Note, m.AtEdge = drawing.Excluded, "does not fit, not used", true
			if math.Abs(m.Y) > top {
				m.Note = quantity.Signed(m.Y, 1) + "°, not used"
			}
		case slices.Contains(res.CrankingRows, i+1):
			m.Kind = drawing.Ring
		}
		p.Marks = append(p.Marks, m)
	}
	p.Y.Min, p.Y.Max = -math.Ceil(top*2)/2, math.Ceil(top*2)/2 // a band that is not known well runs out of the picture
	return p
}

// reached cuts the line where the readings that it goes through end: beyond them it is only carried on.
func reached(line []drawing.XY, res *readings.Result, rows []readings.Row) []drawing.Series {
	from, to := span(res, rows)
	var low, in, high []drawing.XY
	at := func(x float64) drawing.XY { // of the line, which is drawn straight from point to point
		for i := 1; i < len(line); i++ {
			if a, b := line[i-1], line[i]; a.X <= x && x <= b.X && a.X < b.X {
				return drawing.XY{X: x, Y: a.Y + (b.Y-a.Y)*(x-a.X)/(b.X-a.X)}
			}
		}
		return drawing.XY{X: x, Y: math.NaN()}
	}
	for _, p := range line {
		switch {
		case p.X < from:
			low = append(low, p)
		case p.X > to:
			high = append(high, p)
		default:
			in = append(in, p)
		}
	}
	if first := at(from); len(low) > 0 && !math.IsNaN(first.Y) {
		low, in = append(low, first), append([]drawing.XY{first}, in...)
	}
	if last := at(to); len(high) > 0 && !math.IsNaN(last.Y) {
		high, in = append([]drawing.XY{last}, high...), append(in, last)
	}
	var out []drawing.Series
	for _, s := range []drawing.Series{{Points: in}, {Points: low, Look: drawing.OutsideValidity},
		{Points: high, Look: drawing.OutsideValidity}} {
		if len(s.Points) > 1 {
			out = append(out, s)
		}
	}
	return out
}

func pm(v readings.Interval, places int) string {
	if !v.Known() {
		return "not known"
	}
	s := quantity.Signed(v.Value, places)
	if u := v.Expanded(); !math.IsInf(u, 0) && !math.IsNaN(u) {
		return s + " ± " + quantity.Number(u, places)
	}
	return s + ", no interval"
}

func errorWords(e readings.ErrorAt) string {
	if math.IsNaN(e.Value) {
		return "not known"
	}
	s := quantity.Signed(e.Value, 2) + "°"
	if !math.IsInf(e.U, 0) && !math.IsNaN(e.U) {
		s += " ± " + quantity.Degrees(e.U, 2)
	}
	return s + " at " + quantity.RPM(e.RPM)
}

// mostTogether is how high a table may stand that is kept on one sheet, mm.
const mostTogether = 80.0

// comparison sets before and after side by side.
func (f *flow) comparison(k Case) {
	p := k.Proof
	before, after := k.sides()
	f.headingOf(map[bool]string{true: "Before and after", false: "As found"}[before != ""], 8+6*f.rowHeight())
	cols := []column{{"", 2.2, left}, {before, 2, figure}, {after, 2, figure}}
	line := func(what string, get func(*readings.Result) string) []string {
		row := []string{what, "no readings", get(p.Is)}
		switch {
		case p.Was != nil:
			row[1] = get(p.Was)
		case before == "":
			row[1] = ""
		}
		return row
	}
	f.table(cols, [][]string{
		{"largest timing error", line("", func(*readings.Result) string { return errorWords(p.Before) })[1],
			errorWords(p.Worst)},
		line("constant error (housing), crank degrees", func(r *readings.Result) string { return pm(r.Offset, 2) }),
		line("delay left over, µs", func(r *readings.Result) string { return pm(r.Delay, 0) }),
		line("delay allowance in force, µs", func(r *readings.Result) string { return figureOf(r.Allowance.Now, -1) }),
		line("scatter of the readings (sd), degrees",
			func(r *readings.Result) string { return figureOf(r.ResidualSD, 2) }),
		line("readings used, not used", func(r *readings.Result) string {
			return strconv.Itoa(r.Used) + ", " + strconv.Itoa(len(r.Outliers))
		}),
	})
}

func figureOf(v readings.Number, places int) string {
	if math.IsNaN(float64(v)) || math.IsInf(float64(v), 0) {
		return "not known"
	}
	return quantity.Number(float64(v), places)
}

func (f *flow) corrections(list []Correction) {
	f.heading("Corrections made")
	if len(list) == 0 {
		f.text("None recorded.", drawing.Body)
		f.y += gap
		return
	}
	var rows [][]string
	for _, c := range list {
		rows = append(rows, []string{c.When, c.What, c.From, c.To, c.By})
	}
	f.table([]column{{"when", 1.3, left}, {"what", 2.6, left}, {"from", 1.2, left}, {"to", 1.2, left},
		{"by", 1.2, left}}, rows)
}

// readings sets the table of one round of readings.
func (f *flow) readings(title string, rows []readings.Row, res *readings.Result) {
	if len(rows) == 0 {
		return
	}
	f.headingOf(title, min(10+f.rowHeight()*float64(len(rows)), mostTogether))
	var out [][]string
	for i, r := range rows {
		u, allowance, state := "not given", "", ""
		if r.U > 0 {
			u = quantity.Number(float64(r.U), 2)
		}
		if r.AllowanceStated {
			allowance = quantity.Number(float64(r.Allowance), -1)
		}
		if res != nil {
			switch {
			case slices.ContainsFunc(res.Asked, func(d readings.Doubt) bool { return d.Row == i+1 && !d.Counts }):
				state = "not counted"
			case slices.Contains(res.Outliers, i+1):
				state = "does not fit, not used"
			case slices.Contains(res.CrankingRows, i+1):
				state = "cranking"
			}
		}
		note := r.Note
		if k := r.Cylinder(); k > 1 {
			state = strings.TrimSuffix("wire "+strconv.Itoa(k)+"; "+state, "; ")
		}
		if state != "" && note != "" {
			note = state + "; " + note
		} else {
			note += state
		}
		out = append(out, []string{strconv.Itoa(i + 1), quantity.Number(float64(r.Speed), -1),
			quantity.Number(float64(r.Shown), 2), quantity.Number(float64(r.Locked), 2),
			quantity.Signed(r.TimingError(), 2), u, allowance, "", note})
	}
	f.table([]column{{"no.", 0.5, figure}, {"rpm", 0.7, figure}, {"shown, ° BTDC", 1.1, figure},
		{"locked, ° BTDC", 1.1, figure}, {"error, °", 0.9, figure},
		{"u, °", 0.8, figure}, {"allowance, µs", 0.9, figure}, {"", 0.2, left}, {"note", 3, left}}, out)
}

// budget sets what makes up the uncertainty (JCGM 100).
func (f *flow) budget(p *readings.Proof) {
	f.headingOf("Uncertainty budget at the worst speed", min(24+f.rowHeight()*float64(len(p.Budget)), mostTogether))
	var rows [][]string
	for _, l := range p.Budget {
		dof := "∞"
		if !math.IsNaN(float64(l.DOF)) && !math.IsInf(float64(l.DOF), 0) {
			dof = quantity.Number(float64(l.DOF), 1)
		}
		state := "stated or measured"
		if l.Assumed {
			state = "assumed"
		}
		rows = append(rows, []string{l.Name, string(l.Kind), string(l.Shape), figureOf(l.U, 4), dof, "", state})
	}
	rows = append(rows, []string{"combined standard uncertainty", "", "", figureOf(p.Combined, 4), figureOf(p.DOF, 1),
		"", ""},
		[]string{"expanded uncertainty U, 95 %, " + expandedBy(p), "", "", quantity.Number(p.Worst.U, 4), "", "", ""})
	f.table([]column{{"what", 3.4, left}, {"type", 0.6, left}, {"shape", 1.3, left}, {"u, crank degrees", 1.2, figure},
		{"degrees of freedom", 1.2, figure}, {"", 0.2, left}, {"how known", 1.6, left}}, rows)
	if m := p.Check; m != nil {
		f.text(
			"Simulation (JCGM 101) of "+quantity.Number(float64(m.Draws),
				0)+" draws: 95 % of them lie from "+quantity.Signed(m.Lo, 3)+"° to "+quantity.Signed(m.Hi,
				3)+"°, mean "+
				quantity.Signed(m.Mean, 3)+"°, standard deviation "+figureOf(m.SD, 3)+"°.", drawing.Body)
		f.y += gap
	}
}

// expandedBy says where the expanded uncertainty comes from.
func expandedBy(p *readings.Proof) string {
	if p.Check != nil && p.Check.Reported {
		return "by simulation, the wider interval"
	}
	return "coverage factor " + figureOf(p.Factor, 2)
}

// notes sets what the proof rests on and what to be careful about.
func (f *flow) notes(p *readings.Proof, j *verdict.Judgement) {
	if len(p.Words) > 1 || len(p.Warnings) > 0 {
		f.heading("What this rests on")
	}
	for i, s := range p.Words {
		if i > 0 {
			f.text(s, drawing.Body)
		}
	}
	for _, s := range p.Warnings {
		f.need(6)
		f.d.Mark(drawing.Point{X: inset + 1.6, Y: f.y + 2.3}, 2.6, drawing.IsCaution, drawing.Ink)
		f.indented(s, drawing.Body, 6)
	}
	f.text("Numbers of the judge's own: "+strings.Join(j.RestsOn, "; ")+".", drawing.Note)
	f.y += gap
}
