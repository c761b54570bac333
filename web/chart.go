package web

import (
	"html/template"
	"math"

	"phasewright/drawing"
	"phasewright/readings"
	"phasewright/record"
)

// plate is a drawing in the two widths that pages use; the style sheet shows the one that fits.
type plate struct{ Phone, Desk template.HTML }

// Widths of drawings in mm: 90 fills a phone, 150 a column on the desk.
const (
	phoneWidth = 90
	deskWidth  = 150
)

// draw makes both sizes of a drawing.
func draw(make func(width float64, prefix string) (*drawing.Drawing, error), prefix string) (*plate, error) {
	return drawAt(phoneWidth, deskWidth, make, prefix)
}

// drawAt makes a drawing at widths of its own.
func drawAt(onPhone, onDesk float64, make func(width float64, prefix string) (*drawing.Drawing, error), prefix string) (*plate, error) {
	phone, err := make(onPhone, prefix+"-p")
	if err != nil {
		return nil, err
	}
	desk, err := make(onDesk, prefix+"-d")
	if err != nil {
		return nil, err
	}
	return &plate{inPage(phone), inPage(desk)}, nil
}

// inPage is the drawing's SVG. The drawing room escapes every word in it.
func inPage(d *drawing.Drawing) template.HTML { return template.HTML(d.SVG(drawing.InPage)) }

// leastSpan is how many tolerances the chart of the timing error shows either way at least.
const leastSpan = 3

// errorChart draws timing error against speed: readings as the fit carries them to the present housing and allowance, line, band and tolerance. Readings before the one numbered since were taken
// before a correction, have no part in the fit and are drawn as rings, as read; withdrawn ones are left out.
func (j *job) errorChart(res *readings.Result, all []record.Reading, since int) (*plate, error) {
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
			band.X, band.Lo, band.Hi = append(band.X, e.RPM), append(band.Lo, e.Value-e.U), append(band.Hi, e.Value+e.U)
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
	for _, r := range all[:since] {
		if r.Counts() {
			put(drawing.Mark{X: r.RPM, Y: r.Shown - r.Locked, Kind: drawing.Ring})
		}
	}
	for _, p := range res.Points {
		m := drawing.Mark{X: p.RPM, Y: p.Error}
		switch {
		case contains(res.Outliers, p.Row):
			m.Kind, m.Note = drawing.SetAside, "misread? set aside"
		case contains(res.CrankingRows, p.Row):
			m.Kind = drawing.Ring
		}
		if u := float64(p.U); !math.IsNaN(u) && !math.IsInf(u, 0) {
			m.U = u
		}
		put(m)
	}
	panel.Y.Min, panel.Y.Max = -top, top // a band that is not known well runs out of the picture
	redline := float64(j.Card.Engine.Redline)
	chart := drawing.Chart{Title: "Timing error against speed", Desc: "The table below holds the same figures.",
		X:          drawing.Axis{Label: "rpm", Min: 0, Max: redline * 1.05},
		References: []drawing.Reference{{X: float64(j.Card.Engine.IdleSpeed), Label: "idle"}, {X: redline, Label: "redline"}},
		Panels:     []drawing.Panel{panel}}
	return draw(func(width float64, prefix string) (*drawing.Drawing, error) {
		c := chart
		c.Width, c.Prefix = width, prefix
		return c.Draw()
	}, "error")
}

func contains(rows []int, n int) bool {
	for _, r := range rows {
		if r == n {
			return true
		}
	}
	return false
}
