package report

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"phasewright/drawing"
	"phasewright/quantity"
	"phasewright/shaft"
)

const (
	mostEventRows = 6
	mostTimeRows  = 24 // of the table
)

// speedView is speed over time with what went wrong beneath it.
func speedView(r *shaft.Result) CaptureView {
	v := CaptureView{ID: "speed", Title: "Speed over time"}
	list := r.Series.Speed
	if len(list) == 0 {
		v.Want = "The crank did not turn long enough for a speed: record at least two turns."
		return v
	}
	v.Heads = Cells{"from s", "least rpm", "mean rpm", "most rpm"}
	each := (len(list) + mostTimeRows - 1) / mostTimeRows
	for i := 0; i < len(list); i += each {
		part := list[i:min(i+each, len(list))]
		lo, hi, sum := part[0].Min, part[0].Max, 0.0
		for _, p := range part {
			lo, hi, sum = math.Min(lo, p.Min), math.Max(hi, p.Max), sum+p.Mean
		}
		v.Rows = append(v.Rows, Cells{quantity.Number(part[0].TimeS, 2), quantity.Number(lo, 0),
			quantity.Number(sum/float64(len(part)), 0), quantity.Number(hi, 0)})
	}
	v.Reading = "Line: mean of each slice of time; band: least and most in it, as the pulses make it."
	if r.Stops > 0 {
		v.Reading += fmt.Sprintf(" The shaft stood still %s between turning: there the line is broken.", times(r.Stops))
	}
	if len(r.AnomalyCount) > 0 || r.LossCount > 0 {
		v.Reading += " Ticks: the moment of each wrong pulse."
	}
	if total := totalAnomalies(r); total > int64(len(r.Anomalies)) {
		v.Reading += fmt.Sprintf(" Of %s wrong pulses the first %s are drawn.", quantity.Number(float64(total), 0),
			quantity.Number(float64(len(r.Anomalies)), 0))
	}
	v.Draw = func(at Space) (*drawing.Drawing, error) {
		return SpeedChart(r, at).Draw()
	}
	return v
}

func times(n int64) string {
	if n == 1 {
		return "once"
	}
	return quantity.Number(float64(n), 0) + " times"
}

func totalAnomalies(r *shaft.Result) (n int64) {
	for _, k := range r.AnomalyCount {
		n += k
	}
	return n
}

// SpeedChart is crank speed over time; the rows below it are sync and the wrong pulses of each kind and channel.
func SpeedChart(r *shaft.Result, at Space) drawing.Chart {
	list := r.Series.Speed
	top := 0.0
	for _, q := range list {
		top = math.Max(top, q.Mean)
	}
	// extra pulses feign any speed: the band may run out of the picture
	p := drawing.Panel{Y: drawing.Axis{Label: "crank speed, rpm", Max: niceTop(1.1 * top)}, Height: at.Height}
	// of a slice
	wide := math.Inf(1)
	for i := 1; i < len(list); i++ {
		wide = math.Min(wide, list[i].TimeS-list[i-1].TimeS)
	}
	if math.IsInf(wide, 0) {
		wide = 0
	}
	for from := 0; from < len(list); {
		to := from + 1
		for to < len(list) && list[to].TimeS-list[to-1].TimeS < cycleLasts(list[to-1].Min)+1.5*wide {
			to++
		}
		line, band := drawing.Series{}, drawing.Band{}
		for _, q := range list[from:to] {
			x := q.TimeS + wide/2
			line.Points = append(line.Points, drawing.XY{X: x, Y: q.Mean})
			band.X, band.Lo, band.Hi = append(band.X, x), append(band.Lo, q.Min), append(band.Hi, q.Max)
		}
		if to-from == 1 {
			p.Marks = append(p.Marks, drawing.Mark{X: line.Points[0].X, Y: line.Points[0].Y, Kind: drawing.Dot})
		} else {
			p.Series, p.Bands = append(p.Series, line), append(p.Bands, band)
		}
		from = to
	}
	end := math.Max(r.DurationS, list[len(list)-1].TimeS+wide)
	start := math.Min(0, list[0].TimeS)
	return drawing.Chart{Width: at.Width, Prefix: at.Prefix, Title: "Speed over time",
		Desc: speedFinding(r),
		X:    drawing.Axis{Label: "seconds", Min: start, Max: end}, Panels: []drawing.Panel{p},
		Rows: append(append(syncRow(r, start, end), anomalyRows(r)...), unlisted(r, end)...)}
}

// cycleLasts is how long two crank turns take at n rpm: slices that lie between two crank edges have no speed of their
// own.
func cycleLasts(n float64) float64 {
	if n <= 0 {
		return 0
	}
	return 120 / n
}

// syncRow hatches the times without sync.
func syncRow(r *shaft.Result, start, end float64) []drawing.Row {
	row, from := drawing.Row{Label: "sync"}, ""
	if known(r.SyncFrom) {
		from = " from " + quantity.Number(float64(r.SyncFrom), 2) + " s on"
		row.Spans = append(row.Spans, drawing.Span{From: start, To: math.Max(start, float64(r.SyncFrom))})
	}
	switch r.Sync {
	case shaft.SyncNone:
		row.Label, row.Spans = "no sync", []drawing.Span{{From: start, To: end}}
	case shaft.SyncHeld:
		row.Label += " held" + from
	default:
		row.Label += from + ", lost " + times(r.LossCount)
	}
	row.Label += "; hatched: without"
	for _, l := range r.Losses {
		to := end
		if known(l.RegainedS) {
			to = float64(l.RegainedS)
		}
		row.Spans = append(row.Spans, drawing.Span{From: l.TimeS, To: math.Max(l.TimeS, to)})
	}
	return []drawing.Row{row}
}

// anomalyRows are the wrong pulses by kind and channel, the most frequent first.
func anomalyRows(r *shaft.Result) []drawing.Row {
	at := map[string][]float64{}
	var names []string
	for _, a := range r.Anomalies {
		name := strings.ReplaceAll(string(a.Kind), "_", " ") + " on " + a.Channel
		if len(at[name]) == 0 {
			names = append(names, name)
		}
		at[name] = append(at[name], a.TimeS)
	}
	sort.SliceStable(names, func(i, j int) bool { return len(at[names[i]]) > len(at[names[j]]) })
	if len(names) > mostEventRows {
		var rest []float64
		for _, n := range names[mostEventRows-1:] {
			rest = append(rest, at[n]...)
		}
		sort.Float64s(rest)
		other := fmt.Sprintf("%d other kinds", len(names)-mostEventRows+1)
		names = append(names[:mostEventRows-1:mostEventRows-1], other)
		at[other] = rest
	}
	var rows []drawing.Row
	for _, n := range names {
		rows = append(rows, drawing.Row{Label: n + ": " + quantity.Number(float64(len(at[n])), 0), At: at[n]})
	}
	return rows
}

// unlisted hatches the time after the last wrong pulse that the list holds, where there were more.
func unlisted(r *shaft.Result, end float64) []drawing.Row {
	n := len(r.Anomalies)
	if n == 0 || totalAnomalies(r) <= int64(n) {
		return nil
	}
	last := r.Anomalies[n-1].TimeS
	return []drawing.Row{{Label: "from " + quantity.Number(last, 2) + " s on counted, not listed (hatched)",
		Spans: []drawing.Span{{From: last, To: math.Max(last, end)}}}}
}
