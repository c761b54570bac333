package report

import (
	"fmt"
	"math"
	"strconv"

	"phasewright/drawing"
	"phasewright/quantity"
	"phasewright/shaft"
)

// cycleView shows the edges around one cycle as the recording has them.
func cycleView(r *shaft.Result) CaptureView {
	v := CaptureView{ID: "cycle", Title: "Edges around one cycle"}
	if len(r.Series.Cycle) == 0 {
		v.Want = "No whole cycle was seen: record at least a few turns of the crank."
		return v
	}
	v.Heads = Cells{"at °", "sd °", "cylinder", "channel", "edge"}
	for _, p := range r.Series.Cycle {
		who := "–"
		if p.Cylinder > 0 {
			who = strconv.Itoa(p.Cylinder)
		}
		edge := string(p.Role) + ", " + p.Edge
		if p.Role == shaft.Crank && r.Crank != nil && p.Edge == r.Crank.ActiveEdge {
			edge += ", active"
		}
		v.Rows = append(v.Rows, Cells{quantity.Number(p.Deg, 2), cell(p.SD, 2), who, p.Channel, edge})
	}
	v.Reading = "Heavy edges with an arrowhead are active, with their cylinders. Vermilion: the sparks, with the " +
		"cylinder that each fires. ± below: one standard deviation over the whole recording, " +
		"changes with speed included."
	if r.Crank != nil && known(r.Crank.ScatterDeg) {
		v.Reading += fmt.Sprintf(" The active crank edges themselves scatter by %s° (sd) about smooth motion.",
			spreadWords(float64(r.Crank.ScatterDeg)))
	}
	has := map[shaft.Role]bool{}
	for _, p := range r.Series.Cycle {
		has[p.Role] = true
	}
	if r.Zero == shaft.ZeroSome && (r.Crank == nil || r.Crank.EdgesPerCycle != 1) {
		v.Want = wantCam
	}
	if !has[shaft.Mark] {
		v.Want = wants(v.Want, "Without a mark at TDC the angles count from an edge, and where TDC lies is not known.")
	}
	v.Draw = func(at Space) (*drawing.Drawing, error) {
		return CycleChart(r, at).Draw()
	}
	return v
}

// CycleChart is the mean cycle: levels of crank and cam with the active edges, sparks and marks, from Result.Zero on.
func CycleChart(r *shaft.Result, at Space) drawing.SignalChart {
	c := drawing.SignalChart{Width: at.Width, Prefix: at.Prefix, Title: "Edges around one cycle",
		Desc: cycleFinding(r), To: 720, Zero: "0 is " + r.Zero + "."}
	c.Tops = tops(r)
	for _, role := range []shaft.Role{shaft.Crank, shaft.Cam, shaft.Spark, shaft.Mark} {
		var points []shaft.CyclePoint
		for _, p := range r.Series.Cycle {
			if p.Role == role {
				points = append(points, p)
			}
		}
		if len(points) > 0 {
			c.Tracks = append(c.Tracks, cycleTrack(r, role, points))
		}
	}
	return c
}

func cycleTrack(r *shaft.Result, role shaft.Role, points []shaft.CyclePoint) drawing.Track {
	t := drawing.Track{Name: string(role)}
	if role == shaft.Spark {
		t.Paint = drawing.Spark
	}
	level := false
	if role == shaft.Crank || role == shaft.Cam {
		t.High, level = levels(points)
	}
	for _, p := range points {
		if role == shaft.Crank && r.Crank != nil && p.Edge == r.Crank.ActiveEdge {
			e := drawing.Edge{At: p.Deg, Up: drawing.Falling, Label: cylinderWord(p.Cylinder)}
			if p.Edge == "rising" {
				e.Up = drawing.Rising
			}
			t.Active = append(t.Active, e)
			continue
		}
		e := drawing.Event{At: p.Deg, Label: cylinderWord(p.Cylinder), Bare: level}
		if known(p.SD) {
			e.Spread = float64(p.SD)
			e.Note = "±" + spreadWords(e.Spread)
		}
		if !e.Bare || e.Spread > 0 {
			t.Events = append(t.Events, e)
		}
	}
	return t
}

// spreadWords prints a standard deviation with as many decimals as it deserves.
func spreadWords(sd float64) string {
	if sd < 0.995 {
		return quantity.Number(sd, 2)
	}
	return quantity.Number(sd, 1)
}

func cylinderWord(n int) string {
	if n <= 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// levels are the stretches between a rising and the next falling edge; ok is false where edges of one kind follow each
// other, so that no level is known.
func levels(points []shaft.CyclePoint) (high []drawing.Span, ok bool) {
	n := len(points)
	if n < 2 || n%2 != 0 {
		return nil, false
	}
	for i, p := range points {
		if p.Edge == points[(i+1)%n].Edge {
			return nil, false
		}
		if p.Edge != "rising" {
			continue
		}
		if to := points[(i+1)%n].Deg; to > p.Deg {
			high = append(high, drawing.Span{From: p.Deg, To: to})
		} else { // over the end of the cycle
			high = append(high, drawing.Span{From: p.Deg, To: 720}, drawing.Span{From: 0, To: to})
		}
	}
	inOrder(high)
	return high, true
}

// tops are the TDCs of the cylinders, where the mark gives the first and the firing intervals the others.
func tops(r *shaft.Result) []drawing.Reference {
	if r.Zero != shaft.ZeroTDC || r.Crank == nil {
		return nil
	}
	order := firingOrder(r)
	if len(order) == 0 || len(order) != len(r.Crank.IntervalsDeg) {
		return nil
	}
	var out []drawing.Reference
	at := 0.0
	for i, step := range r.Crank.IntervalsDeg {
		if math.IsNaN(step) {
			return nil
		}
		out = append(out, drawing.Reference{X: at, Label: "TDC " + strconv.Itoa(order[i])})
		at += step
	}
	return out
}
