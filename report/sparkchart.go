package report

import (
	"fmt"
	"math"

	"phasewright/coil"
	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/sheet"
)

// SparkChart is the chart that decides whether there is a spark: speed across; dwell window, coil current, spark margin
// and rotor overlap stacked, what limits named at each speed. Strong lines hold at the supply of that speed: cranking
// supply below idle, running supply from idle on; light lines are the cranking supply above idle. What is extrapolated
// is dashed. Rows that the card says nothing of are left out; without a margin the voltage needed stands in its place.
func SparkChart(d sheet.Decision, width float64, prefix string) drawing.Chart {
	p := d.Plan
	c := drawing.Chart{Width: width, Prefix: prefix, Title: "What decides over the spark, against speed",
		Desc:       sparkFinding(d),
		X:          drawing.Axis{Label: "rpm", Min: 0, Max: 1.1 * float64(p.Redline)},
		StripLabel: "what limits; hatched: it fails"}
	for _, m := range d.Chart.Marks {
		c.References = append(c.References,
			drawing.Reference{X: float64(m.Speed), Label: m.Name + " " + quantity.Number(float64(m.Speed), 0)})
	}
	s := sparkChart{d}
	if p.Primary != nil || p.Box != nil {
		c.Panels = append(c.Panels, s.dwell())
	}
	if p.Primary != nil {
		c.Panels = append(c.Panels, s.current())
	}
	c.Panels = append(c.Panels, s.volts())
	if p.Rotor != nil {
		c.Panels = append(c.Panels, s.overlap())
	}
	for i := range c.Panels {
		c.Panels[i].Height = math.Min(math.Max(width*0.3, 22), 30)
	}
	if p.Rotor != nil { // a flat line
		c.Panels[len(c.Panels)-1].Height *= 0.7
	}
	for _, x := range d.Causes {
		if x.To <= x.From || x.Limit == coil.Nothing {
			continue
		}
		st := drawing.Stretch{From: float64(x.From), To: float64(x.To), Text: x.Short(), Note: CauseWords(x)}
		if x.Fails {
			st.Verdict = drawing.IsCaution
		}
		c.Stretches = append(c.Stretches, st)
	}
	return c
}

// CauseWords says a cause with its speeds and supply.
func CauseWords(x sheet.Cause) string {
	return fmt.Sprintf("%s to %s rpm at %s V: %s", quantity.Number(float64(x.From), 0),
		quantity.Number(float64(x.To), 0), quantity.Number(float64(x.Supply), 1), x.Name())
}

// sparkChart makes the panels.
type sparkChart struct{ d sheet.Decision }

// shows is what a line shows of a point; ok is false where there is nothing, outside where it is extrapolated.
type shows func(coil.Point) (v float64, ok, outside bool)

// held are the points that hold, below idle and from idle on, and the points of the cranking supply above idle.
func (s sparkChart) held() (cranking, running, weak []coil.Point) {
	for k, pt := range s.d.Running().Points {
		low := s.d.Cranking().Points[k]
		if pt.Speed < s.d.Plan.Idle {
			cranking = append(cranking, low)
		} else {
			running, weak = append(running, pt), append(weak, low)
		}
	}
	return cranking, running, weak
}

// trace cuts points into lines: dashed where a value is extrapolated, none where there is no value. Neighbours meet.
func trace(points []coil.Point, look drawing.LineLook, label string, get shows) []drawing.Series {
	var out []drawing.Series
	wasOK := false
	for _, pt := range points {
		v, ok, outside := get(pt)
		if !ok || math.IsNaN(v) || math.IsInf(v, 0) {
			wasOK = false
			continue
		}
		now, at := look, drawing.XY{X: float64(pt.Speed), Y: v}
		if outside {
			now = drawing.OutsideValidity
		}
		switch n := len(out); {
		case wasOK && out[n-1].Look == now:
			out[n-1].Points = append(out[n-1].Points, at)
		case wasOK: // the known end carries the join
			last := out[n-1].Points[len(out[n-1].Points)-1]
			out = append(out, drawing.Series{Look: now, Points: []drawing.XY{last, at}})
		default:
			out = append(out, drawing.Series{Look: now, Points: []drawing.XY{at}})
		}
		wasOK = true
	}
	if n := len(out); n > 0 {
		out[n-1].Label = label
	}
	return out
}

// both traces what holds, below idle and from idle on.
func (s sparkChart) both(label string, get shows) []drawing.Series {
	cranking, running, _ := s.held()
	return append(trace(cranking, drawing.Strong, "", get), trace(running, drawing.Strong, label, get)...)
}

// level draws a line at a value over the whole width, named in the middle, where the ends of the other lines are not.
func (s sparkChart) level(p *drawing.Panel, v float64, label string) {
	p.Series = append(p.Series,
		drawing.Series{Look: drawing.Light, Points: []drawing.XY{{X: 0, Y: v}, {X: s.end(), Y: v}}})
	p.Remarks = append(p.Remarks, drawing.Remark{X: 0.4 * s.end(), Y: v, Text: label})
}

func (s sparkChart) end() float64 { return 1.1 * float64(s.d.Plan.Redline) }

func volts(v quantity.Voltage) string { return quantity.Number(float64(v), 1) + " V" }

func (s sparkChart) dwell() drawing.Panel {
	p := s.d.Plan
	ms := func(t quantity.Time) float64 { return t.Milliseconds() }
	name := "dwell, ms: tinted between needed and what fits"
	if p.Box != nil {
		name = "trigger pulse, ms: below what fits between pulses"
	}
	cranking, running, _ := s.held()
	panel := drawing.Panel{Y: drawing.Axis{Label: name}}
	top := 0.0
	for _, part := range [][]coil.Point{cranking, running} {
		var b drawing.Band
		for _, pt := range part {
			top = math.Max(top, ms(pt.Applied))
			if math.IsInf(float64(pt.Needed), 0) {
				continue
			}
			top = math.Max(top, ms(pt.Needed))
			b.X, b.Lo, b.Hi = append(b.X, float64(pt.Speed)), append(b.Lo, ms(pt.Needed)),
				append(b.Hi, math.Max(ms(pt.Fits), ms(pt.Needed)))
		}
		if len(b.X) > 1 && p.Primary != nil {
			panel.Bands = append(panel.Bands, b)
		}
	}
	panel.Y.Max = niceTop(1.6 * top)
	fits := func(pt coil.Point) (float64, bool, bool) { return ms(pt.Fits), true, false }
	needed := func(pt coil.Point) (float64, bool, bool) {
		return ms(pt.Needed), p.Primary != nil, pt.Beyond
	}
	set := func(pt coil.Point) (float64, bool, bool) { return ms(pt.Applied), true, false }
	all := append(append([]coil.Point{}, cranking...), running...)
	panel.Series = append(panel.Series, trace(all, drawing.Light, "fits", fits)...)
	panel.Series = append(panel.Series, trace(cranking, drawing.Light, "", needed)...)
	panel.Series = append(panel.Series, trace(running, drawing.Light, "", needed)...)
	panel.Series = append(panel.Series, s.both("set", set)...)
	for _, part := range [][]coil.Point{cranking, running} {
		if len(part) > 0 && p.Primary != nil && math.IsInf(float64(part[0].Needed), 1) {
			supply := p.Running
			if part[0].Speed < p.Idle {
				supply = p.CrankingSupply
			}
			panel.Remarks = append(panel.Remarks, drawing.Remark{X: float64(part[0].Speed), Y: 0.8 * panel.Y.Max,
				Text: volts(supply) + " never reaches the target"})
		}
	}
	return panel
}

func (s sparkChart) current() drawing.Panel {
	k := s.d.Plan.Primary
	_, _, weak := s.held()
	reached := func(pt coil.Point) (float64, bool, bool) { return float64(pt.Current), true, pt.Beyond }
	panel := drawing.Panel{Y: drawing.Axis{Label: "coil current at the spark, winding hot, A"}}
	s.level(&panel, float64(k.Target), "target")
	panel.Series = append(panel.Series, s.both(volts(s.d.Plan.Running), reached)...)
	panel.Series = append(panel.Series, trace(weak, drawing.Light, volts(s.d.Plan.CrankingSupply), reached)...)
	top := float64(k.Target)
	for _, x := range panel.Series {
		for _, q := range x.Points {
			top = math.Max(top, q.Y)
		}
	}
	if k.DriverLimit > 0 && float64(k.DriverLimit) < 1.6*top {
		s.level(&panel, float64(k.DriverLimit), "driver limit")
		top = math.Max(top, float64(k.DriverLimit))
	}
	panel.Y.Max = niceTop(1.1 * top)
	return panel
}

// volts is the margin, or what the spark needs where nothing is known of what there is.
func (s sparkChart) volts() drawing.Panel {
	cranking, running, weak := s.held()
	known := running[0].Available.High > 0
	panel := drawing.Panel{Y: drawing.Axis{Label: "spark in hand, times the need (at worst, up to at best)"}}
	low := func(pt coil.Point) (float64, bool, bool) {
		return pt.Margin.Low, true, pt.Beyond || pt.Demand.Outside != 0
	}
	high := func(pt coil.Point) float64 { return pt.Margin.High }
	if !known {
		panel.Y.Label = "voltage the spark needs, kV (an estimate: a band)"
		low = func(pt coil.Point) (float64, bool, bool) {
			return float64(pt.Demand.Volts.Low) / 1e3, true, pt.Demand.Outside != 0
		}
		high = func(pt coil.Point) float64 { return float64(pt.Demand.Volts.High) / 1e3 }
	}
	topLow, topHigh := 0.0, 0.0
	for _, part := range [][]coil.Point{cranking, running} {
		var b drawing.Band
		for _, pt := range part {
			v, _, _ := low(pt)
			b.X, b.Lo, b.Hi = append(b.X, float64(pt.Speed)), append(b.Lo, v), append(b.Hi, high(pt))
			topLow, topHigh = math.Max(topLow, v), math.Max(topHigh, high(pt))
		}
		if len(b.X) > 1 {
			panel.Bands = append(panel.Bands, b)
		}
	}
	if !known {
		panel.Y.Max = niceTop(1.1 * topHigh)
		upper := func(pt coil.Point) (float64, bool, bool) { return high(pt), true, pt.Demand.Outside != 0 }
		panel.Series = append(s.both("at least", low), s.both("at most", upper)...)
		return panel
	}
	// the best end may run out of the picture
	panel.Y.Max = math.Min(math.Max(math.Ceil(2.5*topLow), 2), math.Max(math.Ceil(topHigh), 2))
	s.level(&panel, 1, "1: just covered")
	panel.Series = append(panel.Series, s.both("", low)...)
	if s.d.Plan.Primary != nil {
		panel.Series = append(panel.Series, trace(weak, drawing.Light, volts(s.d.Plan.CrankingSupply), low)...)
	}
	return panel
}

func (s sparkChart) overlap() drawing.Panel {
	face := func(pt coil.Point) (float64, bool, bool) { return s.d.Units.In(pt.Rotor.Overlap), true, false }
	panel := drawing.Panel{Y: drawing.Axis{Label: "rotor overlap, least over the advance range, " + s.d.Units.Short()},
		Series: s.both("", face)}
	top := s.d.Units.In(min(s.d.Plan.Rotor.Tip, s.d.Plan.Rotor.Terminal))
	panel.Y.Max = niceTop(1.1 * top)
	for _, pt := range s.d.Running().Points {
		if pt.Speed >= s.d.Plan.Idle && pt.Rotor.InHand <= 0 {
			panel.Remarks = append(panel.Remarks, drawing.Remark{X: float64(pt.Speed), Y: 0.5 * panel.Y.Max,
				Text: "tip and terminal part: " + s.d.Units.Fixed(pt.Rotor.Gap, 1) + " to jump"})
			break
		}
	}
	return panel
}

// niceTop is a round number not below v.
func niceTop(v float64) float64 {
	if !(v > 0) {
		return 1
	}
	step := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8} {
		if v <= m*step*(1+1e-9) {
			return m * step
		}
	}
	return 10 * step
}

// RotorSweep shows the tip against its terminal over the running advance range, to scale and from above; ok is false
// where no rotor carries the spark.
func RotorSweep(c *jobcard.Card, p coil.Plan, width float64, prefix string) (view drawing.RotorSweep, ok bool) {
	r := p.Rotor
	if r == nil {
		return view, false
	}
	w := r.Sweep(p.Sparks, p.Redline)
	if slow := r.Sweep(p.Sparks, p.Idle); slow.InHand < w.InHand { // a net delay moves the tip with speed
		w = slow
	}
	return drawing.RotorSweep{Width: width, Prefix: prefix, Radius: float64(r.Radius), AirGap: float64(r.AirGap),
		TipWidth: float64(r.Tip), TerminalWidth: float64(r.Terminal),
		Neighbours: float64(r.Tightest()), Turn: turn(c.Distributor.Rotation), From: float64(w.Earliest.Tip),
		To:        float64(w.Latest.Tip),
		FromWords: degrees(float64(p.Sparks.Earliest)) + " before TDC",
		ToWords:   degrees(float64(p.Sparks.Latest)) + " before TDC"}, true
}
