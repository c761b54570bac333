package report

import (
	"fmt"
	"math"
	"strings"

	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/shaft"
)

// CaptureView is one drawing of a recording with its words and the same in figures. Pages and paper show what stands
// here and nothing else.
type CaptureView struct {
	ID, Title string
	Draw      func(Space) (*drawing.Drawing, error) // nil: there is nothing to draw
	Reading   string                                // how the drawing is read
	// what to record, or to do, to get what is missing; empty: nothing is
	Want  string
	Heads Cells
	Rows  []Cells
}

// Space is the place that a drawing gets, mm.
type Space struct {
	Width  float64
	Height float64 // of a chart's field, of one strip; 0: by the house
	Prefix string  // before every id
}

// CaptureViews are the drawings of a recording: timing against speed, speed over time, the cylinders against each
// other, the edges around one cycle. The card may be nil; it gives idle and redline. A view without data says what to
// record instead of vanishing.
func CaptureViews(r *shaft.Result, c *jobcard.Card) []CaptureView {
	if r.Series == nil {
		v := CaptureView{ID: "none", Title: "Drawings",
			Want: "The shaft could not be followed, so nothing can be drawn: the findings say why. Record the crank " +
				"pickup while the engine turns, best with cam, spark and a mark at TDC; or say which channel is which."}
		if r.Crank != nil {
			v.Want = "This recording was kept without its drawings: read it again."
		}
		return []CaptureView{v}
	}
	views := []CaptureView{timingView(r, c), speedView(r)}
	sparks := r.Spark != nil && r.Spark.Count > 0                 // without, the first view says what to record
	if sparks && (r.Crank == nil || r.Crank.EdgesPerCycle != 1) { // one cylinder has none to stand against
		views = append(views, cylindersView(r))
	}
	if v, ok := cylinderSpeedView(r); ok {
		views = append(views, v)
	}
	return append(views, cycleView(r))
}

// wants joins sentences that are there.
func wants(list ...string) string {
	var out []string
	for _, s := range list {
		if s != "" {
			out = append(out, s)
		}
	}
	return strings.Join(out, " ")
}

const (
	wantSpark = "No spark was recorded: record the coil driver, a current clamp, or a clamp on " +
		"wire 1 beside the pickups."
	wantCam  = "Cylinders are told apart by the cam pickup: record it too."
	wantMark = "Absolute timing needs a mark: record a sensor that gives one short pulse a crank turn at TDC, set " +
		"at the damper's proven zero mark. Then housing and delay come apart."
)

func known(v shaft.Number) bool { return !math.IsNaN(float64(v)) && !math.IsInf(float64(v), 0) }

// cell prints a figure that may not be known.
func cell(v shaft.Number, places int) string {
	if !known(v) {
		return "–"
	}
	return quantity.Number(float64(v), places)
}

func signedCell(v shaft.Number, places int) string {
	if !known(v) {
		return "–"
	}
	return drawing.Signed(float64(v), places)
}

// timingView is the timing error against speed where a mark allows it, else the spark after the active edge.
func timingView(r *shaft.Result, c *jobcard.Card) CaptureView {
	v := CaptureView{ID: "timing", Title: "Spark after the active edge, against speed"}
	points := r.Series.BySpeed
	if len(points) == 0 {
		switch {
		case r.Spark == nil || r.Spark.Count == 0:
			v.Want = wantSpark
		default:
			v.Want = fmt.Sprintf("None of the %s sparks stands in a whole, undisturbed stretch of crank edges: mend "+
				"what the findings name and record again.", quantity.Number(float64(r.Spark.Count), 0))
		}
		return v
	}
	v.Heads = Cells{"rpm", "sparks", "after edge °", "sd °"}
	absolute := r.Timing != nil && known(points[0].Error)
	if absolute {
		v.Heads = append(v.Heads, "error °", "line °", "U 95 % °")
	}
	for _, p := range points {
		row := Cells{quantity.Number(p.RPM, 0), quantity.Number(float64(p.Count), 0), quantity.Number(p.AfterEdge, 2),
			quantity.Number(p.SD, 2)}
		if absolute {
			row = append(row, signedCell(p.Error, 2), signedCell(p.Line, 2), cell(p.U, 2))
		}
		v.Rows = append(v.Rows, row)
	}
	base := drawing.Chart{Desc: timingFinding(points, absolute),
		X: drawing.Axis{Label: "rpm", Max: speedTop(points, c)}, References: speedMarks(c)}
	if !absolute {
		base.Panels = []drawing.Panel{afterPanel(points)}
		v.Reading = "Line: mean of each class of speed. Band: one standard deviation of single firings either way. " +
			"Timing that is locked and has its delay allowed for is a level line."
		v.Want = wantMark
		for _, ch := range r.Channels {
			if ch.Role == shaft.Mark {
				v.Want = "The mark was recorded, but too few firings and marks stand in undisturbed cycles for " +
					"absolute timing: record for longer, from idle to the redline."
			}
		}
	} else {
		t := r.Timing
		v.Title = "Timing error against speed"
		name := "timing error, ° (early +)"
		if !t.Commanded {
			v.Title, name = "Advance against speed", "advance, ° before TDC"
			v.Want = "With the job card, or the advance that the controller was locked at, this " +
				"becomes the timing error."
		}
		base.Panels = []drawing.Panel{errorBySpeed(name, t, points)}
		v.Reading = timingReading(t)
		switch {
		case t.Withheld != "":
			v.Want = "No correction is given. " + sentence(t.Withheld)
		case !t.Offset.Known():
			v.Want = wants(v.Want,
				fmt.Sprintf("One speed cannot tell housing from delay: record also near %s.", quantity.RPM(t.Next)))
		}
	}
	base.Title = v.Title
	v.Draw = func(at Space) (*drawing.Drawing, error) {
		c := base
		c.Width, c.Prefix = at.Width, at.Prefix
		c.Panels = []drawing.Panel{base.Panels[0]}
		c.Panels[0].Height = at.Height
		return c.Draw()
	}
	return v
}

func timingReading(t *shaft.Timing) string {
	text := fmt.Sprintf("Fine dots: means of classes of speed, with one standard deviation of single firings either "+
		"way. From %s firings and %s marks.", quantity.Number(float64(t.Firings), 0),
		quantity.Number(float64(t.Marks), 0))
	if t.Offset.Known() {
		text = fmt.Sprintf("Line: fit, dashed where nothing was recorded. Band: 95 %%. Dotted: tolerance. Open "+
			"rings: below %s rpm, not in the fit. ", quantity.Number(t.FromRPM, 0)) + text
		if t.Tolerance <= 0 {
			text = strings.Replace(text, " Dotted: tolerance.", "", 1)
		}
	} else if len(t.ErrorAt) == 1 {
		text = "Cross: the one speed that is known, with U (95 %). " + text
	}
	if len(t.NotInU) > 0 {
		text += " Not in the band: " + strings.Join(t.NotInU, "; ") + "."
	}
	return text
}

// sentence begins with a capital letter and ends with a full stop.
func sentence(s string) string {
	if s == "" {
		return ""
	}
	return strings.ToUpper(s[:1]) + strings.TrimSuffix(s[1:], ".") + "."
}

func speedTop(points []shaft.SpeedPoint, c *jobcard.Card) float64 {
	top := 0.0
	for _, p := range points {
		top = math.Max(top, p.RPM)
	}
	if c != nil {
		top = math.Max(top, float64(c.Engine.Redline))
	}
	return 1.05 * top
}

func speedMarks(c *jobcard.Card) []drawing.Reference {
	if c == nil || c.Engine.Redline <= 0 {
		return nil
	}
	return []drawing.Reference{{X: float64(c.Engine.IdleSpeed), Label: "idle"}, {X: float64(c.Engine.Redline),
		Label: "redline"}}
}

func afterPanel(points []shaft.SpeedPoint) drawing.Panel {
	p := drawing.Panel{Y: drawing.Axis{Label: "spark after the active edge, crank °"}}
	if len(points) == 1 {
		p.Marks = []drawing.Mark{{X: points[0].RPM, Y: points[0].AfterEdge, U: points[0].SD}}
		return p
	}
	for _, run := range together(points) {
		if len(run) == 1 {
			p.Marks = append(p.Marks,
				drawing.Mark{X: run[0].RPM, Y: run[0].AfterEdge, U: run[0].SD, Kind: drawing.Whisker})
			continue
		}
		s, b := drawing.Series{Look: drawing.SparkTrace}, drawing.Band{}
		for _, q := range run {
			s.Points = append(s.Points, drawing.XY{X: q.RPM, Y: q.AfterEdge})
			b.X, b.Lo, b.Hi = append(b.X, q.RPM), append(b.Lo, q.AfterEdge-q.SD), append(b.Hi, q.AfterEdge+q.SD)
		}
		p.Series, p.Bands = append(p.Series, s), append(p.Bands, b)
	}
	return p
}

// mostApart is how far apart two classes of speed may lie for a line to join them, rpm: between cranking and idle
// nothing was recorded.
const mostApart = 300

// together cuts the classes of speed where the engine ran through none in between.
func together(points []shaft.SpeedPoint) (runs [][]shaft.SpeedPoint) {
	for i, q := range points {
		if i == 0 || q.RPM-points[i-1].RPM > mostApart {
			runs = append(runs, nil)
		}
		runs[len(runs)-1] = append(runs[len(runs)-1], q)
	}
	return runs
}

// errorBySpeed draws the classes of speed with the line and the band of the fit.
func errorBySpeed(name string, t *shaft.Timing, points []shaft.SpeedPoint) drawing.Panel {
	p := drawing.Panel{Y: drawing.Axis{Label: name, Sign: drawing.PlusMinus}}
	top, low := math.Inf(-1), math.Inf(1)
	grow := func(v float64) { top, low = math.Max(top, v), math.Min(low, v) }
	if t.Tolerance > 0 && t.Commanded {
		p.Zones = []drawing.Zone{{Lo: -t.Tolerance, Hi: t.Tolerance}}
		grow(2 * t.Tolerance)
		grow(-2 * t.Tolerance)
	}
	var in []drawing.XY
	for _, q := range points {
		if !known(q.Error) {
			continue
		}
		m := drawing.Mark{X: q.RPM, Y: float64(q.Error), U: q.SD, Kind: drawing.Whisker}
		if q.RPM < t.FromRPM {
			m.Kind = drawing.Ring
		} else if known(q.Line) && t.Offset.Known() {
			in = append(in, drawing.XY{X: q.RPM, Y: float64(q.Line)})
		}
		p.Marks = append(p.Marks, m)
		grow(m.Y)
	}
	if len(in) > 0 {
		before, after := []drawing.XY{}, []drawing.XY{in[len(in)-1]}
		for _, n := range []float64{float64(t.ClaimFrom), float64(t.ClaimTo)} {
			// what the card claims and nothing recorded shows
			line, _ := t.ErrorAround(n)
			q := drawing.XY{X: n, Y: line}
			switch {
			case math.IsNaN(line):
				continue
			case n < in[0].X:
				before = append(before, q)
			case n > in[len(in)-1].X:
				after = append(after, q)
			}
			grow(line)
		}
		for _, s := range []drawing.Series{{Points: in}, {Points: append(before, in[0]), Look: drawing.OutsideValidity},
			{Points: after, Look: drawing.OutsideValidity}} {
			if len(s.Points) > 1 {
				p.Series = append(p.Series, s)
			}
		}
	}
	var band drawing.Band
	for _, e := range t.ErrorAt {
		if !math.IsNaN(e.Value) && !math.IsInf(e.U, 0) {
			band.X, band.Lo, band.Hi = append(band.X, e.RPM), append(band.Lo, e.Value-e.U), append(band.Hi, e.Value+e.U)
		}
	}
	if len(band.X) > 1 {
		p.Bands = []drawing.Band{band}
	} else if len(t.ErrorAt) == 1 && !math.IsNaN(t.ErrorAt[0].Value) {
		m := drawing.Mark{X: t.ErrorAt[0].RPM, Y: t.ErrorAt[0].Value}
		if !math.IsInf(t.ErrorAt[0].U, 0) {
			m.U = t.ErrorAt[0].U
		}
		p.Marks = append(p.Marks, m)
		grow(m.Y + m.U)
		grow(m.Y - m.U)
	}
	pad := math.Max(0.25, 0.1*(top-low))
	// a band that is not known well runs out of the picture
	p.Y.Min, p.Y.Max = math.Floor((low-pad)*2)/2, math.Ceil((top+pad)*2)/2
	return p
}
