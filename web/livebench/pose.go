package livebench

import (
	"math"

	"phasewright/distributor"
	"phasewright/engine"
	"phasewright/quantity"
)

// Clock angles, from above, at which the drawing places the pickups on a housing that has not been turned.
const (
	crankPickupAt = 225.0
	camPickupAt   = 135.0
)

// pose is how the bench stood when it was drawn. Everything that turns is drawn once and then turned as a whole, on the
// screen clockwise positive: with each degree of the crank, the damper by one times crank, wheel and rotor by half of
// one times rotor.
type pose struct {
	start   float64   // turned_deg then
	vanes   []float64 // screen angles of the crank vanes' leading edges then
	camVane []float64 // of the cam vane's two edges
	vane    float64   // where the first crank vane passes the pickup
	crank   float64   // +1: clockwise seen from the front
	rotor   float64   // +1: clockwise seen from above
	towers  []distributor.Tower
	first   float64 // clock angle of the tower of the first firing
	ring    float64 // damper marks read this much early
}

func newPose(r *rig) (pose, error) {
	p := pose{start: r.state.TurnedDeg, crank: float64(r.config.Engine.Rotation),
		rotor: float64(r.config.Distributor.Rotation)}
	p.ring = float64(r.config.Light.Damper + r.faults.Damper)
	f, err := engine.NewFirings(r.config.Engine.FiringOrder, r.config.Engine.Intervals)
	if err != nil {
		return p, err
	}
	if r.config.Distributor.Steers {
		d := r.config.Distributor
		if p.towers, err = distributor.CapMap(f, d.Rotation, d.TowerForNo1); err != nil {
			return p, err
		}
		p.first = float64(p.towers[0].Angle)
	}
	for k := range r.state.VanesDeg {
		edge := r.vaneAngle(p, k)
		if w := r.state.VanesDeg[k]; w[0] == w[1] { // a tooth: the pickup sees its middle
			edge += p.rotor * float64(r.config.Crank.Vanes[k]) / 2
		}
		p.vanes = append(p.vanes, edge)
	}
	if len(r.state.CamVaneDeg) == 1 {
		w := r.state.CamVaneDeg[0]
		width := shaftTurn(math.Mod(w[1]-w[0]+720, 720))
		edge := camPickupAt - p.rotor*r.state.HousingDeg + p.rotor*shaftTurn(r.state.CrankDeg-w[0])
		if width == 0 {
			width = float64(r.config.Cam.Vanes[0])
			edge += p.rotor * width / 2
		}
		p.camVane = []float64{edge, edge - p.rotor*width}
	}
	p.vane = r.vaneAngle(p, 0)
	return p, nil
}

// vaneAngle is the screen angle of crank vane k's leading edge now: it passes the pickup when the crank passes
// VanesDeg.
func (r *rig) vaneAngle(p pose, k int) float64 {
	st := &r.state
	if len(st.VanesDeg) == 0 {
		return 0
	}
	return crankPickupAt - p.rotor*st.HousingDeg + p.rotor*shaftTurn(st.CrankDeg-st.VanesDeg[k][0])
}

// turned is the crank's way since the bench was set up.
func (r *rig) turned() float64 { return r.state.TurnedDeg - r.base.start }

// shaftTurn is how far the distributor's shaft turns with the crank, degrees.
func shaftTurn(crank float64) float64 { return float64(engine.CrankToShaft(quantity.Crank(crank))) }

// angles are the screen angles of housing, wheel, rotor and damper now; the wheel's from how it was drawn.
func (r *rig) angles() (housing, wheel, rotor, damper float64) {
	p, st := r.base, &r.state
	housing = rounded(-p.rotor*st.HousingDeg, 100)
	wheel, rotor = round360(r.vaneAngle(p, 0)-p.vane), round360(p.first+housing+p.rotor*st.RotorDeg)
	return housing, wheel, rotor, round360(r.damperAngle())
}

// damperAngle is the screen angle of the zero mark now.
func (r *rig) damperAngle() float64 {
	return r.base.crank * (r.state.CrankDeg - r.base.ring)
}

// markDeg is how many degrees the zero mark, as one sees it, stands before the pointer now: −180 < d ≤ 180.
func (r *rig) markDeg() float64 {
	d := math.Mod(r.base.ring-r.state.CrankDeg, 360)
	switch {
	case d > 180:
		d -= 360
	case d <= -180:
		d += 360
	}
	return d
}

// towerAt is the tower, counted in firing order, that the rotor tip stands nearest to when the crank has come to
// turned; −1 without a cap.
func (r *rig) towerAt(turned float64) int {
	best, least := -1, math.Inf(1)
	rel := r.state.RotorDeg + shaftTurn(turned-r.turned())
	for i, t := range r.base.towers {
		d := math.Abs(math.Remainder(rel-shaftTurn(float64(t.Fires)), 360))
		if d < least {
			best, least = i, d
		}
	}
	return best
}

// round360 brings an angle to 0…360 and off the noise of long sums.
func round360(a float64) float64 {
	a = math.Round(a*100) / 100
	return math.Mod(math.Mod(a, 360)+360, 360)
}
