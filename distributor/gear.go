package distributor

import (
	"fmt"
	"math"

	"phasewright/quantity"
)

// Gear is the distributor's drive gear.
type Gear struct {
	Teeth    int
	Diameter quantity.Length // pitch diameter
	Helix    quantity.Angle  // helix angle β at the pitch cylinder, 0 for straight teeth
}

// Step is what one tooth is worth on the distributor shaft: 360/z (13 teeth: 27.7°, which is 55.4° of the crank).
func (g Gear) Step() quantity.Shaft { return quantity.Shaft(360 / float64(g.Teeth)) }

// Lead is the axial travel for one whole turn along the helix: π·d/tan β. Infinite for straight teeth.
func (g Gear) Lead() quantity.Length {
	return quantity.Length(math.Pi * float64(g.Diameter) / math.Tan(float64(g.Helix)*math.Pi/180))
}

// Twist is how far the shaft turns as the gear slides axially by travel along a mating gear that stands still:
// 360·travel/lead.
func (g Gear) Twist(travel quantity.Length) quantity.Shaft {
	if g.Helix == 0 {
		return 0
	}
	return quantity.Shaft(360 * float64(travel) / float64(g.Lead()))
}

// Landing is one tooth position in which the unit can drop home, seen from the wanted one.
type Landing struct {
	Teeth int            // teeth away, ahead in rotor direction positive
	Off   quantity.Shaft // how far the rotor then stands from the mark
}

// Landings lists the positions up to n teeth each side of the wanted one. The rotor can land nowhere between them: the
// housing takes up the rest.
func (g Gear) Landings(n int) []Landing {
	var out []Landing
	for k := -n; k <= n; k++ {
		out = append(out, Landing{Teeth: k, Off: quantity.Shaft(k) * g.Step()})
	}
	return out
}

// HousingNeeded is the largest housing turn, each way, that may be wanted after the unit has dropped in on the best
// tooth: half a step, since the mark may lie anywhere between two teeth.
func (g Gear) HousingNeeded() quantity.Shaft { return g.Step() / 2 }

// TowersPerStep says after how many teeth the rotor meets every tower of the cap again, and how many towers further on
// that is; ok is false where only a whole turn does it. The gaps from each tower to the next, in shaft degrees, sum to
// 360: on a cap whose towers stand unevenly the rotor may meet one of them and miss the rest.
func (g Gear) TowersPerStep(gaps []quantity.Shaft) (teeth, towersOn int, ok bool) {
	const same = 0.01 // shaft degrees, far below what anybody can set: rounding only
	for k := 1; k < g.Teeth; k++ {
		turned := quantity.Shaft(k) * g.Step()
		for on := 1; on < len(gaps); on++ {
			meets := true
			for i := range gaps {
				var to quantity.Shaft // from tower i to the one that is on further
				for j := range on {
					to += gaps[(i+j)%len(gaps)]
				}
				meets = meets && quantity.Abs(to-turned) < same
			}
			if meets {
				return k, on, true
			}
		}
	}
	return 0, 0, false
}

// Seat is the height of the unit in its bore, found in a dry fit without the clamp.
type Seat struct {
	Gap        quantity.Length // under the flange when the unit is let down by its own weight
	EndPlay    quantity.Length // wanted between shaft and what it bottoms on
	Thickness  quantity.Length // of one shim or gasket, compressed
	Engagement quantity.Length // how far the unit may be lifted before the gears engage too little
}

// Stack is the shim stack that follows.
type Stack struct {
	Count   int
	Height  quantity.Length // of the stack
	EndPlay quantity.Length // that it leaves
}

// ErrEngagement is wrapped where the needed stack would lift the gear out of safe engagement.
var ErrEngagement = fmt.Errorf("the stack would lift the gear out of its mesh")

// Shims is ⌈(gap + wanted end play)/compressed thickness⌉, none where the flange seats (no gap). The error wraps
// ErrEngagement when the stack is higher than the engagement allows: seat or drive have to be machined, or another unit
// taken.
func (s Seat) Shims() (Stack, error) {
	if s.Gap <= 0 {
		return Stack{EndPlay: s.EndPlay}, nil
	}
	if !(s.Thickness > 0) {
		return Stack{}, fmt.Errorf("shim thickness %v; measure one shim compressed and write it above 0 mm",
			s.Thickness)
	}
	n := int(math.Ceil(float64((s.Gap+s.EndPlay)/s.Thickness) - 1e-9)) // 3.0000000001 shims are three
	st := Stack{Count: n, Height: quantity.Length(n) * s.Thickness}
	st.EndPlay = st.Height - s.Gap
	if s.Engagement > 0 && st.Height > s.Engagement {
		return st, fmt.Errorf("%d shims lift the unit %v and the gear may rise %v only: %w", n, st.Height, s.Engagement,
			ErrEngagement)
	}
	return st, nil
}
