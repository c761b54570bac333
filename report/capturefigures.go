package report

import (
	"math"
	"strconv"
	"strings"

	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/shaft"
	"phasewright/verdict"
)

// Figure is one line of figures: U is the uncertainty or another short word beside the value, Note a sentence about it.
type Figure struct{ Name, Value, U, Note string }

// CaptureFigures are what was recorded, and the timing by the mark channel; the latter is empty where there is none.
func CaptureFigures(r *shaft.Result) (recorded, timing []Figure) {
	add := func(name, value, u string) { recorded = append(recorded, Figure{name, value, u, ""}) }
	n := func(v float64, places int) string { return quantity.Number(v, places) }
	add("length", n(r.DurationS, 2)+" s", "")
	add("edges", n(float64(r.Edges), 0), "")
	if s := r.Speed; s != nil {
		add("speed", n(s.Min, 0)+" to "+n(s.Max, 0)+" rpm", "mean "+n(s.Mean, 0))
	}
	recorded = append(recorded, Figure{"sync", string(r.Sync), "", r.SyncBecause})
	if r.Crank != nil {
		add("wrong pulses", wrongPulses(r), "")
	}
	if c := r.Crank; c != nil {
		add("active crank edges a cycle", strconv.Itoa(c.EdgesPerCycle), c.ActiveEdge)
		if known(c.VaneWidthDeg) {
			add("vane width, shaft", cell(c.VaneWidthDeg, 2)+"°", "")
		}
		worst := -1
		for i, v := range c.SpacingErrorDeg {
			if worst < 0 || math.Abs(v) > math.Abs(c.SpacingErrorDeg[worst]) {
				worst = i
			}
		}
		if worst >= 0 {
			u := ""
			if order := firingOrder(r); worst < len(order) && order[worst] > 0 {
				u = "cylinder " + strconv.Itoa(order[worst])
			}
			add("vane farthest out of place, late +", drawing.Signed(c.SpacingErrorDeg[worst], 2)+"°", u)
		}
		if known(c.ScatterDeg) {
			add("scatter of the crank edges, sd", spreadWords(float64(c.ScatterDeg))+"°", "")
		}
	}
	if c := r.Cam; c != nil {
		add("safest cam edge", c.SafeEdge, n(c.SafeMarginDeg, 1)+"° clear")
	}
	if s := r.Spark; s != nil && s.Count > 0 {
		add("sparks", n(float64(s.Count), 0), "")
		if known(s.DwellMS) {
			add("dwell as driven", cell(s.DwellMS, 2)+" ms", cell(s.DwellMin, 2)+" to "+cell(s.DwellMax, 2))
		}
		add("spark after the active edge", n(s.AfterEdge.Mean, 2)+"°", "sd "+n(s.AfterEdge.SD, 2)+"°")
	}
	if r.Timing != nil {
		timing = timingFigures(r.Timing)
	}
	return recorded, timing
}

// firingOrder is the cylinders from cylinder 1's active edge on, as the mean cycle has them.
func firingOrder(r *shaft.Result) []int {
	if r.Series == nil || r.Crank == nil {
		return nil
	}
	var order []int
	first := -1
	for _, p := range r.Series.Cycle {
		if p.Role == shaft.Crank && p.Edge == r.Crank.ActiveEdge {
			if p.Cylinder == 1 {
				first = len(order)
			}
			order = append(order, p.Cylinder)
		}
	}
	if first < 0 {
		return nil
	}
	return append(append([]int{}, order[first:]...), order[:first]...)
}

func wrongPulses(r *shaft.Result) string {
	var parts []string
	for _, k := range []shaft.Kind{shaft.MissingPulse, shaft.ExtraPulse, shaft.ShortPulse, shaft.Dropout} {
		if n := r.AnomalyCount[string(k)]; n > 0 {
			word, _, _ := strings.Cut(string(k), "_")
			parts = append(parts, quantity.Number(float64(n), 0)+" "+word)
		}
	}
	if len(parts) == 0 {
		return "none"
	}
	return strings.Join(parts, ", ")
}

func timingFigures(t *shaft.Timing) []Figure {
	var out []Figure
	if t.Offset.Known() {
		name := "constant error"
		if !t.Commanded {
			name = "advance at no speed"
		}
		out = append(out, Figure{name, drawing.Signed(t.Offset.Value, 2) + "°",
			quantity.PlusMinus(t.Offset.Expanded(), 2, "°"), ""},
			Figure{"delay left over", drawing.Signed(t.Delay.Value, 0) + " µs",
				quantity.PlusMinus(t.Delay.Expanded(), 0, " µs"), ""})
		if t.Commanded && t.Withheld == "" && t.Verdict != readings.ReadMore { // more readings first, then a cure
			out = append(out, Figure{"allowance: now → set", t.Allowance.String(), "", ""})
			turn := Figure{"housing, shaft", "leave", "", ""}
			if t.Housing.Direction != readings.Leave {
				turn = Figure{"housing, shaft", quantity.Degrees(t.Housing.TurnDeg, 2), t.Housing.Direction, ""}
			}
			out = append(out, turn)
		}
	} else {
		for _, e := range t.ErrorAt {
			name := "timing error at "
			if !t.Commanded {
				name = "advance at "
			}
			out = append(out, Figure{name + quantity.RPM(e.RPM), drawing.Signed(e.Value, 2) + "°",
				quantity.PlusMinus(e.U, 2, "°"), ""})
		}
	}
	if known(t.CrankingBias) && math.Abs(float64(t.CrankingBias)) > 0.3 {
		out = append(out, Figure{"light at cranking", drawing.Signed(float64(t.CrankingBias), 1) + "°",
			"at " + cell(t.CrankingRPM, 0) + " rpm", "against what the controller means, since compression bends the " +
				"motion: do not turn the housing for it"})
	}
	return append(out, Figure{"firings", quantity.Number(float64(t.Firings), 0), "", ""})
}

// CaptureSays is the upshot of a recording: its mark, its word, and what to do next.
func CaptureSays(j verdict.Judgement, r *shaft.Result, card *jobcard.Card) (v drawing.Verdict, word, next string) {
	next = sentence(j.First) + " " + sentence(j.Next)
	switch {
	case r.Crank == nil:
		return drawing.IsStop, "nothing to tell", next
	case card == nil || card.Engine.Cylinders == 0:
		return drawing.IsCaution, "no job card", next
	case j.Verdict == readings.Pass && j.Sound:
		return drawing.IsFine, string(j.Verdict), next
	case len(j.Clauses.In(verdict.Broken)) > 0:
		return drawing.IsStop, string(j.Verdict), next
	}
	return drawing.IsCaution, string(j.Verdict), next
}
