package drawing

import "testing"

func sampleChart(width float64) Chart {
	var line []XY
	band := Band{}
	for x := 120.0; x <= 3950; x += 10 {
		y := 1.9 - 0.43*x/1000
		w := 0.28 + 0.14*((x-1900)/1900)*((x-1900)/1900)
		line = append(line, XY{x, y})
		band.X, band.Lo, band.Hi = append(band.X, x), append(band.Lo, y-w), append(band.Hi, y+w)
	}
	return Chart{
		Width: width, Title: "Timing error against speed", Desc: "falls from +1.9 to +0.2 degrees",
		X:          Axis{Label: "rpm", Min: 0, Max: 4400},
		References: []Reference{{180, "cranking 180"}, {750, "idle 750"}, {4200, "redline 4 200"}},
		Panels: []Panel{{
			Y:     Axis{Label: "timing error, ° (early +)", Sign: PlusMinus},
			Bands: []Band{band}, Zones: []Zone{{-0.5, 0.5}},
			Series: []Series{{Points: line, Label: "fit"}, {Points: []XY{{3950, 0.2}, {4400, 0.0}}, Look: OutsideValidity}},
			Marks: []Mark{{X: 300, Y: 1.72, U: 0.28}, {X: 1000, Y: 1.43, U: 0.28}, {X: 1800, Y: 1.03, U: 0.28}, {X: 2800, Y: 0.57, U: 0.28},
				{X: 2230, Y: -1.1, U: 0.28, Kind: SetAside, Note: "misread? set aside"}},
		}},
	}
}

func TestLookScratch(t *testing.T) {
	dir := scratch(t)
	for name, w := range map[string]float64{"phone": 90, "desk": 180} {
		d, err := sampleChart(w).Draw()
		if err != nil {
			t.Fatal(err)
		}
		save(t, dir, "chart-"+name, d)
		for _, c := range d.Clashes() {
			t.Errorf("%s: %q over %q", name, c[0].Text, c[1].Text)
		}
	}
}
