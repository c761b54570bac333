package distributor

import (
	"fmt"
	"math"

	"phasewright/engine"
	"phasewright/quantity"
)

// Rotor is the rotor tip and the cap terminals as arcs about the shaft, and where the tip stands when the active edge comes.
//
// The cap and the pickups sit on the housing, the rotor and the vane wheel on the shaft. So where the tip stands against the cap at the active edge is
// built into the unit: turning the housing moves edge and cap together and leaves AtEdge as it is.
type Rotor struct {
	Radius   quantity.Length // of the tip
	Tip      quantity.Length // width of the tip along its arc
	Terminal quantity.Length // width of a terminal along its arc
	AirGap   quantity.Length // from tip to terminal, radially: terminals stand at Radius + AirGap
	// Towers is the way from each tower to the next in rotor direction, in firing order; they sum to 360°. EvenTowers and TowersOf make it.
	Towers []quantity.Shaft
	AtEdge quantity.Shaft // middle of the tip from the middle of the terminal about to fire, at the active edge; past it in rotor direction positive
	Play   quantity.Shaft // half-width of what AtEdge may be wrong by: cap seat, pickup place, drive play together
}

// EvenTowers are n towers 360/n apart.
func EvenTowers(n int) []quantity.Shaft {
	out := make([]quantity.Shaft, n)
	for i := range out {
		out[i] = 360 / quantity.Shaft(n)
	}
	return out
}

// TowersOf are the towers of a cap that fits the firing intervals: half an interval each on the shaft, uneven on an odd-fire engine.
func TowersOf(f *engine.Firings) []quantity.Shaft {
	out := make([]quantity.Shaft, f.Count())
	for i := range out {
		out[i] = engine.CrankToShaft(f.Interval(i))
	}
	return out
}

// halves are the half angles of tip and terminal, seen from the shaft: width/2 on the own radius.
func (r Rotor) halves() (tip, terminal quantity.Shaft) {
	angle := func(width, radius quantity.Length) quantity.Shaft {
		return quantity.Shaft(float64(width/2/radius) * 180 / math.Pi)
	}
	return angle(r.Tip, r.Radius), angle(r.Terminal, r.Radius+r.AirGap)
}

// Cover is how far the middles may stand apart before tip and terminal no longer face each other.
func (r Rotor) Cover() quantity.Shaft {
	tip, terminal := r.halves()
	return tip + terminal
}

// Tightest is the smallest way between two towers; the one where crossfire threatens first.
func (r Rotor) Tightest() quantity.Shaft {
	s := r.Towers[0]
	for _, v := range r.Towers {
		s = min(s, v)
	}
	return s
}

// Check reports dimensions that no rotor and cap can have: all lengths above zero, towers that sum to 360°, and a tip that cannot face two terminals at once.
func (r Rotor) Check() error {
	for _, d := range []struct {
		field string
		v     quantity.Length
	}{{"radius", r.Radius}, {"rotor_tip", r.Tip}, {"terminal", r.Terminal}, {"air_gap", r.AirGap}} {
		if !(d.v > 0) || math.IsInf(float64(d.v), 0) {
			return quantity.Bad("distributor."+d.field, "measure it and write it in mm", "%v is not above zero", d.v)
		}
	}
	if r.AirGap > r.Radius/4 {
		return quantity.Bad("distributor.air_gap", "write the radial gap between tip and terminal, such as 0.9 mm", "%v is no gap beside a radius of %v", r.AirGap, r.Radius)
	}
	if len(r.Towers) == 0 {
		return quantity.Bad("engine.intervals", "give the towers of the cap", "the cap has no towers")
	}
	sum := quantity.Shaft(0)
	for i, v := range r.Towers {
		if !(v > 0) {
			return quantity.Bad("engine.intervals", "every way from tower to tower is above zero", "tower %d stands %v before the next", i+1, v)
		}
		sum += v
	}
	if quantity.Abs(sum-360) > 0.01 {
		return quantity.Bad("engine.intervals", "the ways from tower to tower sum to 360°", "they sum to %v", sum)
	}
	if !(r.Play >= 0) || r.Play > 45 {
		return quantity.Bad("distributor.rotor_play", "write a half-width from 0 to 45 deg", "%v", r.Play)
	}
	if math.IsNaN(float64(r.AtEdge)) || quantity.Abs(r.AtEdge) > 180 {
		return quantity.Bad("distributor.rotor_offset", "write where the tip stands from its terminal at the active edge, −180 to 180 deg", "%v", r.AtEdge)
	}
	if len(r.Towers) > 1 && r.Cover() >= r.Tightest()-r.Cover() {
		tip, terminal := r.halves()
		most := quantity.Length(float64(r.Tightest()/2-terminal) * math.Pi / 180 * 2 * float64(r.Radius))
		if most <= 0 {
			return quantity.Bad("distributor.terminal", "measure the terminal along its arc and the radius", "terminals %v wide leave no room between towers %v apart", 2*terminal, r.Tightest())
		}
		return quantity.Bad("distributor.rotor_tip", fmt.Sprintf("write a tip narrower than %v", most),
			"a tip of %v faces two terminals at once: towers stand %v apart", 2*tip, r.Tightest())
	}
	return nil
}

// Stand is where the tip stands at one moment.
type Stand struct {
	Tip       quantity.Shaft  // middle of the tip from the middle of its terminal, past it positive
	Overlap   quantity.Length // arc on which they face each other, along the tip's radius; 0 where they do not
	Gap       quantity.Length // shortest way from tip to its terminal: the air gap while they overlap
	Neighbour quantity.Length // shortest way to the nearer neighbouring terminal at the tightest place of the cap; +Inf with one tower
}

// Clear says that tip and terminal do not face each other.
func (s Stand) Clear() bool { return s.Overlap <= 0 }

// StandAt is where the tip stands with its middle at tip from its terminal's middle. Overlap = (½tip + ½terminal − |tip|) as an arc, at most the
// narrower of the two; a clear gap is the straight line between corners, √(r² + R² − 2rR·cos φ).
func (r Rotor) StandAt(tip quantity.Shaft) Stand {
	half, terminal := r.halves()
	cover, off := half+terminal, quantity.Abs(tip)
	s := Stand{Tip: tip, Gap: r.between(off - cover), Neighbour: quantity.Length(math.Inf(1))}
	if arc := min(cover-off, 2*half, 2*terminal); arc > 0 {
		s.Overlap = quantity.Length(float64(arc) * math.Pi / 180 * float64(r.Radius))
	}
	if len(r.Towers) > 1 {
		s.Neighbour = r.between(max(r.Tightest()-off-cover, off-r.Tightest()-cover))
	}
	return s
}

// between is the shortest way from a corner of the tip to a corner of a terminal that stand clear by an angle, the air gap where they are not clear.
func (r Rotor) between(clear quantity.Shaft) quantity.Length {
	if clear <= 0 {
		return r.AirGap
	}
	in, out := float64(r.Radius), float64(r.Radius+r.AirGap)
	s := math.Sin(min(float64(clear), 180) * math.Pi / 360)
	return quantity.Length(math.Sqrt((out-in)*(out-in) + 4*in*out*s*s))
}
