package report

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"phasewright/drawing"
	"phasewright/jobcard"
	"phasewright/procedure"
	"phasewright/quantity"
	"phasewright/sheet"
)

// anyEngine writes a job card of an engine that may be: 1 to 12 cylinders, even and odd fire, every way of turning,
// advance, lead and rotor from their whole range. Invented; which of them a card takes is for the parser to say.
func anyEngine(r *rand.Rand) string {
	between := func(lo, hi float64) float64 { return lo + r.Float64()*(hi-lo) }
	of := func(words ...string) string { return words[r.IntN(len(words))] }
	n := 1 + r.IntN(12)
	order := r.Perm(n)
	for i := range order {
		order[i]++
	}
	list := func(v any) string { return strings.ReplaceAll(fmt.Sprint(v), " ", ", ") }
	spacing, intervals := 720/float64(n), ""
	if n%2 == 0 && r.IntN(3) == 0 { // pairs that fire unevenly
		odd := float64(r.IntN(int(spacing*0.4)) + 1)
		parts := make([]string, n)
		for i := range parts {
			parts[i] = fmt.Sprintf("%.4f deg", spacing+odd*float64(1-2*(i%2)))
		}
		intervals = ", intervals: [" + strings.Join(parts, ", ") + "]"
		spacing -= odd
	}
	most := float64(20 + r.IntN(26))
	lead := min(most+float64(6+r.IntN(25)), spacing-4)
	most = min(most, lead-6)
	advance := func() float64 { return float64(r.IntN(max(int(most), 1))) }
	radius := between(22, 45)
	whole := func(v float64) string { return fmt.Sprintf("%.0f", v) }
	return fmt.Sprintf(`job:         {name: "Any engine, %d cylinders", shop: Marlow Quay Boatyard, units: %s}
engine:      {cylinders: %d, firing_order: %s%s, rotation: %s, bore: 90 mm, stroke: 92 mm, rod: 151 mm,
              compression_ratio: 8.7, inertia: 0.31 kg.m2, cranking_speed: 185 rpm, idle_speed: 840 rpm, redline: 4400 rpm, fuel: %s, place: %s}
damper:      {diameter: %.1f mm ± 0.3 mm}
distributor: {use: %s, rotation: %s, gear_teeth: %d, helix_angle: 33 deg, gear_diameter: 30 mm, drop_travel: 13 mm, drop_turn: %s, rotor_offset: %.1f deg,
              rotor_tip: %.1f mm, terminal: %.1f mm, radius: %.1f mm, air_gap: 0.9 mm, tower_for_no1: %d}
signals:     {crank: {kind: %s, vane_width: %.1f deg, active_edge: %s, lead: %s deg}, cam: {kind: hall, active_edge: %s, vane_width: %.0f deg}}
controller:  {advance: {cranking: %s deg, locked: %s deg, min: %s deg, max: %s deg}, delay_allowance: 95 us, delay_step: 9 us, latency: 50 us}
ignition:    {output: coil driver, dwell: 2.6 ms, plug_gap: 0.8 mm}
coil:        {resistance: 0.6 ohm, inductance: 5 mH, saturates_at: 8 A, target: 6 A}
`, n, of("mm", "inches"), n, list(order), intervals, of("clockwise", "counterclockwise"), of("port", "carburettor", "throttle body"),
		of("boat", "road vehicle", "stationary"), between(90, 320), of("spark and signal", "spark and signal", "signal only"),
		of("clockwise", "counterclockwise"), 9+r.IntN(14), of("clockwise", "counterclockwise"), between(-6, 12), between(3, 10),
		between(3, 8), radius, 1+r.IntN(n), of("hall", "optical", "inductive proximity", "variable reluctance"),
		between(4, min(spacing/2*0.45, 25)), of("rising", "falling"), whole(lead), of("rising", "falling"), between(10, 80),
		whole(advance()-2), whole(advance()), whole(min(advance()-4, most-1)), whole(most))
}

// anyEngines parses n of them; how many the parser refused comes with them.
func anyEngines(t testing.TB, n int) (cards []*jobcard.Card, refused int) {
	t.Helper()
	r := rand.New(rand.NewPCG(17, 4))
	for len(cards) < n {
		text := anyEngine(r)
		c, err := jobcard.Parse("any.yaml", []byte(text))
		if err != nil {
			if refused++; refused > 10*n {
				t.Fatalf("no card is taken: %v\n%s", err, text)
			}
			continue
		}
		cards = append(cards, c)
	}
	return cards, refused
}

// overlaps fails the test where words of a drawing lie over each other, leave the sheet or are crossed by a line.
func overlaps(t testing.TB, what string, d *drawing.Drawing, err error) {
	t.Helper()
	if err != nil {
		t.Errorf("%s: %v", what, err)
		return
	}
	bad := len(d.Clashes()) + len(d.Outside()) + len(d.Crossings())
	for _, x := range d.Clashes() {
		t.Errorf("%s: %.60q lies over %.60q", what, x[0].Text, x[1].Text)
	}
	for _, x := range d.Outside() {
		t.Errorf("%s: %.60q leaves the sheet", what, x.Text)
	}
	for _, x := range d.Crossings() {
		t.Errorf("%s: a line crosses %.60q", what, x.Text)
	}
	if dir := os.Getenv("LOOK"); dir != "" && bad > 0 {
		pdf, err := drawing.PDF(drawing.Document{Title: what, Date: someDay, Pages: []*drawing.Drawing{d}})
		if err != nil {
			t.Fatal(err)
		}
		name := dir + "/" + strings.NewReplacer(" ", "-", ",", "", "/", "-").Replace(what) + ".pdf"
		if err := os.WriteFile(name, pdf, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// readable fails the test where words are smaller than 7 points. A box reaches from the descent to the top of a capital:
// 0.96 of the size of the face.
func readable(t testing.TB, what string, d *drawing.Drawing) {
	t.Helper()
	if d == nil {
		return
	}
	for _, b := range d.TextBoxes() {
		high := math.Hypot(b.Corners[3].X-b.Corners[0].X, b.Corners[3].Y-b.Corners[0].Y)
		if points := high / 0.96 / 25.4 * 72; points < 7 {
			t.Errorf("%s: %.60q is set in %.2f points, less than 7", what, b.Text, points)
		}
	}
}

// TestNoLabelOverlaps looks at every drawing that a card leads to, on paper and on the pages, for all example cards and
// for 36 engines that nobody chose (240 with PHASEWRIGHT_LONG set): no words lie over others, no line runs through them.
func TestNoLabelOverlaps(t *testing.T) {
	type one struct {
		name string
		card *jobcard.Card
	}
	var all []one
	for _, name := range examples {
		c, _ := card(t, name)
		all = append(all, one{name, c})
	}
	many := 36
	if os.Getenv("PHASEWRIGHT_LONG") != "" {
		many = 240
	}
	cards, refused := anyEngines(t, many)
	cylinders := map[int]int{}
	for i, c := range cards {
		all = append(all, one{fmt.Sprintf("any %d", i), c})
		cylinders[c.Engine.Cylinders]++
	}
	if len(cylinders) != 12 {
		t.Errorf("engines of %d counts of cylinders, want 12: %v", len(cylinders), cylinders)
	}
	t.Logf("%d engines drawn, %d cards refused; cylinders: %v", len(all), refused, cylinders)
	for i, k := range all {
		s, err := sheet.Make(k.card)
		if err != nil {
			t.Errorf("%s: %v", k.name, err)
			continue
		}
		turn := i - len(examples)
		everyDrawing(t, k.name, turn, k.card, s)
		if turn%12 == 0 || turn < 0 {
			everyPaper(t, k.name, k.card, s)
		}
	}
}

// some are all of a list, or one of it in turn where an engine is one of many.
func some[T any](turn int, list ...T) []T {
	if turn < 0 {
		return list
	}
	return list[turn%len(list):][:1]
}

// everyDrawing holds each drawing that a card leads to against overlaps, at the widths of papers, phone and desk; of
// one engine among many (turn from 0) each drawing at one of its widths.
func everyDrawing(t *testing.T, name string, turn int, c *jobcard.Card, s *sheet.Sheet) {
	see := func(what string, wide float64, d *drawing.Drawing, err error) {
		t.Helper()
		overlaps(t, fmt.Sprintf("%s, %s at %g mm", name, what, wide), d, err)
		readable(t, fmt.Sprintf("%s, %s at %g mm", name, what, wide), d)
	}
	for _, w := range some(turn, 90.0, 150, 89, 81, 65, 61, 51) { // of pages, and of the sheet's columns
		shown := everyDistance
		if w < 80 {
			shown = largestDistance
		}
		d, err := damperView(c, s, w, shown)
		see("damper", w, d, err)
	}
	for _, w := range some(turn, 90.0, 120, 89, 77, 57, 47) {
		if d, err := capView(c, s, w); d != nil || err != nil {
			see("cap", w, d, err)
		}
	}
	for _, w := range some(turn, 90.0, 150, 184) {
		d, err := SignalChart(c, w, "signals").Draw()
		see("signals", w, d, err)
	}
	if k, err := sheet.CaseOf(c); err == nil {
		for _, w := range some(turn, 80.0, 90, 96, 110, 150) {
			if v, ok := RotorSweep(c, k.Plan, w, "rotor"); ok {
				d, err := v.Draw()
				see("rotor", w, d, err)
			}
			if v, ok := RotorSeen(c, s, w, "seen"); ok {
				d, err := v.Draw()
				see("rotor seen", w, d, err)
			}
			d, err := SparkChart(k.Decide(chartSpeeds), w, "spark").Draw()
			see("spark chart", w, d, err)
		}
	}
	for _, w := range some(turn, 90.0, 166, 176) {
		v := LampView(c)
		v.Width = w
		d, err := v.Draw()
		see("lamp", w, d, err)
	}
	if p, err := procedure.New(c, s); err == nil {
		for i, st := range p.Steps() {
			if _, known := stepDrawings[st.ID]; !known || turn >= 0 && (i+turn)%2 == 0 {
				continue
			}
			for _, w := range some(turn, 90.0, 150) {
				d, err := StepDrawing(c, s, st, w, "step")
				see("step "+string(st.ID), w, d, err)
			}
		}
	}
	for _, u := range some(turn, 0, quantity.Inch) {
		for _, face := range []drawing.TapeFace{drawing.DegreeScale, drawing.MarksOnly} {
			for _, front := range some(turn, drawing.FrontBelow, drawing.FrontLeft, drawing.FrontAbove) {
				for _, edge := range some(turn/3, drawing.RearEdge, drawing.FrontEdge) {
					everyTape(t, fmt.Sprintf("%s, %v, tape %d %d %d", name, u, face, front, edge), c, s, u, face, front, edge)
				}
			}
		}
		tape := Tape(c, s)
		for _, size := range some(turn, 180.0, 150, 110, 80) {
			d, err := drawing.WheelFace{Name: tape.Name, Diameter: size, Hole: 20, Turn: tape.Turn, Marks: tape.Marks,
				Lengths: Lengths(u)}.Page()
			see("wheel", size, d, err)
		}
	}
}

// everyTape holds one tape against overlaps, as a strip and on sheets.
func everyTape(t *testing.T, what string, c *jobcard.Card, s *sheet.Sheet, u quantity.LengthUnit, face drawing.TapeFace,
	front drawing.FrontSide, edge drawing.PointerEdge) {
	t.Helper()
	tape := Tape(c, s)
	tape.Face, tape.Lengths, tape.Thickness, tape.Front, tape.Pointer = face, Lengths(u), 0.1, front, edge
	d, err := tape.Strip()
	overlaps(t, what+", strip", d, err)
	readable(t, what, d)
	pages, err := tape.Pages()
	if err != nil {
		t.Errorf("%s: %v", what, err)
	}
	for _, d := range pages {
		overlaps(t, what, d, nil)
	}
}

// everyPaper holds each paper of a card against overlaps.
func everyPaper(t *testing.T, name string, c *jobcard.Card, s *sheet.Sheet) {
	stamp := Stamp{Date: someDay}
	papers := map[string]func() (*Paper, error){
		"set-up":   func() (*Paper, error) { return SetUp(c, s, stamp) },
		"drawings": func() (*Paper, error) { return Drawings(c, s, stamp) },
	}
	if k, err := sheet.CaseOf(c); err == nil {
		papers["spark"] = func() (*Paper, error) { return Spark(k, stamp) }
	}
	if p, err := procedure.New(c, s); err == nil {
		papers["steps"] = func() (*Paper, error) { return Steps(c, s, p.Lines(p.Start()), nil, stamp) }
	}
	papers["form"] = func() (*Paper, error) { return ReadingsForm(c, s, stamp) }
	for what, make := range papers {
		p, err := make()
		if err != nil {
			t.Errorf("%s, %s: %v", name, what, err)
			continue
		}
		for i, d := range p.Doc.Pages {
			overlaps(t, fmt.Sprintf("%s, %s, page %d", name, what, i+1), d, nil)
		}
	}
}
