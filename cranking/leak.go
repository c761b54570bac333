package cranking

import "math"

// leaking is torques for a cylinder that loses charge past rings and valves. Between the valves the gas that is left
// keeps p·vᵏ with v its volume per mass, and mass escapes as through a nozzle of the area Leak, at the mean cranking
// speed.
func (p *shape) leaking(e Engine) *[2 * turnPoints]float64 {
	tight := e
	tight.Leak = 0
	out := p.torques(tight)
	ambient := float64(e.Ambient)
	outside := math.Log(ambient)
	// √(R·T)·area·time over volume is the share of the mass that escapes in a point at a nozzle factor of 1
	scale := math.Log(e.Leak * 1e-6 * math.Sqrt(gasConstant) / (6 * float64(e.CrankingSpeed) * fine))
	closes, opens := -180+float64(e.InletCloses), 180-float64(e.ExhaustOpens)
	start := math.Log(p.s.volume(radians(closes)))
	// logarithms: of the mass left, and of density, pressure and temperature where the present stretch began
	mass, dense, press, warm := 0.0, 0.0, math.Log(float64(e.InletPressure)), math.Log(chargeWarm)
	index := e.CompressionIndex
	left := ambient
	for point := int(math.Ceil(closes * fine)); float64(point) <= opens*fine; point++ {
		at := (point + len(out)) % len(out)
		k := at % turnPoints
		rho := start - p.logVolume[k] + mass - dense
		if point == 0 { // from here the gas expands
			dense, press, warm, index = dense+rho, press+index*rho, warm+(index-1)*rho, e.ExpansionIndex
			rho = 0
		}
		pressure, temperature := press+index*rho, warm+(index-1)*rho
		mass -= nozzle(pressure-outside) * math.Exp(scale+temperature/2-p.logVolume[k])
		left = math.Exp(pressure)
		out[at] = (left - ambient) * p.lever[k]
	}
	for point := int(opens*fine) + 1; float64(point) < (opens+blowdown)*fine; point++ {
		fall := 0.5 * (1 + math.Cos(math.Pi*(float64(point)/fine-opens)/blowdown))
		out[point] = (left - ambient) * fall * p.lever[point%turnPoints]
	}
	return out
}

// nozzle is the mass flow over p·area/√(R·T), with p and T in the cylinder and drop the logarithm of its pressure over
// the outside's: isentropic flow, any textbook of gas dynamics. Below nought the outside's air comes in, taken as warm
// as what is inside.
func nozzle(drop float64) float64 {
	const (
		choked  = 0.6381 // from here on the flow no longer grows: ln 1.893, (γ/(γ−1))·ln((γ+1)/2)
		fullest = 0.6847 // the flow there, √γ·(2/(γ+1))^((γ+1)/(2γ−2))
	)
	d := math.Abs(drop)
	flow := fullest
	if d < choked {
		flow = math.Sqrt(2 * heatRatio / (heatRatio - 1) *
			(math.Exp(-2*d/heatRatio) - math.Exp(-d*(heatRatio+1)/heatRatio)))
	}
	if drop < 0 {
		return -flow * math.Exp(d)
	}
	return flow
}
