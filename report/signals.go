package report

import (
	"cmp"
	"fmt"
	"slices"

	"phasewright/drawing"
	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/sheet"
)

// SignalChart shows what the two pickups give over one cycle: levels, active edges, the window in which the cam's
// active edge may lie, the range of the spark and the TDC of each cylinder.
func SignalChart(c *jobcard.Card, width float64, prefix string) drawing.SignalChart {
	w := c.Wheel()
	n := c.Firings().Count()
	v := drawing.SignalChart{Width: width, Prefix: prefix, Title: "Signals over one cycle",
		Desc: "crank and cam levels against crank angle, with active edges and the range of the spark", From: 0,
		To: engine.CycleDegrees}
	crank := drawing.Track{Name: "crank"}
	spark := drawing.Track{Name: "spark", Paint: drawing.Spark}
	var enters, leaves []engine.Position
	for i := range n {
		tdc := c.Firings().TDC(i)
		v.Tops = append(v.Tops,
			drawing.Reference{X: float64(tdc), Label: fmt.Sprintf("TDC %d", c.Firings().Cylinder(i))})
		enter, leave := w.Edges(i)
		enters, leaves = append(enters, enter), append(leaves, leave)
		crank.Active = append(crank.Active,
			drawing.Edge{At: float64(w.ActiveEdge(i)), Up: wayOf(c.Signals.Crank.ActiveEdge)})
		a := c.Controller.Advance
		spark.Windows = append(spark.Windows, around(tdc.Add(-a.Max), tdc.Add(-a.Min))...)
	}
	for i := range n {
		if c.Signals.Crank.InVane == jobcard.High {
			crank.High = append(crank.High, around(enters[i], leaves[i])...)
		} else { // high between this vane and the next in running direction
			crank.High = append(crank.High, around(leaves[i], enters[(i+1)%n])...)
		}
	}
	inOrder(crank.High)
	inOrder(spark.Windows)
	v.Tracks = []drawing.Track{crank}
	if c.Signals.Cam.Fitted {
		v.Tracks = append(v.Tracks, camTrack(c))
	}
	v.Tracks = append(v.Tracks, spark)
	return v
}

func camTrack(c *jobcard.Card) drawing.Track {
	p := c.Signals.Cam
	active := engine.BeforeTDC(p.EdgeAt)
	width := engine.ShaftToCrank(p.VaneWidth)
	enter, leave := active, active.Add(width)
	if (p.InVane == jobcard.High) != (p.ActiveEdge == jobcard.Rising) { // the active edge is the leaving one
		enter, leave = active.Add(-width), active
	}
	t := drawing.Track{Name: "cam", Active: []drawing.Edge{{At: float64(active), Up: wayOf(p.ActiveEdge)}}}
	if p.InVane == jobcard.High {
		t.High = around(enter, leave)
	} else {
		t.High = around(leave, enter)
	}
	w := c.Wheel()
	before, after := quantity.Crank(engine.CycleDegrees), quantity.Crank(engine.CycleDegrees)
	for i := range c.Firings().Count() {
		before = min(before, w.ActiveEdge(i).To(active))
		after = min(after, active.To(w.ActiveEdge(i)))
	}
	inOrder(t.High)
	t.Windows = around(active.Add(-before), active.Add(after))
	return t
}

// around is the range from a to b in running direction on the cycle, cut where the cycle begins again.
func around(a, b engine.Position) []drawing.Span {
	if b >= a {
		return []drawing.Span{{From: float64(a), To: float64(b)}}
	}
	out := []drawing.Span{{From: float64(a), To: engine.CycleDegrees}}
	if b > 0 {
		out = append(out, drawing.Span{From: 0, To: float64(b)})
	}
	return out
}

// inOrder sorts ranges along the cycle: a trace is drawn from left to right.
func inOrder(list []drawing.Span) {
	slices.SortFunc(list, func(a, b drawing.Span) int { return cmp.Compare(a.From, b.From) })
}

func wayOf(e jobcard.Edge) drawing.Direction {
	if e == jobcard.Rising {
		return drawing.Rising
	}
	return drawing.Falling
}

// signalsWords is what headings and words take around signals and rotor, mm.
const signalsWords = 38

// Drawings is the paper with the views alone, large: the damper from the front, the cap from above, the signals over
// one cycle, the rotor over its terminal.
func Drawings(c *jobcard.Card, s *sheet.Sheet, stamp Stamp) (*Paper, error) {
	if c == nil || s == nil {
		return nil, ErrNothing
	}
	f := newFlow("drawings", "Drawings", s.Job, c, stamp, []drawing.Cell{
		{Label: "crank, from the front", Value: c.Engine.Rotation.String(), Share: 1.4},
		{Label: "rotor, from above", Value: c.Distributor.Rotation.String(), Share: 1.4},
	})
	damper, err := damperView(c, s, f.columnWidth(), everyDistance)
	if err != nil {
		return nil, fmt.Errorf("drawings, damper: %w", err)
	}
	towers, err := capView(c, s, f.columnWidth())
	if err != nil {
		return nil, fmt.Errorf("drawings, cap: %w", err)
	}
	f.heading("Damper and cap")
	if towers == nil {
		f.place(damper)
	} else {
		f.beside(damper, towers)
	}
	signals, err := SignalChart(c, f.wide(), "signals").Draw()
	if err != nil {
		return nil, fmt.Errorf("drawings, signals: %w", err)
	}
	var rotor *drawing.Drawing
	k, err := sheet.CaseOf(c)
	if err == nil { // else the card's rotor cannot be, which an item of the sheet says
		if view, ok := RotorSweep(c, k.Plan, 110, "rotor"); ok {
			if rotor, err = view.Draw(); err != nil {
				return nil, fmt.Errorf("drawings, rotor: %w", err)
			}
		}
	}
	if rotor != nil && f.y+signals.Height+rotor.Height+signalsWords > f.bottom() {
		f.page() // it does not stand alone
	}
	f.heading("Signals over one cycle")
	f.place(signals)
	f.text("Crank degrees, 0 at TDC firing of the first cylinder. Heavy edges are active. Hatched under cam: where "+
		"its active edge may lie; under spark: the range of the advance.", drawing.Note)
	if rotor != nil {
		f.heading("Rotor over its terminal, to scale")
		f.place(rotor)
	}
	return f.paper(stamp, c), nil
}
