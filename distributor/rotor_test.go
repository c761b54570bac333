package distributor_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"phasewright/distributor"
	"phasewright/engine"
	"phasewright/quantity"
)

// rotor is an invented six: radius 27 mm, tip 9 mm, terminals 7 mm, gap 0.9 mm. By hand: half tip 4.5/27 rad = 9.5493°,
// half terminal 3.5/27.9 rad = 7.1876°.
func rotor() distributor.Rotor {
	return distributor.Rotor{Radius: 27, Tip: 9, Terminal: 7, AirGap: 0.9, Towers: distributor.EvenTowers(6), AtEdge: -21}
}

func about(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.7g, want %.7g ± %g", what, got, want, tol)
	}
}

// Lead 60°, advance 2 to 34°: the rotor turns (60 − 34)/2 = 13° to (60 − 2)/2 = 29° after the edge; from −21° that is
// −8° to +8°. All by hand.
func TestRotorSweepByHand(t *testing.T) {
	r, s := rotor(), distributor.Sparks{Lead: 60, Latest: 2, Earliest: 34}
	w := r.Sweep(s, 3000)
	about(t, "earliest spark", float64(w.Earliest.Tip), -8, 1e-12)
	about(t, "latest spark", float64(w.Latest.Tip), 8, 1e-12)
	about(t, "width", float64(w.Width), 16, 1e-12)
	about(t, "cover", float64(r.Cover()), 9.5493+7.1876, 1e-4)
	// overlap (16.7369 − 8)° on 27 mm: 4.1172 mm
	about(t, "overlap", float64(w.Overlap), 8.7369*math.Pi/180*27, 1e-3)
	about(t, "in hand", float64(w.InHand), 8.7369, 1e-4)
	about(t, "gap while they face", float64(w.Gap), 0.9, 0)
	// neighbour: 60 − 8 − 16.7369 = 35.2631° between corners: √(0.9² + 4·27·27.9·sin²(17.6316°)) = 16.651 mm
	about(t, "neighbour", float64(w.Neighbour), math.Sqrt(0.81+4*27*27.9*math.Pow(math.Sin(17.63155*math.Pi/180), 2)), 1e-3)

	// 20° further on: 28° − 16.7369° = 11.2631° clear: √(0.81 + 4·27·27.9·sin²(5.6316°)) = 5.462 mm
	r.AtEdge = -1
	w = r.Sweep(s, 3000)
	about(t, "overlap lost", float64(w.Overlap), 0, 0)
	about(t, "clear gap", float64(w.Gap), math.Sqrt(0.81+4*27*27.9*math.Pow(math.Sin(5.63155*math.Pi/180), 2)), 1e-3)
	if w.Worst != 2 || !w.Latest.Clear() || w.InHand >= 0 {
		t.Errorf("worst at %v", w.Worst)
	}
	// play takes away at the worse end
	r.AtEdge, r.Play = -21, 2
	about(t, "in hand with 2° of play", float64(r.Sweep(s, 3000).InHand), 6.7369, 1e-4)
}

// A net delay of 100 µs at 6000 rpm is 3.6° of crank, 1.8° of the shaft further on.
func TestNetDelayMovesTheTipOn(t *testing.T) {
	r, s := rotor(), distributor.Sparks{Lead: 60, Latest: 10, Earliest: 10}
	was := r.TipAt(s, 10, 6000)
	s.NetDelay = 100
	about(t, "tip", float64(r.TipAt(s, 10, 6000)-was), 1.8, 1e-12)
}

// Centre: the middle of 2 to 34° is 18°, so the tip must stand (60 − 18)/2 = 21° before the terminal at the edge; with
// the tip 15° before it, a lead of 18 + 30 = 48° centres the sweep.
func TestCentring(t *testing.T) {
	r, s := rotor(), distributor.Sparks{Lead: 60, Latest: 2, Earliest: 34}
	r.AtEdge = -15
	c := r.Centre(s, 3000)
	about(t, "rotor place", float64(c.AtEdge), -21, 1e-12)
	about(t, "turn", float64(c.Turn), -6, 1e-12)
	about(t, "lead", float64(c.Lead), 48, 1e-12)
	rapid.Check(t, func(t *rapid.T) {
		r := rotor()
		r.AtEdge = quantity.Shaft(rapid.Float64Range(-40, 20).Draw(t, "edge"))
		r.Play = quantity.Shaft(rapid.Float64Range(0, 4).Draw(t, "play"))
		s := distributor.Sparks{Lead: quantity.Crank(rapid.Float64Range(40, 80).Draw(t, "lead")), Latest: 0, Earliest: quantity.Crank(rapid.Float64Range(5, 60).Draw(t, "earliest")),
			NetDelay: quantity.Time(rapid.Float64Range(-100, 100).Draw(t, "delay"))}
		c := r.Centre(s, 4000)
		turned, led := r, s
		turned.AtEdge, led.Lead = c.AtEdge, c.Lead
		a, b := turned.Sweep(s, 4000), r.Sweep(led, 4000)
		for _, w := range []distributor.Sweep{a, b} {
			if math.Abs(float64(w.Middle)) > 1e-9 || math.Abs(float64(w.InHand-c.InHand)) > 1e-9 {
				t.Fatalf("middle %v, in hand %v, promised %v", w.Middle, w.InHand, c.InHand)
			}
		}
		if now := r.Sweep(s, 4000); now.InHand > c.InHand+1e-9 {
			t.Fatal("centring made it worse")
		}
		led.Lead = c.LeadTo
		if w := r.Sweep(led, 4000); math.Abs(float64(w.InHand)) > 1e-9 && c.InHand > 0 {
			t.Fatalf("at the last lead %v are in hand", w.InHand)
		}
	})
}

// Housing, lead setting and allowance: what each does to timing and tip, by hand, and against the spark law itself: the
// spark comes (L − a) + 6·n·(τ − c) after the edge.
func TestCorrections(t *testing.T) {
	m := distributor.Correction{Housing: 3}.At(2000) // against the rotor: 6° of advance, cap and pickup go together
	about(t, "housing: timing", float64(m.Timing), 6, 1e-12)
	about(t, "housing: tip", float64(m.Tip), 0, 0)
	m = distributor.Correction{Lead: 6}.At(2000)
	about(t, "lead: timing", float64(m.Timing), -6, 1e-12)
	about(t, "lead: tip", float64(m.Tip), 3, 1e-12)
	m = distributor.Correction{Housing: 3, Lead: 6}.At(2000) // the metal and the setting agree again, the tip has moved by the housing turn
	about(t, "both: timing", float64(m.Timing), 0, 1e-12)
	about(t, "both: tip", float64(m.Tip), 3, 1e-12)
	m = distributor.Correction{Allowance: 20}.At(6000) // 20 µs at 6000 rpm: 0.72°
	about(t, "allowance: timing", float64(m.Timing), 0.72, 1e-12)
	about(t, "allowance: tip", float64(m.Tip), -0.36, 1e-12)

	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string, lim float64) float64 { return rapid.Float64Range(-lim, lim).Draw(t, name) }
		n := quantity.Speed(rapid.Float64Range(100, 8000).Draw(t, "n"))
		r, s := rotor(), distributor.Sparks{Lead: 60, Latest: 2, Earliest: 34, NetDelay: quantity.Time(draw("delay", 200))}
		c := distributor.Correction{Housing: quantity.Shaft(draw("housing", 10)), Lead: quantity.Crank(draw("lead", 10)), Allowance: quantity.Time(draw("allowance", 100))}
		if got, want := r.TipAt(c.Apply(s), 10, n)-r.TipAt(s, 10, n), c.At(n).Tip; math.Abs(float64(got-want)) > 1e-9 {
			t.Fatalf("tip moved %v, said %v", got, want)
		}
		// on the engine: the edge comes at metal lead M before TDC, and M grows by twice the housing turn against
		// the rotor
		shown := func(metal quantity.Crank, s distributor.Sparks) quantity.Crank {
			return metal - (s.Lead - 10 + n.Over(s.NetDelay))
		}
		got := shown(60+engine.ShaftToCrank(c.Housing), c.Apply(s)) - shown(60, s)
		if math.Abs(float64(got-c.At(n).Timing)) > 1e-9 {
			t.Fatalf("timing moved %v, said %v", got, c.At(n).Timing)
		}
	})
}

// Overlap and distances against brute force: points along the arcs, shortest way between them.
func TestStandAgainstBruteForce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rotor()
		r.Tip, r.Terminal = quantity.Length(rapid.Float64Range(2, 9).Draw(t, "tip")), quantity.Length(rapid.Float64Range(2, 7).Draw(t, "terminal"))
		r.AirGap = quantity.Length(rapid.Float64Range(0.3, 2).Draw(t, "gap"))
		r.Towers = []quantity.Shaft{75, 45, 75, 45, 75, 45} // odd fire
		if r.Check() != nil {
			t.Skip()
		}
		tip := quantity.Shaft(rapid.Float64Range(-40, 40).Draw(t, "at"))
		s := r.StandAt(tip)
		arc, terminals := r.Arcs(1, tip) // the second tower: 45° ahead to the next, 75° behind
		near := func(a, b distributor.Arc) float64 {
			const n = 300
			best := math.Inf(1)
			for i := 0; i <= n; i++ {
				p := (float64(a.From) + float64(a.To-a.From)*float64(i)/n) * math.Pi / 180
				// the nearest point of the other arc lies at the same angle or at its nearer end
				q := min(max(p, float64(b.From)*math.Pi/180), float64(b.To)*math.Pi/180)
				ra, rb := float64(a.Radius), float64(b.Radius)
				best = min(best, math.Hypot(ra*math.Cos(p)-rb*math.Cos(q), ra*math.Sin(p)-rb*math.Sin(q)))
			}
			return best
		}
		if want := near(arc, terminals[0]); math.Abs(float64(s.Gap)-want) > 0.02 {
			t.Fatalf("gap %v, by points %.3f mm", s.Gap, want)
		}
		// the tightest place is 45° away; the tip is nearest to it when it leans that way
		lean, _ := r.Arcs(1, quantity.Abs(tip))
		if want := near(lean, terminals[1]); math.Abs(float64(s.Neighbour)-want) > 0.02 {
			t.Fatalf("neighbour %v, by points %.3f mm", s.Neighbour, want)
		}
		facing := max(0, min(arc.To, terminals[0].To)-max(arc.From, terminals[0].From))
		if math.Abs(float64(s.Overlap)-float64(facing)*math.Pi/180*27) > 1e-9 {
			t.Fatalf("overlap %v, arcs face over %v", s.Overlap, facing)
		}
		if s.Clear() != (facing <= 0) {
			t.Fatal("clear")
		}
	})
}

// Towers stand half the firing intervals apart: 150/90 odd fire gives 75 and 45°; the tightest is 45°.
func TestTowers(t *testing.T) {
	f, err := engine.NewFirings([]int{1, 4, 3, 6, 5, 2}, []quantity.Crank{150, 90, 150, 90, 150, 90})
	if err != nil {
		t.Fatal(err)
	}
	r := rotor()
	r.Towers = distributor.TowersOf(f)
	about(t, "tightest", float64(r.Tightest()), 45, 0)
	if err := r.Check(); err != nil {
		t.Error(err)
	}
	_, terminals := r.Arcs(0, 0)
	for k, want := range []float64{0, 75, 120, 195, 240, 315} {
		about(t, "tower", float64(terminals[k].From+terminals[k].To)/2, want, 1e-9)
	}
}

// A tip 40° out of place at the neighbour's terminal has nothing between it and that terminal but the air gap.
func TestTipAtTheNeighbour(t *testing.T) {
	s := rotor().StandAt(58)
	if !s.Clear() || s.Neighbour != 0.9 {
		t.Errorf("%+v", s)
	}
}

func TestRotorBadInput(t *testing.T) {
	for field, change := range map[string]func(*distributor.Rotor){
		"distributor.radius":       func(r *distributor.Rotor) { r.Radius = 0 },
		"distributor.rotor_tip":    func(r *distributor.Rotor) { r.Tip = 22 }, // 2·(23.34° + 7.19°) is past the 60° between towers
		"distributor.terminal":     func(r *distributor.Rotor) { r.Terminal = 40 },
		"distributor.air_gap":      func(r *distributor.Rotor) { r.AirGap = -1 },
		"engine.intervals":         func(r *distributor.Rotor) { r.Towers = []quantity.Shaft{90, 90} },
		"distributor.rotor_play":   func(r *distributor.Rotor) { r.Play = -1 },
		"distributor.rotor_offset": func(r *distributor.Rotor) { r.AtEdge = quantity.Shaft(math.NaN()) },
	} {
		r := rotor()
		change(&r)
		err := r.Check()
		var e *quantity.Invalid
		if !errors.As(err, &e) || e.Field != field || strings.Count(err.Error(), " – ") != 2 {
			t.Errorf("%s: %v", field, err)
		}
	}
	if err := rotor().Check(); err != nil {
		t.Error(err)
	}
}
