package web

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"phasewright/bench"
	"phasewright/drawing"
	"phasewright/engine"
)

// benchFrame is what the page needs to show the bench until the next frame. Words are ready to be shown; angles are clock angles, degrees,
// with how fast they change, so that the page can carry them on.
type benchFrame struct {
	Show    map[string]string `json:"show"`    // words by the place they go to
	On      map[string]bool   `json:"on"`      // switches and lamps
	Rotor   float64           `json:"rotor"`   // clock angle of the rotor tip, from above
	Wheel   float64           `json:"wheel"`   // turn of the vane wheel, from above
	Spin    float64           `json:"spin"`    // of both, degrees a second
	Housing float64           `json:"housing"` // turn of the housing, from above
	Damper  float64           `json:"damper"`  // turn of the damper, from the front
	Roll    float64           `json:"roll"`    // of the damper, degrees a second; 0 while the light freezes it
	Lit     bool              `json:"lit"`
	Vanes   string            `json:"vanes"` // path of the crank vanes on the wheel
	CamVane string            `json:"camvane"`
	Sparks  int               `json:"sparks"` // so far
	Spark   float64           `json:"spark"`  // clock angle at which the last one jumped
	Notes   []string          `json:"notes"`
	Asked   []string          `json:"asked"` // what the judge said, when asked
}

// Radii in mm of the distributor's picture.
const (
	capRadius, towerRadius     = 40.0, 34.0
	vaneInner, vaneOuter       = 17.0, 21.0
	camVaneInner, camVaneOuter = 12.0, 15.0
	pickupAt, camPickupAt      = 0.0, 90.0 // clock angles
	damperRadius               = 24.0
)

// benchDrawing is the picture of a bench, drawn once; the page turns its groups.
type benchDrawing struct {
	Cap, Damper template.HTML
	turn, crank drawing.Turn
	tower1      float64   // clock angle of the tower of firing 1
	towers      []float64 // clock angle by firing
}

// drawBench draws the distributor from above and the damper from the front.
func drawBench(c bench.Config) benchDrawing {
	b := benchDrawing{turn: turnOf(c.Distributor.Rotation), crank: turnOf(c.Engine.Rotation)}
	n := len(c.Engine.FiringOrder)
	b.tower1 = float64(c.Distributor.TowerForNo1-1) * 360 / float64(n)
	at := b.tower1
	for i := range n {
		b.towers = append(b.towers, at)
		at += float64(b.turn) * float64(engine.CrankToShaft(c.Engine.Intervals[i]))
	}
	b.Cap, b.Damper = b.drawCap(c), b.drawDamper(c)
	return b
}

func (b *benchDrawing) drawCap(c bench.Config) template.HTML {
	const side = 2*capRadius + 6
	o := drawing.Point{}
	d := drawing.New(side, side, "Distributor from above", fmt.Sprintf("Cap with %d towers, vane wheel, pickups and rotor; the rotor turns %s.", len(b.towers), b.turn))
	d.Group(drawing.Group{X: side / 2, Y: side / 2}, func() {
		d.Circle(o, capRadius, drawing.Outline.Filled(drawing.Paper))
		d.Group(drawing.Group{ID: "bench-wheel"}, func() {
			d.Circle(o, vaneOuter+1.5, drawing.Quiet)
			d.Group(drawing.Group{ID: "bench-vanes"}, func() { d.Path(drawing.SectorPath(o, vaneInner, vaneOuter, 0, 10), drawing.Area(drawing.Soft)) })
			d.Group(drawing.Group{ID: "bench-camvane"}, func() { d.Path(drawing.SectorPath(o, camVaneInner, camVaneOuter, 0, 10), drawing.Area(drawing.Soft)) })
		})
		d.Group(drawing.Group{ID: "bench-housing"}, func() {
			d.Polygon([]drawing.Point{{X: 0, Y: -vaneOuter - 0.5}, {X: -2, Y: -vaneOuter - 4.5}, {X: 2, Y: -vaneOuter - 4.5}}, drawing.Outline.Filled(drawing.Sheet))
			if c.CamFitted {
				d.Polygon([]drawing.Point{{X: camVaneOuter + 0.5, Y: 0}, {X: camVaneOuter + 4.5, Y: -2}, {X: camVaneOuter + 4.5, Y: 2}}, drawing.Outline.Filled(drawing.Sheet))
			}
		})
		d.Group(drawing.Group{ID: "bench-spark", Class: "bench-spark"}, func() {
			d.Polyline([]drawing.Point{{X: 0, Y: -27.5}, {X: 1, Y: -28.8}, {X: -0.8, Y: -29.2}, {X: 0.4, Y: -30.6}}, drawing.SparkLine)
		})
		if c.Distributor.Steers {
			d.Group(drawing.Group{ID: "bench-rotor"}, func() {
				d.Polygon([]drawing.Point{{X: -1.6, Y: -27}, {X: 1.6, Y: -27}, {X: 3.4, Y: 5}, {X: 0, Y: 7}, {X: -3.4, Y: 5}}, drawing.Outline.Filled(drawing.Sheet))
				d.Circle(o, 1.8, drawing.Fine)
			})
			for i, at := range b.towers {
				p := drawing.Polar(o, towerRadius, at)
				d.Circle(p, 4.2, drawing.Outline.Filled(drawing.Sheet))
				d.Text(p.X, p.Y, fmt.Sprint(c.Engine.FiringOrder[i]), drawing.TextStyle{Size: 4, Weight: drawing.Bold}.At(drawing.Middle, drawing.Centred))
			}
		}
	})
	return inPage(d)
}

func (b *benchDrawing) drawDamper(c bench.Config) template.HTML {
	const side = 2*damperRadius + 12
	o := drawing.Point{}
	d := drawing.New(side, side, "Damper from the front", fmt.Sprintf("Damper with degree marks and pointer; the crank turns %s.", b.crank))
	d.Prefix = "damper"
	d.Group(drawing.Group{X: side / 2, Y: side/2 + 3}, func() {
		d.Group(drawing.Group{ID: "wheel"}, func() {
			d.Circle(o, damperRadius, drawing.Outline.Filled(drawing.Paper))
			d.Circle(o, damperRadius*0.62, drawing.Quiet)
			d.Line(-3, 0, 3, 0, drawing.Fine)
			d.Line(0, -3, 0, 3, drawing.Fine)
			d.Group(drawing.Group{ID: "marks"}, func() {
				for a := -10; a <= 60; a += 2 {
					at, long, pen := float64(b.crank)*float64(a), 2.0, drawing.Fine
					if a%10 == 0 {
						long, pen = 3.6, drawing.Outline
					}
					if a == 0 {
						long, pen = 5, drawing.Heavy
					}
					p, q := drawing.Polar(o, damperRadius, at), drawing.Polar(o, damperRadius-long, at)
					d.Line(p.X, p.Y, q.X, q.Y, pen)
					if a%10 == 0 {
						w := drawing.Polar(o, damperRadius-6.2, at)
						d.Text(w.X, w.Y, fmt.Sprint(max(a, -a)), drawing.TextStyle{Size: 3}.At(drawing.Middle, drawing.Centred).Turned(at))
					}
				}
			})
		})
		d.Polygon([]drawing.Point{{X: 0, Y: -damperRadius - 0.4}, {X: -1.8, Y: -damperRadius - 5}, {X: 1.8, Y: -damperRadius - 5}}, drawing.Area(drawing.Ink))
	})
	return inPage(d)
}

// vanePath is the wheel's vanes as they lie at the beginning of the cycle: a vane that enters its pickup at some crank angle stands half that angle
// behind it, in shaft degrees.
func (b *benchDrawing) vanePath(vanes [][2]float64, pickup, inner, outer float64) string {
	var p strings.Builder
	for _, v := range vanes {
		from, to := v[0]/2, v[1]/2
		for to < from {
			to += 360
		}
		a0, a1 := pickup-float64(b.turn)*from, pickup-float64(b.turn)*to
		sweep := 0
		if a1 > a0 {
			sweep = 1
		}
		x0, y0 := onClock(outer, a0)
		x1, y1 := onClock(outer, a1)
		x2, y2 := onClock(inner, a1)
		x3, y3 := onClock(inner, a0)
		large := 0
		if math.Abs(a1-a0) > 180 {
			large = 1
		}
		fmt.Fprintf(&p, "M%.2f %.2fA%g %g 0 %d %d %.2f %.2fL%.2f %.2fA%g %g 0 %d %d %.2f %.2fZ", x0, y0, outer, outer, large, sweep, x1, y1, x2, y2, inner, inner, large, 1-sweep, x3, y3)
	}
	return p.String()
}

func onClock(r, deg float64) (x, y float64) {
	p := drawing.Polar(drawing.Point{}, r, deg)
	return p.X, p.Y
}

// frame is the present state for the page; the caller holds the lock.
func (r *room) frame() benchFrame {
	st, d := r.state, &r.drawing
	shaft := st.CrankDeg / 2
	f := benchFrame{
		Rotor: d.tower1 + float64(d.turn)*st.RotorDeg, Wheel: float64(d.turn) * shaft, Spin: float64(d.turn) * st.SpeedRPM * 3, // 1 rpm of the crank is 3°/s of the shaft
		Housing: -float64(d.turn) * st.HousingDeg, Damper: float64(d.crank) * st.CrankDeg, Roll: float64(d.crank) * st.SpeedRPM * 6,
		Vanes: d.vanePath(st.VanesDeg, pickupAt-float64(d.turn)*st.HousingDeg, vaneInner, vaneOuter), CamVane: d.vanePath(st.CamVaneDeg, camPickupAt-float64(d.turn)*st.HousingDeg, camVaneInner, camVaneOuter),
		Sparks: r.sparks, Notes: r.notes,
	}
	if n := len(d.towers); n > 0 && r.tower >= 1 && r.tower <= n {
		f.Spark = d.towers[r.tower-1]
	}
	shown := "dark"
	if st.FrozenDeg != nil {
		f.Lit, f.Damper, f.Roll = true, -float64(d.crank)**st.FrozenDeg, 0
		if st.ShownDeg != nil {
			shown = deg(*st.ShownDeg) + " BTDC"
		}
	}
	f.Show = map[string]string{
		"rpm": figure(st.SpeedRPM, 0), "crank": deg(st.CrankDeg), "supply": figure(st.SupplyV, 1) + " V", "shown": shown, "housing": housingWords(st.HousingDeg), "lever": figure(st.LeverRPM, 0) + " rpm", "wire": fmt.Sprint(st.LightWire),
		"cranklamp": string(st.CrankLamp), "camlamp": string(st.CamLamp), "sync": st.Sync, "watching": count(len(r.watchers), "screen") + " watching",
		"allowance": settingWords(st.Active.AllowanceUS, st.Stored.AllowanceUS, st.Edited.AllowanceUS, 0, " µs"), "lead": settingWords(st.Active.LeadDeg, st.Stored.LeadDeg, st.Edited.LeadDeg, 1, "°"),
		"locked": settingWords(st.Active.LockedDeg, st.Stored.LockedDeg, st.Edited.LockedDeg, 1, "°"), "lock": string(st.Active.Lock), "clamp": map[bench.Switch]string{bench.On: "tight", bench.Off: "loose"}[st.Clamp],
		"engine": map[bool]string{true: "runs", false: "does not run"}[st.Runs],
	}
	f.On = map[string]bool{"key": st.Key == bench.On, "starter": st.Starter == bench.On, "fuel": st.Fuel == bench.On, "spark": st.SparkPower == bench.On, "clamp": st.Clamp == bench.On, "light": st.Light == bench.On,
		"cranklamp": st.CrankLamp == bench.GlowHigh, "camlamp": st.CamLamp == bench.GlowHigh}
	if r.outcome != nil {
		word := "not there yet"
		if r.outcome.Passed {
			word = "done"
		}
		f.Asked = append([]string{word + ": " + whole(r.outcome.Debrief)}, r.revealed...)
	}
	return f
}

// housingWords says how far the housing was turned.
func housingWords(against float64) string {
	switch {
	case math.Abs(against) < 0.005:
		return "as found"
	case against > 0:
		return figure(against, 2) + "° against the rotor"
	}
	return figure(-against, 2) + "° with the rotor"
}

// settingWords says what is in force and, where they differ, what is stored and on the screen.
func settingWords(active, stored, edited float64, places int, unit string) string {
	s := figure(active, places) + unit
	if stored != active {
		s += ", stored " + figure(stored, places) + unit
	}
	if edited != stored {
		s += ", on the screen " + figure(edited, places) + unit
	}
	return s
}
