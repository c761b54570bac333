package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"phasewright/drawing"
	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/shaft"
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
	return append(out, Figure{"firings", quantity.Number(float64(t.Firings), 0), "", ""},
		Figure{"verdict", captureWord(t.Verdict), "", ""})
}

// unsound says what the signals show that a timing error alone would hide; empty where nothing does.
func unsound(r *shaft.Result) string {
	if r.Sync == shaft.SyncLost {
		return "sync was lost " + times(r.LossCount)
	}
	for _, f := range r.Findings {
		switch f.ID {
		case shaft.FoundSparksEnd, shaft.FoundNoCam, shaft.FoundNoMark:
			// the ignition may have been switched off; what was not recorded is not wrong
		default:
			return strings.TrimSuffix(f.Text, ".")
		}
	}
	return ""
}

// captureWord says a verdict so that it cannot be taken for another: a recording asks for more recordings, and what is
// to be corrected is not correct.
func captureWord(v readings.Verdict) string {
	switch v {
	case readings.Correct:
		return "to be corrected"
	case readings.ReadMore:
		return "record more"
	case readings.NotALine:
		return "follows no line"
	}
	return string(v)
}

// CaptureSays is the upshot of a recording: its verdict, a few words, and what to do next.
func CaptureSays(r *shaft.Result) (v drawing.Verdict, word, next string) {
	switch t := r.Timing; {
	case r.Crank == nil:
		return drawing.IsStop, "nothing to tell",
			"The shaft cannot be followed: put right what is found below and record again."
	case t == nil:
		next := "The sparks are timed from the active edge alone; beside the drawing stands what to record for more."
		if r.Spark == nil || r.Spark.Count == 0 {
			next = "The pickups are judged, no spark was recorded; beside the drawing stands what to record."
		}
		return drawing.IsCaution, "no absolute timing", next
	case t.Withheld != "":
		return drawing.IsCaution, captureWord(t.Verdict), "No correction is given. " + sentence(t.Withheld)
	case !t.Commanded:
		return drawing.IsCaution, captureWord(t.Verdict), "No commanded advance is known, so there is no timing " +
			"error: read it with the job card."
	case t.Verdict == readings.Pass && unsound(r) != "":
		return drawing.IsCaution, "timing passes, signals do not",
			fmt.Sprintf("The timing error stays within ± %s, but %s: find out why before it is relied on.",
				degrees(t.Tolerance), unsound(r))
	case t.Verdict == readings.Pass:
		return drawing.IsFine, "pass", fmt.Sprintf(
			"The timing error with its U stays within ± %s over the whole speed range.", degrees(t.Tolerance))
	case !t.Offset.Known():
		return drawing.IsCaution, captureWord(t.Verdict),
			fmt.Sprintf("One speed cannot tell housing from delay: record also near %s.", quantity.RPM(t.Next))
	case t.Verdict == readings.Correct:
		var do []string
		if t.Housing.Direction != readings.Leave {
			do = append(do, fmt.Sprintf("turn the housing %s° of shaft %s", quantity.Number(t.Housing.TurnDeg, 2),
				t.Housing.Direction))
		}
		if t.Allowance.Changes() {
			do = append(do, t.Allowance.Do("delay allowance")+", power-cycle, read it back")
		}
		if len(do) == 0 { // less than a step of the allowance and less than a housing can be turned by
			return drawing.IsStop, captureWord(t.Verdict), "The error is outside its tolerance, but neither housing " +
				"nor allowance would lessen it: see the findings."
		}
		return drawing.IsStop, captureWord(t.Verdict), "Engine stopped: " + strings.Join(do, "; ") +
			". Tighten the clamp, then record again."
	case t.Tolerance <= 0:
		return drawing.IsCaution, captureWord(t.Verdict), "No tolerance is known: give the job card."
	default:
		return drawing.IsCaution, captureWord(t.Verdict),
			fmt.Sprintf("Whether it stays within ± %s cannot be told yet: record for longer, and near %s rpm, "+
				"where the band is widest.", degrees(t.Tolerance), quantity.Number(t.Next, 0))
	}
}
