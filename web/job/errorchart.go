package job

import (
	"math"
	"slices"
	"strconv"

	"phasewright/drawing"
	"phasewright/readings"
	"phasewright/record"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// Heights of the chart's field beside the readings, mm: low on a phone, whose lower half belongs to the keys, and high
// on the desk.
const (
	phoneHigh = 28
	deskHigh  = 78
)

// leastSpan is how many tolerances the chart of the timing error shows either way at least.
const leastSpan = 3

func fitChart(j *shelf.Job) (*page.Plate, error) {
	res, err := j.Fit()
	if err != nil {
		return nil, err
	}
	chart := errorChart(j, res.Result, j.Readings[:res.From])
	idle, redline := float64(j.Card.Engine.IdleSpeed), float64(j.Card.Engine.Redline)
	if now, _, _ := speedsAsked(j, res.Result); now > 0 && res.Verdict != readings.Pass && now != idle &&
		now != redline {
		chart.References = append(chart.References, drawing.Reference{X: now, Label: "read here"})
	}
	return page.Draw("error", func(width float64, prefix string) (*drawing.Drawing, error) {
		c := chart
		c.Width, c.Prefix = width, prefix
		c.Panels, c.References = slices.Clone(chart.Panels), slices.Clone(chart.References)
		c.Panels[0].Height = deskHigh
		if width == page.PhoneWidth {
			c.Panels[0].Height, c.X.Label, c.References[1].Label = phoneHigh, "", "" // one row of words above
		}
		return c.Draw()
	})
}

func proofChart(j *shelf.Job) (*page.Plate, error) {
	proof, err := j.Proof()
	if err != nil {
		return nil, err
	}
	return page.DrawChart("error", errorChart(j, proof.Is, nil))
}

// errorChart draws timing error against speed: readings as the fit carries them to the present housing and allowance,
// line, band and tolerance. Readings taken before a correction have no part in the fit and are drawn as rings, as read;
// withdrawn ones are left out. What the line does not go through (asked back, misread, on the starter) does not stretch
// the chart: it stands at the edge with its figure.
func errorChart(j *shelf.Job, res *readings.Result, before []record.Reading) drawing.Chart {
	top := leastSpan * res.Tolerance
	panel := drawing.Panel{Y: drawing.Axis{Label: "timing error, ° (early +)", Sign: drawing.PlusMinus},
		Zones: []drawing.Zone{{Lo: -res.Tolerance, Hi: res.Tolerance}}}
	var line []drawing.XY
	var band drawing.Band
	for _, e := range res.ErrorAt {
		if math.IsNaN(e.Value) {
			continue
		}
		line = append(line, drawing.XY{X: e.RPM, Y: e.Value})
		if !math.IsInf(e.U, 0) {
			band.X = append(band.X, e.RPM)
			band.Lo, band.Hi = append(band.Lo, e.Value-e.U), append(band.Hi, e.Value+e.U)
		}
	}
	if len(line) > 1 {
		panel.Series = []drawing.Series{{Points: line}}
	}
	if len(band.X) > 1 {
		panel.Bands = []drawing.Band{band}
	}
	if len(res.Wires) > 1 {
		for _, w := range res.Wires[1:] {
			panel.Series = append(panel.Series, wireSeries(w))
		}
	}
	idle, redline := float64(j.Card.Engine.IdleSpeed), float64(j.Card.Engine.Redline)
	last := redline * 1.05
	put := func(m drawing.Mark) {
		panel.Marks = append(panel.Marks, m)
		top = math.Max(top, math.Ceil(math.Abs(m.Y)+m.U))
	}
	for _, r := range before {
		if r.Counts() {
			put(drawing.Mark{X: r.RPM, Y: r.Shown - r.Locked, Kind: drawing.Ring})
		}
	}
	asked := map[int]bool{}
	for _, d := range res.Asked {
		asked[d.Row] = asked[d.Row] || !d.Counts
	}
	var odd []drawing.Mark
	for _, p := range res.Points {
		m := drawing.Mark{X: p.RPM, Y: p.Error}
		if u := float64(p.U); !math.IsNaN(u) && !math.IsInf(u, 0) {
			m.U = u
		}
		switch {
		case asked[p.Row]:
			m.Kind, m.Note = drawing.Ring, "not used"
			odd = append(odd, m)
			continue
		case slices.Contains(res.Outliers, p.Row):
			m.Kind, m.Note = drawing.Excluded, "not used"
			odd = append(odd, m)
			continue
		case slices.Contains(res.CrankingRows, p.Row):
			m.Kind = drawing.Ring
			odd = append(odd, m)
			continue
		case p.Wire > 1:
			m.Kind = drawing.Dot
		}
		put(m)
	}
	for _, m := range odd {
		panel.Marks = append(panel.Marks, atEdge(m, last, top))
	}
	panel.Y.Min, panel.Y.Max = -top, top // a band that is not known well runs out of the picture
	return drawing.Chart{Title: "Timing error against speed",
		Desc:       page.Whole(page.Sentence(res.Finding())),
		X:          drawing.Axis{Label: "rpm", Min: 0, Max: last},
		References: []drawing.Reference{{X: idle, Label: "idle"}, {X: redline, Label: "redline"}},
		Panels:     []drawing.Panel{panel}}
}

// wireSeries is the line of another cylinder than the first.
func wireSeries(w readings.WireError) drawing.Series {
	s := drawing.Series{Look: drawing.Light, Label: "wire " + strconv.Itoa(w.Cylinder)}
	for _, e := range w.ErrorAt {
		s.Points = append(s.Points, drawing.XY{X: e.RPM, Y: e.Value})
	}
	return s
}

// atEdge says beside a mark that lies off the field, up to right and from −top to top, what its figures are.
func atEdge(m drawing.Mark, right, top float64) drawing.Mark {
	m.AtEdge = true
	if m.X > right {
		m.Note = page.Figure(m.X, 0) + " rpm, " + page.Signed(m.Y, 1) + "°"
	} else if math.Abs(m.Y) > top {
		m.Note = page.Signed(m.Y, 1) + "°"
	}
	return m
}
