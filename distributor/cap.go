package distributor

import (
	"fmt"

	"phasewright/engine"
	"phasewright/quantity"
)

// Tower is one terminal of the cap with the wire that belongs in it.
type Tower struct {
	Number   int            // counted clockwise from above, from the cap's reference tower 1
	Cylinder int            // whose wire it takes
	Angle    quantity.Shaft // clockwise from above, from tower 1
	Fires    engine.Position
	// Companion is the cylinder that reaches top dead centre together with this one, 0 where there is none.
	Companion int
}

// CapMap lays the firing order on the cap: the tower chosen for the first cylinder of the order, then on in rotor
// direction, one tower a firing. Towers stand half a firing interval apart on the shaft (even fire: 360/N). The result
// is in firing order.
func CapMap(f *engine.Firings, rotor engine.Direction, towerForFirst int) ([]Tower, error) {
	n := f.Count()
	if towerForFirst < 1 || towerForFirst > n {
		return nil, fmt.Errorf("tower %d for cylinder %d; the cap has towers 1 to %d, counted clockwise from above",
			towerForFirst, f.Cylinder(0), n)
	}
	if rotor != engine.Clockwise && rotor != engine.CounterClockwise {
		return nil, fmt.Errorf("rotor direction is not stated; watch the rotor from above while the " +
			"engine is turned by hand")
	}
	towers := make([]Tower, n)
	for i := range n {
		number := towerForFirst - 1 + i*int(rotor)
		number = (number%n + n) % n
		t := Tower{Number: number + 1, Cylinder: f.Cylinder(i), Fires: f.TDC(i)}
		t.Angle = quantity.Shaft(float64(rotor)) * engine.CrankToShaft(quantity.Crank(f.TDC(i)))
		if j, ok := f.Companion(i); ok {
			t.Companion = f.Cylinder(j)
		}
		towers[i] = t
	}
	var first quantity.Shaft // the angle at which tower 1 stands from the tower of the first cylinder
	for _, t := range towers {
		if t.Number == 1 {
			first = t.Angle
		}
	}
	for i := range towers {
		a := towers[i].Angle - first
		for a < -1e-9 {
			a += 360
		}
		for a >= 360-1e-9 {
			a -= 360
		}
		towers[i].Angle = a
	}
	return towers, nil
}
