package drawing

import (
	"fmt"
	"math"
)

// HousingTurn is a turn of the housing seen from above, with words for it.
type HousingTurn struct {
	Way   Turn
	Words string
}

// VaneArc is a vane on the wheel: its clock angle where it begins and how far it goes, clockwise.
type VaneArc struct{ From, Sweep float64 }

// UnitClamp is what is done to the clamp.
type UnitClamp uint8

// The clamps: not shown, finger tight, tightened with the spanner.
const (
	NoClamp UnitClamp = iota
	ClampLoose
	ClampTight
)

// UnitAbove is the distributor from above with its cap off: housing, rotor, vane wheel and a pickup. All angles are
// clock angles in degrees.
type UnitAbove struct {
	Width float64 // mm
	Turn  Turn    // of the rotor, seen from above
	// Rotor is where the tip points; Held where it is held before it drops, which is drawn dashed. At most one each.
	Rotor, Held []float64
	HeldWords   string // on the angle between the two
	No1         []float64
	No1Words    string // of the mark on the housing that stands at the first cylinder's terminal
	Turns       []HousingTurn
	Vanes       []VaneArc
	Pickup      []float64 // where the pickup stands
	Begin       []float64 // where it stands before the housing is turned
	BeginWords  string
	Lamps       []LampLook // what the signal lamp shows, before and after
	Clamp       UnitClamp
	Scribed     bool    // housing scribed to block
	Largest     float64 // most that the housing's radius may be, mm; 0: as large as fits
	Below       []string
	Prefix      string
}

// Draw lays the drawing out.
func (v UnitAbove) Draw() (*Drawing, error) {
	const where = "distributor from above"
	if err := v.Turn.usable(where); err != nil {
		return nil, err
	}
	if err := stepWidth(where, v.Width); err != nil {
		return nil, err
	}
	for _, list := range [][]float64{v.Rotor, v.Held, v.No1, v.Pickup, v.Begin} {
		if len(list) > 1 || !finite(list...) {
			return nil, fmt.Errorf("%s – angles %v – give one finite number of degrees, or none", where, list)
		}
	}
	if len(v.Vanes) > 24 || len(v.Turns) > 2 || len(v.Lamps) > 2 {
		return nil, fmt.Errorf("%s – %d vanes, %d turns, %d lamps – give at most 24, 2 and 2", where, len(v.Vanes),
			len(v.Turns), len(v.Lamps))
	}
	r := math.Min(v.Width*0.29, 38)
	if v.Largest > 0 {
		r = math.Min(r, math.Max(v.Largest, 15))
	}
	top, foot := 5.5, 5.5
	at := v.arrowsAt()
	switch {
	case len(v.Turns) == 0:
	case at == 0:
		top = 12.5
	case at == 180:
		foot = 12.5
	}
	if v.Clamp != NoClamp || v.Scribed {
		foot = 10
	}
	c := Point{v.Width / 2, top + r}
	high := c.Y + r + foot
	if len(v.Lamps) > 0 {
		high += lampsHigh
	}
	below := append(unscaled("seen from above; the rotor turns "+v.Turn.String(), v.Width), v.Below...)
	b := newStepBoard(v.Width, high, "Distributor from above", v.describe(), v.Prefix, below)
	b.high = c.Y + r + foot // names stand above the lamps
	l := aboveLayout{v, b, c, r, at}
	l.draw()
	if len(v.Lamps) > 0 {
		b.lamps(v.Width/2, high-lampsHigh/2, v.Lamps)
	}
	return b.d, nil
}

// arrowsAt is the clock angle at which the housing's arrows are clear of all that has words: above or below where they
// have long words of their own.
func (v UnitAbove) arrowsAt() float64 {
	places := []float64{0, 180, 90, 270}
	if len(v.Turns) > 1 {
		places = places[:2]
	}
	best, most := 0.0, -1.0
	for _, at := range places {
		clear := 360.0
		for _, list := range [][]float64{v.No1, v.Pickup, v.Begin} {
			for _, deg := range list {
				clear = math.Min(clear, math.Abs(math.Mod(math.Mod(deg-at, 360)+540, 360)-180))
			}
		}
		if clear > most+20 && most < 62 {
			best, most = at, clear
		}
	}
	return best
}

func (v UnitAbove) describe() string {
	s := "Distributor from above, cap off; the rotor turns " + v.Turn.String() + "."
	for _, t := range v.Turns {
		s += " Turn the housing " + t.Way.String() + ": " + t.Words + "."
	}
	if len(v.Held) > 0 && len(v.Rotor) > 0 {
		way := Clockwise
		if math.Mod(v.Rotor[0]-v.Held[0]+540, 360) < 180 {
			way = Counterclockwise
		}
		s += " The rotor is held at the dashed place and turns " + way.String() + " as it drops: " + v.HeldWords + "."
	}
	for i, l := range v.Lamps {
		word := "The lamp is "
		if i > 0 {
			word = "After that it is "
		}
		if l.Lit {
			word += "on"
		} else {
			word += "off"
		}
		s += " " + word + ": " + l.Word + "."
	}
	return s
}

type aboveLayout struct {
	v      UnitAbove
	b      *stepBoard
	c      Point
	r      float64
	arrows float64 // clock angle of the middle of the housing's arrows
}

func (l aboveLayout) draw() {
	v, b, c, r := l.v, l.b, l.c, l.r
	d := b.d
	d.Group(Group{ID: "housing", Class: "housing"}, func() {
		b.drawn(CirclePath(c, r), Outline.Filled(Paper))
		b.drawn(CirclePath(c, r*0.9), Fine)
	})
	if len(v.Vanes) > 0 {
		d.Group(Group{ID: "vanes", Class: "vanes"}, func() {
			for _, a := range v.Vanes {
				b.drawn(SectorPath(c, r*0.42, r*0.64, a.From, a.Sweep), Fine.Filled(Wash))
			}
		})
	}
	turnArrow(d, c, r*0.33, l.away(), 70, v.Turn)
	b.avoid(CirclePath(c, r*0.33), 20)
	for _, deg := range v.Held {
		d.Group(Group{ID: "held", Class: "held"}, func() { l.arm(deg, Fine.Dashed(Dashed)) })
	}
	for _, deg := range v.Rotor {
		rotorArm(d, c, r*0.86, deg)
		b.edge(Polar(c, r*0.2, deg+180), Polar(c, r*0.86, deg), 50)
		for _, side := range []float64{-1, 1} { // its outline
			b.edge(Polar(c, r*0.12, deg+side*90), Polar(Polar(c, r*0.86, deg), r*0.05, deg+side*90), 50)
		}
	}
	for _, deg := range v.No1 {
		d.Group(Group{ID: "no-1", Class: "mark"}, func() {
			b.drawn(Poly(Polar(c, r*0.9, deg), Polar(c, r+2.4, deg)), Heavy.Wide(0.8))
		})
	}
	l.pickups()
	l.clamp()
	l.turns()
	l.pickupNames()
	for _, deg := range v.No1 {
		b.name(v.No1Words, Label.Heavy(), placesBy(c, r+2.4, deg, v.No1Words, Label.Heavy())...)
	}
	if len(v.Held) > 0 && len(v.Rotor) > 0 {
		l.heldArc(v.Held[0], v.Rotor[0])
	}
}

// away is a clock angle for the rotor's arrow that is clear of the rotor.
func (l aboveLayout) away() float64 {
	if len(l.v.Rotor) == 0 {
		return -35
	}
	return l.v.Rotor[0] + float64(l.v.Turn)*40
}

// arm draws the rotor's outline at clock angle deg.
func (l aboveLayout) arm(deg float64, s Style) {
	r := l.r * 0.86
	w := r * 0.1
	at := func(x, y float64) Point { return Polar(Polar(l.c, y, deg), x, deg+90) }
	p := Poly(at(-w*1.4, 0), at(-w*0.55, r), at(w*0.55, r), at(w*1.4, 0))
	l.b.drawn(p, s)
}

// heldArc is the angle that the rotor turns through as it drops.
func (l aboveLayout) heldArc(from, to float64) {
	sweep := math.Mod(to-from+540, 360) - 180
	r := l.r * 0.7
	l.b.d.Group(Group{ID: "turns", Class: "dimensions"}, func() { l.b.bent(l.c, r, from, sweep, 0.5) })
	t := Value.Sized(3.4)
	mid := from + sweep/2
	w, h := Width(l.v.HeldWords, t), t.Size*capHeight
	var all []Point
	for _, f := range []float64{0.5, 0.42, 0.34} {
		all = append(all, Polar(l.c, l.r*f, mid))
	}
	all = append(all, Polar(l.c, l.r+3+reach(mid, w, h), mid))
	l.b.name(l.v.HeldWords, t, append(all, placesBy(l.c, l.r, mid, l.v.HeldWords, t)...)...)
}

// pickups draws the pickup, and where it stands before.
func (l aboveLayout) pickups() {
	b, c, r := l.b, l.c, l.r
	box := func(deg float64, s Style) {
		in, out, half := r*0.67, r*0.86, 3.4/r*90/math.Pi
		b.drawn(SectorPath(c, in, out, deg-half*1.5, half*3), s)
		b.drawn(Poly(Polar(c, r*0.4, deg), Polar(c, in, deg)), s.Filled(None))
	}
	for _, deg := range l.v.Begin {
		b.d.Group(Group{ID: "begin", Class: "pickup"}, func() { box(deg, Fine.Dashed(Dashed)) })
	}
	for _, deg := range l.v.Pickup {
		b.d.Group(Group{ID: "pickup", Class: "pickup"}, func() { box(deg, Heavy.Filled(Sheet)) })
	}
}

// pickupNames stand clear of all that is drawn.
func (l aboveLayout) pickupNames() {
	b, c, r := l.b, l.c, l.r
	for _, deg := range l.v.Pickup {
		b.name("pickup", Note, placesBy(c, r, deg, "pickup", Note)...)
	}
	for _, deg := range l.v.Begin {
		b.name(l.v.BeginWords, Note, placesBy(c, r, deg, l.v.BeginWords, Note)...)
	}
}

// turns draws the arrows of the housing above it, from the middle outwards.
func (l aboveLayout) turns() {
	r := l.r + 4.2
	for _, t := range l.v.Turns {
		way := float64(t.Way)
		from, sweep := l.arrows-way*32, way*64
		if len(l.v.Turns) > 1 {
			from, sweep = l.arrows+way*6, way*46
		}
		l.b.d.Group(Group{ID: "turn-" + t.Way.String(), Class: "turn"}, func() {
			l.b.bent(l.c, r, from, sweep, 1.1)
		})
	}
	for _, t := range l.v.Turns {
		way := float64(t.Way)
		mid, style := l.arrows, Value.Sized(3.4)
		if len(l.v.Turns) > 1 {
			mid, style = l.arrows+way*46, Label.Heavy()
		}
		l.b.name(t.Words, style, placesBy(l.c, r+1.2, mid, t.Words, style)...)
	}
}

// clamp draws clamp, spanner and scribe line at the lower right.
func (l aboveLayout) clamp() {
	v, b, c, r := l.v, l.b, l.c, l.r
	const at = 128.0
	if v.Scribed {
		b.d.Group(Group{ID: "scribe", Class: "scribe"}, func() {
			b.drawn(Poly(Polar(c, r*0.93, 232), Polar(c, r+6, 232)), Heavy)
		})
		b.name("scribe here", Note, placesBy(c, r+6, 232, "scribe here", Note)...)
	}
	if v.Clamp == NoClamp {
		return
	}
	bolt := Polar(c, r+6.5, at)
	b.d.Group(Group{ID: "clamp", Class: "clamp"}, func() {
		p := Poly(Polar(c, r*0.9, at-11), Polar(bolt, 3.6, at-62), Polar(bolt, 4.2, at), Polar(bolt, 3.6, at+62),
			Polar(c, r*0.9, at+11)).Close()
		b.drawn(p, Outline.Filled(Paper))
		hex := make([]Point, 6)
		for i := range hex {
			hex[i] = Polar(bolt, 2.2, float64(i)*60)
		}
		b.drawn(Poly(hex...).Close(), Outline.Filled(Sheet))
	})
	if v.Clamp != ClampTight {
		b.name("finger tight", Note, placesBy(bolt, 4, at, "finger tight", Note)...)
		return
	}
	b.d.Group(Group{ID: "spanner", Class: "spanner"}, func() {
		const way = 90.0
		end := Polar(bolt, 17, way)
		b.drawn(Poly(Polar(Polar(bolt, 2.9, way), 1.2, 0), Polar(end, 1.2, 0), Polar(end, 1.2, 180),
			Polar(Polar(bolt, 2.9, way), 1.2, 180)).Close(), Outline.Filled(Sheet))
		b.drawn(new(Path).Arc(bolt, 3, 60, -300), Style{Stroke: Ink, Width: 1})
		b.bent(bolt, 14.5, way+12, 32, 0.7) // right-hand thread: clockwise is tighter
	})
}
