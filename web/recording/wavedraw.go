package recording

import (
	"cmp"
	"context"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"

	"phasewright/drawing"
	"phasewright/shaft"
	"phasewright/waveform"
	"phasewright/web/page"
)

// Columns of a view: what a phone and a desk can show. Both come from one look at the recording.
const (
	deskColumns  = 720
	phoneColumns = deskColumns / 2
	wholeColumns = 240

	waveDesk = 180 // mm, the width of the sheet's page
)

// waveDrawing is a drawing of a stretch with the place of its time axis, so that the page can move it.
type waveDrawing struct {
	SVG         template.HTML
	Left, Right string // mm
}

// waveView is a stretch of a recording, looked at and drawn.
type waveView struct {
	phone, desk *waveDrawing
	rows        []waveRow
}

// waveRow is what one channel does in the stretch, for the table.
type waveRow struct{ Name, Role, Low, High, Least, Most, Changes string }

// sizes says which drawings are wanted.
type sizes struct{ phone, desk bool }

// waveQuestion is what somebody wants to see of a recording.
type waveQuestion struct {
	wave     *wave
	all      span
	view     stretch
	channels []int
	roles    []shaft.Role  // of all channels
	res      *shaft.Result // what the recording showed; nil where it was not read as one
	want     sizes
}

// draw looks at a stretch and draws it. A few views are worked out at a time; others wait for their turn or until
// nobody wants them any more.
func (k *waves) draw(ctx context.Context, ask waveQuestion) (*waveView, error) {
	select {
	case k.turn <- struct{}{}:
		defer func() { <-k.turn }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	v := ask.view
	looks, err := ask.wave.look(ctx, ask.channels, v.from, v.to, deskColumns)
	if err != nil {
		return nil, err
	}
	d := drawing.Waveform{From: v.from, To: v.to,
		Desc: "Where changes come too close for lines there is an area, darker the more there are. " +
			"The table below holds levels, extremes and counts.",
		Title: "Waveform from " + timeWords(v.from, v.width()) + " to " + timeWords(v.to, v.width())}
	if d.Whole, err = ask.wholeStrip(ctx); err != nil {
		return nil, err
	}
	if cycle, rpm := cycleAt(ask.res, v.centre()); cycle > 0 {
		d.Cycle, d.CycleWords = cycle, "720° at "+page.Figure(rpm, 0)+" rpm"
	}
	view := &waveView{}
	for i, ch := range ask.channels {
		trace, row := traceOf(&ask.wave.Channels[ch], ask.roles[ch], looks[i], ask.res)
		d.Traces, view.rows = append(d.Traces, trace), append(view.rows, row)
	}
	if ask.want.desk {
		if view.desk, err = drawWave(d, waveDesk, "wave-d"); err != nil {
			return nil, err
		}
	}
	if ask.want.phone {
		for i := range d.Traces {
			t := &d.Traces[i]
			t.Lo, t.Hi = paired(t.Lo, math.Min), paired(t.Hi, math.Max)
			for k := range t.Lo {
				t.Changes[k] = t.Changes[2*k] + t.Changes[2*k+1]
			}
			t.Changes = t.Changes[:len(t.Lo)]
		}
		if view.phone, err = drawWave(d, page.PhoneWidth, "wave-p"); err != nil {
			return nil, err
		}
	}
	return view, nil
}

// traceOf is one channel in the stretch, drawn and in figures.
func traceOf(c *waveform.Channel, role shaft.Role, look waveform.Look, res *shaft.Result) (drawing.Trace, waveRow) {
	t := drawing.Trace{Name: c.Name, About: aboutChannel(c, role), Logic: c.Kind == waveform.Digital, Held: c.Held,
		Low: math.NaN(), High: math.NaN(), Paint: drawing.Ink, Values: look.Values}
	if c.Method == waveform.ByLevels {
		t.Low, t.High = c.Low, c.High
	}
	if role == shaft.Spark {
		t.Paint = drawing.Spark
	}
	t.Marks = marksOf(c.Name, res)
	rests(&t, look, role, res)
	t.Marked = len(t.Marks) > 0
	least, most := math.Inf(1), math.Inf(-1)
	for _, e := range look.Columns {
		t.Lo, t.Hi = append(t.Lo, e.Min), append(t.Hi, e.Max)
		if e.Min <= e.Max {
			least, most = math.Min(least, e.Min), math.Max(most, e.Max)
		}
	}
	for _, at := range look.Times {
		t.Times = append(t.Times, float64(at))
	}
	places := levelPlaces(c)
	row := waveRow{Name: c.Name, Role: string(role), Low: page.Known(t.Low, places), High: page.Known(t.High, places),
		Least: "–", Most: "–"}
	total := 0
	for _, n := range look.Changes {
		total += n
	}
	row.Changes = page.Figure(float64(total), 0)
	if look.AtLeast() {
		row.Changes = "≥ " + row.Changes
	}
	if least <= most {
		row.Least, row.Most = withUnit(least, c), withUnit(most, c)
	}
	return t, row
}

// rests takes over the times without a change, and marks the gaps that no anomaly has marked.
func rests(t *drawing.Trace, look waveform.Look, role shaft.Role, res *shaft.Result) {
	var cycle func(waveform.Second) waveform.Second
	if role != shaft.Unknown && res != nil {
		cycle = func(at waveform.Second) waveform.Second {
			long, _ := cycleAt(res, float64(at))
			return waveform.Second(long)
		}
	}
	t.Changes = look.Changes
	gaps := look.Gaps(cycle)
	for _, r := range look.Rests {
		gap := len(gaps) > 0 && gaps[0] == r
		if gap {
			gaps = gaps[1:]
		}
		one := drawing.WaveRest{From: float64(r.From), To: float64(r.To), Period: float64(r.Period), High: r.High,
			Gap: gap}
		t.Rests = append(t.Rests, one)
		long := one.To - one.From
		known := func(m drawing.WaveMark) bool { return m.At > one.From-long && m.At < one.To+long }
		if gap && !slices.ContainsFunc(t.Marks, known) {
			t.Marks = append(t.Marks, drawing.WaveMark{At: one.From + long/2, Text: "no change for " + roughly(long)})
		}
	}
	slices.SortStableFunc(t.Marks, func(a, b drawing.WaveMark) int { return cmp.Compare(a.At, b.At) })
}

// roughly prints a length of time with two figures.
func roughly(d float64) string {
	p := math.Pow(10, math.Floor(math.Log10(d))-1)
	return lengthWords(math.Round(d/p) * p)
}

func drawWave(d drawing.Waveform, width float64, prefix string) (*waveDrawing, error) {
	d.Width, d.Prefix = width, prefix
	sheet, field, err := d.Draw()
	if err != nil {
		return nil, err
	}
	mm := func(v float64) string { return strconv.FormatFloat(v, 'f', 3, 64) }
	return &waveDrawing{page.InPage(sheet), mm(field.Left), mm(field.Right)}, nil
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
func (ask *waveQuestion) wholeStrip(ctx context.Context) (drawing.WholeStrip, error) {
	r, res := ask.all, ask.res
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
			strip.Label = "speed, " + page.Figure(least, 0) + " to " + page.Figure(most, 0) + " rpm"
			return strip, nil
		}
	}
	looks, err := ask.wave.look(ctx, ask.channels[:1], r.from, r.to, wholeColumns)
	if err != nil {
		return strip, err
	}
	first := ask.channels[0]
	trace, _ := traceOf(&ask.wave.Channels[first], ask.roles[first], looks[0], res)
	strip.Signal = &trace
	strip.Label = ask.wave.Channels[first].Name
	return strip, nil
}

// aboutChannel says what a channel is and where its levels lie.
func aboutChannel(c *waveform.Channel, role shaft.Role) string {
	var parts []string
	if role != shaft.Unknown && string(role) != c.Name {
		parts = append(parts, string(role))
	}
	if c.Method == waveform.ByLevels {
		parts = append(parts, "low "+page.Figure(c.Low, levelPlaces(c))+", high "+withUnit(c.High, c))
	} else if c.Kind == waveform.Analog && unitOf(c) != "" {
		parts = append(parts, strings.TrimSpace(unitOf(c)))
	}
	return strings.Join(parts, "; ")
}

// unitOf is what follows a level of a channel.
func unitOf(c *waveform.Channel) string {
	switch {
	case c.Kind == waveform.Digital || !c.Relative && c.Unit == "":
		return ""
	case c.Relative:
		return " of full scale"
	}
	return " " + c.Unit
}

func withUnit(v float64, c *waveform.Channel) string {
	return page.Figure(v, levelPlaces(c)) + unitOf(c)
}

// levelPlaces are the decimals that tell a three-hundredth of what a channel spans.
func levelPlaces(c *waveform.Channel) int {
	span := c.Largest - c.Least
	if c.Kind == waveform.Digital || !(span > 0) || math.IsInf(span, 0) {
		return 0
	}
	return min(max(int(math.Ceil(-math.Log10(span/300))), 0), 9)
}

// marksOf are the anomalies on a channel.
func marksOf(name string, res *shaft.Result) []drawing.WaveMark {
	if res == nil {
		return nil
	}
	var marks []drawing.WaveMark
	for _, a := range res.Anomalies {
		if a.Channel == name {
			marks = append(marks, drawing.WaveMark{At: a.TimeS, Text: anomalyWords(a.Kind)})
		}
	}
	return marks
}

func anomalyWords(k shaft.Kind) string { return strings.ReplaceAll(string(k), "_", " ") }
