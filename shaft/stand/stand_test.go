package stand

import (
	"math"
	"reflect"
	"testing"
)

// All expected figures here follow from the sums in the comments, none from a run of the code.

// even is an even-fire engine without any fault or delay, for sums by hand.
func even(n int, course Course) *rig {
	g := sound(draw("even", 1), n)
	g.course, g.offset, g.lag, g.delay, g.allowance, g.below, g.play = course, 0, 0, 0, 0, 0, 0
	return g
}

func (g *rig) passed(t *testing.T) (*Motion, []passing) {
	t.Helper()
	g.course.TDC = g.tdc()
	m := g.course.Run()
	ps, _ := g.vanes(draw("vanes", 1), m)
	g.fire(ps)
	return m, ps
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s is %.9g; the sum gives %.9g", what, got, want)
	}
}

// At n rpm the crank turns 6·n degrees a second; at constant acceleration α it has turned 6·(n·t + α·t²/2) after t.
func TestAngleAtKnownTimes(t *testing.T) {
	m := Course{Start: 10, Knots: []Knot{{0, 600}, {2, 2600}}}.Run() // 1000 rpm/s
	for _, at := range []float64{0, 0.3, 1, 1.77777} {
		want := 10 + 6*(600*at+1000*at*at/2)
		near(t, "angle", m.Angle(at), want, 1e-6)
		near(t, "speed", m.RPM(at), 600+1000*at, 1e-6)
		near(t, "time of that angle", m.TimeAt(want), at, 1e-11)
	}
	if !math.IsNaN(m.TimeAt(9)) || !math.IsNaN(m.TimeAt(1e9)) {
		t.Error("an angle outside the motion has a time")
	}
}

// Steady running: four firings a cycle at 3000 rpm are 120/(4·3000) s = 10 ms apart. A vane of 12 shaft degrees
// covers 24 of crank, 24/18000 s. The wait of L − a degrees is (L − a)/18000 s, and the spark stands a degrees
// before TDC.
func TestSteadySpeed(t *testing.T) {
	g := even(4, Course{Start: 33, Knots: []Knot{{0, 3000}, {1, 3000}}})
	g.width, g.lead, g.locked = 12, 60, 8
	m, ps := g.passed(t)
	if len(ps) < 95 || len(ps) > 100 { // 100 firings a second
		t.Fatalf("%d vanes in a second at 3000 rpm with 4 cylinders", len(ps))
	}
	for i, p := range ps {
		near(t, "vane", p.on.off-p.on.on, 24.0/18000, 1e-10)
		before := math.Remainder(float64(p.k)*180-m.Angle(p.active), 720)
		near(t, "lead", before, 60, 1e-6)
		if i < 3 {
			continue
		}
		near(t, "interval", p.active-ps[i-1].active, 0.010, 1e-10)
		near(t, "wait", p.spark-p.active, 52.0/18000, 1e-10)
		near(t, "advance", math.Remainder(float64(p.k)*180-m.Angle(p.spark), 720), 8, 1e-6)
	}
}

// Trade notes, section 4: at acceleration α, with T the last interval and t the wait, the spark is late by
// 3·α·t·(T+t) degrees.
func TestLatenessUnderAcceleration(t *testing.T) {
	for _, alpha := range []float64{1500, -900} {
		g := even(6, Course{Start: 5, Knots: []Knot{{0, 2200}, {1.2, 2200 + 1.2*alpha}}})
		g.lead, g.locked = 57, 11
		m, ps := g.passed(t)
		for i := 3; i < len(ps); i++ {
			p := ps[i]
			T, w := p.active-ps[i-1].active, p.spark-p.active
			shown := math.Remainder(float64(p.k)*120-m.Angle(p.spark), 720)
			near(t, "advance", shown, 11-3*alpha*w*(T+w), 1e-6)
		}
	}
}

// e(n) = b − 6·n·(τ − c)·10⁻⁶ for each cylinder, whatever is out of place, read from the crank's own angle at
// each spark.
func TestErrorLawHolds(t *testing.T) {
	for _, class := range []string{"sweep", "odd-fire", "bent", "wobble", "wrong-edge", "many", "few", "reluctor",
		"reluctor-reversed"} {
		for seed := range uint64(12) {
			g := engineOf(class).make(draw(class, seed))
			n := 700 + 300*float64(seed)
			g.course = Course{Start: 77, Knots: []Knot{{0, n}, {1.5, n}}}
			g.below, g.play = 0, 0
			m, ps := g.passed(t)
			errs := g.errors(g.locked)
			tdc := g.tdc()
			for _, p := range ps {
				if math.IsNaN(p.spark) {
					continue
				}
				want := errs[p.k] - 6*n*(g.lag+g.delay-g.allowance)*1e-6
				if g.reversed {
					want -= g.reversedLate(n)
				}
				shown := math.Remainder(tdc[p.k]-m.Angle(p.spark), 720)
				if math.Abs(shown-g.locked-want) > 1e-5 {
					t.Fatalf("%s/%d: at %.0f rpm firing %d is %.6f deg in error; the law gives %.6f",
						class, seed, n, p.k, shown-g.locked, want)
				}
			}
		}
	}
}

// The other edge passes 2·w crank degrees away: acting on it shifts the timing by that, late where the vane's
// active edge comes first.
func TestWrongEdgeIsTwiceTheVane(t *testing.T) {
	g := even(4, Course{})
	g.entering, g.wrongEdge, g.width = true, true, 9
	near(t, "error", g.errors(5)[2], -18, 1e-12)
	g.entering = false
	near(t, "error", g.errors(5)[2], 18, 1e-12)
}

// One vane d late makes its own spark late by d, and by d·(L−a)/S more through an interval that is too long; the next
// interval is too short by as much.
func TestBentVaneByHand(t *testing.T) {
	g := even(4, Course{})
	g.lead, g.late = 65, []float64{0, 3, 0, 0}
	e := g.errors(20) // (L−a)/S = 45/180
	for k, want := range []float64{0, -3 - 0.75, 0.75, 0} {
		near(t, "error", e[k], want, 1e-12)
	}
}

// Compression swings ω² by the same at every speed. With 20 % from least to greatest at 200 rpm, a share s of
// the mean at n rpm is 20 %·(200/n)², to first order; the mean speed stays.
func TestRippleFallsWithSpeedSquared(t *testing.T) {
	for _, n := range []float64{400, 1000, 3000} {
		c := Course{Knots: []Knot{{0, n}, {3, n}}, Ripple: 0.2, RippleRPM: 200, TDC: []float64{0, 180, 360, 540}}
		m := c.Run()
		lo, hi := math.Inf(1), 0.0
		for at := 0.5; at < 2.5; at += 1e-4 {
			lo, hi = min(lo, m.RPM(at)), max(hi, m.RPM(at))
		}
		want := 0.2 * (200 / n) * (200 / n)
		near(t, "swing", (hi-lo)/n, want, 0.03*want)
		near(t, "mean speed", (hi+lo)/2, n, n*want)
	}
}

// From rest the engine turns, never backwards, and comes to the speed of its course.
func TestStartFromRest(t *testing.T) {
	for seed := range uint64(20) {
		r := draw("start", seed)
		g := sound(r)
		g.started(r)
		g.course.TDC = g.tdc()
		m := g.course.Run()
		if m.RPM(0.1) != 0 {
			t.Errorf("seed %d turns at %.1f rpm before the starter does", seed, m.RPM(0.1))
		}
		last := m.Angle(0)
		for at := 0.0; at < m.To(); at += 1e-3 {
			if a := m.Angle(at); a < last {
				t.Fatalf("seed %d turns back at %.3f s", seed, at)
			} else {
				last = a
			}
		}
		cranked := (m.Angle(1.1) - m.Angle(0.8)) / 0.3 / 6
		near(t, "speed on the starter", cranked, g.crankRPM, 0.35*g.crankRPM)
		near(t, "idle", m.RPM(m.To()-0.05), g.idle, 0.2*g.idle)
	}
}

// A driver's pulse is as long as the dwell and ends in the spark; where the dwell does not fit it is cut.
func TestDwellEndsInTheSpark(t *testing.T) {
	g := even(8, Course{Knots: []Knot{{0, 3000}, {1, 3000}}})
	g.dwell, g.most = func(float64) float64 { return 2.5 }, 0.95 // 5 ms between firings
	g.outHigh, g.out = true, driver
	_, ps := g.passed(t)
	r := draw("dwell", 1)
	ss := g.sparks(r, ps)
	ws, mean := g.outputs(r, ss)
	near(t, "mean dwell", mean, 2.5, 1e-9)
	for i, s := range ss {
		near(t, "end of pulse", ws[0].flips[2*i+1], s.t, 0)
		near(t, "dwell", ws[0].flips[2*i+1]-ws[0].flips[2*i], 2.5e-3, 1e-12)
	}
	g.dwell = func(float64) float64 { return 9 }
	_, mean = g.outputs(r, ss)
	near(t, "dwell that fills 95 % of 5 ms", mean, 4.75, 1e-6)
}

// The mark's pulse begins where it says, once a turn, and is as wide as it says.
func TestMarkStandsWhereItSays(t *testing.T) {
	g := even(4, Course{Start: 100, Knots: []Knot{{0, 1000}, {1, 2500}}})
	g.markWidth, g.markHigh, g.tick = 7, true, 0
	c := g.record(draw("mark", 1))
	m := g.course.Run()
	if g.markAt == 0 || math.Abs(g.markAt) > MarkLimit {
		t.Errorf("the mark stands %v° after TDC", g.markAt)
	}
	seen := 0
	for _, e := range c.Edges {
		if c.Truth.Roles[e.Channel] != RoleMark || e.Kind > 1 {
			continue
		}
		want := g.markAt
		if e.Kind == 1 { // falls
			want += 7
		}
		near(t, "mark", math.Remainder(m.Angle(float64(e.At))-want, 360), 0, 1e-6)
		seen++
	}
	if seen < 30 {
		t.Errorf("%d mark edges in a second", seen)
	}
}

// A reversed pickup is later the faster the engine turns, and by less and less.
func TestReversedReluctorDrifts(t *testing.T) {
	g := even(4, Course{})
	g.width = 6
	a, b, c := g.reversedLate(1000), g.reversedLate(2000), g.reversedLate(3000)
	if !(a > 0 && b > a && c > b && c-b < b-a) {
		t.Errorf("late by %.3f, %.3f and %.3f deg at 1000, 2000 and 3000 rpm", a, b, c)
	}
}

// The edges of a recording are in order, each channel begins with its first state and then changes by turns,
// and a case is the same whenever it is made.
func TestEveryClassMakesSoundRecordings(t *testing.T) {
	seeds := uint64(2)
	if testing.Short() {
		seeds = 1
	}
	for _, class := range append(Classes(), Others()...) {
		for seed := range seeds {
			c, err := Make(class, seed)
			if err != nil {
				t.Fatal(err)
			}
			again, _ := Make(class, seed)
			if !reflect.DeepEqual(c.Edges, again.Edges) {
				t.Errorf("%s is another case the second time", c.Name)
			}
			state := map[int32]uint8{}
			last := float64(c.Info.Start)
			for _, e := range c.Edges {
				was, begun := state[e.Channel]
				k := uint8(e.Kind)
				ok := begun && k <= 1 && k != was || !begun && (k == 2 || k == 3)
				if !ok || float64(e.At) < last || float64(e.At) > float64(c.End)+1e-4 {
					t.Fatalf("%s: edge %+v after %v", c.Name, e, last)
				}
				switch k {
				case 2:
					k = 1
				case 3:
					k = 0
				}
				state[e.Channel], last = k, float64(e.At)
			}
			if len(state) != len(c.Truth.Roles) || len(c.Info.Channels) != len(c.Truth.Roles) {
				t.Errorf("%s: %d channels begin, %d roles", c.Name, len(state), len(c.Truth.Roles))
			}
		}
	}
}

// A housing 3° early shows 3° early on every cylinder: the edge stands 63° before TDC where the card says 60°, and the
// cam's window comes 3° early with it.
func TestHousingMovesBothPickups(t *testing.T) {
	g := even(4, Course{Start: 33, Knots: []Knot{{0, 1200}, {1, 1200}}})
	g.lead, g.locked, g.offset, g.camAt, g.camWidth = 60, 8, 3, 150, 40
	m, ps := g.passed(t)
	near(t, "error", g.errors(8)[1], 3, 1e-12)
	for _, p := range ps[3:] {
		near(t, "lead", math.Remainder(float64(p.k)*180-m.Angle(p.active), 720), 63, 1e-6)
		near(t, "advance", math.Remainder(float64(p.k)*180-m.Angle(p.spark), 720), 11, 1e-6)
	}
	seen := 0
	for _, s := range g.camSpans(draw("cam", 1), m) {
		if s.on > 0 && s.off < 1 {
			near(t, "cam window's begin", math.Remainder(m.Angle(s.on)+153, 720), 0, 1e-6)
			near(t, "cam window", m.Angle(s.off)-m.Angle(s.on), 40, 1e-6)
			seen++
		}
	}
	if seen < 8 { // 1200 rpm: ten cycles a second
		t.Errorf("%d cam windows", seen)
	}
}

// A bushing that lets the shaft swing once a turn: with 2° and no phase, edges at 60° before each TDC of a four
// lie at −30°, 60°, 150° and 240° of the shaft, so that they come 2·sin of that late.
func TestWobbleTurnsWithTheShaft(t *testing.T) {
	g := even(4, Course{})
	g.lead, g.wobble, g.phase = 60, 2, 0
	for k, want := range []float64{-1, math.Sqrt(3), 1, -math.Sqrt(3)} {
		near(t, "late", g.edgePlace(k, false)-(180*float64(k)-60), want, 1e-12)
	}
}

// A wire cut out of the middle of a recording begins in the state that it was in.
func TestACutWireBeginsInItsState(t *testing.T) {
	for _, v := range []struct {
		from float64
		high bool
		left int
	}{{0.5, false, 4}, {1.5, true, 3}, {2.5, false, 2}, {3.5, true, 1}} {
		w := newWire(RoleCrank, true, []span{{3, 4}, {1, 2}})
		w.cut(v.from, 10)
		if w.high != v.high || len(w.flips) != v.left {
			t.Errorf("cut at %g: high %v with %d changes left", v.from, w.high, len(w.flips))
		}
	}
}

// A recorder that looks every millisecond sees a change at the next look, and does not see what was over by then.
func TestSampledWire(t *testing.T) {
	w := newWire(RoleCrank, true, []span{{1.2e-3, 3.4e-3}, {5.1e-3, 5.6e-3}})
	w.sampled(1e-3)
	if len(w.flips) != 2 {
		t.Fatalf("%d changes", len(w.flips))
	}
	near(t, "on", w.flips[0], 2e-3, 1e-12)
	near(t, "off", w.flips[1], 4e-3, 1e-12)
}

// Half-way up a flank lies the edge, so a straight line between the samples beside it finds it to a quarter of
// a sample.
func TestSampledFlanks(t *testing.T) {
	c, err := Make("steady", 3)
	if err != nil {
		t.Fatal(err)
	}
	s := analog(draw("analog", 1), c, 50e3)
	seen := 0
	for _, e := range c.Edges {
		v := s.of[e.Channel]
		i := int((float64(e.At) - s.from) / s.dt)
		if e.Kind > 1 || i < 2 || i+3 > len(v) {
			continue
		}
		a, b, lo, hi := v[i], v[i+1], v[i-2], v[i+3]
		mid := (lo + hi) / 2
		if (a < mid) == (b < mid) {
			a, b, i = v[i-1], v[i], i-1
		}
		if (a < mid) == (b < mid) {
			a, b, i = v[i+2], v[i+3], i+2
		}
		at := s.from + (float64(i)+(mid-a)/(b-a))*s.dt
		near(t, "edge", at, float64(e.At), 0.25*s.dt)
		if up := hi > lo; up != (e.Kind == 0) {
			t.Fatalf("edge %+v goes the other way in the samples", e)
		}
		seen++
	}
	if seen < 100 {
		t.Errorf("%d flanks looked at", seen)
	}
}
