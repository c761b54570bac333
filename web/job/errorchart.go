package job

import (
	"math"
	"slices"

	"phasewright/drawing"
	"phasewright/readings"
	"phasewright/record"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// leastSpan is how many tolerances the chart of the timing error shows either way at least.
const leastSpan = 3

func fitChart(j *shelf.Job) (*page.Plate, error) {
	res, err := j.Fit()
	if err != nil {
		return nil, err
	}
	return errorChart(j, res.Result, j.Readings[:res.From])
}

func proofChart(j *shelf.Job) (*page.Plate, error) {
	proof, err := j.Proof()
	if err != nil {
		return nil, err
	}
	return errorChart(j, proof.Is, nil)
}

// errorChart draws timing error against speed: readings as the fit carries them to the present housing and allowance,
// line, band and tolerance. Readings taken before a correction have no part in the fit and are drawn as rings, as read;
// withdrawn ones are left out.
func errorChart(j *shelf.Job, res *readings.Result, before []record.Reading) (*page.Plate, error) {
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
	put := func(m drawing.Mark) {
		panel.Marks = append(panel.Marks, m)
		top = math.Max(top, math.Ceil(math.Abs(m.Y)+m.U))
	}
	for _, r := range before {
		if r.Counts() {
			put(drawing.Mark{X: r.RPM, Y: r.Shown - r.Locked, Kind: drawing.Ring})
		}
	}
	for _, p := range res.Points {
		m := drawing.Mark{X: p.RPM, Y: p.Error}
		switch {
		case slices.Contains(res.Outliers, p.Row):
			m.Kind, m.Note = drawing.Excluded, "misread? set aside"
		case slices.Contains(res.CrankingRows, p.Row):
			m.Kind = drawing.Ring
		}
		if u := float64(p.U); !math.IsNaN(u) && !math.IsInf(u, 0) {
			m.U = u
		}
		put(m)
	}
	panel.Y.Min, panel.Y.Max = -top, top // a band that is not known well runs out of the picture
	idle, redline := float64(j.Card.Engine.IdleSpeed), float64(j.Card.Engine.Redline)
	return page.DrawChart("error", drawing.Chart{Title: "Timing error against speed",
		Desc:       "The table below holds the same figures.",
		X:          drawing.Axis{Label: "rpm", Min: 0, Max: redline * 1.05},
		References: []drawing.Reference{{X: idle, Label: "idle"}, {X: redline, Label: "redline"}},
		Panels:     []drawing.Panel{panel}})
}
