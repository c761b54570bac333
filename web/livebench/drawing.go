package livebench

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"phasewright/web/page"
)

// benchView is what is drawn once: the distributor from above and the damper from the front, as they stood when the
// bench was set up.
type benchView struct {
	Steers, HasCam         bool
	Towers                 []benchTower
	TowerR, Number         string
	Vanes                  []string
	CamVane                string
	CrankPickup, CamPickup benchPickup
	Scale                  string // ticks of the housing's travel
	TurnArrow, TurnHead    string
	Turn, Rotation         string // in words
	Wheel, Damper          string // how far each turns for a crank degree
	Tape                   benchTape
	Describe               string
}

type benchTower struct {
	X, Y  string
	Name  string
	Spark string // path
}

type benchPickup struct{ Path, X, Y, LampX, LampY string }

// benchTape is the strip on the damper's rim.
type benchTape struct {
	Ticks, Fives, Tens string
	Labels             []tapeLabel
	Lead               string // turn of the mark at the trigger lead
	LeadText           string
	Size               string
}

type tapeLabel struct {
	Turn, Text string
}

// Radii of the distributor's drawing, in its own units.
const (
	capR, towerRing, insideR = 120.0, 102.0, 84.0
	vaneIn, vaneOut          = 49.0, 61.0
	camIn, camOut            = 31.0, 41.0
	rimR                     = 300.0
)

// view draws the bench.
func (r *rig) view() *benchView {
	p, c := r.base, r.config
	v := &benchView{Steers: len(p.towers) > 0, HasCam: c.CamFitted,
		Turn: c.Distributor.Rotation.FromAbove(), Rotation: c.Engine.Rotation.FromFront(),
		Wheel: short(p.rotor*shaftTurn(1), 1), Damper: short(p.crank, 0)}
	n := len(c.Engine.FiringOrder)
	tr := min(15, towerRing*math.Sin(math.Pi/float64(max(n, 2)))*0.84)
	v.TowerR, v.Number = short(tr, 1), short(min(15, tr*1.15), 1)
	names := r.towerNames()
	for i, t := range p.towers {
		x, y := clockXY(towerRing, float64(t.Angle))
		v.Towers = append(v.Towers,
			benchTower{short(x, 1), short(y, 1), names[i], zigzag(towerRing-tr-9, towerRing-tr, float64(t.Angle))})
	}
	for i := range c.Crank.Vanes {
		width := float64(c.Crank.Vanes[i])
		lead := r.base0(i)
		v.Vanes = append(v.Vanes, sector(vaneIn, vaneOut, lead-p.rotor*width, lead))
	}
	if c.CamFitted && len(r.base.camVane) == 2 {
		v.CamVane = sector(camIn, camOut, r.base.camVane[1], r.base.camVane[0])
	}
	v.CrankPickup = pickupAt(crankPickupAt, vaneIn-3.5, vaneOut+3.5, vaneOut+10)
	v.CamPickup = pickupAt(camPickupAt, camIn-3.5, camOut+3.5, camOut+30)
	travel := float64(c.Distributor.HousingTravel)
	if travel <= 0 || travel > 60 {
		travel = 30
	}
	var b strings.Builder
	for a := -math.Floor(travel/5) * 5; a <= travel; a += 5 {
		out := 127.0
		if a == 0 {
			out = 131
		}
		tick(&b, 122, out, 180+a)
	}
	v.Scale = b.String()
	from := p.first + p.rotor*20
	v.TurnArrow = arc(22, from, from+p.rotor*110)
	v.TurnHead = arrowHead(22, from+p.rotor*110, p.rotor)
	v.Tape = r.tape()
	v.Describe = fmt.Sprintf("Distributor from above: %d towers, the rotor turns %s.", len(v.Towers), v.Turn)
	if !v.Steers {
		v.Describe = fmt.Sprintf("Signal unit from above, without a cap: the shaft turns %s.", v.Turn)
	}
	return v
}

// base0 is the screen angle of crank vane k's leading edge as drawn.
func (r *rig) base0(k int) float64 {
	if k < len(r.base.vanes) {
		return r.base.vanes[k]
	}
	return 0
}

// tape is the strip of degrees from 40 after to 70 before the zero mark. Before lies ahead of it in running direction.
func (r *rig) tape() benchTape {
	t := benchTape{}
	var ones, fives, tens strings.Builder
	for d := -40; d <= 70; d++ {
		a := r.base.crank * float64(d)
		switch {
		case d == 0: // the zero mark is drawn by itself
		case d%10 == 0:
			tick(&tens, rimR-22, rimR, a)
		case d%5 == 0:
			tick(&fives, rimR-16, rimR, a)
		default:
			tick(&ones, rimR-10, rimR, a)
		}
		if d%10 == 0 {
			text := strconv.Itoa(d)
			if d < 0 {
				text = "−" + strconv.Itoa(-d)
			}
			t.Labels = append(t.Labels, tapeLabel{short(a, 1), text})
		}
	}
	t.Ticks, t.Fives, t.Tens = ones.String(), fives.String(), tens.String()
	lead := float64(r.config.Controller.Lead)
	t.Lead, t.LeadText = short(r.base.crank*lead, 1), "lead "+page.Figure(lead, 0)+"°"
	return t
}

func clockXY(r, deg float64) (x, y float64) {
	s, c := math.Sincos(deg * math.Pi / 180)
	return r * s, -r * c
}

// sector is a ring's piece between two clock angles.
func sector(in, out, a, b float64) string {
	if b < a {
		a, b = b, a
	}
	large := 0
	if b-a > 180 {
		large = 1
	}
	x1, y1 := clockXY(out, a)
	x2, y2 := clockXY(out, b)
	x3, y3 := clockXY(in, b)
	x4, y4 := clockXY(in, a)
	return fmt.Sprintf("M%.2f %.2fA%g %g 0 %d 1 %.2f %.2fL%.2f %.2fA%g %g 0 %d 0 %.2f %.2fZ",
		x1, y1, out, out, large, x2, y2, x3, y3, in, in, large, x4, y4)
}

func arc(r, a, b float64) string {
	x1, y1 := clockXY(r, a)
	x2, y2 := clockXY(r, b)
	sweep := 1
	if b < a {
		sweep = 0
	}
	return fmt.Sprintf("M%.2f %.2fA%g %g 0 0 %d %.2f %.2f", x1, y1, r, r, sweep, x2, y2)
}

func arrowHead(r, at, way float64) string {
	x1, y1 := clockXY(r, at+way*24)
	x2, y2 := clockXY(r-4, at)
	x3, y3 := clockXY(r+4, at)
	return fmt.Sprintf("M%.2f %.2fL%.2f %.2fL%.2f %.2fZ", x1, y1, x2, y2, x3, y3)
}

func tick(b *strings.Builder, in, out, deg float64) {
	x1, y1 := clockXY(in, deg)
	x2, y2 := clockXY(out, deg)
	fmt.Fprintf(b, "M%s %sL%s %s", short(x1, 2), short(y1, 2), short(x2, 2), short(y2, 2))
}

// zigzag is the spark from the rotor's tip to a tower.
func zigzag(from, to, deg float64) string {
	var b strings.Builder
	for i, side := range []float64{0, 2.4, -2.4, 2, 0} {
		x, y := clockXY(from+(to-from)*float64(i)/4, deg+side)
		letter := "L"
		if i == 0 {
			letter = "M"
		}
		fmt.Fprintf(&b, "%s%.1f %.1f", letter, x, y)
	}
	return b.String()
}

// pickupAt is a pickup that reaches around its ring at a clock angle, with the place of its name.
func pickupAt(deg, in, out, name float64) benchPickup {
	half := 7.0
	s, c := math.Sincos(deg * math.Pi / 180)
	at := func(r, across float64) string {
		return fmt.Sprintf("%.1f %.1f", r*s+across*c, -r*c+across*s)
	}
	p := benchPickup{Path: "M" + at(in, -half) + "L" + at(out, -half) + "L" + at(out, half) + "L" + at(in, half) + "Z"}
	x, y := clockXY(name, deg)
	p.X, p.Y = short(x, 1), short(y, 1)
	return p
}
