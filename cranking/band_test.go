package cranking_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"phasewright/cranking"
	"phasewright/quantity"
)

// starting is an engine on its starter in SI units, as this test has it: it shares no code with the room.
type starting struct {
	tdc                          []int // degrees
	bore, throw, rod, ratio      float64
	inertia, mass                float64
	inlet, outside, kc, ke       float64
	closes, opens, blowdown      int     // degrees after TDC of compression
	friction, slope              float64 // N·m, N·m·s
	free, target                 float64 // rad/s
	leak                         float64 // m²
	room, pressure, before, warm []float64
}

// place gives by coordinates how far the piston stands from the crank's axis.
func (s *starting) place(a float64) float64 {
	pinX, pinY := s.throw*math.Sin(a), s.throw*math.Cos(a)
	return pinY + math.Sqrt(s.rod*s.rod-pinX*pinX)
}

// parts is how many steps this test's balance takes in a degree.
const parts = 2

// rooms is the volume over a cylinder's piston at each step of a turn from its TDC.
func (s *starting) rooms() []float64 {
	piston := math.Pi / 4 * s.bore * s.bore
	out := make([]float64, 360*parts)
	for i := range out {
		a := float64(i) * math.Pi / 180 / parts
		out[i] = piston * (2*s.throw/(s.ratio-1) + s.throw + s.rod - s.place(a))
	}
	return out
}

// gas carries each cylinder's pressure over a step and gives the work on the crank. What is left of the charge and its
// volume change the pressure by d ln p = k·(d ln m − d ln V), step by step.
func (s *starting) gas(step int, w float64) float64 {
	work := 0.0
	const da = math.Pi / 180 / parts
	for i, tdc := range s.tdc {
		from := (step-tdc*parts+1080*parts)%(720*parts) - 360*parts // −360…360° from TDC of compression
		to := from + 1
		v0, v1 := s.room[(from+360*parts)%len(s.room)], s.room[(to+360*parts)%len(s.room)]
		p0, p1 := s.pressure[i], s.outside
		switch {
		case to < s.closes*parts:
			p1, s.warm[i] = s.inlet, 310
		case to <= s.opens*parts:
			k := s.kc
			if from >= 0 {
				k = s.ke
			}
			kept := 0.0 // d ln m
			if s.leak > 0 {
				// nozzle with air, γ 1.4, R 287: mass flow over p·A/√(RT)
				flow := 0.68473
				if r := min(p0, s.outside) / max(p0, s.outside); r > 0.52828 {
					flow = math.Sqrt(7 * (math.Pow(r, 2/1.4) - math.Pow(r, 2.4/1.4)))
				}
				if p0 < s.outside {
					flow *= -s.outside / p0
				}
				kept = -flow * s.leak * math.Sqrt(287*s.warm[i]) / v0 * da / w
			}
			change := k * (kept - math.Log(v1/v0))
			p1 = p0 * math.Exp(change)
			s.warm[i] *= math.Exp(change * (k - 1) / k)
			s.before[i] = p1
		case to < (s.opens+s.blowdown)*parts:
			x := float64(to-s.opens*parts) / float64(s.blowdown*parts)
			p1 = s.outside + (s.before[i]-s.outside)*(1+math.Cos(math.Pi*x))/2
		}
		s.pressure[i] = p1
		work += ((p0+p1)/2 - s.outside) * (v1 - v0)
	}
	return work
}

// heft is half the moment of inertia with the reciprocating masses at an angle.
func (s *starting) heft(a float64) float64 {
	sum := s.inertia
	for _, tdc := range s.tdc {
		at := a - float64(tdc)*math.Pi/180
		d := (s.place(at+1e-5) - s.place(at-1e-5)) / 2e-5
		sum += s.mass * d * d
	}
	return sum / 2
}

// settle turns the crank until it goes round at the target speed alike each cycle, and gives the times in s at each
// step of the last one; ok is false where no starter pulls it over so slowly.
func (s *starting) settle() (at []float64, ok bool) {
	const whole, da = 720 * parts, math.Pi / 180 / parts
	n := len(s.tdc)
	s.pressure, s.before, s.warm = make([]float64, n), make([]float64, n), make([]float64, n)
	rest := func() {
		for i := range s.pressure {
			s.pressure[i], s.before[i], s.warm[i] = s.outside, s.outside, 310
		}
	}
	rest()
	s.room = s.rooms()
	heft := make([]float64, whole+1)
	for i := range heft {
		heft[i] = s.heft(float64(i) * da)
	}
	stall, turned := 3*(s.friction+s.slope*s.target), 0.0
	fresh := heft[0] * s.target * s.target * 2.5
	energy := fresh
	at = make([]float64, whole+1)
	for range 300 {
		begun, stopped := energy, false
		lost, wide := 0.0, 0.0 // J, and the sum of speeds at all steps
		for i := range whole {
			pull := func(w float64) float64 { return max(0, stall*(1-w/s.free)) - s.friction - s.slope*w }
			w := math.Sqrt(energy / heft[i])
			work := s.gas(i, max(w, s.target/50)) // what stands for long has leaked empty
			half := energy + (work+pull(w)*da)/2
			if stopped = half <= 0; stopped {
				break
			}
			m := math.Sqrt(half * 2 / (heft[i] + heft[i+1]))
			energy += work + pull(m)*da
			lost += (s.friction+s.slope*m)*da - work
			wide += min(m, s.free)
			if stopped = energy <= 0; stopped {
				break
			}
			at[i+1] = at[i] + 2*da/(w+math.Sqrt(energy/heft[i+1]))
		}
		if stopped {
			rest()
			energy, fresh = fresh, min(1.3*fresh, 20*heft[0]*s.target*s.target)
			if turned > 0 {
				stall = (stall + turned) / 2
			} else {
				stall *= 1.15
			}
			continue
		}
		turned = stall
		if at[whole] < 4*math.Pi/s.target/3 { // thrown round: it would take many cycles to slow
			rest()
			energy, stall = fresh, stall/1.2
			continue
		}
		miss := 4*math.Pi/at[whole] - s.target
		if math.Abs(miss) < 2e-4*s.target && math.Abs(energy-begun) < 2e-4*begun {
			return at, true
		}
		// the torque that was lost on the way round, given by a starter at the target speed
		wanted := lost / (whole * da) / (1 - wide/whole*s.target/(4*math.Pi/at[whole])/s.free)
		if !(wanted > 0) { // near a standstill the shape of the motion says nothing of the target
			wanted = 2 * stall
		}
		stall *= min(max(1+0.4*(wanted/stall-1), 0.8), 1.25)
	}
	return nil, false
}

// bias is what the light shows on cylinder 1 less what is commanded, degrees: it fires a share of the last interval
// after the edge.
func (s *starting) bias(at []float64, lead, advance, spacing float64) float64 {
	when := func(deg float64) float64 {
		turns := math.Floor(deg / 720)
		x := (deg - 720*turns) * parts
		i := min(int(x), len(at)-2)
		return turns*at[len(at)-1] + at[i] + (x-float64(i))*(at[i+1]-at[i])
	}
	edge := when(-lead)
	spark := edge + (edge-when(-lead-spacing))*(lead-advance)/spacing
	low, high := -lead, -lead+720.0
	for range 60 {
		if mid := (low + high) / 2; when(mid) < spark {
			low = mid
		} else {
			high = mid
		}
	}
	return -low - advance
}

// The band that is said to hold nine in ten holds 85 to 95 % of engines whose unknowns are drawn at random from the
// ranges that it states: inertia within a factor of two, blow-by, friction, speed, indices, inlet, starter. The balance is
// this test's own: pressures stepped along the motion, heft by coordinates. Engines invented. 300 draws hold the share
// to ± 1.7 % (one binomial standard deviation).
func TestBandHoldsNineInTen(t *testing.T) {
	if testing.Short() {
		t.Skip("NOT CHECKED with -short: how many engines the band of the cranking light holds")
	}
	for _, e := range []struct {
		name              string
		intervals         []quantity.Crank
		bore, stroke, rod quantity.Length
		ratio             float64
		inertia, mass     float64
		speed             quantity.Speed
		lead, advance     quantity.Crank
	}{
		{"four", []quantity.Crank{180, 180, 180, 180}, 87, 92, 151, 8.4, 0.17, 0.55, 210, 62, 9},
		{"six", []quantity.Crank{120, 120, 120, 120, 120, 120}, 91, 99, 168, 8.1, 0.26, 0.62, 190, 55, 8},
		{"eight", []quantity.Crank{90, 90, 90, 90, 90, 90, 90, 90}, 97, 84, 155, 9.2, 0.33, 0.6, 200, 52, 12},
		{"odd-fire six", []quantity.Crank{150, 90, 150, 90, 150, 90}, 95, 86, 149, 8.6, 0.28, 0.6, 195, 50, 10},
	} {
		on, starter := cranking.Assumed()
		on.Cylinders, on.Intervals = len(e.intervals), e.intervals
		on.Bore, on.Stroke, on.Rod, on.CompressionRatio = e.bore, e.stroke, e.rod, e.ratio
		on.Inertia, on.ReciprocatingMass, on.CrankingSpeed = quantity.Inertia(e.inertia), quantity.Mass(e.mass), e.speed
		spread := cranking.DefaultSpread()
		band, err := cranking.Setup{Engine: on, Starter: starter, Lead: e.lead, Advance: e.advance}.Bias(spread)
		if err != nil {
			t.Fatal(e.name, err)
		}
		rng := rand.New(rand.NewPCG(7, 11))
		even := func(low, high float64) float64 { return low + (high-low)*rng.Float64() }
		draw := func(centre bool) (float64, bool) {
			if centre {
				even = func(low, high float64) float64 { return (low + high) / 2 }
			}
			s := &starting{bore: e.bore.Metres(), throw: e.stroke.Metres() / 2, rod: e.rod.Metres(), ratio: e.ratio,
				mass: e.mass, outside: float64(on.Ambient)}
			sum := 0.0
			for _, gap := range e.intervals {
				s.tdc = append(s.tdc, int(sum))
				sum += float64(gap)
			}
			reflected := even(0, spread.Reflected)
			s.inertia = e.inertia*math.Exp(even(-1, 1)*math.Log(spread.Inertia)) + reflected
			s.inlet = float64(on.InletPressure) * even(1-spread.Inlet, 1+spread.Inlet)
			index := even(-spread.Index, spread.Index)
			s.kc, s.ke = on.CompressionIndex+index, on.ExpansionIndex+index
			s.closes, s.opens, s.blowdown = -125, 125, 40
			swept := float64(on.Cylinders) * math.Pi / 4 * s.bore * s.bore * 2 * s.throw
			rough := even(1-spread.Friction, 1+spread.Friction)
			s.friction = float64(on.Friction) * rough * swept / (4 * math.Pi)
			s.slope = on.FrictionSlope * rough * 30 / math.Pi * swept / (4 * math.Pi)
			s.target = float64(e.speed) * math.Pi / 30 * even(1-spread.Speed, 1+spread.Speed)
			stiff := even(spread.Stiffest, spread.Softest)
			if centre {
				stiff = starter.Stiffness
			}
			s.free = s.target * stiff
			if !centre {
				s.leak = even(0, spread.Leak) * 1e-6 * float64(e.bore) / 100
			}
			at, ok := s.settle()
			if !ok {
				return 0, false
			}
			return s.bias(at, float64(e.lead), float64(e.advance), float64(e.intervals[len(e.intervals)-1])), true
		}
		const draws = 300
		held, turned := 0, 0
		for range draws {
			if v, ok := draw(false); ok {
				turned++
				if math.Abs(v-float64(band.Mean)) <= float64(band.Half) {
					held++
				}
			}
		}
		best, ok := draw(true)
		if !ok || math.Abs(best-float64(band.Best)) > 0.1 {
			t.Errorf("%s: the best value is %v, this test's own balance says %.2f°", e.name, band.Best, best)
		}
		share := float64(held) / float64(turned)
		t.Logf("%s: band %.2f ± %.2f, best %.2f (own %.2f), %d of %d held, %.1f %%; lost %d here, %d there", e.name, float64(band.Mean),
			float64(band.Half), float64(band.Best), best, held, turned, 100*share, draws-turned, band.Lost)
		if share < 0.85 || share > 0.95 {
			t.Errorf("%s: the band %.2f ± %.2f° holds %.1f %% of %d engines, want 85 to 95 %%", e.name, float64(band.Mean),
				float64(band.Half), 100*share, turned)
		}
	}
}
