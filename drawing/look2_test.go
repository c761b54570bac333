package drawing

import "testing"

func TestLookViews(t *testing.T) {
	dir := scratch(t)
	draw := func(name string, d *Drawing, err error) {
		t.Helper()
		if err != nil {
			t.Error(err)
			return
		}
		save(t, dir, name, d)
		for _, c := range d.Clashes() {
			t.Errorf("%s: %q over %q", name, c[0].Text, c[1].Text)
		}
		for _, c := range d.Outside() {
			t.Errorf("%s: %q off the sheet", name, c.Text)
		}
	}
	d, err := DamperView{Width: 90, Turn: Clockwise, Marks: []DamperMark{{60, "60°", "88.0 mm"}, {12, "12°", "17.6 mm"}, {8, "8°", "11.7 mm"}}}.Draw()
	draw("damper-cw", d, err)
	d, err = DamperView{Width: 90, Turn: Counterclockwise, Pointer: 40, Marks: []DamperMark{{50, "50°", "72.2 mm"}, {-10, "10° after", "14.4 mm"}}}.Draw()
	draw("damper-ccw", d, err)
	d, err = DamperView{Width: 90, Turn: Clockwise, Marks: []DamperMark{{60, "60°", "88.0 mm"}}}.Draw()
	draw("damper-one", d, err)
	d, err = CapMap{Width: 90, Turn: Counterclockwise, Order: []int{1, 5, 3, 6, 2, 4}, FirstAt: 30, Towers: []string{"4", "3", "2", "1", "6", "5"}, Pairs: [][2]int{{1, 6}, {5, 2}, {3, 4}}}.Draw()
	draw("cap", d, err)
	d, err = CapMap{Width: 90, Turn: Clockwise, Order: []int{1, 8, 4, 3, 6, 5, 7, 2}, Rotor: []float64{70}}.Draw()
	draw("cap8", d, err)
}

func TestLookSignals(t *testing.T) {
	dir := scratch(t)
	var crank, spark []Span
	var edges []Edge
	var tops []Reference
	for i := range 6 {
		tdc := float64(i) * 120
		crank = append(crank, Span{tdc + 120 - 90, tdc + 120 - 60, ""})
		edges = append(edges, Edge{tdc + 120 - 60, "active", Falling})
		spark = append(spark, Span{tdc + 120 - 40, tdc + 120 - 12, ""})
		tops = append(tops, Reference{tdc, "TDC " + string(rune('0'+[]int{1, 5, 3, 6, 2, 4}[i]))})
	}
	for name, w := range map[string]float64{"signals-phone": 90, "signals-desk": 190} {
		d, err := SignalChart{Width: w, Title: "Signals over one cycle", From: 0, To: 720, Tops: tops, Tracks: []Track{
			{Name: "crank", High: crank, Active: edges},
			{Name: "cam", High: []Span{{300, 380, ""}}, Windows: []Span{{310, 360, "safe to read"}}},
			{Name: "spark", High: spark, Paint: Spark, Windows: []Span{{680, 718, "34° to 2° before"}}},
		}}.Draw()
		if err != nil {
			t.Fatal(err)
		}
		save(t, dir, name, d)
		for _, c := range d.Clashes() {
			t.Errorf("%s: %q over %q", name, c[0].Text, c[1].Text)
		}
	}
	for name, w := range map[string]float64{"sweep-phone": 90, "sweep-desk": 180} {
		d, err := RotorSweep{Width: w, Radius: 27, AirGap: 0.9, TipWidth: 9, TerminalWidth: 7, Neighbours: 60, Turn: Counterclockwise, From: -9, To: 7,
			FromWords: "34° before TDC", ToWords: "2° before TDC"}.Draw()
		if err != nil {
			t.Fatal(err)
		}
		save(t, dir, name, d)
		for _, c := range d.Clashes() {
			t.Errorf("%s: %q over %q", name, c[0].Text, c[1].Text)
		}
	}
}
