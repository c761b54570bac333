package web

import (
	"context"
	"html/template"
	"math"
	"strconv"
	"strings"

	"phasewright/drawing"
	"phasewright/shaft"
	"phasewright/waveform"
)

// Columns of a view: what a phone and a desk can show. Both come from one look at the recording.
const (
	deskColumns  = 720
	phoneColumns = deskColumns / 2
	wholeColumns = 240

	waveDesk = 180 // mm, the width of the sheet's page
)

// wavePlate is a drawing of a stretch with the place of its time axis, so that the page can move it.
type wavePlate struct {
	SVG         template.HTML
	Left, Right string // mm
}

// waveView is a stretch of a recording, looked at and drawn.
type waveView struct {
	phone, desk *wavePlate
	rows        []waveRow
}

// waveRow is what one channel does in the stretch, for the table.
type waveRow struct{ Name, Role, Low, High, Least, Most string }

// plates says which drawings are wanted.
type plates struct{ phone, desk bool }

// drawWave looks at a stretch and draws it. A few views are worked out at a time; others wait for their turn or until nobody wants them any more.
func (s *Server) drawWave(ctx context.Context, w *wave, r waveRange, v stretch, channels []int, roles []shaft.Role, res *shaft.Result, want plates) (*waveView, error) {
	select {
	case s.waves.turn <- struct{}{}:
		defer func() { <-s.waves.turn }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	looks, err := w.look(ctx, channels, v.from, v.to, deskColumns)
	if err != nil {
		return nil, err
	}
	d := drawing.Waveform{From: v.from, To: v.to, Title: "Waveform from " + timeWords(v.from, v.width()) + " to " + timeWords(v.to, v.width()), Desc: "The table below holds levels and extremes in figures."}
	if d.Whole, err = w.wholeStrip(ctx, r, channels, res); err != nil {
		return nil, err
	}
	if cycle, rpm := cycleAt(res, v.centre()); cycle > 0 {
		d.Cycle, d.CycleWords = cycle, "720° at "+figure(rpm, 0)+" rpm"
	}
	view := &waveView{}
	for i, ch := range channels {
		c := &w.Channels[ch]
		t := drawing.Trace{Name: c.Name, About: aboutChannel(c, roles[ch]), Logic: c.Kind == waveform.Digital, Held: c.Held, Low: math.NaN(), High: math.NaN(), Paint: drawing.Ink}
		if c.Method == waveform.ByLevels {
			t.Low, t.High = c.Low, c.High
		}
		if roles[ch] == shaft.Spark {
			t.Paint = drawing.Spark
		}
		t.Marks, t.Marked = marksOf(c.Name, res)
		row := waveRow{Name: c.Name, Role: string(roles[ch]), Low: known(t.Low, levelPlaces(c), ""), High: known(t.High, levelPlaces(c), ""), Least: "–", Most: "–"}
		least, most := math.Inf(1), math.Inf(-1)
		for _, e := range looks[i].Columns {
			t.Lo, t.Hi = append(t.Lo, e.Min), append(t.Hi, e.Max)
			if e.Min <= e.Max {
				least, most = math.Min(least, e.Min), math.Max(most, e.Max)
			}
		}
		if least <= most {
			row.Least, row.Most = withUnit(least, c), withUnit(most, c)
		}
		for k, at := range looks[i].Times {
			t.Times, t.Values = append(t.Times, float64(at)), append(t.Values, looks[i].Values[k])
		}
		d.Traces = append(d.Traces, t)
		view.rows = append(view.rows, row)
	}
	if want.desk {
		if view.desk, err = drawPlate(d, waveDesk, "wave-d"); err != nil {
			return nil, err
		}
	}
	if want.phone {
		for i := range d.Traces {
			d.Traces[i].Lo, d.Traces[i].Hi = paired(d.Traces[i].Lo, math.Min), paired(d.Traces[i].Hi, math.Max)
		}
		if view.phone, err = drawPlate(d, phoneWidth, "wave-p"); err != nil {
			return nil, err
		}
	}
	return view, nil
}

func drawPlate(d drawing.Waveform, width float64, prefix string) (*wavePlate, error) {
	d.Width, d.Prefix = width, prefix
	sheet, field, err := d.Draw()
	if err != nil {
		return nil, err
	}
	mm := func(v float64) string { return strconv.FormatFloat(v, 'f', 3, 64) }
	return &wavePlate{inPage(sheet), mm(field.Left), mm(field.Right)}, nil
}

// paired joins neighbouring columns; of an empty one and another the other counts.
func paired(v []float64, join func(a, b float64) float64) []float64 {
	out := make([]float64, 0, len(v)/2)
	for i := 0; i+1 < len(v); i += 2 {
		a, b := v[i], v[i+1]
		switch {
		case math.IsNaN(a):
			out = append(out, b)
		case math.IsNaN(b):
			out = append(out, a)
		default:
			out = append(out, join(a, b))
		}
	}
	return out
}

// wholeStrip is the recording from end to end: the engine's speed where it is known, else the first channel's extremes.
func (w *wave) wholeStrip(ctx context.Context, r waveRange, channels []int, res *shaft.Result) (drawing.WholeStrip, error) {
	strip := drawing.WholeStrip{From: r.from, To: r.to}
	if res != nil {
		for _, a := range res.Anomalies {
			strip.Marks = append(strip.Marks, a.TimeS)
		}
		if res.Series != nil && res.Speed != nil && len(res.Series.Speed) > 1 {
			least, most := math.Inf(1), 0.0
			for _, p := range res.Series.Speed {
				strip.X, strip.Lo, strip.Hi = append(strip.X, p.TimeS), append(strip.Lo, p.Min), append(strip.Hi, p.Max)
				least, most = math.Min(least, p.Mean), math.Max(most, p.Mean)
			}
			strip.Least, strip.Most = 0.9*least, 1.1*most // a single wrong pulse must not flatten the rest
			strip.Label = "speed, " + figure(least, 0) + " to " + figure(most, 0) + " rpm"
			return strip, nil
		}
	}
	looks, err := w.look(ctx, channels[:1], r.from, r.to, wholeColumns)
	if err != nil {
		return strip, err
	}
	for i, e := range looks[0].Columns {
		if e.Min <= e.Max {
			strip.X = append(strip.X, r.from+(float64(i)+0.5)*r.width()/wholeColumns)
			strip.Lo, strip.Hi = append(strip.Lo, e.Min), append(strip.Hi, e.Max)
		}
	}
	strip.Label = w.Channels[channels[0]].Name
	return strip, nil
}

// aboutChannel says what a channel is and where its levels lie.
func aboutChannel(c *waveform.Channel, role shaft.Role) string {
	var parts []string
	if role != shaft.Unknown && string(role) != c.Name {
		parts = append(parts, string(role))
	}
	if c.Method == waveform.ByLevels {
		parts = append(parts, "low "+figure(c.Low, levelPlaces(c))+", high "+withUnit(c.High, c))
	} else if c.Kind == waveform.Analog && unitOf(c) != "" {
		parts = append(parts, strings.TrimSpace(unitOf(c)))
	}
	return strings.Join(parts, "; ")
}

func unitOf(c *waveform.Channel) string {
	switch {
	case c.Kind == waveform.Digital:
		return ""
	case c.Relative:
		return " of full scale"
	case c.Unit == "":
		return ""
	}
	return " " + c.Unit
}

func withUnit(v float64, c *waveform.Channel) string { return figure(v, levelPlaces(c)) + unitOf(c) }

// levelPlaces are the decimals that tell a three-hundredth of what a channel spans.
func levelPlaces(c *waveform.Channel) int {
	span := c.Largest - c.Least
	if c.Kind == waveform.Digital || !(span > 0) || math.IsInf(span, 0) {
		return 0
	}
	return min(max(int(math.Ceil(-math.Log10(span/300))), 0), 9)
}

// marksOf are the anomalies on a channel; marked says that there are any in the whole recording.
func marksOf(name string, res *shaft.Result) (marks []drawing.WaveMark, marked bool) {
	if res == nil {
		return nil, false
	}
	for _, a := range res.Anomalies {
		if a.Channel == name {
			marks = append(marks, drawing.WaveMark{At: a.TimeS, Text: anomalyWords(a.Kind)})
		}
	}
	return marks, len(marks) > 0
}

func anomalyWords(k shaft.Kind) string { return strings.ReplaceAll(string(k), "_", " ") }
