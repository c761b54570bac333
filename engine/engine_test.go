package engine_test

import (
	"encoding/csv"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"phasewright/engine"
	"phasewright/quantity"
)

// table reads a reference table from testdata: lines beginning with # name the source.
func table(t *testing.T, name string) []map[string]float64 {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 3 {
		t.Fatalf("%s: %v, %d rows", name, err, len(rows))
	}
	var out []map[string]float64
	for _, row := range rows[1:] {
		m := map[string]float64{}
		for i, cell := range row {
			v, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				t.Fatalf("%s: %q", name, cell)
			}
			m[rows[0][i]] = v
		}
		out = append(out, m)
	}
	return out
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %.9g, want %.9g ± %.2g", what, got, want, tol)
	}
}

// Commonly printed shop charts: inches along the rim for the degree marks of 6, 7 and 8 inch dampers (common practice,
// computed by the shop rule diameter × 3.14 ÷ 360 × degrees, printed to 0.01 in).
func TestShopRule(t *testing.T) {
	for _, c := range []struct{ inches, degrees, want float64 }{
		{6, 10, 0.52}, {6, 30, 1.57}, {6, 50, 2.62}, {7, 10, 0.61}, {7, 50, 3.05}, {8, 10, 0.70}, {8, 36, 2.51}, {8, 50, 3.49},
	} {
		d := engine.Damper{Diameter: quantity.Length(c.inches * 25.4)}
		near(t, "arc", d.Arc(quantity.Crank(c.degrees)).Inches(), c.want, 0.006)
	}
}

// By hand: at 50° the distances along the rim and with dividers, π·50/360 and sin 25° of the diameter, differ by 3.2 %.
func TestArcAgainstDividers(t *testing.T) {
	d := engine.Damper{Diameter: 165}
	near(t, "arc/chord − 1", float64(d.Arc(50)/d.Chord(50))-1, 0.032, 0.0005)
}

func TestSegmentsOfCircles(t *testing.T) {
	for _, row := range table(t, "circle_segments_12.csv") {
		a := quantity.Crank(row["angle_deg"])
		if a > 180 {
			continue
		}
		d := engine.Damper{Diameter: 2}
		near(t, "arc", float64(d.Arc(a)), row["arc"], 1e-9)
		near(t, "chord", float64(d.Chord(a)), row["chord"], 1e-9)
	}
}

func TestPistonTravelTable(t *testing.T) {
	for _, row := range table(t, "slider_crank_5deg.csv") {
		s := engine.SliderCrank{Stroke: 2, Rod: quantity.Length(row["rod_over_crank"])}
		near(t, "x/r", float64(s.Travel(quantity.Crank(row["angle_deg"]))), row["x_over_r"], 1e-9)
	}
}

// Worked value: r = 50, l = 200, θ = 60°: by hand 50·cos 60° + √(200² − (50·sin 60°)²) = 25 + 195.26 mm
// from the crank centre.
func TestPistonPositionWorkedValue(t *testing.T) {
	s := engine.SliderCrank{Stroke: 100, Rod: 200}
	near(t, "height over the crank centre", 250-float64(s.Travel(60)), 220.26, 0.005)
}

func TestContactAngleIsInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stroke := rapid.Float64Range(40, 200).Draw(t, "stroke")
		s := engine.SliderCrank{
			Stroke: quantity.Length(stroke), Rod: quantity.Length(stroke * rapid.Float64Range(1.3, 2.5).Draw(t, "rod")),
			Offset: quantity.Length(rapid.Float64Range(-2, 2).Draw(t, "offset")),
		}
		a := quantity.Crank(rapid.Float64Range(2, 120).Draw(t, "angle"))
		got, ok := s.ContactAngle(s.StopDepth(a))
		if !ok || math.Abs(float64(got-a)) > 1e-5 {
			t.Fatalf("stop set for %v makes contact at %v (%v)", a, got, ok)
		}
	})
}

func TestContactNeverMade(t *testing.T) {
	s := engine.SliderCrank{Stroke: 90, Rod: 152}
	for _, d := range []quantity.Length{-1, 0, 90, 120} {
		if a, ok := s.ContactAngle(d); ok {
			t.Errorf("a stop %v deep makes contact at %v", d, a)
		}
	}
}

// Two marks by a piston stop, true TDC midway: worked by hand.
func TestTrueTDC(t *testing.T) {
	for _, c := range []struct{ first, second, want float64 }{
		{-30, 30, 0}, {30, -30, 0}, {330, 30, 0}, {-28, 32, 2}, {-33, 27, -3}, {327, 27, -3}, {-100, 104, -178}, // more than half a turn apart: the middle of the shorter arc
	} {
		near(t, "true TDC", float64(engine.TrueTDC(quantity.Crank(c.first), quantity.Crank(c.second))), c.want, 1e-9)
	}
}

// One shaft degree is two crank degrees: the trade's classic slip has a test of its own.
func TestFactorTwo(t *testing.T) {
	if got := engine.ShaftToCrank(15); got != 30 {
		t.Errorf("15 shaft degrees are %v of the crank, want 30", got)
	}
	if got := engine.CrankToShaft(30); got != 15 {
		t.Errorf("30 crank degrees are %v of the shaft, want 15", got)
	}
}

// Sign of before: 10° BTDC is 10° short of the end of the cycle, and comes sooner than 5° BTDC.
func TestBeforeComesSooner(t *testing.T) {
	if p := engine.BeforeTDC(10); p != 710 {
		t.Errorf("10° BTDC at %v of the cycle, want 710", p)
	}
	if way := engine.BeforeTDC(10).To(engine.BeforeTDC(5)); way != 5 {
		t.Errorf("from 10° to 5° BTDC it is %v in running direction, want 5°", way)
	}
	if engine.MarkSide(engine.Clockwise) != engine.Clockwise {
		t.Error("front view, clockwise engine: marks before TDC are measured clockwise from the zero mark")
	}
}

// Period between firings 120/(N·n), by definition: 8 at 6000 rpm 2.5 ms; 8 at 7500 2.0 ms; 6 at 4200 4.762 ms.
func TestFiringPeriod(t *testing.T) {
	for _, c := range []struct {
		cylinders int
		rpm, ms   float64
	}{{8, 6000, 2.5}, {8, 7500, 2.0}, {6, 4200, 4.762}} {
		near(t, "period", engine.FiringPeriod(c.cylinders, quantity.Speed(c.rpm)).Milliseconds(), c.ms, 0.0005)
	}
}

func TestFiringsOddFire(t *testing.T) {
	// invented odd-fire V6: common crank pins on a 90° block give 90 and 150° by turns
	f, err := engine.NewFirings([]int{1, 4, 3, 6, 5, 2}, []quantity.Crank{150, 90, 150, 90, 150, 90})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []engine.Position{0, 150, 240, 390, 480, 630} {
		if f.TDC(i) != want {
			t.Errorf("firing %d at %v, want %v", i, f.TDC(i), want)
		}
	}
	if f.Even() || f.Smallest() != 90 || f.Before(0) != 90 || f.Before(1) != 150 {
		t.Errorf("even %v smallest %v before %v %v", f.Even(), f.Smallest(), f.Before(0), f.Before(1))
	}
	if _, ok := f.Companion(0); ok {
		t.Error("150/90 intervals have no piston 360° from cylinder 1's firing")
	}
}

func TestCompanions(t *testing.T) {
	f, _ := engine.NewFirings([]int{1, 5, 3, 6, 2, 4}, nil)
	for i := range 6 {
		if j, ok := f.Companion(i); !ok || j != (i+3)%6 {
			t.Errorf("companion of place %d is %d (%v), want %d", i, j, ok, (i+3)%6)
		}
	}
	three, _ := engine.NewFirings([]int{1, 3, 2}, nil)
	if _, ok := three.Companion(0); ok {
		t.Error("an even-fire three has no companions")
	}
}

func TestFiringsRefused(t *testing.T) {
	for name, c := range map[string]struct {
		order     []int
		intervals []quantity.Crank
	}{
		"empty": {nil, nil}, "twice": {[]int{1, 1}, nil}, "gap": {[]int{1, 3}, nil}, "sum": {[]int{1, 2}, []quantity.Crank{360, 350}},
		"negative": {[]int{1, 2}, []quantity.Crank{800, -80}}, "count": {[]int{1, 2}, []quantity.Crank{720}}, "many": {make([]int, 25), nil},
	} {
		if _, err := engine.NewFirings(c.order, c.intervals); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

func TestFiringOrderAsPeopleWriteIt(t *testing.T) {
	for _, text := range []string{"1-5-3-6-2-4", "153624", "1 5 3 6 2 4", "1,5,3,6,2,4", "1, 5, 3, 6, 2, 4", "1–5–3–6–2–4", "1/5/3/6/2/4", "1 → 5 → 3 → 6 → 2 → 4", " 1-5-3-6-2-4 "} {
		if got, err := engine.ParseOrder(strings.TrimSpace(text)); err != nil || !slices.Equal(got, []int{1, 5, 3, 6, 2, 4}) {
			t.Errorf("%q: %v %v", text, got, err)
		}
	}
	if got, err := engine.ParseOrder("1-12-4-9-2-11"); err != nil || !slices.Equal(got, []int{1, 12, 4, 9, 2, 11}) {
		t.Errorf("two digits between hyphens: %v %v", got, err)
	}
	if got, err := engine.ParseOrder("1"); err != nil || !slices.Equal(got, []int{1}) {
		t.Errorf("a single: %v %v", got, err)
	}
	for text, want := range map[string]string{"": "no firing order", "-": "no firing order", "-1-2": "no firing order", "1-x": "no cylinder number", "1.5": "no cylinder number",
		"1034": "no cylinder number", "1234567891": "put hyphens", "one": "no cylinder number", "1-999": "no cylinder number", "１２": "no cylinder number"} {
		if got, err := engine.ParseOrder(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v %v, want %q", text, got, err, want)
		}
	}
}

func TestDirectionAsPeopleWriteIt(t *testing.T) {
	for text, want := range map[string]engine.Direction{"CW": engine.Clockwise, "Clockwise": engine.Clockwise, "c.w.": engine.Clockwise, "ccw": engine.CounterClockwise,
		"CCW": engine.CounterClockwise, "Anti-Clockwise": engine.CounterClockwise, "counter clockwise": engine.CounterClockwise, "anticlockwise": engine.CounterClockwise} {
		if got, err := engine.ParseDirection(text); err != nil || got != want {
			t.Errorf("%q: %v %v", text, got, err)
		}
	}
	for _, text := range []string{"", "left", "cww", "right-hand"} { // left and right mean nothing without an agreed end
		if got, err := engine.ParseDirection(text); err == nil {
			t.Errorf("%q is read as %v", text, got)
		}
	}
}

func TestPositionsWrap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := quantity.Crank(rapid.Float64Range(-1e6, 1e6).Draw(t, "a"))
		p := engine.At(a)
		if p < 0 || p >= 720 {
			t.Fatalf("%v lands at %v", a, p)
		}
		b := quantity.Crank(rapid.Float64Range(-359, 359).Draw(t, "b"))
		if d := p.Add(b).From(p); math.Abs(float64(d-b)) > 1e-9 {
			t.Fatalf("moved by %v, found %v", b, d)
		}
	})
}

// The wrist pin offset by coordinates written out anew: the crank pin stands at (r·sin θ, r·cos θ), to the right after
// TDC on a crank that turns clockwise; the wrist pin stands off the axis by d. Under gas pressure the rod is pressed,
// so it pushes the wrist pin away from the crank pin: sideways towards the side on which the crank pin is not. An
// offset towards that major thrust side is positive, so the pin is at −d.
func TestPinOffsetLiesOnTheMajorThrustSide(t *testing.T) {
	const r, l, d = 45.0, 152.0, 1.5 // invented
	height := func(th float64) float64 {
		crankX, crankY, pinX := r*math.Sin(th), r*math.Cos(th), -d
		return crankY + math.Sqrt(l*l-(crankX-pinX)*(crankX-pinX))
	}
	if push := -d - r*math.Sin(math.Pi/3); push > 0 {
		t.Fatal("at 60° after TDC the rod must push to the left, where the pin is offset to")
	}
	top, best := 0.0, math.Inf(-1)
	for th := -0.1; th < 0.1; th += 1e-6 {
		if h := height(th); h > best {
			top, best = th, h
		}
	}
	s := engine.SliderCrank{Stroke: 2 * r, Rod: l, Offset: d}
	for _, a := range []float64{-120, -45, -10, 30, 60, 90, 170} {
		near(t, "travel with an offset pin", float64(s.Travel(quantity.Crank(a))), best-height(top+a*math.Pi/180), 2e-4)
	}
	near(t, "45° after TDC", float64(s.Travel(45)), 16.5757, 1e-4) // the same coordinates, in another language
	near(t, "45° before TDC", float64(s.Travel(-45)), 16.5217, 1e-4)
}

// By hand (figures invented): bore 94, stroke 97 mm sweep π/4·9.4²·9.7 = 673.16 cm³. Chamber 62, gasket π/4·9.5²·0.12 =
// 8.506, deck π/4·9.4²·0.05 = 3.470, dish 6, dome 0: together 79.976 cm³, so 1 + 673.16/79.976 = 9.417.
func TestCompressionRatioByHand(t *testing.T) {
	volume := func(v, limit quantity.Volume) quantity.Measured[quantity.Volume] {
		return quantity.Measured[quantity.Volume]{Value: v, Limit: limit, Stated: true}
	}
	length := func(v, limit quantity.Length) quantity.Measured[quantity.Length] {
		return quantity.Measured[quantity.Length]{Value: v, Limit: limit, Stated: true}
	}
	c := engine.Chamber{Bore: 94, Stroke: 97, Volume: volume(62, 1), GasketBore: length(95, 0.5), GasketThickness: length(1.2, 0.1), Deck: length(0.5, 0.05), Dish: volume(6, 0.5), Dome: volume(0, 0)}
	near(t, "swept", float64(c.Swept()), 673.16, 0.005)
	near(t, "clearance", float64(c.Clearance()), 79.976, 0.001)
	near(t, "ratio", c.Ratio(), 9.417, 0.0005)
	// u of each part by its limit over √3: chamber 0.577, dish 0.289, gasket bore π/2·95·1.2/1000·0.289 = 0.0517,
	// gasket π/4·9.5²·0.1·0.577 = 0.409, deck π/4·9.4²·0.1·0.0289 = 0.200; root of the sum of squares 0.792 cm³, times
	// 673.16/79.976² = 0.10525.
	near(t, "u of the ratio", c.RatioU(), 0.0834, 0.0001)
	c.Dome = volume(8, 0) // a dome takes room away: 71.976 cm³
	near(t, "ratio with a dome", c.Ratio(), 10.353, 0.0005)
	c.Deck.Stated = false
	if !math.IsInf(c.RatioU(), 1) {
		t.Error("a part without ± leaves the ratio's known")
	}
}

// By hand: 8^1.3 = 14.929, so a charge squeezed to an eighth from 1.013 bar shows 15.123 − 1.013 = 14.110 bar; with 0.8
// of the stroke left it was 1 + 7/0.8 = 9.75.
func TestRatioOfCrankingPressure(t *testing.T) {
	near(t, "ratio", engine.RatioOfPressure(14.110e5, 1.013e5, 1.3, 1), 8, 0.001)
	near(t, "ratio after a late valve", engine.RatioOfPressure(14.110e5, 1.013e5, 1.3, 0.8), 9.75, 0.001)
	near(t, "no pressure", engine.RatioOfPressure(-1, 1.013e5, 1.3, 0.8), 1, 0)
}
