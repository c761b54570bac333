package job

import (
	"math"
	"sort"

	"phasewright/drawing"
	"phasewright/suspects"
	"phasewright/web/page"
)

// predictionChart draws the light readings on wire 1 that were seen, and what each leading explanation predicts at
// those speeds; nil where fewer than two speeds were read. The table beside it holds the same figures and those of the
// other wires.
func predictionChart(res *suspects.Result) *page.Plate {
	var points []suspects.PlotPoint
	for _, p := range res.Plot {
		if p.RPM > 0 && p.Wire <= 1 && p.Unit == "°" {
			points = append(points, p)
		}
	}
	sort.SliceStable(points, func(i, j int) bool { return points[i].RPM < points[j].RPM })
	if len(points) < 2 || points[0].RPM == points[len(points)-1].RPM {
		return nil
	}
	panel := drawing.Panel{Y: drawing.Axis{Label: "light shows, °"}}
	top := 0.0
	for _, p := range points {
		panel.Marks = append(panel.Marks, drawing.Mark{X: p.RPM, Y: p.Seen, U: p.U})
		top = math.Max(top, p.RPM)
	}
	looks := []drawing.LineLook{drawing.Strong, drawing.Light, drawing.OutsideValidity}
	for k := range min(len(res.Plotted), len(looks)) {
		var line []drawing.XY
		for _, p := range points {
			if y := float64(p.Predicted[k]); !math.IsNaN(y) {
				line = append(line, drawing.XY{X: p.RPM, Y: y})
			}
		}
		if len(line) > 1 {
			panel.Series = append(panel.Series, drawing.Series{Points: line, Look: looks[k]})
		}
	}
	made, err := page.DrawChart("foreseen", drawing.Chart{Title: "Seen against foreseen",
		Desc: predictionSays(res), X: drawing.Axis{Label: "rpm", Min: 0, Max: top * 1.1},
		Panels: []drawing.Panel{panel}})
	if err != nil {
		return nil // the table stands without it
	}
	return made
}

// predictionSays names the lines of the chart.
func predictionSays(res *suspects.Result) string {
	words := "Crosses: what the light showed. Lines, what is foreseen"
	for k, name := range res.Plotted[:min(len(res.Plotted), 3)] {
		words += [...]string{": strong, ", ". Thin, ", ". Dashed, "}[k] + name
	}
	return page.Whole(words) + "."
}
