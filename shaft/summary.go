package shaft

import (
	"fmt"
	"io"
	"math"
	"strings"

	"phasewright/quantity"
	"phasewright/readings"
	"phasewright/shaft/track"
)

// WriteSummary writes what matters in about twenty lines for a person. The error is the writer's.
func (r *Result) WriteSummary(w io.Writer) error {
	var b strings.Builder
	line := func(label, format string, a ...any) { fmt.Fprintf(&b, "%-10s %s\n", label, fmt.Sprintf(format, a...)) }
	line("recording", "%s, %s, %s edges", orNot(r.Name, "without a name"), seconds(r.DurationS), quantity.Number(float64(r.Edges), 0))
	if r.Partial != "" {
		line("PARTIAL", "only a part could be read: %s", r.Partial)
	}
	const mostChannels = 6
	for i, c := range r.Channels {
		if i == mostChannels {
			line("", "and %d more channels", len(r.Channels)-i)
			break
		}
		line(string(c.Role), "%s – %s", c.Name, c.Reason)
	}
	if s := r.Speed; s != nil {
		line("speed", "%v to %v, mean %v", rounded(s.Min), rounded(s.Max), rounded(s.Mean))
	}
	line("sync", "%s: %s", r.Sync, r.SyncBecause)
	r.summaryAnomalies(line)
	if c := r.Crank; c != nil {
		text := fmt.Sprintf("%d vanes, %s edge active (%s)", c.EdgesPerCycle, c.ActiveEdge, c.ActiveBecause)
		if !math.IsNaN(float64(c.VaneWidthDeg)) {
			text += fmt.Sprintf(", %s of shaft wide", quantity.Degrees(c.VaneWidthDeg, 1))
		}
		if k, v := worst(c.SpacingErrorDeg); k >= 0 {
			text += fmt.Sprintf("; worst spacing error %s of crank at vane %d", signed(v, 2), k+1)
		}
		line("vanes", "%s", text)
	}
	if c := r.Cam; c != nil {
		text := fmt.Sprintf("window %s of crank; safe edge: %s, never nearer than %s to an active crank edge", quantity.Degrees(c.WindowDeg, 0), c.SafeEdge, quantity.Degrees(c.SafeMarginDeg, 1))
		if c.ReadAt != "" {
			text += fmt.Sprintf("; level safe to read at the %s crank edge, margin %s", c.ReadAt, quantity.Degrees(c.LevelMarginDeg, 1))
		}
		line("cam", "%s", text)
	}
	if s := r.Spark; s != nil && s.Count > 0 {
		text := fmt.Sprintf("%s sparks, %s after the active edge (sd %s)", quantity.Number(float64(s.Count), 0), quantity.Degrees(s.AfterEdge.Mean, 2), quantity.Degrees(s.AfterEdge.SD, 2))
		if !math.IsNaN(float64(s.DwellMS)) {
			text += fmt.Sprintf("; dwell %s ms (%s to %s)", quantity.Number(float64(s.DwellMS), 2), quantity.Number(float64(s.DwellMin), 2), quantity.Number(float64(s.DwellMax), 2))
		}
		line("firings", "%s", text)
		r.summaryCylinders(line)
	}
	r.summaryTiming(line)
	for i, f := range r.Findings {
		if i == 6 {
			line("", "and %d more findings", len(r.Findings)-i)
			break
		}
		line("FOUND", "%s", f.Text)
	}
	for i, d := range r.Doubts {
		if i == 4 {
			line("", "and %d more doubts", len(r.Doubts)-i)
			break
		}
		line("doubt", "%s", d)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (r *Result) summaryAnomalies(line func(string, string, ...any)) {
	if len(r.AnomalyCount) == 0 {
		if r.Crank != nil {
			line("signals", "no missing, extra or short pulse, no dropout")
		}
		return
	}
	var parts []string
	for _, k := range track.Kinds {
		n := r.AnomalyCount[string(k)]
		if n == 0 {
			continue
		}
		for _, a := range r.Anomalies {
			if a.Kind == k {
				parts = append(parts, fmt.Sprintf("%d × %s, first at %s on %s", n, strings.ReplaceAll(string(k), "_", " "), seconds(a.TimeS), a.Channel))
				break
			}
		}
	}
	line("signals", "%s", strings.Join(parts, "; "))
}

func (r *Result) summaryCylinders(line func(string, string, ...any)) {
	var parts []string
	for _, c := range r.Spark.ByCylinder {
		v := signed(c.AfterEdge.Mean-r.Spark.AfterEdge.Mean, 2)
		if !math.IsNaN(float64(c.Error)) {
			v = signed(c.Error, 2)
		}
		parts = append(parts, fmt.Sprintf("%d: %s", c.Cylinder, v))
	}
	if len(parts) == 0 {
		return
	}
	what := "after the edge, against the mean of all"
	if !math.IsNaN(float64(r.Spark.ByCylinder[0].Error)) {
		what = "timing error, early positive"
	}
	line("cylinders", "%s (%s)", strings.Join(parts, ", "), what)
}

func (r *Result) summaryTiming(line func(string, string, ...any)) {
	t := r.Timing
	if t == nil {
		return
	}
	name := "offset"
	if !t.Commanded {
		name = "advance at no speed (no commanded advance was given)"
	}
	if !t.Offset.Known() {
		for _, e := range t.ErrorAt {
			if t.Slow() {
				line("timing", "%s ± %s at %v; %s", signed(e.Value, 2), quantity.Degrees(e.U, 2), rounded(e.RPM),
					t.Withheld)
				continue
			}
			line("timing", "error %s ± %s at %v; one speed cannot tell housing from delay: record also near %v", signed(e.Value, 2), quantity.Degrees(e.U, 2), rounded(e.RPM), quantity.Speed(t.Next))
		}
		return
	}
	line("timing", "%s: %s %s ± %s, delay left over %s ± %s µs, from %s firings above %v", t.Verdict, name, signed(t.Offset.Value, 2), quantity.Degrees(t.Offset.Expanded(), 2),
		quantity.Number(t.Delay.Value, 1), quantity.Number(t.Delay.Expanded(), 1), quantity.Number(float64(t.Firings), 0), rounded(t.FromRPM))
	if t.Withheld != "" {
		line("cure", "%s", t.Withheld)
	} else if t.Commanded && t.Verdict == readings.ReadMore {
		line("cure", "none yet: record for longer, and near %v, where the band is widest", quantity.Speed(t.Next))
	} else if t.Commanded && t.Verdict == readings.Adjust {
		text := "housing stays"
		if t.Housing.Direction != readings.Leave {
			text = fmt.Sprintf("engine stopped: housing %s of shaft %s", quantity.Degrees(t.Housing.TurnDeg, 2), t.Housing.Direction)
		}
		if t.Allowance.Changes() {
			text += "; delay allowance " + t.Allowance.String()
		}
		line("cure", "%s", text)
	}
	if !math.IsNaN(float64(t.CrankingBias)) && math.Abs(float64(t.CrankingBias)) > 0.3 {
		line("cranking", "a light shows %s against what the controller means at %v, since compression bends the motion: do not turn the housing for it", signed(t.CrankingBias, 1), rounded(float64(t.CrankingRPM)))
	}
}

func orNot(s, other string) string {
	if s == "" {
		return other
	}
	return s
}

func rounded(n float64) quantity.Speed { return quantity.Speed(math.Round(n)) }

func signed[T ~float64](v T, decimals int) string { return quantity.Signed(v, decimals) + "°" }

func worst(v []float64) (k int, value float64) {
	k = -1
	for i, x := range v {
		if k < 0 || math.Abs(x) > math.Abs(value) {
			k, value = i, x
		}
	}
	return k, value
}
