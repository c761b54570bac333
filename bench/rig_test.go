package bench

import (
	"math"
	"slices"
	"testing"

	"phasewright/jobcard"
	"phasewright/quantity"
)

// What the Default commands, in degrees, as numbers that the sums below are worked with.
const (
	locked   = 7.0
	starting = 13.0
	leading  = 58.0
)

// variant is an engine for tests: the Default with another number of cylinders; invented.
func variant(n int) Config {
	c := Default()
	orders := map[int][]int{1: {1}, 2: {1, 2}, 3: {1, 3, 2}, 4: {1, 3, 4, 2}, 5: {1, 2, 4, 5, 3}, 6: {1, 5, 3, 6, 2, 4}, 8: {1, 5, 6, 8, 4, 2, 7, 3}}
	c.Engine.Cylinders, c.Engine.FiringOrder, c.Engine.Intervals = n, orders[n], even(n)
	c.Crank.Vanes = same(15, n)
	return c
}

// quiet is the Default without any scatter.
func quiet(n int) Config {
	c := variant(n)
	c.Distributor.Scatter = 0
	return c
}

// sparks runs a rig and gives the sparks on one cylinder, or on all for 0.
func sparks(t *testing.T, c Config, p Profile, cyl int, faults ...string) []Event {
	t.Helper()
	f, err := ParseFaults(c, faults...)
	if err != nil {
		t.Fatal(err)
	}
	r, err := NewRig(c, f, p, 7)
	if err != nil {
		t.Fatal(err)
	}
	var out []Event
	last := math.Inf(-1)
	r.Run(func(e *Event) bool {
		if float64(e.Time) < last {
			t.Fatalf("%v at %g µs after an event at %g µs", e.Kind, float64(e.Time), last)
		}
		last = float64(e.Time)
		if e.Kind == Spark && (cyl == 0 || e.Cylinder == cyl) {
			out = append(out, *e)
		}
		return true
	})
	return out
}

func flashes(t *testing.T, c Config, p Profile, f Faults) []float64 {
	t.Helper()
	r, err := NewRig(c, f, p, 7)
	if err != nil {
		t.Fatal(err)
	}
	var out []float64
	r.Run(func(e *Event) bool {
		if e.Kind == Flash {
			out = append(out, float64(e.Shown))
		}
		return true
	})
	return out
}

// At a steady speed with delay and allowance equal the spark jumps at the commanded angle, in firing order, 120/(N·n) s
// apart (trade arithmetic).
func TestSoundEngineSparksWhereCommanded(t *testing.T) {
	for _, n := range []int{3, 4, 6, 8} {
		c := quiet(n)
		const rpm = 3000
		all := sparks(t, c, Hold(rpm, quantity.Seconds(2)), 0)
		if len(all) < 80 {
			t.Fatalf("%d cylinders: %d sparks in 2 s", n, len(all))
		}
		for i, e := range all {
			if math.Abs(float64(e.Advance)-locked) > 1e-6 {
				t.Fatalf("%d cylinders: spark %d at %v, commanded 7°", n, i, e.Advance)
			}
			if i == 0 {
				continue
			}
			if d := float64(e.Time - all[i-1].Time); math.Abs(d-120e6/float64(n)/rpm) > 1e-3 {
				t.Fatalf("%d cylinders: %g µs between sparks, want %g", n, d, 120e6/float64(n)/rpm)
			}
			want := c.Engine.FiringOrder[(indexOf(c.Engine.FiringOrder, all[i-1].Cylinder)+1)%n]
			if e.Cylinder != want {
				t.Fatalf("%d cylinders: cylinder %d fires after %d, order says %d", n, e.Cylinder, all[i-1].Cylinder, want)
			}
		}
	}
}

func indexOf(list []int, v int) int {
	for i, x := range list {
		if x == v {
			return i
		}
	}
	return -1
}

// Every constant and speed-proportional fault against its closed form: e = b − 6·n·(τ − c)·10⁻⁶ (trade arithmetic,
// written out by hand here).
func TestFaultsShiftTheSparkAsTheSumsSay(t *testing.T) {
	for _, tc := range []struct {
		fault string
		rpm   float64
		want  float64 // light on wire 1
	}{
		{"housing=+3deg", 2000, locked + 6},
		{"housing=-1.5deg", 2000, locked - 3},
		{"lead=+3deg", 2000, locked - 3},
		{"delay=+120us", 3000, locked - 6*3000*120e-6},
		{"delay=-60us", 3000, locked + 6*3000*60e-6},
		{"allowance=+40us", 4000, locked + 6*4000*40e-6},
		{"damper=+2deg", 1500, locked + 2},
		{"dial=+5deg", 1500, locked - 5},
		{"lightdelay=150us", 3000, locked - 6*3000*150e-6},
		{"edge=inverted", 1500, locked - 30}, // two vane widths of 15 shaft degrees, late: the vane enters at the active edge
		{"stroke=exhaust", 1500, locked},
		{"flashes=doubled", 1500, 2 * locked},
		{"wires=reversed", 1500, locked},
		{"rotor=+3deg", 1500, locked},
		{"lock=off", 3200, 33},                     // the map's last point
		{"tower=1", 1500, locked - 90},             // the next tower gets its spark one spacing later
		{"tooth=+1", 1500, locked + 720.0/11 - 40}, // the housing takes back 20 shaft degrees
	} {
		c := quiet(8)
		f, err := ParseFaults(c, tc.fault)
		if err != nil {
			t.Fatal(err)
		}
		shown := flashes(t, c, Hold(quantity.Speed(tc.rpm), quantity.Seconds(2)), f)
		if len(shown) < 8 {
			t.Errorf("%s: %d flashes", tc.fault, len(shown))
			continue
		}
		off := 0 // flashes elsewhere: a spark far off its tower may take the neighbour
		for _, v := range shown[2:] {
			if math.Abs(wrap(v-tc.want, 360)) > 2e-4 {
				off++
			}
		}
		if off > 0 && tc.fault != "edge=inverted" || off > len(shown)/4 {
			t.Errorf("%s at %g rpm: light shows %.4v, want %.4f°", tc.fault, tc.rpm, shown, tc.want)
		}
	}
}

// The spark is late by 3·α·t_w·(T + t_w) degrees under acceleration α rpm/s (trade arithmetic).
func TestAccelerationError(t *testing.T) {
	for _, n := range []int{4, 8} {
		c := quiet(n)
		c.Controller.CrankingBelow = 100
		for _, alpha := range []float64{300, 2000, -1000} {
			from, to := 1500.0, 1500+alpha
			all := sparks(t, c, Sweep(quantity.Speed(from), quantity.Speed(to), quantity.Seconds(1)), 0)
			spacing := 720 / float64(n)
			for _, e := range all[2:] {
				// Speeds at the edge by constant acceleration from the angle: ω² = ω₀² + 2·ω̇·θ, in °/s and °/s².
				edge := e.Turned + float64(e.Advance) - leading // the cylinder's TDC less the lead, up to the error sought
				w := math.Sqrt(36*from*from + 2*6*alpha*edge)
				before := math.Sqrt(36*from*from + 2*6*alpha*(edge-spacing))
				T := (w - before) / (6 * alpha)
				tw := T * (leading - locked) / spacing
				// The delay of 85 µs and its allowance do not cancel to second order: the edge is seen 85 µs on, the
				// spark 85 µs sooner, so the angle is the same but T and t_w belong to instants 85 µs later; left out
				// here, under 10⁻³°.
				late := 3 * alpha * tw * (T + tw)
				if math.Abs((locked-float64(e.Advance))-late) > 0.002+0.01*math.Abs(late) {
					t.Fatalf("%d cylinders at %+g rpm/s: late by %.5f°, closed form %.5f°", n, alpha, locked-float64(e.Advance), late)
				}
			}
		}
	}
}

// Cranking on the rig gives the bias that the closed prediction gives: two ways through the same motion.
func TestRigShowsTheCrankingBias(t *testing.T) {
	for _, n := range []int{4, 8} {
		c := quiet(n)
		turn, err := c.CrankOver()
		if err != nil {
			t.Fatal(err)
		}
		all := sparks(t, c, Cranking(quantity.Seconds(5)), 1)
		if len(all) < 3 {
			t.Fatalf("%d cylinders: %d sparks on cylinder 1", n, len(all))
		}
		got := all[len(all)-1].Advance - starting
		want := c.onStarter().BiasOn(turn)
		if math.Abs(float64(got-want)) > 0.05 { // the delay of 85 µs is 0.1° at these speeds and nearly cancels
			t.Errorf("%d cylinders: rig %v, prediction %v", n, got, want)
		}
	}
}

func TestSyncAndPickupFaults(t *testing.T) {
	for _, fault := range []string{"leads=swapped", "pickup=off", "campickup=off"} {
		if all := sparks(t, quiet(8), Hold(1500, quantity.Seconds(2)), 0, fault); len(all) != 0 {
			t.Errorf("%s: %d sparks, want none", fault, len(all))
		}
	}
	c := quiet(8)
	f, _ := ParseFaults(c, "leads=swapped")
	r, err := NewRig(c, f, Hold(1200, quantity.Seconds(2)), 1)
	if err != nil {
		t.Fatal(err)
	}
	active := 0
	r.Run(func(e *Event) bool {
		if e.Kind == CrankEdge && e.Active {
			active++
		}
		return true
	})
	if active < 19 || active > 21 { // 2 s at 1200 rpm are 20 cycles: one edge in two turns
		t.Errorf("swapped leads: %d active edges on the crank input in 20 cycles", active)
	}
}

// Half a turn out sparks on the companion: 360° from compression; the light cannot tell.
func TestHalfTurnSparksOnExhaust(t *testing.T) {
	for _, direct := range []bool{false, true} {
		c := quiet(8)
		if direct {
			c.Distributor.Steers, c.Ignition.Coils = false, jobcard.CoilPerCylinder
		}
		all := sparks(t, c, Hold(1500, quantity.Seconds(1)), 1, "stroke=exhaust")
		if len(all) == 0 {
			t.Fatal("no sparks")
		}
		for _, e := range all {
			if math.Abs(math.Abs(wrap(float64(e.Advance)-locked, 720))-360) > 1e-6 {
				t.Fatalf("spark at %v of its own cycle", e.Advance)
			}
		}
	}
}

// Swapped wires fire each other's cylinders, whole spacings out; the rest is untouched.
func TestSwappedWires(t *testing.T) {
	c := quiet(8)
	for _, e := range sparks(t, c, Hold(1500, quantity.Seconds(1)), 0, "wires=5-7") {
		i, j := indexOf(c.Engine.FiringOrder, 5), indexOf(c.Engine.FiringOrder, 7)
		want := locked
		switch e.Cylinder {
		case 5:
			want = locked + 90*float64(i-j)
		case 7:
			want = locked + 90*float64(j-i)
		}
		if math.Abs(wrap(float64(e.Advance)-want, 720)) > 1e-6 {
			t.Fatalf("cylinder %d sparks at %v, want %g°", e.Cylinder, e.Advance, want)
		}
	}
}

// A reversed variable-reluctance pickup fires late, later with speed, and not on a line.
func TestReversedReluctor(t *testing.T) {
	c := quiet(8)
	c.Crank.Kind = jobcard.Reluctor
	var late []float64
	for _, n := range []float64{1000, 2000, 4000} {
		if v := flashes(t, c, Hold(quantity.Speed(n), quantity.Seconds(1)), Faults{}); math.Abs(v[len(v)-1]-locked) > 1e-6 {
			t.Fatalf("wired right it shows %g", v[len(v)-1])
		}
		v := flashes(t, c, Hold(quantity.Speed(n), quantity.Seconds(1)), Faults{Polarity: true})
		late = append(late, locked-v[len(v)-1])
	}
	if !(late[0] > 5 && late[1] > late[0] && late[2] > late[1]) {
		t.Fatalf("late by %v", late)
	}
	if slope := (late[1] - late[0]) / 1000; (late[2]-late[1])/2000 > 0.8*slope {
		t.Errorf("late by %v at 1000, 2000, 4000 rpm: a straight line", late)
	}
	x := tail(0.1)
	if math.Abs(x*math.Exp(0.5*(1-x*x))-0.1) > 1e-12 || x < 1 {
		t.Errorf("tail(0.1) = %g does not solve its equation", x)
	}
	x = inner(0.1)
	if math.Abs(x*math.Exp(0.5*(1-x*x))-0.1) > 1e-12 || x > 1 {
		t.Errorf("inner(0.1) = %g does not solve its equation", x)
	}
}

// Too short a wait: the spark comes as soon as the controller can, which is late (6·n·latency after the edge).
func TestWaitTooShort(t *testing.T) {
	c := quiet(8)
	c.Controller.Lead, c.Crank.At, c.Controller.Locked = 12, 12, 10
	c.Controller.Latency = 300
	const rpm = 4000
	all := sparks(t, c, Hold(rpm, quantity.Seconds(1)), 0)
	want := 12 - 6*rpm*(85+300)*1e-6
	for _, e := range all[2:] {
		if !e.Late || math.Abs(float64(e.Advance)-want) > 1e-6 {
			t.Fatalf("late %v, advance %v, want %g°", e.Late, e.Advance, want)
		}
	}
}

// Dwell as driven is what was asked while it fits, and what is left between sparks less the off time where it does not.
func TestDwell(t *testing.T) {
	c := quiet(8)
	for _, tc := range []struct{ rpm, want float64 }{{2000, 2200}, {5000, 2200}, {6500, 120e6/8/6500 - 600}} {
		all := sparks(t, c, Hold(quantity.Speed(tc.rpm), quantity.Seconds(1)), 0)
		for _, e := range all[3:] {
			if want := min(tc.want, 120e6/8/tc.rpm-600); math.Abs(float64(e.Dwell)-want) > 0.01 {
				t.Fatalf("%g rpm: dwell %v, want %g µs", tc.rpm, e.Dwell, want)
			}
		}
	}
}

// Odd firing intervals: each spark is right since the controller knows the interval that it measured.
func TestOddFire(t *testing.T) {
	c := quiet(6)
	c.Engine.Intervals = []quantity.Crank{90, 150, 90, 150, 90, 150}
	all := sparks(t, c, Hold(2000, quantity.Seconds(1)), 0)
	if len(all) < 50 {
		t.Fatalf("%d sparks", len(all))
	}
	for _, e := range all {
		if math.Abs(float64(e.Advance)-locked) > 1e-6 {
			t.Fatalf("cylinder %d at %v", e.Cylinder, e.Advance)
		}
	}
}

// A controller with a dwell table holds one dwell on the starter and another while the engine runs, as the card's table
// has it at the two supplies.
func TestADwellTableCountsOnTheStarterToo(t *testing.T) {
	c := quiet(4)
	c.Controller.Dwell, c.Controller.DwellOnStarter = 2500, 4800
	for _, x := range []struct {
		profile Profile
		want    float64
	}{{Cranking(quantity.Seconds(3)), 4800}, {Hold(1500, quantity.Seconds(2)), 2500}} {
		r, err := NewRig(c, Faults{}, x.profile, 3)
		if err != nil {
			t.Fatal(err)
		}
		var dwells []float64
		r.Run(func(e *Event) bool {
			if e.Kind == Cut {
				dwells = append(dwells, float64(e.Dwell))
			}
			return true
		})
		if len(dwells) < 8 {
			t.Fatalf("%d sparks", len(dwells))
		}
		slices.Sort(dwells)
		// on the starter speed changes within the wait, and the charge was ordered an edge before
		if middle := dwells[len(dwells)/2]; math.Abs(middle/x.want-1) > 0.1 {
			t.Errorf("a dwell of %.0f µs, the controller holds %.0f µs", middle, x.want)
		}
	}
}
