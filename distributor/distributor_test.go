package distributor_test

import (
	"errors"
	"math"
	"testing"

	"phasewright/distributor"
	"phasewright/engine"
	"phasewright/quantity"
)

// By division: 13 teeth are 360/13 = 27.7 shaft and 55.4 crank degrees.
func TestToothStep(t *testing.T) {
	g := distributor.Gear{Teeth: 13}
	if got := float64(g.Step()); math.Abs(got-27.6923) > 1e-4 {
		t.Errorf("one of 13 teeth is %v shaft degrees, want 27.6923", got)
	}
	if got := float64(engine.ShaftToCrank(g.Step())); math.Abs(got-55.3846) > 1e-4 {
		t.Errorf("one of 13 teeth is %v crank degrees, want 55.3846", got)
	}
}

// Helical gear handbook formula, worked by hand: d = 32 mm, β = 45°: tan β = 1, lead = π·32 = 100.531 mm; 25.1327 mm of
// travel are a quarter turn.
func TestTwist(t *testing.T) {
	g := distributor.Gear{Teeth: 13, Diameter: 32, Helix: 45}
	if got := float64(g.Lead()); math.Abs(got-100.53096) > 1e-4 {
		t.Errorf("lead %v mm, want 100.531", got)
	}
	if got := float64(g.Twist(25.13274)); math.Abs(got-90) > 1e-4 {
		t.Errorf("twist %v, want 90", got)
	}
	if got := (distributor.Gear{Teeth: 13, Diameter: 32}).Twist(20); got != 0 {
		t.Errorf("straight teeth twist by %v", got)
	}
}

func TestTowersPerStep(t *testing.T) {
	for _, c := range []struct {
		teeth, towers, k, on int
		ok                   bool
	}{{12, 6, 2, 1, true}, {13, 8, 0, 0, false}, {12, 8, 3, 2, true}, {14, 4, 7, 2, true}} { // by hand: 12 teeth, 6 towers: two teeth are 60°, one tower
		gaps := make([]quantity.Shaft, c.towers)
		for i := range gaps {
			gaps[i] = 360 / quantity.Shaft(c.towers)
		}
		k, on, ok := (distributor.Gear{Teeth: c.teeth}).TowersPerStep(gaps)
		if k != c.k || on != c.on || ok != c.ok {
			t.Errorf("%d teeth %d towers: %d teeth, %d towers, %v", c.teeth, c.towers, k, on, ok)
		}
	}
}

// Shim stack ⌈(gap + end play)/thickness⌉, worked by hand.
func TestShims(t *testing.T) {
	for _, c := range []struct {
		seat distributor.Seat
		n    int
		play float64
	}{
		{distributor.Seat{Gap: 0, EndPlay: 0.5, Thickness: 0.8}, 0, 0.5},
		{distributor.Seat{Gap: 1.0, EndPlay: 0.5, Thickness: 0.8}, 2, 0.6},
		{distributor.Seat{Gap: 1.1, EndPlay: 0.5, Thickness: 0.8}, 2, 0.5}, // 1.6/0.8 is two, not three
		{distributor.Seat{Gap: 1.2, EndPlay: 0.5, Thickness: 0.8}, 3, 1.2},
	} {
		got, err := c.seat.Shims()
		if err != nil || got.Count != c.n || math.Abs(float64(got.EndPlay)-c.play) > 1e-9 {
			t.Errorf("%+v: %+v %v", c.seat, got, err)
		}
	}
	_, err := distributor.Seat{Gap: 3, EndPlay: 0.5, Thickness: 0.8, Engagement: 2}.Shims()
	if !errors.Is(err, distributor.ErrEngagement) {
		t.Errorf("a stack of 4 mm in 2 mm of engagement: %v", err)
	}
	if _, err := (distributor.Seat{Gap: 1}).Shims(); err == nil {
		t.Error("shims of no thickness accepted")
	}
}

// Material pairs as the trade holds them (common practice).
func TestPairs(t *testing.T) {
	for _, c := range []struct {
		gear, cam string
		want      distributor.Pairing
	}{
		{"cast iron", "cast iron", distributor.SuitedPair}, {"melonised steel", "cast iron", distributor.SuitedPair}, {"Bronze", "billet steel", distributor.WearingPair},
		{"composite", "billet steel", distributor.SuitedPair}, {"steel", "billet steel", distributor.EatenPair}, {"steel", "cast iron", distributor.EatenPair},
		{"steel", "unknown", distributor.UnknownPair}, {"", "", distributor.UnknownPair}, {"nylon", "cast iron", distributor.UnknownPair},
	} {
		if got, why := distributor.Pair(c.gear, c.cam); got != c.want || why == "" {
			t.Errorf("%s on %s: %v (%s), want %v", c.gear, c.cam, got, why, c.want)
		}
	}
}

// On a cap whose towers stand unevenly a turn that fits one tower may miss the rest. By hand: crank intervals of 150
// and 90° put six towers 75 and 45° apart by turns, which repeats every 120°; of 14 teeth (25.7° each) no number makes
// 120, of 12 teeth (30°) four do, two towers on. A four of 70° block angle (250 and 110°, towers 125 and 55°) repeats
// every half turn: 6 of 12 teeth, two towers on.
func TestTowersPerStepOnAnUnevenCap(t *testing.T) {
	six := []quantity.Shaft{75, 45, 75, 45, 75, 45}
	four := []quantity.Shaft{125, 55, 125, 55}
	for _, c := range []struct {
		teeth int
		gaps  []quantity.Shaft
		k, on int
		ok    bool
	}{{14, six, 0, 0, false}, {12, six, 4, 2, true}, {12, four, 6, 2, true}, {11, four, 0, 0, false}, {9, []quantity.Shaft{360}, 0, 0, false}} {
		k, on, ok := (distributor.Gear{Teeth: c.teeth}).TowersPerStep(c.gaps)
		if k != c.k || on != c.on || ok != c.ok {
			t.Errorf("%d teeth, towers %v apart: %d teeth, %d towers, %v; want %d, %d, %v", c.teeth, c.gaps, k, on, ok, c.k, c.on, c.ok)
		}
	}
}

// Laid out by hand. An inline six, rotor counterclockwise, No. 1 in tower 4: walking counterclockwise the towers go 4,
// 3, 2, 1, 6, 5.
func TestCapMapCounterClockwise(t *testing.T) {
	f, _ := engine.NewFirings([]int{1, 5, 3, 6, 2, 4}, nil)
	m, err := distributor.CapMap(f, engine.CounterClockwise, 4)
	if err != nil {
		t.Fatal(err)
	}
	wantTower := map[int]int{1: 4, 5: 3, 3: 2, 6: 1, 2: 6, 4: 5}
	wantAngle := map[int]float64{1: 180, 5: 120, 3: 60, 6: 0, 2: 300, 4: 240}
	wantCompanion := map[int]int{1: 6, 6: 1, 5: 2, 2: 5, 3: 4, 4: 3}
	for _, w := range m {
		if w.Number != wantTower[w.Cylinder] || math.Abs(float64(w.Angle)-wantAngle[w.Cylinder]) > 1e-9 || w.Companion != wantCompanion[w.Cylinder] {
			t.Errorf("cylinder %d: %+v", w.Cylinder, w)
		}
	}
}

// By hand: an eight, rotor clockwise, No. 1 in tower 1: cylinders stand clockwise in firing order.
func TestCapMapClockwise(t *testing.T) {
	order := []int{1, 5, 6, 8, 4, 2, 7, 3}
	f, _ := engine.NewFirings(order, nil)
	m, _ := distributor.CapMap(f, engine.Clockwise, 1)
	for i, w := range m {
		if w.Cylinder != order[i] || w.Number != i+1 || math.Abs(float64(w.Angle)-45*float64(i)) > 1e-9 {
			t.Errorf("place %d: %+v", i, w)
		}
	}
}

// Odd fire: towers stand half the crank intervals apart, 75 and 45 shaft degrees by turns.
func TestCapMapOddFire(t *testing.T) {
	f, _ := engine.NewFirings([]int{1, 4, 3, 6, 5, 2}, []quantity.Crank{150, 90, 150, 90, 150, 90})
	m, _ := distributor.CapMap(f, engine.Clockwise, 1)
	want := []float64{0, 75, 120, 195, 240, 315}
	for i, w := range m {
		if math.Abs(float64(w.Angle)-want[i]) > 1e-9 {
			t.Errorf("place %d at %v, want %v", i, w.Angle, want[i])
		}
	}
}

func TestCapMapRefused(t *testing.T) {
	f, _ := engine.NewFirings([]int{1, 2}, nil)
	if _, err := distributor.CapMap(f, engine.Clockwise, 3); err == nil {
		t.Error("tower 3 of 2 accepted")
	}
	if _, err := distributor.CapMap(f, 0, 1); err == nil {
		t.Error("no rotor direction accepted")
	}
}
