package shaft

import (
	"fmt"
	"io"
	"math"
	"strings"

	"phasewright/quantity"
	"phasewright/shaft/track"
)

// WriteSummary writes what matters in about twenty lines for a person. The error is the writer's.
func (r *Result) WriteSummary(w io.Writer) error {
	var b strings.Builder
	line := func(label, format string, a ...any) { fmt.Fprintf(&b, "%-10s %s\n", label, fmt.Sprintf(format, a...)) }
	line("recording", "%s, %s, %s edges", orNot(r.Name, "without a name"), seconds(r.DurationS),
		quantity.Number(float64(r.Edges), 0))
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
		text := fmt.Sprintf("%d vanes", c.EdgesPerCycle)
		if c.EdgesPerCycle == 1 {
			text = "1 vane"
		}
		text += fmt.Sprintf(", %s edge active (%s)", c.ActiveEdge, c.ActiveBecause)
		if !math.IsNaN(float64(c.VaneWidthDeg)) {
			text += fmt.Sprintf(", %s of shaft wide", quantity.Degrees(c.VaneWidthDeg, 1))
		}
		if k, v := worst(c.SpacingErrorDeg); k >= 0 {
			text += fmt.Sprintf("; worst spacing error %s of crank at vane %d", signed(v, 2), k+1)
		}
		line("vanes", "%s", text)
	}
	if c := r.Cam; c != nil {
		text := fmt.Sprintf("window %s of crank; safe edge: %s, never nearer than %s to an active crank edge",
			quantity.Degrees(c.WindowDeg, 0), c.SafeEdge, quantity.Degrees(c.SafeMarginDeg, 1))
		if c.ReadAt != "" {
			text += fmt.Sprintf("; level safe to read at the %s crank edge, margin %s", c.ReadAt,
				quantity.Degrees(c.LevelMarginDeg, 1))
		}
		line("cam", "%s", text)
	}
	if s := r.Spark; s != nil && s.Count > 0 {
		text := fmt.Sprintf("%s sparks, %s after the active edge (sd %s)", quantity.Number(float64(s.Count), 0),
			quantity.Degrees(s.AfterEdge.Mean, 2), quantity.Degrees(s.AfterEdge.SD, 2))
		if !math.IsNaN(float64(s.DwellMS)) {
			dwell := "dwell"
			if s.AtLeast {
				dwell = "dwell at least"
			}
			text += fmt.Sprintf("; %s %s ms (%s to %s)", dwell, quantity.Number(float64(s.DwellMS), 2),
				quantity.Number(float64(s.DwellMin), 2), quantity.Number(float64(s.DwellMax), 2))
		}
		line("firings", "%s", text)
		r.summaryCylinders(line)
	}
	r.summaryTiming(line)
	r.summaryStated(line)
	r.summaryAlone(line)
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
				parts = append(parts, fmt.Sprintf("%d × %s, first at %s on %s", n,
					strings.ReplaceAll(string(k), "_", " "), seconds(a.TimeS), a.Channel))
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
			line("timing", "error %s ± %s at %v; one speed cannot tell housing from delay: record also near %v",
				signed(e.Value, 2), quantity.Degrees(e.U, 2), rounded(e.RPM), quantity.Speed(t.Next))
		}
		return
	}
	speeds := fmt.Sprintf("from %v to %v", rounded(t.FromRPM), rounded(t.ToRPM))
	if !math.IsNaN(float64(t.ClaimTo)) {
		speeds += fmt.Sprintf(" (claimed: %v to %v)", rounded(float64(t.ClaimFrom)), rounded(float64(t.ClaimTo)))
	}
	line("timing", "%s %s ± %s, delay left over %s ± %s µs, by %s firings %s", name, signed(t.Offset.Value, 2),
		quantity.Degrees(t.Offset.Expanded(), 2), quantity.Number(t.Delay.Value, 1),
		quantity.Number(t.Delay.Expanded(), 1),
		quantity.Number(float64(t.Firings), 0), speeds)
	if t.Withheld != "" {
		line("cure", "none: %s", t.Withheld)
	}
	if len(t.NotInU) > 0 {
		line("not in ±", "%s", strings.Join(t.NotInU, "; "))
	}
	if !math.IsNaN(float64(t.CrankingBias)) && math.Abs(float64(t.CrankingBias)) > 0.3 {
		line("cranking", "a light shows %s against what the controller means at %v, since compression bends the "+
			"motion: do not turn the housing for it", signed(t.CrankingBias, 1), rounded(float64(t.CrankingRPM)))
	}
}

// summaryStated sets what was measured beside what the card states.
func (r *Result) summaryStated(line func(string, string, ...any)) {
	var parts []string
	for _, c := range r.Stated {
		text := fmt.Sprintf("%s %s (card: %s) %s", c.What, quantity.Number(float64(c.Measured), 1),
			quantity.Number(float64(c.Stated), 1), c.Unit)
		if !c.Agrees {
			text += " DIFFERS"
		}
		parts = append(parts, text)
	}
	if len(parts) > 0 {
		line("measured", "%s", strings.Join(parts, ", "))
	}
}

// summaryAlone says what one wire shows by itself.
func (r *Result) summaryAlone(line func(string, string, ...any)) {
	a := r.Alone
	if a == nil {
		return
	}
	line("one wire", "%s: %v to %v, mean %v, if %s", a.Channel, rounded(a.Speed.Min), rounded(a.Speed.Max),
		rounded(a.Speed.Mean), a.Because)
	text := fmt.Sprintf("intervals change by %s %% from one to the next, %d pulses did not come",
		quantity.Number(a.Uneven, 1), a.Lost)
	if !math.IsNaN(float64(a.DwellMS)) {
		text += fmt.Sprintf(", dwell %s ms", quantity.Number(float64(a.DwellMS), 2))
	}
	line("", "%s", text)
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
