package drawing

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

// Lengths are measured in the PDF that is made, by another program. A shop rule reads
// to half a millimetre; the sheet must be ten times better.
const near = 0.05

// TestCheckLine measures the line that the technician measures: 100.0 mm.
func TestCheckLine(t *testing.T) {
	strip, err := sandpiper().Strip()
	if err != nil {
		t.Fatal(err)
	}
	wheel, err := WheelFace{Diameter: 150, Turn: Clockwise, Sheet: Letter}.Page()
	if err != nil {
		t.Fatal(err)
	}
	sheets := []*Drawing{strip, wheel}
	for _, size := range []SheetSize{A4, Letter} {
		tape := sandpiper()
		tape.Sheet = size
		pages, err := tape.Pages()
		if err != nil {
			t.Fatal(err)
		}
		sheets = append(sheets, pages...)
	}
	found := map[int]float64{}
	for _, s := range strokes(t, pdfFile(t, sheets...)) {
		if l := s.length(); l > 98 && l < 102 && len(s.pts) == 2 && math.Abs(s.pts[0].Y-s.pts[1].Y) < 0.01 {
			found[s.page] = l
		}
	}
	for i := range sheets {
		if l, ok := found[i+1]; !ok || math.Abs(l-100) > near {
			t.Errorf("sheet %d: the check line measures %.4f mm, want 100.0", i+1, l)
		}
	}
}

// TestInchCheckLine measures both lines of an inch shop's paper: 100 mm, and 4 in = 101.6 mm (the inch of 1959 is 25.4 mm
// exactly), on tape, strip and wheel.
func TestInchCheckLine(t *testing.T) {
	inch := Lengths{Rules: InchRules}
	tape := sandpiper()
	tape.Lengths, tape.Sheet = inch, Letter
	sheets, err := tape.Pages()
	if err != nil {
		t.Fatal(err)
	}
	strip, err := tape.Strip()
	if err != nil {
		t.Fatal(err)
	}
	wheel, err := WheelFace{Diameter: 177.8, Turn: Clockwise, Sheet: Letter, Lengths: inch}.Page()
	if err != nil {
		t.Fatal(err)
	}
	sheets = append(sheets, strip, wheel)
	found := map[int][2]int{}
	for _, s := range strokes(t, pdfFile(t, sheets...)) {
		if len(s.pts) != 2 || s.pts[0].Y != s.pts[1].Y {
			continue
		}
		n := found[s.page]
		for i, want := range []float64{100, 101.6} {
			if math.Abs(s.length()-want) < 0.001 {
				n[i]++
			}
		}
		found[s.page] = n
	}
	for i, d := range sheets {
		if found[i+1] != [2]int{1, 1} {
			t.Errorf("%s, sheet %d: %v lines of 100.000 and 101.600 mm, want one of each", d.Title, i+1, found[i+1])
		}
		for _, words := range []string{"measure this line: 4 in", "measure this line: 100.0 mm"} {
			middle(t, d, words)
		}
	}
}

// TestPrinterCorrection: a printer that made 99.6 mm of 100 gets everything along the strip
// longer by 100/99.6, so that its print is right.
func TestPrinterCorrection(t *testing.T) {
	tape := sandpiper()
	tape.Measured, tape.Thickness = 99.6, 0
	pages, err := tape.Pages()
	if err != nil {
		t.Fatal(err)
	}
	const printer = 99.6 / 100
	want := map[string]float64{"check line": 100, "trigger lead 60°": math.Pi * 168 * 60 / 360}
	got := map[string]float64{}
	all := strokes(t, pdfFile(t, pages...))
	for _, s := range all {
		if l := s.length() * printer; math.Abs(l-100) < 1 && s.pts[0].Y == s.pts[1].Y {
			got["check line"] = l
		}
	}
	zero, lead := lines(all)
	got["trigger lead 60°"] = (lead - zero) * printer
	for name, w := range want {
		if math.Abs(got[name]-w) > near {
			t.Errorf("%s comes out of that printer %.3f mm long, want %.3f", name, got[name], w)
		}
	}
}

// lines returns the x of the zero line and of the line of a mark farthest from it: words may interrupt both.
func lines(all []stroke) (zero, far float64) {
	zero, far = math.NaN(), math.NaN()
	for _, s := range all {
		if len(s.pts) == 2 && s.pts[0].X == s.pts[1].X {
			switch {
			case math.Abs(s.width-0.5) < 0.02:
				zero = s.pts[0].X
			case math.Abs(s.width-0.4) < 0.02 && (math.IsNaN(far) || math.Abs(s.pts[0].X-zero) > math.Abs(far-zero)):
				far = s.pts[0].X
			}
		}
	}
	return zero, far
}

// TestTicks measures every tick of tapes for seven rims: φ degrees lie π·D·φ/360 from the
// zero line (arc of a circle, any handbook; π from memory here to ten digits).
func TestTicks(t *testing.T) {
	const pi = 3.141592654
	for _, diameter := range []float64{60, 98.5, 152.4, 168, 177.8, 203.2, 320} {
		for _, turn := range []Turn{Clockwise, Counterclockwise} {
			t.Run(fmt.Sprintf("%g mm %s", diameter, turn), func(t *testing.T) {
				tape := Tape{Name: "invented", Diameter: diameter, Turn: turn, From: -10, To: 60}
				pages, err := tape.Pages()
				if err != nil {
					t.Fatal(err)
				}
				all := strokes(t, pdfFile(t, pages[0]))
				zero, _ := lines(all)
				seen := map[int]bool{}
				for _, s := range all {
					up := len(s.pts) == 2 && math.Abs(s.pts[0].X-s.pts[1].X) < 0.001
					if l := s.length(); !up || (math.Abs(l-3.2) > 0.01 && math.Abs(l-4.6) > 0.01 && math.Abs(l-6) > 0.01) {
						continue
					}
					// Before TDC lies to the right for a clockwise engine with the front edge
					// below: derived by hand in the comment on Tape.
					along := (s.pts[0].X - zero) * float64(turn)
					deg := math.Round(along * 360 / (pi * diameter))
					if want := pi * diameter * deg / 360; math.Abs(along-want) > near {
						t.Errorf("tick at %.3f mm, want %.3f mm for %g°", along, want, deg)
					}
					seen[int(deg)] = true
				}
				step := 1
				if diameter < 80 {
					step = 2 // ticks of 0.5 mm run together
				}
				for deg := -10; deg <= 60; deg += step {
					if deg != 0 && !seen[deg] {
						t.Errorf("no tick at %d°", deg)
					}
				}
			})
		}
	}
}

// TestTickAgainstTable compares distances with a handbook table of arcs at radius 1.
func TestTickAgainstTable(t *testing.T) {
	f, err := os.Open("testdata/circle_segments.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows := 0
	for sc := bufio.NewScanner(f); sc.Scan(); {
		cells := strings.Split(sc.Text(), ",")
		deg, err1 := strconv.ParseFloat(cells[0], 64)
		if err1 != nil || len(cells) != 4 {
			continue // heading and source
		}
		arc, err := strconv.ParseFloat(cells[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		rows++
		for _, d := range []float64{152.4, 168, 203.2} {
			if got := (Tape{Diameter: d}).Distance(deg); math.Abs(got-arc*d/2) > 5e-7*d {
				t.Errorf("%g° on %g mm: %.5f mm, table %.5f", deg, d, got, arc*d/2)
			}
		}
	}
	if rows < 9 {
		t.Fatalf("only %d rows read", rows)
	}
}

// TestThickness: the middle of a bent tape keeps its length, so a tape t thick on a rim D
// is as long as a line on D + t.
func TestThickness(t *testing.T) {
	thin, thick := Tape{Diameter: 168}, Tape{Diameter: 168, Thickness: 0.5}
	if got, want := thick.Distance(360)-thin.Distance(360), math.Pi*0.5; math.Abs(got-want) > 1e-9 {
		t.Errorf("once round, 0.5 mm of tape adds %.4f mm, want %.4f", got, want)
	}
}

// TestSplit measures a tape that goes all the way round in pieces: laid together, its
// ticks run on without a gap, 720 halves of the way round in order.
func TestSplit(t *testing.T) {
	for _, diameter := range []float64{168, 600, 5000} {
		tape := Tape{Diameter: diameter, Turn: Clockwise, From: -180, To: 180}
		ps := tape.pieces(270)
		if got, want := ps[len(ps)-1].to-ps[0].from, math.Pi*diameter; math.Abs(got-want) > 1e-6 {
			t.Errorf("%g mm: pieces sum to %.4f mm, the rim is %.4f mm round", diameter, got, want)
		}
		for i, p := range ps {
			if p.to-p.from+glueTab > 270+1e-9 || p.to <= p.from {
				t.Errorf("%g mm: piece %d is %.2f mm long", diameter, i+1, p.to-p.from)
			}
			if i > 0 && p.from != ps[i-1].to {
				t.Errorf("%g mm: piece %d starts at %.3f, the last ended at %.3f", diameter, i+1, p.from, ps[i-1].to)
			}
		}
	}
}

// TestRunningWay reads where the words of a printed tape stand: with the front edge
// below, 60 stands right of 10 for a clockwise engine, left for a counterclockwise one.
func TestRunningWay(t *testing.T) {
	for _, turn := range []Turn{Clockwise, Counterclockwise} {
		tape := Tape{Diameter: 168, Turn: turn, From: 0, To: 70}
		pages, err := tape.Pages()
		if err != nil {
			t.Fatal(err)
		}
		at := map[string]float64{}
		for _, line := range strings.Split(run(t, "pdftotext", "-bbox", pdfFile(t, pages...), "-"), "\n") {
			var x0, y0, x1, y1 float64
			if n, _ := fmt.Sscanf(strings.TrimSpace(line), `<word xMin="%f" yMin="%f" xMax="%f" yMax="%f">`, &x0, &y0, &x1, &y1); n == 4 {
				word := line[strings.Index(line, ">")+1 : strings.LastIndex(line, "<")]
				if y0 > 200 && y0 < 330 { // the first strip
					at[word] = x0
				}
			}
		}
		if at["10"] == 0 || at["60"] == 0 {
			t.Fatalf("numbers not found: %v", at)
		}
		if right := at["60"] > at["10"]; right != (turn == Clockwise) {
			t.Errorf("%s: 60 stands at %.0f, 10 at %.0f pt", turn, at["60"], at["10"])
		}
	}
}

// TestSquareLines: what is drawn level is level, to a hundredth of a millimetre, anywhere on a large sheet.
func TestSquareLines(t *testing.T) {
	d := New(900, 600, "square", "")
	for i := range 60 {
		v := 3 + float64(i)*9.87654
		d.Line(v, 1, v, 599, Fine)
		d.Line(1, v, 899, v, Fine)
	}
	for i, s := range strokes(t, pdfFile(t, d)) {
		v := 3 + float64(i/2)*9.87654
		for _, p := range s.pts {
			got := p.X
			if i%2 == 1 {
				got = p.Y
			}
			if math.Abs(got-v) > 0.01 {
				t.Fatalf("line %d lies at %.4f mm, want %.4f", i, got, v)
			}
		}
	}
}

// TestWheel measures the angle of every tick of a degree wheel.
func TestWheel(t *testing.T) {
	for _, turn := range []Turn{Clockwise, Counterclockwise} {
		d, err := WheelFace{Diameter: 180, Turn: turn}.Page()
		if err != nil {
			t.Fatal(err)
		}
		c, n := Point{105, 9 + 17 + 90}, map[int]bool{}
		for _, s := range strokes(t, pdfFile(t, d)) {
			if len(s.pts) != 2 || math.Abs(math.Hypot(s.pts[0].X-c.X, s.pts[0].Y-c.Y)-90) > 0.01 {
				continue
			}
			deg := math.Atan2(s.pts[0].X-c.X, c.Y-s.pts[0].Y) * 180 / math.Pi
			if math.Abs(deg-math.Round(deg)) > 0.02 {
				t.Errorf("tick at %.4f°", deg)
			}
			n[(int(math.Round(deg))+360)%360] = true
		}
		if len(n) != 360 {
			t.Errorf("%d ticks, want 360", len(n))
		}
	}
}

// TestArcs: the curves that stand for arcs keep to the circle within 5 millionths.
func TestArcs(t *testing.T) {
	p := new(Path).Arc(Point{10, 20}, 100, 17, 311)
	from := Polar(Point{10, 20}, 100, 17)
	worst := 0.0
	p.segs[1].bezier(func(a, b, to Point) {
		for i := range 21 {
			u := float64(i) / 20
			v := 1 - u
			x := v*v*v*from.X + 3*v*v*u*a.X + 3*v*u*u*b.X + u*u*u*to.X
			y := v*v*v*from.Y + 3*v*v*u*a.Y + 3*v*u*u*b.Y + u*u*u*to.Y
			worst = math.Max(worst, math.Abs(math.Hypot(x-10, y-20)-100))
		}
		from = to
	})
	if worst > 5e-4 {
		t.Errorf("an arc of 100 mm radius is off by %.6f mm", worst)
	}
	if end := Polar(Point{10, 20}, 100, 17+311); math.Hypot(from.X-end.X, from.Y-end.Y) > 1e-9 {
		t.Errorf("the arc ends at %v, want %v", from, end)
	}
}
