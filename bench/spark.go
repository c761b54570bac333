package bench

import (
	"math"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// due carries out an item of the queue whose time has come, with the crank at the angle.
func (r *Rig) due(it item, angle float64, see func(*Event) bool) bool {
	r.now = max(it.time, r.now)
	r.rate = r.motion.speed(r.now)
	r.ev = Event{Kind: it.what, Time: quantity.Time(r.now), Turned: angle, Speed: quantity.Speed(r.rate * (1e6 / 6))}
	e := &r.ev
	switch it.what {
	case CrankEdge:
		if it.extra {
			it.high = !r.crank.level
		}
		if it.high == r.crank.level && !it.extra {
			return true // a spike stands where the vane's own edge would come: no change of level
		}
		r.crank.level = it.high
		e.High, e.Extra, e.Active = it.high, it.extra, it.high == r.s.crank.rising
		if e.Active {
			r.act(r.now)
		}
		return see(e)
	case CamEdge:
		r.cam.level = it.high
		e.High, e.Active = it.high, it.high == r.s.cam.rising
		if e.Active {
			r.brain.cam()
		}
		return see(e)
	case Charge:
		return see(e)
	case Cut:
		e.Dwell = quantity.Time(max(r.now-it.begun, 0))
		e.Commanded = quantity.Crank(it.meant)
		if !see(e) {
			return false
		}
		it.time, it.what = r.now+r.s.sparkAt, Spark
		if r.s.sparkAt > 0 {
			r.q.push(&it)
			return true
		}
		return r.jump(it, angle, see)
	case Spark:
		return r.jump(it, angle, see)
	case Flash:
		e.Cylinder, e.Shown = int(it.cyl), quantity.Crank(r.s.shown(int(it.cyl), angle))
		return see(e)
	}
	return true
}

// act hands an active edge to the controller and carries out its plan.
func (r *Rig) act(t float64) {
	p, fires := r.brain.crank(t)
	if !fires {
		return
	}
	if p.fresh {
		r.q.push(&item{time: p.charge, what: Charge})
	}
	r.q.push(&item{time: p.at, what: Cut, late: p.late, from: int32(p.firing), meant: p.advance, begun: p.charge})
	if !math.IsNaN(p.following) {
		r.q.push(&item{time: max(p.following, t), what: Charge})
	}
}

// jump lets the spark jump: to the plug whose tower the rotor stands at, or, with coils on the plugs, to the one that
// the controller has counted. Without a charge there is none; a short one, or a rotor that misses the tower, makes it
// weak.
func (r *Rig) jump(it item, angle float64, see func(*Event) bool) bool {
	s := r.s
	dwell := r.ev.Dwell
	if it.what == Spark && s.sparkAt > 0 {
		dwell = quantity.Time(max(r.now-s.sparkAt-it.begun, 0))
	}
	least := s.least
	if r.rate*(1e6/6) < s.below {
		least = s.leastOn
	}
	weak := float64(dwell) < least
	if dwell <= 0 {
		return true // never charged: no spark
	}
	if s.crossfire > 0 {
		rpm := r.rate * (1e6 / 6)
		if r.rng.Float64() < s.crossfire*crossfireAt(rpm, s.worst, s.redline) {
			r.spike(r.now + 15)
		}
	}
	var plugs [2]int
	if s.steers {
		j, other, miss := s.tower(angle-r.crept, r.ahead)
		r.ahead = j + 1
		if miss > 0 {
			if r.rng.Float64() < miss {
				j = other
			}
			weak = true
		}
		plugs[0] = s.wires[j]
	} else {
		if it.from < 0 {
			return true
		}
		plugs[0] = s.order[it.from]
		if s.pairs && s.n%2 == 0 {
			plugs[1] = s.order[(int(it.from)+s.n/2)%s.n]
		}
	}
	for i, cyl := range plugs {
		if cyl == 0 {
			continue
		}
		a := -wrap(angle-s.tdcOf(cyl), 720)
		r.ev = Event{
			Kind: Spark, Time: quantity.Time(r.now), Turned: angle, Speed: quantity.Speed(r.rate * (1e6 / 6)),
			Cylinder: cyl, Late: it.late, Weak: weak,
			Advance: quantity.Crank(a), Commanded: quantity.Crank(it.meant), Dwell: dwell, Extra: i == 1,
		}
		if !see(&r.ev) {
			return false
		}
		if cyl == s.light.Wire {
			r.flash(cyl)
		}
	}
	return true
}

// flash has the light answer a spark on its wire. A dial delays it by the dial's share of two turns between flashes, as
// the light believes.
func (r *Rig) flash(cyl int) {
	at := r.now + r.s.lightLag
	if r.s.dial != 0 {
		period := r.now - r.lastFlash
		if math.IsNaN(period) || period > 2*slowest {
			period = 720 / r.rate
		}
		if r.s.pairs {
			period *= 2 // judged by the second spark too; a light with such a dial is set for it
		}
		at += max(r.s.dial/720*period, -r.s.lightLag)
	}
	r.lastFlash = r.now
	r.q.push(&item{time: at, what: Flash, cyl: int32(cyl)})
}

// tdcOf is the angle of a cylinder's firing TDC on the cycle.
func (s *setup) tdcOf(cyl int) float64 {
	for k, c := range s.order {
		if c == cyl {
			return s.tdc[k]
		}
	}
	return 0
}

// shown is the advance read on the damper for a flash at a crank angle. A rim shows no more than half a turn either
// way, so a doubled angle wraps too.
func (s *setup) shown(cyl int, angle float64) float64 {
	v := wrap(s.tdcOf(cyl)-angle+s.damper, 360)
	if s.doubled {
		v = wrap(2*v, 360)
	}
	return v
}

// tower says which tower the rotor stands nearest to at a crank angle, which comes second, and how likely the spark
// takes the second. likely is where the search begins: most sparks fall square on the next tower, and then nothing else
// need be asked.
func (s *setup) tower(angle float64, likely int) (nearest, second int, miss float64) {
	// The tip's place against tower j in crank degrees: where it stands less where it should stand at the middle of the
	// advance range. A turned housing takes the cap along, so only the shaft's own errors count besides the angle of
	// the spark.
	tip := angle + s.early + s.rotor + s.middle + s.housing
	if likely >= s.n {
		likely = 0
	}
	if d := math.Abs(wrap(tip-s.tdc[likely], 720)); d < s.square {
		return likely, likely, 0
	}
	best, next := math.Inf(1), math.Inf(1)
	for j, t := range s.tdc {
		d := math.Abs(wrap(tip-t, 720))
		if d < best {
			second, next = nearest, best
			nearest, best = j, d
		} else if d < next {
			second, next = j, d
		}
	}
	gap := s.gapTo(best)
	if gap <= reach || s.n == 1 {
		return nearest, second, 0
	}
	return nearest, second, 0.5 * min((gap-reach)/(lost-reach), 1)
}

// gapTo is the way in mm along the arc from tip to terminal when their middles stand this many crank degrees apart.
func (s *setup) gapTo(crank float64) float64 {
	return max(0, float64(engine.CrankToShaft(quantity.Crank(crank)))-s.tip) * math.Pi / 180 * s.radius
}

// leastDwell is the charge in µs under which a spark is too weak to rely on. +Inf: never. A spark box charges itself
// and only needs a trigger that it can see.
func (s *setup) leastDwell(supply float64) float64 {
	if s.coil.Output == jobcard.SparkBox {
		return leastTrigger
	}
	r, l := float64(s.coil.Resistance), float64(s.coil.Inductance)
	x := 1 - leastCharge*float64(s.coil.Target)*r/(supply-float64(s.coil.DriverDrop))
	if x <= 0 || supply <= float64(s.coil.DriverDrop) {
		return math.Inf(1)
	}
	return -l / r * math.Log(x) * 1e6
}

// crossfireAt shares the crossfire out over speed: a bump around its worst speed.
func crossfireAt(rpm, worst, redline float64) float64 {
	x := (rpm - worst) / (0.18 * redline)
	return math.Exp(-x * x)
}

// wrap brings an angle into −turn/2 < a ≤ turn/2.
func wrap(a, turn float64) float64 {
	a -= turn * math.Floor(a/turn)
	if a > turn/2 {
		a -= turn
	}
	return a
}
